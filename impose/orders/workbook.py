"""A spreadsheet's own file (.xlsx, ECMA-376) to the same records that a CSV gives.

The file is a zip of XML, so its unpacked size is held to a limit before anything is unpacked, and a document type,
which no spreadsheet writes, is refused: that is where expanding entities live.
"""

from __future__ import annotations

import datetime
import io
import re
import zipfile
import zlib
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Severity, Trouble, quote_text
from impose.orders.csv_text import TableRecord, keep_within_limits
from impose.orders.findings_log import format_spans
from impose.orders.worksheet_xml import SheetFault, check_part, check_sheet

MOST_UNPACKED = 256 * 1024 * 1024
MOST_PARTS = 2000
_MOST_NOUGHTS = 15  # digits that a spreadsheet's number has

_AGAIN = "Save it again from the spreadsheet as .xlsx, or as CSV UTF-8."
_OPEN = "Open the file in the spreadsheet, let it calculate, and save it."


KITS = "kits"
"""A worksheet of this name holds the kits of a batch, and is no part of the batch itself."""


def read_workbook(content: bytes, path: Path, named: str = "") -> tuple[list[TableRecord], list[Finding]]:
    """The records of the first visible worksheet that holds anything, by row number; and what is worth knowing.

    With `named` it is the worksheet of that name, and nothing where there is none; without, one called `kits` is left
    out. Raises `Trouble` where the file is damaged, too large, protected or no spreadsheet.
    """
    _check_zip_limits(content, path)
    openpyxl = _import_library(path)
    try:
        values = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        formulas = openpyxl.load_workbook(io.BytesIO(content), read_only=True)
        _check_sheets(content, [sheet for sheet in values.worksheets if sheet.sheet_state == "visible"], path)
        filled = [sheet for sheet in values.worksheets if sheet.sheet_state == "visible" and _has_cells(sheet)]
        kits = [sheet for sheet in filled if sheet.title.strip().casefold() == (named or KITS)]
        if named and not kits:
            return [], []
        filled = kits[:1] if named else [sheet for sheet in filled if sheet not in kits]
        if not filled:
            raise _make_trouble(path, "no visible worksheet holds anything", "Write headings and rows into it.")
        sheet = filled[0]
        findings: list[Finding] = []
        records = keep_within_limits(_read_records(sheet, formulas[sheet.title], path), str(path), findings)
        shape = list(_report_sheet_shape(content, _part_of(sheet), path))
    except (Trouble, MemoryError):
        raise
    except Exception as error:
        # The library has no error of its own for most damage; whatever it stumbles on, the file is not whole.
        raise _make_trouble(path, f"a damaged spreadsheet ({type(error).__name__}: {error})"[:200], _AGAIN) from None
    if len(filled) > 1:
        findings.append(_report_other_sheets(sheet, filled[1:], path))
    return records, [*findings, *shape]


def _make_trouble(path: Path, what: str, remedy: str, code: Exit = Exit.REFUSED) -> Trouble:
    return Trouble(Finding(what, remedy, kind="workbook", file=str(path), exit=code))


def _import_library(path: Path) -> Any:
    try:
        import openpyxl
    except ImportError:
        what = "reading .xlsx needs the package openpyxl, which is not installed"
        raise _make_trouble(path, what, "Run: pip install openpyxl, or save as CSV UTF-8.", Exit.USAGE) from None
    return openpyxl


