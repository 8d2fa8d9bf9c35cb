"""Places in a worksheet's XML, given or left out (ECMA-376, part 1, 18.3.1.4 and 18.3.1.73: `r` is optional)."""

from __future__ import annotations

import io

import pytest

from impose.orders import worksheet_xml
from impose.orders.worksheet_xml import MOST_COLUMNS, SheetFault, check_part, check_sheet

LAST = "SF"  # the 500th column: 19 × 26 + 6


def look(rows: str) -> str:
    """What is wrong with a worksheet of these rows."""
    space = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    try:
        check_sheet(io.BytesIO(f"<worksheet {space}><sheetData>{rows}</sheetData></worksheet>".encode()))
    except SheetFault as fault:
        return fault.what
    return ""


@pytest.mark.parametrize(
    "rows",
    [
        "<row/><row/>",
        '<row r="2"/><row/><row r="4"/>',
        '<row r="1048576"><c r="A1048576"/></row>',
        "<row>" + "<c/>" * MOST_COLUMNS + "</row>",
        f'<row r="3"><c r="{LAST}3"/></row>',
        f'<row r="3"><c r="A3"/><c/><c r="{LAST}3"/></row>',
        ("<row>" + "<c/>" * MOST_COLUMNS + "</row>") * 3,  # each row counts for itself
        '<row r="1"><c r="B1"/><c r="A1"/></row>',
    ],
)
def test_what_a_worksheet_may_hold(rows: str) -> None:
    assert look(rows) == ""


@pytest.mark.parametrize(
    ("rows", "what"),
    [
        ("<row>" + "<c/>" * (MOST_COLUMNS + 1) + "</row>", "row 1 has 501 columns, more than 500"),
        (f'<row/><row><c r="{LAST}2"/><c/></row>', "row 2 has 501 columns, more than 500"),
        ('<row r="7"><c r="SG7"/></row>', "row 7 has 501 columns, more than 500"),
        ('<row r="7"><c r="AAA7"/></row>', "row 7 has 703 columns, more than 500"),
        ('<row r="1048576"/><row/>', "row number 1048577, beyond 1,048,576, the last of a worksheet"),
        ('<row r="5"/><row r="5"/>', "row number 5 after row 5"),
        ('<row r="0"/>', "row number 0 after row 0"),
        ("<row/><row r='1'/>", "row number 1 after row 1"),
        ('<row r="-1"/>', "row number “-1” after row 0"),
        ('<row r="12345678901"/>', "row number “12345678901” after row 0"),
        ('<row r="2"><c r="A3"/></row>', "cell “A3” in row 2"),
        ('<row r="2"><c r="a2"/></row>', "cell “a2” in row 2"),
        ('<row r="2"><c r="2"/></row>', "cell “2” in row 2"),
        ('<row r="2"><c r="ABCD2"/></row>', "cell “ABCD2” in row 2"),
        ('<row><c r="A1"/></row><row><c r="A1"/></row>', "cell “A1” in row 2"),
    ],
)
def test_what_it_may_not_hold_is_told_with_its_row(rows: str, what: str) -> None:
    assert look(rows) == what


def test_cells_are_counted_over_all_rows(monkeypatch) -> None:
    monkeypatch.setattr(worksheet_xml, "MOST_CELLS", 4)
    assert look("<row><c/><c/></row><row><c/><c/></row>") == ""
    assert look("<row><c/><c/></row><row><c/><c/><c/></row>") == "more than 4 cells"


@pytest.mark.parametrize(
    ("part", "fault"),
    [
        ("<workbook><sheets>" + "<sheet/>" * 500 + "</sheets></workbook>", ""),
        ("<workbook><sheets>" + "<sheet/>" * 501 + "</sheets></workbook>", "lists more than 500 worksheets"),
        ("<!DOCTYPE a><a/>", "declares a document type, which no spreadsheet does"),
        ("<!-- " + "x" * 100_000 + " --><!DOCTYPE a><a/>", "declares a document type, which no spreadsheet does"),
        ("no XML", ""),
        ('<?xml version="1.0" encoding="koi9-q"?><a/>', "is in an encoding that no spreadsheet has"),
    ],
)
def test_parts_of_a_workbook(part: str, fault: str) -> None:
    stream = io.BytesIO(part.encode())
    if not fault:
        check_part(stream)
        return
    with pytest.raises(SheetFault) as found:
        check_part(stream)
    assert found.value.what == fault
