"""Lower bounds: no nesting can cost less, whatever the search finds.

Each piece gets a value such that the pieces on any one sheet are together worth at most what the sheet costs; then
all the paper costs at least what all pieces are worth. Values come from pairs of dual feasible functions (`duals`),
least over the ways a piece may lie. All that counts is done in whole numbers and rounded down; floating point only
chooses which functions to look at.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import gcd
from typing import TYPE_CHECKING

from impose.nest.dual_feasible import DualFunction, array_of, list_weighed_duals
from impose.nest.instance import NestingInstance, PieceSize
from impose.nest.model import UM_PER_METRE
from impose.nest.row_lengths import find_reachable_length
from impose.values import FrozenStruct, replace

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Wholes = NDArray[np.int64]

FINE = 1 << 40  # values are kept in this fraction of a cost unit, rounded down
MOST_PAIRS = 24  # pairs of functions that a bound is blended of
MANY = 600  # different sizes looked at when choosing functions: of more, every second, every third, ...
CLIMBS = 300  # steps of climbing to the best blend
SHARES = 1 << 20
COARSE = 1 << 20  # the greatest value while climbing
LOST = 1 << 62  # more than any value
SUMS_MOST = 4_000_000  # of the greatest unit that all prices are whole in; sums of more are not looked at
SCREENED = 12_000_000  # products looked at when choosing functions


class _Stopped(Exception):
    """The caller wants no more."""


class _StopCheck(FrozenStruct):
    """What is asked now and then whether to go on; equal to every other, so that what is cached holds for all."""

    stop: Callable[[], bool] | None = None

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _StopCheck)

    def __hash__(self) -> int:
        return hash(_StopCheck)

    def raise_if_stopped(self) -> None:
        """Raise `_Stopped` once the caller says so."""
        if self.stop is not None and self.stop():
            raise _Stopped


NEVER = _StopCheck()


class OrientedLengths(FrozenStruct):
    """How the kinds may lie on one paper: for each kind its (across, down) lengths, one or two; none if it cannot."""

    width: int
    height: int  # for a roll without a greatest height: 0, and lengths down it count as they are
    lie: tuple[tuple[tuple[int, int], ...], ...]


def list_oriented_lengths(job: NestingInstance, stock: int, check: _StopCheck = NEVER) -> OrientedLengths:
    """Lengths on that paper, with the paper cut down to what rows and columns of these pieces can add up to."""
    paper = job.stocks[stock]
    return _list_oriented_lengths(job.kinds, job.counts, paper.width, paper.tallest, paper.height is None, check)


@lru_cache(maxsize=8)
def _list_oriented_lengths(
    kinds: tuple[PieceSize, ...],
    counts: tuple[int, ...],
    width: int,
    tallest: int | None,
    roll: bool,
    check: _StopCheck,
) -> OrientedLengths:
    """The same whatever the paper costs."""
    lie = tuple(
        tuple(
            (w, h)
            for w, h in ([(kind.width, kind.height), (kind.height, kind.width)] if kind.turn else [kind[:2]])
            if w <= width and (tallest is None or h <= tallest)
        )
        for kind in kinds
    )
    rows, columns = (
        [([way[axis] for way in both], n) for both, n in zip(lie, counts, strict=True) if both] for axis in (0, 1)
    )
    across = find_reachable_length(width, rows, check.raise_if_stopped)
    if roll:
        return OrientedLengths(across, 0, lie)
    assert tallest is not None
    return OrientedLengths(across, find_reachable_length(tallest, columns, check.raise_if_stopped), lie)


def bound_by_area(job: NestingInstance) -> tuple[int, int]:
    """Lower bounds on the cost and on the number of sheets from the area of the pieces alone."""
    if not job.piece_count:
        return 0, 0
    area = sum(width * height * count for (width, height, _), count in zip(job.kinds, job.counts, strict=True))
    if any(stock.height is None for stock in job.stocks):
        return 0, 1
    rooms = [(stock.width * (stock.height or 0), stock.cost) for stock in job.stocks]
    fewest = max(1, -(-area // max(room for room, _ in rooms)))
    return (fewest * rooms[0][1] if len(rooms) == 1 else min(-(-area * price // room) for room, price in rooms)), fewest


def bound_sheets(job: NestingInstance, stock: int, stop: Callable[[], bool] | None = None) -> int:
    """Fewest sheets of one paper that could hold every piece; 0 for a roll, whose pieces can be any length.

    Once `stop` says so it is the number by area alone.
    """
    try:
        return _bound_sheets(job, stock, _StopCheck(stop))
    except _Stopped:
        alone = replace(job, stocks=(job.stocks[stock],))
        return bound_by_area(alone)[1] if job.stocks[stock].height is not None else 0


@lru_cache(maxsize=4)
def _bound_sheets(job: NestingInstance, stock: int, check: _StopCheck) -> int:
    lying = list_oriented_lengths(job, stock, check)
    if lying.height == 0:
        return 0
    best = 1 if job.piece_count else 0
    for f, g in choose_dual_pairs(job, lying, 6 if len(job.kinds) <= MANY else 3, check):
        check.raise_if_stopped()
        weight = sum(n * count for n, count in zip(job.counts, weigh_kinds(f, g, lying), strict=True))
        best = max(best, -(-weight // (f.whole * g.whole)))
    return best


def weigh_kinds(f: DualFunction, g: DualFunction, lying: OrientedLengths) -> list[int]:
    """What each kind weighs, the way round in which it weighs least; 0 where the paper does not take it."""
    import numpy as np

    first, last = (
        array_of([w for way in lying.lie for w in (way[i] if way else (0, 0))], _find_top(lying)) for i in (0, -1)
    )
    least = np.minimum(*(f.weigh_all(corner[::2]) * g.weigh_all(corner[1::2]) for corner in (first, last)))
    found: list[int] = least.tolist()
    return [worth if way else 0 for worth, way in zip(found, lying.lie, strict=True)]


def _find_top(lying: OrientedLengths) -> int:
    """The greatest length that counts: on a roll without end, that of the longest piece."""
    return max([lying.width, lying.height, *(h for way in lying.lie for _, h in way)])


def choose_dual_pairs(
    job: NestingInstance, lying: OrientedLengths, most: int, check: _StopCheck = NEVER
) -> list[tuple[DualFunction, DualFunction]]:
    """The most promising pairs of functions for one paper, best first; the plain pair (area) is always among them."""
    ranked, plain = _rank_dual_pairs(job.counts, lying, check)
    return [*ranked[:most], plain]


@lru_cache(maxsize=8)
def _rank_dual_pairs(
    counts: tuple[int, ...], lying: OrientedLengths, check: _StopCheck
) -> tuple[list[tuple[DualFunction, DualFunction]], tuple[DualFunction, DualFunction]]:
    """The best `MOST_PAIRS` pairs, and the plain one. They are the same whatever the paper costs."""
    import numpy as np

    kinds = [k for k, way in enumerate(lying.lie) if way]
    kinds = kinds[:: max(1, -(-len(kinds) // MANY))]
    per_axis = int(max(6, min(90, (SCREENED / max(1, len(kinds))) ** 0.5)))
    wide, high = (sorted({way[axis] for k in kinds for way in lying.lie[k]}) for axis in (0, 1))
    across, of_width = _weigh_lengths(wide, lying.width, per_axis, check)
    if lying.height:
        down, of_height = _weigh_lengths(high, lying.height, per_axis, check)
    else:
        down, of_height = [DualFunction(lambda h: h, lambda h: h, 1, 1)], np.array([high], dtype=np.float64)
    of_each = np.array([counts[k] for k in kinds], dtype=np.float64)
    at_width, at_height = ({length: n for n, length in enumerate(lengths)} for lengths in (wide, high))
    fa, fb = (of_width[:, [at_width[lying.lie[k][i][0]] for k in kinds]] for i in (0, -1))
    ga, gb = (of_height[:, [at_height[lying.lie[k][i][1]] for k in kinds]] for i in (0, -1))
    rows = []
    for i in range(len(across)):
        check.raise_if_stopped()
        rows.append(np.minimum(fa[i] * ga, fb[i] * gb) @ of_each)
    score = np.stack(rows)
    score = score.round(6)  # so that the last bits, which differ between machines, decide nothing
    order = np.argsort(-score, axis=None, kind="stable")[:MOST_PAIRS]
    chosen = [(across[i // len(down)], down[i % len(down)]) for i in order.tolist()]
    return chosen, (across[0], down[0])


def _weigh_lengths(lengths: list[int], top: int, most: int, check: _StopCheck) -> tuple[list[DualFunction], Floats]:
    """Functions for lengths up to `top`, and what each makes of these, all of which are distinct and within it."""
    import numpy as np

    weighed = list_weighed_duals(lengths, top, most, check.raise_if_stopped)
    return [dual for dual, _ in weighed], np.array([values for _, values in weighed], dtype=np.float64)


def forget_bounds() -> None:
    """Let go what is remembered of the last nestings: of 100,000 sizes 60 MB, which only nesting them again needs."""
    for remembered in (_list_oriented_lengths, _bound_sheets, _rank_dual_pairs, _compute_worths):
        remembered.cache_clear()


def bound_cost(job: NestingInstance, stop: Callable[[], bool] | None = None) -> int:
    """A lower bound on the cost of placing all pieces of the job, limits of the stock left out of account.

    Once `stop` says so it is the one by area alone.
    """
    if not job.piece_count:
        return 0
    if len(job.stocks) == 1 and job.stocks[0].height is not None:
        return bound_sheets(job, 0, stop) * job.stocks[0].cost
    try:
        worth, fine = _compute_worths(job, _StopCheck(stop))
    except _Stopped:
        return bound_by_area(job)[0]
    total = sum(n * value for n, value in zip(job.counts, worth, strict=True))
    return _round_up_to_attainable(job, max(-(-total // fine), _bound_dearest_alone(job)))


def compute_worths(job: NestingInstance, stop: Callable[[], bool] | None = None) -> tuple[list[int], int]:
    """What a piece of each kind is worth, and how many parts the cost unit has there.

    Pieces that share a sheet are together worth no more than it costs, whichever paper it is of. Once `stop` says so
    nothing is worth anything.
    """
    try:
        return _compute_worths(job, _StopCheck(stop))
    except _Stopped:
        return [0] * len(job.kinds), 1


@lru_cache(maxsize=4)
def _compute_worths(job: NestingInstance, check: _StopCheck) -> tuple[list[int], int]:
    tables = [_tabulate_values(job, stock, check) for stock in range(len(job.stocks))]
    return _compute_worth(job, tables, _blend_functions(job, tables, check)), FINE * SHARES


def _blend_functions(job: NestingInstance, tables: list[list[list[int | None]]], check: _StopCheck) -> list[list[int]]:
    """How much of each function each paper's values are made of, in parts of `SHARES`.

    A piece is worth what it is worth on the paper where it is worth least, so what one function sees on one paper is
    lost where another paper's function is blind to it; blends see more. Found by climbing: functions that would raise
    the total at present get more weight (the multiplicative weights method); the best blend met is taken.
    """
    import numpy as np

    coarse = max(v for table in tables for row in table for v in row if v is not None) // COARSE + 1
    counts = np.array(job.counts, dtype=np.int64)
    worths = [np.array([[(v or 0) // coarse for v in row] for row in table]) for table in tables]
    absent = [np.array([v is None for v in table[0]]) for table in tables]
    # each paper's best function alone is the first tried, and the last where there is but one paper
    best, found = -1, [np.eye(len(w), dtype=np.int64)[int((w @ counts).argmax())] * SHARES for w in worths]
    weights = found
    # No blend makes a piece worth more than the best function for it alone: there is nothing beyond that to climb to.
    bests = np.array([np.where(a, LOST, v.max(axis=0) * SHARES) for v, a in zip(worths, absent, strict=True)])
    most = int(counts @ bests.min(axis=0))
    for turn in range(CLIMBS if len(tables) > 1 else 1):  # whole numbers: the same on every machine
        check.raise_if_stopped()
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


def _bound_dearest_alone(job: NestingInstance) -> int:
    """Every piece lies on some paper: the dearest of what each would cost alone on its cheapest."""
    alone = []
    for width, height, turn in job.kinds:
        lie = [(width, height), (height, width)] if turn else [(width, height)]
        alone.append(min(s.compute_price(h) for s in job.stocks for w, h in lie if s.fits(w, h)))
    return max(alone)


def _tabulate_values(job: NestingInstance, stock: int, check: _StopCheck) -> list[list[int | None]]:
    """For each pair of functions tried, what each kind is worth on this paper; None where it does not fit."""
    paper = job.stocks[stock]
    lying = list_oriented_lengths(job, stock, check)
    out = []
    for f, g in choose_dual_pairs(job, lying, MOST_PAIRS if len(job.kinds) <= MANY else 6, check):
        check.raise_if_stopped()
        # on a roll `g` is the length itself, paid at the cost of a metre
        whole = f.whole * (g.whole if lying.height else UM_PER_METRE)
        per_kind = zip(weigh_kinds(f, g, lying), lying.lie, strict=True)
        out.append([paper.cost * FINE * weight // whole if way else None for weight, way in per_kind])
    return out


def _compute_worth(job: NestingInstance, tables: list[list[list[int | None]]], blend: list[list[int]]) -> list[int]:
    """What a piece of each kind is worth, by the paper on which it is worth least; in parts of `SHARES`."""
    total = []
    for k in range(len(job.kinds)):
        worth = []
        for table, shares in zip(tables, blend, strict=True):
            if table[0][k] is not None:
                worth.append(sum(share * (row[k] or 0) for row, share in zip(table, shares, strict=True) if share))
        total.append(min(worth))
    return total


def _round_up_to_attainable(job: NestingInstance, cost: int) -> int:
    """The least sum of sheet costs that is not below `cost`; with a roll any sum may occur."""
    if any(s.height is None for s in job.stocks) or not cost:
        return cost
    prices = sorted({s.cost for s in job.stocks if s.cost})
    if len(prices) == 1:
        return -(-cost // prices[0]) * prices[0]
    return _find_least_sum(prices, cost)


def _find_least_sum(prices: list[int], cost: int) -> int:
    """The least sum of prices (each any number of times) at or above `cost`."""
    unit = gcd(*prices)
    least, top = -(-cost // unit), prices[-1] // unit
    room = least + top
    if room > SUMS_MOST:
        return cost
    sums = 1  # bit n stands for n units
    for price in prices:
        step = price // unit
        while step <= room:
            sums |= sums << step
            step *= 2
        sums &= (1 << (room + 1)) - 1
    above = sums >> least
    return (least + (above & -above).bit_length() - 1) * unit