def _check_zip_limits(content: bytes, path: Path) -> None:
    """Limits from the directory of the zip, before anything is unpacked; a part never unpacks to more than it says."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            unpacked = sum(part.file_size for part in parts)
            if len(parts) > MOST_PARTS or unpacked > MOST_UNPACKED:
                what = f"{len(parts):,} parts of {unpacked / 1e6:,.0f} MB unpacked, too large for a batch"
                raise _make_trouble(path, what, "Copy the orders into a new spreadsheet, or split them.")
            if any(part.flag_bits & 1 for part in parts):
                raise _make_trouble(path, "protected by a password", "Save it without one.")
            if "[Content_Types].xml" not in packed.namelist():
                raise _make_trouble(path, "a packed file, but no spreadsheet", _AGAIN)
            for part in parts:  # whatever it is called, since parts are found by links that may name any
                try:
                    _check_part(packed, part)
                except SheetFault as fault:
                    raise _make_trouble(path, f"{part.filename} {fault.what}", fault.remedy or _AGAIN) from None
    except (
        zipfile.BadZipFile,
        zlib.error,
        NotImplementedError,
        OSError,
        EOFError,
        ValueError,
    ) as error:
        raise _make_trouble(path, f"a damaged spreadsheet: {error}", _AGAIN) from None


def _check_part(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    # ECMA-376, part 2 (packages): parts are stored or deflated. A damaged header of another way of packing can ask
    # for gigabytes before the first byte comes out.
    if part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise SheetFault("is packed in a way that no spreadsheet uses")
    with packed.open(part) as stream:
        check_part(stream)


def _check_sheets(content: bytes, sheets: Collection[Any], path: Path) -> None:
    if len({_part_of(sheet) for sheet in sheets}) < len(sheets):
        raise _make_trouble(path, "a damaged spreadsheet: two worksheets are the same part of the file", _AGAIN)
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        for sheet in sheets:
            try:
                with packed.open(_part_of(sheet)) as stream:
                    check_sheet(stream)
            except SheetFault as fault:
                what = fault.what if fault.remedy else f"a damaged spreadsheet: {fault.what}"
                raise _make_trouble(path, what, fault.remedy or _AGAIN) from None


def _part_of(sheet: Any) -> str:
    return str(sheet._worksheet_path).lstrip("/")


def _has_cells(sheet: Any) -> bool:
    sheet.reset_dimensions()  # as many columns as the rows really have, whatever the file claims
    return any(cell is not None for row in sheet.iter_rows(values_only=True) for cell in row)


def _read_records(sheet: Any, formulas: Any, path: Path) -> Iterator[TableRecord]:
    formulas.reset_dimensions()
    pairs = zip(sheet.iter_rows(), formulas.iter_rows(values_only=True), strict=False)
    width = 0
    for line, (cells, written) in enumerate(pairs, 1):
        row = tuple(cell.value for cell in cells)
        if all(cell is None for cell in written):
            continue
        width = width or _find_last_cell(
            row
        )  # the headings' width: a spreadsheet leaves blank cells at the end of a row out
        yield _make_record(line, row, written, width, cells)


def _find_last_cell(row: Iterable[Any]) -> int:
    return max((number for number, cell in enumerate(row, 1) if cell is not None), default=0)


def _make_record(
    line: int, row: tuple[Any, ...], written: tuple[Any, ...], width: int, cells: tuple[Any, ...]
) -> TableRecord:
    for number, (value, formula) in enumerate(zip(row, written, strict=False)):
        if value is None and formula is not None:
            what = f"cell {_spell_column(number)}{line} holds a formula whose result is not in the file"
            return TableRecord(line, (), what, _OPEN)
    texts = [
        _format_cell(value).zfill(_count_least_digits(cell, value)) for value, cell in zip(row, cells, strict=True)
    ]
    dates = frozenset(number for number, value in enumerate(row) if isinstance(value, datetime.date | datetime.time))
    return TableRecord(line, tuple(texts + [""] * (width - len(texts))), dates=dates)


def _count_least_digits(cell: Any, value: object) -> int:
    """How many digits a whole number is shown with: its number format `00` (ECMA-376, 18.8.31) makes 7 to 07."""
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        return 0
    shown = str(cell.number_format).partition(";")[0]
    return len(shown) if shown.strip("0") == "" and len(shown) <= _MOST_NOUGHTS else 0


def _format_cell(value: object) -> str:
    """A cell as the spreadsheet shows it: whole numbers without a point, others with the 15 digits that are real."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        if abs(value) >= 1e15:
            return f"{value:.2E}"  # more digits than a spreadsheet keeps; the reader says that they are lost
        return str(int(value)) if value == int(value) else f"{value:.15g}"
    if isinstance(value, datetime.datetime):
        midnight = value.time() == datetime.time(0)
        return value.date().isoformat() if midnight else value.isoformat(" ", "minutes")
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return str(value)


def _spell_column(number: int) -> str:
    """Column letters of a spreadsheet from a count that begins at 0."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _report_other_sheets(sheet: Any, rest: list[Any], path: Path) -> Finding:
    names = ", ".join(quote_text(other.title) for other in rest[:12])
    what = f"only the worksheet {quote_text(sheet.title)} is read; there is text in {names} too"
    return Finding(what, "Save each as a file of its own.", Severity.WARN, "workbook", file=str(path))


def _report_sheet_shape(content: bytes, part: str, path: Path) -> Iterator[Finding]:
    """What a spreadsheet shows and its cells do not hold: rows hidden by a filter, cells merged downwards."""
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        xml = packed.read(part)
    hidden = [int(m[1]) for m in re.finditer(rb'<row\b(?=[^>]*\bhidden="(?:1|true)")[^>]*\br="([0-9]+)"', xml)]
    if hidden:
        what = f"rows {format_spans(hidden)} are hidden in the spreadsheet, and are read like the others"
        yield Finding(what, "Delete those that are not to be made.", Severity.WARN, "workbook", file=str(path))
    for merged in re.finditer(rb'<mergeCell\b[^>]*\bref="[A-Z]+([0-9]+):[A-Z]+([0-9]+)"', xml):
        top, bottom = int(merged[1]), int(merged[2])
        if bottom > top:
            what = f"cells are merged over rows {top} to {bottom}, so that only the first of them holds the text"
            remedy = "Unmerge them and write the text into each row."
            yield Finding(what, remedy, kind="workbook", file=str(path), row=top)
