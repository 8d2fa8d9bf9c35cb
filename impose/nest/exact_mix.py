"""Few pieces on several papers: the least cost, by trying every way to deal them to sheets.

As in `parting`, the largest piece left goes with each set that it may share a sheet with, here on each paper. What is
left over costs at least what it is worth by the lower bound's values, rounded up to a sum that prices can make; a deal
that cannot come below the best known is given up. When none is left, the best is proven to be the least.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable

from impose.nest.bounds import compute_worths
from impose.nest.compiled import find_loops
from impose.nest.compiled_exact import deal_pieces_compiled
from impose.nest.exact_sets import NodeBudget, NodesSpent, SharingJudge, list_bits
from impose.nest.instance import FilledSheet, NestingInstance

SUMS = 5000  # of prices that are kept; with more, what is left over is not rounded up

Limits = tuple[int | None, ...]  # sheets left of each paper; None for no limit


class MixSearch:
    """The search for a nesting of all pieces of the job, sheets only, that costs less than `best`."""

    def __init__(
        self,
        job: NestingInstance,
        straight: bool,
        nodes: NodeBudget,
        best: int,
        stop: Callable[[], bool] | None = None,
    ) -> None:
        self.stocks, self.nodes, self.best = job.stocks, nodes, best
        self.papers = sorted(range(len(job.stocks)), key=lambda s: (job.stocks[s].cost, s))
        self.sharing = [SharingJudge(job, s, straight, nodes) for s in range(len(job.stocks))]
        worth, self.fine = compute_worths(job, stop)
        self.worth = [worth[k] for k in job.list_pieces()]
        self.area = [job.piece_area(k) for k in job.list_pieces()]
        self.sums = _list_sums(sorted({stock.cost for stock in job.stocks}), best)
        self.seen: dict[tuple[int, Limits], int] = {}
        self.sets: list[tuple[int, int]] = []
        self.found: list[FilledSheet] | None = None
        self.open = False

    def find_sheets(self) -> list[FilledSheet] | None:
        """The cheapest sheets found, None if none cost less; if `open` is False, no others cost less than `best`."""
        if (done := self._find_compiled()) is not None:
            return done[0]
        try:
            self._deal_rest((1 << len(self.worth)) - 1, 0, tuple(stock.limit for stock in self.stocks))
        except NodesSpent:
            self.open = True
        self.open |= any(sharing.open for sharing in self.sharing)
        return self.found

    def _find_compiled(self) -> tuple[list[FilledSheet] | None] | None:
        """`find_sheets` by the library, in a tuple; None where it cannot."""
        if self.sharing[0].straight or find_loops() is None:
            return None
        papers = [
            (judge.make_sets(), (judge.width, judge.height), stock.cost, stock.limit)
            for judge, stock in zip(self.sharing, self.stocks, strict=True)
        ]
        nodes, worth = self.nodes, [*self.worth, self.fine]
        done = deal_pieces_compiled(
            papers, self.sharing[0].places, worth, self.sums, self.best, nodes.early, nodes.left, nodes.over
        )
        if done is None:
            return None
        self.found, self.open, nodes.left = done
        if self.found is not None:
            self.best = sum(self.stocks[sheet.stock].cost for sheet in self.found)
        return (self.found,)

    def _deal_rest(self, left: int, spent: int, limits: Limits) -> None:
        if not left:
            if all(self.sharing[s].find_layout(chosen) for s, chosen in self.sets):
                self.best = spent
                self.found = [FilledSheet(s, self.sharing[s].spots[chosen]) for s, chosen in self.sets]
            else:
                self.seen.clear()  # what was given up here may do with other sets before it
            return
        if self.seen.get((left, limits), spent + 1) <= spent:
            return
        self.seen[left, limits] = spent
        self.nodes.take_nodes()
        pieces = list_bits(left)
        worth = sum([self.worth[i] for i in pieces])
        first = 1 << pieces[0]
        for s in self.papers:
            limit, may = limits[s], self.sharing[s].may_share
            if limit == 0 or not may(first):
                continue
            after = limits if limit is None else (*limits[:s], limit - 1, *limits[s + 1 :])
            joining = [i for i in pieces[1:] if may(first | 1 << i)]
            self._deal_set(s, first, joining, left, worth, spent + self.stocks[s].cost, after)

    def _deal_set(
        self, s: int, chosen: int, joining: list[int], left: int, worth: int, spent: int, limits: Limits
    ) -> None:
        """Every set of `chosen` and some of `joining` that none of `left` could join too; the rest dealt after it."""
        self.nodes.take_nodes()
        over = worth - sum([self.worth[i] for i in [*list_bits(chosen), *joining]])
        if spent + self._bound_rest(over) >= self.best:
            return
        beyond = left & ~chosen & ~sum([1 << i for i in joining])
        if sum([self.area[i] for i in list_bits(beyond)]) > self._measure_room(limits):
            return
        sharing = self.sharing[s]
        may, kinds = sharing.may_share, sharing.pieces
        if not joining:
            if not sharing.may_any_join(chosen, left & ~chosen):
                self.sets.append((s, chosen))
                self._deal_rest(left & ~chosen, spent, limits)
                self.sets.pop()
            return
        first = joining[0]
        more = chosen | 1 << first
        self._deal_set(s, more, [i for i in joining[1:] if may(more | 1 << i)], left, worth, spent, limits)
        other = [i for i in joining[1:] if kinds[i] != kinds[first]]  # equal pieces are taken in order
        self._deal_set(s, chosen, other, left, worth, spent, limits)

    def _measure_room(self, limits: Limits) -> float:
        """The area of all sheets that are left, square micrometres."""
        stocks = zip(self.stocks, limits, strict=True)
        return sum([math.inf if n is None else n * stock.width * (stock.height or 0) for stock, n in stocks])

    def _bound_rest(self, worth: int) -> int:
        """The least that sheets for pieces of that worth can cost."""
        cost = -(-worth // self.fine)
        if self.sums is None:
            return cost
        at = bisect_left(self.sums, cost)
        return self.sums[at] if at < len(self.sums) else self.best


def _list_sums(prices: list[int], below: int) -> list[int] | None:
    """All sums of prices, each any number of times, that are less than `below`; None if they are too many."""
    sums = {0}
    for price in prices:
        if not price:
            continue
        if len(sums) * (below // price + 1) > 20 * SUMS:
            return None
        sums = {s + n * price for s in sums for n in range((below - 1 - s) // price + 1)}
        if len(sums) > SUMS:
            return None
    return sorted(sums)
