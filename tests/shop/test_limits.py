"""Files beyond what a batch, a worksheet or a file of settings can be: refused at the limit, in a few words."""

from __future__ import annotations

import io
import time
import zipfile
from pathlib import Path

import pytest

from each_case import try_each
from impose.errors import Finding, Severity, Trouble
from impose.orders import csv_text as text
from impose.orders.batch import MOST_TRANSFERS
from impose.orders.batch_reader import read_batch
from impose.orders.findings_log import MOST_TOLD, FindingsLog, format_spans
from impose.profiles.paper import PaperNameError, make_custom_name, parse_media_name
from impose.profiles.profiles import Profiles
from impose.profiles.toml_limits import MOST_DEPTH, parse_toml

HEAD = "order,wearer,art,placement,garment,copies,width"


def _faults(path: Path, profiles: Profiles, **options) -> tuple[Finding, ...]:
    with pytest.raises(Trouble) as caught:
        read_batch(path, profiles, **options)
    return caught.value.findings


def _batch(desk: Path, rows: list[str]) -> Path:
    path = desk / "orders.csv"
    path.write_text("\n".join([HEAD, *rows]) + "\n")
    return path


# TOML 1.0: integers are of 64 bits; bare keys and dotted keys have no limit of their own, so the limit is ours.
HOSTILE = {
    "30,000 dots": b"a" + b".a" * 30_000 + b" = 1",
    "1,200 quoted parts": b'"a"' + b' . "a"' * 1200 + b" = 1",
    "5,000 digits": b"a = " + b"9" * 5000,
    "a million hexadecimal digits": b"a = 0x" + b"f" * 1_000_000,
    "65 bits": b"a = 18446744073709551616",
    "an exponent beyond a decimal's": b"a = 1e9999999999999999999",
    "brackets": b"a = " + b"[" * 100_000,
    "inline tables": b"a = " + b"{a = " * 100_000,
    "headers and dots and brackets": b"["
    + b".".join([b"a"] * 30)
    + b"]\n"
    + b"b." * 30
    + b"c = {"
    + b"d." * 30
    + b"e = 1}",
    "quotes that never close": b'a = "' + b'\\"' * 250_000,
    "triple quotes that never close": b'\\"""' * 250_000,
    "too large": b"#" * (2 << 20),
}


@try_each("name", HOSTILE)
def test_hostile_toml_is_a_finding_at_once(name: str) -> None:
    began = time.process_time()
    data, (finding,) = parse_toml(HOSTILE[name], "desk.toml")
    assert time.process_time() - began < 5  # it was 25 s of the dots alone
    assert data == {}
    assert finding.file == "desk.toml"
    assert len(str(finding)) < 300


def test_what_texts_and_comments_hold_is_no_depth_and_no_number() -> None:
    long = "1" * 5000 + "." * 5000 + "[" * 5000
    source = f"# {long}\na = \"{long}\" # {long}\nb = '{long}'\nc = \"\"\"{long}\n{long}\"\"\"\nd = '''{long}\n'''\n"
    data, findings = parse_toml(source.encode(), "x.toml")
    assert not findings
    assert data["b"] == long
    deep = ".".join("a" * MOST_DEPTH)
    assert not parse_toml(f"{deep} = 1".encode(), "x.toml")[1]


@pytest.mark.parametrize("brackets", [0, 1, 7, MOST_DEPTH - 1, MOST_DEPTH])
def test_dots_and_brackets_count_together(brackets: int) -> None:
    """One more than allowed is refused at its line; what is allowed is not, whatever stands around it."""

    def find_deep_line(dots: int) -> list[int | None]:
        value = f"{'[' * brackets}a{'.a' * dots}{']' * brackets}"
        content = f'text = "[[[[....]]]]" # ....\nlist = [[1], [2, [3]]]\nb.c.d = 1\nk = {value}\ne.f = 1\n'
        return [fault.row for fault in parse_toml(content.encode(), "x.toml")[1] if "deeply" in fault.what]

    assert find_deep_line(MOST_DEPTH - brackets) == []
    assert find_deep_line(MOST_DEPTH - brackets + 1) == [4]


