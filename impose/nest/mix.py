"""Several papers, limits and rolls: the least total cost, by filling what is cheapest for its area and re-covering.

A nesting is built sheet by sheet: of all papers the one is taken whose filling costs least for the area it holds.
Then a few sheets at a time are taken apart and covered anew, and the change is kept if it costs less.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

from impose.nest.bounds import sheets_needed
from impose.nest.budget import Budget
from impose.nest.free import RULES
from impose.nest.job import Filled, Job
from impose.nest.large import Spread, solve_paper
from impose.nest.model import UM_PER_METRE, Stock
from impose.nest.roll import SolvePaper, shortened, solve_roll
from impose.nest.search import Filler, filler_for, orders, used

PART = 400  # pieces covered together at first


def cheapest_mix(
    job: Job, bound: int, budget: Budget, seed: int, straight: bool, spread: Spread
) -> tuple[list[Filled], list[int]]:
    """Sheets for all pieces, or as many as the limits allow, and the kinds left over."""
    filler = filler_for(straight)
    best, left = _greedy_in_parts(job, _limits(job), filler)
    for sheets in _single_papers(job, best if not left else None, budget, seed, straight, spread):
        if left or job.total(sheets) < job.total(best):
            best, left = sheets, []
    alone = len(job.stocks) == 1 and job.stocks[0].height is None  # one roll is done; other pieces of it cost no less
    if best and not alone and not left:
        part = Budget(budget.steps, budget.remaining, budget.patience)
        mixed = _Mixed(job, best, random.Random(seed), filler)
        while mixed.total > bound and not part.spent:
            mixed.recover(part)
        budget.add(part.done)
        best = mixed.sheets
        if not straight:
            best = [shortened(job, sheet, seed) for sheet in best]
    return best, left


def _single_papers(
    job: Job, known: list[Filled] | None, budget: Budget, seed: int, straight: bool, spread: Spread
) -> list[list[Filled]]:
    """The best on each paper that takes every piece, has enough of it, and may cost less than what is known."""
    least = job.total(known) if known is not None else None
    found = []
    fit = [i for i in range(len(job.stocks)) if all(job.takes(i, kind) for kind in range(len(job.kinds)))]
    fit.sort(key=lambda i: (_floor_price(job.stocks[i]), i))
    for number, index in enumerate(fit):
        stock = job.stocks[index]
        if known is not None and budget.spent:
            break
        # Each paper has the whole budget of steps, as if it were alone: so a mix is never worse than one paper.
        seconds = None if budget.remaining is None else budget.remaining / (1 + len(fit) - number)
        part = Budget(budget.steps, seconds, budget.patience)
        if stock.height is None:
            sheets = solve_roll(job, index, part, seed, straight, _sheets_with(spread))
        else:
            fewest = sheets_needed(job, index)
            if least is not None and fewest * stock.cost >= least:
                continue
            sheets = solve_paper(job, index, fewest, part, seed, straight, spread)
            if stock.limit is not None and len(sheets) > stock.limit:
                sheets = None
        if sheets is not None:
            found.append(sheets)
            least = job.total(sheets) if least is None else min(least, job.total(sheets))
    return found


def _floor_price(stock: Stock) -> float:
    """What the paper costs for its area: no filling can have it cheaper."""
    length = stock.height if stock.height is not None else UM_PER_METRE
    return stock.cost / (stock.width * length)


def _sheets_with(spread: Spread) -> SolvePaper:
    """`solve_paper` with its work spread as given."""

    def solve(job: Job, stock: int, fewest: int, budget: Budget, seed: int, straight: bool) -> list[Filled]:
        return solve_paper(job, stock, fewest, budget, seed, straight, spread)

    return solve


def _limits(job: Job) -> list[int | None]:
    return [stock.limit for stock in job.stocks]


def _greedy_in_parts(job: Job, limits: list[int | None], filler: Filler) -> tuple[list[Filled], list[int]]:
    """The greedy mix of all pieces; many are dealt into parts, so that the work does not grow with their square."""
    kinds = job.all()
    parts = -(-len(kinds) // PART)
    sheets: list[Filled] = []
    left: list[int] = []
    for i in range(parts):
        made, left = _greedy(job, sorted([*kinds[i::parts], *left]), limits, filler, Budget(0))
        if i + 1 < parts and made:  # the last sheet is rarely full: the next part may fill it
            last = made.pop()
            limits[last.stock] = _after(limits[last.stock], job.stocks[last.stock], last, back=True)
            left += last.kinds
        sheets += made
    return sheets, left


def _greedy(
    job: Job,
    kinds: Sequence[int],
    limits: list[int | None],
    filler: Filler,
    budget: Budget,
    chance: random.Random | None = None,
) -> tuple[list[Filled], list[int]]:
    """Sheet after sheet of the paper that costs least for what it holds; with `chance`, in blurred orders."""
    sheets: list[Filled] = []
    left = list(kinds)
    floors = sorted((_floor_price(stock), index) for index, stock in enumerate(job.stocks))
    while left:
        best: tuple[float, int, Filled, list[int]] | None = None
        for floor, index in floors:
            if best is not None and floor > best[0]:
                break
            budget.add(1)
            for price, sheet, rest in _fillings(job, index, job.stocks[index], left, limits[index], filler, chance):
                if best is None or (price, index) < best[:2]:
                    best = (price, index, sheet, rest)
        if best is None:
            break
        _, index, sheet, left = best
        sheets.append(sheet)
        limits[index] = _after(limits[index], job.stocks[index], sheet)
    return sheets, left


def _fillings(
    job: Job,
    index: int,
    stock: Stock,
    left: Sequence[int],
    limit: int | None,
    filler: Filler,
    chance: random.Random | None,
) -> list[tuple[float, Filled, list[int]]]:
    """Ways to fill one sheet of a paper with what is left, each with its price for the area held."""
    taken = [k for k in left if job.takes(index, k)]
    height = _room(job, stock, taken, limit)
    if not taken or height <= 0:
        return []
    if chance is None:
        tries = [(order, rule) for order in orders(job, taken)[: 2 if len(taken) > 500 else 4] for rule in RULES[:2]]
    else:
        blurred = sorted(taken, key=lambda k: -job.area(k) * (1 + 0.5 * chance.random()))
        tries = [(blurred, chance.choice(RULES))]
    found = []
    others = [k for k in left if not job.takes(index, k)]
    for order, rule in tries:
        spots, rest, _ = filler(job.kinds, stock.width, height, order, rule, None)
        if spots:
            sheet = Filled(index, spots)
            held = sum(job.area(k) for k in sheet.kinds)
            found.append((job.cost(sheet) / held, sheet, rest + others))
    return found


def _room(job: Job, stock: Stock, kinds: Sequence[int], limit: int | None) -> int:
    """The height to fill: the sheet's, or on a roll what the longest piece and what is left of it allow."""
    if stock.height is not None:
        return stock.height if limit is None or limit > 0 else 0
    heights = [sum(max(job.kinds[k][:2]) for k in kinds)]
    heights += [stock.max_height] if stock.max_height is not None else []
    heights += [limit - stock.cut_margin] if limit is not None else []
    return min(heights)


