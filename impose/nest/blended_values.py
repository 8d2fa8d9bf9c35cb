"""What pieces are worth on several papers: of how much of each pair of functions the values of a bound are made."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import mul
from typing import TYPE_CHECKING

from impose.nest.compiled import find_loops
from impose.nest.compiled_bounds import FUNCTIONS_MOST, climb_blend_compiled

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Wholes = NDArray[np.int64]

CLIMBS = 300  # steps of climbing to the best blend
SHARES = 1 << 20
COARSE = 1 << 20  # the greatest value while climbing
LOST = 1 << 62  # more than any value


def blend_functions(
    tables: Sequence[Sequence[Sequence[int | None]]], counts: Sequence[int], look: Callable[[], None]
) -> list[list[int]]:
    """How much of each function each paper's values are made of, in parts of `SHARES`.

    A piece is worth what it is worth on the paper where it is worth least, so what one function sees on one paper is
    lost where another paper's function is blind to it; blends see more. Found by climbing: functions that would raise
    the total at present get more weight (the multiplicative weights method); the best blend met is taken. `look` is
    called now and then, and may raise.
    """
    coarse = max(v for table in tables for row in table for v in row if v is not None) // COARSE + 1
    worths = [[[(v or 0) // coarse for v in row] for row in table] for table in tables]
    absent = [[v is None for v in table[0]] for table in tables]
    # each paper's best function alone is the first tried, and the last where there is but one paper
    best = [_choose_best(rows, counts) for rows in worths]
    if len(tables) == 1:
        return best
    # No blend makes a piece worth more than the best function for it alone: there is nothing beyond that to climb to.
    bests = [
        [LOST if gone else SHARES * max(column) for gone, column in zip(a, zip(*rows, strict=True), strict=True)]
        for a, rows in zip(absent, worths, strict=True)
    ]
    most = sum(n * min(column) for n, column in zip(counts, zip(*bests, strict=True), strict=True))
    loops = find_loops()
    if loops is None or max(map(len, tables)) > FUNCTIONS_MOST:
        return _climb_blend(worths, absent, counts, best, most, look)
    return climb_blend_compiled(loops, worths, absent, counts, best, most, CLIMBS, look)


def _choose_best(rows: Sequence[Sequence[int]], counts: Sequence[int]) -> list[int]:
    """All of the function that makes the pieces worth most, the first of equals."""
    totals = [sum(map(mul, row, counts)) for row in rows]
    best = totals.index(max(totals))
    return [SHARES * (n == best) for n in range(len(rows))]


def _climb_blend(
    given: Sequence[Sequence[Sequence[int]]],
    nowhere: Sequence[Sequence[bool]],
    number: Sequence[int],
    first: Sequence[Sequence[int]],
    most: int,
    look: Callable[[], None],
) -> list[list[int]]:
    """The best weights met while climbing from the first ones: whole numbers, the same on every machine."""
    import numpy as np

    counts = np.array(number, dtype=np.int64)
    worths, absent = [np.array(rows, dtype=np.int64) for rows in given], [np.array(a) for a in nowhere]
    best, weights = -1, [np.array(weight, dtype=np.int64) for weight in first]
    found = weights
    for turn in range(CLIMBS):
        look()
        values = np.array([np.where(a, LOST, w @ v) for w, v, a in zip(weights, worths, absent, strict=True)])
        total = int(counts @ values.min(axis=0))
        if total > best:
            best, found = total, weights
        if best == most:
            break
        if not turn:
            weights = [np.full(len(w), SHARES // len(w), dtype=np.int64) for w in worths]
            continue
        least = values.argmin(axis=0)
        slopes = [v @ (counts * (least == s)) for s, v in enumerate(worths)]
        weights = [_update_weights(w, slope, turn) for w, slope in zip(weights, slopes, strict=True)]
    return [[int(w) for w in weight] for weight in found]


def _update_weights(weight: Wholes, slope: Wholes, turn: int) -> Wholes:
    """More weight where the slope is steep, less and less so from turn to turn; the sum stays at most `SHARES`."""
    slope = slope * 1024 // max(1, int(slope.max()))
    grown = weight * (1024 * (16 + turn) + 64 * slope) >> 10
    return grown * SHARES // int(grown.sum())