def test_a_paper_of_many_digits_is_no_paper() -> None:
    """A name of PWG 5101.1 is an IPP keyword, of at most 255 octets (RFC 8011, 5.1.4)."""
    nines = "9" * 5000
    assert make_custom_name(f"{nines}x1mm") is None
    with pytest.raises(PaperNameError):
        parse_media_name(f"custom_a_{nines}x1mm")


def test_of_many_faults_the_first_hundred_are_told_and_the_others_counted(desk: Path, profiles: Profiles) -> None:
    path = _batch(desk, [f"R{n},,art/owl.png,left-chest,adult M,zero," for n in range(350)])
    *told, last = _faults(path, profiles)
    assert [finding.row for finding in told] == list(range(2, 102))
    assert last.rows == tuple(range(102, 352))
    assert last.kind == "bad-copies"
    assert "250 more rows" in last.what


def test_rows_whose_fault_is_only_counted_leave_with_their_orders(desk: Path, profiles: Profiles) -> None:
    rows = [f"R{n},,art/owl.png,left-chest,adult M,{'zero' if n < 350 else 1}," for n in range(355)]
    batch = read_batch(_batch(desk, rows), profiles, skip_bad=True)
    assert [row.order for row in batch.rows] == [f"R{n}" for n in range(350, 355)]
    assert len(batch.left) == 350


