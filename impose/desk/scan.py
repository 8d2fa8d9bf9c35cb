"""What lies in `in/` at this instant, each thing with a stamp of its state, and how long it has kept that stamp.

The listing finds files, folders and things that are neither. Rest is measured by the watcher's own monotonic clock,
never by a file's time against the wall clock: a share's clock may be wrong, and the computer's may jump.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Literal

from impose.desk.inbox_rules import SETTINGS, InboxSettings, is_temporary_name
from impose.values import FrozenStruct

MOST_IN_FOLDER = 5_000
"""Files of one dropped folder; a larger one is more likely a slip of the mouse than a batch."""

MOST_DEEP = 32
"""Folders one in the other: far more than anybody sorts artwork into, far fewer than a system or a walk can take."""

_CLOSED = "It may not be read, or a folder in it. Allow reading, or copy it again."
_DEEP = f"It holds more than {MOST_DEEP} folders one in the other. Drop the artwork in fewer."
_MANY = 200  # files looked at between two breaths

Stamp = tuple[int, ...]
InboxOf = Callable[[str], InboxSettings | None]
"""The inbox that a folder of `in/` is, by its name; None for a folder that is a batch."""


class InboxEntry(FrozenStruct):
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


def scan_inbox(root: Path, inbox_of: InboxOf) -> Iterator[InboxEntry | None]:
    """Everything in `in/` (`root`) that is neither hidden nor temporary, in the order of names; None to take breath.

    Raises `OSError` where `in/` itself cannot be listed. What vanishes meanwhile is left out; whatever else is wrong
    below `in/` is that entry's own fault.
    """
    for name, path, facts in _list_folder(root):
        if isinstance(facts, os.stat_result) and stat.S_ISDIR(facts.st_mode) and inbox_of(name) is not None:
            yield from _list_inbox(root, name, path, facts)
        else:
            yield from _make_entry(root, "", path, facts)


def make_stamp(facts: os.stat_result) -> Stamp:
    """Size, time of change and identity: what tells a file from itself a moment ago."""
    return (facts.st_size, facts.st_mtime_ns, facts.st_ino)


_Listed = Iterator[tuple[str, Path, os.stat_result | OSError]]


def _list_folder(folder: Path) -> _Listed:
    """What a folder holds: name, path, and facts, or why there are none."""
    with os.scandir(folder) as found:
        names = sorted(entry.name for entry in found)
    for name in names:
        if is_temporary_name(name) or name == SETTINGS:
            continue
        path = folder / name
        try:
            yield name, path, path.lstat()
        except (FileNotFoundError, NotADirectoryError):
            continue
        except OSError as error:
            yield name, path, error


def _list_inbox(root: Path, name: str, path: Path, facts: os.stat_result) -> Iterator[InboxEntry | None]:
    try:
        for _, below, facts_below in _list_folder(path):
            yield from _make_entry(root, name, below, facts_below)
    except (FileNotFoundError, NotADirectoryError):
        return
    except OSError as error:
        yield InboxEntry(name, "", "odd", make_stamp(facts), _describe_unreadable(error))


def _make_entry(root: Path, inbox: str, path: Path, facts: os.stat_result | OSError) -> Iterator[InboxEntry | None]:
    told = f"{inbox}/{path.name}" if inbox else path.name
    if isinstance(facts, OSError):
        yield InboxEntry(told, inbox, "odd", (), _describe_unreadable(facts))
    elif stat.S_ISREG(facts.st_mode):
        yield InboxEntry(told, inbox, "file", make_stamp(facts))
        yield None
    elif stat.S_ISDIR(facts.st_mode):
        tree = _FolderTree(root)
        yield from tree.walk_folder(path)
        if tree.files or tree.why:
            yield InboxEntry(
                told, inbox, "folder", tuple(n for f in tree.files for n in f[1]), tree.why, tuple(tree.files)
            )
    else:
        yield InboxEntry(told, inbox, "odd", make_stamp(facts), _describe_odd_type(facts.st_mode))


def _describe_odd_type(mode: int) -> str:
    what = "a link" if stat.S_ISLNK(mode) else "no plain file (a device, a pipe or a socket)"
    return f"It is {what}, which is never followed. Copy the file itself into the folder."


def _describe_unreadable(error: OSError) -> str:
    if isinstance(error, PermissionError):
        return _CLOSED
    if error.errno == errno.ENAMETOOLONG:
        return "Its folders lie too deep one in the other, or have names too long, for the system. Drop it in fewer."
    return f"It, or something in it, cannot be looked at: {error.strerror or error}. Copy it again."


class _FolderTree:
    """The files below a dropped folder, and what keeps the folder from being used."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self.files: list[tuple[str, Stamp]] = []
        self.why = ""

    def walk_folder(self, folder: Path) -> Iterator[None]:
        """Walk it, folders within folders, up to the first thing that keeps it from being used."""
        waiting = [(folder, 1)]
        while waiting and not self.why:
            here, deep = waiting.pop()
            try:
                for name, path, facts in _list_folder(here):
                    if isinstance(facts, os.stat_result) and stat.S_ISDIR(facts.st_mode):
                        waiting.append((path, deep + 1))
                        self.why = self.why or (_DEEP if deep >= MOST_DEEP else "")
                    else:
                        self._add_file(name, path, facts)
                    if self.why:
                        break
                    if len(self.files) % _MANY == 0:
                        yield
            except (FileNotFoundError, NotADirectoryError):
                continue
            except OSError as error:
                self.why = _describe_unreadable(error)
            yield
        self.files.sort()

    def _add_file(self, name: str, path: Path, facts: os.stat_result | OSError) -> None:
        if isinstance(facts, OSError):
            self.why = _describe_unreadable(facts)
            return
        self.files.append((path.relative_to(self._root).as_posix(), make_stamp(facts)))
        if not stat.S_ISREG(facts.st_mode):
            self.why = f"“{name}” in it: {_describe_odd_type(facts.st_mode)}"
        elif len(self.files) > MOST_IN_FOLDER:
            self.why = f"It holds more than {MOST_IN_FOLDER} files. Drop smaller folders."


TIMES = 10
LEAST_S = 10.0


def compute_long_rest(settle_s: float) -> float:
    """How long a thing must be at rest, in seconds, before being not whole is held against it."""
    return max(LEAST_S, TIMES * settle_s)


class RestTimer:
    """Keeps stamps between scans; holds no more than what lies in the inbox."""

    def __init__(self) -> None:
        self._since: dict[str, tuple[Stamp, float]] = {}
        self._moved: dict[str, float] = {}

    def note_entries(self, entries: Iterable[InboxEntry], now: float) -> None:
        """Take in a scan made at `now`."""
        before, self._since = self._since, {}
        for entry in entries:
            known = before.get(entry.path)
            if known is None or known[0] != entry.stamp:
                known = (entry.stamp, now)
                self._moved[entry.inbox] = now
            self._since[entry.path] = known

    def measure_rest(self, entry: InboxEntry, now: float) -> float:
        """Seconds for which the entry has not changed."""
        known = self._since.get(entry.path)
        return now - known[1] if known else 0.0

    def measure_inbox_rest(self, inbox: str, now: float) -> float:
        """Seconds since anything came or changed in an inbox."""
        return now - self._moved.get(inbox, now)
