"""Many pieces on one kind of sheet: work on small groups, so that cost grows with the number of pieces, not its square.

Chunks of pieces are nested apart, sheet after sheet, each the best filled of a few tries that all begin with the
largest piece left; the worst filled sheets of all chunks go back into the pot for another round, until one chunk holds
what is left. That is done again with twice as many tries while half of the budget lasts. Then the sheets are dealt
into groups again and again, and each group tries to save one.
Groups know nothing of each other, so any number of workers can have them; the answer is put together in their order.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from time import monotonic
from typing import NamedTuple

from impose.nest import swift
from impose.nest.budget import Budget
from impose.nest.free import RULES
from impose.nest.job import Filled, Job, Kind, Spot
from impose.nest.model import Stock
from impose.nest.search import (
    RECTPACK_MOST,
    Emptying,
    filler_for,
    first_sheets,
    improve,
)

CHUNK = 200  # pieces nested together at first
CARRIED = 0.15  # of the sheets of a round, the worst filled, are taken apart for the next
GROUP_PIECES = 700  # pieces on the sheets of a group that together try to save one: few large groups save more
GROUP_STEPS = 10_000  # sheets filled by a group in a round, at most
GROUP_SECONDS = 0.03  # what GROUP_LEAST steps take, roughly
GROUP_LEAST = 500  # fewer steps than that are not worth a group's while: then only some groups are tried

Spread = Callable[[Callable[["Task"], "Done"], Iterable["Task"]], Iterator["Done"]]


class Task(NamedTuple):
    """What a worker needs: sizes and paper, and either pieces to nest or sheets to improve."""

    kinds: tuple[Kind, ...]
    paper: Stock
    pieces: tuple[int, ...]
    sheets: tuple[Filled, ...]
    steps: int | None
    seconds: float | None
    seed: int
    straight: bool
    tries: int = 2


class Done(NamedTuple):
    """What a worker made of it, and the steps that took."""

    sheets: list[Filled]
    steps: int


def solve_paper(
    job: Job, stock: int, fewest: int, budget: Budget, seed: int, straight: bool, spread: Spread
) -> list[Filled]:
    """All pieces of the job on one kind of sheet; few at once, many in groups."""
    kinds = job.all()
    if len(kinds) <= RECTPACK_MOST:
        return improve(job, stock, first_sheets(job, stock, kinds, straight), fewest, budget, seed, straight)
    chance = random.Random(seed)
    if not straight:
        swift.kernel(budget, at_once=True)
    slim = (job.kinds, job.stocks[stock])
    begun = monotonic()
    sheets = _first(slim, kinds, 2, chance, straight, spread)
    each = (monotonic() - begun) / (2 * len(sheets))  # seconds a filling: looked at only where a clock decides
    tries = 4
    while len(sheets) > fewest and _worth_it(tries * len(sheets), each, budget):
        again = _first(slim, kinds, tries, chance, straight, spread)
        budget.add(tries * len(sheets))
        sheets = min(sheets, again, key=len)
        tries *= 2
    while len(sheets) > fewest and not budget.spent:
        sheets = _round(slim, sheets, budget, chance, straight, spread)
    return [Filled(stock, sheet.spots) for sheet in sheets]


def _worth_it(fills: int, each: float, budget: Budget) -> bool:
    """Whether so many fillings of chunks are likely to leave half of the budget for what comes after."""
    if budget.end is not None:
        return fills * each < 0.6 * (budget.end - monotonic())
    return fills < 0.6 * ((budget.steps or 0) - budget.done)


def _first(
    slim: tuple[tuple[Kind, ...], Stock],
    kinds: list[int],
    tries: int,
    chance: random.Random,
    straight: bool,
    spread: Spread,
) -> list[Filled]:
    """Chunks nested apart, the worst sheets of each round nested again in the next."""
    area = [w * h for w, h, _ in slim[0]]
    kept: list[Filled] = []
    while kinds:
        # Dealt from the sorted pieces, every chunk has its share of large and small.
        order = sorted(kinds, key=lambda k: (-area[k], k))
        count = -(-len(order) // CHUNK)
        seeds = [int(chance.random() * (1 << 30)) for _ in range(count)]
        tasks = [Task(*slim, tuple(order[i::count]), (), None, None, seeds[i], straight, tries) for i in range(count)]
        made = [sheet for done in _apart(spread, nest_chunk, tasks) for sheet in done.sheets]
        made.sort(key=lambda sheet: -sum(area[k] for k in sheet.kinds))
        carried = int(len(made) * CARRIED) if count > 1 else 0
        kept += made[: len(made) - carried]
        kinds = [k for sheet in made[len(made) - carried :] for k in sheet.kinds]
    return kept


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
    if budget.end is None:
        tried = max(1, min(tried, ((budget.steps or 0) - budget.done) // GROUP_LEAST))
    else:
        tried = max(1, min(tried, int((budget.end - monotonic()) / GROUP_SECONDS)))
    part = budget.share(tried, GROUP_STEPS)
    seconds = None if part.seconds is None else min(part.seconds, 8 * GROUP_SECONDS)
    tasks = [
        Task(*slim, (), tuple(group), part.steps, seconds, int(chance.random() * (1 << 30)), straight)
        for group in groups[:tried]
    ]
    out: list[Filled] = []
    for done in _apart(spread, empty_one, tasks):
        out += done.sheets
        budget.add(max(1, done.steps))
    return out + [sheet for group in groups[tried:] for sheet in group]


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


def _apart(spread: Spread, work: Callable[[Task], Done], tasks: Iterable[Task]) -> Iterator[Done]:
    """The tasks done, each handed only the sizes it has to do with: the whole list would cost more than the work."""
    cut = [_with_own_sizes(task) for task in tasks]
    for done, (_, own) in zip(spread(work, [task for task, _ in cut]), cut, strict=True):
        yield Done([_renumbered(sheet, own) for sheet in done.sheets], done.steps)


def _with_own_sizes(task: Task) -> tuple[Task, list[int]]:
    """The task with its kinds numbered anew in the same order, and the old numbers."""
    own = sorted({*task.pieces, *(k for sheet in task.sheets for k in sheet.kinds)})
    new = {k: i for i, k in enumerate(own)}
    sheets = tuple(_renumbered(sheet, new) for sheet in task.sheets)
    pieces = tuple(new[k] for k in task.pieces)
    return task._replace(kinds=tuple(task.kinds[k] for k in own), pieces=pieces, sheets=sheets), own


def _renumbered(sheet: Filled, numbers: list[int] | dict[int, int]) -> Filled:
    return Filled(sheet.stock, [Spot(numbers[s.kind], s.x, s.y, s.width, s.height) for s in sheet.spots])


def nest_chunk(task: Task) -> Done:
    """The pieces of a chunk sheet after sheet, each the best filled of `tries`."""
    chance = random.Random(task.seed)
    filler = filler_for(task.straight)
    assert task.paper.height is not None
    size = (task.paper.width, task.paper.height)
    if not task.straight and (loops := swift.loaded(*size)) is not None:
        return Done(swift.chunked(loops, task.kinds, size, task.pieces, task.tries, chance), 0)
    area = [w * h for w, h, _ in task.kinds]
    left, sheets = list(task.pieces), []
    while left:
        most, best, rest = -1, [], left
        for number in range(task.tries):
            order = left if number < 2 else _loosened(left, area, chance)
            rule = RULES[number] if number < 2 else RULES[int(chance.random() * len(RULES))]
            spots, over, _ = filler(task.kinds, task.paper.width, task.paper.height, order, rule, None)
            covered = sum([s.width * s.height for s in spots])
            if covered > most:
                most, best, rest = covered, spots, over
        left = sorted(rest, key=lambda k: (-area[k], k))
        sheets.append(Filled(0, best))
    return Done(sheets, 0)


def _loosened(kinds: list[int], area: Sequence[int], chance: random.Random) -> list[int]:
    """The largest first, as it must go somewhere; the others in an order more or less by size."""
    draw = chance.random
    blur = (0.3, 0.8, 1.5)[int(draw() * 3)]
    keyed = sorted([(-area[k] * (1 + blur * (draw() - 0.5)), k) for k in kinds[1:]])
    return [kinds[0], *[k for _, k in keyed]]


def empty_one(task: Task) -> Done:
    """The sheets of a group, one fewer if its budget is enough."""
    job = Job(task.kinds, (), (), (task.paper,))
    budget = Budget(task.steps, task.seconds)
    emptying = Emptying(job, 0, budget, random.Random(task.seed), filler_for(task.straight))
    return Done(emptying.weakest(list(task.sheets)), budget.done)
