"""`reprint`: some transfers of a record made again as they were, on the fewest sheets, their artwork proven the same.

Sizes, margins and fold lines are taken from the record and not worked out anew, so that a placement changed since
changes nothing. The printer is taken as it is measured today.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from impose.art.crop import cropped
from impose.art.drawing import Drawing
from impose.art.ink import PixelBox
from impose.art.output import INTENTS, check_output
from impose.art.prepare import Picture
from impose.errors import Exit, Finding, Severity, Trouble, raise_stops
from impose.run.artwork import prepare_artwork
from impose.run.conversion import BY_HAND, Chosen, chosen_output
from impose.run.instead import second_best
from impose.run.job import Job, load
from impose.run.offer import Made, nest_made
from impose.run.options import Options, Progress, silent
from impose.run.plan import Plan, draw, open_onto
from impose.run.rows import rows_of
from impose.run.selection import Reason, Wish, select
from impose.run.shortage import StockTrouble
from impose.run.source import Source
from impose.run.stock import Returning
from impose.run.workforce import workforce
from impose.sheet.margins import PrintArea, Wanted, fits, print_area
from impose.sheet.panels import Panel
from impose.sheet.printed import Printed, PrintedTransfer
from impose.sheet.transfer import Piece, Transfer
from impose.shop.orders import Batch, Row
from impose.shop.paper import Paper
from impose.shop.profiles import Profiles


@dataclass(frozen=True, slots=True)
class Reprint:
    """What is made again, and which sheets' paper comes back because they were never printed."""

    plan: Plan
    returning: tuple[Returning, ...]


def returning_of(source: Source, chosen: Mapping[str, Reason]) -> tuple[list[Returning], list[Finding]]:
    """The sheets never printed: those of which every transfer is named as unprinted; others are said."""
    unprinted = {name for name, reason in chosen.items() if reason == "unprinted"}
    on_sheets: dict[int, set[str]] = {}
    for one in source.printed.transfers:
        on_sheets.setdefault(one.sheet, set()).add(one.id)
    touched = {number: names for number, names in on_sheets.items() if names & unprinted}
    whole = frozenset(number for number, names in touched.items() if names <= unprinted)
    findings = [
        Finding(
            f"the paper of sheet {number} does not come back: {len(names - unprinted)} of its transfers are not named "
            "as unprinted",
            "A sheet was printed or it was not: name all of it with --sheet, or give another reason.",
            Severity.WARN,
            kind="partly-printed",
        )
        for number, names in sorted(touched.items())
        if number not in whole
    ]
    if not whole:
        return [], findings
    return [Returning(source.sha256, str(source.path.parent.absolute()), whole, elsewhere=True)], findings


def plan_reprint(source: Source, wish: Wish, options: Options, progress: Progress = silent) -> Reprint:
    """Plan the transfers of a record that the wish names. Raises `Trouble` with everything that is wrong."""
    with workforce(options) as options:
        return _planned(source, wish, options, progress)


def _planned(source: Source, wish: Wish, options: Options, progress: Progress) -> Reprint:
    printed = source.printed
    chosen = select(printed, wish)
    returning, findings = returning_of(source, chosen)
    options = as_printed(printed, options)
    profiles = load(options)
    papers = profiles.offered
    job = _begin(source, chosen, profiles, papers, options, progress)
    areas = tuple(print_area(paper, job.printer) for paper in papers)
    wanted = [one for one in printed.transfers if one.id in chosen]
    made = _made(wanted, job, areas, wish.take_new_art, [*findings, *job.batch.findings])
    try:
        onto = None if options.onto is None else open_onto(options.onto, job)
        nested = nest_made(made, areas, job, options, progress, onto)
    except StockTrouble as short:
        raise Trouble([*short.findings, *second_best(short, job, options)]) from short
    origin = _origin(source, chosen)
    plan = draw(nested, profiles, job.printer, options, progress, origin, onto)
    return Reprint(_told(plan, origin), tuple(returning))


def as_printed(printed: Printed, options: Options) -> Options:
    """The options with what the record was made with beneath them; what is said now wins."""
    then = printed.options
    printer = then.get("printer", {})
    kept: dict[str, Any] = {
        name: str(then[name]) if isinstance(then[name], float) else then[name]
        for name in ("tint", "straight_cuts", "orientation", "keep_specks", "clean_haze", "drop_specks", "papers")
        if then.get(name) is not None
    }
    if isinstance(printer, dict) and isinstance(printer.get("name"), str):
        kept["printer"] = printer["name"]
    return replace(options, settings={**kept, **options.settings})


