"""Kits and rosters: thirty players are thirty rows and a few of a kit, and nothing is read twice."""

from __future__ import annotations

import csv
import io
import random
from pathlib import Path

import openpyxl
import pytest
from PIL import Image

from impose import files
from impose.errors import Finding, Severity, Trouble
from impose.orders.batch import Batch, RowDefaults
from impose.orders.batch_reader import list_files_named, read_batch
from impose.orders.kits import OF_THE_KIT
from impose.profiles.profiles import Profiles, load_profiles
from impose.run import Options, check, plan, produce
from impose.run.record_file import read_record
from impose.run.reprint import plan_reprint
from impose.run.selection import ReprintRequest
from impose.values import list_names

KITS = [
    ["kit", "art", "words", "font", "placement", "garment", "copies"],
    ["rowers", "art/crest.png", "", "", "left-chest", "hoodie", ""],
    ["rowers", "", "{number}", "number", "full-back", "hoodie", ""],
    ["rowers", "", "{name}", "", "left-long-sleeve", "hoodie", ""],
    ["cox", "", "{name} {number}", "", "full-front", "T-shirt", "2"],
]
ROSTER = [["order", "kit", "name", "number", "garment", "copies", "wearer"]]


@pytest.fixture(scope="module")
def profiles() -> Profiles:
    return load_profiles(files.find_shipped_profiles())


