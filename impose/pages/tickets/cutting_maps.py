"""The map of a sheet, or of a slice of a long one: cells with their small pictures and ids, cuts with their numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from math import ceil
from typing import NamedTuple

from impose.pages.pdf.canvas import PdfCanvas
from impose.sheet.cutting_plan import CutLine
from impose.sheet.layout import PlacedSwatch, PlacedTransfer, SheetLayout
from impose.sheet.marks import MarkStroke
from impose.type.lettering import TextShaper
from impose.units import Box

_SHARES = ((4, 2.6), (3, 2.3), (2, 2.3), (1.4, 2.3))  # blocks to a page's height, and the least em of an id
_MOST_WIDE_MM = 112.0
_BLOCK_MM = 10.5  # what a block takes beside its map
_LONG_WIDE_MM = (49.0, 60.0, 72.0, 86.0, 100.0)  # widths of a long sheet's map
_LONG = 2.2  # a sheet longer than so many widths goes over pages
_ID_MM, _LEAST_ID_MM = 3.6, 2.3
_NUMBER_MM, _HALF_NUMBER_MM = 3.0, 2.1
_MOST_NUMBER_MM = 2.7  # half the box of a number of two digits
_NUMBER_BOX_MM = 1.9  # half the height of that box
_EDGE_MM = 0.6  # between a name and the edge of its cell, where no number comes between
_INWARD_MM = 5.0  # from a cut's start to its number


class SheetSlice(NamedTuple):
    """A part of a sheet from `top` to `bottom`, mm of the sheet, as it is drawn: `scale` is map over sheet."""

    top: float
    bottom: float
    width: float
    scale: float

    @property
    def wide(self) -> float:
        """The map's width."""
        return self.width * self.scale

    @property
    def high(self) -> float:
        """The map's height."""
        return (self.bottom - self.top) * self.scale

    def holds_cut(self, cut: MarkStroke, last: bool) -> bool:
        """Whether a cut is told here: where it begins, or where the slice ends with it."""
        if cut.y1 == cut.y2:
            return self.top < cut.y1 <= self.bottom + 1e-6
        return self.holds_box(Box(cut.x1, cut.y1, 0.0, cut.y2 - cut.y1), last)

    def holds_box(self, box: Box, last: bool) -> bool:
        """Whether a piece is told here: where it begins."""
        return self.top - 1e-6 <= box.y < self.bottom - 1e-6 or (last and box.y >= self.bottom - 1e-6)


def map_scale(sheet: SheetLayout, lettering: TextShaper, room: float, numbered: bool) -> float:
    """The scale of a sheet's map: the smallest at which every id can be read beside the numbers of cuts, if any."""
    for share, least in _SHARES:
        high = room / share - _BLOCK_MM
        scale = min(high * 0.8 / sheet.width_mm, _MOST_WIDE_MM / sheet.width_mm, high / sheet.height_mm)
        if all(_can_read(placed, scale, lettering, least, numbered) for placed in sheet.placed):
            break
    return scale


def make_slices(
    sheet: SheetLayout, cuts: Sequence[CutLine], lettering: TextShaper, room: float
) -> Iterator[SheetSlice]:
    """The sheet in one; a long one in parts no higher than a page, each at the smallest scale at which it can be read.

    Parts end where the whole sheet is cut, as long as there is such a cut.
    """
    if sheet.height_mm <= _LONG * sheet.width_mm:
        yield SheetSlice(0.0, sheet.height_mm, sheet.width_mm, map_scale(sheet, lettering, room, bool(cuts)))
        return
    ends = [cut.stroke.y1 for cut in cuts if cut.whole and cut.axis == "across"]
    top = 0.0
    while sheet.height_mm - top > 1e-6:
        piece = max(
            (_cut_slice(sheet, ends, top, wide / sheet.width_mm, room - _BLOCK_MM) for wide in _LONG_WIDE_MM),
            key=lambda piece: _rate_slice(sheet, piece, lettering),
        )
        yield piece
        top = piece.bottom


