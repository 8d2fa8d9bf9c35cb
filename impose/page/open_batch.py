"""A batch folder that is open: what is edited, saved within a second, and watched for changes made elsewhere."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from impose.errors import describe_system_error
from impose.orders.editable_table import EditableTable, carry_names
from impose.page.batch_files import ORDERS, WATCHED, BatchFiles, name_file_beside
from impose.page.batch_state import BatchState, EditHistory, apply_operations
from impose.page.refusal import Refusal
from impose.values import replace

SAVE_S = 0.25
"""After a change; within a second all of it is on the disk."""
AGAIN_S = 1.0
"""After a save that failed."""
END_S = 30.0
"""For the last save: a disk may be slow, and what is not saved then is lost."""

Tell = Callable[..., None]
"""Tells every open page of this batch: a kind of event and its values."""


@dataclass(slots=True)
class OpenBatch:
    """One open batch. All calls come from the server's loop; only writing is done in a thread of its own.

    `changed` is called with every new revision, so that it is planned.
    """

    id: str
    folder: Path
    tell: Tell
    changed: Callable[[OpenBatch], None] = lambda batch: None
    files: BatchFiles = field(init=False)
    history: EditHistory = field(init=False)
    saved: int = 0
    elsewhere: dict[str, Any] | None = None
    example: bool = False
    _on_disk: BatchState | None = None
    _timer: asyncio.TimerHandle | None = None
    _writing: asyncio.Lock = field(default_factory=asyncio.Lock)
    _failed: bool = False
    _conflict: bool = False

    def __post_init__(self) -> None:
        self.files = BatchFiles(self.folder)
        state = self.files.read_state()
        self.history = EditHistory(state)
        self._on_disk, self.saved = state, self.history.revision

    @property
    def name(self) -> str:
        """What it is called: its folder's name."""
        return self.folder.name

    @property
    def state(self) -> BatchState:
        """What it is now."""
        return self.history.state

    @property
    def revision(self) -> int:
        """The number of the state."""
        return self.history.revision

    def change(self, operations: Sequence[Any], label: str, merge: str = "", by: str = "") -> dict[str, str]:
        """Apply operations as one step; the names of new rows. Raises `Refusal`."""
        self._refuse_read_only()
        state, made = apply_operations(self.state, operations)
        if state != self.state:
            self.history.apply_state(state, label or _describe_operations(operations), merge)
            self._tell_change(by)
        return made

    def undo_change(self, by: str = "") -> None:
        """One step back. Raises `Refusal`."""
        self._refuse_read_only()
        self.history.undo_step()
        self._tell_change(by)

    def redo_change(self, by: str = "") -> None:
        """One step forth. Raises `Refusal`."""
        self._refuse_read_only()
        self.history.redo_step()
        self._tell_change(by)

    def _refuse_read_only(self) -> None:
        if self.files.read_only is not None:
            raise Refusal(409, "read-only", *self.files.read_only)

    def _tell_change(self, by: str) -> None:
        self.tell("batch", revision=self.revision, by=by)
        self._save_soon(SAVE_S)
        self.changed(self)

    def _save_soon(self, seconds: float) -> None:
        if self._timer is None:
            loop = asyncio.get_running_loop()
            self._timer = loop.call_later(seconds, lambda: loop.create_task(self.save()))

    async def save(self) -> None:
        """Write what is not on the disk yet; told when it is, and when it cannot be."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        async with self._writing:
            state, revision = self.state, self.revision
            if revision == self.saved:
                return
            try:
                await asyncio.to_thread(self._write_state, state)
            except OSError as error:
                self._tell_unsaved(error)
                return
            self.saved, self._failed = revision, False
        self.tell("saved", revision=revision)
        if self.revision != revision:
            self._save_soon(SAVE_S)

    def _write_state(self, state: BatchState) -> None:
        """Write, beside where somebody else has changed a file meanwhile; in a thread."""
        if not self._conflict and self.files.changed_elsewhere():
            self._conflict = True
        self.files.write_state(state, None if self._conflict else self._on_disk, beside=self._conflict)
        if not self._conflict:
            self._on_disk = state

    def _tell_unsaved(self, error: OSError) -> None:
        self._failed = True
        what = f"This batch cannot be saved just now: {error.strerror or describe_system_error(error)}."
        self.tell("unsaved", what=what, remedy="Make room on the disk, or see to the folder. It is tried again.")
        self._save_soon(AGAIN_S)

    async def look(self) -> None:
        """Notice what was changed elsewhere: taken where nothing here is unsaved, else asked about."""
        async with self._writing:
            if self._conflict:
                self._ask_person()
                return
            names = await asyncio.to_thread(self.files.changed_elsewhere)
            if not names:
                return
            if self.revision != self.saved:
                # The next save writes beside; then it is asked.
                return
            revision = self.revision
            state = await asyncio.to_thread(self.files.read_state)
            if self.revision != revision:
                # Somebody typed while it was read: the save that is due writes beside; then it is asked.
                self._conflict = True
                return
            self._apply_theirs(state, names)

    async def _take_theirs(self, names: Sequence[str]) -> None:
        """Read the files anew; what was there can be had back by undoing."""
        self._apply_theirs(await asyncio.to_thread(self.files.read_state), names)

    def _apply_theirs(self, state: BatchState, names: Sequence[str]) -> None:
        before = self.state
        state = replace(
            state, orders=carry_names(before.orders, state.orders), kits=_carry_kits(before.kits, state.kits)
        )
        self._on_disk = state
        self.history.apply_state(state, "Changes made in another program")
        self.saved = self.revision
        self.elsewhere = None
        what = f"{_list_names(names)} changed in another program and was read again."
        self.tell("elsewhere", ask=False, what=what)
        self.tell("batch", revision=self.revision, by="")
        self.changed(self)

    def _ask_person(self) -> None:
        """Ask which of two versions counts, once."""
        if self.elsewhere is not None:
            return
        kept = name_file_beside(self.folder / WATCHED[0]).name
        what = "The orders were changed in another program while they were changed here. Both are kept."
        self.elsewhere = {
            "file": WATCHED[0],
            "what": what,
            "kept": kept,
            "answers": [
                {"answer": "theirs", "label": "Take the file as it is now"},
                {"answer": "mine", "label": "Keep what this page shows"},
            ],
        }
        self.tell("elsewhere", ask=True, what=what)
        self.tell("batch", revision=self.revision, by="")

    async def answer(self, answer: str) -> None:
        """Settle which version counts. Raises `Refusal`."""
        if self.elsewhere is None or answer not in ("mine", "theirs"):
            raise Refusal(409, "not-asked", "Nothing is asked just now.")
        async with self._writing:
            self._conflict = False
            if answer == "theirs":
                await self._take_theirs([WATCHED[0]])
                self.files.drop_beside()
                return
            self._on_disk = None
            try:
                await asyncio.to_thread(self.files.write_state, self.state, None)
            except OSError as error:
                self._conflict = True
                self._tell_unsaved(error)
                return
            self._on_disk, self.saved, self.elsewhere = self.state, self.revision, None
            self.files.drop_beside()
        self.tell("saved", revision=self.revision)
        self.tell("batch", revision=self.revision, by="")

    async def close(self) -> None:
        """Save and be done; what cannot be saved in that time has been told of."""
        with contextlib.suppress(Exception):
            await asyncio.wait_for(self.save(), END_S)

    def copy_to_csv(self) -> None:
        """Make an orders.csv of a spreadsheet, from where it can be edited. Raises `Refusal`, `OSError`."""
        if self.files.read_only is None:
            raise Refusal(409, "not-needed", "These orders can be edited as they are.")
        if (self.folder / ORDERS).exists() or not self.state.orders.list_shown():
            self._refuse_read_only()  # what is damaged is mended by a person: what was not read would be lost
        self.files.write_state(self.state, None)
        self.files.read_only = None
        self._on_disk = self.state
        self._tell_change("")


def _carry_kits(before: EditableTable | None, after: EditableTable | None) -> EditableTable | None:
    return after if before is None or after is None else carry_names(before, after)


def _list_names(names: Sequence[str]) -> str:
    return " and ".join(names)


_LABELS = {
    "set": "A change in a row",
    "add": "A new row",
    "remove": "Rows taken out",
    "move": "Rows moved",
    "column": "A column",
    "choose": "A choice for the batch",
}


def _describe_operations(operations: Sequence[Any]) -> str:
    """What undoing is called where the page gives no name."""
    kind = operations[0].get("op") if operations and isinstance(operations[0], dict) else ""
    return _LABELS.get(str(kind), "The last change")
