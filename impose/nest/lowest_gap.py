"""Few pieces within a height, by trying: the lowest gap takes each piece in turn, at either end and either way round.

Or it is given up to its lower neighbour, as long as that leaves area enough. It looks at several times as many
arrangements in the same time as `fitting` and finds most of what there is; that it finds none proves nothing, since a
piece in the middle of a gap is never tried.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence

from impose.nest.exact_roll import Laid, Size, list_sums
from impose.nest.roll_beam import Outline, raise_outline


class LowestGapSearch:
    """The search for an arrangement of pieces, each with its one or two (width, height), in boxes of one width."""

    def __init__(self, lie: Sequence[Sequence[Size]], width: int, over: Callable[[], bool]) -> None:
        order = sorted(range(len(lie)), key=lambda i: (-lie[i][0][0] * lie[i][0][1], sorted(lie[i]), i))
        self.names, self.width, self.over = order, width, over
        self.lie = [tuple(dict.fromkeys(lie[i])) for i in order]
        self.alike = [i > 0 and set(self.lie[i]) == set(self.lie[i - 1]) for i in range(len(order))]
        self.area = sum(ways[0][0] * ways[0][1] for ways in self.lie)
        self.rows: dict[int, list[int]] = {}
        self.height = self.nodes = 0
        self.seen: set[tuple[int, Outline]] = set()
        self.laid: list[Laid] = []

    def fit_within(self, height: int, nodes: int) -> list[Laid] | None:
        """The pieces within that height, or None where that many nodes found none."""
        self.height, self.nodes = max(list_sums(height, [[h for _, h in ways] for ways in self.lie])), nodes
        self.seen, self.laid = set(), []
        spare = self.width * self.height - self.area
        if spare < 0 or not self._place_rest((1 << len(self.lie)) - 1, ((0, 0, self.width),), spare):
            return None
        return [(self.names[i], x, y, w, h) for i, x, y, w, h in self.laid]

    def _place_rest(self, left: int, outline: Outline, spare: int) -> bool:
        if not left:
            return True
        if self.nodes <= 0 or (left, outline) in self.seen:
            return False
        self.seen.add((left, outline))
        self.nodes = 0 if self.over() else self.nodes - 1
        low = min(outline)
        at = outline.index(low)
        top, x, gap = low
        ends = [outline[i][0] for i in (at - 1, at + 1) if 0 <= i < len(outline)]
        rise = min([self.height, *ends]) - top
        rows = self._list_row_sums(left)
        if (gap - rows[bisect_right(rows, gap) - 1]) * rise > spare:
            return False  # no row of what is left fills so much of the gap
        for i, w, h in self._list_candidates(left, gap, self.height - top):
            for start in dict.fromkeys((x, x + gap - w)) if len(outline) > 1 else (x,):
                self.laid.append((i, start, top, w, h))
                if self._place_rest(left ^ 1 << i, raise_outline(outline, at, start, w, top + h), spare):
                    return True
                self.laid.pop()
        if top + rise == self.height or rise * gap > spare:
            return False
        return self._place_rest(left, raise_outline(outline, at, x, gap, top + rise), spare - rise * gap)

    def _list_candidates(self, left: int, gap: int, room: int) -> Iterator[tuple[int, int, int]]:
        """The ways to fill the gap, largest piece first; of equal pieces only the first."""
        before = -1
        for i, ways in enumerate(self.lie):
            if not left >> i & 1:
                continue
            same, before = self.alike[i] and before == i - 1, i
            for w, h in () if same else ways:
                if w <= gap and h <= room:
                    yield i, w, h

    def _list_row_sums(self, left: int) -> list[int]:
        """All sums of widths that rows of what is left can have, ascending."""
        known = self.rows.get(left)
        if known is None:
            widths = [[w for w, _ in self.lie[i]] for i in range(len(self.lie)) if left >> i & 1]
            known = self.rows[left] = sorted(list_sums(self.width, widths))
        return known
