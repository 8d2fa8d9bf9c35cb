"""`reprint`: some transfers of a record made again as they were, on the fewest sheets, their artwork proven the same.

Sizes, margins and fold lines are taken from the record and not worked out anew, so that a placement changed since
changes nothing. The printer is taken as it is measured today.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from impose.art.crop import crop_picture
from impose.art.ink import PixelBox
from impose.art.output_profile import INTENTS, check_output_profile
from impose.art.prepare import PreparedPicture
from impose.art.vector_drawing import Drawing
from impose.errors import Exit, Finding, Severity, Trouble, raise_stops
from impose.file_types import Asked
from impose.folder_exchange import hash_whole_file
from impose.orders.batch import Batch, BatchRow
from impose.profiles.paper import Paper
from impose.profiles.profiles import Profiles
from impose.profiles.settings import INHERITED
from impose.remedies import Remedy
from impose.run.alternative_paper import suggest_other_paper
from impose.run.artwork import prepare_artwork
from impose.run.executors import open_executors
from impose.run.load_batch import LoadedBatch, load_profiles_in_force
from impose.run.nest_batch import SizedTransfers, nest_transfers
from impose.run.options import Options
from impose.run.output_profile_choice import BY_HAND, ChosenProfile, choose_output_profile
from impose.run.paper_stock import ReturnedSheets
from impose.run.plan import Plan, draw_plan, open_onto
from impose.run.progress import Progress, report_nothing
from impose.run.record_file import RecordFile
from impose.run.rows_from_record import make_piece, make_rows
from impose.run.selection import Reason, ReprintRequest, select_garments, select_transfers
from impose.run.shortage import StockShortage
from impose.sheet.margins import PrintArea, SizeRequest, fits_paper, print_area
from impose.sheet.panels import Panel
from impose.sheet.record_reader import PrintedTransfer, RecordContent
from impose.sheet.transfer import Piece, Transfer
from impose.values import FrozenStruct, replace


class ReprintPlan(FrozenStruct):
    """What is made again, and which sheets' paper comes back because they were never printed."""

    plan: Plan
    returning: tuple[ReturnedSheets, ...]


def list_returning(source: RecordFile, chosen: Mapping[str, Reason]) -> tuple[list[ReturnedSheets], list[Finding]]:
    """The sheets never printed: those of which every transfer is named as unprinted; others are said."""
    unprinted = {name for name, reason in chosen.items() if reason == "unprinted"}
    on_sheets: dict[int, set[str]] = {}
    for transfer in source.printed.transfers:
        on_sheets.setdefault(transfer.sheet, set()).add(transfer.id)
    touched = {number: names for number, names in on_sheets.items() if names & unprinted}
    whole = frozenset(number for number, names in touched.items() if names <= unprinted)
    findings = [
        Finding(
            f"the paper of sheet {number} does not come back: {len(names - unprinted)} of its transfers are not named "
            "as unprinted",
            Remedy("name-whole-sheet"),
            Severity.WARN,
            kind="partly-printed",
        )
        for number, names in sorted(touched.items())
        if number not in whole
    ]
    if not whole:
        return [], findings
    return [ReturnedSheets(source.sha256, str(source.path.parent.absolute()), whole, elsewhere=True)], findings


def plan_reprint(
    source: RecordFile, wish: ReprintRequest, options: Options, progress: Progress = report_nothing
) -> ReprintPlan:
    """Plan the transfers of a record that the wish names. Raises `Trouble` with everything that is wrong."""
    with open_executors(options) as options:
        return _plan_reprint(source, wish, options, progress)


def _plan_reprint(source: RecordFile, wish: ReprintRequest, options: Options, progress: Progress) -> ReprintPlan:
    printed = source.printed
    chosen = select_transfers(printed, wish)
    returning, findings = list_returning(source, chosen)
    options = restore_options(printed, options)
    profiles = load_profiles_in_force(options)
    papers = profiles.offered_papers
    job = load_recorded(source, chosen, profiles, papers, options, progress, wish.take_new_art)
    areas = tuple(print_area(paper, job.printer) for paper in papers)
    wanted = [transfer for transfer in printed.transfers if transfer.id in chosen]
    made = _make_transfers(wanted, job, areas, wish.take_new_art, [*findings, *job.batch.findings])
    try:
        onto = None if options.onto is None else open_onto(options.onto, job)
        nested = nest_transfers(made, areas, job, options, progress, onto)
    except StockShortage as short:
        raise Trouble([*short.findings, *suggest_other_paper(short, job, options)]) from short
    origin = _describe_origin(source, chosen, wish)
    plan = draw_plan(nested, profiles, job.printer, options, progress, origin, onto)
    return ReprintPlan(_annotate_plan(plan, origin), tuple(returning))


