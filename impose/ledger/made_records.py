"""What was made for whom: every record that was delivered, its prints by row, and what was made again and why.

A delivery is two steps around the one of the file system, as with paper (`impose.ledger.stock`): `begin_record` before
the folder takes its place, `finish_record` after it. A process that dies in between leaves an open entry; whoever
comes next looks whether the folder is there. No clock is read here.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence

from impose.ledger.store import LedgerPart
from impose.values import FrozenStruct

MADE_RECORDS = LedgerPart(
    "made",
    (
        (
            """CREATE TABLE made_record (
                number INTEGER PRIMARY KEY AUTOINCREMENT, state TEXT NOT NULL, at TEXT NOT NULL, record TEXT NOT NULL,
                place TEXT NOT NULL, code TEXT NOT NULL, batch TEXT NOT NULL, source TEXT NOT NULL,
                printer TEXT NOT NULL, transfers INTEGER NOT NULL, garments INTEGER NOT NULL
            ) STRICT""",
            "CREATE UNIQUE INDEX made_record_place ON made_record (record, place)",
            "CREATE INDEX made_record_at ON made_record (place)",
            """CREATE TABLE made_print (
                made INTEGER NOT NULL REFERENCES made_record (number), row INTEGER NOT NULL, kit_row INTEGER NOT NULL,
                order_name TEXT NOT NULL, wearer TEXT NOT NULL, garment TEXT NOT NULL, placement TEXT NOT NULL,
                art TEXT NOT NULL, width_mm REAL NOT NULL, height_mm REAL NOT NULL, paper TEXT NOT NULL,
                ids TEXT NOT NULL, folded TEXT NOT NULL
            ) STRICT""",
            "CREATE INDEX made_print_made ON made_print (made)",
            """CREATE TABLE made_again (
                made INTEGER NOT NULL REFERENCES made_record (number), source TEXT NOT NULL, transfer TEXT NOT NULL,
                placement TEXT NOT NULL, because TEXT NOT NULL
            ) STRICT""",
            "CREATE INDEX made_again_made ON made_again (made)",
            """CREATE TABLE made_blank (
                made INTEGER NOT NULL REFERENCES made_record (number), source TEXT NOT NULL, garment TEXT NOT NULL,
                wearer TEXT NOT NULL, because TEXT NOT NULL
            ) STRICT""",
            "CREATE INDEX made_blank_made ON made_blank (made)",
        ),
    ),
)


class MadeRecord(FrozenStruct):
    """A record that was delivered: the SHA-256 of its bytes, its folder, and of a reprint the record it comes from.

    `state` is open, made, or replaced: another delivery has taken its folder.
    """

    record: str
    place: str
    code: str
    batch: str
    source: str
    printer: str
    transfers: int
    garments: int
    at: str = ""
    state: str = "made"
    number: int = 0


class MadePrint(FrozenStruct):
    """A row's print: for whom, on what, where, how large as worn, and the transfers; `folded` is what is looked in."""

    row: int
    kit_row: int
    order: str
    wearer: str
    garment: str
    placement: str
    art: str
    width_mm: float
    height_mm: float
    paper: str
    ids: tuple[str, ...]
    folded: str


class MadeAgain(FrozenStruct):
    """A transfer made again, at no charge: of which record, where on the garment, and why."""

    source: str
    transfer: str
    placement: str
    because: str


class NewBlank(FrozenStruct):
    """A garment begun anew, at no charge: what it is, whose, and why."""

    source: str
    garment: str
    wearer: str
    because: str


class SpoiledCount(FrozenStruct):
    """How many prints of a placement were made again for a cause."""

    placement: str
    because: str
    prints: int


def begin_record(
    db: sqlite3.Connection,
    made: MadeRecord,
    prints: Iterable[MadePrint],
    again: Iterable[MadeAgain] = (),
    blanks: Iterable[NewBlank] = (),
) -> int:
    """Enter a delivery that is about to take its place, whole; its number. The same record at the same place stays."""
    row = db.execute(
        "SELECT number FROM made_record WHERE record = ? AND place = ?", (made.record, made.place)
    ).fetchone()
    if row is not None:
        return int(row["number"])
    number = db.execute(
        "INSERT INTO made_record (state, at, record, place, code, batch, source, printer, transfers, garments) "
        "VALUES ('open', ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (made.at, made.record, made.place, made.code, made.batch, made.source, made.printer, made.transfers,
         made.garments),
    ).lastrowid  # fmt: skip
    assert number is not None
    db.executemany(
        "INSERT INTO made_print VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            (number, p.row, p.kit_row, p.order, p.wearer, p.garment, p.placement, p.art, p.width_mm, p.height_mm,
             p.paper, json.dumps(p.ids), p.folded)
            for p in prints
        ),
    )  # fmt: skip
    db.executemany(
        "INSERT INTO made_again VALUES (?, ?, ?, ?, ?)",
        ((number, a.source, a.transfer, a.placement, a.because) for a in again),
    )
    db.executemany(
        "INSERT INTO made_blank VALUES (?, ?, ?, ?, ?)",
        ((number, b.source, b.garment, b.wearer, b.because) for b in blanks),
    )
    return number


