"""At rest or not: how long each thing in the inbox has kept its stamp, by a clock that cannot be set.

Only the watcher's own monotonic clock is asked, never a file's time against the wall clock: a share's clock may be
wrong, and the computer's may jump.
"""

from __future__ import annotations

from collections.abc import Iterable

from impose.desk.scan import InboxEntry, Stamp

TIMES = 10
LEAST_S = 10.0


def compute_long_rest(settle_s: float) -> float:
    """How long a thing must be at rest, in seconds, before being not whole is held against it."""
    return max(LEAST_S, TIMES * settle_s)


class RestTimer:
    """Remembers stamps between scans; holds no more than what lies in the inbox."""

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
