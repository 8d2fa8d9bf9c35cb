"""One kind of sheet: fill it by simple orders, then empty the weakest sheet into the others until none can go.

The improving move: the least filled sheet is taken apart into a pool; then again and again one to three sheets are
emptied into it and filled anew in a blurred order by a random rule, and the change is kept if no more is left over.
When the pool is empty a sheet is saved. Randomness comes from a seed and work is counted in sheets filled, so the
answer is the same on every machine.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence

from impose.nest import compiled
from impose.nest.budget import SearchBudget
from impose.nest.exact_sheet import pack_one_sheet
from impose.nest.free_rectangles import RULES, Rule, choose_area_grain, fill_sheet, weigh_leftover
from impose.nest.guillotine import fill_with_straight_cuts
from impose.nest.instance import FilledSheet, NestingInstance, PieceSize, PlacedSpot
from impose.nest.rectpack_portfolio import run_portfolio

# as `free_rectangles.fill_sheet`: kinds, width, height, order, rule, most left, least side
Filler = Callable[..., tuple[list[PlacedSpot], list[int], int]]

RECTPACK_MOST = 150  # pieces; its time grows with their square, and beyond this the lean list has never lost to it


STRAIGHT: dict[Filler, bool] = {fill_sheet: False, fill_with_straight_cuts: True}  # what the compiled loops can do


def choose_filler(straight: bool) -> Filler:
    """What fills a sheet: freely, or so that straight cuts part it."""
    return fill_with_straight_cuts if straight else fill_sheet


def list_orders(job: NestingInstance, kinds: Sequence[int]) -> list[list[int]]:
    """The pieces largest first, by four ideas of large."""
    size = job.kinds
    keys: tuple[Callable[[int], tuple[int, ...]], ...] = (
        lambda k: (-size[k].width * size[k].height, k),
        lambda k: (-min(size[k][:2]), -max(size[k][:2]), k),
        lambda k: (-max(size[k][:2]), -min(size[k][:2]), k),
        lambda k: (-size[k].width - size[k].height, k),
    )
    return [sorted(kinds, key=key) for key in keys]


def list_orientations(job: NestingInstance, stock: int) -> list[tuple[PieceSize, ...]]:
    """The kinds free to turn, all lying and all standing, as far as the paper takes them so.

    A rule that may turn a piece prefers to where it fits the gap at hand, and never finds what all lying would give.
    """
    paper = job.stocks[stock]

    def fixed(kind: PieceSize, lying: bool) -> PieceSize:
        width, height = kind[:2] if lying else (kind.height, kind.width)
        return PieceSize(width, height, False) if kind.turn and paper.fits(width, height) else kind

    return list(dict.fromkeys([job.kinds, *(tuple(fixed(k, lying) for k in job.kinds) for lying in (True, False))]))


def fill_all_sheets(
    job: NestingInstance,
    stock: int,
    order: Sequence[int],
    rule: Rule,
    filler: Filler,
    kinds: Sequence[PieceSize] | None = None,
) -> list[FilledSheet]:
    """Sheet after sheet until nothing is left; each piece must fit an empty one."""
    paper = job.stocks[stock]
    assert paper.height is not None
    loops, straight = compiled.find_loops(), STRAIGHT.get(filler)
    if loops is not None and straight is not None:
        size, number = (paper.width, paper.height), RULES.index(rule)
        made = compiled.fill_all_compiled(loops, stock, kinds or job.kinds, size, order, number, straight)
        if made is not None:
            return made
    sheets, left = [], list(order)
    while left:
        spots, left, _ = filler(kinds or job.kinds, paper.width, paper.height, left, rule, None)
        sheets.append(FilledSheet(stock, spots))
    return sheets


def make_first_sheets(
    job: NestingInstance, stock: int, kinds: Sequence[int], straight: bool, budget: SearchBudget
) -> list[FilledSheet]:
    """The best of the simple ways, as many as the clock allows: ours, and rectpack's own where it is quick enough."""
    found: list[list[FilledSheet]] = []
    for sheets in _list_simple_ways(job, stock, kinds, straight):
        found.append(sheets)
        if budget.over:
            break
    return min(found, key=lambda sheets: rank_by_emptiest(job, sheets))