def text_of(rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue()


@pytest.fixture
def team(tmp_path: Path):
    (tmp_path / "art").mkdir()
    Image.new("RGBA", (700, 700), (20, 90, 120, 255)).save(tmp_path / "art" / "crest.png")

    def write(rows: list[list[str]], kits: list[list[str]] | None = None) -> Path:
        (tmp_path / "kits.csv").write_text(text_of(kits or KITS), "utf-8")
        path = tmp_path / "orders.csv"
        path.write_text(text_of([*ROSTER, *rows]), "utf-8")
        return path

    return write


def kinds(found: tuple[Finding, ...]) -> dict[str, Severity]:
    return {finding.kind: finding.severity for finding in found}


def faults(path: Path, profiles: Profiles) -> dict[str, Finding]:
    with pytest.raises(Trouble) as caught:
        read_batch(path, profiles)
    return {finding.kind: finding for finding in caught.value.findings}


def prints(batch: Batch) -> list[tuple[int, int, str, str | None, str]]:
    return [(row.row, row.kit_row, row.words or row.art, row.placement, row.wearer) for row in batch.rows]


def test_thirty_players_are_ninety_prints(team, profiles: Profiles) -> None:
    players = [["A", "Rowers", f"NAME {n}", f"{n:02}", "adult M", "", ""] for n in range(1, 31)]
    batch = read_batch(team(players), profiles)
    assert len(batch.rows) == 90
    wanted = [
        one
        for n in range(1, 31)
        for one in (
            (n + 1, 2, "art/crest.png", "left-chest", f"NAME {n}"),
            (n + 1, 3, f"{n:02}", "full-back", f"NAME {n}"),
            (n + 1, 4, f"NAME {n}", "left-long-sleeve", f"NAME {n}"),
        )
    ]
    assert prints(batch) == wanted
    assert {row.garment.kind for row in batch.rows} == {"hoodie"}
    (note,) = [finding for finding in batch.findings if finding.kind == "kit"]
    assert "90 prints of 30 rows" in note.what
    assert note.rows == tuple(range(2, 32))


def test_values_are_put_in_once_and_never_read_again(team, profiles: Profiles) -> None:
    """Against the plain reading of the rule: each place in the kit's own text, replaced once."""
    rng = random.Random(14)
    parts = ["{name}", "{number}", "{", "}", "A", "07", "{{name}}", " ", "é", "\\1", "%s", "$"]
    for _ in range(40):
        name = "".join(rng.choices(parts, k=4)).strip() or "A"
        number = "".join(rng.choices(parts, k=3)).strip() or "7"
        name, number = " ".join(name.split()), " ".join(number.split())
        batch = read_batch(team([["A", "cox", name, number, "adult M", "", "x"]]), profiles)
        before, between = ["", " {number}"][0], " "
        assert batch.rows[0].words == " ".join(f"{before}{name}{between}{number}".split())


def test_a_leading_nought_stays(team, profiles: Profiles) -> None:
    batch = read_batch(team([["A", "rowers", "JO", "'07", "adult M", "", ""]]), profiles)
    assert batch.rows[1].words == "07"


def test_copies_of_row_and_kit_multiply(team, profiles: Profiles) -> None:
    batch = read_batch(team([["A", "cox", "JO", "7", "adult M", "3", ""]]), profiles)
    assert [row.copies for row in batch.rows] == [6]


def test_a_size_alone_stands_behind_the_kits_garment(team, profiles: Profiles) -> None:
    rows = [["A", "rowers", "JO", "7", text, "", ""] for text in ("youth M", "sweatshirt adult L", "")]
    garments = [row.garment for row in read_batch(team(rows), profiles).rows[::3]]
    assert [(g.kind, g.group, g.size) for g in garments] == [
        ("hoodie", "youth", "M"), ("sweatshirt", "adult", "L"), ("hoodie", "adult", "")
    ]  # fmt: skip


def test_what_a_kit_needs_is_asked_for_by_its_column(team, profiles: Profiles) -> None:
    fault = faults(team([["A", "rowers", "JO", "", "adult M", "", ""]]), profiles)["bad-kit"]
    assert (fault.row, fault.column) == (2, "number")


def test_an_unknown_kit_has_its_near_miss_named(team, profiles: Profiles) -> None:
    fault = faults(team([["A", "rowes", "JO", "7", "adult M", "", ""]]), profiles)["bad-kit"]
    assert "rowers" in fault.remedy


def test_no_kits_file_is_told(tmp_path: Path, profiles: Profiles) -> None:
    (tmp_path / "orders.csv").write_text(text_of([*ROSTER, ["A", "rowers", "JO", "7", "M", "", ""]]), "utf-8")
    assert "there is no kits.csv" in faults(tmp_path / "orders.csv", profiles)["bad-kit"].what


def test_a_fault_of_a_kit_is_told_once_with_its_place(team, profiles: Profiles) -> None:
    kits = [*KITS[:3], ["rowers", "", "{nmae}", "", "left-chst", "hoodie", ""]]
    rows = [["A", "rowers", f"N{n}", str(n), "adult M", "", ""] for n in range(20)]
    found = faults(team(rows, kits), profiles)
    assert "kits.csv, row 4, column placement" in found["bad-placement"].what
    assert "{nmae}" in found["bad-kit"].what
    assert found["bad-kit"].rows == tuple(range(2, 22))


def test_orders_of_a_kit_at_fault_may_be_left_out_and_no_others(team, profiles: Profiles) -> None:
    kits = [["kit", "art", "placement", "width"], ["good", "art/crest.png", "left-chest", ""],
            ["bad", "art/crest.png", "left-chest", "9"]]  # fmt: skip
    said = [("A", "good", "Ann"), ("B", "bad", "Bo"), ("B", "good", "Bea"), ("C", "good", "Cy"), ("D", "bad", "Di")]
    rows = [[order, kit, "", "", "adult M", "", wearer] for order, kit, wearer in said]
    path = team(rows, kits)
    with pytest.raises(Trouble) as told:
        read_batch(path, profiles)
    assert [(finding.row, finding.also) for finding in told.value.findings] == [(3, (6,))]
    batch = read_batch(path, profiles, skip_bad=True)
    assert {row.order for row in batch.rows} == {"A", "C"}
    assert batch.left == {3, 4, 6}


def test_a_kit_that_nobody_asks_for_stops_nothing(team, profiles: Profiles) -> None:
    kits = [*KITS, ["unfinished", "", "", "", "nowhere", "", ""]]
    assert read_batch(team([["A", "cox", "JO", "7", "adult M", "", ""]], kits), profiles).rows


def test_what_the_kit_says_no_row_says_again(tmp_path: Path, team, profiles: Profiles) -> None:
    path = team([])
    path.write_text("kit,name,number,placement\nrowers,JO,7,left-chest\n", "utf-8")
    assert faults(path, profiles)["bad-kit"].column == "placement"


def test_doubled_numbers_and_foreign_letters_and_missing_sizes_are_told(team) -> None:
    rows = [
        ["A", "rowers", "JO", "7", "adult M", "", ""],
        ["A", "rowers", "ADA", "07", "adult 9XL", "", ""],  # called out, 07 and 7 are one
        ["B", "rowers", "EVE", "7", "adult S", "", ""],
        ["B", "rowers", "ДАРИНА", "8", "youth S", "", ""],
    ]
    found = check([team(rows)], Options(settings={"papers": ["13x19"]}, cache=False)).findings
    told = {finding.kind: finding for finding in found}
    assert told["number-twice"].row == 3
    assert "rows 2-3" in told["number-twice"].what
    assert told["size-lacking"].row == 3


def test_letters_that_the_kits_face_lacks_are_told(team) -> None:
    rows = [["A", "rowers", "JO", "7", "adult M", "", ""], ["A", "rowers", "สมชาย", "8", "adult M", "", ""]]
    try:
        found = check([team(rows)], Options(settings={"papers": ["13x19"]}, cache=False)).findings
    except Trouble as trouble:
        found = trouble.findings
    assert {("other-typeface", 3), ("words", 3)} & {(finding.kind, finding.row) for finding in found}


def test_players_of_one_name_have_a_garment_each(team) -> None:
    rows = [["A", "rowers", "SMITH", "7", "adult M", "", ""], ["A", "rowers", "SMITH", "8", "adult M", "", ""]]
    from impose.sheet.press_steps import make_tickets

    made = plan([team(rows)], Options(settings={"papers": ["13x19"]}, cache=False))
    garments = make_tickets(made.batch.rows, made.layout, made.profiles)
    numbers = [{one.transfer.piece.row.number for one in ticket.steps} for ticket in garments]
    assert numbers == [{"7"}, {"8"}]
    assert [len(ticket.steps) for ticket in garments] == [3, 3]


def test_the_record_has_both_rows_and_a_reprint_the_same_garment(team, tmp_path: Path) -> None:
    rows = [["A", "rowers", "JO", "07", "adult M", "", ""], ["A", "rowers", "ADA", "8", "youth M", "2", ""]]
    options = Options(settings={"papers": ["13x19"]}, cache=False)
    produce(plan([team(rows)], options), tmp_path / "out")
    source = read_record(tmp_path / "out")
    transfers = {one.id: one for one in source.printed.transfers}
    assert sorted((*one.key, one.copy) for one in transfers.values()) == sorted(
        (row, kit, copy) for row, copies in ((2, 1), (3, 2)) for kit in (2, 3, 4) for copy in range(1, copies + 1)
    )
    wanted = next(one for one in transfers.values() if one.ordered.words == "07")
    assert (wanted.ordered.kit, wanted.ordered.name, wanted.ordered.number) == ("rowers", "JO", "07")
    again = plan_reprint(source, ReprintRequest(only=(wanted.id,)), options).plan
    (made,) = [one for sheet in again.record["sheets"] for one in sheet["transfers"]]
    assert (made["words"], made["row"], made["kit_row"], made["number"]) == ("07", 2, 3, "07")
    assert (made["ink_mm"]["w"], made["ink_mm"]["h"]) == pytest.approx((wanted.ink_w_mm, wanted.ink_h_mm))


def test_a_worksheet_called_kits_does_as_well(team, tmp_path: Path, profiles: Profiles) -> None:
    rows = [["A", "rowers", "JO", "07", "adult M", "", ""]]
    wanted = prints(read_batch(team(rows), profiles))
    (tmp_path / "kits.csv").unlink()
    book = openpyxl.Workbook()
    for cells in [*ROSTER, *rows]:
        book.active.append(cells)
    sheet = book.create_sheet("Kits")
    for cells in KITS:
        sheet.append(cells)
    book.save(tmp_path / "orders.xlsx")
    batch = read_batch(tmp_path / "orders.xlsx", profiles)
    assert prints(batch) == wanted
    assert "workbook" not in kinds(batch.findings)
    assert list_files_named(tmp_path / "orders.xlsx") == ["art/crest.png"]


def test_what_a_batch_names_includes_its_kits_and_theirs(team) -> None:
    path = team([["A", "rowers", "JO", "07", "adult M", "", ""]])
    assert list_files_named(path) == ["kits.csv", "art/crest.png"]
    assert list_files_named(team([["A", "cox", "JO", "07", "adult M", "", ""]])) == ["kits.csv"]


def test_a_folder_with_orders_in_it_stands_for_them(team, tmp_path: Path) -> None:
    team([["A", "rowers", "JO", "07", "adult M", "", ""]])
    checked = check([tmp_path], Options(settings={"papers": ["13x19"]}, cache=False))
    assert checked.rows == 3


def test_without_a_kit_name_and_number_are_kept_for_the_ticket(tmp_path: Path, profiles: Profiles) -> None:
    Image.new("RGBA", (90, 90), (20, 90, 120, 255)).save(tmp_path / "a.png")
    (tmp_path / "orders.csv").write_text("art,placement,name,number\na.png,left-chest,JO,07\n", "utf-8")
    (row,) = read_batch(tmp_path / "orders.csv", profiles).rows
    assert row.extra == (("name", "JO"), ("number", "07"))


def accepting(kind: str, at: int) -> list[list[str]]:
    """The rowers' kit with a column accept, in which one row agrees to a kind."""
    rows = [[*KITS[0], "accept"], *([*row, ""] for row in KITS[1:4])]
    rows[at][-1] = kind
    return rows


def test_what_a_kits_row_accepts_counts_for_its_own_print_alone(team, tmp_path: Path) -> None:
    """The crest of 60 pixels is far too coarse at 4 in; a row for the number that agrees to it agrees to nothing."""
    Image.new("RGBA", (60, 60), (20, 90, 120, 255)).save(tmp_path / "art" / "crest.png")
    options = Options(settings={"papers": ["13x19"], "stops": ["very-low-resolution"]}, cache=False)
    row = [["A", "rowers", "JO", "07", "adult M", "", ""]]
    found = check([team(row, accepting("low-resolution", 2))], options).findings
    assert [(f.row, f.kit_row, f.severity) for f in found if f.kind == "very-low-resolution"] == [(2, 2, Severity.STOP)]
    found = check([team(row, accepting("low-resolution", 1))], options).findings
    assert [f.severity for f in found if f.kind == "very-low-resolution"] == [Severity.WARN]


def test_what_the_rosters_row_accepts_counts_for_all_its_prints(team, tmp_path: Path) -> None:
    Image.new("RGBA", (60, 60), (20, 90, 120, 255)).save(tmp_path / "art" / "crest.png")
    path = team([])
    path.write_text("kit,name,number,garment,accept\nrowers,JO,07,adult M,low-resolution\n", "utf-8")
    options = Options(settings={"papers": ["13x19"], "stops": ["very-low-resolution"]}, cache=False)
    found = check([path], options).findings
    assert [f.severity for f in found if f.kind == "very-low-resolution"] == [Severity.WARN]


def test_a_finding_of_a_kits_print_names_both_rows(team, tmp_path: Path) -> None:
    Image.new("RGBA", (60, 60), (20, 90, 120, 255)).save(tmp_path / "art" / "crest.png")
    found = check(
        [team([["A", "rowers", "JO", "07", "adult M", "", ""]])], Options(settings={"papers": ["13x19"]})
    ).findings
    (one,) = [finding for finding in found if finding.kind == "very-low-resolution"]
    assert "row 2 (row 2 of its kit), column art" in one.place


def test_what_was_not_agreed_marks_every_print_of_the_row_and_changes_none(team, tmp_path: Path) -> None:
    """A row that is not what was agreed has its mark on three prints, which stay chest, back and sleeve."""
    from impose.run.agreed_answers import MARK, note_agreed

    options = Options(settings={"papers": ["13x19"]}, steps=5, workers=1)
    produce(plan([team([["A", "rowers", "JO", "07", "adult M", "", ""]])], options), tmp_path / "out")
    note_agreed(tmp_path / "out", "Ada", "Monday")
    made = plan([team([["A", "rowers", "JO", "08", "adult M", "", ""]])], options)
    on_sheets = {p.transfer.piece.row.key: p.transfer.piece.row for sheet in made.layout.sheets for p in sheet.placed}
    assert [(key, row.placement) for key, row in sorted(on_sheets.items())] == [
        ((2, 2), "left-chest"), ((2, 3), "full-back"), ((2, 4), "left-long-sleeve")
    ]  # fmt: skip
    assert len(made.batch.rows) == 3
    assert all(MARK in dict(row.extra) for row in made.batch.rows)


def test_a_quote_shows_what_each_kit_made(team, run) -> None:
    path = team([["A", "rowers", "JO", "07", "adult M", "", ""], ["A", "rowers", "ADA", "8", "youth M", "2", ""]])
    code, text, _ = run("quote", path, "-p", "13x19")
    assert code == 0
    lines = [line.split() for line in text.splitlines()]
    assert ["2", "JO", "hoodie", "adult", "M", "crest.png", "07", "JO"] in lines
    assert "ADA" in text
    assert "2 × 8" in text


def test_a_number_with_a_format_of_noughts_is_read_as_it_is_shown(team, tmp_path: Path, profiles: Profiles) -> None:
    """ECMA-376 part 1, 18.8.31: the digit placeholder 0 shows a nought where the number has no digit."""
    team([])
    book = openpyxl.Workbook()
    for cells in [["kit", "name", "number", "garment"], *(["rowers", f"N{n}", n, "adult M"] for n in (7, 12, 123))]:
        book.active.append(cells)
    for line, shown in ((2, "00"), (3, "000"), (4, "00")):
        book.active.cell(line, 3).number_format = shown
    book.active.append(["rowers", "PLAIN", 7, "adult M"])
    book.save(tmp_path / "orders.xlsx")
    numbers = [row.words for row in read_batch(tmp_path / "orders.xlsx", profiles).rows if row.kit_row == 3]
    assert numbers == ["07", "012", "123", "7"]


def test_thousands_of_long_names_are_told_in_a_few_words(team, profiles: Profiles) -> None:
    """Whatever stands in a file, a message stays one that a person reads."""
    kits = [*KITS, *([f"{number} " + "x" * 5000, *KITS[1][1:]] for number in range(2000))]
    fault = faults(team([["A", "z" * 90_000, "JO", "7", "adult M", "", ""]], kits), profiles)["bad-kit"]
    assert len(str(fault)) < 4000
    assert "more" in fault.remedy


SAID = {
    "placement": "left-chest", "width": "80 mm", "height": "90 mm", "tear": "tight", "centre": "mass",
    "may_turn": "no", "mend": "ground", "recolour": "#C81E28 > #12A05B",
    "drop": "127 mm from neck seam to top of print",
    "across": "101.6 mm from centre line to centre of print",
    "accept": "haze", "note": "fold twice", "cloth": "100% polyester", "cloth_colour": "white",
}  # fmt: skip
PICTURE = {"art": "art/crest.png"}
WORDS = {"words": "Ada", "font": "outlined", "letters": "30 mm"}


def list_print(path: Path, profiles: Profiles) -> dict[str, object]:
    """The fields of the only print, but for those that say whose garment it is and from which row."""
    (row,) = read_batch(path, profiles).rows
    own = {"row", "kit", "kit_row", "name", "number", "garment"}
    return {name: getattr(row, name) for name in list_names(row) if name not in own}


@pytest.mark.parametrize("printed", [PICTURE, WORDS])
def test_a_kits_row_prints_as_the_same_row_without_a_kit(printed, team, profiles: Profiles) -> None:
    assert set(SAID | PICTURE | WORDS) >= set(OF_THE_KIT), "write a cell for the new column above"
    cells = SAID | printed
    if printed is WORDS:
        del cells["mend"], cells["width"], cells["height"]
    path = team([], [["kit", *cells], ["crew", *cells.values()]])
    path.write_text(text_of([["order", "kit", "wearer"], ["A", "crew", "Ada"]]), "utf-8")
    of_kit = list_print(path, profiles)
    path.write_text(text_of([["order", "wearer", *cells], ["A", "Ada", *cells.values()]]), "utf-8")
    assert of_kit == list_print(path, profiles)


def test_a_page_that_a_kit_names_is_the_page(team, profiles: Profiles, tmp_path: Path) -> None:
    path = team(
        [["A", "crew", "Ada", "", "", "", ""]], [["kit", "art", "placement"], ["crew", "two.pdf#2", "left-chest"]]
    )
    (tmp_path / "two.pdf").write_bytes(b"%PDF-1.7")
    assert [row.page for row in read_batch(path, profiles).rows] == [2]


def test_mends_for_all_rows_are_for_those_of_a_kit_too(team, profiles: Profiles) -> None:
    path = team(
        [["A", "crew", "Ada", "", "", "", ""]], [["kit", "art", "placement"], ["crew", "art/crest.png", "left-chest"]]
    )
    (row,) = read_batch(path, profiles, blanks=RowDefaults(mend=frozenset({"ground"}))).rows
    assert row.mend == {"ground"}
