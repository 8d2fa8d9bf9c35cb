"""The cutting list: a map of every sheet with its cuts numbered, the cuts one a line, and what comes off them.

The map is of the printed side, as the sheet lies on the cutting table, so its pictures are mirrored. Ids on it are
those of the job labels. A long piece of roll goes over several pages, parted where it is cut.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Literal, NamedTuple

from impose.pages.pdf.canvas import PdfCanvas, PdfPages
from impose.pages.tickets.cutting_maps import SheetSlice, draw_map, make_slices
from impose.pages.tickets.text_blocks import (
    PITCH,
    SIZE_MM,
    SMALL_MM,
    draw_page_heading,
    draw_tick_box,
    fit_parts,
    wrap_text,
)
from impose.sheet.alike_sheets import AlikeSheets, group_alike_sheets
from impose.sheet.cutting_plan import CutLine, CuttingPlan, HeldPiece, plan_cutting
from impose.sheet.layout import BatchLayout, PlacedTransfer, SheetLayout
from impose.sheet.transfer import describe_ordered_garment
from impose.units import format_length
from impose.values import FrozenStruct

Units = Literal["mm", "in"]

SIDE_MM, TOP_MM = 10.0, 9.0
_PAGE_HEAD_MM, _BLOCK_HEAD_MM = 14.0, 7.5
_GAP_MM, _BETWEEN_MM = 4.0, 6.0
_LEAST_COLUMN_MM, _LEAST_LONG_MM = 33.0, 46.0  # for a list beside its map, and for one in two columns
_LEAST_LIST_MM = 60.0
_IDS_MM = 2.6
_LINE_MM = SIZE_MM * PITCH * 1.06
_MOST_IDS = 4

Image = Callable[[PlacedTransfer], str]


class CuttingEntry(NamedTuple):
    """A line of the list: a number or a mark before it, whether it has a box to tick, and its em."""

    text: str
    mark: str = ""
    box: bool = False
    heavy: bool = False
    size: float = SIZE_MM


class CuttingPart(FrozenStruct):
    """What one block shows: sheets that are cut alike, or a slice of a long one, with their list."""

    alike: AlikeSheets
    slice: SheetSlice
    entries: tuple[CuttingEntry, ...]
    number: int
    of: int

    @property
    def sheet(self) -> SheetLayout:
        """The sheet that is drawn."""
        return self.alike.first


Line = tuple[CuttingEntry, str, bool]
"""An entry, a line of its text, and whether it is the first one."""


NarrowBlock = tuple[CuttingPart, CuttingPlan, list[Line]]
"""A block of half a page's width, with its list in lines."""


class Column(NamedTuple):
    """Where a block stands: its left edge and its width."""

    x: float
    wide: float


