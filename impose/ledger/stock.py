"""Paper left: counts set by hand, drawn down exactly once by deliveries, given back for sheets that are not printed.

A paper that was never counted is not limited. Amounts are whole sheets, or for a roll whole micrometres of its length.

A delivery is two steps of the ledger around one of the file system: `begin_delivery` draws the paper down for a
folder that is
built but not yet in place; then the folder is put in place; then `finish_delivery` closes the delivery. Both steps
are one
transaction each. A process that dies in between leaves an open delivery; whoever comes next asks the file system what
became of its folder and either closes it or takes it back (`finish_delivery`, `undo_delivery`). Whether the folder is
in place is the truth, and the count follows it.

A count may fall below nothing only when a delivery is taken back whose returned paper somebody has used meanwhile:
then the count was wrong, and showing that is better than hiding it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence

from impose.ledger.store import LedgerPart
from impose.values import FrozenStruct

STOCK = LedgerPart(
    "stock",
    (
        (
            "CREATE TABLE stock_paper (name TEXT PRIMARY KEY, left INTEGER NOT NULL) STRICT",
            """CREATE TABLE stock_delivery (
                number INTEGER PRIMARY KEY AUTOINCREMENT, state TEXT NOT NULL, at TEXT NOT NULL, place TEXT NOT NULL,
                part TEXT NOT NULL, identity TEXT NOT NULL, record TEXT NOT NULL, batch TEXT NOT NULL
            ) STRICT""",
            "CREATE INDEX stock_open ON stock_delivery (number) WHERE state = 'open'",
            "CREATE INDEX stock_record ON stock_delivery (record)",
            """CREATE TABLE stock_drawn (
                delivery INTEGER NOT NULL REFERENCES stock_delivery (number), sheet INTEGER NOT NULL,
                paper TEXT NOT NULL, amount INTEGER NOT NULL, returned_by INTEGER, PRIMARY KEY (delivery, sheet)
            ) STRICT""",
            "CREATE INDEX stock_returned ON stock_drawn (returned_by) WHERE returned_by IS NOT NULL",
            """CREATE TABLE stock_movement (
                number INTEGER PRIMARY KEY AUTOINCREMENT, at TEXT NOT NULL, paper TEXT NOT NULL,
                change INTEGER NOT NULL, left INTEGER NOT NULL, kind TEXT NOT NULL, reason TEXT NOT NULL,
                delivery INTEGER
            ) STRICT""",
        ),
    ),
)


class PaperTake(FrozenStruct):
    """The paper of one sheet of a batch: sheets count 1, a piece of roll its length in micrometres."""

    sheet: int
    paper: str
    amount: int


class StockMovement(FrozenStruct):
    """One line of the history, oldest first: what changed a count, and what was left then."""

    number: int
    at: str
    paper: str
    change: int
    left: int
    kind: str  # set, add, waste, stop, made, returned, undone
    reason: str
    delivery: int | None


class StockDelivery(FrozenStruct):
    """A folder on its way: `part` is where it was built, `identity` what the file system calls it in either place."""

    place: str
    part: str
    identity: str
    record: str  # the SHA-256 of its record's bytes
    batch: str
    number: int = 0


class PaperShortage(FrozenStruct):
    """A paper of which less is left than a delivery takes."""

    paper: str
    wanted: int
    left: int


class StockShort(Exception):
    """A delivery was not begun, because `short` of paper is left."""

    def __init__(self, short: Sequence[PaperShortage]) -> None:
        super().__init__(short)
        self.short = tuple(short)


def read_counts(db: sqlite3.Connection) -> dict[str, int]:
    """What is left of every counted paper, by its name of PWG 5101.1."""
    return {row["name"]: row["left"] for row in db.execute("SELECT name, left FROM stock_paper ORDER BY name")}


def set_count(db: sqlite3.Connection, paper: str, left: int, at: str, reason: str) -> None:
    """A count taken by hand; counting begins with it.

    Sheets drawn earlier and never printed lay in the pile that was counted, so they cannot come back a second time.
    """
    before = read_counts(db).get(paper, 0)
    db.execute("UPDATE stock_drawn SET returned_by = 0 WHERE paper = ? AND returned_by IS NULL", (paper,))
    db.execute(
        "INSERT INTO stock_paper VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET left = excluded.left", (paper, left)
    )
    _write_movement(db, at, paper, left - before, "set", reason, None)


def change_count(db: sqlite3.Connection, paper: str, change: int, at: str, kind: str, reason: str) -> None:
    """More or less of a counted paper: `add` for what was bought, `waste` for what was spoiled. KeyError if unknown."""
    if paper not in read_counts(db):
        raise KeyError(paper)
    _move_stock(db, at, paper, change, kind, reason, None)


def stop_counting(db: sqlite3.Connection, paper: str, at: str, reason: str) -> None:
    """From now on the paper is unlimited again. KeyError if it was not counted."""
    _move_stock(db, at, paper, -read_counts(db)[paper], "stop", reason, None)
    db.execute("DELETE FROM stock_paper WHERE name = ?", (paper,))


def begin_delivery(
    db: sqlite3.Connection,
    delivery: StockDelivery,
    takes: Iterable[PaperTake],
    returned: Mapping[int, Sequence[int]],
    at: str,
) -> int:
    """Draw a delivery's paper down, and give back that of earlier sheets (delivery number to sheet numbers).

    What was given back before is not given back again; papers that are not counted are passed over. Returns the
    delivery's number. Raises `StockShort`, and changes nothing, if too little is left.
    """
    left = read_counts(db)
    drawn = [take for take in takes if take.paper in left]
    back = _list_returnable(db, returned)
    _refuse_short(left, drawn, back)
    number = db.execute(
        "INSERT INTO stock_delivery (state, at, place, part, identity, record, batch) "
        "VALUES ('open', ?, ?, ?, ?, ?, ?)",
        (at, delivery.place, delivery.part, delivery.identity, delivery.record, delivery.batch),
    ).lastrowid
    assert number is not None
    for of, sheet, paper, amount in back:
        db.execute("UPDATE stock_drawn SET returned_by = ? WHERE delivery = ? AND sheet = ?", (number, of, sheet))
        _move_stock(db, at, paper, amount, "returned", delivery.batch, number)
    db.executemany(
        "INSERT INTO stock_drawn (delivery, sheet, paper, amount) VALUES (?, ?, ?, ?)",
        [(number, take.sheet, take.paper, take.amount) for take in drawn],
    )
    for paper, amount in _sum_by_paper((take.paper, take.amount) for take in drawn).items():
        _move_stock(db, at, paper, -amount, "made", delivery.batch, number)
    return number


def is_delivery_open(db: sqlite3.Connection, number: int) -> bool:
    """Whether a delivery still waits to be finished; another process may have taken it back."""
    return (
        db.execute("SELECT 1 FROM stock_delivery WHERE number = ? AND state = 'open'", (number,)).fetchone() is not None
    )


def finish_delivery(db: sqlite3.Connection, number: int) -> None:
    """The folder is in place: what was drawn stays drawn."""
    db.execute("UPDATE stock_delivery SET state = 'done' WHERE number = ? AND state = 'open'", (number,))


def undo_delivery(db: sqlite3.Connection, number: int, at: str) -> None:
    """The folder never got to its place: everything that `begin_delivery` moved is moved back. Nothing if it is
    not open.
    """
    if not is_delivery_open(db, number):
        return
    db.execute("UPDATE stock_delivery SET state = 'undone' WHERE number = ?", (number,))
    drawn = db.execute("SELECT paper, amount FROM stock_drawn WHERE delivery = ?", (number,)).fetchall()
    back = db.execute("SELECT paper, amount FROM stock_drawn WHERE returned_by = ?", (number,)).fetchall()
    db.execute("UPDATE stock_drawn SET returned_by = NULL WHERE returned_by = ?", (number,))
    db.execute("DELETE FROM stock_drawn WHERE delivery = ?", (number,))
    changes = [(row["paper"], row["amount"]) for row in drawn] + [(row["paper"], -row["amount"]) for row in back]
    for paper, change in _sum_by_paper(changes).items():
        _move_stock(db, at, paper, change, "undone", "", number)


def list_open_deliveries(db: sqlite3.Connection) -> list[StockDelivery]:
    """Deliveries whose process has not said what became of them, oldest first."""
    rows = db.execute("SELECT * FROM stock_delivery WHERE state = 'open' ORDER BY number").fetchall()
    return [_read_delivery(row) for row in rows]


def list_deliveries_of(db: sqlite3.Connection, record: str, place: str | None = None) -> list[StockDelivery]:
    """Finished deliveries of a record (the SHA-256 of its bytes), newest first; at one place if it is given."""
    rows = db.execute(
        "SELECT * FROM stock_delivery WHERE state = 'done' AND record = ?1 AND (?2 IS NULL OR place = ?2) "
        "ORDER BY number DESC",
        (record, place),
    ).fetchall()
    return [_read_delivery(row) for row in rows]


def list_drawn_sheets(db: sqlite3.Connection, number: int) -> list[int]:
    """The sheets of a delivery whose paper was drawn and has not come back."""
    rows = db.execute(
        "SELECT sheet FROM stock_drawn WHERE delivery = ? AND returned_by IS NULL ORDER BY sheet", (number,)
    ).fetchall()
    return [row["sheet"] for row in rows]


def sum_amounts(db: sqlite3.Connection, number: int, sheets: Sequence[int]) -> dict[str, int]:
    """The paper of some sheets of a delivery that has not come back yet."""
    return _sum_by_paper((paper, amount) for _, _, paper, amount in _list_returnable(db, {number: sheets}))


def list_movements(db: sqlite3.Connection, paper: str | None = None, last: int = 50) -> list[StockMovement]:
    """The last movements of one paper, or of all, oldest first."""
    rows = db.execute(
        "SELECT * FROM stock_movement WHERE ?1 IS NULL OR paper = ?1 ORDER BY number DESC LIMIT ?2", (paper, last)
    ).fetchall()
    return [StockMovement(**dict(row)) for row in reversed(rows)]


def _read_delivery(row: sqlite3.Row) -> StockDelivery:
    return StockDelivery(row["place"], row["part"], row["identity"], row["record"], row["batch"], row["number"])


def _list_returnable(db: sqlite3.Connection, returned: Mapping[int, Sequence[int]]) -> list[tuple[int, int, str, int]]:
    """Delivery, sheet, paper and amount of what can come back: drawn once, and not returned yet."""
    found = []
    for number, sheets in sorted(returned.items()):
        for sheet in sorted(set(sheets)):
            row = db.execute(
                "SELECT paper, amount FROM stock_drawn WHERE delivery = ? AND sheet = ? AND returned_by IS NULL",
                (number, sheet),
            ).fetchone()
            if row is not None:
                found.append((number, sheet, row["paper"], row["amount"]))
    return found


def _refuse_short(
    left: Mapping[str, int], drawn: Sequence[PaperTake], back: Sequence[tuple[int, int, str, int]]
) -> None:
    coming = _sum_by_paper((paper, amount) for _, _, paper, amount in back)
    wanted = _sum_by_paper((take.paper, take.amount) for take in drawn)
    short = [
        PaperShortage(paper, amount, left[paper] + coming.get(paper, 0))
        for paper, amount in wanted.items()
        if amount > left[paper] + coming.get(paper, 0)
    ]
    if short:
        raise StockShort(short)


def _sum_by_paper(amounts: Iterable[tuple[str, int]]) -> dict[str, int]:
    sums: dict[str, int] = {}
    for paper, amount in amounts:
        sums[paper] = sums.get(paper, 0) + amount
    return dict(sorted(sums.items()))


def _move_stock(
    db: sqlite3.Connection, at: str, paper: str, change: int, kind: str, reason: str, delivery: int | None
) -> None:
    """Change a count and write it into the history; a paper that is no longer counted stays so."""
    if db.execute("UPDATE stock_paper SET left = left + ? WHERE name = ?", (change, paper)).rowcount:
        _write_movement(db, at, paper, change, kind, reason, delivery)


def _write_movement(
    db: sqlite3.Connection, at: str, paper: str, change: int, kind: str, reason: str, delivery: int | None
) -> None:
    left = db.execute("SELECT left FROM stock_paper WHERE name = ?", (paper,)).fetchone()["left"]
    db.execute(
        "INSERT INTO stock_movement (at, paper, change, left, kind, reason, delivery) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (at, paper, change, left, kind, reason, delivery),
    )
