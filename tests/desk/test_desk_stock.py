"""The desk's paper: what is looked at before a folder is put in place, and what is drawn once it is written down."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from impose.desk.desk_stock import describe_shortage, list_returning_values, make_draw_step, read_paper_left
from impose.ledger import stock
from impose.ledger.drop_rows import DeskDelivery
from impose.ledger.stock import STOCK, PaperTake, StockDelivery
from impose.ledger.store import Ledger, open_ledger
from impose.run.paper_stock import ReturnedSheets

A4, A3, ROLL = "iso_a4_210x297mm", "iso_a3_297x420mm", "roll_x_610mm"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with open_ledger(tmp_path / "l.db", [STOCK]) as opened:
        with opened.begin_change() as db:
            stock.set_count(db, A4, 3, "now", "opened")
            stock.set_count(db, A3, 10, "now", "opened")
        yield opened


def deliver(*takes: tuple[str, int], coming: Any = (), **made: Any) -> DeskDelivery:
    listed = [[sheet, paper, amount] for sheet, (paper, amount) in enumerate(takes, 1)]
    return DeskDelivery(7, "owls", "owls", "made", {"takes": listed, "coming": coming, **made}, False, None)


def draw(ledger: Ledger, place: Path, delivery: DeskDelivery) -> None:
    with ledger.begin_change() as db:
        make_draw_step(place, lambda: 1_700_000_000.0)(db, delivery)


def print_before(ledger: Ledger, place: Path, sheets: int) -> ReturnedSheets:
    """A delivery of A4 of which the sheets 1 and 2 are never printed."""
    with ledger.begin_change() as db:
        entry = StockDelivery(str(place / "first"), "", "", "abc", "CWK8")
        takes = [PaperTake(sheet, A4, 1) for sheet in range(1, sheets + 1)]
        stock.finish_delivery(db, stock.begin_delivery(db, entry, takes, {}, "now"))
    return ReturnedSheets("abc", str(place / "first"), frozenset({1, 2}), elsewhere=True)


@pytest.mark.parametrize(
    ("takes", "short"),
    [
        ([(A4, 3)], ""),
        ([(A4, 1)] * 3, ""),
        ([(A4, 1)] * 4, A4),
        ([(A4, 3), (A3, 11)], A3),
        ([(A4, 4), (A3, 11)], f"{A3}, {A4}"),
        ([(ROLL, 10**9)], ""),  # never counted: not limited
        ([], ""),
    ],
)
def test_what_is_short_is_told_before_a_folder_is_put_in_place(ledger, takes, short) -> None:
    assert describe_shortage(ledger, deliver(*takes)) == short


def test_a_delivery_is_drawn_sheet_by_sheet_and_what_is_not_counted_is_passed_over(ledger, tmp_path) -> None:
    draw(ledger, tmp_path, deliver((A4, 1), (A4, 1), (A3, 2), (ROLL, 5), code="CWK8"))
    assert read_paper_left(ledger) == {A4: 1, A3: 8}
    with ledger.begin_read() as db:
        assert stock.list_open_deliveries(db) == []
        assert stock.list_drawn_sheets(db, 1) == [1, 2, 3]
        assert {move.batch for move in stock.list_deliveries_of(db, "", str(tmp_path / "owls"))} == {"CWK8"}


def test_paper_that_comes_back_counts_before_and_is_given_back_with_the_delivery(ledger, tmp_path) -> None:
    coming = list_returning_values([print_before(ledger, tmp_path, 3)])
    assert read_paper_left(ledger)[A4] == 0
    assert read_paper_left(ledger, coming) == {A4: 2, A3: 10}
    again = deliver((A4, 1), (A4, 1), coming=coming)
    assert describe_shortage(ledger, again) == ""
    assert describe_shortage(ledger, deliver((A4, 3), coming=coming)) == A4
    draw(ledger, tmp_path, again)
    assert read_paper_left(ledger)[A4] == 0
    assert read_paper_left(ledger, coming)[A4] == 0, "it comes back once"


@pytest.mark.parametrize("back", [False, True])
def test_a_count_lowered_after_the_last_look_still_has_every_sheet_drawn(ledger, tmp_path, back) -> None:
    """The sheets are there: of the paper that is short and of the others; the count shows that it was wrong."""
    coming = list_returning_values([print_before(ledger, tmp_path, 3)]) if back else []
    delivery = deliver((A4, 2), (A3, 4), coming=coming)
    assert describe_shortage(ledger, delivery) == ""
    with ledger.begin_change() as db:
        stock.change_count(db, A4, -2, "now", "waste", "torn")
    before = read_paper_left(ledger, coming)
    draw(ledger, tmp_path, delivery)
    assert read_paper_left(ledger) == {A4: before[A4] - 2, A3: 10 - 4}
    assert read_paper_left(ledger)[A4] < 0


def test_where_nothing_is_counted_nothing_is_written(tmp_path) -> None:
    with open_ledger(tmp_path / "l.db", [STOCK]) as ledger:
        draw(ledger, tmp_path, deliver((A4, 1)))
        with ledger.begin_read() as db:
            assert stock.list_movements(db) == []
            assert stock.list_deliveries_of(db, "") == []
