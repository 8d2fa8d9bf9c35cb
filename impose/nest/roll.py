"""A roll: the shortest length that holds all pieces, or, where pieces of roll have a greatest length, the fewest.

Ever shorter lengths are tried, each by filling gaps (`gaps`) with more and more strips side by side. Where straight
cuts are asked for, pieces go down in an order by a rule instead; the order is changed at random, what found no room
moved up among others, and kept if no more is left over.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from impose.nest.bounds import bound_sheets
from impose.nest.budget import SearchBudget
from impose.nest.exact_roll import MOST, SURE, StripFitting
from impose.nest.free_rectangles import RULES, Rule, choose_area_grain, weigh_leftover
from impose.nest.instance import FilledSheet, NestingInstance, PieceSize, PlacedSpot
from impose.nest.model import UM_PER_METRE, Stock
from impose.nest.roll_beam import TASTES, RollBeam
from impose.nest.search import Filler, choose_filler, list_orders, list_orientations, used_area
from impose.values import replace

BREADTH = 8  # strips side by side at first; doubled each time no shorter length is found
SHORTENING = 6000  # steps for all pieces of roll in a mix
GREATEST_PART = 20  # a length at least this part shorter is tried first, then ever smaller parts of the waste

MANY = 1000  # pieces: more are laid in blocks, one below another, so that cost does not grow with their square
BLOCK = 400  # pieces of a block

NODES_A_STEP = 10  # places looked at that count for a step where few pieces are tried every way
UNSURE_PART = 0.4  # of them where no proof is to be expected: what can be found is found by then

SolvePaper = Callable[[NestingInstance, int, int, SearchBudget, int, bool], list[FilledSheet]]


def solve_roll(
    job: NestingInstance, stock: int, budget: SearchBudget, seed: int, straight: bool, solve_sheets: SolvePaper
) -> tuple[list[FilledSheet], int] | None:
    """All pieces on one roll and what they cost at least, or None where what is left of it may not be enough."""
    paper = job.stocks[stock]
    strip = _RollStrip(job, stock, seed, choose_filler(straight), straight)
    pieces = job.list_pieces()
    tallest = paper.tallest
    sheets = [strip.find_shortest(pieces, budget)] if tallest is None or strip.least_length(pieces) <= tallest else []
    if tallest is not None and (not sheets or sheets[0].used_height > tallest):
        dealt = None if straight or budget.over else _deal_pieces(job, stock, tallest, strip, budget)
        sheets = dealt or _solve_as_sheets(job, stock, tallest, budget, strip, solve_sheets)
    if paper.limit is not None and sum(paper.length(s.used_height) for s in sheets) > paper.limit:
        return None
    return sheets, _least_cost(paper, strip.sure)


def _least_cost(paper: Stock, height: int) -> int:
    """What pieces of roll of that height together cost at least, laid end to end; several may lose less than one."""
    costs = [paper.compute_price(height)]
    while paper.cut_base < 0:
        number = len(costs) + 1
        lost = number * paper.cut_base - (-height * paper.cut_per_metre // UM_PER_METRE)
        costs.append(
            paper.cost * (height + max(number * paper.cut_margin, lost)) // UM_PER_METRE + number * paper.handling
        )
        if costs[-1] >= costs[-2]:
            break
    return min(costs)


def _deal_pieces(
    job: NestingInstance, stock: int, tallest: int, strip: _RollStrip, budget: SearchBudget
) -> list[FilledSheet] | None:
    """As many pieces of roll as the area asks for, or one more: each with its share of large and small, then shortened.

    None where that is not found at once: then the pieces of roll are seen as sheets.
    """
    order = sorted(job.list_pieces(), key=lambda k: (-job.piece_area(k), k))
    least = -(-sum(job.piece_area(k) for k in order) // (job.stocks[stock].width * tallest))
    breadth = BREADTH if len(order) <= 1000 else BREADTH // 4
    for count in (least, least + 1):
        made = []
        for i in range(count):
            spots = RollBeam(job.kinds, order[i::count], strip.width).fit_all(
                tallest, breadth, TASTES[0], budget.share_budget(None, budget.remaining)
            )
            if spots is None or budget.over:
                break
            made.append(FilledSheet(stock, spots))
        else:
            for number, sheet in enumerate(made):
                part = budget.split_off(count - number)
                made[number] = strip.find_shortest(sheet.kinds, part, sheet)
                budget.add_steps(part.done)
            return made
    return None


def _solve_as_sheets(
    job: NestingInstance, stock: int, tallest: int, budget: SearchBudget, strip: _RollStrip, solve_sheets: SolvePaper
) -> list[FilledSheet]:
    """As if the roll were sheets of its greatest length; the least filled is then shortened."""
    sheet = replace(job.stocks[stock], height=tallest, max_height=None, limit=None)
    as_sheets = NestingInstance(job.kinds, job.counts, job.members, (sheet,))
    part = budget.split_off(2)
    made = solve_sheets(as_sheets, 0, bound_sheets(as_sheets, 0, part.ends_bounds), part, strip.seed, strip.straight)
    budget.add_steps(part.done)
    sheets = [FilledSheet(stock, s.spots) for s in made]
    last = min(range(len(sheets)), key=lambda i: used_area(job, sheets[i]))
    return [
        strip.find_shortest(s.kinds, budget, s)
        if i == last
        else s
        if budget.over
        else min([s, *strip.list_simple_fillings(s.kinds, budget)], key=lambda filling: filling.used_height)
        for i, s in enumerate(sheets)
    ]


def shorten_rolls(
    job: NestingInstance, sheets: list[FilledSheet], seed: int, budget: SearchBudget
) -> list[FilledSheet]:
    """Those pieces of roll shorter for which a brief search finds a way; sheets as they are."""
    rolls = sum(job.stocks[sheet.stock].height is None for sheet in sheets)
    out = []
    for sheet in sheets:
        if job.stocks[sheet.stock].height is None and not budget.over:
            strip = _RollStrip(job, sheet.stock, seed, choose_filler(False), False)
            sheet = strip.find_shortest(
                sheet.kinds, budget.share_budget(min(1000, SHORTENING // rolls), budget.remaining), sheet
            )
        out.append(sheet)
    return out


def _count_allowed_nodes(budget: SearchBudget, pieces: int) -> int:
    """Places that the search of every arrangement may look at."""
    if budget.remaining is not None:
        return int(budget.remaining * 100_000)
    nodes = (budget.steps or 0) * NODES_A_STEP
    return nodes if pieces <= SURE else int(nodes * UNSURE_PART)


class _RollStrip:
    """Pieces on one length of roll."""

    def __init__(self, job: NestingInstance, stock: int, seed: int, filler: Filler, straight: bool) -> None:
        self.job, self.stock, self.filler, self.straight = job, stock, filler, straight
        self.width = job.stocks[stock].width
        self.ways = list_orientations(job, stock)
        self.seed = seed
        self.chance = random.Random(seed)
        self.spent = 0
        self.sure = 0  # no length of all pieces can be less

    def find_shortest(self, pieces: list[int], budget: SearchBudget, known: FilledSheet | None = None) -> FilledSheet:
        """The pieces on as short a length as the budget finds; `known` is one way of doing it."""
        if len(pieces) > MANY:
            return self._find_shortest_blocks(pieces, budget)
        best = known or min(self.list_simple_fillings(pieces, budget), key=lambda s: s.used_height)
        least = self.least_length(pieces)
        if len(pieces) <= MOST and not self.straight:
            part = budget.split_off(4)
            best = self._search_by_beam(best, least, part)
            budget.add_steps(part.done)
            budget.note_gain()  # trying every arrangement has a budget of its own, whatever the beam gained
            best, self.sure = self._try_shorter(best, least, budget)
            return best
        return (
            self._search_by_reordering(best, least, budget)
            if self.straight
            else self._search_by_beam(best, least, budget)
        )

    def _find_shortest_blocks(self, pieces: Sequence[int], budget: SearchBudget) -> FilledSheet:
        """Many pieces in blocks, each with its share of large and small and made as short as its part allows."""
        order = sorted(pieces, key=lambda k: (-self.job.piece_area(k), k))
        count = -(-len(order) // BLOCK)
        spots: list[PlacedSpot] = []
        top = 0
        for i in range(count):
            part = budget.split_off(count - i)
            block = self.find_shortest(order[i::count], part)
            budget.add_steps(part.done)
            spots += [spot._replace(y=spot.y + top) for spot in block.spots]
            top += block.used_height
        return FilledSheet(self.stock, spots)

    def _try_shorter(self, best: FilledSheet, least: int, budget: SearchBudget) -> tuple[FilledSheet, int]:
        """Few pieces: every shorter arrangement tried; and the least length, as far as that is proven."""
        kinds = best.kinds
        nodes = _count_allowed_nodes(budget, len(kinds))
        fitting = StripFitting(self._lie_down(kinds), self.width, nodes, lambda: budget.over)
        before = fitting.nodes
        while best.used_height > least and fitting.nodes > 0:
            laid = fitting.find_within(best.used_height - 1)
            if laid is not None:
                best = FilledSheet(self.stock, [PlacedSpot(kinds[i], *place) for i, *place in laid])
                budget.note_gain()
            elif fitting.nodes > 0:
                least = best.used_height
        budget.add_steps((before - fitting.nodes) // NODES_A_STEP)
        return best, least

    def _lie_down(self, kinds: Sequence[int]) -> list[list[tuple[int, int]]]:
        ways = [[(w, h), (h, w)] if turn else [(w, h)] for w, h, turn in (self.job.kinds[k] for k in kinds)]
        return [[way for way in both if way[0] <= self.width] for both in ways]

    def _search_by_beam(self, best: FilledSheet, least: int, budget: SearchBudget) -> FilledSheet:
        """Ever shorter lengths, halving the waste or saving a quarter or a sixteenth of it, in growing breadth."""
        gaps = RollBeam(self.job.kinds, best.kinds, self.width)
        breadth, taste = BREADTH, 0
        while best.used_height > least and not budget.is_spent:
            for part in (2, 4, 16):
                target = best.used_height - max(1, (best.used_height - least) // part)
                spots = gaps.fit_all(target, breadth, TASTES[taste % len(TASTES)], budget)
                if spots is not None:
                    best = FilledSheet(self.stock, spots)
                    budget.note_gain()
                    break
            else:
                taste += 1
                breadth = breadth * 3 // 2
        return best

    def list_simple_fillings(self, pieces: Sequence[int], budget: SearchBudget) -> list[FilledSheet]:
        """One filling for each order, rule and way of lying, as many as the clock allows; one at least."""
        room = sum(max(self.job.kinds[k][:2]) for k in pieces)
        ways = self.ways if len(pieces) < MANY else self.ways[:1]
        found = []
        for kinds in ways:
            for order in list_orders(self.job, pieces):
                for rule in RULES[1:2] if len(pieces) > 300 else RULES[:3]:
                    spots, left, _ = self.filler(kinds, self.width, room, order, rule, 0)
                    if not left:
                        found.append(FilledSheet(self.stock, spots))
                    if found and budget.over:
                        return found
        return found or [self._fill_blocks(list_orders(self.job, pieces)[0], room)]

    def _fill_blocks(self, order: list[int], room: int) -> FilledSheet:
        """One filling after another, each below the one before: straight cuts can leave no part that is wide enough."""
        spots: list[PlacedSpot] = []
        while order:
            top = max((spot.y + spot.height for spot in spots), default=0)
            more, order, _ = self.filler(self.job.kinds, self.width, room, order, RULES[1], 0)
            spots += [spot._replace(y=spot.y + top) for spot in more]
        return FilledSheet(self.stock, spots)

    def least_length(self, pieces: Sequence[int]) -> int:
        """No length can be less: area over width, and the tallest piece laid as low as it goes."""
        area = sum(self.job.piece_area(k) for k in pieces)
        low = [
            min(h for w, h in ((k.width, k.height), (k.height, k.width))[: 2 if k.turn else 1] if w <= self.width)
            for k in (self.job.kinds[i] for i in dict.fromkeys(pieces))
        ]
        return max(-(-area // self.width), *low)

    def _search_by_reordering(self, best: FilledSheet, least: int, budget: SearchBudget) -> FilledSheet:
        """Ever shorter lengths, by less of the waste each time one is not met for long."""
        part = 3
        while best.used_height > least and part < 4 * GREATEST_PART and not budget.is_spent:
            target = best.used_height - max(1, (best.used_height - least) // part)
            spots = self._fit_target(best, target, budget.split_off(1, 1500 + 4000 // part))
            budget.add_steps(self.spent)
            if spots is None:
                part *= 2
            else:
                budget.note_gain()
                best = FilledSheet(self.stock, spots)
        return best

    def _fit_target(self, known: FilledSheet, target: int, budget: SearchBudget) -> list[PlacedSpot] | None:
        """All pieces within `target`, or None once the budget is spent; `spent` is what it took."""
        draw = self.chance.random
        order = [s.kind for s in sorted(known.spots, key=lambda s: (s.y, s.x))]
        if draw() < 0.5:
            order = list_orders(self.job, order)[int(draw() * 4)]
        turn: list[PieceSize] = list(self.job.kinds)
        rule: Rule = RULES[1]
        least: int | None = None
        out: list[int] = []
        while budget.spend_step():
            trial, kinds, by = self._change_order(order, turn, rule, out)
            spots, left, _ = self.filler(kinds, self.width, target, trial, by, least)
            over = sum([weigh_leftover(*self.job.kinds[k][:2], choose_area_grain(self.width, target)) for k in left])
            if not left:
                self.spent = budget.done
                return spots
            if least is None or over <= least:
                least, turn, rule = over, kinds, by
                order, out = trial, left
        self.spent = budget.done
        return None

    def _change_order(
        self, order: list[int], turn: list[PieceSize], rule: Rule, out: list[int]
    ) -> tuple[list[int], list[PieceSize], Rule]:
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
