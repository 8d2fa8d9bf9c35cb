"""The ledger's file: SQLite, opened so that it is sound on a network share and after a power cut.

Never write-ahead logging: that needs memory shared between processes, which a share cannot give. The rollback journal
is deleted at each commit and its folder synced (journal_mode DELETE, synchronous EXTRA), so what a block of `change`
has written is on the disk when the block ends, or not at all. (SQLite documentation, "Write-Ahead Logging" 1 and
"PRAGMA synchronous".)

Each *part* owns its tables and brings them up to date step by step; one file may hold several parts, and a part that
the opener does not know is left alone. No clock is read here: times come from the caller.

    STOCK = Part("stock", steps=(("CREATE TABLE paper (name TEXT PRIMARY KEY, left INTEGER NOT NULL) STRICT",),))

    with open_ledger(path, [STOCK]) as ledger:
        with ledger.begin_change() as db:
            db.execute("UPDATE paper SET left = left - 1 WHERE name = ?", (name,))
        with ledger.begin_read() as db:
            rows = db.execute("SELECT name, left FROM paper").fetchall()
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from impose.errors import Exit, Finding, Trouble
from impose.remedies import Remedy
from impose.values import FrozenStruct

APPLICATION_ID = 0x494D504F
"""The letters IMPO, in the file's header at byte 68: how a ledger of ours is told from any other database."""

FRAME = 1
"""The version of what all parts share: the table `part`. In the header as user_version."""

BUSY_SECONDS = 30.0
CHECKED_BYTES = 8_000_000  # a ledger up to this size is checked whole when it is opened: about 20 ms

_FRAME_TABLE = "CREATE TABLE part (name TEXT PRIMARY KEY, version INTEGER NOT NULL) STRICT"


class LedgerPart(FrozenStruct):
    """Some tables of the ledger. Step number n holds the SQL statements that bring them from version n to n + 1.

    A step that was ever released is never changed; tables change by one more step at the end.
    """

    name: str
    steps: tuple[tuple[str, ...], ...]


class Ledger:
    """An open ledger; for one thread at a time. Rows come as `sqlite3.Row`."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._db = connection

    @contextmanager
    def begin_change(self) -> Iterator[sqlite3.Connection]:
        """A block that alone may write, from its first line to its end: all of it stays, or none of it.

        Waits for another writer for the busy time. Raises `Trouble` (SYSTEM) where the file or its disk fails.
        """
        with self._open_transaction("BEGIN IMMEDIATE") as db:
            yield db

    @contextmanager
    def begin_read(self) -> Iterator[sqlite3.Connection]:
        """A block that reads the ledger as it stood at its first read. Keep it short: writers wait for it."""
        with self._open_transaction("BEGIN") as db:
            yield db

    @contextmanager
    def _open_transaction(self, begin: str) -> Iterator[sqlite3.Connection]:
        with _raise_as_trouble(self.path):
            self._db.execute(begin)
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:  # after some faults SQLite has rolled back by itself
                    self._db.execute("ROLLBACK")
                raise

    def check_integrity(self) -> None:
        """Read the whole file and raise `Trouble` if anything in it is damaged."""
        with _raise_as_trouble(self.path):
            answer = self._db.execute("PRAGMA quick_check(1)").fetchone()[0]
        if answer != "ok":
            raise Trouble(_make_damaged_finding(self.path))

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


def open_ledger(path: Path, parts: Sequence[LedgerPart], busy_seconds: float = BUSY_SECONDS) -> Ledger:
    """Open the ledger at `path`, made if missing, with these parts up to date.

    Raises `Trouble` (SYSTEM) if the file is not a ledger of ours, was written by a newer program, is damaged, or
    cannot be read or written; nothing is changed then. Every call of the ledger waits up to `busy_seconds` for
    others.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Trouble(_make_fault_finding(path, f"its folder cannot be made ({error.strerror})")) from error
    with _raise_as_trouble(path):
        connection = sqlite3.connect(path, timeout=busy_seconds, isolation_level=None)
        connection.row_factory = sqlite3.Row
        ledger = Ledger(path, connection)
        try:
            _set_up_parts(ledger, connection, parts)
        except BaseException:
            connection.close()
            raise
    return ledger


