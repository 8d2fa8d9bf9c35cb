"""The history of a count: a line for whatever changed it, with what was left then; together they are the count."""

from __future__ import annotations

from pathlib import Path

import pytest

from impose.ledger import stock
from impose.ledger.stock import STOCK, PaperTake, StockDelivery
from impose.ledger.store import open_ledger

A4, A3 = "iso_a4_210x297mm", "iso_a3_297x420mm"


@pytest.fixture
def ledger(tmp_path: Path):
    with open_ledger(tmp_path / "l.db", [STOCK]) as opened:
        yield opened


def read_lines(ledger, paper: str | None = A4, last: int = 50) -> list[tuple]:
    with ledger.begin_read() as db:
        return [
            (one.at, one.change, one.left, one.kind, one.reason, one.delivery)
            for one in stock.list_movements(db, paper, last)
        ]


def deliver(db, name: str, takes: list[tuple[str, int]], returned=None, *, undo: bool = False) -> int:
    wanted = [PaperTake(sheet, paper, amount) for sheet, (paper, amount) in enumerate(takes, 1)]
    entry = StockDelivery(name, "part", "1", name, f"batch {name}")
    number = stock.begin_delivery(db, entry, wanted, returned or {}, name)
    if undo:
        stock.undo_delivery(db, number, f"{name} undone")
    else:
        stock.finish_delivery(db, number)
    return number


def test_each_change_is_a_line_with_when_how_much_why_and_what_was_left(ledger):
    with ledger.begin_change() as db:
        stock.set_count(db, A4, 20, "1", "opened")
        stock.set_count(db, A3, 5, "2", "another paper")
        stock.change_count(db, A4, 5, "3", "add", "bought")
        stock.change_count(db, A4, -2, "4", "waste", "torn")
        first = deliver(db, "5", [(A4, 1), (A4, 1), (A3, 1)])
        second = deliver(db, "6", [(A4, 3)], {first: [1, 2]})
        third = deliver(db, "7", [(A4, 4)], undo=True)
        stock.set_count(db, A4, 11, "8", "counted anew")
        stock.set_count(db, A4, 11, "9", "counted again")
        stock.stop_counting(db, A4, "10", "enough")
    assert read_lines(ledger) == [
        ("1", 20, 20, "set", "opened", None),
        ("3", 5, 25, "add", "bought", None),
        ("4", -2, 23, "waste", "torn", None),
        ("5", -2, 21, "made", "batch 5", first),
        ("6", 1, 22, "returned", "batch 6", second),
        ("6", 1, 23, "returned", "batch 6", second),
        ("6", -3, 20, "made", "batch 6", second),
        ("7", -4, 16, "made", "batch 7", third),
        ("7 undone", 4, 20, "undone", "", third),
        ("8", -9, 11, "set", "counted anew", None),
        ("9", 0, 11, "set", "counted again", None),
        ("10", -11, 0, "stop", "enough", None),
    ]
    assert [line[0] for line in read_lines(ledger, A3)] == ["2", "5"]
    assert len(read_lines(ledger, None)) == 14
    assert [line[0] for line in read_lines(ledger, A4, 2)] == ["9", "10"], "the last ones, oldest first"


def test_a_count_taken_by_hand_takes_in_what_was_drawn_and_not_printed(ledger):
    """Those sheets lay in the pile that was counted: they come back no second time, and those of another paper do."""
    with ledger.begin_change() as db:
        stock.set_count(db, A4, 20, "1", "opened")
        stock.set_count(db, A3, 20, "1", "opened")
        first = deliver(db, "2", [(A4, 1), (A3, 1)])
        stock.set_count(db, A4, 20, "3", "counted")
        deliver(db, "4", [], {first: [1, 2]})
        assert stock.read_counts(db) == {A4: 20, A3: 20}


@pytest.mark.parametrize("change", [lambda db: stock.change_count(db, A3, 1, "1", "add", ""),
                                    lambda db: stock.stop_counting(db, A3, "1", "")])  # fmt: skip
def test_a_paper_that_is_not_counted_is_not_changed(ledger, change):
    with ledger.begin_change() as db:
        stock.set_count(db, A4, 20, "1", "opened")
        with pytest.raises(KeyError):
            change(db)
    assert len(read_lines(ledger, None)) == 1
