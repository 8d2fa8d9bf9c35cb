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
from impose.nest.model import Stock
from impose.nest.roll import SolvePaper, solve_roll
from impose.nest.search import Filler, filler_for, orders


def cheapest_mix(
    job: Job, bound: int, budget: Budget, seed: int, straight: bool, spread: Spread
) -> tuple[list[Filled], list[int]]:
    """Sheets for all pieces, or as many as the limits allow, and the kinds left over."""
    filler = filler_for(straight)
    best, left = _greedy(job, job.all(), _limits(job), filler, None)
    for sheets in _single_papers(job, budget, seed, straight, spread):
        if left or job.total(sheets) < job.total(best):
            best, left = sheets, []
    chance = random.Random(seed)
    total = job.total(best)
    # As much again for each paper as it had alone: a sheet is filled once on every paper before one is chosen.
    part = Budget(None if budget.steps is None else budget.steps * len(job.stocks), budget.remaining)
    alone = len(job.stocks) == 1 and job.stocks[0].height is None  # one roll is done; other pieces of it cost no less
    while best and not alone and not left and total > bound and not part.spent:
        best, total = _recovered(job, best, total, chance, filler, part)
    budget.add(part.done)
    return best, left


def _single_papers(job: Job, budget: Budget, seed: int, straight: bool, spread: Spread) -> list[list[Filled]]:
    """The best on each sheet paper that takes every piece and of which there is enough: a mix is never dearer."""
    found = []
    for index, stock in enumerate(job.stocks):
        if not all(job.takes(index, kind) for kind in range(len(job.kinds))):
            continue
        # Each paper has the whole budget of steps, as if it were alone: so a mix is never worse than one paper.
        seconds = None if budget.seconds is None else budget.seconds / (2 * len(job.stocks))
        part = Budget(budget.steps, seconds)
        if stock.height is None:
            on_roll = solve_roll(job, index, part, seed, straight, _sheets_with(spread))
            found += [on_roll] if on_roll is not None else []
            continue
        sheets = solve_paper(job, index, sheets_needed(job, index), part, seed, straight, spread)
        if stock.limit is None or len(sheets) <= stock.limit:
            found.append(sheets)
    return found


def _sheets_with(spread: Spread) -> SolvePaper:
    """`solve_paper` with its work spread as given."""

    def solve(job: Job, stock: int, fewest: int, budget: Budget, seed: int, straight: bool) -> list[Filled]:
        return solve_paper(job, stock, fewest, budget, seed, straight, spread)

    return solve


def _limits(job: Job) -> list[int | None]:
    return [stock.limit for stock in job.stocks]


def _greedy(
    job: Job, kinds: Sequence[int], limits: list[int | None], filler: Filler, chance: random.Random | None
) -> tuple[list[Filled], list[int]]:
    """Sheet after sheet of the paper that costs least for what it holds; with `chance`, in blurred orders."""
    sheets: list[Filled] = []
    left = list(kinds)
    while left:
        options = [
            (price, index, sheet, rest)
            for index, stock in enumerate(job.stocks)
            for price, sheet, rest in _fillings(job, index, stock, left, limits[index], filler, chance)
        ]
        if not options:
            break
        _, index, sheet, left = min(options, key=lambda option: option[:2])
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


def _after(limit: int | None, stock: Stock, sheet: Filled) -> int | None:
    if limit is None:
        return None
    return limit - (1 if stock.height is not None else sheet.height + stock.cut_margin)


def _recovered(
    job: Job, sheets: list[Filled], total: int, chance: random.Random, filler: Filler, budget: Budget
) -> tuple[list[Filled], int]:
    """A few sheets covered anew, and the new total; the old ones where that is no cheaper."""
    count = min(len(sheets), chance.choice((1, 2, 2, 3, 3, 4)))
    apart = set(chance.sample(range(len(sheets)), count))
    kinds = [k for index in apart for k in sheets[index].kinds]
    kept = [sheet for index, sheet in enumerate(sheets) if index not in apart]
    limits = _limits(job)
    for sheet in kept:
        limits[sheet.stock] = _after(limits[sheet.stock], job.stocks[sheet.stock], sheet)
    fresh, left = _greedy(job, sorted(kinds), limits, filler, chance)
    old = sum(job.cost(sheets[index]) for index in apart)
    budget.add(max(1, len(fresh)) * len(job.stocks))
    new = sum(job.cost(sheet) for sheet in fresh)
    if left or new > old:
        return sheets, total
    return kept + fresh, total - old + new