def _list_simple_ways(
    job: NestingInstance, stock: int, kinds: Sequence[int], straight: bool
) -> Iterator[list[FilledSheet]]:
    filler = choose_filler(straight)
    for turn in list_orientations(job, stock) if len(kinds) <= RECTPACK_MOST else [job.kinds]:
        for order in list_orders(job, kinds):
            for rule in RULES:
                yield fill_all_sheets(job, stock, order, rule, filler, turn)
    if not straight and len(kinds) <= RECTPACK_MOST:
        yield from run_portfolio(job, stock, list(kinds), len(kinds))


def improve_sheets(
    job: NestingInstance,
    stock: int,
    sheets: list[FilledSheet],
    fewest: int,
    budget: SearchBudget,
    chance: random.Random,
    straight: bool,
) -> list[FilledSheet]:
    """Fewer sheets of one paper, down to `fewest`, within the budget; failing that, the weakest as empty as can be."""
    while len(sheets) > fewest and not budget.is_spent:
        before = len(sheets)
        sheets = SheetEmptying(job, stock, budget, chance, choose_filler(straight)).empty_weakest(sheets)
        if len(sheets) < before:
            budget.report_better(sheets)
    return sheets


def merge_on_one(
    job: NestingInstance, stock: int, sheets: list[FilledSheet], budget: SearchBudget
) -> list[FilledSheet]:
    """Both sheets' pieces on one, if trying finds it within half of the budget; a node costs a tenth of a filling."""
    paper = job.stocks[stock]
    assert paper.height is not None
    nodes = 5 * (budget.steps - budget.done) if budget.steps is not None else 200_000
    spots = pack_one_sheet(
        job.kinds,
        [k for sheet in sheets for k in sheet.kinds],
        paper.width,
        paper.height,
        nodes,
        lambda: budget.over,
    )
    budget.add_steps(0 if budget.steps is None else nodes // 10)
    budget.note_gain()
    return sheets if spots is None else [FilledSheet(stock, spots)]


class SheetEmptying:
    """Taking the weakest sheet apart and fitting its pieces in with the others."""

    def __init__(
        self, job: NestingInstance, stock: int, budget: SearchBudget, chance: random.Random, filler: Filler
    ) -> None:
        self.job, self.stock, self.budget, self.chance, self.filler = job, stock, budget, chance, filler
        self.area = [w * h for w, h, _ in job.kinds]
        paper = job.stocks[stock]
        fine = choose_area_grain(paper.width, paper.height or 0)
        self.burden = [weigh_leftover(w, h, fine) for w, h, _ in job.kinds]
        self.lying, self.standing = ([*list_orientations(job, stock)[1:], job.kinds, job.kinds])[:2]

    def empty_weakest(self, sheets: list[FilledSheet]) -> list[FilledSheet]:
        """The same pieces on one sheet less, or on as many, the weakest emptier, when the budget ends first."""
        ranked = sorted(sheets, key=lambda sheet: used_area(self.job, sheet))
        kept, pool = self.absorb_pool(ranked[1:], ranked[0].kinds)
        return self._give_up(sheets, kept, pool) if pool else [sheet for sheet in kept if sheet.spots]

    def absorb_pool(self, sheets: list[FilledSheet], pool: list[int]) -> tuple[list[FilledSheet], list[int]]:
        """The sheets with as much of the pool on them as the budget allows, and what is left of it."""
        if (done := self._absorb_compiled(sheets, pool)) is not None:
            return done
        kept = list(sheets)
        least = sum(self.burden[k] for k in pool)
        while pool and kept and not self.budget.is_spent:
            count = min(len(kept), 1 + int(self.chance.random() * 2.5))
            chosen = self._pick_some(len(kept), count)
            kinds = [k for index in chosen for k in kept[index].kinds] + pool
            fresh, left = self._refill_sheets(kinds, [kept[index].stock for index in chosen], least)
            over = sum([self.burden[k] for k in left])
            if len(fresh) == count and over <= least:
                if over < least:
                    self.budget.note_gain()
                least, pool = over, left
                for index, sheet in zip(chosen, fresh, strict=True):
                    kept[index] = sheet
        return kept, pool

    def _absorb_compiled(
        self, sheets: list[FilledSheet], pool: list[int]
    ) -> tuple[list[FilledSheet], list[int]] | None:
        """`absorb_pool` by the compiled loop, which gives the same; None where it cannot."""
        paper = self.job.stocks[self.stock]
        size = (paper.width, paper.height or 0)
        loops, straight = compiled.find_loops(), STRAIGHT.get(self.filler)
        if loops is None or straight is None:
            return None
        ways = (self.job.kinds, self.lying, self.standing)
        return compiled.absorb_compiled(
            loops, ways, self.burden, size, straight, sheets, pool, self.chance, self.budget
        )

    def _pick_some(self, of: int, count: int) -> list[int]:
        """`count` different numbers below `of`; `random.sample` takes several times as long for so few."""
        chosen: list[int] = []
        while len(chosen) < count:
            number = int(self.chance.random() * of)
            if number not in chosen:
                chosen.append(number)
        return chosen

    def _give_up(self, old: list[FilledSheet], kept: list[FilledSheet], pool: list[int]) -> list[FilledSheet]:
        """What was gained so far, if what is left over lies on one sheet; else all as it was."""
        paper = self.job.stocks[self.stock]
        assert paper.height is not None
        for order in list_orders(self.job, pool):
            for rule in RULES[:2]:
                spots, left, _ = self.filler(self.job.kinds, paper.width, paper.height, order, rule, 0)
                if not left:
                    return [*(sheet for sheet in kept if sheet.spots), FilledSheet(self.stock, spots)]
        return old

    def _refill_sheets(
        self, kinds: list[int], stocks: list[int], least: int | None
    ) -> tuple[list[FilledSheet], list[int]]:
        """A sheet of each of `stocks` filled from `kinds` in a blurred order, and what is left."""
        draw = self.chance.random
        rule = RULES[int(draw() * len(RULES))]
        left, turn = self._blur_order(kinds), self._turn_kinds(kinds)
        fresh = []
        last = len(stocks) - 1
        for position, stock in enumerate(stocks):
            if not self.budget.spend_step():
                break
            paper = self.job.stocks[stock]
            most = least if position == last else None
            spots, left, _ = self.filler(turn, paper.width, paper.height or 0, left, rule, most)
            fresh.append(FilledSheet(stock, spots))
        return fresh, left

    def _blur_order(self, kinds: list[int]) -> list[int]:
        """Largest first, more or less; half the time the pieces of one size together, else each on its own."""
        draw, area = self.chance.random, self.area
        blur = (0.1, 0.3, 0.6)[int(draw() * 3)]
        if draw() < 0.5:
            keyed = [(-area[k] * (1 + blur * (draw() - 0.5)), k) for k in kinds]
        else:
            noise = {k: -area[k] * (1 + blur * (draw() - 0.5)) for k in kinds}
            keyed = [(noise[k], k) for k in kinds]
        keyed.sort()
        return [k for _, k in keyed]

    def _turn_kinds(self, kinds: list[int]) -> Sequence[PieceSize]:
        """All free to turn as the rule likes, or now and then each kind free, lying or standing at random."""
        draw = self.chance.random
        if draw() < 0.6:
            return self.job.kinds
        three = (self.job.kinds, self.lying, self.standing)
        turn = list(self.job.kinds)
        for k in kinds:
            turn[k] = three[int(draw() * 3)][k]
        return turn


def rank_by_emptiest(job: NestingInstance, sheets: Sequence[FilledSheet]) -> tuple[int, int]:
    """How many sheets, then the area used of the weakest: less of either is better."""
    return len(sheets), min(used_area(job, sheet) for sheet in sheets)


def used_area(job: NestingInstance, sheet: FilledSheet) -> int:
    """Area under the pieces of a sheet."""
    return sum([s.width * s.height for s in sheet.spots])
