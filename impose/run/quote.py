"""`quote`: what a batch takes of each paper alone and of the best mix, without writing anything."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from impose.errors import Exit, Finding, Severity, Trouble
from impose.orders.batch import Batch
from impose.orders.kit_expansions import KitExpansion, list_kit_expansions
from impose.profiles.paper import Paper
from impose.run.batch_choices import add_batch_choices
from impose.run.executors import open_executors
from impose.run.handling_choice import HandlingReport, SheetTally
from impose.run.load_batch import LoadedBatch, load_job
from impose.run.nest_batch import NestedBatch, nest_on, size_transfers
from impose.run.options import Options
from impose.run.owned_papers import list_owned_papers
from impose.run.press_forecast import PressForecast, forecast_pressing
from impose.run.progress import Progress, report_nothing
from impose.run.severity_policy import judge_findings
from impose.run.swatch_count import SwatchCount, count_swatches
from impose.sheet.costs import BatchCost, compute_costs, cost_record, cost_values, format_amount, list_cost_lines
from impose.sheet.margins import print_area
from impose.sheet.transfer import SizingRules, describe_ordered_garment, request_sizes
from impose.units import to_um_down
from impose.values import FrozenStruct, replace, unfold_value

if TYPE_CHECKING:
    from impose.run.size_advice import SizeAdvice
    from impose.sheet.large_print_options import LargePrint

Cells = tuple[str, ...]

CSV_HEADING: Cells = (
    "papers",
    "best",
    "level",
    "order",
    "wearer",
    "garment",
    "id",
    "transfers",
    "sheets",
    "yield",
    "paper",
    "paper_used",
    "ink_ml",
    "ink",
    "total",
    "alone_sheets",
    "alone_paper",
    "currency",
    "refused",
    "handling",
)


class PaperOffer(FrozenStruct):
    """The batch on one paper, or on a mix: sheets, yield and cost, or why it cannot be made on it.

    `cost` is the paper alone, in whole millionths; the bill has paper and ink of every transfer.
    """

    papers: tuple[Paper, ...]
    sheets: Mapping[str, int]  # by paper alias
    yield_: float
    cost: int
    fewest: int | None
    proven: bool
    findings: tuple[Finding, ...] = ()
    refused: tuple[Finding, ...] = ()
    bill: BatchCost | None = None
    straight: int | None = None  # what straight cuts cost more, in millionths, where they are asked for
    handling: HandlingReport | None = None

    @property
    def worked_cost(self) -> int:
        """Paper and handling, in whole millionths."""
        return self.cost + (0 if self.handling is None else self.handling.made.handling)


class Quote(FrozenStruct):
    """Every paper offered alone, then all of them together where there are several.

    `pressing` is what the best offer comes to at the press, with the blanks to buy.
    """

    batch: Batch
    transfers: int
    offers: tuple[PaperOffer, ...]
    currency: str
    large: tuple[LargePrint, ...] = ()
    advice: tuple[SizeAdvice, ...] = ()
    units: Literal["mm", "in"] = "mm"
    pressing: PressForecast | None = None
    swatches: SwatchCount | None = None

    @property
    def best_offer(self) -> PaperOffer | None:
        """The offer that costs least with its handling, of those that can be made; of equals the first.

        Where a paper has no cost, nothing is cheapest: then what is made of all papers together, by their area.
        """
        made = [offer for offer in self.offers if not offer.refused]
        if any(paper.cost <= 0 for offer in made for paper in offer.papers):
            return max(made, key=lambda offer: len(offer.papers))
        return min(made, key=lambda offer: offer.worked_cost, default=None)

    @property
    def least_paper(self) -> SheetTally | None:
        """The sheets whose paper alone costs least, where that is less than what is best with its handling."""
        best = self.best_offer
        if best is None or any(paper.cost <= 0 for offer in self.offers for paper in offer.papers):
            return None
        told = [offer.handling for offer in self.offers if offer.handling is not None]
        found = [tally for offer in told for tally in (offer.made, offer.least_paper) if tally is not None]
        least = min(found, key=lambda tally: (tally.paper, tally.handling), default=None)
        return least if least is not None and least.paper < best.cost else None

    @property
    def aliases(self) -> dict[str, str]:
        """The everyday names of the papers offered, by their full names."""
        return {paper.name: paper.alias for offer in self.offers for paper in offer.papers}

    @property
    def exit(self) -> Exit:
        """Done if the batch can be made on what is offered together; refused in part where orders were left out."""
        stops = [finding.exit for finding in self.left_out if finding.severity is Severity.STOP]
        return min([*stops, *([] if self.best_offer else [Exit.NO_ROOM])], default=Exit.DONE)

    @property
    def left_out(self) -> list[Finding]:
        """With `skip_bad`, which orders are not in it, and why."""
        return [
            finding
            for finding in self.batch.findings
            if finding.kind == "left-out" or finding.severity is Severity.STOP
        ]

    @property
    def kits(self) -> list[KitExpansion]:
        """What kits made of the batch's roster."""
        return list_kit_expansions(self.batch.rows)

    def json_values(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "batch": self.batch.name,
            "transfers": self.transfers,
            "currency": self.currency,
            "offers": [_offer_values(offer, offer is self.best_offer) for offer in self.offers],
            "least_paper": None if self.least_paper is None else self.least_paper.list_values(self.aliases),
            "large": [_large_print_values(large) for large in self.large],
            "advice": [advice.list_values(self.aliases) for advice in self.advice],
            "kits": [unfold_value(kit) for kit in self.kits],
            "pressing": None if self.pressing is None else self.pressing.evening.list_values(),
            "blanks": [] if self.pressing is None else [line.list_values() for line in self.pressing.blanks],
            **({} if self.swatches is None else {"swatches": unfold_value(self.swatches)}),
            "left_out": [str(finding) for finding in self.left_out],
        }

    def csv_rows(self) -> Iterator[Cells]:
        """The offers as cells below `CSV_HEADING`: for each the batch, its orders, their garments, their transfers.

        Sums repeat their parts: to add up a column, keep to one level.
        """
        for offer in self.offers:
            yield from _offer_rows(offer, offer is self.best_offer, self.currency)