def _set_up_parts(ledger: Ledger, db: sqlite3.Connection, parts: Sequence[LedgerPart]) -> None:
    with ledger.begin_read():  # at one instant: another process may be making the ledger right now
        _refuse_foreign(ledger.path, db)
    for setting in ("synchronous = EXTRA", "fullfsync = ON", "foreign_keys = ON", "trusted_schema = OFF"):
        db.execute(f"PRAGMA {setting}")
    mode = db.execute("PRAGMA journal_mode = DELETE").fetchone()[0]
    if mode != "delete":
        raise Trouble(_make_fault_finding(ledger.path, f"its journal cannot be set to DELETE (it is {mode})"))
    if ledger.path.stat().st_size <= CHECKED_BYTES:
        ledger.check_integrity()
    if _is_behind(db, parts, ledger.path):
        with ledger.begin_change():
            # Another process may have been first: what is missing is asked again inside the lock.
            _refuse_foreign(ledger.path, db)
            _upgrade_parts(db, parts, ledger.path)


def _refuse_foreign(path: Path, db: sqlite3.Connection) -> None:
    """Raise unless the file is a ledger that this program can read, or holds nothing at all yet."""
    ours = db.execute("PRAGMA application_id").fetchone()[0]
    frame = db.execute("PRAGMA user_version").fetchone()[0]
    if ours != APPLICATION_ID and (ours or frame or db.execute("SELECT 1 FROM sqlite_schema").fetchone()):
        raise Trouble(_make_foreign_finding(path))
    if frame > FRAME:
        raise Trouble(_make_newer_finding(path))


def _is_behind(db: sqlite3.Connection, parts: Sequence[LedgerPart], path: Path) -> bool:
    """Whether any part's tables must be made or brought up to date. Raises for one that is newer than the program."""
    if db.execute("PRAGMA user_version").fetchone()[0] == 0:
        return True
    versions = dict(db.execute("SELECT name, version FROM part").fetchall())
    for part in parts:
        if versions.get(part.name, 0) > len(part.steps):
            raise Trouble(_make_newer_finding(path))
    return any(versions.get(part.name, 0) < len(part.steps) for part in parts)


def _upgrade_parts(db: sqlite3.Connection, parts: Sequence[LedgerPart], path: Path) -> None:
    if db.execute("PRAGMA user_version").fetchone()[0] == 0:
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {FRAME}")
        db.execute(_FRAME_TABLE)
    if not _is_behind(db, parts, path):
        return
    versions = dict(db.execute("SELECT name, version FROM part").fetchall())
    for part in parts:
        for step in part.steps[versions.get(part.name, 0) :]:
            for statement in step:
                db.execute(statement)
        db.execute(
            "INSERT INTO part VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET version = excluded.version",
            (part.name, len(part.steps)),
        )


@contextmanager
def _raise_as_trouble(path: Path) -> Iterator[None]:
    """Faults of the file and its disk as `Trouble`; what only a bug can cause goes through as it is."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        finding = _explain_error(path, error)
        if finding is None:
            raise
        raise Trouble(finding) from error
    except UnicodeDecodeError as error:
        # Of its text, or of SQLite's own message, which names what lies in the file.
        raise Trouble(_make_damaged_finding(path)) from error


def _explain_error(path: Path, error: sqlite3.DatabaseError) -> Finding | None:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code == sqlite3.SQLITE_NOTADB:
        return _make_foreign_finding(path)
    if code == sqlite3.SQLITE_CORRUPT:
        return _make_damaged_finding(path)
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return _make_fault_finding(
            path, "another program has been writing to it all the while", "Try again when that has finished."
        )
    if code == sqlite3.SQLITE_FULL:
        return _make_fault_finding(path, "its disk is full", "Make room there, then try again.")
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH):
        return _make_fault_finding(path, "it may not be written", Remedy("write-ledger"))
    if code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_PROTOCOL, sqlite3.SQLITE_NOLFS):
        return _make_fault_finding(path, f"the system reports: {error}")
    return None


def _make_fault_finding(path: Path, why: str, remedy: str = Remedy("reach-ledger")) -> Finding:
    return Finding(f"the ledger {path} cannot be used: {why}", remedy, kind="ledger", exit=Exit.SYSTEM)


def _make_foreign_finding(path: Path) -> Finding:
    return _make_fault_finding(path, "it is not a ledger of this program", Remedy("other-ledger"))


def _make_newer_finding(path: Path) -> Finding:
    return _make_fault_finding(path, "a newer version of this program wrote it", Remedy("newer-program"))


def _make_damaged_finding(path: Path) -> Finding:
    return _make_fault_finding(
        path, "it is damaged", "Put back a copy of it, or move it away and begin a new one; it was left alone."
    )
