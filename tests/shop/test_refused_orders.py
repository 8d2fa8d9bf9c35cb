"""Every refusal of a batch, its kits and its files, by the smallest input that earns it; and the last that is taken.

Each fault is held to its row, its column and what was wrong; what may be written is that of the page of columns.
"""

from __future__ import annotations

import io
import os
import zipfile
from pathlib import Path

import openpyxl
import pytest

from impose.art.colour_patches import list_patches
from impose.errors import Exit, Finding, Severity, Trouble
from impose.orders.batch import MOST_COPIES, RowDefaults
from impose.orders.batch_reader import read_batch, read_rows
from impose.orders.csv_text import TableRecord, read_file_bytes
from impose.orders.kits import KitError, KitFile
from impose.orders.loose_files import read_loose
from impose.orders.row_mappings import make_records, read_row_numbers
from impose.profiles.profiles import Profiles

Told = list[tuple[int | None, str, str]]


def _list_stops(findings: tuple[Finding, ...]) -> Told:
    stops = [finding for finding in findings if finding.severity is Severity.STOP]
    assert all(finding.remedy for finding in stops), stops
    return [(finding.row, finding.column, finding.what) for finding in stops]


def _refuse(folder: Path, profiles: Profiles, text: str | bytes, name: str = "orders.csv") -> Told:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    with pytest.raises(Trouble) as caught:
        read_batch(path, profiles)
    return _list_stops(caught.value.findings)


# A cell that is refused, by column, and a part of what is said of it.
CELLS = (
    ("mend", "clean-haze; polish", "“polish” is nothing that is mended"),
    ("recolour", "#C81E28", "is no exchange of colours"),
    ("recolour", "red > #12A05B", "is no exchange of colours"),
    ("recolour", "#C81E28 > green", "is neither a colour nor the number of a patch"),
    ("recolour", "#C81E28 > 9999", "there is no patch 9999 around #C81E28"),
    ("recolour", "#C81E28 > #C81E28", "#C81E28 is to become itself"),
    ("recolour", "#F00 > #FF0000", "#FF0000 is to become itself"),
    ("recolour", "#C81E28 > #12A05B; #c81e28 > #000", "#C81E28 is to become two colours"),
    ("drop", "127 mm", "not a distance from a seam to the print"),
    ("drop", "127 mm from knee to top of print", "not a seam or an edge"),
    ("drop", "127 mm from collar to knee", "not a seam or an edge"),
    ("across", "3 from centre line to centre of print", "no unit"),
    ("centre", "middle", "not a way to find the centre"),
    ("may_turn", "perhaps", "neither yes nor no"),
    ("tear", "4.9 mm", "a tear margin under 5 mm"),
    ("tear", "100.1 mm", "a tear margin over 100 mm"),
    ("accept", "low_resolution", "not a kind of finding"),
    ("copies", "100001", "more than 100,000 copies"),
    ("copies", "0", "no copies at all"),
    ("cloth", "70% polyester 40% cotton", "the shares make 110 %"),
)


def test_every_refused_cell_is_told_by_row_and_column(desk: Path, profiles: Profiles) -> None:
    for column, cell, what in CELLS:
        (told,) = _refuse(desk, profiles, f'art,placement,{column}\nart/owl.png,left-chest,"{cell}"\n')
        assert told[:2] == (2, column), cell
        assert what in told[2], cell


def test_the_last_of_each_that_is_taken(desk: Path, profiles: Profiles) -> None:
    cells = {
        "mend": "clean-haze, drop-specks ground", "recolour": "#C81E28 => 17 ; #fff -> #000", "tear": "100 mm",
        "drop": "5 in from the collar to the top of print", "centre": "center of mass", "may_turn": "Off",
        "accept": "low-resolution;halo", "cloth": "60% polyester 40,4% cotton",
    }  # fmt: skip
    quoted = ",".join(f'"{cell}"' for cell in cells.values())
    (desk / "orders.csv").write_text(f"art,placement,{','.join(cells)}\nart/owl.png,left-chest,{quoted}\n")
    (row,) = read_batch(desk / "orders.csv", profiles).rows
    assert row.mend == {"clean-haze", "drop-specks", "ground"}
    first, second = row.recolour
    assert (first.before, first.patch, first.after) == ("#C81E28", 17, list_patches("#C81E28")[17])
    assert (second.before, second.patch, second.after) == ("#FFFFFF", 0, "#000000")
    assert row.tear is not None
    assert row.tear.total_mm == 100
    assert row.drop is not None
    assert (row.drop.measured_from, row.drop.measured_to, row.drop.usual_mm) == ("collar", "top of print", 127)
    assert (row.drop.own, row.drop.source) == (True, "said in the order")
    assert (row.centre, row.may_turn, sorted(row.accept)) == ("mass", False, ["halo", "low-resolution"])