def quote(sources: Sequence[Path], options: Options | None = None, progress: Progress = report_nothing) -> Quote:
    """Nest a batch on each paper alone and on all together. Raises `Trouble` if the batch itself is at fault."""
    with open_executors(options) as options:
        return _quote_sources(sources, add_batch_choices(sources, options), progress)


def _quote_sources(sources: Sequence[Path], options: Options, progress: Progress) -> Quote:
    job = load_job(sources, options, progress)
    if options.skip_bad:
        # Left out on all papers together, so that every offer is for the same orders.
        areas = tuple(print_area(paper, job.printer) for paper in job.papers)
        job = replace(job, batch=size_transfers(areas, job, options).batch)
    return quote_job(job, options, progress)


def quote_job(job: LoadedBatch, options: Options, progress: Progress = report_nothing) -> Quote:
    """The same of a batch that is read already, of all its rows. Raises `Trouble` if it is at fault."""
    mixes = [(paper,) for paper in job.papers] + ([job.papers] if len(job.papers) > 1 else [])
    made = [_make_offer(mix, job, replace(options, skip_bad=False), progress) for mix in mixes]
    offers = [offer for offer, _ in made]
    judge_findings([*job.batch.findings, *offers[-1].findings], job.batch, options, job.profiles.settings.stops)
    # Of the cheapest that can be made: a print in panels is a transfer for each.
    bills = [offer.bill for offer in sorted(offers, key=lambda offer: offer.worked_cost) if offer.bill is not None]
    transfers = len(bills[0].lines) if bills else sum(row.copies for row in job.batch.rows)
    quoted = Quote(
        job.batch,
        transfers,
        tuple(offers),
        job.profiles.settings.currency,
        list_job_large_prints(job, options),
        units=job.profiles.settings.units,
    )
    best = next((nested for offer, nested in made if offer is quoted.best_offer), None)
    if best is None:
        return quoted
    from impose.run.size_advice import advise_sizes

    swatches = count_swatches(best, job) if job.profiles.settings.swatches else None
    return replace(
        quoted,
        advice=tuple(advise_sizes(job, best, job.papers, options)),
        swatches=swatches,
        pressing=forecast_pressing(best, job.profiles),
    )


def list_job_large_prints(
    job: LoadedBatch, options: Options, on_file: Sequence[Paper] | None = None
) -> tuple[LargePrint, ...]:
    """The prints that some offered paper does not take with their full margin, and each way to print them.

    `on_file` are other papers that may be named; without it those that the shop owns.
    """
    profiles = job.profiles
    offered = tuple(print_area(paper, job.printer) for paper in job.papers)
    named = list_owned_papers(job) if on_file is None else on_file
    others = [print_area(paper, job.printer) for paper in named]
    sizing = SizingRules(profiles, offered, options.tear, profiles.settings.keep_upright)
    pictures = [job.pictures[row.asked] for row in job.batch.rows]
    prints = [
        (row.row, row.placement or "", wanted, picture.ink)
        for row, picture, wanted in zip(
            job.batch.rows, pictures, request_sizes(job.batch.rows, pictures, sizing), strict=True
        )
    ]
    from impose.sheet.large_print_options import list_large_prints

    return list_large_prints(prints, offered, others, profiles.settings.panel_overlap, profiles.settings.units)