def _after(limit: int | None, stock: Stock, sheet: Filled, back: bool = False) -> int | None:
    """What is left of a paper once the sheet is taken from it, or given back."""
    if limit is None:
        return None
    taken = 1 if stock.height is not None else sheet.height + stock.cut_margin
    return limit + taken if back else limit - taken


class _Mixed:
    """A mix and its cost, covered anew a few sheets at a time."""

    def __init__(self, job: Job, sheets: list[Filled], chance: random.Random, filler: Filler) -> None:
        self.job, self.sheets, self.chance, self.filler = job, list(sheets), chance, filler
        self.total = job.total(sheets)
        self.limits = _limits(job)
        for sheet in sheets:
            self.limits[sheet.stock] = _after(self.limits[sheet.stock], job.stocks[sheet.stock], sheet)

    def recover(self, budget: Budget) -> None:
        """Take a few sheets apart and cover them anew; kept if cheaper, or as cheap with the waste more in one place.

        Waste that gathers on few sheets is what makes the next saving possible.
        """
        count = min(len(self.sheets), self.chance.choice((1, 2, 2, 3, 3, 4)))
        apart = self.chance.sample(range(len(self.sheets)), count)
        old = [self.sheets[index] for index in apart]
        limits = list(self.limits)
        for sheet in old:
            limits[sheet.stock] = _after(limits[sheet.stock], self.job.stocks[sheet.stock], sheet, back=True)
        kinds = sorted(k for sheet in old for k in sheet.kinds)
        fresh, left = _greedy(self.job, kinds, limits, self.filler, budget, self.chance)
        gain = self.job.total(old) - self.job.total(fresh)
        if left or gain < 0 or (gain == 0 and self._gathered(fresh) < self._gathered(old)):
            return
        self.limits = limits
        self.total -= gain
        if gain:
            budget.gained()
        for index in sorted(apart, reverse=True):
            self.sheets[index] = self.sheets[-1]
            self.sheets.pop()
        self.sheets += fresh

    def _gathered(self, sheets: Sequence[Filled]) -> int:
        return sum(used(self.job, sheet) ** 2 for sheet in sheets)