def write_cutting(
    pages: PdfPages,
    layout: BatchLayout,
    sheets: Sequence[SheetLayout],
    size: tuple[float, float],
    units: Units,
    image: Image,
) -> None:
    """Draw the cutting list of some sheets of a layout, as many a page as fit, on pages of `size`.

    `image` gives the resource of a transfer's picture. Sheets with cells at the same places are told once.
    """
    writer = _CuttingWriter(pages, layout, size, units, image)
    for alike in group_alike_sheets(sheets):
        writer.add_sheet(alike)
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
        self.waiting: NarrowBlock | None = None  # a block that may stand beside the next

    @property
    def room(self) -> float:
        """The height of a page below its heading."""
        return self.height - 2 * TOP_MM - _PAGE_HEAD_MM

    @property
    def whole(self) -> Column:
        """The width between the margins."""
        return Column(SIDE_MM, self.width - 2 * SIDE_MM)

    @property
    def halves(self) -> tuple[Column, Column]:
        """The page in two columns."""
        wide = (self.whole.wide - _BETWEEN_MM) / 2
        return Column(SIDE_MM, wide), Column(SIDE_MM + wide + _BETWEEN_MM, wide)

    def add_sheet(self, alike: AlikeSheets) -> None:
        """One block for sheets that are cut alike, or a block for each slice of a long one."""
        sheet = alike.first
        plan = plan_cutting(sheet, self.units, alike.names)
        slices = list(make_slices(sheet, plan.cuts, self.pages.lettering, self.room))
        for number, piece in enumerate(slices, 1):
            entries = tuple(_list_entries(alike, plan, piece, last=number == len(slices)))
            self._write_part(CuttingPart(alike, piece, entries, number, len(slices)), plan)

    def _write_part(self, part: CuttingPart, plan: CuttingPlan) -> None:
        """Two blocks with short lists in a row share the width of a page; any other one has all of it."""
        narrow = self._list_narrow(part)
        if narrow is None:
            self._write_waiting()
            self._write_wide(part, plan)
        elif self.waiting is None:
            self.waiting = (part, plan, narrow)
        else:
            self._draw_pair(self.waiting, (part, plan, narrow))
            self.waiting = None

    def _write_waiting(self) -> None:
        """A block that was to have one beside it, and has none."""
        if self.waiting is not None:
            part, plan, _ = self.waiting
            self.waiting = None
            self._write_wide(part, plan)

    def _list_narrow(self, part: CuttingPart) -> list[Line] | None:
        """The list of a block of half a page's width; None where it is too long for that."""
        column = self.halves[0].wide - part.slice.wide - _GAP_MM
        if column < _LEAST_COLUMN_MM:
            return None
        lines = self._wrap_entries(part, column)
        return lines if len(lines) * _LINE_MM <= max(part.slice.high, _LEAST_LIST_MM) else None

    def _write_wide(self, part: CuttingPart, plan: CuttingPlan) -> None:
        """Beside its map the list stands in one column, or in two where it is longer than the map."""
        high = max(part.slice.high, _LEAST_LIST_MM)
        column = self.whole.wide - part.slice.wide - _GAP_MM
        lines, columns = self._wrap_entries(part, column), 1
        if len(lines) * _LINE_MM > high and column - _GAP_MM >= 2 * _LEAST_LONG_MM:
            lines, columns = self._wrap_entries(part, (column - _GAP_MM) / 2), 2
        listed = max(map(len, _part_columns(lines, columns, len(lines))), default=0) * _LINE_MM
        need = _BLOCK_HEAD_MM + max(part.slice.high, listed) + 3
        canvas = self._room_for(min(need, max(part.slice.high + _BLOCK_HEAD_MM, self.room)))
        top = self._block_head(canvas, part, self.whole, self.y)
        draw_map(canvas, part.sheet, part.slice, plan.cuts, self.image, SIDE_MM, top, part.alike.names)
        self._draw_list(part, lines, column, columns, top)

    def _draw_list(self, part: CuttingPart, lines: Sequence[Line], column: float, columns: int, top: float) -> None:
        """The list beside the map; what the page has no room for goes on on the next."""
        canvas, map_end = self.canvas, top + part.slice.high
        while True:
            assert canvas is not None
            parted = list(_part_columns(lines, columns, int((self.height - TOP_MM - top) / _LINE_MM)))
            for at, held in enumerate(parted):
                x = SIDE_MM + part.slice.wide + _GAP_MM + at * (column + _GAP_MM) / columns
                for row, line in enumerate(held, 1):
                    _draw_line(canvas, line, x, top + row * _LINE_MM - 1.0)
            self.y = max(top + max(map(len, parted)) * _LINE_MM, map_end) + 3
            lines = lines[sum(map(len, parted)) :]
            if not lines:
                return
            self._end_page()
            canvas = self._room_for(20.0)
            top, map_end = self._block_head(canvas, part, self.whole, self.y, continued=True), 0.0

    def _draw_pair(self, *blocks: NarrowBlock) -> None:
        """Two blocks side by side."""
        most = max(max(part.slice.high, len(lines) * _LINE_MM) for part, _, lines in blocks)
        canvas = self._room_for(_BLOCK_HEAD_MM + most + 3)
        for place, (part, plan, lines) in zip(self.halves, blocks, strict=True):
            y = self._block_head(canvas, part, place, self.y)
            draw_map(canvas, part.sheet, part.slice, plan.cuts, self.image, place.x, y, part.alike.names)
            x = place.x + part.slice.wide + _GAP_MM
            for number, line in enumerate(lines, 1):
                _draw_line(canvas, line, x, y + number * _LINE_MM - 1.0)
        self.y += _BLOCK_HEAD_MM + most + 3

    def _wrap_entries(self, part: CuttingPart, column: float) -> list[Line]:
        """The list in lines no wider than a column."""
        return [
            (entry, text, number == 0)
            for entry in part.entries
            for number, text in enumerate(
                wrap_text(
                    self.pages.choose_weight(entry.heavy), entry.text, entry.size, column - _measure_indent(entry)
                )
            )
        ]

    def _room_for(self, high: float) -> PdfCanvas:
        if self.canvas is not None and self.y + high > self.height - TOP_MM:
            self._end_page()
        if self.canvas is None:
            self.canvas = self.pages.new_page(self.width, self.height)
            self._write_head(self.canvas)
        return self.canvas

    def _write_head(self, canvas: PdfCanvas) -> None:
        layout, right = self.layout, self.width - SIDE_MM
        sheets = len(layout.sheets)
        count = f"{sheets} sheet{'s' * (sheets != 1)}, {self.transfers} transfer{'s' * (self.transfers != 1)}"
        batch = f"batch {layout.code}   {layout.name}   {count}"
        draw_page_heading(canvas, SIDE_MM, TOP_MM, right, "Cutting list", batch)
        told = (
            "Maps show the printed side. Every cut crosses the whole piece in hand, named before it; its distance is "
            "from that piece's own edge. Count before the next sheet."
        )
        fit_parts(canvas, told, SIDE_MM, TOP_MM + 10.4, self.width - 2 * SIDE_MM, SIZE_MM)
        self.y = TOP_MM + _PAGE_HEAD_MM

    def _block_head(
        self, canvas: PdfCanvas, part: CuttingPart, place: Column, y: float, *, continued: bool = False
    ) -> float:
        """The line above a block; returns the y below it."""
        sheet, right, sheets = part.sheet, place.x + place.wide, part.alike.sheets
        canvas.draw_line(place.x, y, right, y, 0.3)
        name = f"Sheet {sheet.number} of {len(self.layout.sheets)}"
        if len(sheets) > 1:
            name = f"{len(sheets)} sheets alike"
        if part.of > 1:
            name += f", part {part.number} of {part.of}"
        name += ", continued" if continued else ""
        after = place.x + canvas.draw_words(name, place.x, y + 5, 4.0, heavy=True) + 3
        size = f"{format_length(sheet.width_mm, self.units)} × {format_length(sheet.height_mm, self.units)}"
        count = f"{len(sheet.placed)} to cut apart" if len(sheet.placed) > 1 else "1 transfer"
        times = f", cut {len(sheets)} times" if len(sheets) > 1 else ""
        ticked = 16.0 if len(sheets) == 1 else 0.0
        fit_parts(canvas, f"{sheet.paper.alias}, {size}: {count}{times}", after, y + 5, right - ticked - after, 3.4)
        if ticked:
            draw_tick_box(canvas, right - 14, y + 5, "counted", SIZE_MM)
        return y + _BLOCK_HEAD_MM

    def _end_page(self) -> None:
        if self.canvas is not None:
            self.pages.add_page(self.canvas)
            self.canvas = None

    def end_last_page(self) -> None:
        """Write what waits, and the last page."""
        self._write_waiting()
        self._end_page()


