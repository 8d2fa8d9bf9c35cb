"""A roster pasted as people send it: what the text tells is read, what it does not is asked (rosters by hand)."""

from __future__ import annotations

import pytest

from impose import files
from impose.orders.roster_paste import MOST_LETTERS, PastedRoster, read_roster
from impose.profiles.profiles import load_profiles

WARDROBE = load_profiles(files.find_shipped_profiles()).wardrobe


def read(text: str, **more) -> PastedRoster:
    return read_roster(text, WARDROBE, **more)


def cells(roster: PastedRoster) -> list[dict[str, str]]:
    return [dict(line.cells) for line in roster.lines]


@pytest.mark.parametrize(
    "line",
    [
        "Łukasz Wróbel 7 adult M",
        "7 Łukasz Wróbel - adult M",
        "adult M | Łukasz Wróbel | #7",
        "Łukasz Wróbel (adult M) 7",
        "Łukasz Wróbel (adult M), 7",
        "Łukasz Wróbel adult M; 7",
    ],
)
def test_a_line_of_words_is_name_number_and_size_in_any_order(line):
    roster = read(line)
    assert cells(roster) == [{"name": "Łukasz Wróbel", "number": "7", "garment": "adult M"}]
    assert roster.asks == ()
    assert roster.lines[0].odd == ()
    assert set(roster.columns) == {"name", "number", "garment"}


@pytest.mark.parametrize("separator", ["\t", ";", ","])
def test_a_table_with_headings_is_read_by_them(separator):
    rows = [["Size", "No.", "Name"], ["youth M", "#07", "Ada"], ["adult L", "12", "Bo"]]
    roster = read("\n".join(separator.join(row) for row in rows))
    assert roster.heading
    assert cells(roster) == [
        {"garment": "youth M", "number": "07", "name": "Ada"}, {"garment": "adult L", "number": "12", "name": "Bo"}
    ]  # fmt: skip
    assert [line.line for line in roster.lines] == [2, 3]


def test_a_table_without_headings_is_read_by_what_stands_in_its_columns():
    roster = read("Ada;7;youth M\nBo;12;adult L\n;;\n")
    assert not roster.heading
    assert [line["name"] for line in cells(roster)[:2]] == ["Ada", "Bo"]
    assert [line["number"] for line in cells(roster)[:2]] == ["7", "12"]


def test_a_name_keeps_what_is_no_size_and_a_heading_is_believed():
    assert cells(read("Ada (the third), 7\nBo M, 12")) == [
        {"name": "Ada (the third)", "number": "7"}, {"name": "Bo", "garment": "M", "number": "12"}
    ]  # fmt: skip
    assert cells(read("Name,Number\nBo M,12")) == [{"name": "Bo M", "number": "12"}]
    assert cells(read("Ada M,XL,7\nBo,L,12"))[0] == {"name": "Ada M", "garment": "XL", "number": "7"}


def test_two_columns_that_may_be_the_same_are_asked_about_and_the_answer_holds():
    text = "Ada;Lovelace;7\nBo;Diddley;12"
    asked = [ask.id for ask in read(text).asks]
    assert asked == ["column-1", "column-2"]
    roster = read(text, answers={"column-1": "name", "column-2": ""})
    assert roster.asks == ()
    assert cells(roster) == [{"name": "Ada", "number": "7"}, {"name": "Bo", "number": "12"}]


def test_whose_an_m_is_is_asked_unless_line_kit_or_answer_says():
    """M is made for adults and for the young (common practice, no source); XL of a toddler is not asked again."""
    roster = read("Ada M\nBo youth M\nCy M")
    (ask,) = roster.asks
    assert (ask.id, ask.lines) == ("size-group", (1, 3))
    assert {answer for answer, _ in ask.answers} >= {"adult", "youth"}
    assert all(title[0].isupper() for _, title in ask.answers)
    assert [line.asks for line in roster.lines] == [("size-group",), (), ("size-group",)]
    answered = read("Ada M\nCy M", answers={"size-group": "youth", "size-group@2": "adult"})
    assert [line["garment"] for line in cells(answered)] == ["youth M", "adult M"]
    assert answered.asks == ()
    assert read("Ada M", garment="hoodie adult").asks == ()
    # An age in months is an infant's and no grown person's.
    assert read("Ada 3M").asks == ()


