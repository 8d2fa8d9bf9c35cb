"""One kind of sheet: fill it by simple orders, then empty the weakest sheet into the others until none can go.

The improving move: the least filled sheet is taken apart into a pool; then again and again one to three sheets are
emptied into it and filled anew in a blurred order by a random rule, and the change is kept if no more is left over.
When the pool is empty a sheet is saved. Randomness comes from a seed and work is counted in sheets filled, so the
answer is the same on every machine.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import monotonic

from impose.nest.exact import pack_one
from impose.nest.free import RULES, Rule, fill
from impose.nest.guillotine import fill_straight
from impose.nest.job import Filled, Job, Kind, Spot
from impose.nest.place import portfolio

Filler = Callable[[Sequence[Kind], int, int, Sequence[int], Rule], tuple[list[Spot], list[int], int]]

RECTPACK_MOST = 400  # pieces; its time grows with their square, and beyond this the lean list has never lost to it


@dataclass
class Budget:
    """How much more may be tried: sheets filled, or a clock."""

    steps: int | None
    seconds: float | None = None
    done: int = 0

    def __post_init__(self) -> None:
        self.end = None if self.seconds is None else monotonic() + self.seconds

    def spend(self) -> bool:
        """Take one step; False once there are none left."""
        if (self.steps is not None and self.done >= self.steps) or (self.end is not None and monotonic() >= self.end):
            return False
        self.done += 1
        return True


def filler_for(straight: bool) -> Filler:
    """What fills a sheet: freely, or so that straight cuts part it."""
    return fill_straight if straight else fill


def orders(job: Job, kinds: Sequence[int]) -> list[list[int]]:
    """The pieces largest first, by four ideas of large."""
    size = job.kinds
    keys: tuple[Callable[[int], tuple[int, ...]], ...] = (
        lambda k: (-size[k].width * size[k].height, k),
        lambda k: (-min(size[k][:2]), -max(size[k][:2]), k),
        lambda k: (-max(size[k][:2]), -min(size[k][:2]), k),
        lambda k: (-size[k].width - size[k].height, k),
    )
    return [sorted(kinds, key=key) for key in keys]


def ways_round(job: Job, stock: int) -> list[tuple[Kind, ...]]:
    """The kinds free to turn, all lying and all standing, as far as the paper takes them so.

    A rule that may turn a piece prefers to where it fits the gap at hand, and never finds what all lying would give.
    """
    paper = job.stocks[stock]

    def fixed(kind: Kind, lying: bool) -> Kind:
        width, height = kind[:2] if lying else (kind.height, kind.width)
        return Kind(width, height, False) if kind.turn and paper.fits(width, height) else kind

    return list(dict.fromkeys([job.kinds, *(tuple(fixed(k, lying) for k in job.kinds) for lying in (True, False))]))


def fill_all(
    job: Job, stock: int, order: Sequence[int], rule: Rule, filler: Filler, kinds: Sequence[Kind] | None = None
) -> list[Filled]:
    """Sheet after sheet until nothing is left; each piece must fit an empty one."""
    paper = job.stocks[stock]
    assert paper.height is not None
    sheets, left = [], list(order)
    while left:
        spots, left, _ = filler(kinds or job.kinds, paper.width, paper.height, left, rule)
        sheets.append(Filled(stock, spots))
    return sheets


def first_sheets(job: Job, stock: int, kinds: Sequence[int], straight: bool) -> list[Filled]:
    """The best of the simple ways: rectpack's own settings where it is quick enough, and ours."""
    filler = filler_for(straight)
    large = len(kinds) > 3000
    rules, ways = (RULES[:2], orders(job, kinds)[:1]) if large else (RULES, orders(job, kinds))
    turns = [job.kinds] if len(kinds) > RECTPACK_MOST else ways_round(job, stock)
    found = [fill_all(job, stock, order, rule, filler, turn) for turn in turns for order in ways for rule in rules]
    if not straight and len(kinds) <= RECTPACK_MOST:
        found += list(portfolio(job, stock, list(kinds), len(kinds)))
    return min(found, key=lambda sheets: (len(sheets), min(_used(job, sheet) for sheet in sheets)))


