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

from impose.nest import swift
from impose.nest.budget import Budget
from impose.nest.free import RULES, grain
from impose.nest.job import Filled, Kind, Spot
from impose.nest.model import Stock
from impose.nest.search import filler_for

CHUNK = 800  # pieces nested together at first
CARRIED = 0.15  # of the sheets of a round, the worst filled, are taken apart for the next
LOOK = 16  # tries between looks at the clock
PAIRS = 3  # pieces a sheet: with fewer, what is laid beside the largest had better be large itself

Spread = Callable[[Callable[["Task"], "Done"], Iterable["Task"]], Iterator["Done"]]


class Task(NamedTuple):
    """What a worker needs: sizes and paper, and either pieces to nest or sheets to improve."""

    kinds: tuple[Kind, ...]
    paper: Stock
    seed: int
    straight: bool
    pieces: tuple[int, ...] = ()
    sheets: tuple[Filled, ...] = ()
    steps: int | None = None
    seconds: float | None = None
    tries: int = 2
    pairs: bool = False
    stop: Callable[[], bool] | None = None


class Done(NamedTuple):
    """What a worker made of it, and the steps that took."""

    sheets: list[Filled]
    steps: int


class Chunks:
    """The pieces `kinds` of one paper, to be nested sheet after sheet."""

    def __init__(
        self,
        sizes: tuple[Kind, ...],
        paper: Stock,
        kinds: Sequence[int],
        straight: bool,
        spread: Spread,
        stock: int = 0,
    ) -> None:
        self.stock = stock
        self.sizes, self.paper, self.kinds, self.straight, self.spread = sizes, paper, kinds, straight, spread

    def nested(self, part: float, fewest: int, budget: Budget, chance: random.Random) -> list[Filled]:
        """Sheets for all pieces: two tries a sheet, then as many as that part of the budget allows.

        Where a clock decides, what the last tries took tells how many it allows; where that was too few, once more.
        """
        tries, pairs = 2, False
        sheets: list[Filled] = []
        while True:
            before = budget.remaining
            made = self.tried(tries, chance, pairs, budget if sheets else None)
            if made is None:
                return sheets
            sheets = made if not sheets or len(made) <= len(sheets) else sheets
            budget.better([Filled(self.stock, sheet.spots) for sheet in sheets])
            if before is None or budget.remaining is None:
                more = int(part * ((budget.steps or 0) - budget.done) / len(sheets))
            else:
                more = int(part * budget.remaining * tries / max(1e-9, before - budget.remaining))
            if len(sheets) <= fewest or 2 * more < 3 * tries:
                return sheets
            budget.add(more * len(sheets))
            tries, pairs = more, len(self.kinds) < PAIRS * len(sheets)

    def tried(
        self, tries: int, chance: random.Random, pairs: bool = False, budget: Budget | None = None
    ) -> list[Filled] | None:
        """Chunks nested apart, the worst sheets of each round nested again in the next; None if the budget is over."""
        area = [w * h for w, h, _ in self.sizes]
        kept: list[Filled] = []
        kinds = sorted(self.kinds)
        while kinds:
            # Kinds are numbered largest first: dealt in order, every chunk has its share of large and small.
            count = -(-len(kinds) // CHUNK)
            seeds = [int(chance.random() * (1 << 30)) for _ in range(count)]
            dealt = [tuple(kinds[i::count]) for i in range(count)]
            task = Task(self.sizes, self.paper, 0, self.straight, tries=tries, pairs=pairs)
            if budget is not None:
                task = task._replace(seconds=budget.remaining, stop=budget.stop)
            tasks = [task._replace(seed=seed, pieces=one) for seed, one in zip(seeds, dealt, strict=True)]
            made: list[Filled] = []
            number = 0
            for done in apart(self.spread, nest_chunk, tasks):
                made += done.sheets
                number += 1
                if budget is not None and budget.over and (number < count or count > 1):
                    return None
            if number < count:
                return None
            made.sort(key=lambda sheet: -sum(area[k] for k in sheet.kinds))
            carried = int(len(made) * CARRIED) if count > 1 else 0
            kept += made[: len(made) - carried]
            kinds = sorted(k for sheet in made[len(made) - carried :] for k in sheet.kinds)
        return kept


def apart(spread: Spread, work: Callable[[Task], Done], tasks: Iterable[Task]) -> Iterator[Done]:
    """The tasks done, each handed only the sizes it has to do with: the whole list would cost more than the work.

    Fewer are done where the caller wants no more.
    """
    cut = [_with_own_sizes(task) for task in tasks]
    for done, (_, own) in zip(spread(work, [task for task, _ in cut]), cut, strict=False):
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
    worth = _worth(task)
    if not task.straight and (loops := swift.loaded(*size)) is not None:
        return Done(swift.chunked(loops, task.kinds, worth, size, task.pieces, task.tries, chance), 0)
    smaller = [-w * h for w, h, _ in task.kinds]  # ascending, as kinds are numbered largest first
    sides = [min(w, h) for w, h, _ in task.kinds]
    left, sheets = sorted(task.pieces), []
    budget = Budget(None, task.seconds, stop=task.stop)
    while left:
        # what is larger than the rest of the paper cannot lie beside the largest, and is not offered
        start = max(1, bisect_left(left, bisect_left(smaller, -smaller[left[0]] - size[0] * size[1])))
        offered = [left[0], *left[start:]]
        least = min([sides[k] for k in offered])
        most, best, rest = -1, [], left
        for number in range(task.tries):
            if number > 1 and not number % LOOK and budget.over:
                break
            order = offered if number < 2 else promoted(offered, chance)
            rule = RULES[number] if number < 2 else RULES[int(chance.random() * len(RULES))]
            spots, over, _ = filler(task.kinds, *size, order, rule, None, least)
            held = sum([worth[s.kind] for s in spots])
            if held > most:
                most, best, rest = held, spots, over
        left = sorted(left[1:start] + rest)
        sheets.append(Filled(0, best))
    return Done(sheets, 0)


def _worth(task: Task) -> list[int]:
    """What a piece of each kind on a sheet counts for: its area, in pairs to the power of 1.25, in whole numbers."""
    area = [w * h for w, h, _ in task.kinds]
    if not task.pairs:
        return area
    fine = grain(task.paper.width, task.paper.height or 0)
    return [(a >> fine) * isqrt(isqrt(a >> fine)) for a in area]


def promoted(kinds: list[int], chance: random.Random) -> list[int]:
    """The first stays; then come one or two at random, then the others as they were."""
    order = list(kinds)
    for place in range(1, min(2 + int(chance.random() * 2), len(kinds))):
        order.insert(place, order.pop(place + int(chance.random() * (len(kinds) - place))))
    return order
