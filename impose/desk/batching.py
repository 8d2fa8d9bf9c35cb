"""Which waiting drops go into the next delivery: the oldest that may, with those that may share its sheets."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from impose.desk.hold import DropAges, Shares, find_full_enough
from impose.ledger.drops import Drop

Try = Callable[[Sequence[Drop], Callable[[Shares | None], None]], None]
"""Asks how full the sheets of some drops would be; told later, None if one of them has a fault."""


class BatchChooser:
    """Remembers how long drops have waited, and which company was weighed last."""

    def __init__(self, settle_s: float, fill: float, most: int, ask: Try) -> None:
        self._settle_s, self._fill, self._most, self._ask = settle_s, fill, most, ask
        self._ages = DropAges()
        self._wished: frozenset[int] = frozenset()
        self._weighed: dict[str, tuple[frozenset[int], frozenset[int]]] = {}

    def note_waiting(self, drops: Sequence[Drop], now: float, wall: float) -> None:
        """Take note of what waits."""
        self._ages.note_waiting(drops, now, wall)
        groupings = {drop.grouping for drop in drops}
        self._weighed = {name: kept for name, kept in self._weighed.items() if name in groupings}

    def release_now(self, drops: Sequence[Drop]) -> None:
        """A person wants these now."""
        self._wished = frozenset(drop.id for drop in drops)

    def choose_drops(self, drops: Sequence[Drop], unsure: set[str], now: float) -> list[Drop]:
        """The drops of the next delivery; `unsure` are inboxes where more is just arriving."""
        seen: set[str] = set()
        for drop in drops:
            hold_s = drop.wish.get("hold_s") or 0.0
            if drop.alone or (drop.kind != "png" and not hold_s):
                return [drop]
            if drop.grouping in seen:
                continue
            seen.add(drop.grouping)
            mates = [d for d in drops if d.grouping == drop.grouping and not d.alone and (hold_s or d.kind == "png")]
            mates = mates[: self._most]
            going = self._apply_hold(mates, hold_s, now) if hold_s else self._wait_for_quiet(mates, unsure, now)
            if going:
                return going
        return []

    def _wait_for_quiet(self, mates: list[Drop], unsure: set[str], now: float) -> list[Drop]:
        """Those that came together are made together: wait a little while more is arriving in the same folder."""
        oldest = max(self._ages.measure_age(drop, now) for drop in mates)
        arriving = {inbox_of(drop) for drop in mates} & unsure
        if arriving and len(mates) < self._most and oldest < 5 * self._settle_s:
            return []
        return mates

    def _apply_hold(self, mates: list[Drop], hold_s: float, now: float) -> list[Drop]:
        """Those wished for; or all, if the oldest has waited long enough; or those that fill their sheets."""
        wished = [drop for drop in mates if drop.id in self._wished]
        if wished:
            return wished
        if max(self._ages.measure_age(drop, now) for drop in mates) >= hold_s or len(mates) >= self._most:
            return mates
        numbers, grouping = frozenset(drop.id for drop in mates), mates[0].grouping
        weighed, ready = self._weighed.get(grouping, (frozenset(), frozenset()))
        if numbers == weighed:
            return [drop for drop in mates if drop.id in ready]
        if self._fill < 1.0:
            self._ask(mates, lambda shares: self._weigh_fill(grouping, numbers, shares))
        return []

    def _weigh_fill(self, grouping: str, numbers: frozenset[int], shares: Shares | None) -> None:
        # A fault will be met, and said at its drop, when they are made.
        ready = numbers if shares is None else find_full_enough(shares, self._fill)
        self._weighed[grouping] = (numbers, ready)


def inbox_of(drop: Drop) -> str:
    """The folder under `in/` that a drop lay in."""
    return drop.path.rpartition("/")[0]
