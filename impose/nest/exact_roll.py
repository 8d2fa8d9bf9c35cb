"""Whether a few pieces fit a box together, exactly: every arrangement there can be is tried or ruled out.

Any arrangement can be pushed together towards one corner, and its pieces then taken in an order in which each lies
beyond all before it: at an inner corner of the staircase that bounds everything before from above and from the right.
So it is enough to try every piece, either way round, at every inner corner of the staircase so far. S. Martello,
D. Pisinger and D. Vigo, The three-dimensional bin packing problem, Operations Research 48 (2000) 256-267, give the
corners. What lies behind the staircase is lost, and so is what no sum of lengths of pieces left can fill; where more is
lost than can be spared, or less was lost before with the same pieces left and in vain, a staircase is not followed.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from typing import NamedTuple

MOST = 9  # pieces; the ways to arrange more are too many

Size = tuple[int, int]
Laid = tuple[int, int, int, int, int]  # piece, x, y, width, height as placed
Steps = tuple[Size, ...]  # (from, top): each step of the staircase is lower than the one before


class _NextPiece(NamedTuple):
    """One more piece laid: what is lost then, which piece, where, how, and the staircase."""

    lost: int
    piece: int
    corner: Size
    way: Size
    steps: Steps


class StripFitting:
    """The search for an arrangement of pieces, each with its one or two (width, height), in boxes of one width.

    `nodes` is how many more staircases may be looked at, none once it is `over`; then an answer of None means nothing.
    """

    def __init__(
        self, lie: Sequence[Sequence[Size]], width: int, nodes: int, over: Callable[[], bool] | None = None
    ) -> None:
        order = sorted(range(len(lie)), key=lambda i: (-lie[i][0][0] * lie[i][0][1], sorted(lie[i]), i))
        self.names = order
        self.lie = [tuple(dict.fromkeys(lie[i])) for i in order]
        self.area = [ways[0][0] * ways[0][1] for ways in self.lie]
        self.alike = [i > 0 and set(self.lie[i]) == set(self.lie[i - 1]) for i in range(len(order))]
        self.nodes, self.over = nodes, over
        self.width = max(list_sums(width, [[w for w, _ in ways] for ways in self.lie]))
        self.height = 0
        self.failed: dict[int, list[Steps]] = {}
        self.sums: dict[int, tuple[list[int], list[int]]] = {}
        self.laid: list[Laid] = []

    def find_within(self, height: int) -> list[Laid] | None:
        """The pieces within that height, or None: then there is no such arrangement, unless the nodes are spent."""
        self.height = max(list_sums(height, [[h for _, h in ways] for ways in self.lie]))
        self.failed, self.sums, self.laid = {}, {}, []
        if self.width * self.height < sum(self.area) or not self._lay_pieces((1 << len(self.lie)) - 1, ((0, 0),)):
            return None
        return [(self.names[i], x, y, w, h) for i, x, y, w, h in self.laid]

    def _lay_pieces(self, left: int, steps: Steps) -> bool:
        """Whether what is left was laid beyond the staircase; `laid` says how."""
        if not left:
            return True
        if self.over is not None and self.over():
            self.nodes = 0
        if self.nodes <= 0:
            return False
        failed = self.failed.setdefault(left, [])
        if any(is_behind(other, steps) for other in failed):
            return False
        self.nodes -= 1
        for _, i, corner, way, after in sorted(self._list_next_pieces(left, steps)):
            self.laid.append((i, *corner, *way))
            if self._lay_pieces(left ^ 1 << i, after):
                return True
            self.laid.pop()
        failed.append(steps)
        return False

    def _list_next_pieces(self, left: int, steps: Steps) -> list[_NextPiece]:
        """The ways to lay one more piece; none where one of those left fits at no corner."""
        pieces = [i for i in range(len(self.lie)) if left >> i & 1]
        spare = self.width * self.height - sum([self.area[i] for i in pieces])
        found: list[_NextPiece] = []
        before = -1
        for i in pieces:
            same, before = self.alike[i] and before == i - 1, i
            if same:  # equal pieces are taken in order
                continue
            corners = [
                (x, y, w, h) for w, h in self.lie[i] for x, y in steps if x + w <= self.width and y + h <= self.height
            ]
            if not corners:
                return []
            across, down = self._list_reaches(left ^ 1 << i)
            for x, y, w, h in corners:
                if i == 0 and (2 * x > self.width - w or 2 * y > self.height - h):
                    continue  # mirrored, the largest piece lies in the nearer half
                after = raise_staircase(steps, x + w, y + h)
                lost = self._measure_lost_area(after, across, down)
                if lost <= spare + self.area[i]:
                    found.append(_NextPiece(lost, i, (x, y), (w, h), after))
        return found

    def _measure_lost_area(self, steps: Steps, across: list[int], down: list[int]) -> int:
        """Area that nothing left can cover: columns above each step and rows beside it hold sums of lengths only."""
        columns = rows = 0
        right, above = self.width, self.height
        for x, top in reversed(steps):
            columns += (right - x) * (self.height - down[bisect_right(down, self.height - top) - 1])
            right = x
        for x, top in steps:
            rows += (above - top) * (self.width - across[bisect_right(across, self.width - x) - 1])
            above = top
        return max(columns, rows + above * self.width)

    def _list_reaches(self, left: int) -> tuple[list[int], list[int]]:
        """All sums of lengths that rows and columns of what is left can have, ascending."""
        known = self.sums.get(left)
        if known is None:
            ways = [self.lie[i] for i in range(len(self.lie)) if left >> i & 1]
            across = list_sums(self.width, [[w for w, _ in way] for way in ways])
            down = list_sums(self.height, [[h for _, h in way] for way in ways])
            known = self.sums[left] = sorted(across), sorted(down)
        return known


def raise_staircase(steps: Steps, right: int, top: int) -> Steps:
    """The staircase once everything left of `right` and below `top` is behind it too."""
    higher = [step for step in steps if step[1] > top]
    start = next(x for x, y in steps if y <= top)
    low = next(y for x, y in reversed(steps) if x <= right)
    beyond = [step for step in steps if step[0] > right]
    return (*higher, (start, top), (right, low), *beyond)


def is_behind(steps: Steps, other: Steps) -> bool:
    """Whether what is behind one staircase is behind the other too."""
    at = len(steps) - 1
    for x, top in reversed(other):  # from there to the next step the one is highest here, as it falls
        while steps[at][0] > x:
            at -= 1
        if steps[at][1] > top:
            return False
    return True


def list_sums(room: int, lengths: Sequence[Sequence[int]]) -> set[int]:
    """What pieces in a row, each one of its lengths long or left out, can add up to within `room`."""
    found = {0}
    for ways in lengths:
        found |= {at + length for at in found for length in ways if at + length <= room}
    return found
