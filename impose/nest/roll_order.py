"""Few pieces on a roll, by order: pieces go down one after the other as low as they lie, and the order is improved.

Each piece lies as low as the outline of those before lets it, then as far left. An order is changed at random: two
pieces exchanged, one moved, one turned; the change is kept if the length grows by no more than a threshold that shrinks
to nothing (threshold accepting: G. Dueck and T. Scheuer, Journal of Computational Physics 90 (1990) 161-175). Of some
hundred arrangements tried in the time of one exact look, few are good; but of nine pieces it finds shorter rolls than
either search beside it (`exact_roll`, `lowest_gap`).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from impose.nest.exact_roll import Laid, Size

ORDERS = 9000  # orders tried in one run
RUNS = 4
ORDERS_A_STEP = 4  # that take about as long as a step
START = 0.05  # of the length: the threshold at first
LOOK = 64  # orders between looks at the clock
NO_LIMIT = 1 << 62


class RollOrder:
    """The search over orders of pieces, each with its one or two (width, height), on a roll of one width."""

    def __init__(self, lie: Sequence[Sequence[Size]], width: int, chance: random.Random) -> None:
        self.lie, self.width, self.chance = lie, width, chance
        self.tried = 0

    def find_shorter(self, known: int, least: int, orders: int, over: Callable[[], bool]) -> list[Laid] | None:
        """An arrangement shorter than `known`, or None; it ends at `least`, after so many orders, or once `over`."""
        best: list[tuple[int, Size]] | None = None
        for _ in range(RUNS):
            if known <= least or self.tried >= orders:
                break
            found = self._improve_order(known, least, min(ORDERS, max(1, orders // RUNS)), over)
            if found is not None:
                known, best = found
        return None if best is None else self._lay_pieces(best)

    def _improve_order(
        self, known: int, least: int, orders: int, over: Callable[[], bool]
    ) -> tuple[int, list[tuple[int, Size]]] | None:
        """One run from the largest pieces first: a length below `known`, and its order with the way each piece lies."""
        order = sorted(
            ((i, ways[0]) for i, ways in enumerate(self.lie)), key=lambda entry: (-entry[1][0] * entry[1][1], entry)
        )
        length = measure_order([way for _, way in order], self.width, NO_LIMIT)
        best: tuple[int, list[tuple[int, Size]]] | None = None
        draw = self.chance.random
        for number in range(orders):
            if number % LOOK == 0 and over():
                break
            self.tried += 1
            if length < known:
                known, best = length, (length, order)
                if known <= least:
                    break
            threshold = START * length * (1 - number / orders) * draw() * draw()
            limit = length + int(threshold)
            changed = self._change_order(order)
            tried = measure_order([way for _, way in changed], self.width, limit)
            if tried <= limit:
                order, length = changed, tried
        return (length, order) if length < known else best

    def _change_order(self, order: Sequence[tuple[int, Size]]) -> list[tuple[int, Size]]:
        draw = self.chance.random
        new, count, choice = list(order), len(order), draw()
        i, j = int(draw() * count), int(draw() * count)
        if choice < 0.4:
            new[i], new[j] = new[j], new[i]
        elif choice < 0.7:
            new.insert(j, new.pop(i))
        if choice >= 0.6:
            piece, way = new[i]
            new[i] = piece, self.lie[piece][way == self.lie[piece][0] and len(self.lie[piece]) > 1]
        return new

    def _lay_pieces(self, order: Sequence[tuple[int, Size]]) -> list[Laid]:
        places: list[Size] = []
        measure_order([way for _, way in order], self.width, NO_LIMIT, places)
        return [(i, x, y, w, h) for (i, (w, h)), (x, y) in zip(order, places, strict=True)]


def measure_order(ways: Sequence[Size], width: int, limit: int, places: list[Size] | None = None) -> int:
    """The length of pieces laid in this order, or a length over `limit` as soon as it is; `places` takes where."""
    starts, tops, spans, length = [0], [0], [width], 0
    for wide, high in ways:
        low, at, steps = NO_LIMIT, 0, len(starts)
        for i in range(steps):
            if starts[i] + wide > width:
                break
            top, rest, j = tops[i], wide - spans[i], i
            while rest > 0:
                j += 1
                if tops[j] > top:
                    top = tops[j]
                rest -= spans[j]
            if top < low:
                low, at = top, i
        start, top = starts[at], low + high
        if places is not None:
            places.append((start, low))
        if top > length:
            length = top
            if length > limit:
                return length
        _raise_steps(starts, tops, spans, at, wide, top)
    return length


def _raise_steps(starts: list[int], tops: list[int], spans: list[int], at: int, wide: int, top: int) -> None:
    """The outline with a piece on it, from the step at which it begins."""
    start, end, j = starts[at], starts[at] + wide, at
    while j < len(starts) and starts[j] + spans[j] <= end:
        j += 1
    new = [(start, top, wide)]
    if j < len(starts) and starts[j] < end:
        new.append((end, tops[j], starts[j] + spans[j] - end))
        j += 1
    starts[at:j] = [step[0] for step in new]
    tops[at:j] = [step[1] for step in new]
    spans[at:j] = [step[2] for step in new]
