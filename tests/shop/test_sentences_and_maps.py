"""Sentences with names in braces, a column map and its file, rosters by their kits, lists of what is made again."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from impose.errors import Exit, Finding, Severity, Trouble
from impose.orders.again_roster import CopiesChange, read_again_roster
from impose.orders.batch import BatchRow
from impose.orders.column_map import parse_column_map
from impose.orders.column_map_file import encode_column_map, make_column_map, map_data
from impose.orders.kit_expansions import list_kit_expansions
from impose.orders.name_checks import check_names, report_expansions
from impose.profiles.garment import Garment
from impose.profiles.sentence_forms import LONGEST, Part, find_sentence_fault, list_names, split_sentence
from impose.profiles.toml_limits import parse_toml
from impose.values import replace


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("plain", (Part("plain"),)),
        ("", ()),
        ("{a}", (Part("", "a"),)),
        ("{a} of {b_2}!", (Part("", "a"), Part(" of "), Part("", "b_2"), Part("!"))),
        ("{a}{a}", (Part("", "a"), Part("", "a"))),
        ("{A} {2} {a b}", (Part("{A} {2} {a b}"),)),
    ],
)
def test_a_sentence_is_taken_apart_at_the_names_in_braces(text: str, parts: Any) -> None:
    assert split_sentence(text) == parts
    assert list_names(text) == {part.name for part in parts} - {""}


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("{size} for {whose}", ""),
        ("{whose}: {size} {note}", ""),
        ("{size}", "{whose} is missing"),
        ("", "an empty sentence"),
        ("  ", "an empty sentence"),
        ("{size} {whose} {colour}", "nothing is filled in for {colour}"),
        ("{size} {whose} {", "a brace that belongs to no name"),
        ("{Size} {whose}", "a brace that belongs to no name"),
        ("{size} {whose}\u202e", "holds what is no text to be read: U+202E"),
        ("{size} {whose}" + "x" * (LONGEST - 14), ""),
        ("{size} {whose}" + "x" * (LONGEST - 13), "longer than 1000"),
        ("{note}", "{size}, {whose} is missing"),
    ],
)
def test_a_sentence_of_the_shops_own_has_all_that_is_filled_in_and_nothing_else(text: str, what: str) -> None:
    fault = find_sentence_fault(text, {"size", "whose", "note"}, {"note"})
    assert (fault is None) == (not what)
    if fault is not None:
        assert fault.what.startswith(what)
        assert fault.remedy
    alone = find_sentence_fault("{x}", set(), set())
    assert alone is not None
    assert alone.remedy == "This sentence has none."


SHOWN: dict[str, Any] = {
    "order": "Order no.",
    "wearer": ["First name", 'Last "name"'],
    "copies": "",
    "garment": {
        "from": ["Product"],
        "values": {"tee \\ M": "T-shirt adult M", "hood": "hoodie"},
        "unlisted": "keep",
        "blank": "",
    },
    "width": {"always": "80 mm", "fill": True, "before": None},
    "note": {"from": "Größe", "after": "\t"},
    "art": {},
}


def test_a_column_map_shown_as_a_table_is_the_file_that_the_commands_take() -> None:
    skip = {"State": ["void", "re\nfund"], "Kind": []}
    data = map_data(SHOWN, skip)
    assert set(data) == {"order", "wearer", "garment", "width", "note", "skip"}
    assert data["width"] == {"always": "80 mm", "fill": True}
    assert data["garment"] == {key: SHOWN["garment"][key] for key in ("from", "values", "unlisted")}
    assert data["skip"] == {"State": ["void", "re\nfund"]}
    again, faults = parse_toml(encode_column_map(SHOWN, skip), "columns.toml")
    assert faults == []
    assert again == data, "read back by the standard library's TOML"
    good = {"order": "Order no.", "garment": {"from": "Product", "values": {"tee M": "T-shirt adult M"}}, "art": "File"}
    assert make_column_map(good, {}) == parse_column_map(map_data(good, {}), "columns.toml")
    assert "skip" not in map_data(good, {"State": []})
    with pytest.raises(Trouble):
        make_column_map({"order": {"from": "x", "unlisted": "perhaps"}}, {})


GARMENT = Garment("t-shirt", "adult", "M", "adult M")
ROW = BatchRow(2, "1", "Ana", "", Path(), "full-back", GARMENT, 1, None, None, words="ANA")


def lay(row: int, wearer: str, words: str, **more: Any) -> BatchRow:
    return replace(ROW, row=row, wearer=wearer, words=words, art="" if words else "owl.png", **more)


def kinds(found: list[Finding]) -> list[tuple[str, int | None]]:
    return [(finding.kind, finding.row) for finding in found]


def test_names_that_stand_twice_are_asked_about_within_an_order_and_a_place() -> None:
    twice = [lay(2, "Ana", "ANA"), lay(3, "Ben", "Ana")]
    assert kinds(check_names(twice)) == [("name-twice", 3)]
    assert kinds(check_names([twice[0], replace(twice[1], placement="left-chest")])) == []
    assert kinds(check_names([twice[0], replace(twice[1], order="2")])) == []
    assert kinds(check_names([lay(2, "Ana", "7"), lay(3, "Ben", "7")])) == [], "numbers are told by their own column"
    three = [lay(2, "Ana", "ANA"), lay(3, "Ben", "ana"), lay(4, "Cy", "A\u0301NA"), lay(5, "Dee", " ana ")]
    (told, *_) = check_names(three)
    assert "rows 2-3, 5" in told.what


def test_a_wearer_without_words_is_missed_where_most_others_have_theirs() -> None:
    named = [lay(2, "Ana", "ANA"), lay(3, "Ben", "BEN"), lay(4, "Cleo", "CLEO")]
    for lacking, told in ((["Dan"], [5]), (["Dan", "Eve"], [5, 6]), (["Dan", "Eve", "Fay"], [])):
        rows = [*named, *(lay(5 + n, wearer, "") for n, wearer in enumerate(lacking))]
        assert [f.row for f in check_names(rows) if f.kind == "name-missing"] == told
    assert kinds(check_names([named[0], lay(3, "Dan", "")])) == [], "one name is no custom"
    nameless = [replace(row, order="") for row in (*named, lay(9, "Dan", ""))]
    assert kinds(check_names(nameless)) == []


@pytest.mark.parametrize(
    ("wearer", "words", "told"),
    [
        ("Bronagh Tully", "TULLY", False),
        ("Bronagh Tully", "TULY", True),
        ("Ana", "Anna", True),
        ("Ana", "Ada", False),
        ("Ana", "7", False),
        ("Ana", "ANA 7", False),
        ("", "Anna", False),
        ("Ana", "ÁNA", True),
        ("Jo Lee", "Lee Joe", True),
        ("Ελένη", "ΕΛΕΝΗ", False),
    ],
)
def test_words_that_are_nearly_the_wearers_name_are_asked_about(wearer: str, words: str, told: bool) -> None:
    assert ("name-changed" in [finding.kind for finding in check_names([lay(2, wearer, words)])]) == told


def test_what_kits_made_is_told_once_and_numbers_that_stand_twice_are_asked_about() -> None:
    def player(row: int, wearer: str, number: str, **more: Any) -> list[BatchRow]:
        return [
            lay(row, wearer, number, kit="Rowers", kit_row=3, number=number, copies=2, **more),
            lay(row, wearer, "", kit="Rowers", kit_row=2, number=number, placement="left-chest", **more),
        ]

    rows = [*player(2, "Ana", "07"), *player(3, "Ben", "7"), *player(4, "Cy", "8")]
    note, warning = report_expansions(rows)
    assert (note.severity, note.rows, note.read) == (Severity.NOTE, (2, 3, 4), "Rowers")
    assert "makes 9 prints of 3 rows: for row 2 full back ; left chest owl.png" in note.what
    assert (warning.kind, warning.row, warning.read) == ("number-twice", 3, "7")
    assert "stands in rows 2-3" in warning.what
    assert len(report_expansions([*player(2, "Ana", "7"), *player(3, " ana ", "7")])) == 1, "several of one wearer"
    assert len(report_expansions([*player(2, "Ana", "7"), *player(3, "Ben", "7", order="2")])) == 1
    assert len(report_expansions([*player(2, "A", "0"), *player(3, "B", "00")])) == 2
    assert "1 row:" in report_expansions(player(2, "Ana", "7"))[0].what
    assert report_expansions([ROW]) == []
    (table,) = list_kit_expansions(rows)
    assert table.heads == ("Row", "For", "Garment", "Left chest", "Full back")
    assert table.list_cells()[1] == ("3", "Ben", "adult M", "owl.png", "2 × 7")
    gaps = list_kit_expansions([*player(2, "Ana", "7")[:1], *player(3, "Ben", "8")[1:]])[0]
    assert [line.prints for line in gaps.lines] == [("", "2 × 7"), ("owl.png", "")]


def read_list(folder: Path, text: str | bytes) -> tuple[list[Any], list[Finding]]:
    path, findings = folder / "changes.csv", []  # type: ignore[var-annotated]
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_again_roster(path, findings), findings


@pytest.mark.parametrize(
    ("cell", "change", "of_three"),
    [
        ("5", CopiesChange(5), 5),
        ("+4", CopiesChange(4, True), 7),
        ("-1", CopiesChange(-1, True), 2),
        ("\u22122", CopiesChange(-2, True), 1),
        ("4 more", CopiesChange(4, True), 7),
        ("'+4", CopiesChange(4, True), 7),
        ("0", CopiesChange(0), 0),
        ("100000", CopiesChange(100_000), 100_000),
    ],
)
def test_how_many_are_made_again_is_read_as_it_is_written(
    tmp_path: Path, cell: str, change: Any, of_three: int
) -> None:
    (line,), findings = read_list(tmp_path, f"Who,qty,Size\nAna,{cell}, M \n,,\n")
    assert findings == []
    assert line.copies == change
    assert change.apply_to(3) == of_three
    assert (line.line, line.read_cell("wearer"), line.read_cell("garment"), line.read_cell("note")) == (
        2,
        "Ana",
        "M",
        "",
    )


@pytest.mark.parametrize(
    ("text", "row", "what"),
    [
        ("", None, "the list is empty"),
        ("name\nAna\n", 1, "there is neither a column wearer nor a column like"),
        ("wearer,colour\nAna,x\n", 1, "not a column of this list"),
        ("wearer,copy\nAna,1\n", 1, "not a column of this list"),
        ("wearer,who\nAna,Ana\n", 1, "a column stands there twice"),
        ('wearer,note\nAna,"x" y\n', 2, "after its closing quote"),
        ("wearer,copies\nAna,many\n", 2, "not a number of garments"),
        ("wearer,copies\nAna,100001\n", 2, "not a number of"),
        ("wearer,copies\nAna,1.5\n", 2, "not a number of garments"),
        ("wearer,copies\nAna,4 less\n", 2, "not a number of"),
    ],
)
def test_a_list_that_cannot_be_meant_is_told_by_its_row(tmp_path: Path, text: str, row: int | None, what: str) -> None:
    _, (finding,) = read_list(tmp_path, text)
    assert what in finding.what
    assert (finding.row, finding.exit, finding.kind) == (row, Exit.REFUSED, "again")
    assert finding.remedy
    if "copy" in text:
        assert finding.remedy == "Did you mean copies?"
