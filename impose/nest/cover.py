"""Pieces covered by sheets of several papers, each time the sheet that costs least for the area it holds."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from itertools import count

from impose.nest.budget import SearchBudget
from impose.nest.chunks import LOOK, promote_pieces
from impose.nest.compiled_cover import CoveredPapers, can_cover, cover_pieces_compiled
from impose.nest.free_rectangles import RULES, Rule
from impose.nest.instance import FilledSheet, Limits, NestingInstance
from impose.nest.model import UM_PER_METRE, Stock
from impose.nest.search import STRAIGHT, Filler, list_orders

BIASED = 0.3  # of the times that a few sheets are covered anew, papers seem dearer than they are, each by one of these
DEARER = (1.0, 1.0, 1.5, 3.0, 10.0)

BestSheet = tuple[float, int, FilledSheet, list[int]]  # price for the area held, paper, sheet, what is left

FEW = 300  # pieces; of more, each sheet is tried in one order only


def compute_floor_price(stock: Stock) -> float:
    """What the paper costs for its area: no filling can have it cheaper."""
    length = stock.height if stock.height is not None else UM_PER_METRE
    return stock.cost / (stock.width * length)


class SheetCover:
    """What fills sheets of the job's papers, cheapest first."""

    def __init__(self, job: NestingInstance, filler: Filler) -> None:
        self.job, self.filler = job, filler
        self.floors = sorted((compute_floor_price(stock), index) for index, stock in enumerate(job.stocks))
        self.takes = [job.list_fitting_kinds(s) for s in range(len(job.stocks))]
        self.compiled: CoveredPapers | None = None
        if filler in STRAIGHT and can_cover(job):
            floors = [compute_floor_price(stock) for stock in job.stocks]
            orders = list_orders(job, range(len(job.kinds)))
            self.compiled = CoveredPapers(job, floors, self.takes, orders, STRAIGHT[filler])

    def cover_greedily(
        self,
        kinds: Sequence[int],
        limits: Limits,
        budget: SearchBudget,
        chance: random.Random | None = None,
        tries: int = 1,
        given_up: bool = False,
    ) -> tuple[list[FilledSheet], list[int]]:
        """Sheets for `kinds`, and what the limits leave over; with `chance`, in `tries` random orders for each sheet.

        Changes `limits`. With one try, papers sometimes seem dearer than they are: where the cheapest for its area is
        short, or what it leaves over needs a sheet of its own, the least total takes other papers. `given_up` once the
        budget is over, there are no sheets.
        """
        if self.compiled is not None:
            many = self.job.piece_count > FEW
            done = cover_pieces_compiled(self.compiled, kinds, limits, budget, chance, tries, not many, given_up)
            if done is not None:
                return done
        sheets: list[FilledSheet] = []
        left = list(kinds)
        dearer = [1.0] * len(self.job.stocks)
        if chance is not None and tries == 1 and chance.random() < BIASED:
            dearer = [chance.choice(DEARER) for _ in dearer]
        floors = sorted((floor * dearer[index], index) for floor, index in self.floors)
        while left:
            if given_up and budget.over:
                return [], list(kinds)
            best = self._find_cheapest_sheet(left, limits, floors, dearer, budget, chance, tries)
            if best is None:
                break
            _, index, sheet, left = best
            sheets.append(sheet)
            limits[index] = self.job.limit_after(limits[index], sheet)
        return sheets, left

    def _find_cheapest_sheet(
        self,
        left: Sequence[int],
        limits: Limits,
        floors: Sequence[tuple[float, int]],
        dearer: Sequence[float],
        budget: SearchBudget,
        chance: random.Random | None,
        tries: int,
    ) -> BestSheet | None:
        """The sheet that costs least for the area it holds, what it seems to cost for that, and what it leaves.

        `floors` are the papers, each with the least that it can cost for its area, the cheapest first.
        """
        best: BestSheet | None = None
        for floor, index in floors:
            if best is not None and floor > best[0]:
                break
            tries = min(tries, 2) if budget.over else tries
            budget.add_steps(tries)
            fillings = self._list_fillings(index, left, limits[index], chance, tries)
            for number in count():
                if number and (tries == 1 or not number % LOOK) and budget.over:
                    break
                filled = next(fillings, None)
                if filled is None:
                    break
                price = filled[0] * dearer[index]
                if best is None or (price, index) < best[:2]:
                    best = (price, index, *filled[1:])
        return best

    def _list_fillings(
        self, index: int, left: Sequence[int], limit: int | None, chance: random.Random | None, tries: int
    ) -> Iterator[tuple[float, FilledSheet, list[int]]]:
        """Ways to fill one sheet of a paper with what is left, each with its price for the area held."""
        takes = self.takes[index]
        taken = [k for k in left if takes[k]]
        height = self._height_to_fill(index, taken, limit)
        if not taken or height <= 0:
            return
        others = [k for k in left if not takes[k]]
        width = self.job.stocks[index].width
        for order, rule in self._list_tries(taken, chance, tries):
            spots, rest, _ = self.filler(self.job.kinds, width, height, order, rule, None)
            if spots:
                sheet = FilledSheet(index, spots)
                held = sum([s.width * s.height for s in spots])
                yield self.job.sheet_cost(sheet) / held, sheet, rest + others

    def _list_tries(
        self, taken: list[int], chance: random.Random | None, tries: int
    ) -> Iterable[tuple[list[int], Rule]]:
        if chance is not None and tries > 1:
            left = sorted(taken)
            return ((promote_pieces(left, chance), chance.choice(RULES)) for _ in range(tries))
        if chance is not None:
            blurred = sorted((-self.job.piece_area(k) * (1 + 0.5 * chance.random()), k) for k in taken)
            return [([k for _, k in blurred], chance.choice(RULES))]
        # kinds are numbered largest first
        tried = list_orders(self.job, taken) if self.job.piece_count <= FEW else [sorted(taken)]
        return [(order, rule) for order in tried for rule in RULES[:2]]

    def _height_to_fill(self, index: int, kinds: Sequence[int], limit: int | None) -> int:
        """The height to fill: the sheet's, or on a roll what the longest piece and what is left of it allow."""
        stock = self.job.stocks[index]
        if stock.height is not None:
            return stock.height if limit is None or limit > 0 else 0
        heights = [sum(max(self.job.kinds[k][:2]) for k in kinds)]
        heights += [stock.max_height] if stock.max_height is not None else []
        heights += [stock.height_within(limit)] if limit is not None else []
        return min(heights)
