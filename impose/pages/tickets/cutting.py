"""The cutting list: every sheet with a map of its transfers, what to cut apart, and straight cuts in their order.

The map is of the printed side, as the sheet lies on the cutting table. Ids on it are those of the job labels.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from impose.pages.pdf.canvas import Canvas, Pages
from impose.pages.tickets.blocks import PITCH, SIZE_MM, SMALL_MM, paragraph, plain_paper, tick_box, wrapped
from impose.sheet.layout import Layout, Placed, Sheet
from impose.sheet.lettering import Lettering
from impose.sheet.marks import Stroke
from impose.sheet.transfer import garment_words
from impose.units import Box, show_length

Units = Literal["mm", "in"]

SIDE_MM, TOP_MM = 10.0, 9.0
MAP_W_MM, MAP_H_MM = 40.0, 52.0
_GAP_MM = 4.0
_LINE_MM = SIZE_MM * PITCH


def write_cutting(
    pages: Pages, layout: Layout, sheets: Sequence[Sheet], width: float, height: float, units: Units
) -> None:
    """Draw the cutting list of some sheets of a layout, as many a page as fit.

    A long list of transfers goes on on the next page.
    """
    writer = _Writer(pages, layout, width, height, units)
    for sheet in sheets:
        writer.add(sheet)
    writer.done()


class _Writer:
    """Pages being filled from the top."""

    def __init__(self, pages: Pages, layout: Layout, width: float, height: float, units: Units) -> None:
        self.pages, self.layout, self.units = pages, layout, units
        self.width, self.height = width, height
        self.transfers = sum(len(sheet.placed) for sheet in layout.sheets)
        self.canvas: Canvas | None = None
        self.y = 0.0

    def add(self, sheet: Sheet) -> None:
        """One sheet's block."""
        rows = list(_rows(sheet))
        cuts = _cut_lines(self.pages.lettering, sheet, self._text_width(), self.units)
        left = list(rows)
        while True:
            canvas = self._room_for(self._block_height(sheet, min(len(left), 8), len(cuts)))
            fit = max(1, int((self.height - TOP_MM - self.y - 9.0 - len(cuts) * _LINE_MM) / _LINE_MM))
            part, left = left[:fit], left[fit:]
            self._block(canvas, sheet, part, cuts if not left else [], first=part[0] is rows[0])
            if not left:
                return
            self._end()

    def _text_width(self) -> float:
        return self.width - 2 * SIDE_MM - MAP_W_MM - _GAP_MM

    def _block_height(self, sheet: Sheet, rows: int, cuts: int) -> float:
        return max(_map_size(sheet)[1] + 4.0, 9.0 + (rows + cuts) * _LINE_MM)

    def _room_for(self, high: float) -> Canvas:
        if self.canvas is not None and self.y + high > self.height - TOP_MM:
            self._end()
        if self.canvas is None:
            self.canvas = self.pages.page(self.width, self.height)
            self._head(self.canvas)
        return self.canvas

    def _head(self, canvas: Canvas) -> None:
        layout, right = self.layout, self.width - SIDE_MM
        x = SIDE_MM + plain_paper(canvas, SIDE_MM, TOP_MM) + 4
        canvas.words("Cutting list", x, TOP_MM + 4.4, 5.0, heavy=True)
        count = f"{len(layout.sheets)} sheets, {self.transfers} transfers"
        canvas.words(f"batch {layout.code}   {layout.name}   {count}", right, TOP_MM + 3.6, SIZE_MM, align="right")
        told = "Cut along the corner marks. Maps show the printed side. Count the pieces before the next sheet is cut."
        canvas.words(told, SIDE_MM, TOP_MM + 10.2, SIZE_MM)
        self.y = TOP_MM + 13.0

    def _block(
        self, canvas: Canvas, sheet: Sheet, rows: Sequence[Sequence[str]], cuts: Sequence[str], first: bool
    ) -> None:
        canvas.line(SIDE_MM, self.y, self.width - SIDE_MM, self.y, 0.25)
        top = self.y + 2.0
        map_high = 0.0
        if first:
            map_high = _map(canvas, sheet, SIDE_MM, top)
        x, y = SIDE_MM + MAP_W_MM + _GAP_MM, top + 2.6
        name = f"Sheet {sheet.number} of {len(self.layout.sheets)}{'' if first else ', continued'}"
        after = x + canvas.words(name, x, y, 3.2, heavy=True) + 4
        size = f"{show_length(sheet.width_mm, self.units)} × {show_length(sheet.height_mm, self.units)}"
        what = f"{sheet.paper.alias}, {size}: {len(sheet.placed)} to cut apart"
        canvas.words(what, after, y, SIZE_MM)
        tick_box(canvas, self.width - SIDE_MM - 13, y, "counted")
        y += 1.4
        y = self._table(canvas, rows, x, y)
        y += 0.8 if cuts else 0.0
        for line in cuts:
            y = paragraph(canvas, line, x, y, self._text_width())
        self.y = max(y, top + map_high) + 2.0

    def _table(self, canvas: Canvas, rows: Sequence[Sequence[str]], x: float, y: float) -> float:
        fit, size = canvas.pages.lettering.fit, SIZE_MM
        starts = (3.5, 16.0, 46.0, 79.0, 110.0)
        ends = (*starts[1:], self._text_width())
        for row in rows:
            y += _LINE_MM
            tick_box(canvas, x, y - 0.6, size_mm=1.7)
            for text, start, end in zip(row, starts, ends, strict=True):
                canvas.words(fit(text, (end - start - 1.5) / size), x + start, y - 0.6, size)
        return y

    def _end(self) -> None:
        if self.canvas is not None:
            self.pages.add(self.canvas)
            self.canvas = None

    def done(self) -> None:
        """Write the last page."""
        self._end()


