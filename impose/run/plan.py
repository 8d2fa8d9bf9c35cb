"""`plan`: read, prepare, size, nest and draw a batch, and write nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Severity, Trouble
from impose.run.agreed import agreement_findings, marked
from impose.run.conversion import Chosen
from impose.run.instead import second_best
from impose.run.job import Job, begin
from impose.run.judge import judge
from impose.run.offcut import offcut
from impose.run.offer import Nested, nest_on
from impose.run.onto import Onto, OntoWish, make_onto
from impose.run.options import Options, Progress, silent
from impose.run.shortage import StockTrouble
from impose.run.source import read_record
from impose.run.workforce import workforce
from impose.sheet.agreed import shown_by_order
from impose.sheet.bill import Bill, make_bill
from impose.sheet.layout import Layout, Press, lay_out
from impose.sheet.lettering import Lettering
from impose.sheet.ordered import row_values
from impose.sheet.record import Fewest, batch_code, make_record
from impose.sheet.suitability import with_boxes
from impose.sheet.transfer import Piece
from impose.shop.orders import Batch
from impose.shop.paper import Paper, Printer
from impose.shop.profiles import Profiles
from impose.work import default_workers


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything computed, nothing written."""

    batch: Batch
    profiles: Profiles
    printer: Printer
    layout: Layout
    lettering: Lettering
    fewest: Fewest
    bill: Bill
    findings: tuple[Finding, ...]
    record: dict[str, Any]
    workers: int = 1
    output: Chosen | None = None

    @property
    def exit(self) -> Exit:
        """What a command returns once this is produced: done, or refused in part where orders were left out."""
        return min((f.exit for f in self.findings if f.severity is Severity.STOP), default=Exit.DONE)

    @property
    def transfers(self) -> int:
        """How many transfers lie on the sheets."""
        return sum(len(sheet.placed) for sheet in self.layout.sheets)


def plan(sources: Sequence[Path] | Batch, options: Options | None = None, progress: Progress = silent) -> Plan:
    """Read, prepare, size, nest and draw a batch. Raises `Trouble` with everything that is wrong.

    `sources` are a batch file or PNG files and folders of them, or a batch that was put together already.
    """
    with workforce(options) as options:
        return _planned(sources, options, progress)


def _planned(sources: Sequence[Path] | Batch, options: Options, progress: Progress) -> Plan:
    job = begin(sources, options, progress)
    try:
        onto = None if options.onto is None else open_onto(options.onto, job)
        nested = nest_on(job.papers, job, options, progress, onto)
    except StockTrouble as short:
        raise Trouble([*short.findings, *second_best(short, job, options)]) from short
    return draw(nested, job.profiles, job.printer, options, progress, onto=onto)


def open_onto(wish: OntoWish, job: Job) -> Onto:
    """The printed sheets that are offered again. Raises `Trouble` (wrong use) where they cannot be."""
    if job.profiles.settings.straight_cuts:
        what = "--onto and --straight-cuts are both asked for, but a printed sheet is not cut straight any more"
        raise Trouble(Finding(what, "Leave out one of them.", kind="bad-option", exit=Exit.USAGE))
    return make_onto(read_record(wish.record), wish, job.printer)


