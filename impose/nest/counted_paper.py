"""Counted paper: all pieces on what is left of it, where the greedy mix leaves some over.

What fits only counted paper has to go there first; so all of it is seen as so many sheets, empty ones too, and what was
left over as a pool. Again and again one to three of these sheets are emptied into the pool and filled anew, as where a
sheet is to be saved (`search`), and kept if no more is left over, what no other paper takes counting for far more. What
other paper takes is covered by it in the end.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

from impose.nest.budget import SearchBudget
from impose.nest.cover import SheetCover
from impose.nest.instance import FilledSheet, NestingInstance
from impose.nest.search import SheetEmptying, choose_filler
from impose.values import replace

SCARCE = 1 << 20  # times as much counts what only counted paper takes


def fit_within_limits(
    cover: SheetCover,
    sheets: Sequence[FilledSheet],
    left: Sequence[int],
    budget: SearchBudget,
    seed: int,
    straight: bool,
) -> tuple[list[FilledSheet], list[int]]:
    """The sheets and what is left over once the search has made room, if it could."""
    job = cover.job
    counted = [s for s, stock in enumerate(job.stocks) if stock.limit is not None]
    scarce = {k for k in range(len(job.kinds)) if not any(cover.takes[s][k] for s in _make_plentiful(job))}
    slots, kept, pool = _make_slots(job, counted, sheets, left)
    room = sum(slot.width * (slot.height or 0) for slot in slots.stocks)
    if sum(job.piece_area(k) for k in job.list_pieces() if k in scarce) > room:
        return list(sheets), list(left)
    others = [sheet for sheet in sheets if sheet.stock not in counted]
    counting = _CountedNesting(slots, budget, random.Random(seed), straight, scarce)
    kept, pool = counting.absorb_pool(kept, pool)
    names = [slot.name for slot in job.stocks]
    done = [FilledSheet(names.index(slots.stocks[sheet.stock].name), sheet.spots) for sheet in kept if sheet.spots]
    rest, over = cover.cover_greedily(sorted(pool), cover.job.remaining_limits([*others, *done]), budget)
    made = [*others, *done, *rest]
    if (_weigh_left(job, over), job.total_cost(made)) < (_weigh_left(job, left), job.total_cost(sheets)):
        return made, over
    return list(sheets), list(left)


def _make_plentiful(job: NestingInstance) -> list[int]:
    return [s for s, stock in enumerate(job.stocks) if stock.limit is None]


def _weigh_left(job: NestingInstance, left: Sequence[int]) -> int:
    return sum(job.piece_area(k) for k in left)


def _make_slots(
    job: NestingInstance, counted: Sequence[int], sheets: Sequence[FilledSheet], left: Sequence[int]
) -> tuple[NestingInstance, list[FilledSheet], list[int]]:
    """All counted paper as sheets, in a job of its own: what lies on them, and what lies on none of them.

    A counted roll is seen as pieces of the greatest length and one of what is left then; what lay on it is in the pool.
    """
    pool, stocks, kept = list(left), [], []
    for s in counted:
        stock = job.stocks[s]
        here = [sheet for sheet in sheets if sheet.stock == s]
        if stock.height is not None:
            stocks.append(stock)
            empty = max(0, min(stock.limit or 0, job.piece_count) - len(here))
            kept += [FilledSheet(len(stocks) - 1, sheet.spots) for sheet in here]
            kept += [FilledSheet(len(stocks) - 1) for _ in range(empty)]
            continue
        pool += [k for sheet in here for k in sheet.kinds]
        length, tallest = stock.limit or 0, stock.tallest or 0
        while tallest > 0 and len(kept) < job.piece_count + len(stocks):
            stocks.append(replace(stock, height=tallest, max_height=None, limit=1))
            kept.append(FilledSheet(len(stocks) - 1))
            length -= stock.length(tallest)
            tallest = min(tallest, stock.height_within(length))
    return NestingInstance(job.kinds, job.counts, job.members, tuple(stocks)), kept, pool


class _CountedNesting(SheetEmptying):
    """Emptying a few sheets of any paper into what is left over, and filling them anew."""

    def __init__(
        self, job: NestingInstance, budget: SearchBudget, chance: random.Random, straight: bool, scarce: set[int]
    ) -> None:
        super().__init__(job, 0, budget, chance, choose_filler(straight))
        self.burden = [weight * (SCARCE if k in scarce else 1) for k, weight in enumerate(self.burden)]
        self.scarce = scarce

    def absorb_pool(self, sheets: list[FilledSheet], pool: list[int]) -> tuple[list[FilledSheet], list[int]]:
        """The sheets with as much of the pool on them as the budget allows, and what is left of it."""
        kept = list(sheets)
        least = sum(self.burden[k] for k in pool)
        while kept and self.scarce.intersection(pool) and not self.budget.is_spent:
            count = min(len(kept), 1 + int(self.chance.random() * 2.5))
            chosen = self._pick_some(len(kept), count)
            kinds = [k for index in chosen for k in kept[index].kinds] + pool
            fresh, left = self._refill_sheets(kinds, [kept[index].stock for index in chosen], None)
            over = sum([self.burden[k] for k in left])
            if len(fresh) == count and over <= least:
                if over < least:
                    self.budget.note_gain()
                least, pool = over, left
                for index, sheet in zip(chosen, fresh, strict=True):
                    kept[index] = sheet
        return kept, pool