def _part_columns(lines: Sequence[Line], columns: int, most: int) -> Iterator[Sequence[Line]]:
    """The columns of a page, as even as entries allow: none is parted, and no piece in hand stands apart from its cuts.

    A column has `most` lines at the most; what is left over belongs on the next page.
    """
    for left in range(columns, 0, -1):
        rows = -(-len(lines) // left)
        ends = [end for end in range(1, min(most, len(lines)) + 1) if _may_part(lines, end)]
        end = next((end for end in ends if end >= rows), ends[-1] if ends else min(most, len(lines)))
        yield lines[:end]
        lines = lines[end:]


def _may_part(lines: Sequence[Line], end: int) -> bool:
    """Whether a column may end before a line: where an entry begins, and not behind what only heads the next."""
    return end == len(lines) or (lines[end][2] and (lines[end - 1][0].box or not lines[end - 1][0].heavy))


def _measure_indent(entry: CuttingEntry) -> float:
    return 4.2 * entry.box + (max(7.0, 1.9 * len(entry.mark) + 0.6) if entry.mark else 0.0)


def _draw_line(canvas: PdfCanvas, told: Line, x: float, y: float) -> None:
    entry, text, first = told
    if first and entry.box:
        draw_tick_box(canvas, x, y, size_mm=SMALL_MM)
    if first and entry.mark:
        canvas.draw_words(entry.mark, x + 4.2 * entry.box, y, SIZE_MM, heavy=True)
    line = canvas.pages.choose_weight(entry.heavy).shape_paragraph_line(text, right_to_left=False)
    canvas.draw_words(line, x + _measure_indent(entry), y, entry.size, heavy=entry.heavy)


def _list_entries(alike: AlikeSheets, plan: CuttingPlan, piece: SheetSlice, last: bool) -> Iterator[CuttingEntry]:
    """What to measure, the cuts of a slice, then its transfers; of several sheets, what lies where on each."""
    yield from _list_scale_checks(alike, last)
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
    yield from _list_swatches(alike, piece, last)
    for sheet in alike.sheets if len(alike.sheets) > 1 else ():
        here = [(name, placed) for name, placed in alike.list_cells(sheet) if piece.holds_box(placed.cell, last)]
        told = ", ".join(_name_at_letter(name, placed) for name, placed in here)
        yield CuttingEntry(told, f"Sheet {sheet.number}", box=True, size=_IDS_MM)
    for placed in (
        sorted(alike.first.placed, key=lambda candidate: candidate.transfer.id) if len(alike.sheets) == 1 else ()
    ):
        if piece.holds_box(placed.cell, last):
            yield CuttingEntry(_describe_transfer(placed), placed.transfer.id, box=True, size=_IDS_MM)


def _list_scale_checks(alike: AlikeSheets, last: bool) -> Iterator[CuttingEntry]:
    for sheet in alike.sheets if last else ():
        if sheet.check is not None:
            where = f"Sheet {sheet.number}: is" if len(alike.sheets) > 1 else "Is"
            yield CuttingEntry(f"{where} it true to size? {sheet.check.words}.", heavy=True)


def _list_swatches(alike: AlikeSheets, piece: SheetSlice, last: bool) -> Iterator[CuttingEntry]:
    for sheet in alike.sheets:
        tried = [swatch.name for swatch in sheet.swatches if piece.holds_box(swatch.place, last)]
        if tried:
            where = f"Sheet {sheet.number}: s" if len(alike.sheets) > 1 else "S"
            yield CuttingEntry(f"{where}watches in the waste, cut them out and press them on scrap: {' '.join(tried)}")


def _name_at_letter(letter: str, placed: PlacedTransfer) -> str:
    """What lies at a letter, and whose it is."""
    row = placed.transfer.piece.row
    whose = " ".join(text for text in (row.wearer or row.order, row.words) if text)
    return f"{letter} {placed.transfer.id} {whose}".strip()


def _cut_entries(cut: CutLine) -> Iterator[CuttingEntry]:
    """A cut in words; a piece that is taken up anew is named first, on a line of its own where it is cut again."""
    edge = "top" if cut.axis == "across" else "left"
    hand = "" if cut.whole or not cut.first else _name_held(cut.hand)
    if hand and not cut.sole:
        yield CuttingEntry(f"In hand: {hand}", heavy=True)
    taken = f"{hand}: " if hand and cut.sole else ""
    new = "" if cut.first else "new "
    off = _name_held(cut.off) if cut.off.cells else "bare paper"
    rest = "" if cut.left.cells else "; bare paper is left"
    told = f"{taken}{cut.axis}, {cut.told} from the {new}{edge} edge: {off} off{rest}"
    yield CuttingEntry(told, str(cut.number), box=True)


def _name_held(held: HeldPiece) -> str:
    ids = sorted(held.ids)
    return (
        " ".join(ids)
        if len(ids) <= _MOST_IDS
        else f"{' '.join(ids[: _MOST_IDS - 1])} and {len(ids) - _MOST_IDS + 1} more"
    )


def _describe_transfer(placed: PlacedTransfer) -> str:
    """Whose, on what where no wearer says it, where; which panel of its print it is, if one."""
    piece = placed.transfer.piece
    row = piece.row
    place = (row.placement or "no placement").replace("-", " ")
    if piece.panel is not None:
        place += f", {piece.panel.describe}"
    whose = (row.wearer,) if row.wearer else (row.order, describe_ordered_garment(row))
    return ", ".join(text for text in (*whose, place) if text)
