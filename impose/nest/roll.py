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
from impose.nest.free import RULES, Rule, burden
from impose.nest.gaps import TASTES, Gaps
from impose.nest.job import Filled, Job, Kind, Spot
from impose.nest.search import Filler, filler_for, orders, used, ways_round

BREADTH = 8  # strips side by side at first; doubled each time no shorter length is found
SHORTENING = 1000  # steps for a piece of roll in a mix
GREATEST_PART = 20  # a length at least this part shorter is tried first, then ever smaller parts of the waste

SolvePaper = Callable[[Job, int, int, Budget, int, bool], list[Filled]]


def solve_roll(
    job: Job, stock: int, budget: Budget, seed: int, straight: bool, solve_sheets: SolvePaper
) -> list[Filled] | None:
    """All pieces on one roll, or None where what is left of it may not be enough."""
    paper = job.stocks[stock]
    strip = _Strip(job, stock, seed, filler_for(straight), straight)
    pieces = job.all()
    sheets = [strip.shortest(pieces, budget)]
    tallest = paper.tallest
    if tallest is not None and sheets[0].height > tallest:
        sheets = _in_pieces(job, stock, tallest, budget, seed, straight, solve_sheets)
        last = min(range(len(sheets)), key=lambda i: used(job, sheets[i]))
        sheets = [strip.shortest(s.kinds, budget, s) if i == last else _trimmed(strip, s) for i, s in enumerate(sheets)]
    if paper.limit is not None and sum(s.height + paper.cut_margin for s in sheets) > paper.limit:
        return None
    return sheets


def _in_pieces(
    job: Job, stock: int, tallest: int, budget: Budget, seed: int, straight: bool, solve_sheets: SolvePaper
) -> list[Filled]:
    """As if the roll were sheets of its greatest length."""
    sheet = replace(job.stocks[stock], height=tallest, max_height=None, limit=None, cut_margin=0)
    as_sheets = Job(job.kinds, job.counts, job.members, (sheet,))
    part = budget.share(2)
    made = solve_sheets(as_sheets, 0, sheets_needed(as_sheets, 0), part, seed, straight)
    budget.add(part.done)
    return [Filled(stock, s.spots) for s in made]


def _trimmed(strip: _Strip, sheet: Filled) -> Filled:
    """The same pieces a little shorter, if a simple order does it."""
    return min([sheet, *strip.simple(sheet.kinds)], key=lambda s: s.height)


def shortened(job: Job, sheet: Filled, seed: int) -> Filled:
    """The same pieces on a shorter piece of roll, if a brief search finds one; sheets as they are."""
    if job.stocks[sheet.stock].height is not None:
        return sheet
    strip = _Strip(job, sheet.stock, seed, filler_for(False), False)
    return strip.shortest(sheet.kinds, Budget(SHORTENING), sheet)


class _Strip:
    """Pieces on one length of roll."""

    def __init__(self, job: Job, stock: int, seed: int, filler: Filler, straight: bool) -> None:
        self.job, self.stock, self.filler, self.straight = job, stock, filler, straight
        self.width = job.stocks[stock].width
        self.ways = ways_round(job, stock)
        self.chance = random.Random(seed)
        self.spent = 0

    def shortest(self, pieces: list[int], budget: Budget, known: Filled | None = None) -> Filled:
        """The pieces on as short a length as the budget finds; `known` is one way of doing it."""
        best = min([*([known] if known else []), *self.simple(pieces)], key=lambda s: s.height)
        least = self._least(pieces)
        return self._reordered(best, least, budget) if self.straight else self._gap_by_gap(best, least, budget)

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

    def _least(self, pieces: Sequence[int]) -> int:
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
            over = sum([burden(*self.job.kinds[k][:2]) for k in left])
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
