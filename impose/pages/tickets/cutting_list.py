"""The cutting list: a map of every sheet with its cuts numbered, the cuts one a line, and what comes off them.

The map is of the printed side, as the sheet lies on the cutting table, so its pictures are mirrored. Ids on it are
those of the job labels. A long piece of roll goes over several pages, parted where it is cut.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from impose.pages.pdf.canvas import PdfCanvas, PdfPages
from impose.pages.tickets.cutting_maps import SheetSlice, draw_map, map_scale
from impose.pages.tickets.text_blocks import (
    PITCH,
    SIZE_MM,
    SMALL_MM,
    draw_plain_paper_heading,
    draw_tick_box,
    fit_parts,
    wrap_text,
)
from impose.sheet.cutting_plan import CutLine, CuttingPlan, HeldPiece, cutting_of
from impose.sheet.layout import BatchLayout, PlacedTransfer, SheetLayout
from impose.sheet.transfer import describe_ordered_garment
from impose.units import format_length

Units = Literal["mm", "in"]

SIDE_MM, TOP_MM = 10.0, 9.0
_PAGE_HEAD_MM, _BLOCK_HEAD_MM = 14.0, 7.5
_GAP_MM = 5.0
_LINE_MM = SIZE_MM * PITCH * 1.06
_MOST_IDS = 5

Image = Callable[[PlacedTransfer], str]


class CuttingEntry(NamedTuple):
    """A line of the list: a number or a mark before it, whether it has a box to tick, and its em."""

    text: str
    mark: str = ""
    box: bool = False
    heavy: bool = False
    size: float = SIZE_MM


@dataclass(frozen=True, slots=True)
class CuttingPart:
    """What one block shows: a sheet, or a slice of a long one, with its list."""

    sheet: SheetLayout
    slice: SheetSlice
    entries: tuple[CuttingEntry, ...]
    number: int
    of: int


def write_cutting(
    pages: PdfPages,
    layout: BatchLayout,
    sheets: Sequence[SheetLayout],
    size: tuple[float, float],
    units: Units,
    image: Image,
) -> None:
    """Draw the cutting list of some sheets of a layout, as many a page as fit, on pages of `size`.

    `image` gives the resource of a transfer's picture.
    """
    writer = _CuttingWriter(pages, layout, size, units, image)
    for sheet in sheets:
        writer.add_sheet(sheet)
    writer.end_last_page()


class _CuttingWriter:
    """Pages being filled from the top."""

    def __init__(
        self, pages: PdfPages, layout: BatchLayout, size: tuple[float, float], units: Units, image: Image
    ) -> None:
        self.pages, self.layout, self.units, self.image = pages, layout, units, image
        self.width, self.height = size
        self.transfers = sum(len(sheet.placed) for sheet in layout.sheets)
        self.canvas: PdfCanvas | None = None
        self.y = 0.0

    @property
    def room(self) -> float:
        """The height of a page below its heading."""
        return self.height - 2 * TOP_MM - _PAGE_HEAD_MM

    def add_sheet(self, sheet: SheetLayout) -> None:
        """One sheet's block, or a block for each slice of a long one."""
        plan = cutting_of(sheet, self.units)
        scale = map_scale(sheet, self.pages.lettering, self.room)
        slices = list(_make_slices(sheet, plan, scale, self.room - _BLOCK_HEAD_MM - 3))
        for number, piece in enumerate(slices, 1):
            entries = tuple(_list_entries(sheet, plan, piece, last=number == len(slices)))
            self._write_part(CuttingPart(sheet, piece, entries, number, len(slices)), plan)

    def _write_part(self, part: CuttingPart, plan: CuttingPlan) -> None:
        column = self.width - 2 * SIDE_MM - part.slice.wide - _GAP_MM
        lines = [line for entry in part.entries for line in self._write_lines(entry, column)]
        high = _BLOCK_HEAD_MM + max(part.slice.high, len(lines) * _LINE_MM) + 3
        canvas = self._room_for(min(high, max(part.slice.high + _BLOCK_HEAD_MM, self.room)))
        top = self._block_head(canvas, part, continued=False)
        draw_map(canvas, part.sheet, part.slice, plan.cuts, self.image, SIDE_MM, top)
        x = SIDE_MM + part.slice.wide + _GAP_MM
        y, map_end = top, top + part.slice.high
        for entry, text, first in lines:
            if y + _LINE_MM > self.height - TOP_MM:
                self._end_page()
                canvas = self._room_for(20.0)
                y, map_end = self._block_head(canvas, part, continued=True), 0.0
            y += _LINE_MM
            _write_line(canvas, entry, text, x, y - 1.0, first)
        self.y = max(y, map_end) + 3

    def _write_lines(self, entry: CuttingEntry, column: float) -> Iterator[tuple[CuttingEntry, str, bool]]:
        lettering = self.pages.choose_weight(entry.heavy)
        for number, text in enumerate(wrap_text(lettering, entry.text, entry.size, column - _measure_indent(entry))):
            yield entry, text, number == 0

    def _room_for(self, high: float) -> PdfCanvas:
        if self.canvas is not None and self.y + high > self.height - TOP_MM:
            self._end_page()
        if self.canvas is None:
            self.canvas = self.pages.new_page(self.width, self.height)
            self._write_head(self.canvas)
        return self.canvas

    def _write_head(self, canvas: PdfCanvas) -> None:
        layout, right = self.layout, self.width - SIDE_MM
        x = SIDE_MM + draw_plain_paper_heading(canvas, SIDE_MM, TOP_MM) + 4
        canvas.draw_words("Cutting list", x, TOP_MM + 4.4, 5.6, heavy=True)
        count = f"{len(layout.sheets)} sheets, {self.transfers} transfers"
        canvas.draw_words(f"batch {layout.code}   {layout.name}   {count}", right, TOP_MM + 3.6, SIZE_MM, align="right")
        told = (
            "Maps show the printed side. Every cut crosses the whole piece in hand; its distance is from that piece's "
            "own edge. Count before the next sheet."
        )
        fit_parts(canvas, told, SIDE_MM, TOP_MM + 10.4, self.width - 2 * SIDE_MM, SIZE_MM)
        self.y = TOP_MM + _PAGE_HEAD_MM

    def _block_head(self, canvas: PdfCanvas, part: CuttingPart, continued: bool) -> float:
        """The line above a block; returns the y below it."""
        sheet, y, right = part.sheet, self.y, self.width - SIDE_MM
        canvas.draw_line(SIDE_MM, y, right, y, 0.3)
        name = f"Sheet {sheet.number} of {len(self.layout.sheets)}"
        if part.of > 1:
            name += f", part {part.number} of {part.of}"
        after = (
            SIDE_MM
            + canvas.draw_words(f"{name}{', continued' if continued else ''}", SIDE_MM, y + 5, 4.0, heavy=True)
            + 4
        )
        size = f"{format_length(sheet.width_mm, self.units)} × {format_length(sheet.height_mm, self.units)}"
        count = f"{len(sheet.placed)} to cut apart" if len(sheet.placed) > 1 else "1 transfer"
        fit_parts(canvas, f"{sheet.paper.alias}, {size}: {count}", after, y + 5, right - 20 - after, 3.4)
        draw_tick_box(canvas, right - 15, y + 5, "counted", SIZE_MM)
        return y + _BLOCK_HEAD_MM

    def _end_page(self) -> None:
        if self.canvas is not None:
            self.pages.add_page(self.canvas)
            self.canvas = None

    def end_last_page(self) -> None:
        """Write the last page."""
        self._end_page()


