"""Sheets that are cut alike: the same paper with cells at the same places, whatever is printed on them."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from string import ascii_uppercase

from impose.sheet.layout import PlacedTransfer, SheetLayout
from impose.values import FrozenStruct

_SAME_MM = 0.01  # cells nearer to each other than this are at the same place


class AlikeSheets(FrozenStruct):
    """Sheets with cells at the same places; the first stands for all of them."""

    sheets: tuple[SheetLayout, ...]

    @property
    def first(self) -> SheetLayout:
        """The one that is drawn."""
        return self.sheets[0]

    @property
    def names(self) -> dict[str, str]:
        """What the cells of the first are called, by its ids: letters where there are several sheets, else none."""
        if len(self.sheets) == 1:
            return {}
        placed = list_by_place(self.first)
        return {cell.transfer.id: _name_cell(number) for number, cell in enumerate(placed)}

    def list_cells(self, sheet: SheetLayout) -> list[tuple[str, PlacedTransfer]]:
        """What lies at each letter on one of the sheets."""
        return [(_name_cell(number), placed) for number, placed in enumerate(list_by_place(sheet))]


def group_alike_sheets(sheets: Sequence[SheetLayout]) -> list[AlikeSheets]:
    """The sheets in the order of the first of each group."""
    groups: dict[Hashable, list[SheetLayout]] = {}
    for sheet in sheets:
        groups.setdefault(_cells_key(sheet), []).append(sheet)
    return [AlikeSheets(tuple(group)) for group in groups.values()]


def list_by_place(sheet: SheetLayout) -> list[PlacedTransfer]:
    """What lies on a sheet, from its top down and from left to right."""
    return sorted(sheet.placed, key=lambda placed: (_round_mm(placed.cell.y), _round_mm(placed.cell.x)))


def _cells_key(sheet: SheetLayout) -> Hashable:
    cells = [placed.cell for placed in list_by_place(sheet)]
    places = tuple((_round_mm(box.x), _round_mm(box.y), _round_mm(box.w), _round_mm(box.h)) for box in cells)
    return sheet.paper.name, _round_mm(sheet.width_mm), _round_mm(sheet.height_mm), places


def _round_mm(mm: float) -> int:
    return round(mm / _SAME_MM)


def _name_cell(number: int) -> str:
    """A, B … Z, AA, AB …"""
    whole, rest = divmod(number, len(ascii_uppercase))
    return (_name_cell(whole - 1) if whole else "") + ascii_uppercase[rest]