def _rows(sheet: Sheet) -> Iterator[tuple[str, str, str, str, str]]:
    """Id, order, wearer, garment and placement of each transfer, by id; which panel of its print it is, if one."""
    for placed in sorted(sheet.placed, key=lambda one: one.transfer.id):
        piece = placed.transfer.piece
        row = piece.row
        place = (row.placement or "no placement").replace("-", " ")
        if piece.panel is not None:
            place += f", {piece.panel.words}"
        yield placed.transfer.id, row.order, row.wearer, garment_words(row), place


def _map_size(sheet: Sheet) -> tuple[float, float, float]:
    scale = min(MAP_W_MM / sheet.width_mm, MAP_H_MM / sheet.height_mm)
    return sheet.width_mm * scale, sheet.height_mm * scale, scale


def _map(canvas: Canvas, sheet: Sheet, x: float, y: float) -> float:
    """The sheet small: cells with their ids, straight cuts numbered; returns its height."""
    wide, high, scale = _map_size(sheet)
    canvas.box(Box(x, y, wide, high), 0.3)
    for placed in sheet.placed:
        _cell(canvas, placed, x, y, scale)
    for number, cut in enumerate(sheet.cuts, 1):
        _cut_on_map(canvas, number, cut, x, y, scale)
    return high


def _cell(canvas: Canvas, placed: Placed, x: float, y: float, scale: float) -> None:
    cell = placed.cell
    box = Box(x + cell.x * scale, y + cell.y * scale, cell.w * scale, cell.h * scale)
    canvas.box(box, 0.15, fill=0.93)
    line = canvas.pages.lettering.line([placed.transfer.id])
    across, up = (box.w - 0.6) / line.width, (box.h - 0.6) / line.width
    size = min(2.4, max(min(across, box.h), min(up, box.w)))
    cx, cy = box.centre
    if min(across, box.h) >= min(up, box.w):
        canvas.words(line, cx, cy + size * 0.35, size, align="centre")
    else:
        canvas.words(line, cx + size * 0.35, cy, size, align="centre", angle=90)


def _cut_on_map(canvas: Canvas, number: int, cut: Stroke, x: float, y: float, scale: float) -> None:
    x1, y1, x2, y2 = x + cut.x1 * scale, y + cut.y1 * scale, x + cut.x2 * scale, y + cut.y2 * scale
    canvas.line(x1, y1, x2, y2, 0.4, dash=(1.2, 0.8))
    # Towards its start, so that the numbers of cuts that meet in a corner do not pile up.
    cx, cy = x1 + (x2 - x1) * 0.2, y1 + (y2 - y1) * 0.2
    canvas.box(Box(cx - 1.3, cy - 1.2, 2.6, 2.4), 0.15, fill=1.0)
    canvas.words(str(number), cx, cy + 0.65, SMALL_MM, align="centre", heavy=True)


def _cut_lines(lettering: Lettering, sheet: Sheet, width: float, units: Units) -> list[str]:
    """The straight cuts in words: the order of cutting, each from an edge that a trimmer can be set to."""
    if not sheet.cuts:
        return []
    told = []
    for number, cut in enumerate(sheet.cuts, 1):
        upright = cut.x1 == cut.x2
        at = show_length(round(cut.x1 if upright else cut.y1, 1), units)
        told.append(f"{number}: {'down' if upright else 'across'}, {at} from the {'left' if upright else 'top'}")
    return wrapped(
        lettering, f"Straight cuts, in this order, measured on the whole sheet: {'; '.join(told)}.", SIZE_MM, width
    )
