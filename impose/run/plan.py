"""`plan`: read, prepare, size, nest and draw a batch, and write nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impose.errors import Exit, Finding, Severity, Trouble
from impose.orders.batch import Batch
from impose.profiles.paper import Paper, Printer
from impose.profiles.profiles import Profiles
from impose.run.agreed_answers import find_agreement_findings, mark_rows
from impose.run.batch_choices import add_batch_choices
from impose.run.executors import open_executors
from impose.run.load_batch import LoadedBatch, load_job
from impose.run.nest_batch import NestedBatch, nest_on
from impose.run.offcuts import find_offcut
from impose.run.options import Options
from impose.run.output_profile_choice import ChosenProfile
from impose.run.progress import Progress, Stage, report_nothing, report_stage
from impose.run.severity_policy import judge_findings, weigh_severities
from impose.run.shortage import StockShortage
from impose.sheet.agreement import describe_shown, group_shown
from impose.sheet.costs import BatchCost, compute_costs
from impose.sheet.layout import BatchLayout, SlugFacts, lay_out
from impose.sheet.listed_values import ListValues, choose_listing
from impose.sheet.press_steps import describe_place
from impose.sheet.record import (
    FewestBound,
    list_content,
    list_swatch_record,
    make_batch_code,
    make_record,
)
from impose.sheet.size_findings import place_findings
from impose.sheet.transfer import Piece
from impose.type.lettering import TextShaper
from impose.values import FrozenStruct, replace
from impose.work import default_workers

if TYPE_CHECKING:
    from impose.run.reuse_sheets import OntoRequest, PrintedSheets


class Plan(FrozenStruct):
    """Everything computed, nothing written."""

    batch: Batch
    profiles: Profiles
    printer: Printer
    layout: BatchLayout
    lettering: TextShaper
    fewest: FewestBound
    bill: BatchCost
    findings: tuple[Finding, ...]
    record: dict[str, Any]
    workers: int = 1
    output: ChosenProfile | None = None

    @property
    def exit(self) -> Exit:
        """What a command returns once this is produced: done, or refused in part where orders were left out."""
        return min((f.exit for f in self.findings if f.severity is Severity.STOP), default=Exit.DONE)

    @property
    def transfer_count(self) -> int:
        """How many transfers lie on the sheets."""
        return sum(len(sheet.placed) for sheet in self.layout.sheets)


def plan(sources: Sequence[Path] | Batch, options: Options | None = None, progress: Progress = report_nothing) -> Plan:
    """Read, prepare, size, nest and draw a batch. Raises `Trouble` with everything that is wrong.

    `sources` are a batch file or artwork and folders of it, or a batch that was put together already.
    """
    with open_executors(options) as options:
        return _plan_sources(sources, add_batch_choices(sources, options), progress)


def _plan_sources(sources: Sequence[Path] | Batch, options: Options, progress: Progress) -> Plan:
    job = load_job(sources, options, progress)
    try:
        onto = None if options.onto is None else open_onto(options.onto, job)
        nested = nest_on(job.papers, job, options, progress, onto)
    except StockShortage as short:
        from impose.run.alternative_paper import suggest_other_paper

        raise Trouble([*short.findings, *suggest_other_paper(short, job, options)]) from short
    return draw_plan(nested, job.profiles, job.printer, options, progress, onto=onto)


def open_onto(wish: OntoRequest, job: LoadedBatch) -> PrintedSheets:
    """The printed sheets that are offered again. Raises `Trouble` (wrong use) where they cannot be."""
    if job.profiles.settings.straight_cuts:
        what = "printed sheets and straight cuts are both asked for, but a printed sheet is not cut straight any more"
        raise Trouble(Finding(what, "Leave out one of them.", kind="bad-option", exit=Exit.USAGE))
    from impose.run.record_file import read_record
    from impose.run.reuse_sheets import open_printed_sheets

    return open_printed_sheets(read_record(wish.record), wish, job.printer, job.profiles.papers.values())


def draw_plan(
    nested: NestedBatch,
    profiles: Profiles,
    printer: Printer,
    options: Options,
    progress: Progress,
    origin: Mapping[str, Any] | None = None,
    onto: PrintedSheets | None = None,
    refuse: bool = True,
    lettering: TextShaper | None = None,
) -> Plan:
    """Sheets, findings and record of a nested batch.

    `origin` says what a reprint comes from, so that it gets a code of its own; `onto` are sheets printed again. Without
    `refuse` findings that stop are only told. `lettering` is one that has shaped much of it already.
    """
    from impose.pages.pdf.font_book import ShippedFonts
    from impose.pages.proof.approval_page import list_approval_files

    agreed = find_agreement_findings(nested.batch, nested.pieces, profiles)
    nested = mark_not_agreed(nested, agreed)
    batch = nested.batch
    blocked = {} if onto is None else onto.blocked_boxes
    papers = [area.paper for area in nested.areas if area.paper.name not in blocked]
    shown = list_deciding_options(profiles, options, papers, printer, nested.chosen)
    if onto is not None:
        shown["onto"] = onto.record_values()
    lettering = lettering or TextShaper(ShippedFonts())
    named = shown if onto is None else {**shown, "onto": _name_origin(shown["onto"])}
    content = [
        *list_content(nested.batch.name, nested.pieces, named),
        *([] if origin is None else [_name_origin(origin)]),
    ]
    press = SlugFacts(make_batch_code(content), batch.name, lettering, profiles.settings.units, blocked)
    layout = draw_sheets(nested, press, options.part_sheets, progress)
    if profiles.settings.swatches:
        from impose.sheet.swatches import add_swatches

        layout = add_swatches(layout, nested.pieces, lettering, profiles.settings.units)
    again = [] if onto is None else onto.list_findings(nested.nesting)
    found = place_findings([*batch.findings, *nested.findings, *layout.findings, *again, *agreed], nested.pieces)
    weigh = judge_findings if refuse else weigh_severities
    findings = weigh(found, batch, options, profiles.settings.stops)
    codec = next((piece.picture.codec for piece in nested.pieces), "")
    bill = compute_costs(nested.list_charges(), printer, nested.alone)
    places = {row.key: describe_place(row, profiles) for row in batch.rows}
    record = make_record(batch, layout, nested.fewest, shown, profiles.settings.currency, codec, findings, bill, places)
    record["handling"] = None if nested.handling is None else nested.handling.record_values()
    record["approval"] = _describe_approval(
        list_approval_files(batch), nested.pieces, profiles, choose_listing(options.part_sheets is not None)
    )
    if nested.first is not None:
        record["first"] = nested.first.record_values()
    record["offcut"] = find_offcut(layout.sheets)
    if profiles.settings.swatches:
        record["swatches"] = list_swatch_record(layout)
    if options.part_sheets is not None:
        # Not among what names the batch: the same sheets in other files are the same sheets.
        record["options"] = {**record["options"], "part_sheets": options.part_sheets}
    if onto is not None:
        record = onto.annotate_record(record)
    # A caller's own executor says how artwork is prepared; what is written is written by this machine.
    workers = options.workers or (1 if options.executor else default_workers())
    return Plan(
        batch, profiles, printer, layout, lettering, nested.fewest, bill, findings, record, workers, nested.chosen
    )


def draw_sheets(nested: NestedBatch, press: SlugFacts, part_sheets: int | None, progress: Progress) -> BatchLayout:
    """The sheets of a nested batch with their marks; `progress` is told of each."""
    steps = lay_out(
        nested.nesting,
        nested.transfers,
        nested.areas,
        nested.slack_mm,
        press,
        part_sheets,
        frozenset() if nested.first is None else nested.first.transfers,
    )
    while True:
        try:
            report_stage(progress, Stage.SHEETS, *next(steps))
        except StopIteration as end:
            layout: BatchLayout = end.value
            return layout


def mark_not_agreed(nested: NestedBatch, agreed: Sequence[Finding]) -> NestedBatch:
    """The same, the rows that are not what was agreed marked for their tickets."""
    if not any(finding.kind == "not-agreed" and finding.row is not None for finding in agreed):
        return nested
    rows = {row.key: row for row in mark_rows(nested.batch.rows, agreed)}
    pieces = {id(piece): replace(piece, row=rows.get(piece.row.key, piece.row)) for piece in nested.pieces}
    transfers = {key: replace(transfer, piece=pieces[id(transfer.piece)]) for key, transfer in nested.transfers.items()}
    batch = replace(nested.batch, rows=tuple(rows.values()))
    return replace(nested, batch=batch, pieces=tuple(pieces.values()), transfers=transfers)


def _describe_approval(
    pages: list[dict[str, Any]], pieces: Sequence[Piece], profiles: Profiles, listed: ListValues
) -> list[dict[str, Any]]:
    """Each order's page with what it shows, which is what an answer is noted of."""
    shown = group_shown(pieces)
    keys = [(page["order"], 0 if page["order"] else page["row"]) for page in pages]
    describe = partial(describe_shown, profiles=profiles)
    return [{**page, "shows": listed(shown.get(key, []), describe)} for page, key in zip(pages, keys, strict=True)]


