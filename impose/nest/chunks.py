"""Sheet after sheet, each the best filled of several tries: how many pieces are nested at first, and few pieces anew.

Every try begins with the largest piece left, as it must go somewhere; then come one or two at random, then the others
by size. Many pieces are dealt into chunks nested apart, so that cost grows with their number, not its square; the
worst filled sheets of all chunks go back into the pot for another round, until one chunk holds what is left. Chunks
know nothing of each other, so any number of workers can have them; the answer is put together in their order.
"""

from __future__ import annotations

import random
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from math import isqrt
from typing import NamedTuple

from impose.nest import compiled
from impose.nest.budget import SearchBudget
from impose.nest.free_rectangles import RULES, choose_area_grain
from impose.nest.instance import FilledSheet, PieceSize, PlacedSpot
from impose.nest.model import Stock
from impose.nest.search import STRAIGHT, choose_filler

CHUNK = 800  # pieces nested together at first
HURRIED_CHUNK = 200  # where the clock is short: a little more paper, in a third of the time
CARRIED = 0.15  # of the sheets of a round, the worst filled, are taken apart for the next
LOOK = 16  # tries between looks at the clock
# Pieces, straight cuts or not: of more, each sheet is filled once at first.
TWICE_A_SECOND = {False: 12_000, True: 4000}
COMPILED_PACE = 8  # times as many, by the compiled loops
PAIRS = 3  # pieces a sheet: with fewer, what is laid beside the largest had better be large itself

Spread = Callable[[Callable[["ChunkTask"], "ChunkResult"], Iterable["ChunkTask"]], Iterator["ChunkResult"]]


class ChunkTask(NamedTuple):
    """What a worker needs: sizes and paper, and either pieces to nest or sheets to improve."""

    kinds: tuple[PieceSize, ...]
    paper: Stock
    seed: int
    straight: bool
    pieces: tuple[int, ...] = ()
    sheets: tuple[FilledSheet, ...] = ()
    steps: int | None = None
    seconds: float | None = None
    tries: int = 2
    pairs: bool = False
    stop: Callable[[], bool] | None = None
    given_up: bool = False  # nothing is made of it once its time is over


class ChunkResult(NamedTuple):
    """What a worker made of it, and the steps that took; no sheets where it was given up."""

    sheets: list[FilledSheet]
    steps: int