def restore_options(printed: RecordContent, options: Options) -> Options:
    """The options with what the record was made with beneath them; what is said now wins."""
    then = printed.options
    printer = then.get("printer", {})
    kept: dict[str, Any] = {
        name: str(then[name]) if isinstance(then[name], float) else then[name]
        for name in INHERITED
        if then.get(name) is not None
    }
    kept["swatches"] = False  # they were tried the first time; whoever wants them again says so now
    if isinstance(printer, dict) and isinstance(printer.get("name"), str):
        kept["printer"] = printer["name"]
    return replace(options, settings={**kept, **options.settings})


def load_recorded(
    source: RecordFile,
    chosen: Collection[str],
    profiles: Profiles,
    papers: tuple[Paper, ...],
    options: Options,
    progress: Progress,
    take_new: bool = False,
) -> LoadedBatch:
    """The artwork of what is chosen, prepared; its rows, and those of the same orders for the tickets.

    Raises `Trouble` for what is lost or damaged, and then for what has changed as well.
    """
    printed = source.printed
    printer = profiles.find_printer(profiles.settings.printer)
    wanted = [transfer for transfer in printed.transfers if transfer.id in chosen]
    root = options.art_root or find_recorded_root(source, wanted)
    lost: list[Finding] = []
    rows = make_rows(wanted, root, profiles, str(source.path), lost=lost)
    orders = {row.order_key for row in rows.values()}
    others = make_rows(printed.transfers, root, profiles, str(source.path), look=False)
    rest = tuple(row for row in others.values() if row.order_key in orders and row.key not in rows)
    output = choose_recorded_profile(printed, profiles)
    findings = _report_other_colours(printed, output)
    batch = Batch(printed.batch, str(source.path), root, tuple(rows.values()), tuple(findings))
    try:
        pictures, batch = prepare_artwork(batch, profiles, options, progress, None if output is None else output.output)
    except Trouble as trouble:
        damaged = {(finding.row, finding.kit_row) for finding in trouble.findings}
        whole = [printed for printed in wanted if printed.key in rows and printed.key not in damaged]
        lost += [*trouble.findings, *_report_changed_files(whole, rows, str(source.path))]
        raise Trouble(sorted(lost, key=_place_in_record)) from trouble
    if lost:
        found = [transfer for transfer in wanted if transfer.key in rows]
        _make_recorded_pieces(found, {row.key: row for row in batch.rows}, pictures, take_new, lost)
        raise_stops(
            [replace(finding, file=finding.file or batch.source) for finding in sorted(lost, key=_place_in_record)]
        )
    # Rows of the same orders come along, so that the tickets lay every print on the garment it was for.
    everyone = sorted((*batch.rows, *rest), key=lambda row: row.key)
    return LoadedBatch(profiles, papers, printer, replace(batch, rows=tuple(everyone)), pictures, output)


def _place_in_record(finding: Finding) -> tuple[int, int]:
    return finding.row or 0, finding.kit_row or 0


def _report_changed_files(
    wanted: Sequence[PrintedTransfer], rows: Mapping[tuple[int, int], BatchRow], record: str
) -> list[Finding]:
    """The pictures whose files are others now, where nothing is prepared because another one is damaged."""
    changed = {
        printed.key: _report_changed(printed, rows[printed.key], None, False)
        for printed in wanted
        if not rows[printed.key].words and hash_whole_file(rows[printed.key].path) != printed.art_sha256
    }
    return [replace(finding, file=record) for finding in changed.values()]


def find_recorded_root(source: RecordFile, wanted: Sequence[PrintedTransfer]) -> Path:
    """The folder of the artwork as the record names it; a relative one is looked for from the record upwards as well.

    A wrong one does no harm: every picture is held to its hash.
    """
    named = Path(source.printed.art_root)
    above = [folder / named for folder in source.path.absolute().parents]
    first = next((printed.ordered.art for printed in wanted if not printed.ordered.words), ".")
    return next((path for path in (named, *above) if (path / first).exists()), named)