def finish_record(db: sqlite3.Connection, number: int) -> None:
    """The folder is in its place: what lay there before is replaced."""
    db.execute("UPDATE made_record SET state = 'made' WHERE number = ?", (number,))
    db.execute(
        "UPDATE made_record SET state = 'replaced' WHERE state = 'made' AND number <> ?1 "
        "AND place = (SELECT place FROM made_record WHERE number = ?1)",
        (number,),
    )


def remove_open(db: sqlite3.Connection, number: int) -> None:
    """The folder never got to its place: nothing was made. What was made before stays."""
    if db.execute("SELECT 1 FROM made_record WHERE number = ? AND state = 'open'", (number,)).fetchone() is None:
        return
    for table in ("made_print", "made_again", "made_blank"):
        db.execute(f"DELETE FROM {table} WHERE made = ?", (number,))
    db.execute("DELETE FROM made_record WHERE number = ?", (number,))


def move_record(db: sqlite3.Connection, number: int, place: str) -> None:
    """A folder that is found somewhere else now."""
    db.execute("UPDATE made_record SET place = ?, state = 'made' WHERE number = ?", (place, number))


def list_records(db: sqlite3.Connection, state: str = "", record: str = "") -> list[MadeRecord]:
    """The entries of a state or a record, oldest first; without either all of them."""
    rows = db.execute(
        "SELECT * FROM made_record WHERE (?1 = '' OR state = ?1) AND (?2 = '' OR record = ?2) ORDER BY number",
        (state, record),
    ).fetchall()
    return [_read_record(row) for row in rows]


def find_prints(
    db: sqlite3.Connection, words: Sequence[str], code: str = "", ident: str = ""
) -> list[tuple[MadeRecord, MadePrint]]:
    """The prints in whose folded text every word stands, newest record first; of a batch code and a transfer's id."""
    clauses = ["instr(made_print.folded, ?) > 0" for _ in words]
    values: list[str] = list(words)
    if code:
        clauses.append("made_record.code = ?")
        values.append(code)
    if ident:
        clauses.append("instr(made_print.ids, ?) > 0")
        values.append(json.dumps(ident))
    where = " AND ".join(["made_record.state <> 'open'", *clauses])
    rows = db.execute(
        "SELECT made_print.*, made_print.made AS of_record FROM made_print "
        f"JOIN made_record ON made_record.number = made_print.made WHERE {where} "
        "ORDER BY made_record.number DESC, made_print.row, made_print.kit_row",
        values,
    ).fetchall()
    records = {made.number: made for made in list_records(db)}
    return [(records[row["of_record"]], _read_print(row)) for row in rows]


def count_spoiled(db: sqlite3.Connection, since: str = "") -> list[SpoiledCount]:
    """Prints made again by placement and cause, most first; from a day on (ISO 8601) where one is given."""
    rows = db.execute(
        "SELECT placement, because, count(*) AS prints FROM made_again JOIN made_record ON number = made "
        "WHERE state = 'made' AND at >= ? GROUP BY placement, because ORDER BY prints DESC, placement, because",
        (since,),
    ).fetchall()
    return [SpoiledCount(row["placement"], row["because"], row["prints"]) for row in rows]


def count_blanks(db: sqlite3.Connection, since: str = "") -> list[tuple[str, str, int]]:
    """Garments begun anew by what they are and cause, most first."""
    rows = db.execute(
        "SELECT garment, because, count(*) AS blanks FROM made_blank JOIN made_record ON number = made "
        "WHERE state = 'made' AND at >= ? GROUP BY garment, because ORDER BY blanks DESC, garment, because",
        (since,),
    ).fetchall()
    return [(row["garment"], row["because"], row["blanks"]) for row in rows]


def sum_made(db: sqlite3.Connection, since: str = "") -> tuple[int, int]:
    """Transfers and garments made for customers, those made again left out."""
    row = db.execute(
        "SELECT coalesce(sum(transfers), 0) AS transfers, coalesce(sum(garments), 0) AS garments FROM made_record "
        "WHERE state = 'made' AND source = '' AND at >= ?",
        (since,),
    ).fetchone()
    return row["transfers"], row["garments"]


def _read_record(row: sqlite3.Row) -> MadeRecord:
    return MadeRecord(
        row["record"], row["place"], row["code"], row["batch"], row["source"], row["printer"], row["transfers"],
        row["garments"], row["at"], row["state"], row["number"],
    )  # fmt: skip


def _read_print(row: sqlite3.Row) -> MadePrint:
    return MadePrint(
        row["row"], row["kit_row"], row["order_name"], row["wearer"], row["garment"], row["placement"], row["art"],
        row["width_mm"], row["height_mm"], row["paper"], tuple(json.loads(row["ids"])), row["folded"],
    )  # fmt: skip