# A row that contradicts itself: the column that is blamed, and why.
ROWS = (
    ("art,width,drop\nart/owl.png,5cm,5 in from collar to top of print\n", "drop", "but no placement"),
    ("words,width,mend\nAda,5cm,clean-haze\n", "mend", "something to mend, but words and no artwork"),
    ("words,font,letters,width\nAda,letters 60 mm,50 mm,5cm\n", "letters", "is given here and in font too"),
    ("words,art,width\nAda,art/owl.png,5cm\n", "words", "words and an artwork too"),
    ("art,font,width\nart/owl.png,plain,5cm\n", "font", "a font, but no words"),
    ("art,letters,width\nart/owl.png,50 mm,5cm\n", "letters", "a height of letters, but no words"),
    ("words,width\n" + "x" * 201 + ",5cm\n", "words", "too long to be set as words"),
    ('words,width\n"a\nb\nc\nd\ne",5cm\n', "words", "too long to be set as words"),
    ('words,font,width\n"a\nb",arc 60,5cm\n', "words", "two lines along an arc"),
    ("words,font,width\nAda,arc 181,5cm\n", "font", "is not an arc"),
    ("words,font,width\nAda,letters 6,5cm\n", "font", "no unit"),
    ("words,font,width\nAda,colour red,5cm\n", "font", "is not a colour"),
    ('words,font,width\nAda,"plain, shiny",5cm\n', "font", "changes nothing that is known"),
    ("words,font,width\nAda,shiny,5cm\n", "font", "is not a style of lettering on file"),
    ("art,placement\nart/owl.png,\n", "placement", "neither a placement nor a width nor a height"),
    ("art,placement,garment\nart/owl.png,left-chest,hoodie polo M\n", "garment", "two kinds are named"),
)


def test_every_row_that_contradicts_itself_is_told_by_its_column(desk: Path, profiles: Profiles) -> None:
    for text, column, what in ROWS:
        (told,) = _refuse(desk, profiles, text)
        assert told[1] == column, text
        assert what in told[2], (text, told)


def test_words_at_their_limits_are_set(desk: Path, profiles: Profiles) -> None:
    """At most 4 lines and 200 letters."""
    letters = "x" * 197
    (desk / "orders.csv").write_text(f'words,font,width\n"{letters[:194]}\na\nb\nc",,5cm\nAda,arc -180,5cm\n')
    first, second = read_batch(desk / "orders.csv", profiles).rows
    assert (len(first.words), first.words.count("\n")) == (200, 3)
    assert second.style is not None
    assert second.style.arc == -180


# Heading lines: what is told, as column and words; nothing below is told where no heading is known.
HEADINGS = (
    ("SKU,Stück\nart/owl.png,x\n", [("", "no heading is known; the first line names the columns, such as order")]),
    ("width,copies\n5cm,0\n", [("art", "there is no column art"), ("copies", "no copies at all")]),
    ("art,art,width\nart/owl.png,art/owl.png,5cm\n", [("art", "this heading stands twice")]),
    ("art,artwork,width\nart/owl.png,art/owl.png,5cm\n", [("art", "“art” means the same column")]),
    ("art,width (px)\nart/owl.png,5cm\n", [("width", "a heading with a unit that is not taken")]),
    (
        "art,art,width,copies\nart/owl.png,art/owl.png,5cm,0\n",
        [("art", "this heading stands twice"), ("copies", "no copies at")],
    ),
    ('art,"width\nart/owl.png,5cm\n', [("", "a quote is opened here and never closed")]),
)


