"""`slips.pdf`: a packing slip for each order, then a care note for each garment, several to a plain page, to cut apart.

All words are those of the shop's texts for customers, in their language and direction of writing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Literal

from impose.pages.pdf.canvas import PdfCanvas, PdfPages
from impose.pages.pdf.font_book import open_reading_faces
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.tickets.text_blocks import PITCH, shrink_line, wrap_text
from impose.profiles.customer_texts import CustomerTexts
from impose.sheet.packing import PackedGarment, PackedOrder
from impose.units import Box
from impose.values import FrozenStruct

MOST_NOTES = 2000
"""Garments up to which each gets a care note of its own; beyond, it stands on the slips alone."""

CareNotes = Literal["garment", "order", "none"]

_STRIP_MM = 7.0  # along the top of a page, cut off: says what it is
_INSET_MM = 7.0
_HEAD_MM, _SMALL_MM, _LINE_MM, _PLACE_MM, _CARE_MM = 5.0, 2.6, 3.6, 2.8, 2.9
_ROW_MM = 9.4
_LEAST = 0.7  # of a line's size, where it is long
_BOX_MM, _NOTE_HEAD_MM = 3.6, 9.6
_SLIPS = (2, 2)  # columns and rows on a page
_MOST_NOTE_ROWS = 8
_CARE_KEYS = ("wait", "wash", "dry", "fibre", "label")


class PackingSlip(FrozenStruct):
    """One slip: an order, or as much of it as a slip holds; `number` of `slips`."""

    order: PackedOrder
    garments: tuple[PackedGarment, ...]
    number: int
    slips: int


def write_slips(
    path: Path,
    orders: Sequence[PackedOrder],
    texts: CustomerTexts,
    notes: CareNotes,
    reference: str,
    size: tuple[float, float],
) -> None:
    """Write slips and notes on plain pages of `size` to `path`; `reference` is the batch's code."""
    regular, bold = open_reading_faces()
    with PdfFile() as document:
        pages = PdfPages(document, regular, bold)
        writer = _SlipWriter(pages, texts, notes, reference, size)
        writer.write_slips([slip for order in orders for slip in writer.part_order(order)])
        if notes == "garment" and sum(order.count for order in orders) <= MOST_NOTES:
            writer.write_notes([garment for order in orders for garment in _list_single(order)])
        pages.save_document(path, f"slips {reference}", "S-")


def _list_single(order: PackedOrder) -> Iterator[tuple[PackedOrder, PackedGarment]]:
    """Every garment of an order by itself."""
    for garment in order.garments:
        for _ in range(garment.count):
            yield order, garment