def test_two_numbers_in_a_line_are_asked_about():
    roster = read("Ada 7 12", needed=["number"])
    assert [(ask.id, ask.lines) for ask in roster.asks] == [("number", (1,))]
    assert "7 and 12" in roster.lines[0].odd[0]
    assert len(roster.lines[0].odd) == 1, "that there is none is not said as well"
    assert cells(read("Ada 7 12", answers={"number@1": "12"})) == [{"name": "Ada", "number": "12"}]
    assert read("Ada 7 12", answers={"number@1": "13"}).asks


def test_what_the_kit_prints_and_a_line_has_not_is_said():
    roster = read("Ada 7\nBo", needed=["name", "number"])
    assert [line.odd for line in roster.lines] == [(), ("there is no number, and the kit prints one",)]


def test_a_number_that_stands_twice_is_said_beside_both_and_no_other():
    roster = read("Ada 7\nBo 12\nCy 7\nDee")
    assert [bool(line.odd) for line in roster.lines] == [True, False, True, False]
    assert "the number 7 stands 2 times" in roster.lines[0].odd


def test_a_size_that_is_no_size_is_said():
    roster = read("name;size\nAda;purple")
    assert "is no word for a size" in roster.lines[0].odd[0]


def test_a_cell_beyond_the_headings_is_said():
    roster = read("name;size\nAda;youth M;late\nBo;youth M")
    assert "“late” stands beyond the last column" in roster.lines[0].odd
    assert roster.lines[1].odd == ()


def test_nothing_pasted_is_nothing_read_and_too_much_is_cut(monkeypatch):
    assert read(" \n\n").lines == ()
    monkeypatch.setattr("impose.orders.roster_paste.MOST_LINES", 20)
    roster = read("\n".join(f"W{n}" for n in range(21)))
    assert (len(roster.lines), roster.cut) == (20, True)
    assert not read("\n".join(f"W{n}" for n in range(20))).cut
    assert len(read("x" * 900).lines[0].cells["name"]) == MOST_LETTERS


def test_only_a_table_has_a_heading():
    assert [read(text).heading for text in ("Ada 7", "Ada;7", "name;number\nAda;7", "M;7\nL;8", "")] == [
        False, False, True, False, False
    ]  # fmt: skip


@pytest.mark.parametrize(
    "line",
    [
        "5 x adult M", "5x adult M", "5 × adult M", "5× adult M", "5*adult M", "adult M x 5", "adult M x5",
        "adult M X5", "adult M × 5", "adult M*5", "5 pcs adult M", "adult M, 5 pieces", "adult M (5 pcs)",
        "qty 5 adult M", "adult M qty: 5", "- 5 x adult M", "• size adult M x 5", "adult M - x 5", "adult M; 5x",
    ],
)  # fmt: skip
def test_a_count_and_a_size_are_no_name(line):
    """The ways of writing a count and a size are common practice, no source."""
    roster = read(line)
    assert cells(roster) == [{"garment": "adult M", "copies": "5"}]
    assert (roster.asks, roster.lines[0].odd, roster.columns) == ((), (), ("garment", "copies"))


def test_a_count_stands_beside_name_and_number():
    for line in ("Ada 7 adult M x 2", "2 x Ada, 7, adult M", "Ada #7 (adult M) x2", "no. 7 Ada size adult M 2 pcs"):
        assert cells(read(line)) == [{"name": "Ada", "number": "7", "garment": "adult M", "copies": "2"}], line
    assert cells(read("Xavier Knox 2 x adult M")) == [{"name": "Xavier Knox", "garment": "adult M", "copies": "2"}]
    assert cells(read("5xM adult"))[0]["copies"] == "5"
    assert cells(read("12x adult L")) == [{"garment": "adult L", "copies": "12"}]


def test_a_count_in_a_table_is_taken_out_of_the_size():
    assert cells(read("Ada; adult M x 5\nBo; adult L")) == [
        {"name": "Ada", "garment": "adult M", "copies": "5"}, {"name": "Bo", "garment": "adult L"}
    ]  # fmt: skip
    assert cells(read("name;size;qty\nAda;youth M;2")) == [{"name": "Ada", "garment": "youth M", "copies": "2"}]
    assert cells(read("name;size\nAda;2 x youth M")) == [{"name": "Ada", "garment": "youth M", "copies": "2"}]
    assert cells(read("Ada 7, adult M\nBo 8, adult L"))[0] == {"name": "Ada", "number": "7", "garment": "adult M"}
    assert cells(read("Ada;adult M;x2\nBo;adult L;x3"))[1] == {"name": "Bo", "garment": "adult L", "copies": "3"}