def _large_print_values(large: LargePrint) -> dict[str, Any]:
    return {
        "row": large.row,
        "placement": large.placement or None,
        "width_mm": round(large.width_mm, 3),
        "height_mm": round(large.height_mm, 3),
        "ways": [
            {
                "paper": way.paper.name,
                "offered": way.offered,
                "turned": 90 if way.turned else 0,
                "margin": way.level,
                "side_mm": round(way.side_mm, 3),
                "panels": way.panels,
                "cost": format_amount(way.cost),
                "taken": way.taken,
            }
            for way in large.ways
        ],
        "most": [
            {
                "paper": size.paper.name,
                "width_mm": to_um_down(size.width_mm) / 1000,
                "height_mm": to_um_down(size.height_mm) / 1000,
            }
            for size in large.most
        ],
    }


def _make_offer(
    papers: Sequence[Paper], job: LoadedBatch, options: Options, progress: Progress
) -> tuple[PaperOffer, NestedBatch | None]:
    """The offer, and the batch as it is nested on these papers; None where it cannot be made on them."""
    try:
        nested = nest_on(papers, job, options, progress)
    except Trouble as trouble:
        if trouble.exit is not Exit.NO_ROOM:
            raise
        return PaperOffer(tuple(papers), {}, 0.0, 0, None, False, refused=trouble.findings), None
    return _measure_offer(papers, nested, job), nested


def _measure_offer(papers: Sequence[Paper], nested: NestedBatch, job: LoadedBatch) -> PaperOffer:
    charges = nested.list_charges()
    aliases = {paper.name: paper.alias for paper in papers}
    counts = {paper.alias: 0 for paper in papers}
    for sheet in nested.nesting.sheets:
        counts[aliases[sheet.stock]] += 1
    area = sum(charge.area_mm2 for charge in charges)
    used = sum(transfer.piece.cell_w_mm * transfer.piece.cell_h_mm for transfer in nested.transfers.values())
    bill = compute_costs(charges, job.printer, nested.alone)
    fewest = nested.fewest
    return PaperOffer(
        papers=tuple(papers),
        sheets=counts,
        yield_=used / area if area else 0.0,
        cost=bill.total_cost.paper,
        fewest=fewest.sheets,
        proven=fewest.proven,
        findings=nested.findings,
        bill=bill,
        straight=None if nested.straight is None else nested.straight.more,
        handling=nested.handling,
    )


def _offer_values(offer: PaperOffer, best: bool) -> dict[str, Any]:
    aliases = {paper.name: paper.alias for paper in offer.papers}
    return {
        "papers": [paper.name for paper in offer.papers],
        # What cannot be made has no sheets and no cost: a nought would be the cheapest of all.
        "sheets": None if offer.refused else dict(offer.sheets),
        "yield": None if offer.refused else round(offer.yield_, 4),
        "cost": None if offer.refused else format_amount(offer.cost),
        "handling": None if offer.handling is None else offer.handling.record_values(aliases),
        "fewest": offer.fewest,
        "proven": None if offer.refused else offer.proven,
        **({} if offer.straight is None else {"straight_cuts_cost": format_amount(offer.straight)}),
        "best": best,
        "refused": [str(finding) for finding in offer.refused],
        "money": None if offer.bill is None else cost_record(offer.bill),
    }


def _offer_rows(offer: PaperOffer, best: bool, currency: str) -> Iterator[Cells]:
    papers = " + ".join(paper.alias for paper in offer.papers)
    row = dict.fromkeys(CSV_HEADING, "") | {"papers": papers, "best": "yes" if best else "no", "currency": currency}
    if offer.bill is None:
        refused = "; ".join(str(finding) for finding in offer.refused)
        yield tuple((row | {"level": "batch", "refused": refused}).values())
        return
    for level, part in list_cost_lines(offer.bill):
        cells = {"level": level, "transfers": str(len(part.lines))} | _name_part(level, part)
        cells |= {name: str(value) for name, value in cost_values(part.total_cost).items()}
        if level == "batch":
            if offer.handling is not None:
                cells |= {"handling": format_amount(offer.handling.made.handling)}
            cells |= {"sheets": str(sum(offer.sheets.values())), "yield": f"{offer.yield_:.4f}"}
        if part.alone is not None:
            cells |= {"alone_sheets": str(part.alone.sheets), "alone_paper": format_amount(part.alone.paper)}
        yield tuple((row | cells).values())


def _name_part(level: str, part: BatchCost) -> dict[str, str]:
    """Whose it is, as far as all of the part shares it."""
    transfer = part.lines[0][0]
    row = transfer.piece.row
    cells = {"order": row.order, "wearer": row.wearer, "garment": describe_ordered_garment(row), "id": transfer.id}
    depth = {"batch": 0, "order": 1, "garment": 3, "transfer": 4}[level]
    return dict(list(cells.items())[:depth])
