"""Sheets of several papers covered in C, where the library is there: see `compiled`; twins in `cover` and `mix`."""

from __future__ import annotations

import random
from array import array
from collections.abc import Sequence

from impose.nest.budget import SearchBudget
from impose.nest.compiled import (
    EXACT,
    NO_LIMIT,
    PAUSE,
    find_loops,
    flatten_rows,
    list_limits,
    locate_list,
    make_zeros,
    read_spots,
    read_state,
    restore_state,
)
from impose.nest.compiled_exact import NO_MEMORY, CallerAsking
from impose.nest.instance import FilledSheet, Limits, NestingInstance

BY_ALL_ORDERS, BY_SIZE, BY_PROMOTION, BY_BLUR = range(4)
GIVEN_UP = -2
SUM_MOST = 1 << 62


class CoveredPapers:
    """A job and its papers as the library takes them."""

    def __init__(
        self,
        job: NestingInstance,
        floors: Sequence[float],
        takes: Sequence[Sequence[bool]],
        orders: Sequence[Sequence[int]],
        straight: bool,
    ) -> None:
        """`floors` and `takes` are of each paper, `orders` are all kinds in the orders that filling tries."""
        self.count, self.straight = len(job.stocks), straight
        self.kinds, self.sizes = flatten_rows(job.kinds), len(job.kinds)
        self.prices = [stock.compute_price(0) for stock in job.stocks]
        self.papers = [(stock.width, stock.height or 0) for stock in job.stocks]
        self.floors, self.takes = array("d", floors), flatten_rows(takes)
        rank = [0] * self.sizes
        self.ranks = array("q")
        for order in orders:
            for place, kind in enumerate(order):
                rank[kind] = place
            self.ranks.extend(rank)

    def list_papers(self, limits: Limits) -> array[int]:
        """Width, height, price and limit of each paper."""
        left = [NO_LIMIT if limit is None else limit for limit in limits]
        return flatten_rows((*size, price, n) for size, price, n in zip(self.papers, self.prices, left, strict=True))

    def read_limits(self, papers: array[int], limits: Limits) -> None:
        """Set what is left of each paper."""
        for index, limit in enumerate(limits):
            limits[index] = None if limit is None else papers[4 * index + 3]

    def list_arguments(self, papers: array[int]) -> list[int]:
        """As both functions begin; `self` and the papers have to outlive the call."""
        lists = [locate_list(x) for x in (self.floors, self.takes, self.ranks)]
        return [locate_list(self.kinds), self.sizes, locate_list(papers), self.count, *lists, self.straight]


def can_cover(job: NestingInstance) -> bool:
    """Whether the library is there and counts as exactly as Python: sheets of papers alone, no roll."""
    return find_loops() is not None and all(
        stock.height is not None
        and stock.width * stock.height < EXACT
        and stock.compute_price(0) < EXACT
        and stock.compute_price(0) * (job.piece_count + 1) < SUM_MOST
        and (stock.limit or 0) < SUM_MOST
        for stock in job.stocks
    )


def cover_pieces_compiled(
    papers: CoveredPapers,
    kinds: Sequence[int],
    limits: Limits,
    budget: SearchBudget,
    chance: random.Random | None,
    tries: int,
    all_orders: bool,
    given_up: bool,
) -> tuple[list[FilledSheet], list[int]] | None:
    """The sheets of `cover.SheetCover.cover_greedily` and what is left over, `limits` less; None without memory."""
    loops, size = find_loops(), len(kinds)
    assert loops is not None
    way = (BY_ALL_ORDERS if all_orders else BY_SIZE) if chance is None else BY_PROMOTION if tries > 1 else BY_BLUR
    table, left, pieces = papers.list_papers(limits), array("q", kinds), array("q", [size])
    state = array("I") if chance is None else read_state(chance)
    spots, counts, stocks, steps = make_zeros(5 * size), make_zeros(size), make_zeros(size), make_zeros(1)
    asking = CallerAsking.whether_over(budget)
    at = [locate_list(x) for x in (left, pieces, state, spots, counts, stocks, steps)]
    made = loops.cover_pieces(
        *papers.list_arguments(table), at[0], at[1], way, tries, given_up, at[2], asking.question, *at[3:]
    )
    asking.raise_problem()
    if made == NO_MEMORY:
        return None
    budget.add_steps(steps[0])
    if chance is not None:
        restore_state(chance, state)
    if made == GIVEN_UP:
        return [], list(kinds)
    papers.read_limits(table, limits)
    return split_mix(spots, counts, stocks, made), left[: pieces[0]].tolist()


class CompiledMix:
    """A mix of sheets that the library covers anew a few at a time: `mix.recover_paper`."""

    def __init__(self, papers: CoveredPapers, sheets: Sequence[FilledSheet], limits: Limits, total: int) -> None:
        self.papers, self.table, self.total = papers, papers.list_papers(limits), total
        self.size = sum(len(sheet.spots) for sheet in sheets)
        self.made = len(sheets)
        self.spots = flatten_rows(spot for sheet in sheets for spot in sheet.spots)
        self.counts = array("q", [len(sheet.spots) for sheet in sheets]) + make_zeros(self.size - self.made)
        self.stocks = array("q", [sheet.stock for sheet in sheets]) + make_zeros(self.size - self.made)

    def recover_sheets(self, bound: int, budget: SearchBudget, chance: random.Random) -> bool | None:
        """Go on until something is saved, or for a hundredth of a second. Whether it is; None without memory."""
        loops, state, before = find_loops(), read_state(chance), self.total
        assert loops is not None
        told = array("q", [*list_limits(budget), budget.done, budget.gain, PAUSE, self.total, bound, self.made])
        at = [locate_list(x) for x in (self.spots, self.counts, self.stocks, state, told)]
        if loops.recover_mix(*self.papers.list_arguments(self.table), self.size, *at) == NO_MEMORY:
            return None
        restore_state(chance, state)
        budget.done, budget.gain, self.total, self.made = told[2], told[3], told[5], told[7]
        return self.total < before

    def list_sheets(self) -> list[FilledSheet]:
        """The sheets as they are now."""
        return split_mix(self.spots, self.counts, self.stocks, self.made)


def split_mix(spots: array[int], counts: Sequence[int], stocks: Sequence[int], made: int) -> list[FilledSheet]:
    """So many sheets with so many spots each, one after another, on their papers."""
    sheets, done = [], 0
    for count, stock in zip(counts[:made], stocks[:made], strict=True):
        sheets.append(FilledSheet(stock, read_spots(spots[5 * done : 5 * (done + count)])))
        done += count
    return sheets