def choose_recorded_profile(printed: RecordContent, profiles: Profiles) -> ChosenProfile | None:
    """The output profile; if it is the record's, colours are brought into it as then, but for what is said by hand."""
    chosen = choose_output_profile(profiles, profiles.find_printer(profiles.settings.printer))
    then = read_recorded_profile(printed)
    if chosen is None or then.get("sha256") != chosen.output.sha256:
        return chosen
    output, origins = chosen.output, profiles.settings.origins
    if origins.get("intent") not in BY_HAND and then.get("intent") in INTENTS:
        output = replace(output, intent=then["intent"])
    if origins.get("black_point") not in BY_HAND and then.get("intent") == "relative":
        output = replace(output, black_point=then.get("black_point") is True)
    return ChosenProfile(chosen.name, output, tuple(check_output_profile(output, chosen.name)))


def _report_other_colours(printed: RecordContent, chosen: ChosenProfile | None) -> list[Finding]:
    """Whatever prints other colours than the first time: another output profile, or another way into it."""
    then, now = read_recorded_profile(printed), {} if chosen is None else chosen.record_values()
    what, remedy = "", Remedy("leave-intent-out")
    if then.get("sha256") != now.get("sha256"):
        what = "colours are not turned by the output profile that the record was made with"
        remedy = Remedy("same-output-profile")
    elif then.get("intent") != now.get("intent"):
        what = f"colours are brought into the output profile with the {now['intent']} intent, not {then.get('intent')}"
    elif then.get("black_point") != now.get("black_point"):
        what = "dark tones are brought into the output profile in another way than when the record was made"
    return [Finding(what, remedy, Severity.WARN, kind="output-profile")] if what else []


def read_recorded_profile(printed: RecordContent) -> dict[str, Any]:
    """What the record says of its output profile; blank where it had none."""
    then = printed.options.get("output")
    return then if isinstance(then, dict) else {}


def _make_transfers(
    wanted: Sequence[PrintedTransfer],
    job: LoadedBatch,
    areas: tuple[PrintArea, ...],
    take_new: bool,
    findings: Sequence[Finding],
) -> SizedTransfers:
    said = list(findings)
    rows = {row.key: row for row in job.batch.rows}
    pieces = _make_recorded_pieces(wanted, rows, job.pictures, take_new, said)
    slack = min(piece.sides.slack_mm for piece in pieces.values())
    said += [
        _report_no_room(piece, areas)
        for piece in pieces.values()
        if not any(_takes_piece(area, piece, slack) for area in areas)
    ]
    raise_stops([replace(finding, file=finding.file or job.batch.source) for finding in said])
    transfers = {printed.id: Transfer(printed.id, pieces[_piece_key(printed)], printed.copy) for printed in wanted}
    return SizedTransfers(replace(job.batch, findings=()), tuple(pieces.values()), transfers, slack, tuple(said))


def _make_recorded_pieces(
    wanted: Sequence[PrintedTransfer],
    rows: Mapping[tuple[int, int], BatchRow],
    pictures: Mapping[Asked, PreparedPicture],
    take_new: bool,
    findings: list[Finding],
) -> dict[tuple[tuple[int, int], int], Piece]:
    """The pieces as they were printed, by `_piece_key`; changed artwork is said in `findings`."""
    pieces: dict[tuple[tuple[int, int], int], Piece] = {}
    for printed in wanted:
        if _piece_key(printed) not in pieces:
            row = rows[printed.key]
            piece = make_recorded_piece(printed, row, pictures[row.asked], take_new, findings)
            pieces[_piece_key(printed)] = piece
    return pieces


def make_recorded_piece(
    printed: PrintedTransfer, row: BatchRow, picture: PreparedPicture, take_new: bool, findings: list[Finding]
) -> Piece:
    """A piece as it was printed; where its artwork is another one now, that is said in `findings`."""
    same = picture.sha256 == printed.art_sha256 and _still_holds(picture, printed)
    if same and printed.panel is not None:
        picture = crop_picture(
            picture, _panel_box(picture, printed.panel) if printed.ink_px is None else printed.ink_px
        )
    width, height, crease = printed.ink_w_mm, printed.ink_h_mm, printed.crease_mm
    if not same:
        # A panel of another picture would not meet its neighbours.
        findings.append(_report_changed(printed, row, picture, take_new and printed.panel is None))
        # As large as the old one's box takes, in its own proportions; the fold lies in the middle of its ink.
        left, top, right, bottom = picture.ink
        scale = min(width / (right - left), height / (bottom - top))
        width, height = (right - left) * scale, (bottom - top) * scale
        crease = width / 2, height / 2
    return make_piece(printed, row, picture, (width, height), crease)


