"""Size advice: what a little less of a placement's prints would save, each piece of advice proven by nesting again.

All prints of a placement become narrower together, so that none of several alike differs from the others. Rows without
a placement belong together where they come from the same print of a kit, or ask for the same size.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

from impose.errors import Severity, Trouble
from impose.nest import Nesting, nest
from impose.orders.batch import BatchRow
from impose.profiles.paper import Paper
from impose.run.handling_choice import SheetTally, choose_rates, tally_sheets
from impose.run.load_batch import LoadedBatch
from impose.run.nest_batch import NestedBatch, SizedTransfers, make_rectangles, make_stocks, size_transfers
from impose.run.options import Options
from impose.sheet.costs import format_amount
from impose.sheet.margins import print_area
from impose.sheet.sizing import compute_sizes
from impose.units import MM_PER_INCH
from impose.values import FrozenStruct, replace

MOST_MM = 20.0
MOST_PART = 0.1
"""No more than this is advised, in mm and as a part of the width: beyond it another size is wanted (our own choice)."""

STEPS_MM = {"mm": 1.0, "in": MM_PER_INCH / 16}
MOST_TRANSFERS = 500
"""Of larger batches no advice is sought: nesting them again takes longer than a person waits."""

MOST_GROUPS = 6
TRIAL_STEPS = 400
"""Groups of prints looked at, those that take the most paper first, and steps that each nesting is allowed."""


class SizeAdvice(FrozenStruct):
    """So much less width of every print of a placement, and the sheets that are then enough.

    `widths_mm` are the least and the greatest width that these rows have now; `placement` is empty where they name
    none. Savings are in whole millionths, paper and handling together; more sheets of a cheaper paper save fewer.
    """

    placement: str
    kit: str
    rows: tuple[int, ...]
    widths_mm: tuple[float, float]
    less_mm: float
    saved: int
    saved_sheets: int
    then: SheetTally

    def list_values(self, aliases: Mapping[str, str]) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "placement": self.placement or None,
            "kit": self.kit or None,
            "rows": list(self.rows),
            "widths_mm": [round(width, 3) for width in self.widths_mm],
            "less_mm": round(self.less_mm, 3),
            "saved": format_amount(self.saved),
            "saved_sheets": self.saved_sheets,
            "then": self.then.list_values(aliases),
        }


def advise_sizes(job: LoadedBatch, best: NestedBatch, papers: Sequence[Paper], options: Options) -> list[SizeAdvice]:
    """Advice for each placement that a little less width saves paper or handling of; the greatest saving first.

    `best` is the batch as it would be made, on some or all of the papers. None where paper has no price, or where
    there are very many transfers.
    """
    if len(best.transfers) > MOST_TRANSFERS or not all(paper.cost > 0 for paper in papers):
        return []
    advisor = _SizeAdvisor(job, best, papers, replace(options, skip_bad=False))
    found = [advice for group in advisor.list_groups() if (advice := advisor.advise_group(group)) is not None]
    return sorted(found, key=lambda entry: (-entry.saved, entry.rows))


class _RowGroup(FrozenStruct):
    """Rows that change together, by their place in the batch, and how many steps narrower they may become."""

    members: tuple[int, ...]
    steps: int


class _SizeAdvisor:
    """One batch: what it costs now, and what it costs with some prints narrower."""

    def __init__(self, job: LoadedBatch, best: NestedBatch, papers: Sequence[Paper], options: Options) -> None:
        self.job, self.best, self.options = job, best, options
        self.step_mm = STEPS_MM[job.profiles.settings.units]
        self.rows = job.batch.rows
        self.sizes = compute_sizes(self.rows, [job.pictures[row.asked] for row in self.rows], job.profiles)[0]
        now = tuple(area.paper for area in best.areas)
        self.choices = [now] if set(now) == set(papers) else [now, tuple(papers)]
        self.total = best.nesting.cost + best.nesting.handling
        self.warned = {
            (finding.kind, finding.row) for finding in best.findings if finding.severity is not Severity.NOTE
        }

    def list_groups(self) -> Iterator[_RowGroup]:
        """Groups of rows that may become narrower, those with the most area first."""
        groups: dict[Hashable, list[int]] = {}
        for index, row in enumerate(self.rows):
            groups.setdefault(_group_key(row), []).append(index)
        sized = sorted(groups.values(), key=lambda members: (-self._sum_area(members), members))
        for members in sized[:MOST_GROUPS]:
            steps = min(self._count_steps(index) for index in members)
            if steps > 0:
                yield _RowGroup(tuple(members), steps)

    def _sum_area(self, members: Sequence[int]) -> float:
        return sum(self.sizes[i].worn_w_mm * self.sizes[i].worn_h_mm * self.rows[i].copies for i in members)

    def _count_steps(self, index: int) -> int:
        """How many steps narrower a row's print may become: not below its placement's least."""
        row, width = self.rows[index], self.sizes[index].worn_w_mm
        if row.fitted:
            return 0
        most = min(MOST_MM, MOST_PART * width)
        if row.placement is not None:
            found = self.job.profiles.require_placement(row.placement).find_size(
                row.garment, self.job.profiles.wardrobe
            )
            if found is not None and found[0].least_mm is not None:
                most = min(most, width - found[0].least_mm)
        return int(most / self.step_mm + 1e-9)

    def advise_group(self, group: _RowGroup) -> SizeAdvice | None:
        """The least that these rows give up for most of what they can save; None if nothing is saved."""
        tried: dict[int, tuple[Nesting, int] | None] = {}

        def total(steps: int) -> int:
            """What the batch costs with so many steps less."""
            if steps not in tried:
                tried[steps] = self._nest_narrower(group, steps)
            found = tried[steps]
            return self.total if found is None else min(self.total, found[1])

        if not self._may_save(group) or total(group.steps) >= self.total:
            return None
        least = self._find_least(total, group.steps, total(group.steps))
        half = least // 2
        if half and 2 * (self.total - total(half)) >= self.total - total(least):
            least = self._find_least(total, half, total(half))
        found = tried[least]
        assert found is not None
        return self._make_advice(group, least, found[0])

    @staticmethod
    def _find_least(total: Any, enough: int, goal: int) -> int:
        """The fewest steps that reach the goal, by halving; `enough` steps do."""
        low = 0
        while enough - low > 1:
            middle = (low + enough) // 2
            if total(middle) <= goal:
                enough = middle
            else:
                low = middle
        return enough

    def _may_save(self, group: _RowGroup) -> bool:
        """Whether the lower bound with the narrowest prints leaves anything to save."""
        return any(
            (found := self._nest_on(papers, group, group.steps, 0)) is not None
            and (found.bound if found.least is None else found.least) < self.total
            for papers in self.choices
        )

    def _nest_narrower(self, group: _RowGroup, steps: int) -> tuple[Nesting, int] | None:
        """The cheapest nesting with so many steps less width, and what it costs with its handling."""
        made = [self._nest_on(papers, group, steps, TRIAL_STEPS) for papers in self.choices]
        totals = [
            (nesting, nesting.cost + nesting.handling)
            for nesting in made
            if nesting is not None and not nesting.unplaced
        ]
        return min(totals, key=lambda pair: pair[1], default=None)

    def _nest_on(self, papers: Sequence[Paper], group: _RowGroup, steps: int, search: int) -> Nesting | None:
        """The batch on these papers with a group narrower; None where it cannot be made so, or gets new warnings."""
        rows = list(self.rows)
        for index in group.members:
            width = self.sizes[index].worn_w_mm - steps * self.step_mm
            rows[index] = replace(rows[index], width_mm=width, height_mm=None)
        areas = tuple(print_area(paper, self.job.printer) for paper in papers)
        smaller = replace(self.job, batch=replace(self.job.batch, rows=tuple(rows)))
        try:
            made = size_transfers(areas, smaller, self.options)
        except Trouble:
            return None
        if self._warns_more(made):
            return None
        settings, limits = self.job.profiles.settings, self.options.limits
        rates = choose_rates(settings, True)
        stocks = [replace(stock, limit=limits.get(stock.name)) for stock in make_stocks(areas, made.slack_mm, rates)]
        return nest(
            make_rectangles(made),
            stocks,
            steps=search,
            straight_cuts=settings.straight_cuts,
            changing=rates.change,
        )

    def _warns_more(self, made: SizedTransfers) -> bool:
        said = {(finding.kind, finding.row) for finding in made.findings if finding.severity is not Severity.NOTE}
        return not said <= self.warned

    def _make_advice(self, group: _RowGroup, steps: int, nesting: Nesting) -> SizeAdvice:
        rows = [self.rows[index] for index in group.members]
        widths = [self.sizes[index].worn_w_mm for index in group.members]
        kits = {row.kit for row in rows}
        return SizeAdvice(
            rows[0].placement or "",
            kits.pop() if len(kits) == 1 else "",
            tuple(sorted({row.row for row in rows})),
            (min(widths), max(widths)),
            steps * self.step_mm,
            self.total - nesting.cost - nesting.handling,
            len(self.best.nesting.sheets) - len(nesting.sheets),
            tally_sheets(nesting, nesting.handling),
        )


def _group_key(row: BatchRow) -> Hashable:
    """What rows share that change together."""
    if row.placement is not None:
        return "placement", row.placement
    if row.kit:
        return "kit", row.kit, row.kit_row
    return "size", row.width_mm, row.height_mm
