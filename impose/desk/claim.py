"""Taking a drop: the ledger's line first, then its files by rename into a folder of its own, then hash and state.

A claim that was cut short is finished on the next start if all its files can still be had as they were, and taken
back if they cannot.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

from impose.desk.faults import Fault
from impose.desk.names import is_png
from impose.desk.places import Places, move, sync_quietly
from impose.desk.refuse import Refuser
from impose.desk.want import passing
from impose.desk.whole import hash_drop, sameness, whole_fault
from impose.files import sync
from impose.ledger.drops import Drop, Drops, Held, Wanted

Say = Callable[[str], None]


class Claimer:
    """Moves drops from the inbox into the work folder, each exactly once."""

    def __init__(self, places: Places, drops: Drops, refuser: Refuser, fault: Fault, say: Say) -> None:
        self._places, self._drops, self._refuser = places, drops, refuser
        self._fault, self._say = fault, say

    def claim(self, wanted: Sequence[Wanted], now: float) -> dict[str, str]:
        """Claim drops; path → why, for those that could not be taken and lie where they were."""
        numbers = self._drops.begin_claims(wanted, now)
        self._fault("claim:written")
        failed = {}
        moved = []
        for number in numbers:
            drop = self._drops.drop(number)
            why = self._move(drop)
            if why:
                failed[drop.path] = why
            else:
                moved.append(drop)
        sync_quietly(self._places.inbox, self._places.work)
        self._close(moved, now)
        return failed

    def recover(self, now: float) -> None:
        """Finish or take back the claims that were cut short."""
        drops = self._drops.drops("claiming")
        moved = [drop for drop in drops if not self._move(drop)]
        sync_quietly(self._places.inbox, self._places.work)
        self._close(moved, now)

    def _move(self, drop: Drop) -> str:
        """Move what is still in the inbox; "" if the whole drop is in its folder, else why it was taken back."""
        files = self._drops.files(drop.id)
        home = self._places.drop(drop.id)
        try:
            if files[-1].name != ".":
                home.mkdir(exist_ok=True)
            for held in files:
                self._move_one(held, home)
                self._fault("claim:moved")
            why = "" if drop.why else self._changed(files, home)
        except OSError as error:
            why = f"it cannot be taken: {error.strerror or error}"
        if why:
            self._say(f"{drop.path} was left in the inbox: {why}")
            self._take_back(drop, files, home)
        return why

    def _move_one(self, held: Held, home: Path) -> None:
        source, target = self._places.inbox / held.source, home / held.name
        if os.path.lexists(target):
            return
        target.parent.mkdir(parents=True, exist_ok=True)
        if held.copied:
            part = target.with_name(target.name + ".part")
            shutil.copy2(source, part, follow_symlinks=False)
            sync(part)
            part.rename(target)
        else:
            source.rename(target)

    def _changed(self, files: Sequence[Held], home: Path) -> str:
        """Whether what was moved is still what was looked at: somebody may have written to it meanwhile."""
        for held in files:
            path = home / held.name
            if held.name == ".":
                if tree_size(path) != (held.size, held.mtime_ns):
                    return "it changed while it was being taken"
                continue
            facts = path.stat()
            if (facts.st_size, facts.st_mtime_ns) == (held.size, held.mtime_ns) or held.copied:
                continue
            if not is_png(held.name) or whole_fault(path):
                return "it changed while it was being taken"
        return ""

    def _take_back(self, drop: Drop, files: Sequence[Held], home: Path) -> None:
        """Put every file back where it was; where its name is taken, refuse what we hold."""
        self._places.require()
        for held in reversed(files):
            path, back = home / held.name, self._places.inbox / held.source
            if held.copied or not os.path.lexists(path):
                continue
            try:
                back.parent.mkdir(parents=True, exist_ok=True)
                move(path, back)
            except OSError:
                if os.path.lexists(back) and path.exists() and path.samefile(back):
                    path.unlink()
                    continue
                why = "Other files of the same names came while it was being taken. Drop it again, whole."
                self._refuser.refuse(drop, why)
                return
        with contextlib.suppress(FileNotFoundError):
            shutil.rmtree(home)
        self._drops.void(drop.id)

    def _close(self, moved: Sequence[Drop], now: float) -> None:
        hashes = {drop.id: self._hashes(drop) for drop in moved}
        if hashes:
            self._drops.claimed({number: (sha256, same) for number, (sha256, same, _) in hashes.items()})
        self._fault("claim:closed")
        for drop in moved:
            self._empty_folders(drop)
            why = drop.why or hashes[drop.id][2]
            if why:
                self._refuser.refuse(drop, why)

    def _hashes(self, drop: Drop) -> tuple[str, str, str]:
        """Hash of the content, hash of content and wish, and why the content cannot be read, if so."""
        home = self._places.drop(drop.id)
        try:
            sha256, fault = "" if drop.kind == "odd" else hash_drop(home, names_below(home)), ""
        except OSError as error:
            # One file that cannot be read must not hold up all others; that the disk is away is another matter.
            self._places.require()
            sha256, fault = "", f"It cannot be read: {error.strerror or error}. Check its rights and drop it again."
        return sha256, sameness(sha256, drop.wish), fault

    def _empty_folders(self, drop: Drop) -> None:
        """Folders that artwork was taken out of, if nothing is left in them."""
        base = drop.path.rpartition("/")[0]
        for held in self._drops.files(drop.id):
            below = held.source[len(base) + 1 :] if base else held.source
            if "/" in below:
                with contextlib.suppress(OSError):
                    (self._places.inbox / held.source).parent.rmdir()


def names_below(folder: Path) -> list[str]:
    """The plain files below a drop's folder, told from it with slashes; links and special files are left out."""
    found = []
    for root, _, names in os.walk(folder):
        paths = [Path(root, name) for name in names]
        found += [p.relative_to(folder).as_posix() for p in paths if p.is_file() and not p.is_symlink()]
    return sorted(found)


def tree_size(folder: Path) -> tuple[int, int]:
    """The total size and the newest time of change of what lies in a dropped folder, hidden files left out."""
    facts = [(folder / name).stat() for name in names_below(folder) if not passing(name)]
    return sum(f.st_size for f in facts), max((f.st_mtime_ns for f in facts), default=0)
