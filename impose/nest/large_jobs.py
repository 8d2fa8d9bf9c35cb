"""All pieces on one kind of sheet: few by search alone, many in groups, so that cost does not grow with their square.

Few are laid by the simple ways, and anew sheet after sheet (`chunks`); the weakest sheet of the best is emptied in
rounds. Many are nested in chunks, which has most of the budget; then the sheets are dealt into groups again and again,
and each group tries to save one. Groups know nothing of each other, so any number of workers can have them.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from math import gcd

from impose.nest.budget import SearchBudget
from impose.nest.chunks import ChunkNester, ChunkResult, ChunkTask, Spread, run_tasks
from impose.nest.instance import FilledSheet, NestingInstance, PieceSize
from impose.nest.model import Stock
from impose.nest.search import (
    RECTPACK_MOST,
    SheetEmptying,
    choose_filler,
    improve_sheets,
    make_first_sheets,
    merge_on_one,
    rank_by_emptiest,
    used_area,
)

CHUNKS_PART = 0.8  # of the budget goes into nesting many pieces sheet after sheet
FRESH_PART = 0.05  # of the budget, and of few pieces
FRESH = (0, 1, 2)  # rounds in which few pieces are nested sheet after sheet first
ROUNDS = 4  # in which the weakest of few sheets is emptied; a round is no longer than half of the patience either
LIGHT = 0.3  # of a sheet's area: a weakest sheet that holds more has never been emptied by the rounds that follow
FULLEST = 0.96  # of all sheets but one: of 542 instances none so full was saved after a first short round
FINE = 100  # steps along the sheet's shorter side; on a coarser grid sizes fit exactly more often, and one was saved
FULLEST_STEPS = 500  # sheets filled in that round, once the pieces have been nested sheet after sheet
PARTED_MOST = 40  # pieces whose partings are tried, for about a tenth of the time that the budget takes
GROUP_PIECES = 700  # pieces on the sheets of a group that together try to save one: few large groups save more
GROUP_STEPS = 10_000  # sheets filled by a group in a round, at most
GROUP_SECONDS = 0.03  # what GROUP_LEAST steps take, roughly
GROUP_LEAST = 500  # fewer steps than that are not worth a group's while: then only some groups are tried


def solve_paper(
    job: NestingInstance, stock: int, fewest: int, budget: SearchBudget, seed: int, straight: bool, spread: Spread
) -> tuple[list[FilledSheet], int]:
    """All pieces of the job on one kind of sheet, few at once, many in groups; and the fewest sheets there can be."""
    kinds, slim = job.list_pieces(), (job.kinds, job.stocks[stock])
    many = len(kinds) > RECTPACK_MOST
    chunks = ChunkNester(*slim, kinds, straight, spread, stock)
    if not many:
        return _solve_few(job, stock, chunks, fewest, budget, seed)
    chance = random.Random(seed)
    sheets = chunks.nest_part(CHUNKS_PART, fewest, budget, chance)
    while len(sheets) > fewest and not budget.is_spent:
        sheets = _improve_round(slim, sheets, budget, chance, straight, spread)
        budget.report_better([FilledSheet(stock, sheet.spots) for sheet in sheets])
    return [FilledSheet(stock, sheet.spots) for sheet in sheets], fewest


def _solve_few(
    job: NestingInstance, stock: int, chunks: ChunkNester, fewest: int, budget: SearchBudget, seed: int
) -> tuple[list[FilledSheet], int]:
    """Few pieces: the best of several starts, its weakest sheet emptied; a start that is worse is not followed."""
    best = make_first_sheets(job, stock, chunks.kinds, chunks.straight, budget)
    budget.report_better(best)
    if fewest == 1 and len(best) == 2 and not chunks.straight:
        best = merge_on_one(job, stock, best, budget)
    if len(chunks.kinds) <= PARTED_MOST and len(best) > fewest:
        best, fewest = _improve_by_exact_search(job, stock, best, fewest, budget, chunks.straight)
        budget.report_better(best)
    number, given_up = 0, 0
    while len(best) > fewest and len(best) != given_up and not budget.is_spent:
        chance = random.Random(seed + number)
        part = budget.split_round(ROUNDS)
        if budget.patience is not None and _is_hopeless(job, stock, best):
            part.steps = min(part.steps or 0, FULLEST_STEPS)
            given_up = len(best)
        begun = best
        if number in FRESH:
            fresh = [FilledSheet(stock, s.spots) for s in chunks.nest_part(FRESH_PART, fewest, budget, chance)]
            begun = fresh if len(fresh) < len(best) + (number > 0) else best
        made = improve_sheets(job, stock, begun, fewest, part, chance, chunks.straight)
        budget.add_steps(part.done)
        if rank_by_emptiest(job, made) < rank_by_emptiest(job, best):
            if len(made) < len(best) or _is_weakest_light(job, stock, made):
                budget.note_gain()
            best = made
            budget.report_better(best)
        number += 1
    return best, fewest


def _is_hopeless(job: NestingInstance, stock: int, sheets: list[FilledSheet]) -> bool:
    """Whether one sheet fewer would have to be fuller than sheets of pieces in all sizes ever are.

    Never in a mix: there such sheets are a start from which others come, and the better ones do count.
    """
    if len(job.stocks) > 1:
        return False
    paper = job.stocks[stock]
    height = paper.height or 0
    used = sum(used_area(job, sheet) for sheet in sheets)
    if used <= FULLEST * (len(sheets) - 1) * paper.width * height:
        return False
    step = gcd(paper.width, height, *(side for kind in job.kinds for side in (kind.width, kind.height)))
    return min(paper.width, height) >= FINE * step


def _is_weakest_light(job: NestingInstance, stock: int, sheets: list[FilledSheet]) -> bool:
    """Whether so little lies on the weakest sheet that emptying it is likely: else patience does not begin anew."""
    paper = job.stocks[stock]
    return min(used_area(job, sheet) for sheet in sheets) <= LIGHT * paper.width * (paper.height or 0)


def _improve_by_exact_search(
    job: NestingInstance, stock: int, best: list[FilledSheet], fewest: int, budget: SearchBudget, straight: bool
) -> tuple[list[FilledSheet], int]:
    """That few sheets, or a higher fewest, where trying every set of pieces tells: found or proven impossible."""
    from impose.nest.exact_sets import TRIED_PLACES, count_nodes  # loaded late: most of so few pieces are done by now
    from impose.nest.exact_sheets import SheetCountSearch

    nodes = count_nodes(budget, job.piece_count, straight)
    tries = iter(TRIED_PLACES)
    places = next(tries)
    while len(best) > fewest and nodes.left > 0:
        parting = SheetCountSearch(job, stock, straight, nodes, places)
        found = parting.find_sheets(fewest)
        if found is not None:
            return found, fewest
        if not parting.open:
            fewest += 1
        elif (more := next(tries, None)) is not None:
            places = more
        else:
            break
    return best, fewest


def _improve_round(
    slim: tuple[tuple[PieceSize, ...], Stock],
    sheets: list[FilledSheet],
    budget: SearchBudget,
    chance: random.Random,
    straight: bool,
    spread: Spread,
) -> list[FilledSheet]:
    """Every group once; a group that saves nothing gives back its sheets, the weakest emptier than before."""
    dealt = list(sheets)
    for i in range(len(dealt) - 1, 0, -1):
        j = int(chance.random() * (i + 1))
        dealt[i], dealt[j] = dealt[j], dealt[i]
    groups = _group_sheets(dealt)
    tried = len(groups)
    if budget.remaining is None:
        tried = max(1, min(tried, ((budget.steps or 0) - budget.done) // GROUP_LEAST))
    else:
        tried = max(1, min(tried, int(budget.remaining / GROUP_SECONDS)))
    part = budget.split_off(tried, GROUP_STEPS)
    seconds = None if part.seconds is None else min(part.seconds, 8 * GROUP_SECONDS)
    tasks = [
        ChunkTask(
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
    out: list[FilledSheet] = []
    number = 0
    for done in run_tasks(spread, empty_one_sheet, tasks):
        out += done.sheets
        budget.add_steps(max(1, done.steps))
        number += 1
    return out + [sheet for group in groups[number:] for sheet in group]


def _group_sheets(sheets: Sequence[FilledSheet]) -> list[list[FilledSheet]]:
    """Consecutive sheets in groups of about `GROUP_PIECES` pieces, at least two sheets each."""
    groups: list[list[FilledSheet]] = [[]]
    pieces = 0
    for sheet in sheets:
        if len(groups[-1]) > 1 and pieces >= GROUP_PIECES:
            groups.append([])
            pieces = 0
        groups[-1].append(sheet)
        pieces += len(sheet.spots)
    return groups


def empty_one_sheet(task: ChunkTask) -> ChunkResult:
    """The sheets of a group, one fewer if its budget is enough."""
    job = NestingInstance(task.kinds, (), (), (task.paper,))
    budget = SearchBudget(task.steps, task.seconds, stop=task.stop)
    emptying = SheetEmptying(job, 0, budget, random.Random(task.seed), choose_filler(task.straight))
    return ChunkResult(emptying.empty_weakest(list(task.sheets)), budget.done)
