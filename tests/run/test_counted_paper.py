"""Paper counted by hand: amounts as people write them, what is left, and the history of one paper or of all."""

from __future__ import annotations

from pathlib import Path

import pytest

from impose.errors import Trouble
from impose.run import Options
from impose.run.load_batch import load_profiles_in_force
from impose.run.stock_counts import CountedStock

PROFILES = load_profiles_in_force(Options())
ROLL = next(paper.alias for paper in PROFILES.papers.values() if paper.is_roll)


@pytest.fixture
def shelf(tmp_path: Path) -> CountedStock:
    return CountedStock(tmp_path / "ledger.db", Options())


def test_what_is_bought_wasted_and_counted_adds_up_and_its_history_is_told_by_paper(shelf: CountedStock) -> None:
    shelf.change_count("a4", "set", " 40 ", "opened")
    shelf.change_count("a3", "set", "9", "found")
    shelf.change_count("A4", "add", "100", "bought")
    shelf.change_count("210x297mm", "waste", "3", "jam")
    assert {count.alias: (count.amount, count.unit) for count in shelf.list_counts()} == {
        "a4": (137, "sheets"),
        "a3": (9, "sheets"),
    }
    (count,) = shelf.list_counts("a4")
    assert (count.paper, count.alias, count.shown) == ("iso_a4_210x297mm", "a4", "137 sheets")
    told = [
        (line["paper"], line["change"], line["left"], line["kind"], line["reason"]) for line in shelf.list_history()
    ]
    assert told == [
        ("a4", "+40 sheets", "40 sheets", "set", "opened"), ("a3", "+9 sheets", "9 sheets", "set", "found"),
        ("a4", "+100 sheets", "140 sheets", "add", "bought"), ("a4", "-3 sheets", "137 sheets", "waste", "jam"),
    ]  # fmt: skip
    assert [line["paper"] for line in shelf.list_history("a3")] == ["a3"]
    assert [line["left"] for line in shelf.list_history("a4")] == ["40 sheets", "140 sheets", "137 sheets"]
    assert shelf.list_history("a5") == shelf.list_counts("a5") == []
    shelf.change_count("a4", "stop", "", "given away")
    assert [count.alias for count in shelf.list_counts()] == ["a3"]


@pytest.mark.parametrize(
    ("entered", "um"),
    [("12.5m", 12_500_000), ("12,5 m", 12_500_000), ("12500 mm", 12_500_000), ("0.000001 m", 1), ("0 mm", 0),
     ("100 in", 2_540_000), ("30m", 30_000_000)],
)  # fmt: skip
def test_a_roll_is_counted_by_its_length(shelf: CountedStock, entered: str, um: int) -> None:
    """An inch is 25.4 mm (NIST SP 811)."""
    shelf.change_count(ROLL, "set", entered, "")
    (count,) = shelf.list_counts(ROLL)
    assert (count.amount, count.unit) == (um, "um")


@pytest.mark.parametrize("entered", ["", "-1", "1.5", "many", "1 000", "٣", "10000001", "123456789"])
def test_sheets_are_whole_and_no_more_than_ten_million(shelf: CountedStock, entered: str) -> None:
    with pytest.raises(Trouble, match="the amount cannot be read"):
        shelf.change_count("a4", "set", entered, "")
    assert shelf.list_counts() == []
    shelf.change_count("a4", "set", "10000000", "")
    assert shelf.list_counts()[0].amount == 10_000_000


@pytest.mark.parametrize("entered", ["", "a lot", "-5 m", "5 sheets", "1.2.3 m"])
def test_a_roll_takes_no_other_amount(shelf: CountedStock, entered: str) -> None:
    with pytest.raises(Trouble, match="the amount cannot be read"):
        shelf.change_count(ROLL, "set", entered, "")


@pytest.mark.parametrize("how", ["add", "waste", "stop"])
def test_what_was_never_counted_is_counted_first(shelf: CountedStock, how: str) -> None:
    shelf.change_count("a3", "set", "5", "")
    with pytest.raises(Trouble, match="a4 is not counted yet"):
        shelf.change_count("a4", how, "5", "")
    assert [count.alias for count in shelf.list_counts()] == ["a3"]


@pytest.mark.parametrize(("paper", "all_left", "more", "told"), [
    ("a4", "50", "51", "51 sheets of a4 cannot be spoiled: 50 sheets left"),
    (ROLL, "12.5m", "12501 mm", f"of {ROLL} cannot be spoiled: 12.5"),
])  # fmt: skip
def test_no_more_is_spoiled_than_is_left(shelf: CountedStock, paper: str, all_left: str, more: str, told: str) -> None:
    shelf.change_count(paper, "set", all_left, "")
    with pytest.raises(Trouble, match=told):
        shelf.change_count(paper, "waste", more, "a slip")
    assert len(shelf.list_history(paper)) == 1
    shelf.change_count(paper, "waste", all_left, "all of it")
    assert [count.amount for count in shelf.list_counts(paper)] == [0]
    with pytest.raises(Trouble, match="cannot be spoiled"):
        shelf.change_count(paper, "waste", "1" if paper == "a4" else "1 mm", "")
