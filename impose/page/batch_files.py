"""The files of a batch folder: read, told from what was read before, written whole.

`orders.csv`, `kits.csv` and `batch.toml` are what a person edits. Before a file is written it is compared with what was
read or written last: what somebody else has put there is never written over.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from impose.errors import Trouble
from impose.files import FileMark, read_file_mark, write_new_file
from impose.orders.editable_table import (
    NEW_HEADINGS,
    EditableTable,
    read_editable,
    read_workbook_table,
)
from impose.page.batch_state import BatchState, Choice
from impose.run.batch_choices import FILE as CHOICES
from impose.run.batch_choices import encode_choices, read_choices

ORDERS, KITS, WORKBOOK = "orders.csv", "kits.csv", "orders.xlsx"
WATCHED = (ORDERS, KITS, CHOICES)
BESIDE = " (from the page)"

UMASK = os.umask(0o077)
os.umask(UMASK)
"""Read once, while there is one thread: it cannot be asked for without being set."""


@dataclass(slots=True)
class BatchFiles:
    """What is known of the files of one folder: how each looked when it was read or written last.

    `read_only` says why the orders cannot be edited, where they cannot.
    """

    folder: Path
    read_only: tuple[str, str] | None = None
    marks: dict[str, FileMark] = field(default_factory=dict)
    sums: dict[str, str] = field(default_factory=dict)

    def read_state(self) -> BatchState:
        """All that is there; an empty batch where nothing is. Sets `read_only`. Raises `OSError`."""
        self.read_only = None
        for name in WATCHED:
            self._note_file(name)
        orders, kits = self._read_orders()
        return BatchState(orders, kits, self._read_choices())

    def _read_orders(self) -> tuple[EditableTable, EditableTable | None]:
        new = EditableTable(NEW_HEADINGS)
        if not (self.folder / ORDERS).exists() and (self.folder / WORKBOOK).exists():
            self.read_only = (
                "These orders lie in a spreadsheet, which is read and never written.",
                "Make a copy that can be edited here, or edit the spreadsheet: it is read again when it is saved.",
            )
            path = self.folder / WORKBOOK
            try:
                return read_workbook_table(path) or new, self._read_table(KITS, "k") or read_workbook_table(
                    path, "k", "kits"
                )
            except Trouble as trouble:
                self._refuse_edits(trouble)
                return new, None
        try:
            return self._read_table(ORDERS, "r") or new, self._read_table(KITS, "k")
        except Trouble as trouble:
            self._refuse_edits(trouble)
            return new, None

    def _refuse_edits(self, trouble: Trouble) -> None:
        entry = trouble.findings[0]
        where = f"{entry.file}, row {entry.row}: " if entry.row else ""
        what = f"{CHOICES} cannot be read" if entry.file == CHOICES else "The orders cannot be read"
        self.read_only = (f"{what}: {where}{entry.what}.", str(entry.remedy))

    def _read_table(self, name: str, prefix: str) -> EditableTable | None:
        """The table of a file; None where there is none, or it is empty."""
        path = self.folder / name
        if not path.exists() or path.stat().st_size == 0:
            return None
        return read_editable(path, prefix)

    def _read_choices(self) -> Mapping[str, Choice]:
        path = self.folder / CHOICES
        if not path.is_file():
            return {}
        try:
            return read_choices(path)
        except Trouble as trouble:
            self._refuse_edits(trouble)
            return {}

    def changed_elsewhere(self) -> list[str]:
        """The files that hold something else than when they were read or written last."""
        changed = []
        for name in WATCHED:
            if read_file_mark(self.folder / name) == self.marks.get(name):
                continue
            if read_sum(self.folder / name) == self.sums.get(name):
                self.marks[name] = read_file_mark(self.folder / name)  # touched, or copied over itself
            else:
                changed.append(name)
        return changed

    def write_state(self, state: BatchState, before: BatchState | None, beside: bool = False) -> None:
        """Write what differs from `before`, each file whole; with `beside` under another name. Raises `OSError`."""
        for name, content in _list_contents(state, before).items():
            path = self.folder / name
            if content is None:
                if not beside:
                    path.unlink(missing_ok=True)
                    self._note_file(name)
            elif beside:
                write_whole(name_file_beside(path), content)
            else:
                # Not looked at afterwards: what another program has put there by then would count as ours.
                self.marks[name] = write_whole(path, content)
                self.sums[name] = hashlib.sha256(content).hexdigest()

    def drop_beside(self) -> None:
        """Remove what was written beside."""
        for name in WATCHED:
            with contextlib.suppress(OSError):
                name_file_beside(self.folder / name).unlink()

    def _note_file(self, name: str) -> None:
        self.marks[name] = read_file_mark(self.folder / name)
        self.sums[name] = read_sum(self.folder / name)


def _list_contents(state: BatchState, before: BatchState | None) -> dict[str, bytes | None]:
    """The files that differ, kits first: rows may name what stands there."""
    found: dict[str, bytes | None] = {}
    if state.kits is not None and (before is None or state.kits is not before.kits):
        found[KITS] = state.kits.make_file()
    elif state.kits is None and before is not None and before.kits is not None:
        found[KITS] = None
    if before is None or state.choices != before.choices:
        found[CHOICES] = encode_choices(state.choices) if state.choices else None
    if before is None or state.orders is not before.orders:
        found[ORDERS] = state.orders.make_file()
    return found


def write_whole(path: Path, content: bytes) -> FileMark:
    """A file that is there whole or as it was; how it looks, which its new name leaves as it is. Raises `OSError`."""
    with write_new_file(path) as part:
        part.write_bytes(content)
        with contextlib.suppress(OSError):
            # A temporary is its maker's alone; a batch is as open as the folder's other files.
            part.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~UMASK)
        return read_file_mark(part)


def name_file_beside(path: Path) -> Path:
    """What a file is called that is written beside another one."""
    return path.with_name(f"{path.stem}{BESIDE}{path.suffix}")


def read_sum(path: Path) -> str:
    """What a file holds, as a SHA-256; empty where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""
