"""The press view of a made batch: garments in pressing order, drawn and told in few words; what is to be made again."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from impose.errors import Severity
from impose.page.drawings import PictureNames, draw_face, draw_small_png
from impose.page.face_views import find_face_view, title_face
from impose.page.finding_values import list_shipped_papers, say_sentence, title_papers
from impose.page.garment_asks import describe_worn, list_worn_values
from impose.page.made_folders import MadeFolder, find_made, free_output
from impose.page.onto_requests import read_onto
from impose.page.plan_values import title_of_place
from impose.page.refusal import Refusal
from impose.pages.tickets.sentences import STARTING_POINT, describe_folds, describe_place, describe_steps, setting_words
from impose.profiles.guidance import CAUTIONS, ORDER_OF_WORK
from impose.profiles.press import HeatPress
from impose.profiles.profiles import Profiles
from impose.run.load_batch import load_profiles_in_force
from impose.run.press_ticks import list_again, read_ticks
from impose.run.progress import Progress
from impose.run.record_file import RecordFile, read_record
from impose.run.reprint import list_returning, plan_reprint
from impose.run.selection import REASONS, ReprintRequest, select_transfers
from impose.run.tickets_from_record import Grouping, RecordTickets, read_tickets
from impose.sheet.piece import Piece
from impose.sheet.press_steps import PressStep, PressTicket
from impose.units import format_length
from impose.values import replace

if TYPE_CHECKING:
    from impose.page.planner_process import BatchPlanner

GROUPINGS: Mapping[str, Grouping] = {"garment": "garment", "place": "platen"}
MOST_REASONS = 20
UPS = 3
"""Lines beside a print at the press; the rest is told when it is asked for."""


@dataclass(slots=True)
class _PressedBatch:
    """A record with its tickets, and the pictures that its drawings name."""

    record: RecordFile
    found: RecordTickets
    names: PictureNames = field(default_factory=PictureNames)
    pieces: dict[str, Piece] = field(default_factory=dict)


_read: dict[tuple[str, str, int], _PressedBatch] = {}
_lock = threading.Lock()


def _read_pressed(planner: BatchPlanner, made: MadeFolder, grouping: Grouping) -> _PressedBatch:
    """The tickets of an output, read once as long as its record stays."""
    key = (str(made.path), grouping, (made.path / "batch.json").stat().st_mtime_ns)
    with _lock:
        if key not in _read:
            if len(_read) > 8:
                _read.clear()
            record = read_record(made.path)
            _read[key] = _PressedBatch(record, read_tickets(record, load_profiles_in_force(planner.options), grouping))
        return _read[key]


def show_press(planner: BatchPlanner, progress: Progress, made: str, by: str) -> dict[str, Any]:
    """Everything of the press view that no tick changes."""
    folder = find_made(planner.setup.folder, made)
    held = _read_pressed(planner, folder, GROUPINGS.get(by, "garment"))
    profiles = held.found.profiles
    press = profiles.find_press(profiles.settings.press)
    base = f"{planner.base}/made/{folder.id}"
    tickets = held.found.tickets
    return {
        "made": folder.id,
        "code": folder.code,
        "by": by,
        "cautions": list(CAUTIONS),
        "order_of_work": list(ORDER_OF_WORK),
        "setting": {"says": _split_setting(press), "from": press.source or press.note, "test": STARTING_POINT},
        "left_out": list_left_out(folder.record),
        "garments": [_describe_garment(f"g{n}", ticket, held, press, base) for n, ticket in enumerate(tickets, 1)],
    }


def list_left_out(record: Mapping[str, Any]) -> list[str]:
    """Why rows of the orders are not in an output, each reason once: what is pressed is not all that was ordered."""
    stops = [entry for entry in record.get("findings", []) if entry.get("severity") == str(Severity.STOP)]
    papers = list_shipped_papers()
    told = (say_sentence(title_papers(str(entry.get("what", "")), papers)) for entry in stops)
    return list(dict.fromkeys(told))[:MOST_REASONS]


def _split_setting(press: HeatPress) -> list[str]:
    return [part.strip() for part in setting_words(press).replace(";", ",").split(",") if part.strip()]


def _describe_garment(
    ident: str, ticket: PressTicket, held: _PressedBatch, press: HeatPress, base: str
) -> dict[str, Any]:
    numbers = {step.transfer.id: n for n, step in enumerate(ticket.steps, 1)}
    return {
        **list_worn_values(ident, ticket),
        "cloth": ticket.worn.cloth.words,
        "setup": ticket.setup,
        "faces": [_describe_face(face, steps, held, base) for face, steps in ticket.faces],
        "prints": [
            _describe_print(
                step, [entry for entry in ticket.steps if entry.print == step.print], held, press, numbers, base
            )
            for step in ticket.steps
        ],
    }


def _describe_face(face: str, steps: list[PressStep], held: _PressedBatch, base: str) -> dict[str, Any]:
    for step in steps:
        _note_picture(step, held)
    return {
        "face": face,
        "title": title_face(face),
        "view": list(find_face_view(steps[0].shape, steps)),
        "svg": draw_face(steps[0].shape, steps, held.names, base, lambda step: step.transfer.id),
    }


def _note_picture(step: PressStep, held: _PressedBatch) -> str:
    piece = step.transfer.piece
    name = held.names.picture_name(piece.picture)
    held.pieces[name] = piece
    return name


def _describe_print(
    step: PressStep,
    panels: Sequence[PressStep],
    held: _PressedBatch,
    press: HeatPress,
    numbers: Mapping[str, int],
    base: str,
) -> dict[str, Any]:
    piece, profiles = step.transfer.piece, held.found.profiles
    units = profiles.settings.units
    size = _describe_size(piece, units)
    name = _note_picture(step, held)
    title = title_of_place(profiles, piece.row.placement) or "Place not named"
    panel = "" if piece.panel is None else f", panel {piece.panel.number} of {piece.panel.of}"
    lines = [entry.text for entry in describe_steps(panels, press.set_for(step.setting), press, units, numbers)]
    return {
        "transfer": step.transfer.id,
        "title": f"{title}{panel}",
        "says": _describe_in_few_words(step, profiles),
        "more": lines,
        "sheet": step.sheet,
        "size": size,
        "picture": f"{base}/pictures/{name}.png?worn=1",
        "heats_again": list(step.again),
    }


def _describe_size(piece: Piece, units: Literal["mm", "in"]) -> str:
    """How large it is as worn; of a panel first its own size."""
    width, height = piece.finished_size
    whole = f"{format_length(width, units)} × {format_length(height, units)}"
    if piece.panel is None:
        return whole
    box = piece.panel.box
    across, down = format_length(box.w / piece.cloth_x, units), format_length(box.h / piece.cloth_y, units)
    return f"{across} × {down} of {whole}"


def _describe_in_few_words(step: PressStep, profiles: Profiles) -> list[str]:
    """Three lines of a few words: which side, how far from what, which edge is up."""
    place = [line for line in describe_place(step, profiles.settings.units) if not line.startswith(("(", "measured"))]
    up = next((line for line in describe_folds(step) if "edge" in line and "fold" not in line), "")
    return [line for line in (title_face(step.shape.face), *place[:1], up) if line][:UPS]


def show_picture(planner: BatchPlanner, progress: Progress, made: str, name: str) -> bytes:
    """A picture of the press view: the artwork of its row as it is now."""
    from impose.page.planner_asks import prepare_row

    folder = find_made(planner.setup.folder, made)
    piece = _find_piece(name)
    if piece is None:
        for by in GROUPINGS:
            show_press(planner, progress, folder.id, by)
        piece = _find_piece(name)
    if piece is None:
        raise Refusal(404, "gone", "This picture is not there any more.")
    picture = prepare_row(planner, piece.row, Path(str(folder.record.get("art_root", "."))))
    return draw_small_png(picture, True, part=_find_part(piece))


def _find_piece(name: str) -> Piece | None:
    return next((held.pieces[name] for held in list(_read.values()) if name in held.pieces), None)


def _find_part(piece: Piece) -> tuple[float, float, float, float] | None:
    """The part of the picture that a panel is, as shares of the whole as worn; None where it is the whole."""
    if piece.panel is None:
        return None
    box, (wide, high) = piece.panel.box, piece.panel.whole
    return box.x / wide, box.y / high, box.right / wide, box.bottom / high


def show_again(planner: BatchPlanner, progress: Progress, made: str) -> dict[str, Any]:
    """What the ticks of an output ask for: prints to be made again, garments that need a new blank."""
    folder = find_made(planner.setup.folder, made)
    held = _read_pressed(planner, folder, "garment")
    ticks = read_ticks(planner.setup.folder).list_ticks_of(folder.code)
    again = list_again(held.found.tickets, ticks)
    titles = {
        step.transfer.id: (
            title_of_place(held.found.profiles, step.transfer.piece.row.placement),
            describe_worn(ticket),
        )
        for ticket in held.found.tickets
        for step in ticket.steps
    }
    return {
        "ids": sorted(again.reasons),
        "prints": [
            {"transfer": name, "title": titles[name][0], "garment": titles[name][1], "because": f"{why} spoiled"}
            for name, why in sorted(again.reasons.items())
        ],
        "garments": [
            {
                "garment": describe_worn(garment.ticket),
                "wearer": garment.ticket.worn.wearer,
                "says": _new_blank(len(garment.names)),
            }
            for garment in again.garments
        ],
        "sheets": list_sheet_words(folder.record),
    }


def list_sheet_words(record: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The sheets of an output that may be fed again, those with the most free paper first."""
    sheets = sorted(record.get("sheets", []), key=lambda sheet: sheet.get("yield", 1.0))
    return [
        {
            "sheet": sheet["sheet"],
            "says": f"Sheet {sheet['sheet']}, {100 - round(100 * sheet.get('yield', 1.0))} % free",
        }
        for sheet in sheets
    ]