def test_several_sizes_in_a_line_are_a_line_each():
    assert cells(read("2 x adult M, 3 x adult L and youth S x 1")) == [
        {"garment": "adult M", "copies": "2"}, {"garment": "adult L", "copies": "3"},
        {"garment": "youth S", "copies": "1"},
    ]  # fmt: skip
    assert [line.line for line in read("Ada 7 adult M\n\n2 x adult M + 3 x adult L").lines] == [1, 3, 3]


@pytest.mark.parametrize("line", ["5 adult M", "adult M 5", "adult M: 5", "adult M (5)", "adult M - 5", "adult M=5"])
def test_a_bare_number_beside_a_size_is_asked_about(line):
    """A team of numbers alone and a list of sizes are written alike (common practice, no source)."""
    (ask,) = read(line).asks
    assert (ask.id, [answer for answer, _ in ask.answers]) == ("number-or-copies", ["number", "copies"])
    assert cells(read(line)) == [{"garment": "adult M"}]
    assert cells(read(line, answers={"number-or-copies": "copies"})) == [{"garment": "adult M", "copies": "5"}]
    assert cells(read(line, answers={"number-or-copies@1": "number"})) == [{"garment": "adult M", "number": "5"}]
    assert cells(read(line, needed=["number"])) == [{"garment": "adult M", "number": "5"}]


def test_a_number_is_asked_about_where_the_kit_prints_none():
    assert [ask.id for ask in read("Ada 2 adult M", needed=["name"]).asks] == ["number-or-copies"]
    assert read("Ada 2 adult M", needed=["name", "number"]).asks == ()


def test_a_column_of_numbers_without_names_is_asked_about():
    assert [ask.id for ask in read("adult M;5\nadult L;3").asks] == ["column-2"]
    assert cells(read("adult M;5\nadult L;3", answers={"column-2": "copies"}))[0] == {
        "garment": "adult M", "copies": "5"
    }  # fmt: skip
    assert read("adult M;5\nadult L;3", needed=["number"]).asks == ()


def test_a_size_or_a_name_that_may_be_a_count_is_asked_about():
    assert [ask.id for ask in read("Ada 2x").asks] == ["size-or-copies"]
    assert cells(read("Ada 2x", answers={"size-or-copies": "copies"})) == [{"name": "Ada", "copies": "2"}]
    assert cells(read("Ada 2x", answers={"size-or-copies": "size"})) == [{"name": "Ada", "garment": "2x"}]
    assert [ask.id for ask in read("Malcolm X 7 adult M").asks] == ["name-or-copies"]
    named = read("Malcolm X 7 adult M", answers={"name-or-copies": "name"})
    assert cells(named) == [{"name": "Malcolm X", "number": "7", "garment": "adult M"}]


def test_a_numbered_list_is_asked_about():
    text = "1. Ada adult M\n2) Bo adult L"
    assert [ask.id for ask in read(text).asks] == ["list-number"]
    assert cells(read(text, answers={"list-number": "place"}))[1] == {"name": "Bo", "garment": "adult L"}
    assert cells(read("7. Ada adult M\n2. Bo adult L"))[0]["number"] == "7", "no list: the numbers do not run from 1"


def test_an_answer_that_is_none_is_asked_again():
    assert [ask.id for ask in read("Ada;Lovelace;7", answers={"column-1": "size"}).asks] == ["column-1", "column-2"]
    assert [ask.id for ask in read("5 adult M", answers={"number-or-copies": "both"}).asks] == ["number-or-copies"]


def test_what_may_be_meant_otherwise_is_said():
    assert "part of the name" in read("M7 Ada").lines[0].odd[0]
    assert "in figures" in read("two adult M").lines[0].odd[0]
    assert "says how many" in read("Name,Number\nBo x 2,12").lines[0].odd[0]
    assert read("Name;Email\nBo;bo@example.org").lines[0].odd == ("the column “Email” is left out",)
    assert "12 is left out" in read("Ada 7 12", answers={"number": "7"}).lines[0].odd
    assert "both say how many" in read("Ada x 2 adult M 3 pcs").lines[0].odd[0]
