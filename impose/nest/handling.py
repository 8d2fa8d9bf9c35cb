"""Work has a price: what handling each sheet costs, and changing to each further paper, beside the paper itself.

The search sees sheets that cost their handling too. A change of paper belongs to no sheet: so where changing costs
anything, the best nesting on all papers is compared with the best on fewer of them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from impose.nest.bounds import bound_cost
from impose.nest.budget import SearchBudget
from impose.nest.instance import FilledSheet, NestingInstance
from impose.values import replace

if TYPE_CHECKING:
    from impose.nest.mix import Alone

    Search = Callable[[NestingInstance, SearchBudget, Alone], tuple[list[FilledSheet], int]]


def add_handling(job: NestingInstance) -> NestingInstance:
    """The job in which a sheet costs its handling too; a piece of roll has it in `Stock.compute_price`."""
    stocks = [replace(s, cost=s.cost + s.handling, handling=0) if s.height is not None else s for s in job.stocks]
    return replace(job, stocks=tuple(stocks))


def drop_handling(job: NestingInstance) -> NestingInstance:
    """The job in which handling costs nothing."""
    return replace(job, stocks=tuple(replace(stock, handling=0) for stock in job.stocks))


def count_changes(sheets: Sequence[FilledSheet]) -> int:
    """How often the paper changes, each paper printed in one run."""
    return max(0, len({sheet.stock for sheet in sheets}) - 1)


def search_paper_choices(
    job: NestingInstance, bound: int, changing: int, budget: SearchBudget, search: Search
) -> tuple[list[FilledSheet], int]:
    """Sheets that cost least with what changing costs, as far as the search sees, and a lower bound on that cost.

    Each paper alone first, as long as its own bound leaves hope: often that already costs no more than two papers can
    with a change between them. Then all papers, then those in use without one of them. With steps each has the whole
    budget, as if it were alone, so that no other choice of papers offered would do better. Pieces are left out where
    the limits of the papers allow no more.
    """
    choices = _PaperChoices(job, changing, budget, search)
    choices.search_alone()
    several = bound + changing  # what two papers or more cost at least
    if choices.best is None or (several < choices.total and not budget.over):
        several = choices.search_mix() + changing
        choices.drop_papers()
    assert choices.best is not None
    return choices.best, min(max(bound, min([several, *choices.needed.values()])), choices.total)


class _PaperChoices:
    """The best sheets so far, and of each paper alone what it needs at least and the sheets found."""

    def __init__(self, job: NestingInstance, changing: int, budget: SearchBudget, search: Search) -> None:
        self.job, self.changing, self.budget, self.search = job, changing, budget, search
        self.best: list[FilledSheet] | None = None
        self.total = 0
        self.needed: dict[int, int] = {}
        self.alone: dict[int, tuple[list[FilledSheet], int]] = {}

    def search_alone(self) -> None:
        """Each paper that takes all pieces, the one of the lowest bound first."""
        papers, part = {}, self.budget.split_off(2)  # of the clock
        for s in range(len(self.job.stocks)):
            if fewer := self._restrict_papers((s,)):
                self.needed[s] = bound_cost(fewer, part.ends_bounds)
                papers[s] = fewer
        order = sorted(papers, key=lambda s: (self.needed[s], s))
        for number, s in enumerate(order):
            if self.best is not None and (self.needed[s] >= self.total or self.budget.over):
                continue
            sheets, self.needed[s] = self._search_part(papers[s], (s,), len(order) + 1 - number)
            self.alone[s] = sheets, self.needed[s]
            self._keep_better(sheets)

    def search_mix(self) -> int:
        """All papers; what they cost at least without a change."""
        left = self.budget.remaining
        part = self.budget if left is None else dataclasses.replace(self.budget, seconds=left)
        sheets, least = self.search(self.job, part, self.alone)
        self.budget.done = max(self.budget.done, part.done)
        if self.best is None:
            self.best, self.total = sheets, self._sum_cost(sheets)
        self._keep_better(sheets)
        return least

    def drop_papers(self) -> None:
        """The papers in use without one of them, where they are three or more."""
        assert self.best is not None
        used = sorted({sheet.stock for sheet in self.best})
        for out in used if len(used) > 2 else ():
            chosen = tuple(s for s in used if s != out)
            fewer = self._restrict_papers(chosen)
            if not fewer or self.budget.over:
                continue
            if bound_cost(fewer, self.budget.ends_bounds) + self.changing < self.total:
                self._keep_better(self._search_part(fewer, chosen, 2)[0])

    def _restrict_papers(self, chosen: tuple[int, ...]) -> NestingInstance | None:
        """The job with these papers alone; None if they do not take all pieces."""
        fewer = replace(self.job, stocks=tuple(self.job.stocks[s] for s in chosen))
        takes_all = all(map(any, zip(*map(fewer.list_fitting_kinds, range(len(chosen))), strict=True)))
        return fewer if takes_all else None

    def _search_part(
        self, fewer: NestingInstance, chosen: tuple[int, ...], parts: int
    ) -> tuple[list[FilledSheet], int]:
        budget = self.budget
        seconds = None if budget.remaining is None else budget.remaining / parts
        part = budget.share_budget(budget.steps, seconds, budget.patience)
        if budget.tell is not None:
            part.tell = lambda sheets: budget.report_better(_renumber_papers(sheets, chosen))
        found, needed = self.search(fewer, part, {})
        budget.done += part.done if budget.steps is None else 0
        return _renumber_papers(found, chosen), needed

    def _keep_better(self, sheets: list[FilledSheet]) -> None:
        placed = sum(len(sheet.spots) for sheet in sheets)
        if placed == self.job.piece_count and (self.best is None or self._sum_cost(sheets) < self.total):
            self.best, self.total = sheets, self._sum_cost(sheets)
            self.budget.report_better(sheets)

    def _sum_cost(self, sheets: list[FilledSheet]) -> int:
        return self.job.total_cost(sheets) + self.changing * count_changes(sheets)


def _renumber_papers(sheets: Sequence[FilledSheet], chosen: tuple[int, ...]) -> list[FilledSheet]:
    """Sheets of chosen papers, by the numbers that these have among all."""
    return [FilledSheet(chosen[sheet.stock], sheet.spots) for sheet in sheets]
