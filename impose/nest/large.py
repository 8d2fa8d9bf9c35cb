"""All pieces on one kind of sheet: few by search alone, many in groups, so that cost does not grow with their square.

Few are laid by the simple ways, and anew sheet after sheet (`chunks`); the weakest sheet of the best is emptied in
rounds. Many are nested in chunks, which has most of the budget; then the sheets are dealt into groups again and again,
and each group tries to save one. Groups know nothing of each other, so any number of workers can have them.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

from impose.nest import swift
from impose.nest.budget import Budget
from impose.nest.chunks import Chunks, Done, Spread, Task, apart
from impose.nest.job import Filled, Job, Kind
from impose.nest.model import Stock
from impose.nest.parting import Parting
from impose.nest.search import RECTPACK_MOST, Emptying, emptiest, filler_for, first_sheets, improve, on_one
from impose.nest.sharing import nodes_of

CHUNKS_PART = 0.8  # of the budget goes into nesting many pieces sheet after sheet
FRESH_PART = 0.05  # of the budget, and of few pieces
FRESH = (0, 1, 2)  # rounds in which few pieces are nested sheet after sheet first
ROUNDS = 4  # in which the weakest of few sheets is emptied; a round is no longer than half of the patience either
PARTED_MOST = 40  # pieces whose partings are tried, for about a tenth of the time that the budget takes
GROUP_PIECES = 700  # pieces on the sheets of a group that together try to save one: few large groups save more
GROUP_STEPS = 10_000  # sheets filled by a group in a round, at most
GROUP_SECONDS = 0.03  # what GROUP_LEAST steps take, roughly
GROUP_LEAST = 500  # fewer steps than that are not worth a group's while: then only some groups are tried


def solve_paper(
    job: Job, stock: int, fewest: int, budget: Budget, seed: int, straight: bool, spread: Spread
) -> tuple[list[Filled], int]:
    """All pieces of the job on one kind of sheet, few at once, many in groups; and the fewest sheets there can be."""
    kinds, slim = job.all(), (job.kinds, job.stocks[stock])
    many = len(kinds) > RECTPACK_MOST
    if many and not straight:
        swift.kernel(budget, at_once=True)
    chunks = Chunks(*slim, kinds, straight, spread, stock)
    if not many:
        return _few(job, stock, chunks, fewest, budget, seed)
    chance = random.Random(seed)
    sheets = chunks.nested(CHUNKS_PART, fewest, budget, chance)
    while len(sheets) > fewest and not budget.spent:
        sheets = _round(slim, sheets, budget, chance, straight, spread)
        budget.better([Filled(stock, sheet.spots) for sheet in sheets])
    return [Filled(stock, sheet.spots) for sheet in sheets], fewest


def _few(job: Job, stock: int, chunks: Chunks, fewest: int, budget: Budget, seed: int) -> tuple[list[Filled], int]:
    """Few pieces: the best of several starts, its weakest sheet emptied; a start that is worse is not followed."""
    best = first_sheets(job, stock, chunks.kinds, chunks.straight)
    budget.better(best)
    if fewest == 1 and len(best) == 2 and not chunks.straight:
        best = on_one(job, stock, best, budget)
    if len(chunks.kinds) <= PARTED_MOST:
        best, fewest = _parted(job, stock, best, fewest, budget, chunks.straight)
        budget.better(best)
    number = 0
    while len(best) > fewest and not budget.spent:
        chance = random.Random(seed + number)
        part = budget.round(ROUNDS)
        begun = best
        if number in FRESH:
            fresh = [Filled(stock, s.spots) for s in chunks.nested(FRESH_PART, fewest, budget, chance)]
            begun = fresh if len(fresh) < len(best) + (number > 0) else best
        made = improve(job, stock, begun, fewest, part, chance, chunks.straight)
        budget.add(part.done)
        if emptiest(job, made) < emptiest(job, best):
            best = made
            budget.better(best)
            budget.gained()
        number += 1
    return best, fewest


def _parted(
    job: Job, stock: int, best: list[Filled], fewest: int, budget: Budget, straight: bool
) -> tuple[list[Filled], int]:
    """That few sheets, or a higher fewest, where trying every set of pieces tells: found or proven impossible."""
    nodes = nodes_of(budget)
    while len(best) > fewest and nodes.left > 0:
        parting = Parting(job, stock, straight, nodes)
        found = parting.sheets(fewest)
        if found is not None:
            return found, fewest
        if parting.open:
            break
        fewest += 1
    return best, fewest


def _round(
    slim: tuple[tuple[Kind, ...], Stock],
    sheets: list[Filled],
    budget: Budget,
    chance: random.Random,
    straight: bool,
    spread: Spread,
) -> list[Filled]:
    """Every group once; a group that saves nothing gives back its sheets, the weakest emptier than before."""
    dealt = list(sheets)
    for i in range(len(dealt) - 1, 0, -1):
        j = int(chance.random() * (i + 1))
        dealt[i], dealt[j] = dealt[j], dealt[i]
    groups = _grouped(dealt)
    tried = len(groups)
    if budget.remaining is None:
        tried = max(1, min(tried, ((budget.steps or 0) - budget.done) // GROUP_LEAST))
    else:
        tried = max(1, min(tried, int(budget.remaining / GROUP_SECONDS)))
    part = budget.share(tried, GROUP_STEPS)
    seconds = None if part.seconds is None else min(part.seconds, 8 * GROUP_SECONDS)
    tasks = [
        Task(
            *slim,
            int(chance.random() * (1 << 30)),
            straight,
            sheets=tuple(group),
            steps=part.steps,
            seconds=seconds,
            stop=budget.stop,
        )
        for group in groups[:tried]
    ]
    out: list[Filled] = []
    number = 0
    for done in apart(spread, empty_one, tasks):
        out += done.sheets
        budget.add(max(1, done.steps))
        number += 1
    return out + [sheet for group in groups[number:] for sheet in group]


def _grouped(sheets: Sequence[Filled]) -> list[list[Filled]]:
    """Consecutive sheets in groups of about `GROUP_PIECES` pieces, at least two sheets each."""
    groups: list[list[Filled]] = [[]]
    pieces = 0
    for sheet in sheets:
        if len(groups[-1]) > 1 and pieces >= GROUP_PIECES:
            groups.append([])
            pieces = 0
        groups[-1].append(sheet)
        pieces += len(sheet.spots)
    return groups


def empty_one(task: Task) -> Done:
    """The sheets of a group, one fewer if its budget is enough."""
    job = Job(task.kinds, (), (), (task.paper,))
    budget = Budget(task.steps, task.seconds, stop=task.stop)
    emptying = Emptying(job, 0, budget, random.Random(task.seed), filler_for(task.straight))
    return Done(emptying.weakest(list(task.sheets)), budget.done)
