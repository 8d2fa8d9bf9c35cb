"""One sender a ledger: two commands at once wait for each other, so that neither prints what the other is printing.

The lock is SQLite's own on a small file beside the ledger: the system frees it when its holder ends, however it ends.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.remedies import Remedy

WAIT_S = 120.0  # as long as a large document takes to go out


@contextmanager
def lock_sender(ledger: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """A block that alone sends to printers by this ledger. Raises `Trouble` (SYSTEM) if another keeps on sending."""
    path = ledger.with_name(f"{ledger.name}-sender")
    lock = sqlite3.connect(path, timeout=wait_s, isolation_level=None)
    try:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            what = f"another command is sending to a printer by the ledger {ledger} ({error})"
            remedy = Remedy("wait-for-sender")
            raise Trouble(Finding(what, remedy, kind="printer-unreachable", exit=Exit.SYSTEM)) from None
        yield
    finally:
        lock.close()