def list_deciding_options(
    profiles: Profiles, options: Options, papers: Sequence[Paper], printer: Printer, chosen: ChosenProfile | None
) -> dict[str, Any]:
    """The options and settings that decided the result, for the record; not those that only decide its speed."""
    settings = profiles.settings
    return settings.list_recorded() | {
        "papers": [paper.name for paper in papers],
        "printer": {
            "name": printer.name,
            "edges_mm": [printer.left_mm, printer.top_mm, printer.right_mm, printer.bottom_mm],
            "scale": [printer.scale_x, printer.scale_y],
        },
        "tear_mm": (options.tear or settings.tear).total_mm,
        "panel_overlap_mm": settings.panel_overlap,
        "output": None if chosen is None else chosen.record_values(),
        "oversize": options.oversize_way,
        "steps": options.steps,
        "seconds": options.seconds,
        "skip_bad": options.skip_bad,
        "strict": options.strict,
        "accept": sorted(options.accept),
        "stops": sorted(settings.stops),
        **({"first": True} if options.first else {}),
        # Only where there are any, so that all other sheets keep their names.
        **({"swatches": True} if settings.swatches else {}),
    }


def _name_origin(origin: Mapping[str, Any]) -> dict[str, Any]:
    """What names a reprint beside its prints, their batch and reasons, or sheets that are printed again. The hash of
    the record that they come from is left out, since a record also says where the artwork lay.
    """
    return {key: value for key, value in origin.items() if key != "record_sha256"}
