"""Taking a drop, or refusing it.

A claim writes the ledger's line first, then moves the files by rename into a folder of their own, then writes hash and
state. A claim that was cut short is finished on the next start if all its files can still be had as they were, and
taken back if they cannot. A refusal puts the files into `refused/`, beside them a text that says why and what to do.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import stat
from collections.abc import Callable, Sequence
from pathlib import Path

from impose.desk.drop_rules import is_temporary_path
from impose.desk.environment import Fault
from impose.desk.file_integrity import find_png_fault, hash_drop, hash_request
from impose.desk.folders import DeskFolders, find_free_name, move_without_replacing, sync_quietly
from impose.desk.time_slices import Steps, copy_plain
from impose.file_types import is_artwork
from impose.files import write_new_file
from impose.ledger.drops import Drop, DropLedger, HeldFile, WantedDrop


class Refuser:
    """Moves drops to the refused; every step can be repeated."""

    def __init__(
        self,
        places: DeskFolders,
        drops: DropLedger,
        fault: Fault,
        wall: Callable[[], float],
        say: Callable[[str], None],
    ) -> None:
        self._places, self._drops, self._fault, self._wall, self._say = places, drops, fault, wall, say
        self.count = 0

    def refuse_drop(self, drop: Drop, why: str) -> None:
        """Decide to refuse a drop and do it. A disk that fails leaves the rest to `finish`, later."""
        folder = self._places.refused
        why = why.removeprefix(f"{drop.path}: ").removeprefix(f"{drop.path.rpartition('/')[2]}: ")
        name = self._find_source(drop)[1]
        target = find_free_name(folder, name, lambda candidate: os.path.lexists(folder / f"{candidate}.txt"))
        self._drops.begin_refusal(drop.id, why, target)
        self._fault("refusal:written")
        self.finish_refusal(self._drops.read_drop(drop.id))

    def finish_refusal(self, drop: Drop) -> None:
        """Do what is left of a refusal that was decided. Raises `OSError` where the disk fails."""
        folder = self._places.refused
        source, name = self._find_source(drop)
        target = folder / (drop.target or find_free_name(folder, name))
        if os.path.lexists(source) and os.path.lexists(target):
            # Somebody put something of that name there since; ours has not moved.
            return self.refuse_drop(drop, drop.why)
        with write_new_file(folder / f"{target.name}.txt") as part:
            part.write_bytes(_write_reason(drop).encode("utf-8", "backslashreplace"))
        (folder / f"{target.name}.txt").chmod(0o644)
        self._fault("refusal:told")
        if os.path.lexists(source):
            source.rename(target)
        sync_quietly(folder, self._places.work)
        self._fault("refusal:moved")
        home = self._places.drop_folder(drop.id)
        with contextlib.suppress(FileNotFoundError):
            shutil.rmtree(home)
        self._drops.close_refusal(drop.id, self._wall())
        self._fault("refusal:closed")
        self.count += 1
        self._say(f"refused {drop.path}: {drop.why}")
        return None

    def _find_source(self, drop: Drop) -> tuple[Path, str]:
        """What is to be moved and its name among the refused: a lone file as itself, else the folder."""
        home = self._places.drop_folder(drop.id)
        held = self._drops.list_files(drop.id)
        last = drop.path.rpartition("/")[2]
        if held and held[-1].name == ".":
            return home, last
        if len(held) == 1:
            return home / held[0].name, last
        return home, last.rpartition(".")[0] or last


def _write_reason(drop: Drop) -> str:
    return (
        f"{drop.path} was not used.\n\n{drop.why}\n\n"
        "Mend it and drop it into the desk's folder “in” again. This text may be deleted, the file beside it too.\n"
    )


Say = Callable[[str], None]

_CHANGED = "it changed while it was being taken"
_COPY = ".copy.part"  # short, since an artwork's own name may be as long as names may be
_MOST_DEEP = 200  # folders one in the other, hidden ones included; a scan refuses far fewer


class Claimer:
    """Moves drops from the inbox into the work folder, each exactly once; in steps, since files may be large."""

    def __init__(self, places: DeskFolders, drops: DropLedger, refuser: Refuser, fault: Fault, say: Say) -> None:
        self._places, self._drops, self._refuser = places, drops, refuser
        self._fault, self._say = fault, say

    def claim_drops(self, wanted: Sequence[WantedDrop], now: float, needed: set[str]) -> Steps[dict[str, str]]:
        """Claim drops; path → why, for those that could not be taken and lie where they were.

        `needed` are artworks that a batch file which could not be taken still has to copy: they stay where they are.
        """
        numbers = self._drops.begin_claims(wanted, now)
        self._fault("claim:written")
        return (yield from self._take_over([self._drops.read_drop(number) for number in numbers], needed))

    def recover_claims(self) -> Steps[dict[str, str]]:
        """Finish or take back the claims that were cut short."""
        return (yield from self._take_over(self._drops.list_drops("claiming"), set()))

    def _take_over(self, drops: Sequence[Drop], needed: set[str]) -> Steps[dict[str, str]]:
        failed = {}
        moved = []
        for drop in drops:
            why = yield from self._move_drop(drop, needed)
            if why:
                failed[drop.path] = why
                needed |= {held.source for held in self._drops.list_files(drop.id) if held.copied}
                self._say(f"{drop.path} was left in the inbox: {why}")
                self._take_back(drop)
            else:
                moved.append(drop)
            yield
        sync_quietly(self._places.inbox, self._places.work)
        yield from self._close_claims(moved)
        return failed

    def _move_drop(self, drop: Drop, needed: set[str]) -> Steps[str]:
        """Move what is still in the inbox; "" if the whole drop is in its folder, else why it cannot be."""
        files = self._drops.list_files(drop.id)
        home = self._places.drop_folder(drop.id)
        if any(held.source in needed and not held.copied for held in files):
            return "a batch file that could not be taken yet needs the same artwork"
        try:
            if files[-1].name != ".":
                home.mkdir(exist_ok=True)
            for held in files:
                yield from self._move_file(held, home)
                self._fault("claim:moved")
            return "" if drop.why else (yield from self._find_change(files, home))
        except OSError as error:
            return f"it cannot be taken: {error.strerror or error}"

    def _move_file(self, held: HeldFile, home: Path) -> Steps[None]:
        source, target = self._places.inbox / held.source, home / held.name
        if os.path.lexists(target):
            return
        target.parent.mkdir(parents=True, exist_ok=True)
        if held.copied:
            facts = yield from copy_plain(source, home / _COPY)
            if (facts.st_size, facts.st_mtime_ns) != (held.size, held.mtime_ns):
                raise OSError(_CHANGED)
            (home / _COPY).rename(target)
        else:
            source.rename(target)

    def _find_change(self, files: Sequence[HeldFile], home: Path) -> Steps[str]:
        """Whether what was moved is still what was looked at: somebody may have exchanged it or written to it."""
        for held in files:
            path = home / held.name
            facts = path.lstat()
            if held.name == ".":
                if not stat.S_ISDIR(facts.st_mode) or measure_tree(path) != (held.size, held.mtime_ns):
                    return _CHANGED
                continue
            if not stat.S_ISREG(facts.st_mode):
                return _CHANGED
            if (facts.st_size, facts.st_mtime_ns) == (held.size, held.mtime_ns) or held.copied:
                continue
            if not is_artwork(held.name) or (yield from find_png_fault(path)):
                return _CHANGED
        return ""

    def _take_back(self, drop: Drop) -> None:
        """Put every file back where it was; where its name is taken, refuse what we hold."""
        files, home = self._drops.list_files(drop.id), self._places.drop_folder(drop.id)
        self._places.require_present()
        for held in reversed(files):
            path, back = home / held.name, self._places.inbox / held.source
            if held.copied or not os.path.lexists(path):
                continue
            try:
                back.parent.mkdir(parents=True, exist_ok=True)
                move_without_replacing(path, back)
            except OSError:
                if os.path.lexists(back) and path.exists() and path.samefile(back):
                    path.unlink()
                    continue
                why = "Other files of the same names came while it was being taken. Drop it again, whole."
                self._refuser.refuse_drop(drop, why)
                return
        with contextlib.suppress(FileNotFoundError):
            shutil.rmtree(home)
        self._drops.void_claim(drop.id)

    def _close_claims(self, moved: Sequence[Drop]) -> Steps[None]:
        hashes = {}
        for drop in moved:
            hashes[drop.id] = yield from self._hash_drop(drop)
        if hashes:
            self._drops.close_claims({number: (sha256, same) for number, (sha256, same, _) in hashes.items()})
        self._fault("claim:closed")
        for drop in moved:
            self._remove_empty_folders(drop)
            why = drop.why or hashes[drop.id][2]
            if why:
                self._refuser.refuse_drop(drop, why)
            yield

    def _hash_drop(self, drop: Drop) -> Steps[tuple[str, str, str]]:
        """Hash of the content, hash of content and wish, and why the content cannot be read, if so.

        What is refused anyway is not read: it may be a film of any length.
        """
        home = self._places.drop_folder(drop.id)
        sha256 = fault = ""
        try:
            if not drop.why:
                sha256 = yield from hash_drop(home, list_names_below(home))
        except OSError as error:
            # One file that cannot be read must not hold up all others; that the disk is away is another matter.
            self._places.require_present()
            fault = f"It cannot be read: {error.strerror or error}. Check its rights and drop it again."
        return sha256, hash_request(sha256, drop.wish), fault

    def _remove_empty_folders(self, drop: Drop) -> None:
        """Folders that artwork was taken out of, if nothing is left in them."""
        base = drop.path.rpartition("/")[0]
        for held in self._drops.list_files(drop.id):
            below = held.source[len(base) + 1 :] if base else held.source
            if "/" in below:
                with contextlib.suppress(OSError):
                    (self._places.inbox / held.source).parent.rmdir()


def list_names_below(folder: Path) -> list[str]:
    """The files below a drop's folder, told from it with slashes. Raises `OSError` for what is no plain file."""
    found: list[str] = []
    waiting = [("", 0)]
    while waiting:
        base, deep = waiting.pop()
        with os.scandir(folder / base) as entries:
            for entry in entries:
                name = f"{base}{entry.name}"
                if entry.is_dir(follow_symlinks=False):
                    waiting.append((f"{name}/", deep + 1))
                elif entry.is_file(follow_symlinks=False) or is_temporary_path(name):
                    found += [name] if entry.is_file(follow_symlinks=False) else []
                else:
                    raise OSError(f"“{name}” is no plain file")
        if deep > _MOST_DEEP:
            raise OSError("its folders lie too deep one in the other")
    return sorted(found)


def measure_tree(folder: Path) -> tuple[int, int]:
    """The total size and the newest time of change of what lies in a dropped folder, hidden files left out."""
    facts = [(folder / name).lstat() for name in list_names_below(folder) if not is_temporary_path(name)]
    return sum(f.st_size for f in facts), max((f.st_mtime_ns for f in facts), default=0)
