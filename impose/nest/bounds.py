"""Lower bounds on what a nesting can cost, by dual feasible functions.

A dual feasible function shrinks or stretches lengths so that whatever fits a side still fits it. Measured by a pair of
them, one for each side, the pieces of any real sheet cover no more than the sheet, so the sum over all pieces is a
bound. A piece that may turn counts with the lesser of its two ways round.

The functions are those of Fekete and Schepers, New classes of fast lower bounds for bin packing problems,
Mathematical Programming 91 (2001), and of Carlier, Clautiaux and Moukrim, New reduction procedures and lower bounds
for the two-dimensional bin packing problem with fixed orientation, Computers & Operations Research 34 (2007).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import NamedTuple

from impose.nest.job import Job, Kind
from impose.nest.model import UM_PER_METRE, Stock

MOST_PARAMETERS = 24  # parameters tried a side; more has never raised a bound here


class _Measured(NamedTuple):
    """One function: what the whole side becomes, and each kind's width and height along that side."""

    whole: int
    widths: tuple[int, ...]
    heights: tuple[int, ...]


def sheets_needed(job: Job, stock: int) -> int:
    """Fewest sheets of one paper that could hold every piece; 0 for a roll, whose pieces can be any length."""
    paper = job.stocks[stock]
    if paper.height is None or not job.size:
        return 0
    return max(1, _best_ratio(job, paper.width, paper.height).__ceil__())


def cost_needed(job: Job) -> int:
    """Least cost of all pieces on any mix of the job's papers, ignoring how many of each there are."""
    if not job.size:
        return 0
    if len(job.stocks) == 1 and job.stocks[0].height is not None:
        return sheets_needed(job, 0) * job.stocks[0].cost
    shares = [_shares(job, index) for index in range(len(job.stocks))]
    total = Fraction(0)
    for kind, count in enumerate(job.counts):
        total += count * min(share[kind] for share in shares if share[kind] is not None)  # type: ignore[type-var]
    return max(total.__ceil__(), _dearest_alone(job))


def _dearest_alone(job: Job) -> int:
    """Some piece needs a paper of its own: the dearest of the cheapest that each piece could have."""
    cheapest = []
    for index, kind in enumerate(job.kinds):
        costs = [
            stock.piece_cost(_least_height(kind, stock)) for s, stock in enumerate(job.stocks) if job.takes(s, index)
        ]
        cheapest.append(min(costs))
    return max(cheapest)


def _least_height(kind: Kind, stock: Stock) -> int:
    ways = [(kind.width, kind.height)] + ([(kind.height, kind.width)] if kind.turn else [])
    return min(h for w, h in ways if stock.fits(w, h))


def _shares(job: Job, stock: int) -> list[Fraction | None]:
    """For each kind the cost it must bear if it lies on this paper, or None if it cannot.

    The measure is the pair of functions under which the paper alone would cost most.
    """
    paper = job.stocks[stock]
    takes = [job.takes(stock, kind) for kind in range(len(job.kinds))]
    if paper.height is None:
        return [_roll_share(job.kinds[k], paper) if takes[k] else None for k in range(len(job.kinds))]
    wide, high = _best_pair(job, paper.width, paper.height, takes)
    whole = wide.whole * high.whole
    return [
        Fraction(paper.cost * _least(job.kinds[k], k, wide, high), whole) if takes[k] else None
        for k in range(len(job.kinds))
    ]


def _roll_share(kind: Kind, paper: Stock) -> Fraction:
    """By area: a roll's price a metre over its width."""
    return Fraction(paper.cost * kind.width * kind.height, paper.width * UM_PER_METRE)


def _least(kind: Kind, index: int, wide: _Measured, high: _Measured) -> int:
    upright = wide.widths[index] * high.heights[index]
    return min(upright, wide.heights[index] * high.widths[index]) if kind.turn else upright


def _best_ratio(job: Job, width: int, height: int) -> Fraction:
    takes = [True] * len(job.kinds)
    wide, high = _best_pair(job, width, height, takes)
    total = sum(count * _least(job.kinds[k], k, wide, high) for k, count in enumerate(job.counts))
    return Fraction(total, wide.whole * high.whole)


def _best_pair(job: Job, width: int, height: int, takes: Sequence[bool]) -> tuple[_Measured, _Measured]:
    """The pair of functions under which the pieces that the paper takes cover most of it."""
    import numpy as np

    across, down = _functions(job, width), _functions(job, height)
    kinds = [k for k in range(len(job.kinds)) if takes[k]]
    counts = np.array([job.counts[k] for k in kinds], dtype=np.float64)
    turn = np.array([job.kinds[k].turn for k in kinds])

    def table(measured: list[_Measured], name: str) -> np.ndarray:  # type: ignore[type-arg]
        return np.array([[getattr(m, name)[k] / m.whole for k in kinds] for m in measured])

    wide_w, wide_h = table(across, "widths"), table(across, "heights")
    high_w, high_h = table(down, "widths"), table(down, "heights")
    best, pair = -1.0, (across[0], down[0])
    for index, measured in enumerate(across):
        upright = wide_w[index] * high_h
        least = np.where(turn, np.minimum(upright, wide_h[index] * high_w), upright)
        totals = least @ counts
        found = int(totals.argmax())
        if totals[found] > best + 1e-12:
            best, pair = float(totals[found]), (measured, down[found])
    return pair


def _functions(job: Job, side: int) -> list[_Measured]:
    """The identity, and each family at the parameters that the pieces' own sizes suggest."""
    lengths = sorted({length for kind in job.kinds for length in kind[:2] if length <= side})
    halves = sorted({min(length, side - length) for length in lengths} - {0})
    cuts = [p for p in _thinned(halves) if 2 * p <= side]
    found = [_measure(job, side, lambda x: x, side)]
    for cut in cuts:
        found.append(_measure(job, side, lambda x, p=cut: side if x > side - p else (x if x >= p else 0), side))
        whole = 2 * (side // cut)
        found.append(_measure(job, side, lambda x, p=cut: _stepped(x, p, side), whole))
    for k in (1, 2, 3, 4, 5):
        found.append(_measure(job, side, lambda x, n=k: _rounded(x, n, side), k * side))
    return found


def _thinned(values: Sequence[int]) -> list[int]:
    if len(values) <= MOST_PARAMETERS:
        return list(values)
    return [values[i * (len(values) - 1) // (MOST_PARAMETERS - 1)] for i in range(MOST_PARAMETERS)]


def _stepped(x: int, step: int, side: int) -> int:
    """Carlier, Clautiaux and Moukrim: in whole steps, long pieces by what they leave."""
    if 2 * x > side:
        return 2 * (side // step - (side - x) // step)
    if 2 * x == side:
        return side // step
    return 2 * (x // step)


def _rounded(x: int, k: int, side: int) -> int:
    """Fekete and Schepers, u(k): to multiples of 1/(k+1), those that are multiples already kept, times k."""
    return k * x if (k + 1) * x % side == 0 else ((k + 1) * x // side) * side


def _measure(job: Job, side: int, function: Callable[[int], int], whole: int) -> _Measured:
    """A length beyond the side can never lie along it, so it may count as much as one likes: its other way decides."""

    def of(x: int) -> int:
        return function(x) if x <= side else 1000 * whole

    return _Measured(whole, tuple(of(kind.width) for kind in job.kinds), tuple(of(kind.height) for kind in job.kinds))