def _measure_indent(entry: CuttingEntry) -> float:
    return 4.2 * entry.box + (max(7.0, 2.2 * len(entry.mark)) if entry.mark else 0.0)


def _write_line(canvas: PdfCanvas, entry: CuttingEntry, text: str, x: float, y: float, first: bool) -> None:
    if first and entry.box:
        draw_tick_box(canvas, x, y, size_mm=SMALL_MM)
    if first and entry.mark:
        canvas.draw_words(entry.mark, x + 4.2 * entry.box, y, SIZE_MM, heavy=True)
    line = canvas.pages.choose_weight(entry.heavy).shape_sentence(text)
    canvas.draw_words(line, x + _measure_indent(entry), y, entry.size, heavy=entry.heavy)


def _make_slices(sheet: SheetLayout, plan: CuttingPlan, scale: float, room: float) -> Iterator[SheetSlice]:
    """The sheet in one, or, where its map is longer than a page, in parts that end where the whole sheet is cut."""
    top, most = 0.0, room / scale
    ends = [cut.stroke.y1 for cut in plan.cuts if cut.whole and cut.axis == "across"]
    while sheet.height_mm - top > most + 1e-6:
        end = max((y for y in ends if top < y <= top + most), default=top + most)
        yield SheetSlice(top, end, sheet.width_mm, scale)
        top = end
    yield SheetSlice(top, sheet.height_mm, sheet.width_mm, scale)


def _list_entries(sheet: SheetLayout, plan: CuttingPlan, piece: SheetSlice, last: bool) -> Iterator[CuttingEntry]:
    """The cuts of a slice, then its transfers."""
    for cut in plan.cuts:
        if piece.holds_cut(cut.stroke, last):
            yield from _cut_entries(cut)
    for held in plan.joined:
        if piece.holds_box(held.box, last):
            yield CuttingEntry(
                f"{_name_held(held)}: no straight cut parts them: cut along the corner marks.", heavy=True
            )
    if not plan.cuts and not plan.joined:
        yield CuttingEntry("Nothing to part: trim along the corner marks.")
    for placed in sorted(sheet.placed, key=lambda candidate: candidate.transfer.id):
        if piece.holds_box(placed.cell, last):
            yield CuttingEntry(_describe_transfer(placed), placed.transfer.id, box=True, size=2.5)


def _cut_entries(cut: CutLine) -> Iterator[CuttingEntry]:
    """A cut in words; a piece that is taken up anew is named first."""
    edge = "top" if cut.axis == "across" else "left"
    if cut.first and not cut.whole:
        yield CuttingEntry(f"In hand: {_name_held(cut.hand)}", heavy=True)
    new = "" if cut.first else "new "
    off = _name_held(cut.off) if cut.off.cells else "bare paper"
    rest = "" if cut.left.cells else "; bare paper is left"
    yield CuttingEntry(f"{cut.axis}, {cut.told} from the {new}{edge} edge: {off} off{rest}", str(cut.number), box=True)


def _name_held(held: HeldPiece) -> str:
    ids = sorted(held.ids)
    return (
        " ".join(ids)
        if len(ids) <= _MOST_IDS
        else f"{' '.join(ids[: _MOST_IDS - 1])} and {len(ids) - _MOST_IDS + 1} more"
    )


def _describe_transfer(placed: PlacedTransfer) -> str:
    """Whose, on what, where; which panel of its print it is, if one."""
    piece = placed.transfer.piece
    row = piece.row
    place = (row.placement or "no placement").replace("-", " ")
    if piece.panel is not None:
        place += f", {piece.panel.describe}"
    return ", ".join(text for text in (row.wearer or row.order, describe_ordered_garment(row), place) if text)
