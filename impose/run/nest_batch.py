"""The papers on offer: pieces sized for them, transfers nested on them, and what could not be beaten."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Protocol

from impose.art.prepare import PreparedPicture
from impose.errors import Finding, Severity, Trouble, raise_stops
from impose.file_types import Asked
from impose.nest import NestedSheet, Nesting, Rectangle, Stock
from impose.nest.bounds import forget_bounds
from impose.orders.batch import MOST_TRANSFERS, Batch, leave_out_refused
from impose.orders.garment_groups import assign_garments
from impose.profiles.paper import Paper
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy
from impose.run.first_off import NOTHING_FIRST, FirstOff, nest_apart
from impose.run.handling_choice import (
    HandlingRates,
    HandlingReport,
    choose_rates,
    nest_with_handling,
    report_handling,
)
from impose.run.load_batch import LoadedBatch
from impose.run.options import Options
from impose.run.output_profile_choice import ChosenProfile
from impose.run.progress import Progress, Stage, report_stage
from impose.run.severity_policy import accept_agreed_stops, remove_stopped_orders
from impose.run.shortage import StockShortage, sum_paper_taken
from impose.run.straight_cut_cost import StraightCutPrice, price_straight_cuts
from impose.sheet.cloth_findings import find_cloth_findings
from impose.sheet.costs import OneToASheet, SheetCharge
from impose.sheet.margins import PrintArea, print_area
from impose.sheet.missing_places import find_missing_places
from impose.sheet.money import compute_sheet_cost, to_millionths
from impose.sheet.print_overlaps import find_print_overlaps
from impose.sheet.record import FewestBound
from impose.sheet.size_findings import find_size_findings
from impose.sheet.transfer import Piece, SizingRules, Transfer, make_pieces, number_transfers
from impose.units import to_um_down, to_um_up
from impose.values import FrozenStruct, replace

REMEMBERED_MOST = 2_000
"""Transfers up to which bounds are remembered, for a batch that is changed and nested again."""


class NestedBatch(FrozenStruct):
    """A batch nested on offered papers."""

    batch: Batch
    areas: tuple[PrintArea, ...]
    slack_mm: float
    pieces: tuple[Piece, ...]
    transfers: Mapping[str, Transfer]
    nesting: Nesting
    fewest: FewestBound
    findings: tuple[Finding, ...]
    alone: OneToASheet | None
    chosen: ChosenProfile | None
    handling: HandlingReport | None = None
    straight: StraightCutPrice | None = None
    first: FirstOff | None = None

    def paper_length_mm(self, sheet: NestedSheet) -> float:
        """The length of paper that a nested sheet takes, unprintable ends of a piece of roll included."""
        area = next(area for area in self.areas if area.paper.name == sheet.stock)
        if area.paper.height_mm is not None:
            return area.paper.height_mm
        return area.piece_mm(sheet.height, self.slack_mm)

    def list_charges(self) -> list[SheetCharge]:
        """The sheets as they are paid for, each with its transfers in the order in which a layout draws them."""
        papers = {area.paper.name: area.paper for area in self.areas}
        found = []
        for sheet in self.nesting.sheets:
            paper, length = papers[sheet.stock], self.paper_length_mm(sheet)
            order = sorted(sheet.placements, key=lambda placement: (placement.y, placement.x))
            on_it = tuple(self.transfers[placement.id] for placement in order)
            found.append(SheetCharge(compute_sheet_cost(paper, length), paper.width_mm * length, on_it))
        return found


class SizedTransfers(FrozenStruct):
    """A batch whose transfers have their sizes and margins."""

    batch: Batch
    pieces: tuple[Piece, ...]
    transfers: Mapping[str, Transfer]
    slack_mm: float
    findings: tuple[Finding, ...]


class ReusedSheets(Protocol):
    """Places on sheets that are printed already: what they offer, and their sheets put together afterwards."""

    def list_stocks(self, slack_mm: float, cells: Sequence[tuple[float, float]]) -> list[Stock]:
        """Each free place that may hold some of the cells (width, height in mm) as a sheet of which there is one."""

    def join_places(self, nesting: Nesting, areas: tuple[PrintArea, ...]) -> tuple[Nesting, tuple[PrintArea, ...]]:
        """The nesting with the places of one sheet on one sheet, and the print areas that it needs."""


def nest_on(
    papers: Sequence[Paper], job: LoadedBatch, options: Options, progress: Progress, again: ReusedSheets | None = None
) -> NestedBatch:
    """Choose margins for the papers offered and nest every copy of every row on them."""
    areas = tuple(print_area(paper, job.printer) for paper in papers)
    return nest_transfers(size_transfers(areas, job, options), areas, job, options, progress, again)


def size_transfers(areas: tuple[PrintArea, ...], job: LoadedBatch, options: Options) -> SizedTransfers:
    """Every copy of every row with its size and margin; with `skip_bad` less the orders that cannot be made.

    Raises `Trouble` with why not, also where no order is left.
    """
    profiles = job.profiles
    batch, pieces, findings, slack = make_pieces_for(job.batch, job.pictures, areas, profiles, options)
    while options.skip_bad:
        rest = remove_stopped_orders([*batch.findings, *findings], batch, options, profiles.settings.stops)
        if rest is None:
            break
        batch, pieces, findings, slack = make_pieces_for(rest, job.pictures, areas, profiles, options)
    if not pieces:
        raise_stops(batch.findings)
    transfers = {transfer.id: transfer for transfer in number_transfers(pieces)}
    return SizedTransfers(batch, tuple(pieces), transfers, slack, tuple(findings))


def nest_transfers(
    made: SizedTransfers,
    areas: tuple[PrintArea, ...],
    job: LoadedBatch,
    options: Options,
    progress: Progress,
    again: ReusedSheets | None = None,
) -> NestedBatch:
    """Nest transfers whose sizes and margins are settled; `again` offers places on sheets that are printed already."""
    transfers, slack = made.transfers, made.slack_mm
    settings = job.profiles.settings
    priced = all(area.paper.cost > 0 for area in areas)
    rates = choose_rates(settings, priced, again is not None)
    rectangles = make_rectangles(made)
    report_stage(progress, Stage.NESTING, 0, len(rectangles))
    stocks = make_stocks(areas, slack, rates)
    if again is not None:
        stocks = [*again.list_stocks(slack, [(p.cell_w_mm, p.cell_h_mm) for p in made.pieces]), *stocks]
    aliases = {area.paper.name: area.paper.alias for area in areas}
    straight_cuts = settings.straight_cuts
    within = _NestingWithinLimits(stocks, transfers, aliases, rates, straight_cuts, options)
    first = within.nest_first_apart(rectangles) if options.first else None
    if first is not None:
        nesting, least_paper = first[0], None
    else:
        nesting, least_paper = within.nest_pieces(rectangles, options.limits)
    report_stage(progress, Stage.NESTING, len(rectangles), len(rectangles))
    nested = make_nested_batch(made, areas, nesting, job.chosen, again)
    handling = report_handling(nested.nesting, least_paper, rectangles, stocks, rates)
    nested = replace(nested, handling=handling)
    if options.first:
        told = NOTHING_FIRST if first is None else first[1].make_finding(settings.currency)
        nested = replace(nested, first=None if first is None else first[1], findings=(*nested.findings, told))
    straight = price_straight_cuts(nesting, rectangles, stocks, rates.change, options) if straight_cuts else None
    if len(rectangles) > REMEMBERED_MOST:
        forget_bounds()
    if straight is None:
        return nested
    finding = straight.make_finding(priced, settings.currency)
    return replace(nested, straight=straight, findings=(*nested.findings, finding))


def make_rectangles(made: SizedTransfers) -> list[Rectangle]:
    """The transfers for the packer, in whole micrometres."""
    garments = _name_garments(made.batch)
    return [
        Rectangle(
            transfer.id,
            to_um_up(transfer.piece.cell_w_mm),
            to_um_up(transfer.piece.cell_h_mm),
            may_turn=transfer.piece.may_turn,
            group=transfer.piece.row.order,
            together=garments.get((transfer.piece.row.key, transfer.copy), ""),
        )
        for transfer in made.transfers.values()
    ]


def make_stocks(areas: Sequence[PrintArea], slack_mm: float, rates: HandlingRates) -> list[Stock]:
    """The papers for the packer; by their area where one of them has no price."""
    priced = all(area.paper.cost > 0 for area in areas)
    return [replace(_make_stock(area, slack_mm, priced), handling=rates.sheet) for area in areas]


def make_nested_batch(
    made: SizedTransfers,
    areas: tuple[PrintArea, ...],
    nesting: Nesting,
    chosen: ChosenProfile | None,
    again: ReusedSheets | None = None,
) -> NestedBatch:
    """A nesting with all that is known of its transfers and papers."""
    priced = all(area.paper.cost > 0 for area in areas)
    findings = made.findings if priced else (*made.findings, _report_unpriced([area.paper for area in areas]))
    alone = _cost_one_to_a_sheet(made.transfers.values(), areas, made.slack_mm)
    if again is not None:
        nesting, areas = again.join_places(nesting, areas)
    fewest = _compute_fewest(nesting, areas, priced)
    return NestedBatch(
        made.batch, areas, made.slack_mm, made.pieces, made.transfers, nesting, fewest, findings, alone, chosen
    )


def _name_garments(batch: Batch) -> dict[tuple[tuple[int, int], int], str]:
    """By row and copy, the garment of each print that shares one with others: they are pressed one after the other."""
    worn, _ = assign_garments(batch.rows)
    several = [garment.prints for garment in worn if len(garment.prints) > 1]
    return {(row.key, copy): str(number) for number, prints in enumerate(several) for row, copy in prints}


class _NestingWithinLimits(FrozenStruct):
    """Pieces of one batch nested on papers, in the paper that is left."""

    stocks: Sequence[Stock]
    transfers: Mapping[str, Transfer]
    aliases: Mapping[str, str]
    rates: HandlingRates
    straight: bool
    options: Options

    def nest_pieces(self, rectangles: Sequence[Rectangle], limits: Mapping[str, int]) -> tuple[Nesting, Nesting | None]:
        """The nesting within the limits, and one of less paper that takes more handling, if there is one.

        Raises `StockShortage` if what is left is not enough for all of it.
        """
        # Without limits first: while there is enough paper, what is counted must not change the result.
        nesting, least_paper = nest_with_handling(rectangles, self.stocks, self.rates, self.straight, self.options)
        if nesting.unplaced:  # every piece was seen to fit
            raise AssertionError(f"not placed though it fits: {nesting.unplaced[:3]}")
        wanted = sum_paper_taken(nesting, self.stocks)
        if all(amount <= limits.get(paper, amount) for paper, amount in wanted.items()):
            return nesting, least_paper
        stocks = [replace(stock, limit=limits.get(stock.name, stock.limit)) for stock in self.stocks]
        within, least_paper = nest_with_handling(rectangles, stocks, self.rates, self.straight, self.options)
        if within.unplaced:
            raise StockShortage(wanted, limits, self.transfers, within, self.aliases)
        return within, least_paper

    def nest_first_apart(self, rectangles: Sequence[Rectangle]) -> tuple[Nesting, FirstOff] | None:
        """One garment of each run, then the rest on what is left; None where no run has two."""

        def nest_part(pieces: Sequence[Rectangle], taken: Mapping[str, int]) -> Nesting:
            # All of them together are nested only to tell what that would take.
            whole = len(pieces) == len(rectangles)
            left = {paper: max(0, amount - taken.get(paper, 0)) for paper, amount in self.options.limits.items()}
            return self.nest_pieces(pieces, {} if whole else left)[0]

        try:
            return nest_apart(rectangles, self.stocks, self.transfers, nest_part, sum_paper_taken)
        except StockShortage:
            # Told of the whole batch where that is short too, and not of the part that had nothing left.
            self.nest_pieces(rectangles, self.options.limits)
            raise


def _cost_one_to_a_sheet(
    transfers: Iterable[Transfer], areas: Sequence[PrintArea], slack_mm: float
) -> OneToASheet | None:
    """What every transfer would take on a sheet of its own, the cheapest that holds it; None if one has none."""
    stocks = [_make_stock(area, slack_mm, True) for area in areas]
    copies: dict[int, tuple[Piece, int]] = {}
    for transfer in transfers:
        copies[id(transfer.piece)] = transfer.piece, copies.get(id(transfer.piece), (transfer.piece, 0))[1] + 1
    sheets = paper = 0
    for piece, count in copies.values():
        rectangle = Rectangle("", to_um_up(piece.cell_w_mm), to_um_up(piece.cell_h_mm), may_turn=piece.may_turn)
        ways = [(rectangle.width, rectangle.height)] + (
            [(rectangle.height, rectangle.width)] if rectangle.may_turn else []
        )
        costs = [stock.piece_cost(high) for stock in stocks for wide, high in ways if stock.fits(wide, high)]
        if not costs:
            return None
        sheets += count
        paper += count * min(costs)
    return OneToASheet(sheets, paper)


def make_pieces_for(
    batch: Batch,
    pictures: Mapping[Asked, PreparedPicture],
    areas: tuple[PrintArea, ...],
    profiles: Profiles,
    options: Options,
) -> tuple[Batch, list[Piece], list[Finding], float]:
    """The pieces of a batch; with `skip_bad` whole orders leave until all that is left fits."""
    sizing = SizingRules(profiles, areas, options.tear, profiles.settings.keep_upright, options.oversize_way)
    while True:
        pieces, findings, slack = make_all_pieces(batch, pictures, sizing, options)
        stops = [finding for finding in findings if finding.severity is Severity.STOP]
        if not stops:
            _check_count(pieces, batch)
            return batch, pieces, [*findings, *find_size_findings(pieces, profiles)], slack
        batch = leave_out_refused(batch, [_place_in_file(stop, batch) for stop in stops], options.skip_bad)
        batch = replace(batch, findings=tuple(_drop_refused_garments(batch.findings, stops)))


def make_all_pieces(
    batch: Batch, pictures: Mapping[Asked, PreparedPicture], sizing: SizingRules, options: Options
) -> tuple[list[Piece], list[Finding], float]:
    """The pieces of all rows, what is found about them and their cloth, and the slack of all cells; no row leaves."""
    of_rows = [pictures[row.asked] for row in batch.rows]
    pieces, findings, slack = make_pieces(batch.rows, of_rows, sizing)
    profiles = sizing.profiles
    laid = [
        *find_missing_places(batch.rows, profiles),
        *find_print_overlaps(pieces, profiles),
        *find_cloth_findings(batch.rows, profiles),
    ]
    return pieces, [*findings, *accept_agreed_stops(laid, batch, options)], slack


def _drop_refused_garments(findings: Sequence[Finding], stops: Sequence[Finding]) -> Iterator[Finding]:
    """Findings without those on what garments were made of rows that are refused after all."""
    refused = {stop.row for stop in stops if stop.kind == "prints-overlap"}
    for finding in findings:
        if finding.kind != "like-garments" or refused.isdisjoint((finding.row, *finding.also)):
            yield finding


def _check_count(pieces: Sequence[Piece], batch: Batch) -> None:
    """Refuse what no machine has the memory for; a print in panels counts as often as it has panels."""
    total = sum(piece.row.copies for piece in pieces)
    if total > MOST_TRANSFERS:
        what = f"{total:,} transfers, more than {MOST_TRANSFERS:,} in one batch"
        remedy = "Split the batch, or make fewer copies at a time."
        raise Trouble(Finding(what, remedy, kind="bad-copies", file=batch.source))


def _place_in_file(finding: Finding, batch: Batch) -> Finding:
    return replace(finding, file=batch.source)


def _make_stock(area: PrintArea, slack_mm: float, priced: bool) -> Stock:
    """The paper for the packer, in whole micrometres; without prices, paper costs its area."""
    room, paper = area.grow_by_slack(slack_mm), area.paper
    width, height = to_um_down(room.w), to_um_down(room.h)
    price = to_millionths(paper.cost)
    if paper.is_roll:
        per_metre = price if priced else math.ceil(paper.width_mm * 1000)
        # What is fed beyond the cells at both ends of a piece is paid for as well.
        margin, base, share = area.lost_um(slack_mm)
        return Stock(
            paper.name,
            width,
            None,
            cost=per_metre,
            max_height=height,
            cut_margin=margin,
            cut_base=base,
            cut_per_metre=share,
        )
    cost = price if priced else math.ceil(paper.width_mm * (paper.height_mm or 0))
    return Stock(paper.name, width, height, cost=cost, limit=None)


def _report_unpriced(papers: Sequence[Paper]) -> Finding:
    names = ", ".join(paper.alias for paper in papers if paper.cost <= 0)
    return Finding(
        f"no cost is known for {names}, so the least paper area was sought instead of the least cost",
        Remedy("write-cost"),
        Severity.NOTE,
        kind="no-cost",
    )


def _compute_fewest(nesting: Nesting, areas: Sequence[PrintArea], priced: bool) -> FewestBound:
    """What no nesting can go below, in sheets where one paper is offered and in money where it has a price."""
    if len(areas) == 1 and not areas[0].paper.is_roll:
        cost = nesting.fewest * compute_sheet_cost(areas[0].paper, 0.0)
        return FewestBound(nesting.fewest, cost, nesting.proven, nesting.clock)
    return FewestBound(None, nesting.bound if priced else 0, nesting.proven, nesting.clock)
