"""Orders in .xlsx: openpyxl writes them as a spreadsheet does (ECMA-376), and by hand where it would not."""

from __future__ import annotations

import contextlib
import datetime
import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from impose.errors import Finding, Severity, Trouble
from impose.orders import workbook
from impose.orders.batch import Batch
from impose.orders.batch_reader import read_batch
from impose.profiles.profiles import Profiles

openpyxl = pytest.importorskip("openpyxl")

HEAD = ["order", "art", "width (mm)", "copies", "may_turn", "note"]


def _write(folder: Path, rows: list[list[Any]], change: Callable[[Any], None] = lambda book: None) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    change(book)
    book.save(folder / "orders.xlsx")
    return folder / "orders.xlsx"


def _read(folder: Path, profiles: Profiles, rows: list[list[Any]], change: Any = lambda book: None) -> Batch:
    return read_batch(_write(folder, rows, change), profiles)


def _faults(path: Path, profiles: Profiles) -> tuple[Finding, ...]:
    with pytest.raises(Trouble) as caught:
        read_batch(path, profiles)
    assert all(f.what and f.file for f in caught.value.findings)
    return caught.value.findings


def _repacked(path: Path, change: Callable[[str, bytes], bytes]) -> Path:
    """The same file with every part passed through `change`."""
    out = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            new.writestr(part.filename, change(part.filename, old.read(part)))
    path.write_bytes(out.getvalue())
    return path


def test_cells_read_as_the_spreadsheet_shows_them(desk: Path, profiles: Profiles) -> None:
    rows = [HEAD, [7, "art/owl.png", 88.9, 2.0, False, None], [], ["A-1", "art/fox.png", 0.1 + 0.2 + 60, None, True, 5]]
    first, second = _read(desk, profiles, rows).rows
    assert (first.row, first.order, first.width_mm, first.copies, first.may_turn) == (2, "7", 88.9, 2, False)
    assert (second.row, second.order, second.width_mm, second.note) == (4, "A-1", 60.3, "5")


def test_a_length_or_order_that_became_a_date_is_refused(desk: Path, profiles: Profiles) -> None:
    date = datetime.datetime(2026, 1, 2)
    found = _faults(_write(desk, [HEAD, [date, "art/owl.png", date, 1, None, date]]), profiles)
    assert [f.column for f in found] == ["order", "width (mm)"]
    assert all("a date" in f.what for f in found)


def test_an_order_number_that_lost_digits_is_refused(desk: Path, profiles: Profiles) -> None:
    (fault,) = _faults(_write(desk, [HEAD, [1234567890123456789, "art/owl.png", 50, 1]]), profiles)
    assert "rounded" in fault.what


def test_a_formula_without_its_result_is_refused(desk: Path, profiles: Profiles) -> None:
    (fault,) = _faults(_write(desk, [HEAD, ["1", "art/owl.png", "=40+10", 1]]), profiles)
    assert "cell C2" in fault.what


def test_an_error_value_is_refused(desk: Path, profiles: Profiles) -> None:
    (fault,) = _faults(_write(desk, [HEAD, ["#REF!", "art/owl.png", 50, 1]]), profiles)
    assert fault.column == "order"


def test_a_worksheet_is_read_as_far_as_its_cells_go_whatever_it_claims(desk: Path, profiles: Profiles) -> None:
    """ECMA-376, part 1, 18.3.1.35: `dimension` is what a program says of the used range, and optional."""

    def shrink(name: str, xml: bytes) -> bytes:
        return re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1:A1"', xml)

    path = _write(desk, [[None, *HEAD], [None, "7", "art/owl.png", 88.9, 2, False, None]])
    (row,) = read_batch(_repacked(path, shrink), profiles).rows
    assert (row.order, row.art, row.width_mm, row.copies) == ("7", "art/owl.png", 88.9, 2)


def test_other_worksheets_hidden_rows_and_merged_cells_are_said(desk: Path, profiles: Profiles) -> None:
    def change(book: Any) -> None:
        book.create_sheet("March").append(["more"])
        book.create_sheet("Secret").append(["lists"])
        book["Secret"].sheet_state = "hidden"
        book.active.row_dimensions[3].hidden = True

    rows = [HEAD, ["1", "art/owl.png", 50], ["2", "art/owl.png", 50]]
    batch = _read(desk, profiles, rows, change)
    said = [f.what for f in batch.findings if f.severity is Severity.WARN]
    assert any("“March”" in what and "Secret" not in what for what in said)
    assert any("rows 3 are hidden" in what for what in said)
    merged = _write(desk, rows, lambda book: book.active.merge_cells("A2:A3"))
    assert any("merged over rows 2 to 3" in f.what for f in _faults(merged, profiles))


def test_bombs_and_surprises_are_refused_before_they_unpack(
    desk: Path, profiles: Profiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _write(desk, [HEAD, ["1", "art/owl.png", 50]])
    entity = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]>'
    _repacked(path, lambda name, xml: entity + xml if name.endswith("sheet1.xml") else xml)
    assert "document type" in _faults(path, profiles)[0].what
    _write(desk, [HEAD, ["1", "art/owl.png", 50]])
    _repacked(path, lambda name, xml: xml + b" " * 3_000_000 if name.endswith("sheet1.xml") else xml)
    monkeypatch.setattr(workbook, "MOST_UNPACKED", 2_000_000)
    assert "too large" in _faults(path, profiles)[0].what