def test_faults_of_the_headings_and_below_are_in_one_report(desk: Path, profiles: Profiles) -> None:
    for text, wanted in HEADINGS:
        told = _refuse(desk, profiles, text)
        assert [row for row, _, _ in told] == [1, 2][: len(told)], (text, told)
        for (_, column, what), (named, words) in zip(told, wanted, strict=True):
            assert column == named, text
            assert words in what, text


# First bytes of files that are no table (their formats' own signatures), and what the person is told.
FILES = (
    (b"\0\0\0\x18ftypheic\0\0\0\0", "a photograph in HEIC or AVIF"),
    (b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg"/>', "a drawing in SVG, not a table"),
    (b"<svg/>", "a drawing in SVG, not a table"),
    (b'<?xml version="1.0"?><orders/>', "a web page or XML, not CSV"),
    (b"\xff\xd8\xff\xe0", "a photograph in JPEG"),
    (b"GIF89a", "a picture in GIF"),
    (b"RIFF\0\0\0\0WEBP", "a picture in WebP"),
    (b"II*\0", "a picture in TIFF"),
    (b"MM\0*", "a picture in TIFF"),
    (b"sep=\nart,width\n", "a sep= line that names no separator"),
    (b"sep=::\nart,width\n", "a sep= line that names no separator"),
)


def test_files_that_are_no_table_are_told_by_what_they_are(desk: Path, profiles: Profiles) -> None:
    for content, what in FILES:
        (told,) = _refuse(desk, profiles, content)
        assert what in told[2], content


def test_a_file_beyond_the_limit_is_refused_and_one_at_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("impose.orders.csv_text.MOST_BYTES", 1 << 20)
    path = tmp_path / "orders.csv"
    path.write_bytes(b"x" * (1 << 20))
    assert len(read_file_bytes(path)) == 1 << 20
    path.write_bytes(b"x" * ((1 << 20) + 1))
    with pytest.raises(Trouble, match="larger than 1 MB, too large for a batch"):
        read_file_bytes(path)


def _pack(parts: dict[str, str]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as packed:
        for name, text in parts.items():
            packed.writestr(name, text)
    return held.getvalue()


def test_packed_files_that_are_no_workbook_of_orders(desk: Path, profiles: Profiles) -> None:
    book = openpyxl.Workbook()
    book.active.sheet_state = "visible"
    held = io.BytesIO()
    book.save(held)
    locked = bytearray(_pack({"[Content_Types].xml": "<a/>"}))
    # Bit 0 of the general purpose flags: encrypted (APPNOTE.TXT 4.4.4), 8 bytes into a record of the central directory.
    locked[locked.index(b"PK\x01\x02") + 8] |= 1
    for content, what in (
        (held.getvalue(), "no visible worksheet holds anything"),
        (_pack({"letter.txt": "x"}), "a packed file, but no spreadsheet"),
        (bytes(locked), "protected by a password"),
    ):
        (told,) = _refuse(desk, profiles, content, "orders.xlsx")
        assert what in told[2]


# A kits file that cannot be used, and what the row that names its kit is told.
KITS = (
    (b"\x89PNG\r\n\x1a\n", "a picture, not a table"),
    (b"art,placement\nart/owl.png,left-chest\n", "kits.csv has no column kit"),
    (b"kit,art,art\nteam,art/owl.png,\n", "this heading stands twice"),
    (b"kit,words,width\nteam,{age},5cm\n", "is nothing that is put in"),
    (b"kit,art\nteams,art/owl.png\n", "there is no kit “team” in kits.csv"),
)


def test_kits_that_cannot_be_used_are_told_of_the_row_that_names_them(desk: Path, profiles: Profiles) -> None:
    for content, what in KITS:
        (desk / "kits.csv").write_bytes(content)
        told = _refuse(desk, profiles, "kit,garment\nteam,adult M\n")
        assert [(row, column) for row, column, _ in told] == [(2, "kit")], content
        assert what in told[0][2], told


def test_copies_of_row_and_kit_multiply_up_to_the_limit(
    desk: Path, profiles: Profiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("impose.orders.roster.MOST_COPIES", 1000)
    (desk / "kits.csv").write_text("kit,art,placement,copies\nteam,art/owl.png,left-chest,10\n")
    (told,) = _refuse(desk, profiles, "kit,garment,copies\nteam,adult M,101\n")
    assert told == (2, "copies", "more than 1,000 copies: 101 of the row times 10 of its kit")
    (desk / "orders.csv").write_text("kit,garment,copies\nteam,adult M,100\n")
    assert read_batch(desk / "orders.csv", profiles).rows[0].copies == 1000


def test_a_kit_is_looked_for_once(tmp_path: Path) -> None:
    given = make_records([{"kit": "Team", "art": "a.png"}])
    asked: list[str] = []

    def read(records: list[TableRecord], columns: object, tally: object) -> list[object]:
        asked.append(records[0].cells[0])
        return []

    kits = KitFile(tmp_path / "orders.csv", read, given)  # type: ignore[arg-type]
    assert kits.find_kit(" TEAM ") is kits.find_kit("team")
    assert asked == ["Team"]
    with pytest.raises(KitError):
        kits.find_kit("")


def test_rows_as_mappings_are_read_by_the_grammar_of_a_file(desk: Path, profiles: Profiles) -> None:
    rows = [
        {"row": 7, "art": "art/owl.png", "width": "5cm", "may_turn": False, "accept": {"halo", "haze"}, "copies": 3},
        {"row": 9, "art": "art/fox.png", "height": "6cm", "may_turn": True, "note": None},
    ]
    batch = read_rows(rows, profiles, desk)
    first, second = batch.rows
    assert (first.row, first.may_turn, sorted(first.accept), first.copies) == (7, False, ["halo", "haze"], 3)
    assert (second.row, second.may_turn, second.note, second.height_mm) == (9, True, "", 60)
    assert (batch.left, batch.name) == (frozenset(), "batch")
    for numbers in ([0], [True], ["2"], [2, 2], [3, None]):
        given: list[dict[str, object]] = [{"row": number} if number is not None else {} for number in numbers]
        with pytest.raises(ValueError, match=r"row is|have the number"):
            read_row_numbers(given)
    assert read_row_numbers([{"row": 1}, {}, {"row": 2}]) == [1, 3, 2]


def test_rows_beyond_the_transfers_of_a_batch_are_refused_from_there_on(
    desk: Path, profiles: Profiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("impose.orders.batch_reader.MOST_TRANSFERS", 2500)
    copies = (1000, 1000, 500, 1)
    rows = [{"art": "art/owl.png", "width": "5cm", "copies": n, "wearer": f"w{k}"} for k, n in enumerate(copies)]
    batch = read_rows(rows, profiles, desk)
    assert [row.row for row in batch.rows] == [2, 3, 4]
    assert batch.left == {5}
    (told,) = _list_stops(batch.findings)
    assert told == (5, "", "from here on more than 2,500 transfers in one batch")


def test_what_the_command_says_of_mending_has_to_be_known() -> None:
    with pytest.raises(Trouble, match="a mend that is not known") as caught:
        RowDefaults(mend=frozenset({"ground", "polish", "wash"}))
    assert [finding.read for finding in caught.value.findings] == ["polish", "wash"]
    assert caught.value.exit is Exit.USAGE
    RowDefaults(mend=frozenset({"ground"}), copies=MOST_COPIES, width_mm=0.1)


def test_loose_files_that_are_none(desk: Path, profiles: Profiles, monkeypatch: pytest.MonkeyPatch) -> None:
    os.mkfifo(desk / "art" / "pipe.png")
    blanks = RowDefaults(width_mm=50)
    for paths, what, code in (
        ([desk / "art" / "pipe.png"], "not a plain file", Exit.REFUSED),
        ([desk / "art" / "gone.png"], "there is no such file", Exit.REFUSED),
        ([], "no artwork is named", Exit.USAGE),
        ([desk / "art" / "a\0.png"], "there is no such file", Exit.REFUSED),
    ):
        with pytest.raises(Trouble) as caught:
            read_loose(paths, profiles, None if paths else desk, blanks)
        (finding,) = caught.value.findings
        assert (finding.what, finding.exit) == (what, code)
        assert finding.remedy

    def refuse(_: Path) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "is_dir", refuse)
    with pytest.raises(Trouble) as caught:
        read_loose([desk / "art"], profiles, None, blanks)
    assert [(finding.what, finding.exit) for finding in caught.value.findings] == [
        ("could not be read: Permission denied", Exit.SYSTEM)
    ]