def _cut_slice(sheet: SheetLayout, ends: Sequence[float], top: float, scale: float, room: float) -> SheetSlice:
    """What a page takes of a sheet from `top` on: an even share of what is left, so that no page holds a sliver.

    It ends at the cut that is nearest to that share, on as few pages as the cuts allow.
    """
    most = room / scale
    left = sheet.height_mm - top
    if left <= most + 1e-6:
        return SheetSlice(top, sheet.height_mm, sheet.width_mm, scale)
    fewest = ceil(left / most - 1e-9)
    cuts = [y for y in ends if top < y <= top + most]
    for pages in (fewest, fewest + 1):
        near = [y for y in cuts if y >= sheet.height_mm - (pages - 1) * most - 1e-6]
        if near:
            end = min(near, key=lambda y: abs(y - top - left / pages))
            return SheetSlice(top, end, sheet.width_mm, scale)
    return SheetSlice(top, max(cuts, default=top + left / fewest), sheet.width_mm, scale)


def _rate_slice(sheet: SheetLayout, piece: SheetSlice, lettering: TextShaper) -> tuple[bool, float]:
    """Whether all ids of a slice can be read, then how much it holds for its width on the page."""
    held = [placed for placed in sheet.placed if placed.cell.y < piece.bottom and placed.cell.bottom > piece.top]
    read = all(_can_read(placed, piece.scale, lettering, _LEAST_ID_MM, True) for placed in held)
    return read, -piece.scale if read else piece.scale


def _can_read(placed: PlacedTransfer, scale: float, lettering: TextShaper, least: float, numbered: bool) -> bool:
    """Whether an id is as large as asked, with room for the numbers of cuts around it, where there are any."""
    return _size_between_numbers(placed, scale, lettering, placed.transfer.id, numbered)[0] >= least


def _size_between_numbers(
    placed: PlacedTransfer, scale: float, lettering: TextShaper, name: str, numbered: bool
) -> tuple[float, bool]:
    """The em of a name that leaves room for numbers on all sides of it, and whether it stands upright."""
    cell, long = placed.cell, lettering.shape_line([name]).width
    beside, above = (_MOST_NUMBER_MM, _NUMBER_BOX_MM) if numbered else (_EDGE_MM, _EDGE_MM)
    w, h = cell.w * scale - 2 * beside, cell.h * scale - 2 * above
    level, upright = min(w / long, h, _ID_MM), min(h / long, w, _ID_MM)
    return max(level, upright), upright > level


def _id_size(
    placed: PlacedTransfer, scale: float, lettering: TextShaper, name: str, numbered: bool
) -> tuple[float, bool]:
    """The em of a name on the map, and whether it has to stand upright; in a narrow cell numbers come near it."""
    size, upright = _size_between_numbers(placed, scale, lettering, name, numbered)
    if size < _LEAST_ID_MM and numbered:
        size, upright = _size_between_numbers(placed, scale, lettering, name, False)
    return size, upright


def draw_map(
    canvas: PdfCanvas,
    sheet: SheetLayout,
    piece: SheetSlice,
    cuts: Sequence[CutLine],
    image: Callable[[PlacedTransfer], str],
    x: float,
    y: float,
    names: Mapping[str, str],
) -> None:
    """Draw a slice with its upper left corner at `x`, `y`; `names` are what cells are called, if not by their ids."""
    whole = piece.top == 0 and piece.bottom == sheet.height_mm
    if whole:
        _draw_map(canvas, sheet, piece, cuts, image, x, y, names)
        return
    key = ("map", sheet.number, piece)
    high = piece.high + 2.4  # the number of a cut at the end stands across it
    form = canvas.pages.add_form(
        key, piece.wide + 0.4, high, lambda drawing: _draw_map(drawing, sheet, piece, cuts, image, 0.2, 0.2, names)
    )
    canvas.draw_form(form, x - 0.2, y - 0.2, high)