def _begin(
    source: Source,
    chosen: Mapping[str, Reason],
    profiles: Profiles,
    papers: tuple[Paper, ...],
    options: Options,
    progress: Progress,
) -> Job:
    """The artwork of what is chosen, prepared; its rows, and those of the same orders for the tickets."""
    printed = source.printed
    printer = profiles.printer(profiles.settings.printer)
    wanted = [one for one in printed.transfers if one.id in chosen]
    root = options.art_root or _art_root(source, wanted)
    rows = rows_of(wanted, root, profiles, str(source.path))
    orders = {row.order_key for row in rows.values()}
    others = rows_of(printed.transfers, root, profiles, str(source.path), look=False)
    rest = tuple(row for row in others.values() if row.order_key in orders and row.key not in rows)
    output = _as_then(chosen_output(profiles, printer), printed, profiles)
    findings = _other_colours(printed, output)
    batch = Batch(printed.batch, str(source.path), root, tuple(rows.values()), tuple(findings))
    pictures, batch = prepare_artwork(batch, profiles, options, progress, None if output is None else output.output)
    # Rows of the same orders come along, so that the tickets lay every print on the garment it was for.
    everyone = sorted((*batch.rows, *rest), key=lambda row: row.key)
    return Job(profiles, papers, printer, replace(batch, rows=tuple(everyone)), pictures, output)


def _art_root(source: Source, wanted: Sequence[PrintedTransfer]) -> Path:
    """The folder of the artwork as the record names it; a relative one is looked for from the record upwards as well.

    A wrong one does no harm: every picture is held to its hash.
    """
    named = Path(source.printed.art_root)
    above = [folder / named for folder in source.path.absolute().parents]
    first = next((one.ordered.art for one in wanted if not one.ordered.words), ".")
    return next((path for path in (named, *above) if (path / first).exists()), named)


def _as_then(chosen: Chosen | None, printed: Printed, profiles: Profiles) -> Chosen | None:
    """The output profile; if it is the record's, colours are brought into it as then, but for what is said by hand."""
    then = _output_then(printed)
    if chosen is None or then.get("sha256") != chosen.output.sha256:
        return chosen
    output, origins = chosen.output, profiles.settings.origins
    if origins.get("intent") not in BY_HAND and then.get("intent") in INTENTS:
        output = replace(output, intent=then["intent"])
    if origins.get("black_point") not in BY_HAND and then.get("intent") == "relative":
        output = replace(output, black_point=then.get("black_point") is True)
    return Chosen(chosen.name, output, tuple(check_output(output, chosen.name)))


def _other_colours(printed: Printed, chosen: Chosen | None) -> list[Finding]:
    """Whatever prints other colours than the first time: another output profile, or another way into it."""
    then, now = _output_then(printed), {} if chosen is None else chosen.shown()
    what, remedy = "", "Leave --intent and --no-black-point out to get the same colours."
    if then.get("sha256") != now.get("sha256"):
        what = "colours are not turned by the output profile that the record was made with"
        remedy = "Pass the same --output-profile to get the same colours."
    elif then.get("intent") != now.get("intent"):
        what = f"colours are brought into the output profile with the {now['intent']} intent, not {then.get('intent')}"
    elif then.get("black_point") != now.get("black_point"):
        what = "dark tones are brought into the output profile in another way than when the record was made"
    return [Finding(what, remedy, Severity.WARN, kind="output-profile")] if what else []


def _output_then(printed: Printed) -> dict[str, Any]:
    then = printed.options.get("output")
    return then if isinstance(then, dict) else {}


def _made(
    wanted: Sequence[PrintedTransfer],
    job: Job,
    areas: tuple[PrintArea, ...],
    take_new: bool,
    findings: Sequence[Finding],
) -> Made:
    rows = {row.key: row for row in job.batch.rows}
    pieces: dict[tuple[tuple[int, int], int], Piece] = {}
    said = list(findings)
    for one in wanted:
        if _key(one) not in pieces:
            pieces[_key(one)] = _piece(one, rows[one.key], job.pictures[rows[one.key].path], take_new, said)
    slack = min(piece.sides.slack_mm for piece in pieces.values())
    said += [
        _no_room(piece, areas) for piece in pieces.values() if not any(_takes(area, piece, slack) for area in areas)
    ]
    raise_stops([replace(one, file=one.file or job.batch.source) for one in said])
    transfers = {one.id: Transfer(one.id, pieces[_key(one)], one.copy) for one in wanted}
    return Made(replace(job.batch, findings=()), tuple(pieces.values()), transfers, slack, tuple(said))


