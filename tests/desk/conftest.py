"""A desk whose time is set by hand and whose maker is not the real one."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from desk.fake import FakeMaker, Time
from impose.desk.folders import DeskFolders, open_desk
from impose.desk.lock import DeskLock
from impose.desk.remedies import WORDINGS
from impose.desk.watch import DeskWatch
from impose.desk.watch_options import WatchOptions
from impose.errors import Exit, Trouble
from impose.ledger.drops import DropLedger
from impose.ledger.store import open_ledger
from impose.remedies import word_remedies
from impose.values import replace


class Bed:
    """A desk under test: files can be dropped, time passes turn by turn, the watch can be started anew."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.time = Time()
        self.maker = FakeMaker()
        self.habits = WatchOptions(settle_s=2.0)
        self.said: list[str] = []
        self.world = self.time.world()
        self.places: DeskFolders = open_desk(root)
        self.lock = DeskLock(self.places.work / "lock")
        self.lock.take_lock()
        self.watch: DeskWatch | None = None

    def start(self, **habits: Any) -> DeskWatch:
        """Start or start anew, as after a crash: nothing of the old watch is told to end."""
        if self.watch is not None and self.watch._desk is not None:
            self.watch._desk.ledger.close()
        self.habits = replace(self.habits, **habits)
        self.maker.forget_requests()
        self.watch = DeskWatch(self.places, self.habits, self.said.append, self.world, self.maker)
        self.watch._open_desk(self.lock)
        return self.watch

    def turns(self, seconds: float = 4.0, step: float = 0.5) -> None:
        """Let time pass, with the troubles of the real loop."""
        watch = self.watch or self.start()
        for _ in range(round(seconds / step)):
            try:
                if watch._desk is None:
                    watch._open_desk(self.lock)
                watch.run_turn()
            except (OSError, Trouble) as error:
                if isinstance(error, Trouble) and error.exit is not Exit.SYSTEM:
                    raise
                watch._handle_lost_desk(error)
            self.time.sleep(step)

    def drop(self, name: str, content: bytes | str) -> Path:
        """Write a file into `in/`."""
        path = self.places.inbox / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    @property
    def sheets(self) -> list[str]:
        """The deliveries in their place."""
        return sorted(path.name for path in self.places.sheets.iterdir())

    @property
    def refused(self) -> list[str]:
        """The refused files, without their texts."""
        return sorted(p.name for p in self.places.refused.iterdir() if not p.name.endswith(".txt"))

    @property
    def inbox(self) -> list[str]:
        """The files that still lie in `in/`."""
        return sorted(p.relative_to(self.places.inbox).as_posix() for p in self.places.inbox.rglob("*") if p.is_file())

    def why(self, name: str) -> str:
        """The text beside a refused file."""
        return (self.places.refused / f"{name}.txt").read_text("utf-8")

    def look(self, read: Callable[[DropLedger], Any]) -> Any:
        """Ask the ledger something by a connection of one's own."""
        with open_ledger(self.places.ledger, []) as ledger:
            return read(DropLedger(ledger))


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    """A folder in memory where there is one: nothing here asks what a power cut would leave, and syncs are slow."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if os.access(memory, os.W_OK) else None) as name:
        yield Path(name)


@pytest.fixture
def bed(tmp_path: Path) -> Iterator[Bed]:
    """A new desk, whose remedies are in its own words, as in the real loop."""
    made = Bed(tmp_path / "desk")
    with word_remedies(WORDINGS):
        yield made
    if made.watch is not None:
        made.watch._close_all()
    made.lock.release_lock()
