"""The garments of a plan drawn with their prints, as the tickets draw them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.page.drawings import PictureNames, draw_face
from impose.page.face_views import find_face_view, list_box_values, title_face
from impose.page.plan_values import title_of_place
from impose.pages.tickets.sentences import describe_place
from impose.sheet.press_steps import PressStep, PressTicket, make_tickets
from impose.sheet.transfer import describe_ordered_garment
from impose.units import format_length

if TYPE_CHECKING:
    from impose.page.planner_process import BatchPlanner, KeptPlan

MOST = 200


def list_garments(
    planner: BatchPlanner, kept: KeptPlan, names: PictureNames, start: int, count: int, row: str = ""
) -> dict[str, Any]:
    """So many garments from a number on; with `row` only those that carry a print of it, or of several (“r1,r2”)."""
    plan = kept.plan
    every = list(enumerate(make_tickets(plan.batch.rows, plan.layout, plan.profiles), 1))
    wanted = set(row.split(",")) if row else set()
    tickets = [pair for pair in every if not wanted or wanted.intersection(_list_rows(pair[1], kept))]
    shown = tickets[start : start + max(1, min(count, MOST))]
    found = [_describe_garment(f"g{number}", entry, kept, names, planner.base) for number, entry in shown]
    return {"plan": kept.number, "garments": found, "more": max(0, len(tickets) - start - len(shown))}


def _list_rows(ticket: PressTicket, kept: KeptPlan) -> list[str]:
    """The page's names of the rows that made a garment."""
    named = (kept.rows.find_name(step.transfer.piece.row.row) for step in ticket.steps)
    return list(dict.fromkeys(name for name in named if name))


def _describe_garment(
    ident: str, ticket: PressTicket, kept: KeptPlan, names: PictureNames, base: str
) -> dict[str, Any]:
    return {
        **list_worn_values(ident, ticket),
        "rows": _list_rows(ticket, kept),
        "faces": [_describe_face(face, steps, kept, names, base) for face, steps in ticket.faces],
    }


def _describe_face(face: str, steps: list[PressStep], kept: KeptPlan, names: PictureNames, base: str) -> dict[str, Any]:
    def row_of(step: PressStep) -> str | None:
        return kept.rows.find_name(step.transfer.piece.row.row)

    shape = steps[0].shape
    return {
        "face": face,
        "title": title_face(face),
        "view": list(find_face_view(shape, steps)),
        "svg": draw_face(shape, steps, names, base, row_of),
        "prints": [_describe_print(step, row_of(step), kept) for step in steps],
    }


def _describe_print(step: PressStep, row: str | None, kept: KeptPlan) -> dict[str, Any]:
    units = kept.plan.profiles.settings.units
    piece = step.transfer.piece
    width, height = piece.finished_size
    return {
        "row": row,
        "kit_row": kept.rows.kits.get(piece.row.kit_row) if piece.row.kit_row else None,
        "transfer": step.transfer.id,
        "placement": piece.row.placement,
        "title": title_of_place(kept.plan.profiles, piece.row.placement),
        "box": list_box_values(step.spot.box),
        "turned": step.spot.turned,
        "size": f"{format_length(width, units)} × {format_length(height, units)}",
        "offset": "; ".join(describe_place(step, units)),
        "findings": kept.writer.of_row.get(row or "", []),
    }


def list_worn_values(ident: str, ticket: PressTicket) -> dict[str, Any]:
    """Whose garment it is, and which of how many: what every list of garments on the page says."""
    worn = ticket.worn
    return {
        "id": ident,
        "order": worn.order,
        "wearer": worn.wearer,
        "garment": describe_worn(ticket),
        "number": worn.number,
        "count": worn.of,
    }


def describe_worn(ticket: PressTicket) -> str:
    """A garment in words."""
    garment = describe_ordered_garment(ticket.steps[0].transfer.piece.row)
    return f"{garment[:1].upper()}{garment[1:]}"