def draw(
    nested: Nested,
    profiles: Profiles,
    printer: Printer,
    options: Options,
    progress: Progress,
    origin: Mapping[str, Any] | None = None,
    onto: Onto | None = None,
) -> Plan:
    """Sheets, findings and record of a nested batch.

    `origin` says what a reprint comes from, so that it gets a code of its own; `onto` are sheets printed again.
    """
    from impose.pages.pdf.fonts import ShippedFonts
    from impose.pages.proof.approval import approval_files

    agreed = agreement_findings(nested.batch, nested.pieces, profiles.settings.units)
    nested = with_marks(nested, agreed)
    batch = nested.batch
    blocked = {} if onto is None else onto.blocked
    papers = [area.paper for area in nested.areas if area.paper.name not in blocked]
    shown = shown_options(profiles, options, papers, printer, nested.chosen)
    if onto is not None:
        shown["onto"] = onto.shown()
    lettering = Lettering(ShippedFonts())
    content = [*_content(nested, shown), *([] if origin is None else [origin])]
    press = Press(batch_code(content), batch.name, lettering, blocked=blocked)
    layout = lay_out(
        nested.nesting,
        nested.transfers,
        nested.areas,
        nested.slack_mm,
        press,
        lambda done, of: progress("sheets", done, of),
        options.part_sheets,
    )
    again = [] if onto is None else onto.findings(nested.nesting)
    found = with_boxes([*batch.findings, *nested.findings, *layout.findings, *again, *agreed], nested.pieces)
    findings = judge(found, batch, options, profiles.settings.stops)
    codec = next((piece.picture.codec for piece in nested.pieces), "")
    bill = make_bill(nested.charges(), printer, nested.alone)
    record = make_record(batch, layout, nested.fewest, shown, profiles.settings.currency, codec, findings, bill)
    record["approval"] = _approval(approval_files(batch), nested.pieces)
    record["offcut"] = offcut(layout.sheets)
    if options.part_sheets is not None:
        # Not among what names the batch: the same sheets in other files are the same sheets.
        record["options"] = {**record["options"], "part_sheets": options.part_sheets}
    if onto is not None:
        record = onto.told(record)
    # A caller's own executor says how artwork is prepared; what is written is written by this machine.
    workers = options.workers or (1 if options.executor else default_workers())
    return Plan(
        batch, profiles, printer, layout, lettering, nested.fewest, bill, findings, record, workers, nested.chosen
    )


def with_marks(nested: Nested, agreed: Sequence[Finding]) -> Nested:
    """The same, the rows that are not what was agreed marked for their tickets."""
    if not any(one.kind == "not-agreed" and one.row is not None for one in agreed):
        return nested
    rows = {row.row: row for row in marked(nested.batch.rows, agreed)}
    pieces = {id(piece): replace(piece, row=rows.get(piece.row.row, piece.row)) for piece in nested.pieces}
    transfers = {key: replace(one, piece=pieces[id(one.piece)]) for key, one in nested.transfers.items()}
    batch = replace(nested.batch, rows=tuple(rows.values()))
    return replace(nested, batch=batch, pieces=tuple(pieces.values()), transfers=transfers)


def _approval(pages: list[dict[str, Any]], pieces: Sequence[Piece]) -> list[dict[str, Any]]:
    """Each order's page with what it shows, which is what an answer is noted of."""
    shown = shown_by_order(pieces)
    keys = [(page["order"], 0 if page["order"] else page["row"]) for page in pages]
    return [
        {**page, "shows": [entry for _, entry in shown.get(key, [])]} for page, key in zip(pages, keys, strict=True)
    ]


def shown_options(
    profiles: Profiles, options: Options, papers: Sequence[Paper], printer: Printer, chosen: Chosen | None
) -> dict[str, Any]:
    """The options and settings that decided the result, for the record; not those that only decide its speed."""
    settings = profiles.settings
    return {
        "papers": [paper.name for paper in papers],
        "printer": {
            "name": printer.name,
            "edges_mm": [printer.left_mm, printer.top_mm, printer.right_mm, printer.bottom_mm],
            "scale": [printer.scale_x, printer.scale_y],
        },
        "tear_mm": (options.tear or settings.tear).total_mm,
        "tint": settings.tint,
        "keep_upright": settings.keep_upright,
        "straight_cuts": settings.straight_cuts,
        "smallest_decides": settings.smallest_decides,
        "panel_overlap_mm": settings.panel_overlap,
        "orientation": settings.orientation,
        "output": None if chosen is None else chosen.shown(),
        "oversize": options.oversize,
        "steps": options.steps,
        "seconds": options.seconds,
        "units": settings.units,
        "skip_bad": options.skip_bad,
        "strict": options.strict,
        "accept": sorted(options.accept),
        "stops": sorted(settings.stops),
        "keep_specks": settings.keep_specks,
        "clean_haze": settings.clean_haze,
        "drop_specks": settings.drop_specks,
    }


def _content(nested: Nested, options: Mapping[str, Any]) -> list[Any]:
    """What names a batch: what is printed, how large, for whom, on what; not where the files lie."""
    rows = [
        [
            row_values(piece.row),
            round(piece.ink_w_mm, 4),
            round(piece.ink_h_mm, 4),
            piece.picture.sha256,
        ]
        for piece in nested.pieces
    ]
    return [nested.batch.name, rows, options]
