"""What pressing a nested batch will come to, before anything is drawn: its time, and the blank garments it needs."""

from __future__ import annotations

from impose.profiles.profiles import Profiles
from impose.run.nest_batch import NestedBatch
from impose.sheet.blanks import BlankLine, list_blanks
from impose.sheet.layout import BatchLayout, PlacedTransfer, SheetLayout
from impose.sheet.press_steps import make_tickets
from impose.sheet.press_times import PressEvening, time_evening
from impose.values import FrozenStruct


class PressForecast(FrozenStruct):
    """The evening at the press and the blanks to buy for it."""

    evening: PressEvening
    blanks: tuple[BlankLine, ...]


def forecast_pressing(nested: NestedBatch, profiles: Profiles) -> PressForecast:
    """The forecast for a batch as it is nested."""
    tickets = make_tickets(nested.batch.rows, _lay_bare(nested), profiles)
    settings = profiles.settings
    blanks = list_blanks(tickets, profiles.wardrobe, settings.blank_spares)
    return PressForecast(time_evening(tickets, profiles.find_press(settings.press)), tuple(blanks))


def _lay_bare(nested: NestedBatch) -> BatchLayout:
    """The sheets with what lies on them, and no marks: those are of no use to who presses."""
    areas = {area.paper.name: area for area in nested.areas}
    found = []
    for number, sheet in enumerate(nested.nesting.sheets, 1):
        area = areas[sheet.stock]
        placed = tuple(PlacedTransfer(nested.transfers[placement.id], 0.0, 0.0, 0) for placement in sheet.placements)
        size = area.paper.width_mm, nested.paper_length_mm(sheet)
        found.append(SheetLayout(number, area.paper, *size, area.box, placed, (), (), (), (), (), 0))
    return BatchLayout("", nested.batch.name, tuple(found), ())