def test_a_document_type_is_found_whatever_its_part_is_called(desk: Path, profiles: Profiles) -> None:
    """The links between parts may name any (ECMA-376, part 2): the ending of a name says nothing."""
    path = _write(desk, [HEAD, ["1", "art/owl.png", 50]])
    with zipfile.ZipFile(path) as packed:
        parts = {info.filename: packed.read(info) for info in packed.infolist()}
    entity = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]>'
    parts["xl/styles.bin"] = entity + parts.pop("xl/styles.xml")
    for name in ("[Content_Types].xml", "xl/_rels/workbook.xml.rels"):
        parts[name] = parts[name].replace(b"styles.xml", b"styles.bin")
    with zipfile.ZipFile(path, "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    assert "xl/styles.bin declares a document type" in _faults(path, profiles)[0].what


@pytest.mark.parametrize("encoding", ["klingon", "shift_jis", "utf-7"])
def test_a_part_in_an_encoding_of_no_spreadsheet_is_refused(desk: Path, profiles: Profiles, encoding: str) -> None:
    """Parts are UTF-8 or UTF-16 (ECMA-376, part 2, "XML usage")."""
    path = _write(desk, [HEAD, ["1", "art/owl.png", 50]])
    said = f'<?xml version="1.0" encoding="{encoding}"?>'.encode()
    _repacked(path, lambda name, xml: said + xml.partition(b"?>")[2] if name.endswith("sheet1.xml") else xml)
    assert any("sheet1.xml is in an encoding" in fault.what for fault in _faults(path, profiles))


def test_a_part_packed_as_no_spreadsheet_packs_is_refused_unread(desk: Path, profiles: Profiles) -> None:
    """Stored or deflated (ECMA-376, part 2): a damaged LZMA header asked for gigabytes before the first byte."""
    path = _write(desk, [HEAD, ["1", "art/owl.png", 50]])
    with zipfile.ZipFile(path) as packed:
        parts = {info.filename: packed.read(info) for info in packed.infolist()}
    for method in (zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2):
        with zipfile.ZipFile(path, "w", method) as packed:
            for name, content in parts.items():
                packed.writestr(name, content)
        assert "packed in a way that no spreadsheet uses" in _faults(path, profiles)[0].what


def test_worksheets_beyond_the_limit_and_one_part_listed_twice_are_refused(desk: Path, profiles: Profiles) -> None:
    """A list of 600 worksheets that are all the same part held the reader for 11 s."""

    def copied(count: int) -> Path:
        path = _write(desk, [HEAD, ["1", "art/owl.png", 50]])

        def change(name: str, xml: bytes) -> bytes:
            if name != "xl/workbook.xml":
                return xml
            start = xml.index(b"<sheet ")
            sheet = xml[start : xml.index(b"/>", start) + 2]
            more = (sheet.replace(b'name="Sheet"', b'name="S%d"' % n) for n in range(count))
            return xml.replace(sheet, sheet + b"".join(more))

        return _repacked(path, change)

    assert "two worksheets are the same part" in _faults(copied(1), profiles)[0].what
    fault = _faults(copied(500), profiles)[0]
    assert "xl/workbook.xml lists more than 500 worksheets" in fault.what
    assert "new spreadsheet" in fault.remedy


def test_a_far_column_is_refused(desk: Path, profiles: Profiles) -> None:
    far = _write(desk, [HEAD, ["1", "art/owl.png", 50]], lambda book: book.active.cell(2, 16_000, "x"))
    assert "columns" in _faults(far, profiles)[0].what


@pytest.mark.parametrize("cut", [30, 0.3, 0.6, 0.9, 0.99])
def test_a_file_cut_short_is_refused(desk: Path, profiles: Profiles, cut: float) -> None:
    path = _write(desk, [HEAD, ["1", "art/owl.png", 50]])
    content = path.read_bytes()
    path.write_bytes(content[: int(cut if cut > 1 else cut * len(content))])
    assert _faults(path, profiles)[0].kind == "workbook"


@given(st.lists(st.tuples(st.integers(4, 100_000), st.integers(0, 255)), min_size=1, max_size=20))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
def test_bytes_changed_anywhere_are_read_or_refused(
    desk: Path, profiles: Profiles, changes: list[tuple[int, int]]
) -> None:
    """Damage within the deflated parts too, at which zlib raises what the spreadsheet library does not catch."""
    path = desk / "changed.xlsx"
    content = bytearray(_write(desk, [HEAD, ["A-1", "art/owl.png", 90, 2, True, ""]]).read_bytes())
    for at, value in changes:
        content[at % (len(content) - 4) + 4] = value
    path.write_bytes(content)
    with contextlib.suppress(Trouble):
        read_batch(path, profiles)


def test_damaged_parts_never_end_in_a_traceback(desk: Path, profiles: Profiles) -> None:
    """Every part cut in half, and every part emptied: refused in words, or read the same."""
    path = _write(desk, [HEAD, ["1", "art/owl.png", 50]])
    with zipfile.ZipFile(path) as packed:
        names = packed.namelist()
    for victim in names:
        for keep in (0, 2):
            _write(desk, [HEAD, ["1", "art/owl.png", 50]])
            _repacked(path, lambda name, xml, v=victim, k=keep: xml[: len(xml) // k if k else 0] if name == v else xml)
            try:
                read = len(read_batch(path, profiles).rows)
            except Trouble:
                continue
            assert read == 1


def test_without_the_library_it_says_what_to_install(
    desk: Path, profiles: Profiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _write(desk, [HEAD, ["1", "art/owl.png", 50]])
    monkeypatch.setitem(__import__("sys").modules, "openpyxl", None)
    assert "pip install openpyxl" in _faults(path, profiles)[0].remedy
