"""The desk's paper: counted in the desk's own ledger, drawn down in the very transaction that writes a delivery down.

So it is drawn exactly once, whatever dies when. Papers that were never counted are not limited.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from impose.ledger import stock
from impose.ledger.drops import Delivery
from impose.ledger.stock import StockShort, Take
from impose.ledger.store import Ledger
from impose.run.stock import Returning, record_hash, returned_by_delivery


def paper_left(ledger: Ledger, coming: Sequence[Any] = ()) -> dict[str, int]:
    """What is left of every counted paper, once what is `coming` is back: sheets, or micrometres of a roll."""
    with ledger.look() as db:
        left = stock.counts(db)
        for number, sheets in returned_by_delivery(db, _returning(coming)).items():
            for paper, amount in stock.amounts(db, number, sheets).items():
                if paper in left:
                    left[paper] += amount
        return left


def back_values(returning: Sequence[Returning]) -> list[Any]:
    """Sheets whose paper comes back, as plain values for the facts of a delivery."""
    return [[one.record, one.place, sorted(one.sheets or ())] for one in returning]


def _returning(values: Sequence[Any]) -> list[Returning]:
    return [Returning(str(r), place, frozenset(map(int, sheets)), elsewhere=True) for r, place, sheets in values]


def takes(delivery: Delivery) -> list[Take]:
    """The paper of a made delivery, as its facts tell it."""
    return [Take(int(sheet), str(paper), int(amount)) for sheet, paper, amount in delivery.made.get("takes", [])]


def short_of(ledger: Ledger, delivery: Delivery) -> str:
    """The paper of which less is left than a delivery takes; "" if there is enough."""
    left = paper_left(ledger, delivery.made.get("coming", ()))
    for take in takes(delivery):
        if take.paper in left:
            left[take.paper] -= take.amount
    return ", ".join(sorted(paper for paper, amount in left.items() if amount < 0))


def draw(place: Path, wall: Callable[[], float]) -> Callable[[sqlite3.Connection, Delivery], None]:
    """What is done beside writing a delivery down: its paper is drawn, into the history as for any other output."""

    def beside(db: sqlite3.Connection, delivery: Delivery) -> None:
        wanted = takes(delivery)
        if not stock.counts(db) or not wanted:
            return
        at = datetime.fromtimestamp(wall(), UTC).isoformat(timespec="seconds")
        folder = place / delivery.name
        one = stock.Delivery(str(folder), "", "", record_hash(folder), str(delivery.made.get("code", "")))
        back = returned_by_delivery(db, _returning(delivery.made.get("coming", ())))
        try:
            stock.finish(db, stock.begin(db, one, wanted, back, at))
        except StockShort as error:
            stock.finish(db, stock.begin(db, one, (), back, at))
            # The count was lowered by hand between the last look and now: the sheets are there, so they count.
            for short in error.short:
                stock.change_count(db, short.paper, -short.wanted, at, "made", f"delivery {delivery.id}")

    return beside
