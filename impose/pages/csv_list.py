"""CSV for spreadsheets, safe against formulas; and the list on which spoiled transfers are ticked."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

# The full-width forms are taken for formulas by some spreadsheets in East Asian settings (OWASP, "CSV Injection").
_FORMULA = tuple("=+-@\t\r\n＝＋－＠")
_NUMBER = re.compile(r"-[0-9]+(?:\.[0-9]+)?")

LIST_NAME = "reprint.csv"
LIST_HEADING = ("id", "spoiled", "because", "order", "wearer", "placement", "garment", "copy", "sheet")


def make_csv(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A CSV (RFC 4180) that no spreadsheet runs: a cell that begins like a formula is given an apostrophe in front.

    Which beginnings, and the apostrophe: OWASP, "CSV Injection" (= + - @ tab and carriage return). Numbers are left as
    they are.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heading)
    writer.writerows([escape_formula(cell) for cell in row] for row in rows)
    return out.getvalue()


def escape_formula(cell: str) -> str:
    """The text of a cell, which no spreadsheet will take for a formula."""
    if cell[:1] in _FORMULA and not _NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell


def make_reprint_list(record: Mapping[str, Any]) -> bytes:
    """Every transfer of a record by the id on its label, with an empty column to tick; UTF-8 with its mark."""
    return b"\xef\xbb\xbf" + make_csv(LIST_HEADING, _list_rows(record)).encode()


def _list_rows(record: Mapping[str, Any]) -> Iterator[tuple[str, ...]]:
    found = [
        _make_row(record["code"], sheet["sheet"], transfer)
        for sheet in record["sheets"]
        for transfer in sheet["transfers"]
    ]
    yield from sorted(found)


def _make_row(code: str, sheet: int, transfer: Mapping[str, Any]) -> tuple[str, ...]:
    # Copy and sheet in words: "3/4" would be opened as the third of April.
    copy = f"{transfer['copy']} of {transfer['copies']}"
    place = (transfer["placement"] or "").replace("-", " ")
    if panel := transfer.get("panel"):
        place = f"{place}, panel {panel['panel']} of {panel['panels']}".removeprefix(", ")
    return (
        f"{code}-{transfer['id']}",
        "",
        "",
        transfer["order"],
        transfer["wearer"],
        place,
        transfer["garment"],
        copy,
        str(sheet),
    )