def _piece(one: PrintedTransfer, row: Row, picture: Picture, take_new: bool, findings: list[Finding]) -> Piece:
    same = picture.sha256 == one.art_sha256 and _holds(picture, one)
    if same and one.panel is not None:
        picture = cropped(picture, _panel_box(picture, one.panel) if one.ink_px is None else one.ink_px)
    width, height, crease = one.ink_w_mm, one.ink_h_mm, one.crease_mm
    if not same:
        # A panel of another picture would not meet its neighbours.
        findings.append(_changed(one, row, picture, take_new and one.panel is None))
        # As large as the old one's box takes, in its own proportions; the fold lies in the middle of its ink.
        left, top, right, bottom = picture.ink
        scale = min(width / (right - left), height / (bottom - top))
        width, height = (right - left) * scale, (bottom - top) * scale
        crease = width / 2, height / 2
    return Piece(
        row=row,
        picture=picture,
        ink_w_mm=width,
        ink_h_mm=height,
        sides=one.sides,
        level=one.level,
        crease_x_mm=crease[0],
        crease_y_mm=crease[1],
        up=one.up,
        up_word=one.up_word,
        may_turn=one.may_turn,
        cloth_x=one.cloth[0],
        cloth_y=one.cloth[1],
        panel=one.panel,
    )


def _holds(picture: Picture, one: PrintedTransfer) -> bool:
    """Whether the ink is where it was; of a panel, whether it lies within."""
    left, top, right, bottom = picture.ink
    box = one.ink_px
    if box is None:
        return isinstance(picture, Drawing)
    if one.panel is None:
        return (left, top, right, bottom) == box
    return left <= box[0] < box[2] <= right and top <= box[1] < box[3] <= bottom


def _panel_box(picture: Picture, panel: Panel) -> PixelBox:
    """A panel's part of a drawing, in its units: by its place in the whole, since a record holds no units."""
    left, top, right, bottom = picture.ink
    across, down = (right - left) / panel.whole[0], (bottom - top) / panel.whole[1]
    box = panel.box
    edges = (box.x * across, box.y * down, box.right * across, box.bottom * down)
    a, b, c, d = (round(edge) + start for edge, start in zip(edges, (left, top) * 2, strict=True))
    return a, b, min(c, right), min(d, bottom)


def _changed(one: PrintedTransfer, row: Row, picture: Picture, take_new: bool) -> Finding:
    column, read, remedy = "art", row.art, "Put the old file back, or pass --take-new-art to print what is there now."
    if picture.sha256 == one.art_sha256:
        what = "the ink of the artwork is found elsewhere than when it was printed"
    elif row.words and one.ink_px is not None and isinstance(picture, Drawing):
        what = "the words were printed as a picture by an earlier version, and are drawn as outlines now"
        column, read, remedy = "words", row.words, "Pass --take-new-art to print them as outlines in the same size."
    elif row.words:
        what = "the words are set otherwise than when they were printed"
        column, read = "font", row.font
        remedy = "Bring their style or font file back, or pass --take-new-art to print them as they are set now."
    else:
        what = "the artwork has changed since it was printed"
    severity = Severity.STOP
    if take_new:
        what, remedy, severity = f"{what}; the new one is taken, in the old one's size", "", Severity.WARN
    return Finding(what, remedy, severity, "art-changed", row=row.row, column=column, read=read or None)


def _key(one: PrintedTransfer) -> tuple[tuple[int, int], int]:
    """Copies of one row are one piece; each panel of a print that was parted is a piece of its own."""
    return one.key, one.panel.number if one.panel else 0


def _takes(area: PrintArea, piece: Piece, slack_mm: float) -> bool:
    wanted = Wanted(piece.ink_w_mm, piece.ink_h_mm, piece.sides.top, 0.0, piece.may_turn)
    return fits(wanted, piece.sides, area, slack_mm)


def _no_room(piece: Piece, areas: Sequence[PrintArea]) -> Finding:
    names = ", ".join(area.paper.alias for area in areas)
    return Finding(
        f"the transfer takes {piece.cell_w_mm:.1f} × {piece.cell_h_mm:.1f} mm with its margin, which fits no offered "
        f"paper ({names})",
        "Offer the paper it was printed on, or a larger one, with -p.",
        kind="no-room",
        row=piece.row.row,
        exit=Exit.NO_ROOM,
    )


def _origin(source: Source, chosen: Mapping[str, Reason]) -> dict[str, Any]:
    """Where a reprint comes from, for the record and for what names the batch."""
    reasons = {name: chosen[name] for name in sorted(chosen)}
    return {"code": source.printed.code, "record_sha256": source.sha256, "because": reasons}


def _told(plan: Plan, origin: Mapping[str, Any]) -> Plan:
    """The plan, its record saying which record and transfer each one comes from."""
    record = {**plan.record, "reprint_of": {"code": origin["code"], "record_sha256": origin["record_sha256"]}}
    for sheet in record["sheets"]:
        sheet["transfers"] = list(sheet["transfers"])
        for one in sheet["transfers"]:
            one["reprint_of"] = {"code": origin["code"], "id": one["id"], "because": origin["because"][one["id"]]}
    return replace(plan, record=record)