def _draw_map(
    canvas: PdfCanvas,
    sheet: SheetLayout,
    piece: SheetSlice,
    cuts: Sequence[CutLine],
    image: Callable[[PlacedTransfer], str],
    x: float,
    y: float,
    names: Mapping[str, str],
) -> None:
    top = y - piece.top * piece.scale
    canvas.draw_box(Box(x, top, piece.wide, sheet.height_mm * piece.scale), 0.35)
    for placed in sheet.placed:
        if placed.cell.y < piece.bottom and placed.cell.bottom > piece.top:
            _draw_cell(
                canvas,
                placed,
                image(placed),
                (x, top, piece.scale),
                names.get(placed.transfer.id, placed.transfer.id),
                bool(cuts),
            )
    for swatch in sheet.swatches:
        if swatch.place.y < piece.bottom and swatch.place.bottom > piece.top:
            _draw_swatch(canvas, swatch, x, top, piece.scale)
    for cut in cuts:
        stroke = cut.stroke
        if min(stroke.y1, stroke.y2) <= piece.bottom and max(stroke.y1, stroke.y2) >= piece.top:
            _draw_cut(canvas, stroke, x, top, piece.scale)
    for cut in cuts:
        stroke = cut.stroke
        if piece.top - 1e-6 <= stroke.y1 <= piece.bottom + 1e-6:
            _cut_number(canvas, cut.number, stroke, x, top, piece.scale)


def _draw_swatch(canvas: PdfCanvas, swatch: PlacedSwatch, x: float, top: float, scale: float) -> None:
    """Where a swatch lies, and its name."""
    place = swatch.place
    box = Box(x + place.x * scale, top + place.y * scale, place.w * scale, place.h * scale)
    canvas.draw_box(box, 0.15, 0.5)
    size = min(_ID_MM, box.w / (1.1 * len(swatch.name)), box.h * 0.6)
    canvas.draw_words(swatch.name, box.centre[0], box.centre[1] + size * 0.35, size, align="centre", grey=0.3)


def _draw_cell(
    canvas: PdfCanvas, placed: PlacedTransfer, image: str, at: tuple[float, float, float], name: str, numbered: bool
) -> None:
    """A cell with its picture and its name; `at` is the corner of the map and its scale."""
    x, y, scale = at

    def scale_to_map(box: Box) -> Box:
        return Box(x + box.x * scale, y + box.y * scale, box.w * scale, box.h * scale)

    box = scale_to_map(placed.cell)
    canvas.draw_box(box, 0.15, 0.4)
    canvas.draw_picture(image, scale_to_map(placed.ink), placed.turned, mirrored=True)
    line = canvas.pages.choose_weight(True).shape_line([name])
    size, upright = _id_size(placed, scale, canvas.pages.choose_weight(True), name, numbered)
    wide, high, (cx, cy) = line.width * size + 1.0, size * 1.0, box.centre
    back = Box(cx - high / 2, cy - wide / 2, high, wide) if upright else Box(cx - wide / 2, cy - high / 2, wide, high)
    canvas.draw_box(back, None, fill=1.0)
    if upright:
        canvas.draw_words(line, cx + size * 0.34, cy, size, align="centre", angle=90, heavy=True)
    else:
        canvas.draw_words(line, cx, cy + size * 0.34, size, align="centre", heavy=True)


def _draw_cut(canvas: PdfCanvas, cut: MarkStroke, x: float, y: float, scale: float) -> None:
    ends = (x + cut.x1 * scale, y + cut.y1 * scale, x + cut.x2 * scale, y + cut.y2 * scale)
    canvas.draw_line(*ends, 1.0, 1.0)
    canvas.draw_line(*ends, 0.45, dash=(1.6, 0.9))


def _cut_number(canvas: PdfCanvas, number: int, cut: MarkStroke, x: float, y: float, scale: float) -> None:
    """The number towards the cut's start, so that those of cuts that meet in a corner do not pile up."""
    length = (abs(cut.x2 - cut.x1) + abs(cut.y2 - cut.y1)) * scale
    inward = min(_INWARD_MM, length / 2)
    level = cut.y1 == cut.y2
    cx, cy = x + cut.x1 * scale + (inward if level else 0.0), y + cut.y1 * scale + (0.0 if level else inward)
    line = canvas.pages.choose_weight(True).shape_line([str(number)])
    half = max(_HALF_NUMBER_MM, line.width * _NUMBER_MM / 2 + 0.7)
    canvas.draw_box(Box(cx - half, cy - _NUMBER_BOX_MM, 2 * half, 2 * _NUMBER_BOX_MM), 0.2, fill=1.0)
    canvas.draw_words(line, cx, cy + 1.05, _NUMBER_MM, align="centre", heavy=True)
