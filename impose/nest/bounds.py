"""Lower bounds: no nesting can cost less, whatever the search finds.

Each piece gets a value such that the pieces on any one sheet are together worth at most what the sheet costs; then
all the paper costs at least what all pieces are worth. Values come from pairs of dual feasible functions (`duals`),
least over the ways a piece may lie. All that counts is done in whole numbers and rounded down; floating point only
chooses which functions to look at.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from math import gcd

from impose.nest.blended_values import SHARES, blend_functions
from impose.nest.compiled import find_loops
from impose.nest.compiled_bounds import rank_pairs_compiled
from impose.nest.dual_feasible import FEW_LENGTHS, DualFunction, list_weighed_duals, make_lengths_array
from impose.nest.instance import NestingInstance, PieceSize
from impose.nest.model import UM_PER_METRE
from impose.nest.row_lengths import find_reachable_length
from impose.values import FrozenStruct, replace

Parts = Sequence[tuple[float, ...]]  # what each function makes of each length

FINE = 1 << 40  # values are kept in this fraction of a cost unit, rounded down
MOST_PAIRS = 24  # pairs of functions that a bound is blended of
MANY = 600  # different sizes looked at when choosing functions: of more, every second, every third, ...
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
    if len(lying.lie) <= FEW_LENGTHS:
        return list(_weigh_few(f, g, lying))
    import numpy as np

    first, last = (
        make_lengths_array([w for way in lying.lie for w in (way[i] if way else (0, 0))], _find_top(lying))
        for i in (0, -1)
    )
    least = np.minimum(*(f.weigh_all(corner[::2]) * g.weigh_all(corner[1::2]) for corner in (first, last)))
    found: list[int] = least.tolist()
    return [worth if way else 0 for worth, way in zip(found, lying.lie, strict=True)]


@lru_cache(maxsize=256)  # whatever the paper costs
def _weigh_few(f: DualFunction, g: DualFunction, lying: OrientedLengths) -> tuple[int, ...]:
    return tuple([min([f.weigh(w) * g.weigh(h) for w, h in way]) if way else 0 for way in lying.lie])


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
    kinds = [k for k, way in enumerate(lying.lie) if way]
    kinds = kinds[:: max(1, -(-len(kinds) // MANY))]
    per_axis = int(max(6, min(90, (SCREENED / max(1, len(kinds))) ** 0.5)))
    wide, high = (sorted({way[axis] for k in kinds for way in lying.lie[k]}) for axis in (0, 1))
    across, of_width = _weigh_lengths(wide, lying.width, per_axis, check)
    if lying.height:
        down, of_height = _weigh_lengths(high, lying.height, per_axis, check)
    else:
        down, of_height = [DualFunction(lambda h: h, lambda h: h, 1, 1)], [tuple(high)]
    at_width, at_height = ({length: n for n, length in enumerate(lengths)} for lengths in (wide, high))
    lying_so = [lying.lie[k] for k in kinds]
    stand = [(at_width[x[0][0]], at_width[x[-1][0]], at_height[x[0][1]], at_height[x[-1][1]]) for x in lying_so]
    of_each = [counts[k] for k in kinds]
    loops = find_loops()
    if loops is None:
        order = _rank_pairs(of_width, of_height, stand, of_each, check)
    else:
        check.raise_if_stopped()
        order = rank_pairs_compiled(loops, of_width, of_height, stand, of_each, MOST_PAIRS)
    chosen = [(across[i // len(down)], down[i % len(down)]) for i in order]
    return chosen, (across[0], down[0])


def _rank_pairs(
    of_width: Parts,
    of_height: Parts,
    stand: Sequence[tuple[int, int, int, int]],
    counts: Sequence[int],
    check: _StopCheck,
) -> list[int]:
    """The best pairs, each as its number among all."""
    import numpy as np

    across, down, of_each = (np.array(x, dtype=np.float64) for x in (of_width, of_height, counts))
    at = np.array(stand, dtype=np.int64).T
    fa, fb, ga, gb = across[:, at[0]], across[:, at[1]], down[:, at[2]], down[:, at[3]]
    rows = []
    for i in range(len(across)):
        check.raise_if_stopped()
        rows.append(np.minimum(fa[i] * ga, fb[i] * gb) @ of_each)
    score = np.stack(rows)
    score = score.round(6)  # so that the last bits, which differ between machines, decide nothing
    found: list[int] = np.argsort(-score, axis=None, kind="stable")[:MOST_PAIRS].tolist()
    return found


def _weigh_lengths(lengths: list[int], top: int, most: int, check: _StopCheck) -> tuple[list[DualFunction], Parts]:
    """Functions for lengths up to `top`, and what each makes of these, all of which are distinct and within it."""
    weighed = list_weighed_duals(lengths, top, most, check.raise_if_stopped)
    return [dual for dual, _ in weighed], [values for _, values in weighed]


def forget_bounds() -> None:
    """Let go what is remembered of the last nestings: of 100,000 sizes 60 MB, which only nesting them again needs."""
    for remembered in (_list_oriented_lengths, _bound_sheets, _rank_dual_pairs, _weigh_few, _compute_worths):
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
    return _compute_worth(job, tables, blend_functions(tables, job.counts, check.raise_if_stopped)), FINE * SHARES


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
