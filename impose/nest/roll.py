"""A roll: the shortest length that holds all pieces, or, where pieces of roll have a greatest length, the fewest.

Ever shorter lengths are tried, each by filling gaps (`gaps`) with more and more strips side by side. Where straight
cuts are asked for, pieces go down in an order by a rule instead; the order is changed at random, what found no room
moved up among others, and kept if no more is left over.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace

from impose.nest.bounds import sheets_needed
from impose.nest.budget import Budget
from impose.nest.fitting import MOST, Fitting
from impose.nest.free import RULES, Rule, burden, grain
from impose.nest.gaps import TASTES, Gaps
from impose.nest.job import Filled, Job, Kind, Spot
from impose.nest.model import UM_PER_METRE, Stock
from impose.nest.search import Filler, filler_for, orders, used, ways_round
from impose.nest.stacking import Stacking

BREADTH = 8  # strips side by side at first; doubled each time no shorter length is found
SHORTENING = 6000  # steps for all pieces of roll in a mix
GREATEST_PART = 20  # a length at least this part shorter is tried first, then ever smaller parts of the waste

STACKED = 14_000  # nodes of `stacking` for each length tried
STACKED_NODES = 3  # of them take about as long as a step
FEW_NODES = 4  # steps that a staircase looked at counts for where few pieces are tried every way (`fitting`)

SolvePaper = Callable[[Job, int, int, Budget, int, bool], list[Filled]]


def solve_roll(
    job: Job, stock: int, budget: Budget, seed: int, straight: bool, solve_sheets: SolvePaper
) -> tuple[list[Filled], int] | None:
    """All pieces on one roll and what they cost at least, or None where what is left of it may not be enough."""
    paper = job.stocks[stock]
    strip = _Strip(job, stock, seed, filler_for(straight), straight)
    pieces = job.all()
    tallest = paper.tallest
    sheets = [strip.shortest(pieces, budget)] if tallest is None or strip.least(pieces) <= tallest else []
    if tallest is not None and (not sheets or sheets[0].height > tallest):
        dealt = None if straight else _dealt(job, stock, tallest, strip, budget)
        sheets = dealt or _in_pieces(job, stock, tallest, budget, strip, solve_sheets)
    if paper.limit is not None and sum(paper.length(s.height) for s in sheets) > paper.limit:
        return None
    return sheets, _least_cost(paper, strip.sure)


def _least_cost(paper: Stock, height: int) -> int:
    """What pieces of roll of that height together cost at least, laid end to end; several may lose less than one."""
    costs = [paper.price(height)]
    while paper.cut_base < 0:
        number = len(costs) + 1
        lost = number * paper.cut_base - (-height * paper.cut_per_metre // UM_PER_METRE)
        costs.append(
            paper.cost * (height + max(number * paper.cut_margin, lost)) // UM_PER_METRE + number * paper.handling
        )
        if costs[-1] >= costs[-2]:
            break
    return min(costs)


def _dealt(job: Job, stock: int, tallest: int, strip: _Strip, budget: Budget) -> list[Filled] | None:
    """As many pieces of roll as the area asks for, or one more: each with its share of large and small, then shortened.

    None where that is not found at once: then the pieces of roll are seen as sheets.
    """
    order = sorted(job.all(), key=lambda k: (-job.area(k), k))
    least = -(-sum(job.area(k) for k in order) // (job.stocks[stock].width * tallest))
    breadth = BREADTH if len(order) <= 1000 else BREADTH // 4
    for count in (least, least + 1):
        made = []
        for i in range(count):
            spots = Gaps(job.kinds, order[i::count], strip.width).fitted(tallest, breadth, TASTES[0], budget.part(None))
            if spots is None or budget.over:
                break
            made.append(Filled(stock, spots))
        else:
            for number, sheet in enumerate(made):
                part = budget.share(count - number)
                made[number] = strip.shortest(sheet.kinds, part, sheet)
                budget.add(part.done)
            return made
    return None


def _in_pieces(
    job: Job, stock: int, tallest: int, budget: Budget, strip: _Strip, solve_sheets: SolvePaper
) -> list[Filled]:
    """As if the roll were sheets of its greatest length; the least filled is then shortened."""
    sheet = replace(job.stocks[stock], height=tallest, max_height=None, limit=None)
    as_sheets = Job(job.kinds, job.counts, job.members, (sheet,))
    part = budget.share(2)
    made = solve_sheets(as_sheets, 0, sheets_needed(as_sheets, 0), part, strip.seed, strip.straight)
    budget.add(part.done)
    sheets = [Filled(stock, s.spots) for s in made]
    last = min(range(len(sheets)), key=lambda i: used(job, sheets[i]))
    return [
        strip.shortest(s.kinds, budget, s)
        if i == last
        else min([s, *strip.simple(s.kinds)], key=lambda one: one.height)
        for i, s in enumerate(sheets)
    ]


def shortened(job: Job, sheets: list[Filled], seed: int, budget: Budget) -> list[Filled]:
    """Those pieces of roll shorter for which a brief search finds a way; sheets as they are."""
    rolls = sum(job.stocks[sheet.stock].height is None for sheet in sheets)
    out = []
    for sheet in sheets:
        if job.stocks[sheet.stock].height is None and not budget.over:
            strip = _Strip(job, sheet.stock, seed, filler_for(False), False)
            sheet = strip.shortest(sheet.kinds, budget.part(min(1000, SHORTENING // rolls), budget.remaining), sheet)
        out.append(sheet)
    return out


def _nodes(budget: Budget) -> int:
    """Staircases that may be looked at."""
    if budget.remaining is not None:
        return int(budget.remaining * 10_000)
    return (budget.steps or 0) // FEW_NODES


class _Strip:
    """Pieces on one length of roll."""

    def __init__(self, job: Job, stock: int, seed: int, filler: Filler, straight: bool) -> None:
        self.job, self.stock, self.filler, self.straight = job, stock, filler, straight
        self.width = job.stocks[stock].width
        self.ways = ways_round(job, stock)
        self.seed = seed
        self.chance = random.Random(seed)
        self.spent = 0
        self.sure = 0  # no length of all pieces can be less

    def shortest(self, pieces: list[int], budget: Budget, known: Filled | None = None) -> Filled:
        """The pieces on as short a length as the budget finds; `known` is one way of doing it."""
        best = known or min(self.simple(pieces), key=lambda s: s.height)
        least = self.least(pieces)
        if len(pieces) <= MOST and not self.straight:
            part = budget.share(4)
            best = self._gap_by_gap(best, least, part)
            budget.add(part.done)
            budget.gained()  # trying every arrangement has a budget of its own, whatever the beam gained
            best, self.sure = self._tried(best, least, budget)
            return best
        return self._reordered(best, least, budget) if self.straight else self._gap_by_gap(best, least, budget)

    def _tried(self, best: Filled, least: int, budget: Budget) -> tuple[Filled, int]:
        """Few pieces: every shorter arrangement tried; and the least length, as far as that is proven."""
        best = self._stacked(best, least, budget)
        kinds = best.kinds
        fitting = Fitting(self._lie(kinds), self.width, _nodes(budget), lambda: budget.over)
        before = fitting.nodes
        while best.height > least and fitting.nodes > 0:
            laid = fitting.within(best.height - 1)
            if laid is not None:
                best = Filled(self.stock, [Spot(kinds[i], *place) for i, *place in laid])
                budget.gained()
            elif fitting.nodes > 0:
                least = best.height
        budget.add(FEW_NODES * (before - fitting.nodes))
        return best, least

    def _stacked(self, best: Filled, least: int, budget: Budget) -> Filled:
        """Ever shorter lengths, by less and less of the waste, each tried with so many nodes."""
        kinds = best.kinds
        stacking = Stacking(self._lie(kinds), self.width, lambda: budget.over)
        part = 2
        while best.height > least and part <= GREATEST_PART and not budget.over:
            nodes = STACKED if budget.steps is None else min(STACKED, budget.steps)
            laid = stacking.within(best.height - max(1, (best.height - least) // part), nodes)
            budget.add((nodes - stacking.nodes) // STACKED_NODES)
            part = part if laid is not None else part * 2
            if laid is not None:
                best = Filled(self.stock, [Spot(kinds[i], *place) for i, *place in laid])
                budget.gained()
        return best

    def _lie(self, kinds: Sequence[int]) -> list[list[tuple[int, int]]]:
        ways = [[(w, h), (h, w)] if turn else [(w, h)] for w, h, turn in (self.job.kinds[k] for k in kinds)]
        return [[way for way in both if way[0] <= self.width] for both in ways]

    def _gap_by_gap(self, best: Filled, least: int, budget: Budget) -> Filled:
        """Ever shorter lengths, halving the waste or saving a quarter or a sixteenth of it, in growing breadth."""
        gaps = Gaps(self.job.kinds, best.kinds, self.width)
        breadth, taste = BREADTH, 0
        while best.height > least and not budget.spent:
            for part in (2, 4, 16):
                target = best.height - max(1, (best.height - least) // part)
                spots = gaps.fitted(target, breadth, TASTES[taste % len(TASTES)], budget)
                if spots is not None:
                    best = Filled(self.stock, spots)
                    budget.gained()
                    break
            else:
                taste += 1
                breadth = breadth * 3 // 2
        return best

    def simple(self, pieces: Sequence[int]) -> list[Filled]:
        """One filling for each order, rule and way of lying."""
        room = sum(max(self.job.kinds[k][:2]) for k in pieces)
        ways = self.ways if len(pieces) < 1000 else self.ways[:1]
        found = []
        for kinds in ways:
            for order in orders(self.job, pieces):
                for rule in RULES[1:2] if len(pieces) > 300 else RULES[:3]:
                    spots, left, _ = self.filler(kinds, self.width, room, order, rule, 0)
                    if not left:
                        found.append(Filled(self.stock, spots))
        return found

    def least(self, pieces: Sequence[int]) -> int:
        """No length can be less: area over width, and the tallest piece laid as low as it goes."""
        area = sum(self.job.area(k) for k in pieces)
        low = [
            min(h for w, h in ((k.width, k.height), (k.height, k.width))[: 2 if k.turn else 1] if w <= self.width)
            for k in (self.job.kinds[i] for i in dict.fromkeys(pieces))
        ]
        return max(-(-area // self.width), *low)

    def _reordered(self, best: Filled, least: int, budget: Budget) -> Filled:
        """Ever shorter lengths, by less of the waste each time one is not met for long."""
        part = 3
        while best.height > least and part < 4 * GREATEST_PART and not budget.spent:
            target = best.height - max(1, (best.height - least) // part)
            spots = self._fitted(best, target, budget.share(1, 1500 + 4000 // part))
            budget.add(self.spent)
            if spots is None:
                part *= 2
            else:
                budget.gained()
                best = Filled(self.stock, spots)
        return best

    def _fitted(self, known: Filled, target: int, budget: Budget) -> list[Spot] | None:
        """All pieces within `target`, or None once the budget is spent; `spent` is what it took."""
        draw = self.chance.random
        order = [s.kind for s in sorted(known.spots, key=lambda s: (s.y, s.x))]
        if draw() < 0.5:
            order = orders(self.job, order)[int(draw() * 4)]
        turn: list[Kind] = list(self.job.kinds)
        rule: Rule = RULES[1]
        least: int | None = None
        out: list[int] = []
        while budget.spend():
            trial, kinds, by = self._changed(order, turn, rule, out)
            spots, left, _ = self.filler(kinds, self.width, target, trial, by, least)
            over = sum([burden(*self.job.kinds[k][:2], grain(self.width, target)) for k in left])
            if not left:
                self.spent = budget.done
                return spots
            if least is None or over <= least:
                least, turn, rule = over, kinds, by
                order, out = trial, left
        self.spent = budget.done
        return None

    def _changed(
        self, order: list[int], turn: list[Kind], rule: Rule, out: list[int]
    ) -> tuple[list[int], list[Kind], Rule]:
        """One to three changes: two exchanged, one moved, one left out put earlier, one turned, another rule."""
        draw = self.chance.random
        order, turn = list(order), list(turn)
        for _ in range(1 + int(draw() * 3)):
            i, j = int(draw() * len(order)), int(draw() * len(order))
            choice = draw()
            if choice < 0.45:
                order[i], order[j] = order[j], order[i]
            elif choice < 0.7:
                order.insert(j, order.pop(i))
            elif choice < 0.85 and out:
                k = out[int(draw() * len(out))]
                order.remove(k)
                order.insert(min(i, j), k)
            elif choice < 0.95:
                turn[order[i]] = self.ways[int(draw() * len(self.ways))][order[i]]
            else:
                rule = RULES[int(draw() * len(RULES))]
        return order, turn, rule
