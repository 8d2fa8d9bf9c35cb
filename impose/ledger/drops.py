"""What the desk has taken and what became of it: the tables behind `impose watch`.

A drop goes from `claiming` (written before its files are moved) over `waiting` and `making` to `delivered`, or over
`refusing` to `refused`. A delivery goes from `making` over `made` (whole, in the work folder; `asking` while a person
is to accept its warnings) to `delivered`, and is `closed` when the originals are away and the printer has its PDFs.
Every method is one transaction. Paths are kept as the system's own bytes, since not every name is text.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from impose.ledger.drop_rows import (
    DROPS,
    OPEN_DELIVERIES,
    DeskDelivery,
    Drop,
    HeldFile,
    PrintJob,
    WantedDrop,
    decode_path,
    encode_path,
    read_delivery_row,
    read_drop_row,
)
from impose.ledger.store import Ledger

__all__ = ["DROPS", "OPEN_DELIVERIES", "DeskDelivery", "Drop", "DropLedger", "HeldFile", "PrintJob", "WantedDrop"]


class DropLedger:
    """The desk's part of a ledger, one transaction a method."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger

    def read_fact(self, name: str) -> str | None:
        """A fact about the desk itself, such as its identity."""
        with self.ledger.begin_read() as db:
            row = db.execute("SELECT value FROM desk_fact WHERE name = ?", (name,)).fetchone()
        return None if row is None else str(row[0])

    def write_fact(self, name: str, value: str) -> None:
        """Write or replace a fact."""
        with self.ledger.begin_change() as db:
            db.execute("INSERT OR REPLACE INTO desk_fact VALUES (?, ?)", (name, value))

    def begin_claims(self, wanted: Sequence[WantedDrop], now: float) -> list[int]:
        """Write the lines of drops about to be moved; their numbers."""
        numbers = []
        with self.ledger.begin_change() as db:
            for drop in wanted:
                row = db.execute(
                    "INSERT INTO drops (path, kind, state, wish, grouping, why, claimed_at)"
                    " VALUES (?, ?, 'claiming', ?, ?, ?, ?)",
                    (encode_path(drop.path), drop.kind, json.dumps(drop.wish), drop.grouping, drop.why, now),
                )
                number = int(row.lastrowid or 0)
                numbers.append(number)
                db.executemany(
                    "INSERT INTO drop_files VALUES (?, ?, ?, ?, ?, ?)",
                    [
                        (number, encode_path(f.source), encode_path(f.name), f.copied, f.size, f.mtime_ns)
                        for f in drop.files
                    ],
                )
        return numbers

    def close_claims(self, hashes: Mapping[int, tuple[str, str]]) -> None:
        """Close claims: number → (hash of the content, hash of content and wish). Fixed from here on."""
        with self.ledger.begin_change() as db:
            for number, (sha256, same) in hashes.items():
                db.execute(
                    "UPDATE drops SET state = 'waiting', sha256 = ?, same = ? WHERE id = ? AND state = 'claiming'",
                    (sha256, same, number),
                )

    def reopen_claim(self, number: int) -> None:
        """A claim that is to be made once more."""
        with self.ledger.begin_change() as db:
            db.execute("UPDATE drops SET state = 'claiming' WHERE id = ? AND state = 'waiting'", (number,))

    def void_claim(self, number: int) -> None:
        """Take back a claim whose files are all where they were."""
        with self.ledger.begin_change() as db:
            db.execute("DELETE FROM drops WHERE id = ? AND state = 'claiming'", (number,))

    def begin_refusal(self, number: int, why: str, target: str) -> None:
        """Decide a refusal: why, and under which name it goes to the refused."""
        with self.ledger.begin_change() as db:
            db.execute(
                "UPDATE drops SET state = 'refusing', why = ?, target = ?, delivery = NULL WHERE id = ?",
                (why, encode_path(target), number),
            )

    def close_refusal(self, number: int, now: float) -> None:
        """The refusal is done: the files and the reason lie among the refused."""
        with self.ledger.begin_change() as db:
            db.execute("UPDATE drops SET state = 'refused', closed_at = ? WHERE id = ?", (now, number))

    def count_try(self, numbers: Iterable[int]) -> None:
        """Count a try in which the drop itself failed."""
        with self.ledger.begin_change() as db:
            db.executemany("UPDATE drops SET tries = tries + 1 WHERE id = ?", [(n,) for n in numbers])

    def separate_drops(self, numbers: Iterable[int]) -> None:
        """From now on these are made each in a delivery of its own, so that a fault names its file."""
        with self.ledger.begin_change() as db:
            db.executemany("UPDATE drops SET alone = 1 WHERE id = ?", [(n,) for n in numbers])

    def list_drops(self, *states: str, limit: int = -1) -> list[Drop]:
        """Drops in these states, oldest first."""
        marks = ",".join("?" * len(states))
        with self.ledger.begin_read() as db:
            rows = db.execute(
                f"SELECT * FROM drops WHERE state IN ({marks}) ORDER BY id LIMIT ?",
                (*states, limit),
            ).fetchall()
        return [read_drop_row(row) for row in rows]

    def read_drop(self, number: int) -> Drop:
        """One drop by its number."""
        with self.ledger.begin_read() as db:
            return read_drop_row(db.execute("SELECT * FROM drops WHERE id = ?", (number,)).fetchone())

    def list_newest(self, state: str, limit: int) -> list[Drop]:
        """The last drops that came into a state, newest first."""
        with self.ledger.begin_read() as db:
            rows = db.execute("SELECT * FROM drops WHERE state = ? ORDER BY id DESC LIMIT ?", (state, limit)).fetchall()
        return [read_drop_row(row) for row in rows]

    def has_drop(self, number: int) -> bool:
        """Whether a drop of this number has a line."""
        with self.ledger.begin_read() as db:
            return db.execute("SELECT 1 FROM drops WHERE id = ?", (number,)).fetchone() is not None

    def list_delivery_drops(self, delivery: int) -> list[Drop]:
        """The drops of a delivery, oldest first."""
        with self.ledger.begin_read() as db:
            rows = db.execute("SELECT * FROM drops WHERE delivery = ? ORDER BY id", (delivery,)).fetchall()
        return [read_drop_row(row) for row in rows]

    def list_files(self, number: int) -> list[HeldFile]:
        """The files of a drop, in the order they are moved: as written, so a CSV after its artwork."""
        with self.ledger.begin_read() as db:
            rows = db.execute("SELECT * FROM drop_files WHERE drop_id = ? ORDER BY rowid", (number,)).fetchall()
        return [
            HeldFile(decode_path(r["source"]), decode_path(r["name"]), bool(r["copied"]), r["size"], r["mtime_ns"])
            for r in rows
        ]

    def count_drops(self, state: str) -> int:
        """How many drops are in a state."""
        with self.ledger.begin_read() as db:
            return int(db.execute("SELECT count(*) FROM drops WHERE state = ?", (state,)).fetchone()[0])

    def find_earlier(self, drop: Drop) -> tuple[int, str, bool] | None:
        """The last earlier delivery of the same content: its number, its name, and whether the wish was the same."""
        with self.ledger.begin_read() as db:
            row = db.execute(
                "SELECT deliveries.id, deliveries.name, drops.same = ? FROM drops"
                " JOIN deliveries ON deliveries.id = drops.delivery"
                " WHERE drops.sha256 = ? AND drops.state = 'delivered' AND drops.id < ?"
                " ORDER BY drops.same = ? DESC, drops.id DESC LIMIT 1",
                (drop.same, drop.sha256, drop.id, drop.same),
            ).fetchone()
        return None if row is None else (int(row[0]), str(row[1]), bool(row[2]))

    def begin_delivery(self, numbers: Sequence[int], name: str, done: str, now: float) -> int:
        """Bind waiting drops to a new delivery; its number."""
        with self.ledger.begin_change() as db:
            row = db.execute(
                "INSERT INTO deliveries (name, done, state, begun_at) VALUES (?, ?, 'making', ?)", (name, done, now)
            )
            number = int(row.lastrowid or 0)
            db.executemany(
                "UPDATE drops SET state = 'making', delivery = ? WHERE id = ? AND state = 'waiting'",
                [(number, drop) for drop in numbers],
            )
        return number

    def release_delivery(self, delivery: int) -> None:
        """A delivery that will not be: its drops wait again."""
        with self.ledger.begin_change() as db:
            db.execute("UPDATE drops SET state = 'waiting', delivery = NULL WHERE delivery = ?", (delivery,))
            db.execute("DELETE FROM deliveries WHERE id = ?", (delivery,))

    def record_made(self, delivery: int, facts: Mapping[str, Any], asking: bool) -> None:
        """The delivery lies whole in the work folder."""
        with self.ledger.begin_change() as db:
            db.execute(
                "UPDATE deliveries SET state = ?, made = ? WHERE id = ?",
                ("asking" if asking else "made", json.dumps(facts, sort_keys=True), delivery),
            )

    def accept_warnings(self, delivery: int) -> bool:
        """Let a delivery with warnings go; False if none of this number is asking."""
        with self.ledger.begin_change() as db:
            row = db.execute(
                "UPDATE deliveries SET state = 'made', accepted = 1 WHERE id = ? AND state = 'asking'", (delivery,)
            )
        return row.rowcount > 0

    def rename_delivery(self, delivery: int, name: str) -> None:
        """Another name for the delivery's folder, because the first was taken meanwhile."""
        with self.ledger.begin_change() as db:
            db.execute("UPDATE deliveries SET name = ? WHERE id = ?", (name, delivery))

    def record_delivered(
        self,
        delivery: int,
        prints: Sequence[PrintJob],
        call: bool,
        now: float,
        beside: Callable[[sqlite3.Connection], object] | None = None,
    ) -> None:
        """The delivery stands in its place; what follows from it is decided with it, `beside` included."""
        with self.ledger.begin_change() as db:
            done = db.execute(
                "UPDATE deliveries SET state = 'delivered', delivered_at = ? WHERE id = ? AND state = 'made'",
                (now, delivery),
            )
            if done.rowcount == 0:
                return
            db.execute("UPDATE drops SET state = 'delivered', closed_at = ? WHERE delivery = ?", (now, delivery))
            db.executemany(
                "INSERT INTO prints VALUES (?, ?, ?, ?, ?)",
                [(p.delivery, p.file, p.paper, p.name, p.state) for p in prints],
            )
            if call:
                db.execute("INSERT INTO calls (delivery, state) VALUES (?, 'due')", (delivery,))
            if beside is not None:
                beside(db)

    def close_delivery(self, delivery: int) -> None:
        """Nothing is left to do for a delivery but its command."""
        with self.ledger.begin_change() as db:
            db.execute("UPDATE deliveries SET state = 'closed' WHERE id = ?", (delivery,))

    def forget_closed(self, before: float, most: int = 2_000) -> None:
        """Forget what was closed before a time, the oldest `most` of it."""
        with self.ledger.begin_change() as db:
            rows = db.execute(
                "SELECT id, state, closed_at, delivery FROM drops ORDER BY id LIMIT ?", (most,)
            ).fetchall()
            old = [r for r in rows if r["state"] in ("delivered", "refused") and (r["closed_at"] or before) < before]
            db.executemany("DELETE FROM drops WHERE id = ?", [(r["id"],) for r in old])
            db.executemany(
                "DELETE FROM deliveries WHERE id = ? AND state = 'closed'"
                " AND NOT EXISTS (SELECT 1 FROM drops WHERE delivery = deliveries.id)"
                " AND NOT EXISTS (SELECT 1 FROM calls WHERE delivery = deliveries.id AND state = 'due')",
                [(number,) for number in {r["delivery"] for r in old if r["delivery"]}],
            )

    def list_deliveries(self, *states: str, limit: int = -1, newest: bool = False) -> list[DeskDelivery]:
        """Deliveries in these states, oldest first unless `newest`."""
        marks = ",".join("?" * len(states))
        order = "DESC" if newest else "ASC"
        with self.ledger.begin_read() as db:
            rows = db.execute(
                f"SELECT * FROM deliveries WHERE state IN ({marks}) ORDER BY id {order} LIMIT ?",
                (*states, limit),
            ).fetchall()
        return [read_delivery_row(row) for row in rows]

    def read_delivery(self, number: int) -> DeskDelivery | None:
        """One delivery by its number."""
        with self.ledger.begin_read() as db:
            row = db.execute("SELECT * FROM deliveries WHERE id = ?", (number,)).fetchone()
        return None if row is None else read_delivery_row(row)

    def name_is_bound(self, name: str) -> bool:
        """Whether an unfinished delivery has this name already, for its sheets or its originals."""
        with self.ledger.begin_read() as db:
            row = db.execute(
                "SELECT 1 FROM deliveries WHERE state IN ('making', 'made', 'asking', 'delivered')"
                " AND (name = ? OR done = ?)",
                (name, name),
            ).fetchone()
        return row is not None

    def list_prints(self, delivery: int) -> list[PrintJob]:
        """The PDFs of a delivery that are not printed yet."""
        with self.ledger.begin_read() as db:
            rows = db.execute(
                "SELECT * FROM prints WHERE delivery = ? AND state != 'printed' ORDER BY file", (delivery,)
            ).fetchall()
        return [PrintJob(*row) for row in rows]

    def set_print(self, job: PrintJob, state: str) -> None:
        """Where a PDF is on its way."""
        with self.ledger.begin_change() as db:
            db.execute("UPDATE prints SET state = ? WHERE delivery = ? AND file = ?", (state, job.delivery, job.file))

    def list_commands(self, given_up: bool = False) -> list[tuple[int, int, str]]:
        """Commands that are due (or were `given_up`): delivery, tries so far, what went wrong last."""
        with self.ledger.begin_read() as db:
            rows = db.execute(
                "SELECT delivery, tries, why FROM calls WHERE state IN ('due', ?) ORDER BY delivery",
                ("given up" if given_up else "due",),
            ).fetchall()
        return [(int(r[0]), int(r[1]), str(r[2])) for r in rows]

    def record_command(self, delivery: int, state: str, why: str = "") -> None:
        """How a command ended: `done`, `due` again with what went wrong, or `given up`."""
        with self.ledger.begin_change() as db:
            db.execute(
                "UPDATE calls SET state = ?, why = ?, tries = tries + 1 WHERE delivery = ?", (state, why, delivery)
            )
