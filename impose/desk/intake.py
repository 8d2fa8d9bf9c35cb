"""From the inbox to claimed drops: list, sort, claim; with what could not be taken tried again after a growing wait."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from impose.desk.claim import Claimer
from impose.desk.drop_rules import DropRules, NamedFiles, SortedEntries, WaitingEntry
from impose.desk.environment import DeskEnvironment
from impose.desk.folders import DeskFolders
from impose.desk.inbox_rules import SETTINGS, InboxSettings, is_temporary_name, read_inbox
from impose.desk.scan import InboxEntry, Stamp
from impose.desk.sort import DropSorter
from impose.desk.time_slices import Steps, advance_steps
from impose.desk.worker import WorkerClient
from impose.desk.worker_jobs import FailedJob, ReadTableJob, Reply
from impose.ledger.drops import WantedDrop
from impose.orders.kits import FILE as KITS_FILE
from impose.profiles.profiles import Profiles

Mark = tuple[Stamp, Stamp | None]
"""The state of a batch file, and of the kits beside it."""

CLAIMED_TOGETHER = 64  # the ledger is synced once for all of them
MOST_LOOKED = 512  # files read through in one turn
LONGEST_CLAIM_S = 1.0  # then the inbox is listed anew: what was found then may have changed
FIRST_WAIT_S, LONGEST_WAIT_S = 5.0, 300.0
MOST_READS = 5  # deaths of the maker over one batch file, before the file is to blame


class Intake:
    """The way in. `last` is what the newest scan found to be waiting."""

    def __init__(
        self,
        places: DeskFolders,
        world: DeskEnvironment,
        rules: DropRules,
        profiles: Profiles,
        claimer: Claimer,
        maker: WorkerClient,
        columns: Path | None,
        say: Callable[[str], None],
    ) -> None:
        self._places, self._world, self._profiles = places, world, profiles
        self._claimer, self._maker, self._columns, self._say = claimer, maker, columns, say
        self._sorter = DropSorter(places.inbox, rules, self._find_inbox, self._find_table, world.clock)
        self._tables: dict[Path, _TableReading] = {}
        self._asked: dict[str, InboxSettings | None] = {}
        self._inboxes: dict[str, tuple[object, InboxSettings | None]] = {}
        self._failed: dict[str, tuple[float, float, str]] = {}
        self._scan: Iterator[None] | None = None
        self._found: list[InboxEntry] = []
        self._scanned_at = 0.0
        self._claiming: Iterator[None] | None = None
        self._taken = 0
        self.last = SortedEntries()
        self.only_stuck = False

    @property
    def busy(self) -> bool:
        """Whether a claim or a listing is under way, to be gone on with at the next turn."""
        return self._claiming is not None or self._scan is not None

    def recover_claims(self) -> None:
        """Begin with the claims that were cut short; what is large is gone on with at the next turns."""
        self._claiming = self._recover_in_steps()
        self._go_on()

    def take_in(self) -> int:
        """List, sort, and claim what is ready; the number of drops claimed. Raises `OSError` where the desk fails.

        Each turn does a part of that: while files are being taken the inbox is not listed, since it changes.
        """
        if self._claiming is None and self._advance_listing():
            self._sort_entries()
        before = self._taken
        self._go_on()
        return self._taken - before

    def _go_on(self) -> None:
        """Go on with taking files."""
        if self._claiming is None:
            return
        try:
            if advance_steps(self._claiming, self._world.clock):
                self._claiming = None
        except BaseException:
            self._claiming = None
            raise

    def _advance_listing(self) -> bool:
        """Go on with listing the inbox; whether all of it is listed."""
        if self._scan is None:
            self._scanned_at, self._found = self._world.clock(), []
            self._asked.clear()
            self._scan = self._scan_in_steps()
        try:
            done = advance_steps(self._scan, self._world.clock)
        except BaseException:
            self._scan = None
            raise
        if done:
            self._scan = None
        return done

    def _scan_in_steps(self) -> Steps[None]:
        for entry in self._world.listing(self._places.inbox, self._find_inbox):
            if entry is not None:
                self._found.append(entry)
            yield

    def _sort_entries(self) -> None:
        entries, now = self._found, self._scanned_at
        self._forget_gone(entries)
        result = self._sorter.sort_entries(entries, now, MOST_LOOKED)
        ready = self._list_ready(result.wanted, now)
        moving = bool(result.waiting)
        for path, (_, until, why) in self._failed.items():
            if until > now:
                result.waiting.append(WaitingEntry(path, f"{why}; tried again in {until - now:.0f} s"))
        self.last = result
        self.only_stuck = not moving and not ready
        if ready:
            self._claiming = self._claim_all(ready, now)

    def _list_ready(self, wanted: list[WantedDrop], now: float) -> list[WantedDrop]:
        """What failed to be taken is let rest: its reason is more use to a person than a hundred more tries.

        What would move an artwork away that such a one has still to copy rests with it.
        """
        resting = {drop.path for drop in wanted if self._failed.get(drop.path, (0.0, now, ""))[1] > now}
        needed = {held.source for drop in wanted if drop.path in resting for held in drop.files if held.copied}
        return [
            drop
            for drop in wanted
            if drop.path not in resting and not any(h.source in needed and not h.copied for h in drop.files)
        ]

    def _claim_all(self, ready: list[WantedDrop], now: float) -> Steps[None]:
        needed: set[str] = set()
        for first in range(0, len(ready), CLAIMED_TOGETHER):
            wanted = ready[first : first + CLAIMED_TOGETHER]
            failed = yield from self._claimer.claim_drops(wanted, self._world.wall(), needed)
            self._note_failures(wanted, failed, now)
            if self._world.clock() - now > LONGEST_CLAIM_S:
                return

    def _recover_in_steps(self) -> Steps[None]:
        yield from self._claimer.recover_claims()

    def _note_failures(self, wanted: list[WantedDrop], failed: dict[str, str], now: float) -> None:
        for drop in wanted:
            if drop.path in failed:
                wait = min(LONGEST_WAIT_S, 2 * self._failed.get(drop.path, (FIRST_WAIT_S / 2, 0.0, ""))[0])
                self._failed[drop.path] = (wait, now + wait, failed[drop.path])
            else:
                self._failed.pop(drop.path, None)
        self._taken += len(wanted) - len(failed)

    def _forget_gone(self, entries: list[InboxEntry]) -> None:
        paths = {entry.path for entry in entries}
        self._failed = {path: kept for path, kept in self._failed.items() if path in paths}
        if not self._tables:
            return
        here = {self._places.inbox / path for entry in entries for path in (entry.path, *(f for f, _ in entry.files))}
        self._tables = {path: kept for path, kept in self._tables.items() if path in here}

    def _find_inbox(self, name: str) -> InboxSettings | None:
        """The inbox of that name; looked at once a turn, read again only when its desk.toml has changed."""
        if name not in self._asked:
            self._asked[name] = self._read_inbox(name)
        return self._asked[name]

    def _read_inbox(self, name: str) -> InboxSettings | None:
        folder = self._places.inbox / name if name else self._places.inbox
        try:
            facts = (folder / SETTINGS).lstat()
            mark: object = (facts.st_mtime_ns, facts.st_size, facts.st_ino)
        except OSError:
            mark = None
        known = self._inboxes.get(name)
        if known is None or known[0] != mark:
            if len(self._inboxes) > 1000:
                self._inboxes.clear()
            known = self._inboxes[name] = (mark, read_inbox(folder, name, self._profiles))
            if known[1] is not None and known[1].fault:
                self._say(f"in/{name}: {known[1].fault}")
        return known[1]

    def _find_table(self, path: Path, stamp: Stamp) -> NamedFiles | None:
        """What a batch file names; asks the maker once for each state of the file, and again where it failed."""
        known, mark = self._tables.get(path), (stamp, _read_kits_stamp(path))
        if known is None or known.mark != mark:
            known = self._tables[path] = _TableReading(mark)
        if known.named is None and not known.asked and self._world.clock() >= known.not_before:
            known.asked = True
            request = ReadTableJob(path, self._columns)
            self._maker.queue_request(request, lambda reply: self._take_table_reply(path, known, reply), urgent=True)
        return known.named

    def _take_table_reply(self, path: Path, reading: _TableReading, reply: Reply) -> None:
        """Take note of an answer. What is no fault of the file is tried again after a growing wait."""
        if self._tables.get(path) is not reading:
            return
        reading.asked = False
        if isinstance(reply, NamedFiles):
            reading.named = reply
            return
        why = reply.common if isinstance(reply, FailedJob) else ""
        reading.deaths += isinstance(reply, FailedJob) and reply.kind == "error"
        if reading.deaths >= MOST_READS:
            what = f"Reading it failed {reading.deaths} times: {why}. Save it anew, best as CSV with another program."
            reading.named = NamedFiles(fault=what)
            return
        reading.wait = min(LONGEST_WAIT_S, 2 * reading.wait)
        reading.not_before = self._world.clock() + reading.wait
        self._say(f"{path.name} could not be read and is read again in {reading.wait:.0f} s: {why}")


@dataclass(slots=True)
class _TableReading:
    """How far the reading of one state of a batch file is."""

    mark: Mark
    named: NamedFiles | None = None
    asked: bool = False
    deaths: int = 0
    wait: float = FIRST_WAIT_S / 2
    not_before: float = float("-inf")


def _read_kits_stamp(path: Path) -> Stamp | None:
    """Size and time of the kits beside a batch file, which name artwork of their own; None where there are none."""
    try:
        facts = path.with_name(KITS_FILE).lstat()
    except OSError:
        return None
    return facts.st_size, facts.st_mtime_ns


def make_placement_inboxes(places: DeskFolders, names: list[str]) -> None:
    """Folders for placements under `in/`, for people to drop into."""
    for name in names:
        if not is_temporary_name(name) and os.sep not in name:
            (places.inbox / name).mkdir(exist_ok=True)
