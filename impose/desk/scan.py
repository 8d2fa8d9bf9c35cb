"""What lies in `in/` at this instant: files, folders and things that are neither, each with a stamp of its state."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from impose.desk.inbox import Inbox
from impose.desk.names import SETTINGS, is_passing

MOST_IN_FOLDER = 5_000
"""Files of one dropped folder; a larger one is more likely a slip of the mouse than a batch."""

_CLOSED = "It may not be read, or a folder in it. Allow reading, or copy it again."

Stamp = tuple[int, ...]
InboxOf = Callable[[str], Inbox | None]
"""The inbox that a folder of `in/` is, by its name; None for a folder that is a batch."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that was dropped. `path` is told from `in/` with slashes; `inbox` is the folder that it lies in.

    The `stamp` changes when the thing does. `why` says what keeps it from being used at all. `files` of a folder are
    all below it, told from `in/`, with their stamps.
    """

    path: str
    inbox: str
    kind: Literal["file", "folder", "odd"]
    stamp: Stamp
    why: str = ""
    files: tuple[tuple[str, Stamp], ...] = ()

    @property
    def name(self) -> str:
        """The last part of the path."""
        return self.path.rpartition("/")[2]


def scan(root: Path, inbox_of: InboxOf) -> list[Entry]:
    """Everything in `in/` (`root`) that is neither hidden nor temporary, in the order of names.

    Raises `OSError` where the folder cannot be listed. What vanishes meanwhile is left out.
    """
    entries: list[Entry] = []
    for name, path, facts in _listed(root):
        if facts is not None and stat.S_ISDIR(facts.st_mode) and inbox_of(name) is not None:
            try:
                entries += [_entry(root, name, below, facts_below) for _, below, facts_below in _listed(path)]
            except PermissionError:
                entries.append(Entry(name, "", "odd", stamp_of(facts), _CLOSED))
        else:
            entries.append(_entry(root, "", path, facts))
    return [entry for entry in entries if entry.kind != "folder" or entry.files or entry.why]


def stamp_of(facts: os.stat_result) -> Stamp:
    """Size, time of change and identity: what tells a file from itself a moment ago."""
    return (facts.st_size, facts.st_mtime_ns, facts.st_ino)


def _listed(folder: Path) -> Iterator[tuple[str, Path, os.stat_result | None]]:
    with os.scandir(folder) as found:
        names = sorted(entry.name for entry in found)
    for name in names:
        if is_passing(name) or name == SETTINGS:
            continue
        path = folder / name
        try:
            facts = path.lstat()
        except FileNotFoundError:
            continue
        yield name, path, facts


def _entry(root: Path, inbox: str, path: Path, facts: os.stat_result | None) -> Entry:
    told = f"{inbox}/{path.name}" if inbox else path.name
    assert facts is not None
    if stat.S_ISREG(facts.st_mode):
        return Entry(told, inbox, "file", stamp_of(facts))
    if stat.S_ISDIR(facts.st_mode):
        files, why = _tree(root, path)
        return Entry(told, inbox, "folder", tuple(n for f in files for n in f[1]), why, tuple(files))
    return Entry(told, inbox, "odd", stamp_of(facts), _odd(facts.st_mode))


def _odd(mode: int) -> str:
    what = "a link" if stat.S_ISLNK(mode) else "no plain file (a device, a pipe or a socket)"
    return f"It is {what}, which is never followed. Copy the file itself into the folder."


def _tree(root: Path, folder: Path) -> tuple[list[tuple[str, Stamp]], str]:
    """The files below a dropped folder, and what keeps the folder from being used."""
    files: list[tuple[str, Stamp]] = []
    waiting = [folder]
    while waiting:
        try:
            listed = list(_listed(waiting.pop()))
        except PermissionError:
            return sorted(files), _CLOSED
        for name, path, facts in listed:
            assert facts is not None
            if stat.S_ISDIR(facts.st_mode):
                waiting.append(path)
                continue
            files.append((path.relative_to(root).as_posix(), stamp_of(facts)))
            if not stat.S_ISREG(facts.st_mode):
                return files, f"“{name}” in it: {_odd(facts.st_mode)}"
            if len(files) > MOST_IN_FOLDER:
                return files, f"It holds more than {MOST_IN_FOLDER} files. Drop smaller folders."
    return sorted(files), ""
