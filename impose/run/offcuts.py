"""The largest clean piece of paper that a batch leaves, for later work: to cut off, or to print on with `--onto`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from impose.sheet.layout import SheetLayout
from impose.sheet.slug_and_rulers import find_free_rectangles
from impose.units import Box

CLEAR_MM = 2.0  # what is printed on a used sheet keeps of all that is on it, see `reuse_sheets`
LEAST_MM = 60.0  # a small crest with its margins: what is narrower holds nothing


def find_offcut(sheets: Sequence[SheetLayout]) -> dict[str, Any] | None:
    """The largest free rectangle on the emptiest sheet of each paper: its sheet, paper, and place and size in mm.

    It keeps as clear of cells, slug and rulers as a second printing does. None if no such place is worth keeping.
    """
    last = {sheet.paper.name: sheet for sheet in sheets}  # the emptiest of a paper comes last
    found = [
        (box.w * box.h, -sheet.number, sheet, box) for sheet in last.values() if (box := _find_largest_free(sheet))
    ]
    if not found:
        return None
    _, _, sheet, box = max(found, key=lambda candidate: candidate[:2])
    place = {"x": box.x, "y": box.y, "w": box.w, "h": box.h}
    return {
        "sheet": sheet.number,
        "paper": sheet.paper.name,
        "place_mm": {name: round(value, 3) for name, value in place.items()},
    }


def _find_largest_free(sheet: SheetLayout) -> Box | None:
    taken = [box.inset_by(*[-CLEAR_MM] * 4) for box in (*(placed.cell for placed in sheet.placed), *sheet.marks)]
    free = [box for box in find_free_rectangles(sheet.area, taken) if min(box.w, box.h) >= LEAST_MM]
    return free[0] if free else None
