"""One table after another to plans: what live planning does, without its threads.

What was read, prepared and nested for one table is kept for the next. A row with a fault is told of and left out; the
others are planned.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from time import process_time
from typing import Any

from impose.art.cache import PictureCache
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.errors import Finding, Severity, raise_stops
from impose.file_types import Asked
from impose.formats.prepare_many import make_own_recipe
from impose.kinds import ACCEPTABLE
from impose.nest import Nesting, Rectangle, Stock, nest
from impose.orders.batch import Batch, BatchRow
from impose.orders.batch_reader import read_rows
from impose.orders.row_mappings import Rows
from impose.profiles.paper import Printer
from impose.profiles.profiles import Profiles
from impose.run.artwork import add_drawn_size, make_preparation_options, place_at_row
from impose.run.carry_over import carry_sheets
from impose.run.handling_choice import HandlingRates, HandlingReport, choose_rates, report_handling
from impose.run.live_artwork import LiveArtwork
from impose.run.load_batch import LoadedBatch, load_profiles_in_force
from impose.run.nest_batch import (
    NestedBatch,
    SizedTransfers,
    make_all_pieces,
    make_nested_batch,
    make_rectangles,
    make_stocks,
)
from impose.run.options import Options
from impose.run.output_profile_choice import ChosenProfile, choose_output_profile
from impose.run.plan import Plan, draw_plan
from impose.run.progress import Progress, Stage, report_stage
from impose.run.severity_policy import weigh_severities
from impose.run.shortage import list_shortages, sum_paper_taken
from impose.run.typeset_words import Typesetter
from impose.sheet.margins import PrintArea, print_area
from impose.sheet.record import FewestBound, list_fewest_values
from impose.sheet.size_findings import find_size_findings
from impose.sheet.sizing import check_cloth_scales
from impose.sheet.transfer import SizingRules, number_transfers
from impose.type.lettering import TextShaper
from impose.values import FrozenStruct, replace
from impose.work import default_workers

MOST_PROCESSES = 2
"""That prepare artwork: a live plan is made beside a person's other work."""
BREATH = 3.0
"""Drawing a better plan takes at most this part of the time: one over it."""

Told = Callable[[Plan], None]
Check = Callable[[], None]
"""Called often; raises to call the work off."""


class LiveTable(FrozenStruct):
    """All rows of a batch as a person sees them now, and the papers that they may take; none means the settings'."""

    rows: Rows
    kits: Rows = ()
    papers: tuple[str, ...] = ()


