"""Sheets of an earlier nesting as a start: what did not change stays where it lay, unless moving it saves paper."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence

from impose.nest.budget import SearchBudget
from impose.nest.cover import SheetCover
from impose.nest.free_rectangles import Free, carve_free, fit_short_side
from impose.nest.guillotine import find_cuts
from impose.nest.instance import FilledSheet, NestingInstance, PlacedSpot
from impose.nest.mix import recover_paper
from impose.nest.model import NestedSheet, Placement, Rectangle
from impose.nest.prove import find_overlap
from impose.nest.search import choose_filler, improve_sheets

PART = 4  # of the budget goes into saving sheets of the start, as long as it is dearer than the bound


class WarmStart:
    """The sheets as far as their pieces are still asked for, on papers still offered, as they lay."""

    def __init__(
        self, job: NestingInstance, pieces: Sequence[Rectangle], sheets: Sequence[NestedSheet], straight: bool
    ) -> None:
        self.job, self.straight = job, straight
        self.cover = SheetCover(job, choose_filler(straight))
        self.kind = {index: k for k, members in enumerate(job.members) for index in members}
        self.index = {pieces[index].id: index for index in self.kind}
        self.pieces = pieces
        self.sheets: list[FilledSheet] = []
        self.names: list[dict[PlacedSpot, int]] = []
        self.limits = self.job.remaining_limits([])
        for sheet in sheets:
            self._keep_sheet(sheet)

    def _keep_sheet(self, sheet: NestedSheet) -> None:
        """What of a sheet is as it was; nothing where its paper is not offered or no longer enough."""
        stock = next((s for s, offered in enumerate(self.job.stocks) if offered.name == sheet.stock), None)
        placed = [p for p in sheet.placements if stock is not None and self._is_unchanged(stock, p)]
        if stock is None or not placed or find_overlap(placed):
            return
        names = {
            PlacedSpot(self.kind[self.index[p.id]], p.x, p.y, p.width, p.height): self.index.pop(p.id) for p in placed
        }
        filled = FilledSheet(stock, list(names))
        left = self.job.limit_after(self.limits[stock], filled)
        if left is not None and left < 0:
            self.index |= {self.pieces[index].id: index for index in names.values()}
            return
        self.limits[stock] = left
        self.sheets.append(filled)
        self.names.append(names)

    def _is_unchanged(self, stock: int, placed: Placement) -> bool:
        index = self.index.get(placed.id)
        if index is None:
            return False
        piece = self.pieces[index]
        ways = [(piece.width, piece.height)] + ([(piece.height, piece.width)] if piece.may_turn else [])
        inside = min(placed.x, placed.y) >= 0 and self.job.stocks[stock].fits(
            placed.x + placed.width, placed.y + placed.height
        )
        return (placed.width, placed.height) in ways and inside

    def complete_sheets(self, budget: SearchBudget) -> list[FilledSheet] | None:
        """All pieces: what is new goes into gaps, then onto more sheets; None where the limits leave some over."""
        sheets = [FilledSheet(kept.stock, list(kept.spots)) for kept in self.sheets]
        pool = sorted(self.kind[index] for index in self.index.values())
        gaps = [self._list_gaps(sheet) for sheet in sheets]
        left = [k for k in pool if budget.over or not self._fill_gap(k, sheets, gaps)]
        limits = self.job.remaining_limits(sheets)
        fresh, over = self.cover.cover_greedily(left, limits, budget)
        return None if over else [*sheets, *fresh]

    def _list_gaps(self, sheet: FilledSheet) -> list[Free]:
        paper = self.job.stocks[sheet.stock]
        width, height = paper.width, paper.height or sheet.used_height
        free: list[Free] = [(0, 0, width, height, width, height)]
        for spot in sheet.spots:
            free = carve_free(free, spot.x, spot.y, spot.x + spot.width, spot.y + spot.height, 1)
        return free

    def _fill_gap(self, kind: int, sheets: list[FilledSheet], gaps: list[list[Free]]) -> bool:
        """Whether a piece found a gap: on the first sheet that has one."""
        w, h, turn = self.job.kinds[kind]
        for at, sheet in enumerate(sheets):
            found = fit_short_side(gaps[at], w, h, turn)
            if found is None:
                continue
            spots = [*sheet.spots, PlacedSpot(kind, *found)]
            if self.straight and not self._allows_cuts(sheet.stock, spots):
                continue
            sheet.spots.append(spots[-1])
            x, y, w, h = found
            gaps[at] = carve_free(gaps[at], x, y, x + w, y + h, 1)
            return True
        return False

    def _allows_cuts(self, stock: int, spots: Sequence[PlacedSpot]) -> bool:
        paper = self.job.stocks[stock]
        placed = [Placement("", s.x, s.y, s.width, s.height, False) for s in spots]
        return find_cuts(placed, paper.width, paper.height or max(s.y + s.height for s in spots)) is not None

    def save_paper(
        self, sheets: list[FilledSheet], bound: int, fewest: int, budget: SearchBudget, seed: int
    ) -> list[FilledSheet]:
        """Less paper, a few sheets at a time, so that most of them stay as they are."""
        job, part, chance = self.job, budget.split_off(PART), random.Random(seed)
        part.tell = budget.tell
        if len(job.stocks) == 1 and job.stocks[0].height is not None:
            made = improve_sheets(job, 0, sheets, fewest, part, chance, self.straight)
        else:
            made = recover_paper(self.cover, sheets, bound, part, chance)
        budget.add_steps(part.done)
        return made if job.total_cost(made) < job.total_cost(sheets) else sheets

    def match_sheets(self, sheets: Sequence[FilledSheet]) -> list[int | None]:
        """For each sheet the earlier one that it is, in whole or in part: most of whose pieces lie as they did."""
        at: dict[tuple[int, PlacedSpot], list[int]] = {}
        for number, mine in enumerate(self.sheets):
            for spot in mine.spots:
                at.setdefault((mine.stock, spot), []).append(number)
        taken: set[int] = set()
        out: list[int | None] = []
        for sheet in sheets:
            votes = Counter(n for spot in sheet.spots for n in at.get((sheet.stock, spot), ()) if n not in taken)
            best = max(votes, key=lambda n: (votes[n], -n), default=None)
            taken |= set() if best is None else {best}
            out.append(best)
        return out

    def list_unmoved(self, sheets: Sequence[NestedSheet]) -> set[str]:
        """The pieces that lie on these sheets as they did on the earlier ones."""
        names = {self.pieces[i].id: spot for names in self.names for spot, i in names.items()}
        found = set()
        for sheet in sheets:
            for p in sheet.placements:
                spot = names.get(p.id)
                if spot is not None and spot[1:] == (p.x, p.y, p.width, p.height):
                    found.add(p.id)
        return found
