"""Whether a few pieces fit a box together, exactly: every arrangement there can be is tried or ruled out.

Any arrangement can be pushed to the left, until each piece begins at the edge or where another one ends (J. C. Herz,
Recursive computational procedure for two-dimensional stock cutting, IBM Journal 16 (1972) 462-469). So the box is swept
from left to right, and at each such place it is decided which pieces begin, so that what stands in a column is never
higher than the box. Columns too low to be filled are lost; where more is lost than can be spared, or what is left was
tried in vain from there before, a sweep is not followed. How the pieces lie above each other is asked last, once all of
them have their columns: J.-F. Cote, M. Dell'Amico and M. Iori, Combinatorial Benders' cuts for the strip packing
problem, Operations Research 62 (2014) 643-661, part the problem in that way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from impose.nest.compiled_exact import fit_box_compiled
from impose.nest.row_lengths import find_reachable_length

SURE = 9  # pieces: of so many the shortest length is proven, as a rule
MOST = 12  # pieces: of so many shorter lengths are found, seldom proven shortest; more have too many arrangements

PAUSE = 256  # beginnings between looks at the clock

Size = tuple[int, int]
Laid = tuple[int, int, int, int, int]  # piece, x, y, width, height as placed
Standing = tuple[Size, ...]  # what stands where the sweep is: (where it ends, its height)


class _Span(NamedTuple):
    """Where a piece begins, and its width and height as placed."""

    x: int
    width: int
    height: int


class StripFitting:
    """The search for an arrangement of pieces, each with its one or two (width, height), in boxes of one width.

    `nodes` is how many more places may be looked at, none once it is `over`; then an answer of None means nothing.
    """

    def __init__(
        self, lie: Sequence[Sequence[Size]], width: int, nodes: int, over: Callable[[], bool] | None = None
    ) -> None:
        self.lie, self.width, self.nodes, self.over = lie, width, nodes, over

    def find_within(self, height: int) -> list[Laid] | None:
        """The pieces within that height, or None: then there is no such arrangement, unless the nodes are spent."""
        # What stands across the shorter side soon fills it: a third of the places are looked at, of sets on A3 sheets.
        if height <= self.width:
            return self._search_box(self.lie, self.width, height)
        laid = self._search_box([[(h, w) for w, h in ways] for ways in self.lie], height, self.width)
        return None if laid is None else [(name, y, x, h, w) for name, x, y, w, h in laid]

    def _search_box(self, lie: Sequence[Sequence[Size]], width: int, height: int) -> list[Laid] | None:
        sweep = _BoxSweep(lie, width, height, self.nodes, self.over)
        laid = sweep.find_arrangement()
        self.nodes = sweep.nodes
        return laid


class _BoxSweep:
    """The sweep of one box from left to right."""

    def __init__(
        self,
        lie: Sequence[Sequence[Size]],
        width: int,
        height: int,
        nodes: int,
        over: Callable[[], bool] | None,
    ) -> None:
        order = sorted(range(len(lie)), key=lambda i: (-lie[i][0][0] * lie[i][0][1], sorted(lie[i]), i))
        self.names = order
        self.lie = [tuple(dict.fromkeys(lie[i])) for i in order]
        self.alike = [i > 0 and set(self.lie[i]) == set(self.lie[i - 1]) for i in range(len(order))]
        self.area = sum([ways[0][0] * ways[0][1] for ways in self.lie])
        self.nodes, self.over = nodes, over
        self.width = find_reachable_length(width, [([w for w, _ in ways], 1) for ways in self.lie])
        self.height = find_reachable_length(height, [([h for _, h in ways], 1) for ways in self.lie])
        self.spans: list[_Span] = [_Span(0, 0, 0)] * len(order)
        self.bottoms = [0] * len(order)
        self.begun = 0  # beginnings of pieces tried
        self.swept = 0  # sweeps that gave every piece its columns
        self.failed: dict[tuple[int, Standing, int], int] = {}

    def find_arrangement(self) -> list[Laid] | None:
        """The pieces in the box, or None: then there is no such arrangement, unless the nodes are spent."""
        if self.over is not None and self.over():
            self.nodes = -1
            return None
        spare = self.width * self.height - self.area
        box = (self.width, self.height)
        done = None if spare < 0 else fit_box_compiled(self.lie, self.alike, box, spare, self.nodes, self.over)
        if done is not None:
            places, self.nodes = done
            return None if places is None else [(n, *place) for n, place in zip(self.names, places, strict=True)]
        if spare < 0 or not self._sweep_from(0, (), (1 << len(self.lie)) - 1, spare):
            return None
        return [
            (name, span.x, y, span.width, span.height)
            for name, span, y in zip(self.names, self.spans, self.bottoms, strict=True)
        ]

    def _spend_node(self) -> bool:
        """Whether one more place may be looked at."""
        if self.over is not None and self.over():
            self.nodes = 0
        self.nodes -= 1
        return self.nodes >= 0

    def _sweep_from(self, x: int, standing: Standing, left: int, spare: int) -> bool:
        """Whether the pieces `left` go beyond `x`; `spare` is the area that may yet be lost."""
        key = x, standing, left
        if self.failed.get(key, -1) >= spare or not self._spend_node():
            return False
        before = self.swept
        if self._begin_pieces(x, standing, left, spare, 0):
            return True
        # Only what ran short of columns fails whatever stands to the left of it.
        if self.swept == before and self.nodes >= 0:
            self.failed[key] = spare
        return False

    def _begin_pieces(self, x: int, standing: Standing, left: int, spare: int, first: int) -> bool:
        """Whether it goes with more of the pieces from `first` on beginning at `x`, or with none of them."""
        free = self.height - sum([height for _, height in standing])
        for i, span in self._list_beginnings(x, left, free, first):
            self.begun += 1
            if not self.begun % PAUSE and self.over is not None and self.over():
                self.nodes = -1
            if self.nodes < 0:
                return False
            self.spans[i] = span
            began = (*standing, (x + span.width, span.height))
            if self._begin_pieces(x, began, left ^ 1 << i, spare, i + 1):
                return True
        if not standing:
            return False  # a piece would begin where none ends
        if not left:
            self.swept += 1
            return self._stack_columns()
        after = min([end for end, _ in standing])
        spare -= (after - x) * free
        if spare < 0:
            return False
        beyond = tuple(sorted([(end, height) for end, height in standing if end > after]))
        return self._sweep_from(after, beyond, left, spare)

    def _list_beginnings(self, x: int, left: int, free: int, first: int) -> Iterator[tuple[int, _Span]]:
        """The ways a piece can begin at `x` in columns with that much free height."""
        for i in range(first, len(self.lie)):
            if not left >> i & 1 or (self.alike[i] and left >> (i - 1) & 1):  # equal pieces are taken in order
                continue
            for width, height in self.lie[i]:
                if height > free or x + width > self.width:
                    continue
                if i == 0 and 2 * x > self.width - width:
                    continue  # mirrored, the largest piece lies in the nearer half
                yield i, _Span(x, width, height)

    def _stack_columns(self) -> bool:
        """Whether the pieces, each in its columns, lie above each other within the height; `bottoms` says how."""
        places = sorted({span.x for span in self.spans} | {span.x + span.width for span in self.spans})
        at = {x: number for number, x in enumerate(places)}
        reach = [range(at[span.x], at[span.x + span.width]) for span in self.spans]
        above = [0] * len(places)  # what has yet to lie in each column
        for columns, span in zip(reach, self.spans, strict=True):
            for column in columns:
                above[column] += span.height
        return self._lay_lowest((1 << len(self.spans)) - 1, 0, reach, [0] * len(places), above)

    def _lay_lowest(self, left: int, lowest: int, reach: list[range], tops: list[int], above: list[int]) -> bool:
        """Whether what is left can be laid on top, each piece no lower than the one before it.

        Pushed down, every piece rests on what is below it; so, taken from the bottom up, each has one place to go.
        """
        if not left:
            return True
        if not self._spend_node():
            return False
        for i, columns in enumerate(reach):
            if not left >> i & 1:
                continue
            bottom, height = max([tops[column] for column in columns]), self.spans[i].height
            if bottom < lowest or any(bottom + above[column] > self.height for column in columns):
                continue
            raised, rest = list(tops), list(above)
            for column in columns:
                raised[column] = bottom + height
                rest[column] -= height
            self.bottoms[i] = bottom
            if self._lay_lowest(left ^ 1 << i, bottom, reach, raised, rest):
                return True
        return False