@dataclass(slots=True)
class LivePlanner:
    """Plans tables for one thread. `name` is the batch's, `source` the file that faults are told of under.

    Raises `Trouble` for faulty options and profiles.
    """

    options: Options
    name: str
    source: str
    art_root: Path
    profiles: Profiles = field(init=False)
    printer: Printer = field(init=False)
    chosen: ChosenProfile | None = field(init=False)
    art: LiveArtwork = field(init=False)
    before: NestedBatch | None = None
    examined: LoadedBatch | None = None
    lettering: TextShaper | None = None
    _setter: Typesetter = field(init=False)
    _recipe: PreparationOptions = field(init=False)

    def __post_init__(self) -> None:
        self.profiles = load_profiles_in_force(self.options)
        raise_stops(list(check_cloth_scales(self.profiles)))
        self.printer = self.profiles.find_printer(self.profiles.settings.printer)
        self.chosen = choose_output_profile(self.profiles, self.printer)
        output = None if self.chosen is None else self.chosen.output
        self._setter = Typesetter(self.profiles, output)
        self._recipe = make_preparation_options(self.profiles.settings, output)
        self.art = LiveArtwork(PictureCache(), output, self.options.workers or min(MOST_PROCESSES, default_workers()))

    def plan(self, table: LiveTable, told: Told, check: Check, stop: Callable[[], bool], progress: Progress) -> Plan:
        """The best plan of a table; `told` is called with each that is better than those before it, the first at once.

        `check` calls all of it off by raising. Once `stop` says so the search ends, and the best that was found is
        returned.
        """
        profiles = self.offer_papers(table.papers)
        batch = self._read_batch(table, profiles)
        check()
        batch, pictures = self._add_pictures(batch, check, progress)
        self.examined = LoadedBatch(profiles, profiles.offered_papers, self.printer, batch, pictures, self.chosen)
        areas = tuple(print_area(paper, self.printer) for paper in profiles.offered_papers)
        made = self._make_transfers(batch, pictures, areas, profiles)
        check()
        return _PlanSearch(self, made, areas, profiles, told, check).find_best(stop)

    def offer_papers(self, papers: Sequence[str]) -> Profiles:
        """The profiles with the papers on offer. Raises `Trouble` for one that is not known."""
        if not papers:
            return self.profiles
        settings = self.profiles.settings.lay_over({"papers": list(papers)}, "option")
        return replace(self.profiles, settings=settings)

    def _read_batch(self, table: LiveTable, profiles: Profiles) -> Batch:
        batch = read_rows(
            table.rows,
            profiles,
            self.art_root,
            self.options.bare,
            self.options.blanks,
            kits=table.kits,
            name=self.name,
            source=self.source,
            kinds=ACCEPTABLE,
        )
        more = () if self.chosen is None else self.chosen.findings
        return replace(batch, findings=(*batch.findings, *more))

    def _add_pictures(
        self, batch: Batch, check: Check, progress: Progress
    ) -> tuple[Batch, dict[Asked, PreparedPicture]]:
        """The batch less the rows whose words or artwork cannot be printed, and the pictures of the others."""
        self._setter.findings.clear()
        rows = tuple(self._set_words(row) if row.words else add_drawn_size(row, self.profiles) for row in batch.rows)
        batch = drop_stopped_rows(replace(batch, rows=rows), self._setter.findings)
        check()
        keys = {row.asked: self._make_key(row.asked) for row in batch.rows if not row.words}
        outcomes = self.art.prepare_pictures(
            keys.values(), check, lambda done, of: report_stage(progress, Stage.ARTWORK, done, of)
        )
        self.art.forget_others(keys.values())
        found: dict[Asked, Any] = {asked: outcomes[key] for asked, key in keys.items()}
        found |= {Asked(path): drawing for path, drawing in self._setter.drawings.items()}
        said = [
            replace(finding, kit_row=row.kit_row)
            for row in batch.rows
            for finding in place_at_row(batch, row, found[row.asked].findings)
        ]
        batch = drop_stopped_rows(batch, said)
        return batch, {row.asked: found[row.asked] for row in batch.rows}

    def _make_key(self, asked: Asked) -> tuple[Path, PreparationOptions]:
        """The file, and the recipe with what is asked of it."""
        return asked.path, make_own_recipe(self._recipe, asked)

    def _set_words(self, row: BatchRow) -> BatchRow:
        """The row with its words set; what is said of them is said of this print."""
        said = self._setter.findings
        before = len(said)
        row = self._setter.set_row(row)
        said[before:] = [replace(finding, kit_row=row.kit_row) for finding in said[before:]]
        return row

    def _make_transfers(
        self, batch: Batch, pictures: Mapping[Asked, PreparedPicture], areas: tuple[PrintArea, ...], profiles: Profiles
    ) -> SizedTransfers:
        """Sizes and margins of the rows that fit a paper and have no finding that is made to stop."""
        settings = profiles.settings
        sizing = SizingRules(profiles, areas, self.options.tear, settings.keep_upright, self.options.oversize_way)
        while True:
            pieces, findings, slack = make_all_pieces(batch, pictures, sizing, self.options)
            findings += find_size_findings(pieces, profiles)
            of_batch = weigh_severities(batch.findings, batch, self.options, settings.stops)
            stopped = [
                finding
                for finding in weigh_severities(findings, batch, self.options, settings.stops)
                if _is_stop(finding)
            ]
            stopped = self._find_stopped_prints(stopped, batch, pictures, sizing)
            rest = drop_stopped_rows(replace(batch, findings=of_batch), stopped)
            if len(rest.rows) == len(batch.rows):
                transfers = {transfer.id: transfer for transfer in number_transfers(pieces)}
                return SizedTransfers(batch, tuple(pieces), transfers, slack, tuple(findings))
            batch = rest

    def _find_stopped_prints(
        self, stopped: Sequence[Finding], batch: Batch, pictures: Mapping[Asked, PreparedPicture], sizing: SizingRules
    ) -> list[Finding]:
        """The stops, those of a garment's several prints told of the very prints that stop by themselves.

        A row that names a kit is several prints: one that fits no paper must not take the others with it. What no print
        is to blame for alone is left as it is.
        """
        prints: dict[int, list[BatchRow]] = {}
        for row in batch.rows:
            prints.setdefault(row.row, []).append(row)
        found: list[Finding] = []
        for finding in stopped:
            own = prints.get(finding.row or 0, [])
            if len(own) < 2 or len(finding.rows) != 1:
                found.append(finding)
                continue
            alone = [stop for row in own for stop in self._find_own_stops(row, batch, pictures, sizing)]
            found += [stop for stop in alone if stop not in found] if alone else [finding]
        return found

    def _find_own_stops(
        self, row: BatchRow, batch: Batch, pictures: Mapping[Asked, PreparedPicture], sizing: SizingRules
    ) -> list[Finding]:
        """What stops a print where there is no other."""
        only = replace(batch, rows=(row,), findings=())
        pieces, findings, _ = make_all_pieces(only, pictures, sizing, self.options)
        findings += find_size_findings(pieces, sizing.profiles)
        weighed = weigh_severities(findings, only, self.options, sizing.profiles.settings.stops)
        return [replace(finding, kit_row=row.kit_row) for finding in weighed if _is_stop(finding)]


