"""Reading batches: rows, dialects, encodings, and every way a CSV goes wrong."""

from __future__ import annotations

import csv
import io
import os
import socket
import unicodedata
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from each_case import try_each
from impose.errors import Exit, Finding, Severity, Trouble
from impose.orders.batch import Batch, RowDefaults, leave_out_refused
from impose.orders.batch_reader import read_batch
from impose.orders.findings_log import format_spans
from impose.profiles.placement import split_tear
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy


def _write(folder: Path, text: str | bytes, name: str = "orders.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def _faults(folder: Path, profiles: Profiles, text: str | bytes, **options: object) -> tuple[Finding, ...]:
    with pytest.raises(Trouble) as caught:
        read_batch(_write(folder, text), profiles, **options)  # type: ignore[arg-type]
    for fault in caught.value.findings:
        assert fault.file
        assert fault.what
        assert fault.remedy, f"no remedy: {fault}"
        assert fault.severity is Severity.STOP
    return caught.value.findings


FULL = '''order,wearer,art,placement,garment,copies,width,height,tear,centre,may_turn,accept,note,SKU
A-1,Ana,art/owl.png,left-chest,Adult L,2,,,,,,,,X1
A-1,Ben,art/fox.png,Full Back,hoodie youth M,,8.25in,"11""",tight,mass,no,low-resolution,"mind
the zip",
'''


def test_a_row_says_everything(desk: Path, profiles: Profiles) -> None:
    batch = read_batch(_write(desk, FULL), profiles)
    first, second = batch.rows
    assert (batch.name, batch.art_root) == ("orders", desk)
    assert (first.row, first.order, first.wearer, first.copies) == (2, "A-1", "Ana", 2)
    assert (first.art, first.path) == ("art/owl.png", desk / "art/owl.png")
    assert (first.placement, first.width_mm, first.height_mm, first.tear) == ("left-chest", None, None, None)
    assert (first.centre, first.may_turn, first.accept) == ("ink", True, frozenset())
    assert first.extra == (("SKU", "X1"),)
    assert (second.row, second.placement, second.copies) == (3, "full-back", 1)
    assert (second.width_mm, second.height_mm) == (209.55, 279.4)
    assert second.tear == split_tear(10)
    assert (second.centre, second.may_turn, second.accept) == ("mass", False, frozenset({"low-resolution"}))
    assert second.note == "mind the zip"
    assert (second.garment.kind, second.garment.group, second.garment.size) == ("hoodie", "youth", "M")


def test_rows_are_counted_in_lines_of_the_file(desk: Path, profiles: Profiles) -> None:
    text = '\r\nsep=;\r\nart;width;note\r\n\r\nart/owl.png;5cm;"two\r\nlines"\r\nart/fox.png;6cm;\r\n'
    assert [row.row for row in read_batch(_write(desk, text), profiles).rows] == [5, 7]


@try_each("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@try_each("separator", [",", ";", "\t"])
@try_each("end", ["\n", "\r\n", "\r"])
def test_dialects_and_encodings(desk: Path, profiles: Profiles, encoding: str, separator: str, end: str) -> None:
    lines = [["order", "art", "width (mm)"], ["Über", "art/größe 1.png", "210.5"]]
    text = "".join(separator.join(line) + end for line in lines)
    row = read_batch(_write(desk, text.encode(encoding)), profiles).rows[0]
    assert (row.order, row.art, row.width_mm) == ("Über", "art/größe 1.png", 210.5)


@pytest.mark.parametrize("mark", ["utf-16-le", "utf-16-be"])
def test_utf_16_of_either_order(desk: Path, profiles: Profiles, mark: str) -> None:
    content = "\ufeffart\twidth\nart/owl.png\t5 cm\n".encode(mark)
    assert read_batch(_write(desk, content), profiles).rows[0].width_mm == 50


CELLS = st.text(
    st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp", "Zs"], exclude_characters="#='\ufeff") | st.just(" "),
    max_size=20,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    # Eight rows of 300: far below the 250,000 transfers that a batch may have, which is refused, and rightly so.
    rows=st.lists(st.tuples(CELLS, CELLS, st.integers(1, 300)), min_size=1, max_size=8),
    separator=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    end=st.sampled_from(["\n", "\r\n"]),
)
def test_what_a_csv_writer_wrote_reads_back(
    desk: Path,
    profiles: Profiles,
    rows: list[tuple[str, str, int]],
    separator: str,
    encoding: str,
    quoting: int,
    end: str,
) -> None:
    """Python's own csv module writes; the reader has to give the cells back, spaces folded."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=separator, lineterminator=end, quoting=quoting)  # type: ignore[arg-type]
    writer.writerow(["wearer", "note", "art", "copies", "height (cm)"])
    for wearer, note, copies in rows:
        writer.writerow([wearer, note, "art/owl.png", copies, "7,5"])
    batch = read_batch(_write(desk, out.getvalue().encode(encoding)), profiles)
    read = [(row.wearer, row.note, row.copies) for row in batch.rows]
    assert read == [(" ".join(w.split()), " ".join(n.split()), c) for w, n, c in rows]
    assert {row.height_mm for row in batch.rows} == {75.0}


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(st.binary(max_size=200) | st.text(alphabet="artwidh,;\t\"\n 0159mc./='#", max_size=120).map(str.encode))
def test_no_file_breaks_the_reader(desk: Path, profiles: Profiles, content: bytes) -> None:
    for start in (b"", b"art,width\n"):
        try:
            outcome: Batch | Exit = read_batch(_write(desk, start + content), profiles)
        except Trouble as trouble:
            outcome = trouble.exit
        assert isinstance(outcome, Batch) or outcome in (Exit.REFUSED, Exit.USAGE, Exit.SYSTEM)


@pytest.mark.parametrize("heading", ["Width (mm)", "width [mm]", "WIDTH  mm", "width_mm", " width (millimetres) "])
def test_a_heading_may_carry_the_unit(desk: Path, profiles: Profiles, heading: str) -> None:
    row = read_batch(_write(desk, f"art;{heading}\nart/owl.png;88,9\n"), profiles).rows[0]
    assert row.width_mm == 88.9


def test_the_heading_is_nearer_than_the_option_and_the_cell_nearer_than_both(desk: Path, profiles: Profiles) -> None:
    text = "art,width (in),height\nart/owl.png,2,3\nart/owl.png,20mm,\n"
    first, second = read_batch(_write(desk, text), profiles, units="mm").rows
    assert (first.width_mm, first.height_mm, second.width_mm) == (50.8, 3, 20)


def test_a_bare_number_is_refused(desk: Path, profiles: Profiles) -> None:
    (fault,) = _faults(desk, profiles, "art,width\nart/owl.png,8.25\n")
    assert (fault.row, fault.column, fault.read, fault.what) == (2, "width", "8.25", "no unit")


def test_headings_are_matched_loosely(desk: Path, profiles: Profiles) -> None:
    text = " ORDER  Number ,Artwork,QTY,May-Turn,Placement\n7,art/owl.png,3 ,No,pocket\n"
    row = read_batch(_write(desk, text), profiles).rows[0]
    assert (row.order, row.copies, row.may_turn) == ("7", 3, False)


@pytest.mark.parametrize(
    ("heading", "column", "words"),
    [
        ("art,width,Width (mm)", "width", "means the same column"),
        ("art,copies,qty,width", "copies", "means the same column"),
        ("art,width,SKU,sku", "", "means the same column"),
        ("order,placement", "art", "no column art"),
        ("art,copies", "placement", "neither a placement nor a size"),
        ("art,width (px)", "width", "unit that is not taken"),
        ("foo,bar", "", "no heading is known"),
    ],
)
def test_headings_that_are_refused(desk: Path, profiles: Profiles, heading: str, column: str, words: str) -> None:
    cells = ",".join("" for _ in heading.split(","))
    faults = _faults(desk, profiles, f"{heading}\n{cells}x\n")
    assert any(f.row == 1 and f.column == column and words in f.what for f in faults), faults


def test_unknown_columns_are_kept_with_a_note_and_near_ones_with_a_warning(desk: Path, profiles: Profiles) -> None:
    batch = read_batch(_write(desk, "art,width,Colour,copeis\nart/owl.png,5cm,navy,3\n"), profiles)
    severities = {f.column: f.severity for f in batch.findings if f.kind == "unknown-column"}
    assert severities == {"Colour": Severity.NOTE, "copeis": Severity.WARN}
    assert batch.rows[0].extra == (("Colour", "navy"), ("copeis", "3"))
    assert batch.rows[0].copies == 1


@try_each(
    "copies",
    ["0", "2.5", "2,5", "1/2", "-1", "+2", "1e9", "NaN", "inf", "100001", "٣", "³", "3x", "1_000", "3.000", "9" * 40],
)
def test_copies_that_are_refused(desk: Path, profiles: Profiles, copies: str) -> None:
    (fault,) = _faults(desk, profiles, f'art,width,copies\nart/owl.png,5cm,"{copies}"\n')
    assert (fault.column, fault.read) == ("copies", copies)


@pytest.mark.parametrize(("copies", "count"), [("", 1), ("1", 1), (" 3 ", 3), ("007", 7), ("100000", 100_000)])
def test_copies_that_are_taken(desk: Path, profiles: Profiles, copies: str, count: int) -> None:
    assert read_batch(_write(desk, f"art,width,copies\nart/owl.png,5cm,{copies}\n"), profiles).rows[0].copies == count


@pytest.mark.parametrize(
    ("art", "words"),
    [
        ("../orders.csv", "leads upwards"),
        ("art/../art/owl.png", "leads upwards"),
        ("/etc/passwd", "absolute"),
        ("C:\\art\\owl.png", "drive letter"),
        ("c:owl.png", "drive letter"),
        ("art\\owl.png", "backslashes"),
        ("\\\\server\\owl.png", "backslashes"),
        ("https://example.org/owl.png", "address"),
        ("file:///etc/passwd", "address"),
        ("art", "a folder"),
        (".", "names no file"),
        ("art/nothing.png", "no such file"),
        ("art/owl.png/x", "no such file"),
        ("n" * 400 + ".png", ""),
        ("#N/A", "spreadsheet's error"),
        ("", "no artwork is named"),
    ],
)
def test_artwork_stays_below_its_root(desk: Path, profiles: Profiles, art: str, words: str) -> None:
    (fault,) = _faults(desk, profiles, f"art,width\n{art},5cm\n")
    assert fault.column == "art"
    assert words in fault.what


def test_links_may_not_lead_out(desk: Path, profiles: Profiles, tmp_path: Path) -> None:
    secret = tmp_path / "secret.png"
    secret.write_bytes(b"x")
    (desk / "art/link.png").symlink_to(secret)
    (desk / "away").symlink_to(tmp_path)
    (desk / "art/broken.png").symlink_to(desk / "gone.png")
    (desk / "art/loop.png").symlink_to(desk / "art/loop.png")
    (desk / "art/near.png").symlink_to("owl.png")
    names = ["art/link.png", "away/secret.png", "away/shop/art/owl.png", "art/broken.png", "art/loop.png"]
    faults = _faults(desk, profiles, "art,width\n" + "".join(f"{name},5cm\n" for name in [*names, "art/near.png"]))
    assert [f.read for f in faults] == names, "a link that stays inside is no fault"
    assert [f.row for f in faults] == [2, 3, 4, 5, 6]
    assert "leads out" in faults[0].what
    assert "leads out" in faults[1].what
    assert "leads out" in faults[2].what, "not even a way out and back in"
    assert "not there" in faults[3].what


def test_only_plain_files_are_artwork(desk: Path, profiles: Profiles, tmp_path: Path) -> None:
    os.mkfifo(desk / "art/pipe.png")
    (fault,) = _faults(desk, profiles, "art,width\nart/pipe.png,5cm\n")
    assert "plain file" in fault.what


def test_artwork_from_another_root(desk: Path, profiles: Profiles, tmp_path: Path) -> None:
    path = _write(tmp_path, "art,width\nowl.png,5cm\n")
    batch = read_batch(path, profiles, art_root=desk / "art")
    assert batch.rows[0].path == desk / "art" / "owl.png"
    assert batch.art_root == desk / "art"
    with pytest.raises(Trouble) as caught:
        read_batch(path, profiles, art_root=tmp_path / "gone")
    assert caught.value.exit is Exit.USAGE


@pytest.mark.parametrize(
    ("art", "near"), [("art/owll.png", "owl.png"), ("art/OWL.PNG", "owl.png"), ("Art/owl.png", "art")]
)
def test_near_misses_of_artwork_are_named(desk: Path, profiles: Profiles, art: str, near: str) -> None:
    if (desk / art).exists():
        pytest.skip("this file system does not tell capitals from small letters")
    (fault,) = _faults(desk, profiles, f"art,width\n{art},5cm\n")
    assert f"“{near}”" in fault.remedy


def test_strangers_are_not_near(desk: Path, profiles: Profiles) -> None:
    (fault,) = _faults(desk, profiles, "art,width\nart/no.png,5cm\n")
    assert "Did you mean" not in fault.remedy


def test_composed_and_decomposed_names_are_one(desk: Path, profiles: Profiles) -> None:
    """Unicode Annex 15: ö may be one code point or two; packers and file systems differ, people cannot see it."""
    name = unicodedata.normalize("NFD", "größe 1.png")
    assert name != "größe 1.png"
    row = read_batch(_write(desk, f"art,width\nart/{name},5cm\n"), profiles).rows[0]
    assert row.path.read_bytes() == b"picture"


@try_each(
    "cell, words",
    [
        ("08-Jan", "a date"),
        ("8-Jan", "a date"),
        ("8. Jan", "a date"),
        ("Jan-08", "a date"),
        ("08.01.2026", "a date"),
        ("2026-01-08 00:00:00", "a date"),
        ("1/2/2026", "a date"),
        ("#N/A", "spreadsheet's error"),
        ("#REF!", "spreadsheet's error"),
        ("#####", "spreadsheet's error"),
        ("1.2E+15", "not a length"),
        ("8'", "feet"),
        ("=A2*2", "not a length"),
        ("8 in\x07", "control character"),
    ],
)
def test_what_spreadsheets_do_to_a_width(desk: Path, profiles: Profiles, cell: str, words: str) -> None:
    (fault,) = _faults(desk, profiles, f"art,width\nart/owl.png,{cell}\n")
    assert (fault.column, fault.read) == ("width", cell)
    assert words in fault.what


def test_what_spreadsheets_do_to_an_order(desk: Path, profiles: Profiles) -> None:
    text = 'order,art,width\n="001",art/owl.png,5cm\n\'002,art/owl.png,5cm\n0003,art/owl.png,5cm\n'
    batch = read_batch(_write(desk, text), profiles)
    assert [row.order for row in batch.rows] == ["001", "002", "0003"]
    assert [f.row for f in batch.findings if f.kind == "unwrapped"] == [2]
    (fault,) = _faults(desk, profiles, "order,art,width\n1.23E+15,art/owl.png,5cm\n")
    assert "rounded" in fault.what


def test_a_leading_apostrophe_before_a_length_is_harmless(desk: Path, profiles: Profiles) -> None:
    assert read_batch(_write(desk, "art,width\nart/owl.png,'3.5 in\n"), profiles).rows[0].width_mm == 88.9


def test_names_that_look_like_formulas_are_names(desk: Path, profiles: Profiles) -> None:
    row = read_batch(_write(desk, "art,width,wearer\nart/owl.png,5cm,=Ana+Ben\n"), profiles).rows[0]
    assert row.wearer == "=Ana+Ben"


@try_each(
    "text, row, words",
    [
        ("art,width\nart/owl.png,8,25 in\n", 2, "3 cells under 2 headings"),
        ("art,width,note\nart/owl.png,5cm\n", 2, "only 2 of 3 cells"),
        ("art,width,\nart/owl.png,5cm,x\n", 2, "under no heading"),
        ('art,width\nart/owl.png,5cm\n"art/owl.png,5cm\nart/fox.png,5cm\n', 3, "never closed"),
        ('art,width\nart/owl.png,"8.25" in\n', 2, "after its closing quote"),
        ("art,width\nart/owl.png," + "5" * 140_000 + "\n", 2, "131,072"),
        ("art,width,wearer\nart/owl.png,5cm," + "x" * 2001 + "\n", 2, "2,000 characters"),
        ("art,width\nart/owl.png,5\0cm\n", 2, "U+0000"),
        ("art,width,SKU\nart/owl.png,5cm,a\0b\n", 2, "U+0000"),
    ],
)
def test_records_that_are_out_of_shape(desk: Path, profiles: Profiles, text: str, row: int, words: str) -> None:
    faults = _faults(desk, profiles, text)
    assert any(f.row == row and words in f.what for f in faults), faults


def test_trailing_blanks_and_blank_lines_are_nothing(desk: Path, profiles: Profiles) -> None:
    text = "art,width,,\nart/owl.png,5cm,,\n,,,\n\nart/owl.png,5cm,,,,\n"
    assert [row.row for row in read_batch(_write(desk, text), profiles).rows] == [2, 5]


@try_each(
    "content, words, code",
    [
        (b"", "empty", Exit.REFUSED),
        (b"\n\n  \n", "empty", Exit.REFUSED),
        (b"\xef\xbb\xbf", "empty", Exit.REFUSED),
        (b"art,width\n", "headings but no rows", Exit.REFUSED),
        (b"PK\x03\x04\x14\x00", "spreadsheet", Exit.REFUSED),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "spreadsheet", Exit.REFUSED),
        (b"\x89PNG\r\n\x1a\n", "picture", Exit.REFUSED),
        (b"%PDF-1.7\n", "PDF", Exit.REFUSED),
        (b'{"format": "impose-record/1"}', "JSON", Exit.REFUSED),
        (b"<html>", "web page", Exit.REFUSED),
        ("art,width,wearer\nart/owl.png,5cm,João\n".encode("cp1252"), "“João” (Windows-1252", Exit.REFUSED),
        ("art,width\n".encode("utf-16-le"), "byte-order mark", Exit.REFUSED),
        ("art,width\n".encode("utf-32"), "UTF-32", Exit.REFUSED),
        ("art,width\n".encode("utf-16") + b"x", "not UTF-16", Exit.REFUSED),
        (b"sep=|\nart|width\n", "sep=", Exit.REFUSED),
    ],
)
def test_files_that_are_no_batch(desk: Path, profiles: Profiles, content: bytes, words: str, code: Exit) -> None:
    (fault,) = _faults(desk, profiles, content)
    assert words in fault.what
    assert fault.exit is code


def test_where_an_undecodable_byte_stands(desk: Path, profiles: Profiles) -> None:
    (fault,) = _faults(desk, profiles, b"art,width\nart/owl.png,5cm\nart/gr\x81\xdfe.png,5cm\n")
    assert fault.row == 3
    assert "81" in fault.what
    assert "CSV UTF-8" in fault.remedy


def test_sources_that_cannot_be_read(desk: Path, profiles: Profiles) -> None:
    sock = socket.socket(socket.AF_UNIX)
    sock.bind(str(desk / "s"))
    codes = {}
    for name in ("art", "gone.csv", "s"):
        with pytest.raises(Trouble) as caught:
            read_batch(desk / name, profiles)
        codes[name] = caught.value.exit
    sock.close()
    assert codes == {"art": Exit.USAGE, "gone.csv": Exit.SYSTEM, "s": Exit.SYSTEM}


def test_every_fault_in_one_report(desk: Path, profiles: Profiles) -> None:
    text = (
        "order,art,placement,garment,copies,width,tear,centre,may_turn,accept\n"
        "A,art/owl.png,left-chst,yuoth M,0,8.25,4 mm,middle,perhaps,Low!\n"
        "B,art/gone.png,,,,,,,,\n"
        "C,art/owl.png,left-long-sleeve,toddler 2T,,,,,,\n"
    )
    faults = _faults(desk, profiles, text)
    assert [(f.row, f.column) for f in faults] == [
        (2, "placement"), (2, "width"), (2, "garment"), (2, "copies"), (2, "tear"), (2, "centre"), (2, "may_turn"),
        (2, "accept"), (3, "art"), (3, "placement"), (4, "width"),
    ]  # fmt: skip
    assert "left-chest" in faults[0].remedy
    assert "Measure the garment and give a width" in faults[-1].remedy


def test_a_width_makes_any_placement_possible(desk: Path, profiles: Profiles) -> None:
    text = "art,placement,garment,width\nart/owl.png,left-long-sleeve,youth M,9 in\n"
    row = read_batch(_write(desk, text), profiles).rows[0]
    assert (row.placement, row.width_mm) == ("left-long-sleeve", 228.6)


def test_what_is_taken_for_granted_is_said(desk: Path, profiles: Profiles) -> None:
    text = (
        "art,placement,garment\nart/owl.png,left-chest,\nart/owl.png,left-chest,\nart/owl.png,full-front,polo\n"
        "art/owl.png,full-front,Jugend M\n"
    )
    found = {f.kind: f for f in read_batch(_write(desk, text), profiles).findings if f.severity is Severity.NOTE}
    assert "rows 2-3" in found["garment-assumed"].what
    assert "adult" in found["garment-assumed"].what
    assert found["size-borrowed"].row == 4
    warnings = [f for f in read_batch(_write(desk, text), profiles).findings if f.severity is Severity.WARN]
    assert [(f.row, f.kind) for f in warnings] == [(5, "garment-assumed")]


def test_kinds_of_findings_are_checked_where_they_are_known(desk: Path, profiles: Profiles) -> None:
    text = 'art,width,accept\nart/owl.png,5cm,"low-resolution; halo"\n'
    row = read_batch(_write(desk, text), profiles, kinds=frozenset({"low-resolution", "halo"})).rows[0]
    assert row.accept == {"low-resolution", "halo"}
    (fault,) = _faults(desk, profiles, text.replace("halo", "hallo"), kinds=frozenset({"low-resolution", "halo"}))
    assert "“halo”" in fault.remedy


def test_blanks_are_filled_from_the_command(desk: Path, profiles: Profiles) -> None:
    blanks = RowDefaults(placement="left-chest", width_mm=80, height_mm=70, copies=4)
    text = "art,width,copies\nart/owl.png,,\nart/owl.png,5cm,2\n"
    first, second = read_batch(_write(desk, text), profiles, blanks=blanks).rows
    assert (first.placement, first.width_mm, first.height_mm, first.copies) == ("left-chest", 80, 70, 4)
    assert (second.width_mm, second.height_mm, second.copies) == (50, None, 2), "a row's own size stands alone"
    assert len(read_batch(_write(desk, "art\nart/owl.png\n"), profiles, blanks=blanks).rows) == 1


SOME_BAD = (
    "order,art,width\nA,art/owl.png,5cm\nA,art/gone.png,5cm\nB,art/owl.png,6cm\n,art/owl.png,7cm\n,art/owl.png,x\n"
)


def test_orders_with_a_refused_row_leave_whole(desk: Path, profiles: Profiles) -> None:
    batch = read_batch(_write(desk, SOME_BAD), profiles, skip_bad=True)
    assert [(row.order, row.row) for row in batch.rows] == [("B", 4), ("", 5)]
    said, *stops = [f for f in batch.findings if f.severity is not Severity.NOTE]
    assert said is batch.findings[0], "it is said on top of everything"
    assert "A" in said.what
    assert "6" in said.what
    assert [f.row for f in stops] == [3, 6]


@pytest.mark.parametrize(
    "text",
    [
        SOME_BAD + "C,art/owl.png\n",
        SOME_BAD + '"C,art/owl.png,5cm\n',
        SOME_BAD + "1.2E+15,art/owl.png,5cm\n",
        SOME_BAD.replace("width", "width (px)"),
        "order,art,width\nA,art/gone.png,5cm\n",
    ],
)
def test_what_cannot_be_laid_to_an_order_stops_the_batch(desk: Path, profiles: Profiles, text: str) -> None:
    with pytest.raises(Trouble):
        read_batch(_write(desk, text), profiles, skip_bad=True)


def test_orders_may_leave_later_too(desk: Path, profiles: Profiles) -> None:
    text = "order,art,width\nA,art/owl.png,5cm\nA,art/fox.png,5cm\nB,art/owl.png,5cm\n"
    batch = read_batch(_write(desk, text), profiles)
    rest = leave_out_refused(batch, [Finding("damaged", "Send it again.", row=3)], skip_bad=True)
    assert [row.order for row in rest.rows] == ["B"]
    assert "2 rows" in rest.findings[0].what


def test_row_numbers_in_few_words() -> None:
    assert format_spans([7, 2, 5, 6, 5]) == "2, 5-7"


def test_a_font_that_is_not_there_is_not_called_artwork(desk: Path, profiles: Profiles) -> None:
    (desk / "art" / "script.otf").write_bytes(b"font")
    (desk / "scripts.csv").write_bytes(b"")
    fonts = ("scripts.ttf", "art/scripd.ttf", "art", "../script.otf")
    faults = _faults(desk, profiles, "words,font,width\n" + "".join(f"Ada,{font},5cm\n" for font in fonts))
    assert [(fault.row, fault.column, fault.read) for fault in faults] == [
        (row, "font", font) for row, font in enumerate(fonts, 2)
    ]
    told = [f"{fault.what} {fault.remedy}" for fault in faults]
    assert [one for one in told if "artwork" in one or "PNG" in one] == []
    assert "scripts.csv" not in told[0], "no font, so it cannot be meant"
    assert "“script.otf”" in told[1]


def test_a_list_of_prints_to_repeat_is_not_taken_for_orders(desk: Path, profiles: Profiles) -> None:
    (fault,) = _faults(desk, profiles, "id,spoiled,because,order,placement\nGFJ3-T001,x,,A-1,left chest\n")
    assert fault.exit is Exit.USAGE
    assert fault.remedy == Remedy("use-reprint-list", list=fault.file)
    batch = read_batch(_write(desk, "id,spoiled,art,width\n7,no,art/owl.png,5cm\n"), profiles)
    assert batch.rows[0].extra == (("id", "7"), ("spoiled", "no")), "a shop's own columns of these names do no harm"
