"""`impose colours`: a page of patches around colours, to press and choose from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from impose.cli.common_options import PATH, keep_options, make_options
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json
from impose.errors import Exit


@click.command(cls=GroupedCommand)
@click.argument("sources", nargs=-1, type=PATH, metavar="[FILE]...")
@option(
    "--colour",
    "named",
    multiple=True,
    metavar="COLOUR",
    group="What is made",
    help="A colour to vary: #C81E28 (default: of the files).",
)
@option("-o", "--out", type=PATH, metavar="FILE", group="Output", help="The page (default: colours-FILE.pdf).")
@option("--replace", is_flag=True, group="Output", help="Replace a page that exists.")
@keep_options(
    "papers",
    "printer",
    "output_profile",
    "intent",
    "no_black_point",
    "profiles_dir",
    "as_json",
    "quiet",
    "verbose",
)
@run_command_body
def colours(sources: tuple[Path, ...], named: tuple[str, ...], out: Path | None, replace: bool, **chosen: Any) -> int:
    """Make a page of patches of colours, to press and choose from.

    The colours are those that cover most of the artwork, or those named. The number you choose goes into the column
    recolour of a row: #C81E28 > 17.
    """
    from impose.orders.findings_log import format_spans
    from impose.run.colours import write_colours

    made = write_colours(sources, named, out, make_options(**chosen), replace)
    print_findings(made.findings)
    if chosen["as_json"]:
        print_json(made.json_values())
        return int(Exit.DONE)
    click.echo(make_terminal_safe(str(made.path)))
    if not chosen["quiet"]:
        for entry in made.colours:
            share = "" if entry.share is None else f", {entry.share:.0%}"
            source = f" ({entry.file}{share})" if entry.file else ""
            click.echo(make_terminal_safe(f"{entry.colour}{source}: patches {format_spans(entry.patches)}"))
        click.echo("Print it with driver mirroring off, press it on scrap, and choose when it is cool.", err=True)
    return int(Exit.DONE)
