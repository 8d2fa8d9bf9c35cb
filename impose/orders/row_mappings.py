"""Rows given as mappings: turned into records under headings, so that they are read by the grammar of the file."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from impose.orders.csv_text import TableRecord
from impose.orders.headings import COLUMNS, read_headings

NUMBER = "row"
"""A key that is no column: the number by which a row is told of. Without it, the line it would have in a file."""


Rows = Sequence[Mapping[str, object]]
"""Rows as mappings from column to cell."""


def make_records(rows: Rows) -> list[TableRecord]:
    """The records of some rows, headings first, in the order in which keys appear.

    Each of our columns has a heading, whether a row gives it or not: what is missing is the fault of a row, never of
    all. Raises `ValueError` for a key that is no text, and for a row's number that is not whole, less than 1 or there
    twice.
    """
    numbers = read_row_numbers(rows)
    given = list(dict.fromkeys(key for row in rows for key in row if key != NUMBER))
    known = {column.name for column in read_headings(given, "", 1, True)[0]}
    headings = (*given, *(name for name in COLUMNS if name not in known))
    records = [
        TableRecord(number, tuple(_format_cell(row.get(heading)) for heading in headings))
        for number, row in zip(numbers, rows, strict=True)
    ]
    return [TableRecord(1, headings), *(record for record in records if any(cell.strip() for cell in record.cells))]


def read_row_numbers(rows: Rows) -> list[int]:
    """The rows' numbers.

    Raises `ValueError` for a key that is no text, and for a number that is not whole, less than 1 or there twice.
    """
    for key in (key for row in rows for key in row):
        if not isinstance(key, str):
            raise ValueError(f"a row has the key {key!r}; give the names of columns")
    numbers = [_read_number(row, line) for line, row in enumerate(rows, 2)]
    if len(set(numbers)) < len(numbers):
        twice = next(number for number in numbers if numbers.count(number) > 1)
        raise ValueError(f"two rows have the number {twice}; each needs its own")
    return numbers


def _read_number(row: Mapping[str, object], line: int) -> int:
    number = row.get(NUMBER, line)
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise ValueError(f"row is {number!r}; give a whole number, 1 or more, or leave it out")
    return number


def _format_cell(value: object) -> str:
    """A value as it would stand in a cell."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Collection) and not isinstance(value, str | bytes):
        return " ".join(sorted(str(item) for item in value))
    return str(value)
