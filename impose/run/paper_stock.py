"""Paper counted in the ledger while folders are delivered: drawn down exactly once, whatever is killed in between.

The ledger is told before the last renaming and after it (see `impose.ledger.stock`). What a dead process left open is
settled by whoever opens the ledger next, by looking where the folder is: its inode number, which a renaming keeps,
says which folder it is; where a file system has none that lasts, its place and its record do.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from impose import files
from impose.errors import Exit, Finding, Trouble
from impose.ledger import stock
from impose.ledger.stock import STOCK, PaperShortage, PaperTake, StockDelivery, StockShort
from impose.ledger.store import Ledger, open_ledger
from impose.remedies import Remedy
from impose.run.paper_amounts import format_paper_amount
from impose.units import to_um_up
from impose.values import FrozenStruct, field, replace

if TYPE_CHECKING:
    from impose.sheet.layout import BatchLayout

TRIES = 20


def tell_utc_time() -> str:
    """The time as the ledger writes it."""
    return datetime.now(UTC).isoformat(timespec="seconds")


class ReturnedSheets(FrozenStruct):
    """Sheets whose paper comes back with a delivery: of the record with this SHA-256, all sheets or these.

    `place` narrows it to one of several deliveries of the same record; `elsewhere` takes any if none went there, for a
    folder that was moved. `exchanged` means whatever lies at the place when the new folder takes it: another process
    may have put its own there since the record was looked at.
    """

    record: str
    place: str | None = None
    sheets: frozenset[int] | None = None
    elsewhere: bool = False
    exchanged: bool = False

    def read_again(self) -> ReturnedSheets:
        """The same for what lies at its place by now."""
        return replace(self, record=record_hash(Path(self.place))) if self.exchanged and self.place else self


class PaperStock(FrozenStruct):
    """The paper of one ledger. A ledger that does not exist counts nothing, and is made by the first count alone."""

    path: Path
    now: Callable[[], str] = field(default=tell_utc_time)

    def read_left(self, returning: Sequence[ReturnedSheets] = (), below_nothing: bool = False) -> dict[str, int]:
        """What is left of every counted paper, once what is `returning` has come back.

        A wrong count can fall below nothing (see `impose.ledger.stock`); that is shown only if asked for.
        """
        if not self.path.exists():
            return {}
        with self._open_ledger() as ledger, ledger.begin_read() as db:
            counts = stock.read_counts(db)
            for number, sheets in group_returned_by_delivery(db, returning).items():
                for paper, amount in stock.sum_amounts(db, number, sheets).items():
                    if paper in counts:
                        counts[paper] += amount
        return counts if below_nothing else {paper: max(0, left) for paper, left in counts.items()}

    def change_counts(self, work: Callable[[sqlite3.Connection, str], None], first: bool = False) -> dict[str, int]:
        """Let `work` change counts in one transaction, told the time; returns what is left.

        Only the `first` count may make the ledger's file.
        """
        if not first and not self.path.exists():
            raise KeyError("nothing is counted")
        with self._open_ledger() as ledger:
            with ledger.begin_change() as db:
                work(db, self.now())
            with ledger.begin_read() as db:
                return stock.read_counts(db)

    def list_movements(self, paper: str | None = None) -> list[stock.StockMovement]:
        """The last movements, oldest first."""
        if not self.path.exists():
            return []
        with self._open_ledger() as ledger, ledger.begin_read() as db:
            return stock.list_movements(db, paper)

    def make_deliver_step(
        self, takes: Collection[PaperTake], place: Path, batch: str, returning: Sequence[ReturnedSheets] = ()
    ) -> files.Deliver:
        """The last step of an output folder (see `files.write_new_folder`), with its paper drawn down."""
        if not self.path.exists():
            return files.deliver_only

        def deliver(part: Path, put: Callable[[], None]) -> None:
            delivery = StockDelivery(
                str(place.absolute()), str(part.absolute()), _read_inode(part), record_hash(part), batch
            )
            with self._open_ledger() as ledger:
                if read_stock_counts(ledger):
                    _deliver_folder(ledger, delivery, takes, returning, put, self.now())
                else:
                    put()

        return deliver

    def _open_ledger(self) -> Ledger:
        """The ledger, with everything settled that dead processes left open."""
        ledger = open_ledger(self.path, [STOCK])
        try:
            with ledger.begin_read() as db:
                unsettled = bool(stock.list_open_deliveries(db))
            if unsettled:
                with ledger.begin_change() as db:
                    settle_open_deliveries(db, self.now())
        except BaseException:
            ledger.close()
            raise
        return ledger


def read_stock_counts(ledger: Ledger) -> dict[str, int]:
    """What is left by an open ledger."""
    with ledger.begin_read() as db:
        return stock.read_counts(db)


def settle_open_deliveries(db: sqlite3.Connection, at: str) -> None:
    """Close every open delivery whose folder is in place, and take back every other."""
    for delivery in stock.list_open_deliveries(db):
        if has_arrived(delivery):
            stock.finish_delivery(db, delivery.number)
        else:
            stock.undo_delivery(db, delivery.number, at)


def has_arrived(delivery: StockDelivery) -> bool:
    """Whether a delivery's folder is in its place, by what the file system says now.

    A folder that is neither where it was built nor in its place was delivered and has been moved since: nothing but
    the delivery takes it from where it was built.
    """
    place, part = Path(delivery.place), Path(delivery.part)
    if _read_inode(place) == delivery.identity:
        return True
    if _read_inode(part) == delivery.identity:
        return False
    return not part.exists() or record_hash(place) == delivery.record


def list_takes(layout: BatchLayout) -> list[PaperTake]:
    """The paper of every sheet: one sheet, or for a piece of roll its length in micrometres."""
    return [
        PaperTake(sheet.number, sheet.paper.name, to_um_up(sheet.height_mm) if sheet.paper.is_roll else 1)
        for sheet in layout.sheets
    ]


def list_replaced(out: Path) -> list[ReturnedSheets]:
    """What comes back when the output folder at `out` is replaced: the paper of the sheets that lay there."""
    record = record_hash(out)
    return [ReturnedSheets(record, str(out.absolute()), exchanged=True)] if record else []


def record_hash(folder: Path) -> str:
    """The SHA-256 of the record in an output folder; empty if there is none."""
    try:
        return hashlib.sha256((folder / files.RECORD_NAME).read_bytes()).hexdigest()
    except OSError:
        return ""


def _deliver_folder(
    ledger: Ledger,
    delivery: StockDelivery,
    takes: Collection[PaperTake],
    returning: Sequence[ReturnedSheets],
    put: Callable[[], None],
    at: str,
) -> None:
    for _ in range(TRIES):
        placed = False
        try:
            number, coming = _begin_delivery(ledger, delivery, takes, returning, at)
            with ledger.begin_change() as db:
                # Between the two transactions another process may have taken us for dead and undone it all.
                if not stock.is_delivery_open(db, number):
                    continue
                if coming != [returned.read_again() for returned in returning]:
                    stock.undo_delivery(db, number, at)  # another folder lies there now: its paper is what comes back
                    continue
                put()
                placed = True
                stock.finish_delivery(db, number)
            return
        except Trouble:
            if placed:  # the folder is in place and its paper drawn; whoever opens the ledger next closes the delivery
                return
            _settle_after_fault(ledger, at)
            raise
        except BaseException:
            _settle_after_fault(ledger, at)
            raise
    raise Trouble(
        Finding(f"the ledger {ledger.path} is too busy", "Try again when other work has finished.", exit=Exit.SYSTEM)
    )


def _begin_delivery(
    ledger: Ledger, delivery: StockDelivery, takes: Collection[PaperTake], returning: Sequence[ReturnedSheets], at: str
) -> tuple[int, list[ReturnedSheets]]:
    """The delivery's number, and what comes back by what lies there now."""
    with ledger.begin_change() as db:
        settle_open_deliveries(db, at)
        coming = [returned.read_again() for returned in returning]
        try:
            return stock.begin_delivery(db, delivery, takes, group_returned_by_delivery(db, coming), at), coming
        except StockShort as error:
            raise Trouble([_used_meanwhile(short) for short in error.short]) from error