class ChunkNester:
    """The pieces `kinds` of one paper, to be nested sheet after sheet."""

    def __init__(
        self,
        sizes: tuple[PieceSize, ...],
        paper: Stock,
        kinds: Sequence[int],
        straight: bool,
        spread: Spread,
        stock: int = 0,
    ) -> None:
        self.stock = stock
        self.sizes, self.paper, self.kinds, self.straight, self.spread = sizes, paper, kinds, straight, spread

    def nest_part(self, part: float, fewest: int, budget: SearchBudget, chance: random.Random) -> list[FilledSheet]:
        """Sheets for all pieces: two tries a sheet, then as many as that part of the budget allows.

        Where a clock decides, what the last tries took tells how many it allows; where that was too few, once more.
        """
        pace = TWICE_A_SECOND[self.straight] * (1 if compiled.find_loops() is None else COMPILED_PACE)
        hurried = budget.seconds is not None and len(self.kinds) > pace * budget.seconds
        tries, pairs, size = 1 if hurried else 2, False, HURRIED_CHUNK if hurried else CHUNK
        sheets: list[FilledSheet] = []
        while True:
            before = budget.remaining
            made = self.try_chunks(tries, chance, pairs, budget, size, not sheets)
            if made is None:
                return sheets
            sheets = made if not sheets or len(made) <= len(sheets) else sheets
            budget.report_better([FilledSheet(self.stock, sheet.spots) for sheet in sheets])
            if before is None or budget.remaining is None:
                more = int(part * ((budget.steps or 0) - budget.done) / len(sheets))
            else:
                more = int(part * budget.remaining * tries / max(1e-9, before - budget.remaining) * size / CHUNK)
            if len(sheets) <= fewest or 2 * more < 3 * tries:
                return sheets
            budget.add_steps(more * len(sheets))
            tries, pairs, size = more, len(self.kinds) < PAIRS * len(sheets), CHUNK

    def try_chunks(
        self,
        tries: int,
        chance: random.Random,
        pairs: bool = False,
        budget: SearchBudget | None = None,
        size: int = CHUNK,
        always: bool = True,
    ) -> list[FilledSheet] | None:
        """Chunks of about `size` pieces nested apart, the worst sheets of each round nested again in the next.

        Once the budget is over each sheet is filled once; None then, unless there `always` has to be an answer.
        """
        area = [w * h for w, h, _ in self.sizes]
        kept: list[FilledSheet] = []
        kinds = sorted(self.kinds)
        while kinds:
            # Kinds are numbered largest first: dealt in order, every chunk has its share of large and small.
            count = -(-len(kinds) // size)
            seeds = [int(chance.random() * (1 << 30)) for _ in range(count)]
            dealt = [tuple(kinds[i::count]) for i in range(count)]
            task = ChunkTask(self.sizes, self.paper, 0, self.straight, tries=tries, pairs=pairs)
            if budget is not None:
                task = task._replace(seconds=budget.remaining, stop=budget.stop, given_up=not always and count > 1)
            tasks = [task._replace(seed=seed, pieces=chunk) for seed, chunk in zip(seeds, dealt, strict=True)]
            made: list[FilledSheet] = []
            number = 0
            for done in run_tasks(self.spread, nest_chunk, tasks):
                made += done.sheets
                number += 1
                if budget is not None and not always and budget.over and (number < count or count > 1):
                    return None
            if number < count:
                return None
            made.sort(key=lambda sheet: -sum(area[k] for k in sheet.kinds))
            carried = int(len(made) * CARRIED) if count > 1 else 0
            kept += made[: len(made) - carried]
            kinds = sorted(k for sheet in made[len(made) - carried :] for k in sheet.kinds)
        return kept


def run_tasks(
    spread: Spread, work: Callable[[ChunkTask], ChunkResult], tasks: Iterable[ChunkTask]
) -> Iterator[ChunkResult]:
    """The tasks done, each handed only the sizes it has to do with: the whole list would cost more than the work.

    Fewer are done where the caller wants no more.
    """
    cut = [_reduce_to_own_sizes(task) for task in tasks]
    for done, (_, own) in zip(spread(work, [task for task, _ in cut]), cut, strict=False):
        yield ChunkResult([_renumber_sheet(sheet, own) for sheet in done.sheets], done.steps)


def _reduce_to_own_sizes(task: ChunkTask) -> tuple[ChunkTask, list[int]]:
    """The task with its kinds numbered anew in the same order, and the old numbers."""
    own = sorted({*task.pieces, *(k for sheet in task.sheets for k in sheet.kinds)})
    new = {k: i for i, k in enumerate(own)}
    sheets = tuple(_renumber_sheet(sheet, new) for sheet in task.sheets)
    pieces = tuple(new[k] for k in task.pieces)
    return task._replace(kinds=tuple(task.kinds[k] for k in own), pieces=pieces, sheets=sheets), own


def _renumber_sheet(sheet: FilledSheet, numbers: list[int] | dict[int, int]) -> FilledSheet:
    return FilledSheet(sheet.stock, [PlacedSpot(numbers[s.kind], s.x, s.y, s.width, s.height) for s in sheet.spots])


def nest_chunk(task: ChunkTask) -> ChunkResult:
    """The pieces of a chunk sheet after sheet, each the best filled of `tries`."""
    chance = random.Random(task.seed)
    filler = choose_filler(task.straight)
    assert task.paper.height is not None
    size = (task.paper.width, task.paper.height)
    worth = _compute_worth(task)
    budget = SearchBudget(None, task.seconds, stop=task.stop)
    if filler in STRAIGHT and (loops := compiled.find_loops()) is not None:
        made = compiled.nest_chunk_compiled(
            loops,
            task.kinds,
            worth,
            size,
            task.straight,
            task.pieces,
            task.tries,
            chance,
            lambda: budget.over,
            task.given_up,
        )
        if made is not None:
            return ChunkResult(made, 0)
        chance.seed(task.seed)
    smaller = [-w * h for w, h, _ in task.kinds]  # ascending, as kinds are numbered largest first
    sides = [min(w, h) for w, h, _ in task.kinds]
    left, sheets = sorted(task.pieces), []
    while left:
        late = budget.over
        if late and task.given_up:
            return ChunkResult([], 0)
        # what is larger than the rest of the paper cannot lie beside the largest, and is not offered
        start = max(1, bisect_left(left, bisect_left(smaller, -smaller[left[0]] - size[0] * size[1])))
        offered = [left[0], *left[start:]]
        least = min([sides[k] for k in offered])
        most, best, rest = -1, [], left
        for number in range(task.tries):
            if number and (late or (not number % LOOK and budget.over)):
                break
            order = offered if number < 2 else promote_pieces(offered, chance)
            rule = RULES[number] if number < 2 else RULES[int(chance.random() * len(RULES))]
            spots, over, _ = filler(task.kinds, *size, order, rule, None, least)
            held = sum([worth[s.kind] for s in spots])
            if held > most:
                most, best, rest = held, spots, over
        left = sorted(left[1:start] + rest)
        sheets.append(FilledSheet(0, best))
    return ChunkResult(sheets, 0)


def _compute_worth(task: ChunkTask) -> list[int]:
    """What a piece of each kind on a sheet counts for: its area, in pairs to the power of 1.25, in whole numbers."""
    area = [w * h for w, h, _ in task.kinds]
    if not task.pairs:
        return area
    fine = choose_area_grain(task.paper.width, task.paper.height or 0)
    return [(a >> fine) * isqrt(isqrt(a >> fine)) for a in area]


def promote_pieces(kinds: list[int], chance: random.Random) -> list[int]:
    """The first stays; then come one or two at random, then the others as they were."""
    order = list(kinds)
    for place in range(1, min(2 + int(chance.random() * 2), len(kinds))):
        order.insert(place, order.pop(place + int(chance.random() * (len(kinds) - place))))
    return order
