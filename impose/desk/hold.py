"""Waiting for company: which drops go now and which wait for others to share their sheets."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from impose.ledger.drops import Drop

Shares = Sequence[tuple[float, frozenset[int]]]
"""Of each sheet: its yield, and the drops that have a transfer on it."""


def find_full_enough(shares: Shares, fill: float) -> frozenset[int]:
    """The drops that lie, with every copy, on sheets at least `fill` full that hold nobody who has to wait.

    A drop is never split over two deliveries: so a sheet counts only if all its drops can go, and a drop goes only if
    all its sheets count.
    """
    sheets = [(yield_ >= fill, drops) for yield_, drops in shares]
    going = {drop for _, drops in sheets for drop in drops}
    while True:
        staying = {drop for full, drops in sheets if not full or not drops <= going for drop in drops}
        if not staying & going:
            return frozenset(going)
        going -= staying


class DropAges:
    """How long drops have waited: by the steady clock, and over a restart by the wall clock as far as it is sane."""

    def __init__(self) -> None:
        self._since: dict[int, float] = {}

    def note_waiting(self, drops: Iterable[Drop], now: float, wall: float) -> None:
        """Take note of what waits. A wall clock that was set back makes a drop young, never younger than new."""
        known = self._since
        self._since = {drop.id: known.get(drop.id, now - max(0.0, wall - drop.claimed_at)) for drop in drops}

    def measure_age(self, drop: Drop, now: float) -> float:
        """Seconds for which a drop has waited."""
        return now - self._since.get(drop.id, now)
