"""Swatches: a small piece of each picture, true in colour and size, in waste of the sheets, to be tried on scrap.

A swatch lies only where a whole free rectangle holds it with its label and clear paper around, so it costs no paper and
touches nothing. It is no transfer: it has no row, no ticket and no cost. Coordinates are millimetres from the sheet's
top left corner, printed side.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Hashable, Iterator, Sequence
from pathlib import Path

from impose.art.busiest_part import find_busiest_part
from impose.art.crop import crop_picture
from impose.art.prepare import PreparedPicture
from impose.art.vector_drawing import Drawing
from impose.errors import Finding, Severity
from impose.orders.findings_log import list_few
from impose.sheet.cutting_plan import Units, plan_cutting
from impose.sheet.layout import BatchLayout, PlacedSwatch, SheetLayout
from impose.sheet.marks import CLEAR_MM, LineShaper, PlacedWords
from impose.sheet.piece import Piece
from impose.sheet.slug_and_rulers import WastePaper
from impose.type.lettering import ShapedLine
from impose.units import Box
from impose.values import FrozenStruct, replace

SIDE_MM = 25.0
"""Of a swatch, drawn picture; a picture that is less high or wide is shown whole that way (common practice, no source).
"""

AROUND_MM = 2.0
"""Blank paper between a swatch and what lies beside it: as much as the normal margin has outside its marks."""

SAYS = "swatch, press on scrap"

_SIZE_MM = 1.65
_LINE_MM = 2.2
_CUT_MM = 0.5  # either side of a cut, by which a knife goes astray


class Swatch(FrozenStruct):
    """A piece of a picture that is to be tried, `piece` the largest print of that picture."""

    name: str
    piece: Piece
    picture: PreparedPicture
    width_mm: float
    height_mm: float


def add_swatches(layout: BatchLayout, pieces: Sequence[Piece], shaper: LineShaper, units: Units) -> BatchLayout:
    """The layout with a swatch of each picture as far as waste has room, and what found none among its findings.

    A picture's own sheets are looked at first, then those of the same papers, then the others. `units` are those that
    the cutting list is told in, since no cut of it may run through a swatch.
    """
    sheets = {sheet.number: sheet for sheet in layout.sheets}
    waste: dict[int, WastePaper] = {}
    missed = []
    for swatch in list_swatches(pieces):
        lines = _shape_label(swatch, layout.code, shaper)
        for number in _rank_sheets(swatch, layout.sheets):
            if number not in waste:
                waste[number] = WastePaper(sheets[number].area, list(_list_obstacles(sheets[number], units)))
            placed = _place_swatch(swatch, waste[number], lines)
            if placed is not None:
                sheet = sheets[number]
                marks = (*sheet.marks, placed.place)
                sheets[number] = replace(sheet, swatches=(*sheet.swatches, placed), marks=marks)
                break
        else:
            missed.append(_name_picture(swatch.piece))
    found = [] if not missed else [_make_no_room(missed)]
    return replace(layout, sheets=tuple(sheets.values()), findings=(*layout.findings, *found))


def list_swatches(pieces: Sequence[Piece]) -> Iterator[Swatch]:
    """A swatch for each picture, and one for all words in the same colours, in the order of the batch."""
    largest: dict[Hashable, Piece] = {}
    for piece in pieces:
        key = _find_key(piece)
        if key not in largest or piece.ink_w_mm * piece.ink_h_mm > largest[key].ink_w_mm * largest[key].ink_h_mm:
            largest[key] = piece
    digits = max(2, len(str(len(largest))))
    for number, piece in enumerate(largest.values(), 1):
        yield _cut_swatch(f"S{number:0{digits}}", piece)


def _find_key(piece: Piece) -> Hashable:
    """What makes two prints the same to try; the panels of a print are one picture."""
    if isinstance(piece.picture, Drawing):
        return tuple(layer.colour for layer in piece.picture.layers)
    return piece.row.asked._replace(path=Path(), drawn_mm=None), piece.picture.sha256


def _cut_swatch(name: str, piece: Piece) -> Swatch:
    picture = piece.picture
    left, top, right, bottom = picture.ink
    across, down = (right - left) / piece.ink_w_mm, (bottom - top) / piece.ink_h_mm
    part = _cut_picture(picture, math.ceil(SIDE_MM * across), math.ceil(SIDE_MM * down))
    box = part.ink
    return Swatch(name, piece, part, (box[2] - box[0]) / across, (box[3] - box[1]) / down)


_CUTS: OrderedDict[Hashable, PreparedPicture] = OrderedDict()
_MOST_CUTS = 64  # some 100 KB each


def _cut_picture(picture: PreparedPicture, width: int, height: int) -> PreparedPicture:
    """The busiest part of a picture; kept, because a live plan is drawn again and again."""
    key = (*picture.look, picture.components, picture.icc, picture.codec, len(picture.data), width, height)
    if key not in _CUTS:
        box = find_busiest_part(picture, width, height)
        # A small picture whole is the very object that its print is.
        _CUTS[key] = picture if box == picture.ink else crop_picture(picture, box)
        while len(_CUTS) > _MOST_CUTS:
            _CUTS.popitem(last=False)
    _CUTS.move_to_end(key)
    return _CUTS[key]


def _rank_sheets(swatch: Swatch, sheets: Sequence[SheetLayout]) -> list[int]:
    key = _find_key(swatch.piece)
    own = [sheet for sheet in sheets if any(_find_key(placed.transfer.piece) == key for placed in sheet.placed)]
    papers, numbers = {sheet.paper.name for sheet in own}, {sheet.number for sheet in own}
    ranked = sorted(sheets, key=lambda sheet: (sheet.number not in numbers, sheet.paper.name not in papers))
    return [sheet.number for sheet in ranked]


def _list_obstacles(sheet: SheetLayout, units: Units) -> Iterator[Box]:
    """All that a swatch keeps clear of: cells, with a whole margin around their ink even where theirs is thin; what
    else is printed; and the cuts that the sheet is parted by.
    """
    most = max((side.total_mm for placed in sheet.placed for side in placed.transfer.piece.sides.every), default=0.0)
    for placed in sheet.placed:
        cell, ink = placed.cell, placed.ink.inset_by(*[-most] * 4)
        left, top = min(cell.x, ink.x), min(cell.y, ink.y)
        yield Box(left, top, max(cell.right, ink.right) - left, max(cell.bottom, ink.bottom) - top)
    yield from sheet.marks
    for cut in (*sheet.cuts, *(cut.stroke for cut in plan_cutting(sheet, units).cuts)):
        left, top = min(cut.x1, cut.x2) - _CUT_MM, min(cut.y1, cut.y2) - _CUT_MM
        yield Box(left, top, abs(cut.x2 - cut.x1) + 2 * _CUT_MM, abs(cut.y2 - cut.y1) + 2 * _CUT_MM)


def _shape_label(swatch: Swatch, code: str, shaper: LineShaper) -> list[ShapedLine]:
    """Two lines: which picture, and what it is for; neither makes the swatch wider than the words for it."""
    last = shaper.shape_line([SAYS])
    room = max(last.width, swatch.width_mm / _SIZE_MM)
    return [shaper.fit_line(f"{code}-{swatch.name}  {_name_picture(swatch.piece)}", room), last]


def _name_picture(piece: Piece) -> str:
    return piece.row.art if piece.row.words else piece.row.art_name


def _place_swatch(swatch: Swatch, waste: WastePaper, lines: Sequence[ShapedLine]) -> PlacedSwatch | None:
    wide = max(swatch.width_mm, *(line.width * _SIZE_MM for line in lines)) + 2 * AROUND_MM
    high = swatch.height_mm + CLEAR_MM + len(lines) * _LINE_MM + 2 * AROUND_MM
    room = waste.find_room(wide, high)
    if room is None:
        return None
    place = Box(room.x, room.y, wide, high)
    waste.take_room(place)
    ink = Box(place.x + AROUND_MM, place.y + AROUND_MM, swatch.width_mm, swatch.height_mm)
    below = ink.bottom + CLEAR_MM
    words = [
        PlacedWords(line, ink.x, below + _LINE_MM * (number + 0.8), _SIZE_MM, 0) for number, line in enumerate(lines)
    ]
    return PlacedSwatch(swatch.name, swatch.piece, swatch.picture, ink, place, tuple(words))


def _make_no_room(missed: Sequence[str]) -> Finding:
    what = f"no clean waste for a swatch of {list_few(missed)}"
    remedy = "Press a spare copy of it on scrap first, or print on larger paper."
    return Finding(what, remedy, Severity.NOTE, kind="no-swatch")
