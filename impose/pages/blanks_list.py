"""`blanks.csv`: the garments that a batch needs, to buy and to count in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from impose.pages.csv_list import make_csv
from impose.sheet.blanks import BlankLine

BLANKS_HEADING = ("kind", "cut", "size", "cloth", "colour", "needed", "spares", "buy", "counted", "named", "orders")


def list_blank_cells(lines: Iterable[BlankLine]) -> Iterator[tuple[str, ...]]:
    """The lines as cells below `BLANKS_HEADING`; `counted` is blank, to be filled in."""
    for line in lines:
        figures = (str(line.needed), str(line.spares), str(line.total))
        named = "yes" if line.named else "no"
        yield (line.kind, line.group, line.size, line.cloth, line.colour, *figures, "", named, "; ".join(line.orders))


def make_blanks_text(lines: Iterable[BlankLine]) -> str:
    """The list as CSV that no spreadsheet runs."""
    return make_csv(BLANKS_HEADING, list_blank_cells(lines))


def make_blanks_list(lines: Iterable[BlankLine]) -> bytes:
    """The same as a file: UTF-8 with its mark, so that spreadsheets read every script."""
    return b"\xef\xbb\xbf" + make_blanks_text(lines).encode()
