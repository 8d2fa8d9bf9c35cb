"""Work has a price: what handling each sheet costs, and changing to each further paper, beside the paper itself.

The search sees sheets that cost their handling too. A change of paper belongs to no sheet: so where changing costs
anything, the best nesting on all papers is compared with the best on fewer of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from impose.nest.bounds import bound_cost
from impose.nest.budget import SearchBudget
from impose.nest.instance import FilledSheet, NestingInstance
from impose.nest.model import NestedSheet, Stock

Search = Callable[[NestingInstance, SearchBudget], tuple[list[FilledSheet], int]]  # sheets, and what they cost at least


def add_handling(job: NestingInstance) -> NestingInstance:
    """The job in which a sheet costs its handling too; a piece of roll has it in `Stock.compute_price`."""
    stocks = [replace(s, cost=s.cost + s.handling, handling=0) if s.height is not None else s for s in job.stocks]
    return replace(job, stocks=tuple(stocks))


def sum_handling(sheets: Sequence[NestedSheet], stocks: Sequence[Stock], changing: int) -> int:
    """What handling these sheets costs, each change to a further paper included; in millionths."""
    each = {stock.name: stock.handling for stock in stocks}
    used = {sheet.stock for sheet in sheets}
    return sum(each[sheet.stock] for sheet in sheets) + changing * max(0, len(used) - 1)


def count_changes(sheets: Sequence[FilledSheet]) -> int:
    """How often the paper changes, each paper printed in one run."""
    return max(0, len({sheet.stock for sheet in sheets}) - 1)


def try_fewer_papers(
    job: NestingInstance, sheets: list[FilledSheet], bound: int, changing: int, budget: SearchBudget, search: Search
) -> tuple[list[FilledSheet], int]:
    """The sheets, or those on fewer papers that cost less with what changing costs; and a bound on that cost.

    Each paper alone, and all but one of those in use, are searched as long as their own bounds leave hope; with steps
    each has the whole budget, as if it were alone, so that no other choice of papers offered would do better.
    """

    def total(found: Sequence[FilledSheet]) -> int:
        return job.total_cost(found) + changing * count_changes(found)

    least = bound + changing  # of two papers or more
    tried = _list_paper_choices(job, sheets)
    for number, chosen in enumerate(tried):
        fewer = replace(job, stocks=tuple(job.stocks[s] for s in chosen))
        if not all(any(fewer.fits_empty_sheet(s, k) for s in range(len(chosen))) for k in range(len(job.kinds))):
            continue
        needed = bound_cost(fewer)
        if needed < total(sheets) and not budget.over:
            seconds = None if budget.remaining is None else budget.remaining / (len(tried) - number)
            part = budget.share_budget(budget.steps, seconds, budget.patience)
            found, needed = search(fewer, part)
            budget.done += part.done if budget.steps is None else 0
            found = [FilledSheet(chosen[filled.stock], filled.spots) for filled in found]
            if sum(len(filled.spots) for filled in found) == job.piece_count and total(found) < total(sheets):
                sheets = found
                budget.report_better(sheets)
        least = min(least, needed) if len(chosen) == 1 else least
    return sheets, min(max(bound, least), total(sheets))


def _list_paper_choices(job: NestingInstance, sheets: Sequence[FilledSheet]) -> list[tuple[int, ...]]:
    """The papers each alone, and those in use without one of them."""
    used = sorted({sheet.stock for sheet in sheets})
    alone: list[tuple[int, ...]] = [(s,) for s in range(len(job.stocks))]
    return alone + [tuple(s for s in used if s != out) for out in used if len(used) > 2]