def improve(
    job: Job, stock: int, sheets: list[Filled], fewest: int, budget: Budget, seed: int, straight: bool
) -> list[Filled]:
    """Fewer sheets of one paper, down to `fewest`, within the budget."""
    chance = random.Random(seed)
    best = sheets
    if fewest == 1 and len(best) == 2 and not straight:
        best = _on_one(job, stock, best, budget)
    while len(best) > fewest:
        fewer = _without_weakest(job, stock, best, budget, chance, filler_for(straight))
        if fewer is None:
            break
        best = fewer
    return best


def _on_one(job: Job, stock: int, sheets: list[Filled], budget: Budget) -> list[Filled]:
    """Both sheets' pieces on one, if trying finds it within half of the budget; a node costs a tenth of a filling."""
    paper = job.stocks[stock]
    assert paper.height is not None
    nodes = 5 * (budget.steps - budget.done) if budget.steps is not None else 200_000
    spots = pack_one(job.kinds, [k for sheet in sheets for k in sheet.kinds], paper.width, paper.height, nodes)
    budget.done += 0 if budget.steps is None else nodes // 10
    return sheets if spots is None else [Filled(stock, spots)]


def _without_weakest(
    job: Job, stock: int, sheets: list[Filled], budget: Budget, chance: random.Random, filler: Filler
) -> list[Filled] | None:
    """The same pieces on one sheet less, or None when the budget ends first."""
    ranked = sorted(sheets, key=lambda sheet: _used(job, sheet))
    turns = ways_round(job, stock)
    pool, kept = ranked[0].kinds, ranked[1:]
    if not kept:
        return None
    area = [job.area(k) for k in range(len(job.kinds))]
    least = sum(area[k] for k in pool)
    while pool:
        count = min(len(kept), chance.choice((1, 1, 2, 2, 3)))
        chosen = chance.sample(range(len(kept)), count)
        kinds = [k for index in chosen for k in kept[index].kinds] + pool
        made = _refill(job, stock, kinds, count, chance, filler, budget, area, turns)
        if made is None:
            return None
        fresh, left = made
        over = sum(area[k] for k in left)
        if over <= least:
            least, pool = over, left
            for index, sheet in zip(chosen, fresh, strict=True):
                kept[index] = sheet
    return [sheet for sheet in kept if sheet.spots]


def _refill(
    job: Job,
    stock: int,
    kinds: list[int],
    count: int,
    chance: random.Random,
    filler: Filler,
    budget: Budget,
    area: Sequence[int],
    turns: Sequence[tuple[Kind, ...]],
) -> tuple[list[Filled], list[int]] | None:
    """`count` sheets filled from `kinds` in a blurred order, and what is left; None when the budget is spent."""
    paper = job.stocks[stock]
    assert paper.height is not None
    rule = chance.choice(RULES)
    blur = chance.choice((0.1, 0.3, 0.6))
    noise = {k: area[k] * (1 + blur * (chance.random() - 0.5)) for k in dict.fromkeys(kinds)}
    scatter = chance.random() < 0.5  # pieces of one size together, or each on its own
    left = sorted(kinds, key=lambda k: -noise[k] * (1 + blur * (chance.random() - 0.5) if scatter else 1.0))
    fresh = []
    for _ in range(count):
        if not budget.spend():
            return None
        turn = turns[0] if chance.random() < 0.6 else _mixed(turns, chance)
        spots, left, _ = filler(turn, paper.width, paper.height, left, rule)
        fresh.append(Filled(stock, spots))
    return fresh, left


def _mixed(turns: Sequence[tuple[Kind, ...]], chance: random.Random) -> tuple[Kind, ...]:
    """Each kind free, lying or standing at random."""
    return tuple(chance.choice(ways) for ways in zip(*turns, strict=True))


def _used(job: Job, sheet: Filled) -> int:
    return sum(job.area(k) for k in sheet.kinds)
