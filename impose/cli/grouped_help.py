"""Help in groups, one line an option: options are declared with their group, a command lists them by it."""

from __future__ import annotations

import functools
from collections import Counter
from typing import Any

import click

GROUPS = (
    "What is made",
    "Paper and printer",
    "Size and margins",
    "Artwork and colour",
    "Nesting",
    "Checks",
    "Output",
    "The watched folder",
    "Program",
)
"""The headings of the help, in their order."""

NAMES_WIDTH = 24
LINE_WIDTH = 80
"""Terminals are at least this wide; a test holds every option to it."""


class GroupedOption(click.Option):
    """An option with the heading of the help it stands under."""

    def __init__(self, *args: Any, group: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.group = group


class GroupedCommand(click.Command):
    """A command whose help lists its options by group, each on one line."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the command line; where an option of one value is given twice, it is said that the last counts."""
        _, _, given = self.make_parser(ctx).parse_args(list(args))
        rest = super().parse_args(ctx, args)
        for param, times in Counter(given).items():
            if times > 1 and isinstance(param, click.Option) and not (param.multiple or param.count or param.is_flag):
                name = max(param.opts, key=len)
                click.echo(f"warn: {name} is given {times} times; only the last one counts.", err=True)
        return rest

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the groups in their order, each with the options that the command has of it."""
        options = [param for param in self.get_params(ctx) if isinstance(param, click.Option) and not param.hidden]
        for group in GROUPS:
            lines = [make_help_line(option, ctx) for option in options if getattr(option, "group", "Program") == group]
            if lines:
                formatter.write_paragraph()
                formatter.write(f"{group}:\n")
                formatter.write("".join(f"{line}\n" for line in lines))


def make_help_line(option: click.Option, ctx: click.Context) -> str:
    """An option's names, what it takes, and what it does."""
    record = option.get_help_record(ctx)
    names = record[0] if record else option.opts[-1]
    return f"  {names:<{NAMES_WIDTH - 1}} {option.help or ''}".rstrip()


option = functools.partial(click.option, cls=GroupedOption)
"""`click.option` with its group: `option("--tear", group="Size and margins", help=...)`."""