@dataclass(slots=True)
class _PlanSearch:
    """The search for the best sheets of one table."""

    planner: LivePlanner
    made: SizedTransfers
    areas: tuple[PrintArea, ...]
    profiles: Profiles
    told: Told
    check: Check
    best: Plan | None = None
    best_nesting: Nesting | None = None
    rates: HandlingRates = field(init=False)
    rectangles: list[Rectangle] = field(init=False)
    stocks: list[Stock] = field(init=False)
    _not_before: float = 0.0

    def __post_init__(self) -> None:
        self.rates = choose_rates(self.profiles.settings, all(area.paper.cost > 0 for area in self.areas))
        self.rectangles = make_rectangles(self.made)
        self.stocks = make_stocks(self.areas, self.made.slack_mm, self.rates)

    def find_best(self, stop: Callable[[], bool]) -> Plan:
        """The best plan."""
        planner, options = self.planner, self.planner.options
        start = [] if planner.before is None else carry_sheets(planner.before, self.made.transfers)

        def search(limits: Mapping[str, int]) -> Nesting:
            return nest(
                self.rectangles,
                [replace(stock, limit=limits.get(stock.name)) for stock in self.stocks],
                steps=options.steps,
                seconds=options.seconds,
                straight_cuts=self.profiles.settings.straight_cuts,
                start=start,
                told=None if limits else self._tell_better,
                stop=stop,
                changing=self.rates.change,
            )

        nesting = search({})
        self.check()
        shown = self.best_nesting
        if shown is not None and stop() and shown.cost + shown.handling <= nesting.cost + nesting.handling:
            # Nothing gained: what is seen stays.
            nesting = replace(nesting, sheets=shown.sheets, cost=shown.cost, handling=shown.handling)
        short = self._find_shortages(nesting)
        if short:
            within = search(options.limits)
            if not within.unplaced:
                nesting, short = within, []
        return self._draw_plan(nesting, short)

    def _find_shortages(self, nesting: Nesting) -> list[Finding]:
        """What is said of paper of which less is left than the nesting takes."""
        limits = self.planner.options.limits
        wanted = sum_paper_taken(nesting, self.stocks) if limits else {}
        aliases = {area.paper.name: area.paper.alias for area in self.areas}
        return list_shortages(wanted, limits, aliases)

    def _tell_better(self, nesting: Nesting) -> None:
        """Tell of a better nesting, unless the last one was drawn a moment ago: the best is told in the end."""
        began = process_time()
        if began < self._not_before:
            return
        self.told(self._draw_plan(nesting, self._find_shortages(nesting)))
        ended = process_time()
        self._not_before = ended + BREATH * (ended - began)

    def _draw_plan(self, nesting: Nesting, short: Iterable[Finding]) -> Plan:
        """The nesting as a plan; one that was drawn already is only told anew how good it is."""
        planner = self.planner
        made = replace(self.made, findings=(*self.made.findings, *short))
        nested = make_nested_batch(made, self.areas, nesting, planner.chosen)
        handling = report_handling(nesting, None, self.rectangles, self.stocks, self.rates)
        nested = replace(nested, handling=handling)
        if self.best is not None and self.best_nesting is not None and nesting.sheets == self.best_nesting.sheets:
            self.best = _settle_plan(self.best, nested.fewest, handling)
        else:
            self.best = self._draw_whole(nested)
        planner.before, self.best_nesting = nested, nesting
        return self.best

    def _draw_whole(self, nested: NestedBatch) -> Plan:
        planner = self.planner
        arrangement = [
            [
                sheet.stock,
                [[placement.id, placement.x, placement.y, placement.turned] for placement in sheet.placements],
            ]
            for sheet in nested.nesting.sheets
        ]
        # The arrangement hangs on what was planned before, so that it is part of what names the batch.
        plan = draw_plan(
            nested,
            self.profiles,
            planner.printer,
            planner.options,
            lambda *_: self.check(),
            {"live": arrangement},
            refuse=False,
            lettering=planner.lettering,
        )
        planner.lettering = plan.lettering
        return replace(plan, record={**plan.record, "live": True})


def _settle_plan(plan: Plan, fewest: FewestBound, handling: HandlingReport) -> Plan:
    """A plan whose sheets stay what they are, with what is known now of how few there can be."""
    known = {"fewest": list_fewest_values(fewest), "handling": handling.record_values()}
    return replace(plan, fewest=fewest, record={**plan.record, **known})


def drop_stopped_rows(batch: Batch, findings: Iterable[Finding]) -> Batch:
    """The batch with these findings, less the rows that any finding refuses; of a kit's prints those it is of."""
    said = (*batch.findings, *findings)
    gone = {(row, finding.kit_row) for finding in said if _is_stop(finding) for row in finding.rows}
    kept = tuple(row for row in batch.rows if not {(row.row, 0), row.key} & gone)
    left = batch.left | {row.row for row in batch.rows} - {row.row for row in kept}
    return replace(batch, rows=kept, findings=said, left=left)


def _is_stop(finding: Finding) -> bool:
    return finding.severity is Severity.STOP