def test_reading_stops_at_the_limit_and_judges_what_is_within(
    desk: Path, profiles: Profiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(text, "MOST_ROWS", 11)
    rows = [f"R{n},,art/owl.png,left-chest,adult M,{'zero' if n == 7 else 1}," for n in range(1000)]
    path = _batch(desk, rows)
    with path.open("ab") as file:
        file.write(b"\xff" * 100_000)  # never reached
    found = _faults(path, profiles, skip_bad=True)
    assert {finding.row for finding in found} == {None, 9}
    assert "more than 10 rows" in next(finding.what for finding in found if finding.row is None)


def test_blank_rows_of_a_whole_worksheet_are_no_rows(
    desk: Path, profiles: Profiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(text, "MOST_ROWS", 11)
    path = _batch(desk, ["R,,art/owl.png,left-chest,adult M,1,", *[",,,,,,"] * 50])
    assert len(read_batch(path, profiles).rows) == 1
    monkeypatch.setattr(text, "MOST_LINES", 40)
    assert "more than 40 rows, blank ones" in _faults(path, profiles)[0].what


def test_too_many_transfers_are_refused_before_any_artwork_is_opened(desk: Path, profiles: Profiles) -> None:
    path = _batch(desk, [f"R{n},,art/owl.png,left-chest,adult M,100000," for n in range(3)])
    (finding,) = _faults(path, profiles)
    assert f"more than {MOST_TRANSFERS:,}" in finding.what


def test_notes_that_differ_in_each_row_are_counted_too() -> None:
    tally = FindingsLog("orders.csv")
    for row in range(2, 502):
        tally.add_shared(row, Finding(f"note {row}", severity=Severity.NOTE, kind="garment-assumed", column="garment"))
    found = tally.list_findings()
    assert len(found) == MOST_TOLD + 1
    assert sorted(row for finding in found for row in finding.rows) == list(range(2, 502))


def test_faults_that_are_only_counted_say_how_many_rows_and_what_to_do() -> None:
    tally = FindingsLog("orders.csv")
    for row in range(2, MOST_TOLD + 4):
        tally.add_stop(row, "width", "no length", "Write 60 mm.", "x", "bad-size")
        tally.add_shared(row, Finding(f"note {row}", severity=Severity.NOTE, kind="garment-assumed", column="garment"))
    stops, notes = (
        [finding for finding in tally.list_findings() if finding.kind == kind]
        for kind in ("bad-size", "garment-assumed")
    )
    last = MOST_TOLD + 3
    assert (stops[-1].what, stops[-1].rows) == (
        f"the same kind (bad-size) in 2 more rows, down to row {last}",
        (last - 1, last),
    )
    assert stops[-1].remedy == "Mend the first ones and run again."
    assert stops[-1].severity is Severity.STOP
    assert notes[-1].remedy == "", "a note asks for nothing"
    assert notes[-1].severity is Severity.NOTE


def test_row_numbers_in_few_words() -> None:
    assert format_spans([2, 5, 6, 7, 11]) == "2, 5-7, 11"
    assert len(format_spans(range(0, 500_000, 2))) < 400
    assert format_spans(range(0, 500_000, 2)).endswith(f"and {250_000 - 40:,} more")


def _sheet(desk: Path, rows: str, before: str = "") -> Path:
    """A workbook whose one worksheet has these rows (ECMA-376, part 1, 18.3)."""
    openpyxl = pytest.importorskip("openpyxl")
    book, path = openpyxl.Workbook(), desk / "orders.xlsx"
    book.active.append(["order"])
    held = io.BytesIO()
    book.save(held)
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    with zipfile.ZipFile(held) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            is_sheet = part.filename == "xl/worksheets/sheet1.xml"
            xml = f'{before}<worksheet xmlns="{main}"><sheetData>{rows}</sheetData></worksheet>'
            new.writestr(part.filename, xml if is_sheet else old.read(part))
    return path


CELL = '<c r="{}" t="str"><v>order</v></c>'
WORKSHEETS = {
    "beyond the last row": (f'<row r="2147483648">{CELL.format("A2147483648")}</row>', "beyond 1,048,576"),
    "one beyond": (f'<row r="1048577">{CELL.format("A1048577")}</row>', "beyond 1,048,576"),
    "a row twice": (f'<row r="1">{CELL.format("A1")}</row><row r="1">{CELL.format("A1")}</row>', "row number 1 after"),
    "rows that fall": ('<row r="9"/><row r="3"/>', "row number 3 after row 9"),
    "no number": ('<row r="1e9"/>', "row number “1e9”"),
    "a far column": (f'<row r="1">{CELL.format("XFD1")}</row>', "16,384 columns"),
    "a cell elsewhere": (f'<row r="1">{CELL.format("A7")}</row>', "cell “A7” in row 1"),
}


@pytest.mark.parametrize("name", WORKSHEETS)
def test_worksheets_beyond_the_limits(desk: Path, profiles: Profiles, name: str) -> None:
    """Row 1,048,576 is the last (Microsoft, "Excel specifications and limits"); the first hung for hours."""
    rows, words = WORKSHEETS[name]
    (finding,) = _faults(_sheet(desk, rows), profiles)
    assert words in finding.what
    assert finding.kind == "workbook"


def test_a_document_type_behind_a_long_comment_is_seen(desk: Path, profiles: Profiles) -> None:
    path = _sheet(desk, "<row/>", f"<!--{'x' * 100_000}--><!DOCTYPE worksheet []>")
    (finding,) = _faults(path, profiles)
    assert "document type" in finding.what


@pytest.mark.parametrize(
    ("within", "beyond", "row"),
    [
        ("".join(f"a{n} = [{{b = 1}}]\n" for n in range(MOST_DEPTH + 8)), "", None),
        ("a = 1\n" + "b = " + "[" * 31 + "]" * 31, "a = 1\n" + "b = " + "[" * 33 + "]" * 33, 2),
        (f"\n\n{'k' * 200} = 1", f"\n\n{'k' * 201} = 1", 3),
        ("a = 9223372036854775807", "a = 9223372036854775808", None),
        ("a = -9223372036854775808", "a = -9223372036854775809", None),
        ("#" * (1 << 20), "#" * ((1 << 20) + 1), None),
        ('a = """\n\n"""\nb = [1]', 'a = """\n\n"""\nb = [1 2]', 4),
    ],
)  # fmt: skip
def test_toml_is_read_up_to_each_limit_and_what_is_beyond_is_told_by_its_line(within, beyond, row) -> None:
    """Whole numbers are of 64 bits (TOML 1.0); what is closed again is not nested, however much of it there is."""
    assert parse_toml(within.encode(), "x.toml")[1] == []
    if beyond:
        (finding,) = parse_toml(beyond.encode(), "x.toml")[1]
        assert finding.row == row
