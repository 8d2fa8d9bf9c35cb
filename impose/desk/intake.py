"""From the inbox to claimed drops: list, sort, claim; with what could not be taken tried again after a growing wait."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from impose.desk.claim import Claimer
from impose.desk.inbox import Inbox, read_inbox
from impose.desk.make import Failed, ReadTable, Reply
from impose.desk.maker import Maker
from impose.desk.names import SETTINGS, is_passing
from impose.desk.places import Places
from impose.desk.scan import Entry, Stamp
from impose.desk.sort import Sorter
from impose.desk.want import Named, Rules, Sorted, Waiting
from impose.desk.world import World
from impose.ledger.drops import Wanted
from impose.shop.profiles import Profiles

CLAIMED_TOGETHER = 64  # the ledger is synced once for all of them
MOST_LOOKED = 512  # files read through in one turn
LONGEST_TURN_S = 1.0  # a long inbox takes long to list, so a turn does much; but replies and signals wait for its end
FIRST_WAIT_S, LONGEST_WAIT_S = 5.0, 300.0


class Intake:
    """The way in. `last` is what the newest scan found to be waiting."""

    def __init__(
        self,
        places: Places,
        world: World,
        rules: Rules,
        profiles: Profiles,
        claimer: Claimer,
        maker: Maker,
        columns: Path | None,
        say: Callable[[str], None],
    ) -> None:
        self._places, self._world, self._profiles = places, world, profiles
        self._claimer, self._maker, self._columns, self._say = claimer, maker, columns, say
        self._sorter = Sorter(places.inbox, rules, self._inbox_of, self._table)
        self._tables: dict[Path, tuple[Stamp, Named | None]] = {}
        self._asked: dict[str, Inbox | None] = {}
        self._inboxes: dict[str, tuple[object, Inbox | None]] = {}
        self._failed: dict[str, tuple[float, float, str]] = {}
        self.last = Sorted()
        self.only_stuck = False

    def turn(self) -> int:
        """List, sort, and claim what is ready; the number of drops claimed. Raises `OSError` where the desk fails."""
        now = self._world.clock()
        self._asked.clear()
        entries = self._world.listing(self._places.inbox, self._inbox_of)
        self._forget(entries)
        result = self._sorter.sort(entries, now, MOST_LOOKED)
        # What failed to be taken is let rest: its reason is more use to a person than a hundred more tries.
        ready = [one for one in result.wanted if self._failed.get(one.path, (0.0, now, ""))[1] <= now]
        moving = bool(result.waiting)
        for path, (_, until, why) in self._failed.items():
            if until > now:
                result.waiting.append(Waiting(path, f"{why}; tried again in {until - now:.0f} s"))
        self.last = result
        self.only_stuck = not moving and not ready
        if not ready:
            return 0
        taken = 0
        for first in range(0, len(ready), CLAIMED_TOGETHER):
            taken += self._claim(ready[first : first + CLAIMED_TOGETHER], now)
            if self._world.clock() - now > LONGEST_TURN_S:
                break
        return taken

    def _claim(self, wanted: list[Wanted], now: float) -> int:
        failed = self._claimer.claim(wanted, self._world.wall())
        for one in wanted:
            if one.path in failed:
                wait = min(LONGEST_WAIT_S, 2 * self._failed.get(one.path, (FIRST_WAIT_S / 2, 0.0, ""))[0])
                self._failed[one.path] = (wait, now + wait, failed[one.path])
            else:
                self._failed.pop(one.path, None)
        return len(wanted) - len(failed)

    def _forget(self, entries: list[Entry]) -> None:
        paths = {entry.path for entry in entries}
        self._failed = {path: kept for path, kept in self._failed.items() if path in paths}
        if not self._tables:
            return
        here = {self._places.inbox / path for entry in entries for path in (entry.path, *(f for f, _ in entry.files))}
        self._tables = {path: kept for path, kept in self._tables.items() if path in here}

    def _inbox_of(self, name: str) -> Inbox | None:
        """The inbox of that name; looked at once a turn, read again only when its desk.toml has changed."""
        if name not in self._asked:
            self._asked[name] = self._look(name)
        return self._asked[name]

    def _look(self, name: str) -> Inbox | None:
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

    def _table(self, path: Path, stamp: Stamp) -> Named | None:
        """What a batch file names; asks the maker once for each state of the file."""
        known = self._tables.get(path)
        if known is None or known[0] != stamp:
            self._tables[path] = (stamp, None)
            self._maker.ask(ReadTable(path, self._columns), lambda reply: self._read(path, stamp, reply), urgent=True)
            return None
        return known[1]

    def _read(self, path: Path, stamp: Stamp, reply: Reply) -> None:
        if self._tables.get(path, (None,))[0] != stamp:
            return
        if isinstance(reply, Named):
            self._tables[path] = (stamp, reply)
        elif isinstance(reply, Failed):
            self._tables[path] = (stamp, Named(fault=f"It cannot be read as a batch file. {reply.common}"))


def make_inboxes(places: Places, names: list[str]) -> None:
    """Folders for placements under `in/`, for people to drop into."""
    for name in names:
        if not is_passing(name) and os.sep not in name:
            (places.inbox / name).mkdir(exist_ok=True)
