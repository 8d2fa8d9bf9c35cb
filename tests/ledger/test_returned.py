"""Paper that comes back can be used by the very delivery that brings it back, and comes back once."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from impose.ledger import stock
from impose.ledger.stock import STOCK, PaperTake, StockDelivery, StockShort
from impose.ledger.store import open_ledger

PAPER = "iso_a4_210x297mm"


def _begin(ledger, takes: list[int], returned: dict[int, list[int]] | None = None, name: str = "out") -> int:
    """A delivery of sheets that take so much each; opened and closed."""
    with ledger.begin_change() as db:
        wanted = [PaperTake(sheet, PAPER, amount) for sheet, amount in enumerate(takes, 1)]
        number = stock.begin_delivery(db, StockDelivery(name, "part", "1", name, name), wanted, returned or {}, "now")
        stock.finish_delivery(db, number)
    return number


def _left(ledger) -> int:
    with ledger.begin_read() as db:
        return stock.read_counts(db)[PAPER]


@pytest.fixture
def ledger(tmp_path: Path):
    with open_ledger(tmp_path / "l.db", [STOCK]) as opened:
        with opened.begin_change() as db:
            stock.set_count(db, PAPER, 3, "now", "opened")
        yield opened


def test_the_last_sheets_come_back_and_are_printed_again(ledger) -> None:
    """Three sheets, all drawn: a reprint that brings two back may take two, though none is left."""
    first = _begin(ledger, [1, 1, 1])
    assert _left(ledger) == 0
    _begin(ledger, [1, 1], {first: [1, 2]}, "again")
    assert _left(ledger) == 0
    with ledger.begin_read() as db:
        assert stock.list_drawn_sheets(db, first) == [3]


@pytest.mark.parametrize(("takes", "left"), [([1], 1), ([1, 1], 0)])
def test_what_comes_back_beyond_what_is_taken_is_left(ledger, takes: list[int], left: int) -> None:
    first = _begin(ledger, [1, 1, 1])
    _begin(ledger, takes, {first: [1, 3]}, "again")
    assert _left(ledger) == left


def test_one_sheet_more_than_comes_back_is_refused_and_moves_nothing(ledger) -> None:
    first = _begin(ledger, [1, 1, 1])
    with pytest.raises(StockShort) as caught:
        _begin(ledger, [1, 1, 1], {first: [1, 2]}, "again")
    (short,) = caught.value.short
    assert (short.paper, short.wanted, short.left) == (PAPER, 3, 2)
    assert _left(ledger) == 0
    with ledger.begin_read() as db:
        assert stock.list_drawn_sheets(db, first) == [1, 2, 3]


def test_a_sheet_comes_back_once(ledger) -> None:
    first = _begin(ledger, [1, 1, 1])
    _begin(ledger, [], {first: [1]}, "again")
    _begin(ledger, [], {first: [1, 1]}, "and again")
    assert _left(ledger) == 1


def test_a_delivery_that_was_taken_back_is_open_no_more_and_is_taken_back_once(ledger) -> None:
    with ledger.begin_change() as db:
        number = stock.begin_delivery(
            db, StockDelivery("out", "part", "1", "out", "out"), [PaperTake(1, PAPER, 2)], {}, "now"
        )
        assert [delivery.number for delivery in stock.list_open_deliveries(db)] == [number]
        stock.undo_delivery(db, number, "later")
        assert not stock.is_delivery_open(db, number)
        assert stock.list_open_deliveries(db) == []
        moved = stock.list_movements(db)
        stock.undo_delivery(db, number, "later")
        stock.finish_delivery(db, number)
        assert stock.list_deliveries_of(db, "out") == []
        assert stock.list_movements(db) == moved
    assert _left(ledger) == 3


def test_a_ledger_that_was_closed_holds_its_file_no_longer(tmp_path: Path) -> None:
    with open_ledger(tmp_path / "l.db", [STOCK]) as opened:
        pass
    with pytest.raises(sqlite3.ProgrammingError), opened.begin_read() as db:
        db.execute("SELECT 1")


def test_what_is_short_is_told_with_what_is_wanted_and_left(ledger) -> None:
    first = _begin(ledger, [1, 1])
    with pytest.raises(StockShort) as told:
        _begin(ledger, [2, 2], {first: [1]})
    assert told.value.short == (stock.PaperShortage(PAPER, 4, 2),)
    with pytest.raises(StockShort) as told:
        _begin(ledger, [2])
    assert told.value.short == (stock.PaperShortage(PAPER, 2, 1),)
    assert _left(ledger) == 1


def test_a_paper_that_is_no_longer_counted_is_unlimited_and_its_history_stays(ledger) -> None:
    with ledger.begin_change() as db:
        stock.stop_counting(db, PAPER, "later", "sold")
        assert stock.read_counts(db) == {}
        last = stock.list_movements(db)[-1]
        assert (last.change, last.left, last.reason) == (-3, 0, "sold")
        for change in (
            lambda: stock.stop_counting(db, PAPER, "x", ""),
            lambda: stock.change_count(db, PAPER, 1, "x", "add", ""),
        ):
            with pytest.raises(KeyError):
                change()
    _begin(ledger, [9])
