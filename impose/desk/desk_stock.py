"""The desk's paper: counted in the desk's own ledger, drawn down in the very transaction that writes a delivery down.

So it is drawn exactly once, whatever dies when. Papers that were never counted are not limited.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from impose.errors import Trouble
from impose.ledger import made_records, stock
from impose.ledger.drops import DeskDelivery
from impose.ledger.stock import PaperTake, StockShort
from impose.ledger.store import Ledger
from impose.run.made_content import begin_made, make_content_of
from impose.run.paper_stock import ReturnedSheets, group_returned_by_delivery, record_hash
from impose.run.record_file import read_record


def read_paper_left(ledger: Ledger, coming: Sequence[Any] = ()) -> dict[str, int]:
    """What is left of every counted paper, once what is `coming` is back: sheets, or micrometres of a roll."""
    with ledger.begin_read() as db:
        left = stock.read_counts(db)
        for number, sheets in group_returned_by_delivery(db, _read_returning(coming)).items():
            for paper, amount in stock.sum_amounts(db, number, sheets).items():
                if paper in left:
                    left[paper] += amount
        return left


def list_returning_values(returning: Sequence[ReturnedSheets]) -> list[Any]:
    """Sheets whose paper comes back, as plain values for the facts of a delivery."""
    return [[returned.record, returned.place, sorted(returned.sheets or ())] for returned in returning]


def _read_returning(values: Sequence[Any]) -> list[ReturnedSheets]:
    return [ReturnedSheets(str(r), place, frozenset(map(int, sheets)), elsewhere=True) for r, place, sheets in values]


def list_takes(delivery: DeskDelivery) -> list[PaperTake]:
    """The paper of a made delivery, as its facts tell it."""
    return [PaperTake(int(sheet), str(paper), int(amount)) for sheet, paper, amount in delivery.made.get("takes", [])]


def describe_shortage(ledger: Ledger, delivery: DeskDelivery) -> str:
    """The paper of which less is left than a delivery takes; "" if there is enough."""
    left = read_paper_left(ledger, delivery.made.get("coming", ()))
    for take in list_takes(delivery):
        if take.paper in left:
            left[take.paper] -= take.amount
    return ", ".join(sorted(paper for paper, amount in left.items() if amount < 0))


def make_draw_step(place: Path, wall: Callable[[], float]) -> Callable[[sqlite3.Connection, DeskDelivery], None]:
    """What is done beside writing a delivery down: it is entered as made, and its paper is drawn."""

    def beside(db: sqlite3.Connection, delivery: DeskDelivery) -> None:
        at = datetime.fromtimestamp(wall(), UTC).isoformat(timespec="seconds")
        if delivery.made.get("index"):
            _enter_made(db, place / delivery.name, at)
        wanted = list_takes(delivery)
        if not stock.read_counts(db) or not wanted:
            return
        folder = place / delivery.name
        entry = stock.StockDelivery(str(folder), "", "", record_hash(folder), str(delivery.made.get("code", "")))
        back = group_returned_by_delivery(db, _read_returning(delivery.made.get("coming", ())))
        try:
            stock.finish_delivery(db, stock.begin_delivery(db, entry, wanted, back, at))
        except StockShort as error:
            # The count was lowered by hand between the last look and now: the sheets are there, so they count.
            short = {shortage.paper: shortage.wanted for shortage in error.short}
            enough = [take for take in wanted if take.paper not in short]
            stock.finish_delivery(db, stock.begin_delivery(db, entry, enough, back, at))
            for paper, amount in short.items():
                stock.change_count(db, paper, -amount, at, "made", f"delivery {delivery.id}")

    return beside


def _enter_made(db: sqlite3.Connection, folder: Path, at: str) -> None:
    """Enter what lies in its place now; a folder that somebody has taken away meanwhile is not remembered."""
    try:
        source = read_record(folder)
    except Trouble:
        return
    made_records.finish_record(db, begin_made(db, make_content_of(source), source.sha256, folder, at))