def _still_holds(picture: PreparedPicture, printed: PrintedTransfer) -> bool:
    """Whether the ink is where it was; of a panel, whether it lies within."""
    left, top, right, bottom = picture.ink
    box = printed.ink_px
    if box is None:
        return isinstance(picture, Drawing)
    if printed.panel is None:
        return (left, top, right, bottom) == box
    return left <= box[0] < box[2] <= right and top <= box[1] < box[3] <= bottom


def _panel_box(picture: PreparedPicture, panel: Panel) -> PixelBox:
    """A panel's part of a drawing, in its units: by its place in the whole, since a record holds no units."""
    left, top, right, bottom = picture.ink
    across, down = (right - left) / panel.whole[0], (bottom - top) / panel.whole[1]
    box = panel.box
    edges = (box.x * across, box.y * down, box.right * across, box.bottom * down)
    a, b, c, d = (round(edge) + start for edge, start in zip(edges, (left, top) * 2, strict=True))
    return a, b, min(c, right), min(d, bottom)


def _report_changed(
    printed: PrintedTransfer, row: BatchRow, picture: PreparedPicture | None, take_new: bool
) -> Finding:
    column, read = "art", row.art
    remedy: str = Remedy("take-new-art")
    if picture is not None and picture.sha256 == printed.art_sha256:
        what = "the ink of the artwork is found elsewhere than when it was printed"
    elif row.words and printed.ink_px is not None and isinstance(picture, Drawing):
        what = "the words were printed as a picture by an earlier version, and are drawn as outlines now"
        column, read, remedy = "words", row.words, Remedy("take-outlines")
    elif row.words:
        what = "the words are set otherwise than when they were printed"
        column, read = "font", row.font
        remedy = Remedy("take-new-words")
    else:
        what = "the artwork has changed since it was printed"
    severity = Severity.STOP
    if take_new:
        what, remedy, severity = f"{what}; the new one is taken, in the old one's size", "", Severity.WARN
    return Finding(
        what, remedy, severity, "art-changed", row=row.row, kit_row=row.kit_row, column=column, read=read or None
    )


def _piece_key(printed: PrintedTransfer) -> tuple[tuple[int, int], int]:
    """Copies of one row are one piece; each panel of a print that was parted is a piece of its own."""
    return printed.key, printed.panel.number if printed.panel else 0


def _takes_piece(area: PrintArea, piece: Piece, slack_mm: float) -> bool:
    wanted = SizeRequest(piece.ink_w_mm, piece.ink_h_mm, piece.sides.top, 0.0, piece.may_turn)
    return fits_paper(wanted, piece.sides, area, slack_mm)


def _report_no_room(piece: Piece, areas: Sequence[PrintArea]) -> Finding:
    names = ", ".join(area.paper.alias for area in areas)
    return Finding(
        f"the transfer takes {piece.cell_w_mm:.1f} × {piece.cell_h_mm:.1f} mm with its margin, which fits no offered "
        f"paper ({names})",
        Remedy("same-or-larger-paper"),
        kind="no-room",
        row=piece.row.row,
        kit_row=piece.row.kit_row,
        exit=Exit.NO_ROOM,
    )


def _describe_origin(source: RecordFile, chosen: Mapping[str, Reason], wish: ReprintRequest) -> dict[str, Any]:
    """Where a reprint comes from, for the record and for what names the batch."""
    reasons = {name: chosen[name] for name in sorted(chosen)}
    origin: dict[str, Any] = {"code": source.printed.code, "record_sha256": source.sha256, "because": reasons}
    garments = [
        {"order": of.order, "wearer": of.wearer, "garment": of.garment, "cloth": of.cloth,
         "transfers": list(of.ids), "because": wish.because}
        for of in select_garments(source.printed, wish)
    ]  # fmt: skip
    return {**origin, "garments": garments} if garments else origin


def _annotate_plan(plan: Plan, origin: Mapping[str, Any]) -> Plan:
    """The plan, its record saying which record and transfer each one comes from, and which garments need a blank."""
    record = {**plan.record, "reprint_of": {key: value for key, value in origin.items() if key != "because"}}
    record["sheets"] = list(record["sheets"])
    for sheet in record["sheets"]:
        sheet["transfers"] = list(sheet["transfers"])
        for transfer in sheet["transfers"]:
            transfer["reprint_of"] = {
                "code": origin["code"],
                "id": transfer["id"],
                "because": origin["because"][transfer["id"]],
            }
    return replace(plan, record=record)