def _settle_after_fault(ledger: Ledger, at: str) -> None:
    """Before the built folder is deleted: once it is gone, nobody could tell that it was never in its place."""
    with ledger.begin_change() as db:
        settle_open_deliveries(db, at)


def group_returned_by_delivery(db: sqlite3.Connection, returning: Sequence[ReturnedSheets]) -> Mapping[int, list[int]]:
    """The sheets that come back, by the newest delivery of each record that drew paper."""
    found: dict[int, list[int]] = {}
    for returned in returning:
        deliveries = stock.list_deliveries_of(db, returned.record, returned.place)
        if returned.elsewhere and not deliveries:
            deliveries = stock.list_deliveries_of(db, returned.record)
        for delivery in deliveries:
            sheets = stock.list_drawn_sheets(db, delivery.number)
            wanted = [sheet for sheet in sheets if returned.sheets is None or sheet in returned.sheets]
            if wanted:
                found.setdefault(delivery.number, []).extend(wanted)
                break
    return found


def _used_meanwhile(short: PaperShortage) -> Finding:
    return Finding(
        f"{format_paper_amount(short.wanted, short.paper)} of {short.paper} are wanted, "
        f"and by the count {format_paper_amount(short.left, short.paper)} left",
        Remedy("correct-count"),
        kind="stock",
        exit=Exit.NO_ROOM,
    )


def _read_inode(folder: Path) -> str:
    """What a renaming does not change: the inode number. Device numbers are left out, since they change on restart."""
    try:
        return str(folder.stat().st_ino)
    except OSError:
        return ""
