"""A table as people save it, a CSV or a spreadsheet's own file, to records; and whether it lists prints to repeat."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from impose.errors import Finding
from impose.orders.csv_text import TableRecord, find_dialect, keep_within_limits, read_file_bytes, read_records, text_of

TABLES = (".csv", ".tsv", ".xlsx")
"""Endings of the files that hold a table."""

AGAIN = ("id", "spoiled", "because")
"""Headings of a list of prints to be made again."""


def read_table_file(path: Path, known: Iterable[str], sheet: str = "") -> tuple[list[TableRecord], list[Finding]]:
    """The records that hold anything, headings first, from either kind of file; and what is worth knowing.

    `known` headings tell which separator a CSV has. With `sheet` it is that worksheet of an .xlsx, and nothing where
    there is none of that name. Raises `Trouble` where the file cannot be read.
    """
    content = read_file_bytes(path)
    findings: list[Finding] = []
    if content.startswith(b"PK\x03\x04") and path.suffix.lower() == ".xlsx":
        from impose.orders.workbook import read_workbook

        found, findings = read_workbook(content, path, sheet)
    else:
        if sheet:
            return [], []
        text = text_of(content, path, findings)
        found = keep_within_limits(read_records(text, find_dialect(text, known)), str(path), findings)
    return found, findings


def is_reprint_list(heading: Iterable[str], sure: bool = True) -> bool:
    """Whether headings are those of a list of prints to be made again: they name no artwork.

    A list with `id` alone, which names all of them, could be anything else as well: it counts where not `sure`.
    """
    names = {cell.strip().casefold() for cell in heading}
    return "id" in names and not {"art", "words"} & names and ("spoiled" in names or not sure)