class _SlipWriter:
    """Slips and notes laid out in a grid, right to left where the language runs so."""

    def __init__(
        self, pages: PdfPages, texts: CustomerTexts, notes: CareNotes, reference: str, size: tuple[float, float]
    ) -> None:
        self.pages, self.texts, self.notes, self.reference = pages, texts, notes, reference
        self.width, self.height = size
        self.rtl = texts.custom.right_to_left

    def _list_cells(self, grid: tuple[int, int]) -> list[Box]:
        columns, rows = grid
        w, h = self.width / columns, (self.height - _STRIP_MM) / rows
        order = range(columns - 1, -1, -1) if self.rtl else range(columns)
        return [Box(column * w, _STRIP_MM + row * h, w, h) for row in range(rows) for column in order]

    def part_order(self, order: PackedOrder) -> list[PackingSlip]:
        """The slips that an order takes."""
        cell = self._list_cells(_SLIPS)[0]
        foot = self._measure_care(cell.w - 2 * _INSET_MM) if self.notes != "none" else 0.0
        rows = max(1, int((cell.h - 2 * _INSET_MM - 17.0 - foot) / _ROW_MM))
        parts = [order.garments[start : start + rows] for start in range(0, len(order.garments), rows)]
        return [PackingSlip(order, part, number, len(parts)) for number, part in enumerate(parts, 1)]

    def write_slips(self, slips: Sequence[PackingSlip]) -> None:
        """The slips, four a page."""
        cells = self._list_cells(_SLIPS)
        for start in range(0, len(slips), len(cells)):
            canvas = self._new_page(_SLIPS)
            for cell, slip in zip(cells, slips[start : start + len(cells)], strict=False):
                self._draw_slip(canvas, slip, cell)
            self.pages.add_page(canvas)

    def write_notes(self, notes: Sequence[tuple[PackedOrder, PackedGarment]]) -> None:
        """The care notes, two across and as many down as their words leave room for, each with whose it is."""
        inner = self.width / 2 - 2 * _INSET_MM
        high = 2 * _INSET_MM + _NOTE_HEAD_MM + self._measure_care(inner)
        grid = (2, max(1, min(_MOST_NOTE_ROWS, int((self.height - _STRIP_MM) / high))))
        cells = self._list_cells(grid)
        for start in range(0, len(notes), len(cells)):
            canvas = self._new_page(grid)
            for cell, (order, garment) in zip(cells, notes[start : start + len(cells)], strict=False):
                self._draw_note(canvas, order, garment, cell)
            self.pages.add_page(canvas)

    def _new_page(self, grid: tuple[int, int]) -> PdfCanvas:
        """A page with the lines to cut along."""
        canvas = self.pages.new_page(self.width, self.height)
        columns, rows = grid
        for column in range(1, columns):
            x = self.width * column / columns
            canvas.draw_line(x, _STRIP_MM, x, self.height - 4, 0.15, 0.5, dash=(2, 2))
        for row in range(rows):
            y = _STRIP_MM + (self.height - _STRIP_MM) * row / rows
            canvas.draw_line(4, y, self.width - 4, y, 0.15, 0.5, dash=(2, 2))
        told = f"PLAIN PAPER   batch {self.reference}   cut along the dashed lines"
        canvas.draw_words(told, self.width / 2, _STRIP_MM - 1.8, 2.2, align="centre", grey=0.3)
        return canvas

    def _draw_slip(self, canvas: PdfCanvas, slip: PackingSlip, cell: Box) -> None:
        inner = cell.inset_by(*(_INSET_MM,) * 4)
        self._write_line(canvas, self._name_order(slip.order), inner, inner.y + 4.6, _HEAD_MM, heavy=True)
        told = [
            self.texts.fill_sentence("slip", "garments", count=slip.order.count),
            self.texts.fill_sentence("slip", "reference", reference=self.reference),
        ]
        if slip.slips > 1:
            told.append(self.texts.fill_sentence("slip", "part", number=slip.number, slips=slip.slips))
        self._write_line(canvas, " · ".join(told), inner, inner.y + 9.6, _SMALL_MM)
        canvas.draw_line(inner.x, inner.y + 11.4, inner.right, inner.y + 11.4, 0.25)
        y = inner.y + 13.0
        for garment in slip.garments:
            self._draw_garment(canvas, garment, inner, y)
            y += _ROW_MM
        if self.notes != "none":
            self._draw_care(canvas, inner, inner.bottom - self._measure_care(inner.w))

    def _draw_garment(self, canvas: PdfCanvas, garment: PackedGarment, inner: Box, y: float) -> None:
        """A box to tick, whose it is and what, and below where it is printed."""
        box_x = inner.right - _BOX_MM if self.rtl else inner.x
        canvas.draw_box(Box(box_x, y + 0.9, _BOX_MM, _BOX_MM), 0.25)
        room = Box(inner.x + (0.0 if self.rtl else _BOX_MM + 2), y, inner.w - _BOX_MM - 2, _ROW_MM)
        what = garment.garment
        if garment.count > 1:
            what = self.texts.fill_sentence("slip", "several", count=garment.count, garment=garment.garment)
        named = self._shorten_wearer(garment.wearer, what, room.w / (_LINE_MM * _LEAST))
        self._write_line(canvas, named, room, y + 3.9, _LINE_MM, heavy=True)
        places = [
            self.texts.name_place(place) if place else self.texts.fill_sentence("slip", "own_place")
            for place in garment.placements
        ]
        self._write_line(canvas, ", ".join(places), room, y + 7.4, _PLACE_MM)

    def _shorten_wearer(self, wearer: str, garment: str, room_em: float) -> str:
        """Both in one line; where it is too long the name is cut short, since the garment is what is packed."""
        if not wearer:
            return garment
        lettering, rest = self.pages.choose_weight(True), f" · {garment}"
        line = lettering.fit_line(wearer, max(0.0, room_em - lettering.shape_line([rest]).width))
        return "".join(line.fields) + rest if line.shortened else wearer + rest

    def _draw_note(self, canvas: PdfCanvas, order: PackedOrder, garment: PackedGarment, cell: Box) -> None:
        inner = cell.inset_by(*(_INSET_MM,) * 4)
        name = garment.wearer or self._name_order(order)
        self._write_line(canvas, name, inner, inner.y + 3.6, 4.4, heavy=True)
        self._write_line(canvas, garment.garment, inner, inner.y + 7.8, 3.0)
        self._draw_care(canvas, inner, inner.y + _NOTE_HEAD_MM)

    def _name_order(self, order: PackedOrder) -> str:
        if order.name:
            return self.texts.fill_sentence("slip", "order", order=order.name)
        return self.texts.fill_sentence("slip", "unnamed_order", row=order.row)

    def _list_care(self, width: float) -> list[str]:
        """The care note's sentences in lines."""
        told = " ".join(self.texts.fill_sentence("care", key) for key in _CARE_KEYS)
        return wrap_text(self.pages.lettering, told, _CARE_MM, width)

    def _measure_care(self, width: float) -> float:
        return (1 + len(self._list_care(width))) * _CARE_MM * PITCH + 2.4

    def _draw_care(self, canvas: PdfCanvas, inner: Box, y: float) -> None:
        canvas.draw_line(inner.x, y + 0.4, inner.right, y + 0.4, 0.12, 0.5)
        y += 1.0 + _CARE_MM * PITCH
        self._write_line(canvas, self.texts.fill_sentence("care", "title"), inner, y, _CARE_MM, heavy=True)
        for line in self._list_care(inner.w):
            y += _CARE_MM * PITCH
            self._write_line(canvas, line, inner, y, _CARE_MM)

    def _write_line(
        self, canvas: PdfCanvas, text: str, room: Box, y: float, size: float, *, heavy: bool = False
    ) -> None:
        """A line from the side at which reading begins, set smaller where it is long, then cut short."""
        line, size = shrink_line(canvas.pages.choose_weight(heavy), text, room.w, size, _LEAST)
        x = room.right if self.rtl else room.x
        canvas.draw_words(line, x, y, size, align="right" if self.rtl else "left", heavy=heavy)
