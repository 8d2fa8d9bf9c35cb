"""How results and progress are told on a terminal."""

from __future__ import annotations

import json
import sys
import unicodedata
from collections.abc import Sequence
from typing import Any

import click

from impose.errors import count_noun

JOINERS = frozenset("\u200c\u200d")
"""Persian and Indic words and joined emoji are spelt with them, and do nothing else (The Unicode Standard, 23.2)."""


def make_terminal_safe(text: str) -> str:
    """Text that may hold names from outside, safe for a terminal: what is no letter, mark or blank is written out.

    A control character in a file's name could clear the screen or retype it, a directional override turn a line round.
    """
    if text.isprintable():
        return text
    return "".join(
        c
        if c.isprintable() or c in JOINERS or unicodedata.category(c) == "Zs"
        else c.encode("unicode_escape").decode("ascii")
        for c in text
    )


def encode_json(value: Any, lines: bool = True) -> str:
    """A result as JSON, keys sorted, on several lines or on one; what is unsafe on a terminal as JSON's own escapes."""
    text = json.dumps(value, ensure_ascii=False, indent=1 if lines else None, sort_keys=True, default=list)
    if text.replace("\n", "").isprintable():
        return text
    # Such characters stand within strings only, where JSON has a way to write them.
    return "".join(c if c.isprintable() or c == "\n" else json.dumps(c)[1:-1] for c in text)


def write_for_programs(text: str) -> None:
    """JSON or CSV on stdout: UTF-8 into a file or a pipe, whatever the system's code page (RFC 8259, 8.1)."""
    click.echo(text if sys.stdout.isatty() else text.encode("utf-8", "backslashreplace"), nl=False)


def print_json(value: Any, lines: bool = True) -> None:
    """A result as JSON on stdout, with a final line end."""
    write_for_programs(encode_json(value, lines) + "\n")


def describe_visits(garments: int, visits: int) -> str:
    """How the prints of garments that have several are spread over the sheets."""
    noun = "garment with several prints finds" if garments == 1 else "garments with several prints find"
    return f"{garments} {noun} them in {count_noun(visits, 'visit')} to a sheet"


def format_money(millionths: int) -> str:
    """Whole millionths of the currency unit as people write them: in cents."""
    from impose.sheet.money import show_money

    return show_money(millionths)


def print_table(rows: Sequence[Sequence[str]]) -> None:
    """Columns as wide as their widest cell; the last one runs free."""
    if not rows:
        return
    rows = [[make_terminal_safe(cell) for cell in row] for row in rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]) - 1)]
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        click.echo("  ".join([*cells, row[-1]]).rstrip())


class Progress:
    """A bar on stderr for work of over a second, on a terminal only."""

    def __init__(self, quiet: bool) -> None:
        self.on = not quiet and sys.stderr.isatty()
        self.begun = 0.0
        self.wrote = False

    def __enter__(self) -> Progress:
        import time

        self.clock = time.monotonic
        self.begun = self.clock()
        return self

    def __call__(self, stage: str, done: int, of: int) -> None:
        """Draw the bar of a stage, `done` out of `of`."""
        if not self.on or self.clock() - self.begun < 1.0:
            return
        filled = round(20 * done / of) if of else 20
        click.echo(f"\r{stage:<10} [{'#' * filled}{'.' * (20 - filled)}] {done}/{of} ", nl=False, err=True)
        self.wrote = True

    def __exit__(self, *_: object) -> None:
        if self.wrote:
            click.echo("\r" + " " * 60 + "\r", nl=False, err=True)