def _new_blank(count: int) -> str:
    prints = "its print" if count == 1 else f"all {count} prints"
    return f"Needs a new blank, and {prints} on it once more."


def make_again(
    planner: BatchPlanner,
    progress: Progress,
    made: str,
    ids: Sequence[str] = (),
    orders: Sequence[str] = (),
    sheets: Sequence[int] = (),
    because: str = "spoiled",
    onto: Mapping[str, Any] | None = None,
    new_art: bool = False,
) -> dict[str, Any]:
    """Make some prints of an output again, as they were, in an output of their own."""
    from impose.page.make_asks import deliver_plan

    if because not in REASONS:
        raise Refusal(400, "malformed", "The page sent something that cannot be read: why.", "Reload the page.")
    folder = find_made(planner.setup.folder, made)
    source = read_record(folder.path)
    wish = ReprintRequest(
        tuple(ids),
        tuple(orders),
        tuple(sheets),
        because=because,
        take_new_art=new_art,
    )
    coming = list_returning(source, select_transfers(source.printed, wish))[0]
    options = replace(planner.setup.options, limits=planner.stock.read_left(coming))
    if onto is not None:
        asked = {"made": made, **onto}
        options = replace(options, onto=read_onto(planner.setup.folder, asked, options))
    plan = plan_reprint(source, wish, options, progress).plan
    out = free_output(planner.setup.folder, f"{folder.path.name}-again")
    return deliver_plan(planner, plan, out, progress, coming)
