"""Garments that are pressed alike, so that one ticket does for all of them, and what a press evening holds."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence

from impose.profiles.press import HeatPress, PressSetting
from impose.sheet.margins import has_marks
from impose.sheet.press_prints import count_presses, group_steps_by_print
from impose.sheet.press_steps import PressStep, PressTicket
from impose.sheet.press_times import PressTimes, time_steps
from impose.values import FrozenStruct


class AlikeGarments(FrozenStruct):
    """Garments with the same prints in the same places, in pressing order; `number` counts tickets from 1."""

    number: int
    tickets: tuple[PressTicket, ...]

    @property
    def first(self) -> PressTicket:
        """The one that is drawn."""
        return self.tickets[0]

    def list_like(self, step: PressStep) -> list[PressStep]:
        """The print of every garment that lies where a step of the first does, the first's own first."""
        index = self.first.steps.index(step)
        return [ticket.steps[index] for ticket in self.tickets]


class PressSetup(FrozenStruct):
    """What is pressed in one set-up of the platen with one setting: garments, prints, closings, and its time."""

    name: str
    paper: str
    press: HeatPress
    garments: int
    prints: int
    presses: int
    times: PressTimes


def group_alike(tickets: Sequence[PressTicket]) -> list[AlikeGarments]:
    """The different garments of a batch in the order of their first, each with all that are pressed like it.

    Garments of different orders stay apart, since they are packed apart. Words may differ, and with them how wide they
    come out: a team's names and numbers lie at the same places and are pressed the same way.
    """
    # Order by order: what is compared of a ticket is as large as the ticket, and is let go with its order.
    orders: dict[Hashable, list[int]] = {}
    for index, ticket in enumerate(tickets):
        orders.setdefault((ticket.first, ticket.worn.order), []).append(index)
    groups = sorted(group for held in orders.values() for group in _group_order(tickets, held))
    return [AlikeGarments(n, tuple(tickets[index] for index in group)) for n, group in enumerate(groups, 1)]


def _group_order(tickets: Sequence[PressTicket], held: Sequence[int]) -> list[list[int]]:
    """The tickets of one order that are alike, by their indexes."""
    groups: dict[Hashable, list[int]] = {}
    for index in held:
        ticket = tickets[index]
        key = ticket.worn.garment, ticket.setup, tuple(_make_look_key(step) for step in ticket.steps)
        groups.setdefault(key, []).append(index)
    return list(groups.values())


def _make_look_key(step: PressStep) -> Hashable:
    """Everything of a print that a ticket shows or that the press is set by, but its id and its sheet."""
    piece = step.transfer.piece
    row, spot = piece.row, step.spot
    heat = step.fit, step.pressings, len(step.again), step.avoidable, step.together, step.setting
    told = row.placement, step.shape, piece.cloth_x, piece.cloth_y, heat, row.note, row.extra
    if row.words and piece.panel is None and step.fit != "several":
        place = spot.drop, spot.across, spot.midway, spot.turned, spot.pad is None
        return told, row.font, row.centre, piece.level, has_marks(piece.sides.left), place, _anchor(step)
    size = piece.ink_w_mm, piece.ink_h_mm, piece.crease_x_mm, piece.crease_y_mm
    return told, spot, size, piece.sides, piece.panel, piece.picture.look


def _anchor(step: PressStep) -> float:
    """The edge or middle that the drop is measured to, where it lies on the face: lowered prints lie lower."""
    box, drop = step.spot.box, step.spot.drop
    measured = "centre of print" if drop is None else drop.measured_to
    return round({"top of print": box.y, "bottom of print": box.bottom}.get(measured, box.centre[1]), 3)


def list_setups(tickets: Sequence[PressTicket], press: HeatPress) -> list[PressSetup]:
    """The evening by set-up of the platen and setting, in the order of the tickets.

    Changes from one set-up to another are in none of them.
    """
    found: dict[tuple[str, HeatPress], list[tuple[PressTicket, list[PressStep]]]] = {}
    papers: dict[tuple[str, HeatPress], dict[str, None]] = {}
    for ticket in tickets:
        mine: dict[tuple[str, HeatPress], list[PressStep]] = {}
        for step in ticket.steps:
            key = step.setup, press.set_for(step.setting)
            mine.setdefault(key, []).append(step)
            papers.setdefault(key, {})[step.paper] = None
        for key, steps in mine.items():
            found.setdefault(key, []).append((ticket, steps))
    return [_make_setup(name, ", ".join(papers[name, set_]), set_, held) for (name, set_), held in found.items()]


def _make_setup(
    name: str, paper: str, press: HeatPress, held: Sequence[tuple[PressTicket, list[PressStep]]]
) -> PressSetup:
    prints = [single for _, steps in held for single in group_steps_by_print(steps)]
    presses = sum(map(count_presses, prints))
    times = sum((time_steps(steps, press) for _, steps in held), PressTimes())
    return PressSetup(name, paper, press, len(held), len(prints), presses, times)


def find_usual_setting(tickets: Sequence[PressTicket], press: HeatPress) -> HeatPress:
    """How the press is set for most prints: tickets say a setting only where it is another."""
    counts: dict[HeatPress, int] = {}
    for setting in _list_settings(tickets, press):
        counts[setting] = counts.get(setting, 0) + 1
    return max(counts, key=lambda counted: counts[counted], default=press)


def _list_settings(tickets: Sequence[PressTicket], press: HeatPress) -> Iterator[HeatPress]:
    known: dict[PressSetting | None, HeatPress] = {None: press}
    for ticket in tickets:
        for step in ticket.steps:
            if step.setting not in known:
                known[step.setting] = press.set_for(step.setting)
            yield known[step.setting]
