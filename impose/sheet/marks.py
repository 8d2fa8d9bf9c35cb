"""What is printed in the marks band of one transfer: centre-fold ticks, corner marks, job label and up mark.

Whatever is printed on transfer paper presses onto the cloth, so every mark stays in the inner 3 mm of the band: the
outer rest is blank slack, and tear zone and kept paper carry nothing at all.

Coordinates are millimetres from the cell's top left corner, printed side, before nesting turns the cell. Angles are
degrees clockwise: 0 reads to the right, 270 reads upwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from impose.sheet.lettering import Line
from impose.sheet.margins import has_marks
from impose.sheet.transfer import Edge, Piece
from impose.shop.placement import MARKS_MM

TICK_MM = 3.0
CORNER_MM = 2.0
JOIN_MM = 0.8  # from a join line to either of its two strokes
CLEAR_MM = 1.0  # between a mark and the next
SIZES_MM = (2.2, 1.9, 1.65)  # em; 2.2 mm is about 6 pt, the largest whose ascenders and descenders fit 3 mm
SMALLEST_MM = 1.3  # only for what may never be left out, on a cell with room for nothing larger


class Stroke(NamedTuple):
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float


class Words(NamedTuple):
    """Shaped text: baseline start, em size in millimetres, reading angle."""

    line: Line
    x: float
    y: float
    size_mm: float
    angle: int


class Shape(NamedTuple):
    """A filled polygon."""

    points: tuple[tuple[float, float], ...]


class Shaper(Protocol):
    """What this module needs of `impose.sheet.lettering.Lettering`."""

    def line(self, fields: Sequence[str]) -> Line: ...  # noqa: D102

    def fit(self, text: str, width_em: float) -> Line: ...  # noqa: D102


class Label(NamedTuple):
    """The placed label: its words, its arrow, and what had to be left out or shortened."""

    words: tuple[Words, ...]
    arrow: Shape | None
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fields:
    """The text of a label. `ident`, `order` and `up` are never left out; the rest goes in the order of `spare`."""

    ident: str
    order: str
    wearer: str
    garment: str
    placement: str
    copy: str
    up: str

    # Copy number first: it can be told from the id. The wearer last: a name is what a garment is sorted by.
    spare = ("copy", "placement", "garment", "wearer")

    def text(self, without: Iterable[str] = ()) -> list[str]:
        """The fields that are written, in reading order."""
        names = ("ident", "order", "wearer", "garment", "placement", "copy")
        return [getattr(self, name) for name in names if name not in without and getattr(self, name)]


def within_band(line: Line, size: float) -> float:
    """The size, lessened where a script's tall marks would reach out of the 3 mm that may be printed."""
    return min(size, MARKS_MM / (line.ascent + line.descent))


def strokes(piece: Piece) -> list[Stroke]:
    """Ticks on the centre lines, joining ticks and corner marks, on every side whose band has room for them."""
    return [*_ticks(piece), *_join_ticks(piece), *_corners(piece)]


def _ticks(piece: Piece) -> Iterator[Stroke]:
    sides, w, h = piece.sides, piece.cell_w_mm, piece.cell_h_mm
    x, y = sides.left.total_mm + piece.crease_x_mm, sides.top.total_mm + piece.crease_y_mm
    if has_marks(sides.top):
        yield Stroke(x, sides.top.band_mm - TICK_MM, x, sides.top.band_mm)
    if has_marks(sides.bottom):
        yield Stroke(x, h - sides.bottom.band_mm, x, h - sides.bottom.band_mm + TICK_MM)
    if has_marks(sides.left):
        yield Stroke(sides.left.band_mm - TICK_MM, y, sides.left.band_mm, y)
    if has_marks(sides.right):
        yield Stroke(w - sides.right.band_mm, y, w - sides.right.band_mm + TICK_MM, y)


def joins(piece: Piece, axis: str) -> list[float]:
    """Where a panel's join lines cross its edges, in mm from the cell's top left corner as printed, so mirrored."""
    if piece.panel is None:
        return []
    at = [where for name, where in piece.panel.joins if name == axis]
    if axis == "x":
        return [piece.sides.left.total_mm + piece.ink_w_mm - where for where in at]
    return [piece.sides.top.total_mm + where for where in at]


def _join_ticks(piece: Piece) -> Iterator[Stroke]:
    """A pair of strokes astride each join line, so that it is told from the single tick of a fold."""
    sides, w, h = piece.sides, piece.cell_w_mm, piece.cell_h_mm
    for line in joins(piece, "x"):
        for x in (line - JOIN_MM, line + JOIN_MM):
            if has_marks(sides.top):
                yield Stroke(x, sides.top.band_mm - TICK_MM, x, sides.top.band_mm)
            if has_marks(sides.bottom):
                yield Stroke(x, h - sides.bottom.band_mm, x, h - sides.bottom.band_mm + TICK_MM)
    for line in joins(piece, "y"):
        for y in (line - JOIN_MM, line + JOIN_MM):
            if has_marks(sides.left):
                yield Stroke(sides.left.band_mm - TICK_MM, y, sides.left.band_mm, y)
            if has_marks(sides.right):
                yield Stroke(w - sides.right.band_mm, y, w - sides.right.band_mm + TICK_MM, y)


def _corners(piece: Piece) -> Iterator[Stroke]:
    """An arm along each banded side at each corner of the marks area; a side without a band has no arm."""
    sides, w, h = piece.sides, piece.cell_w_mm, piece.cell_h_mm
    left, right = _outer(piece, "left"), w - _outer(piece, "right")
    top, bottom = _outer(piece, "top"), h - _outer(piece, "bottom")
    for x, inward in ((left, CORNER_MM), (right, -CORNER_MM)):
        if has_marks(sides.top):
            yield Stroke(x, top, x + inward, top)
        if has_marks(sides.bottom):
            yield Stroke(x, bottom, x + inward, bottom)
    for y, inward in ((top, CORNER_MM), (bottom, -CORNER_MM)):
        if has_marks(sides.left):
            yield Stroke(left, y, left, y + inward)
        if has_marks(sides.right):
            yield Stroke(right, y, right, y + inward)


def _outer(piece: Piece, side: str) -> float:
    """How far the marks area begins inside the cell's edge; a side without a band begins at the edge."""
    tear = getattr(piece.sides, side)
    return float(tear.band_mm - MARKS_MM) if has_marks(tear) else 0.0


@dataclass(frozen=True, slots=True)
class _Slot:
    """One half of a marks band, between a corner mark and the tick: a strip that holds text."""

    x: float  # where reading starts, at the strip's outer top edge as the text stands
    y: float
    length: float
    angle: int

    def words(self, line: Line, offset: float, size: float) -> Words:
        """The line laid on the strip, `offset` along it, between its long edges."""
        size = within_band(line, size)
        spare = MARKS_MM - (line.ascent + line.descent) * size
        drop = spare / 2 + line.ascent * size
        if self.angle == 0:
            return Words(line, self.x + offset, self.y + drop, size, 0)
        return Words(line, self.x + drop, self.y - offset, size, 270)

    def arrow(self, offset: float, size: float, up: Edge) -> Shape:
        """A triangle that points to the up edge, whichever way the text beside it reads."""
        if self.angle == 0:
            cx, cy = self.x + offset + size / 2, self.y + MARKS_MM / 2
        else:
            cx, cy = self.x + MARKS_MM / 2, self.y - offset - size / 2
        radius = size / 2
        heading = {"top": -90.0, "right": 0.0, "left": 180.0}[up]
        corners = (math.radians(heading + turn) for turn in (0.0, 125.0, -125.0))
        return Shape(tuple((cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in corners))


def _edges(piece: Piece) -> list[tuple[_Slot, _Slot]]:
    """The two strips of every banded side, longest side first."""
    sides, w, h = piece.sides, piece.cell_w_mm, piece.cell_h_mm
    x, y = sides.left.total_mm + piece.crease_x_mm, sides.top.total_mm + piece.crease_y_mm
    start_x, end_x = _outer(piece, "left"), w - _outer(piece, "right")
    start_y, end_y = h - _outer(piece, "bottom"), _outer(piece, "top")
    inset = CORNER_MM + CLEAR_MM
    left_x, right_x = _beside(x, start_x + inset, end_x - inset, joins(piece, "x"))
    above_y, below_y = _beside(y, end_y + inset, start_y - inset, joins(piece, "y"))
    found: list[tuple[float, tuple[_Slot, _Slot]]] = []
    for side, top in (("top", _outer(piece, "top")), ("bottom", h - sides.bottom.band_mm)):
        if has_marks(getattr(sides, side)):
            first = _Slot(left_x[0], top, left_x[1] - left_x[0], 0)
            second = _Slot(right_x[0], top, right_x[1] - right_x[0], 0)
            found.append((w, (first, second)))
    for side, left in (("left", _outer(piece, "left")), ("right", w - sides.right.band_mm)):
        if has_marks(getattr(sides, side)):
            first = _Slot(left, below_y[1], below_y[1] - below_y[0], 270)
            second = _Slot(left, above_y[1], above_y[1] - above_y[0], 270)
            found.append((h, (first, second)))
    return [pair for _, pair in sorted(found, key=lambda entry: -entry[0])]


def _beside(
    tick: float, start: float, end: float, lines: Sequence[float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The spans before and after a tick that no joining tick lies in."""
    astride = JOIN_MM + CLEAR_MM
    near = any(abs(line - tick) < JOIN_MM for line in lines)
    before, after = tick - (astride if near else CLEAR_MM), tick + (astride if near else CLEAR_MM)
    for line in lines:
        if line <= tick - JOIN_MM:
            start = max(start, line + astride)
        elif line >= tick + JOIN_MM:
            end = min(end, line - astride)
    return (start, max(before, start)), (after, max(end, after))


class _Writer:
    """Measures and places the parts of one label at one size."""

    def __init__(self, shaper: Shaper, up: Edge, up_word: str) -> None:
        self.shaper, self.up, self.up_word = shaper, up, up_word

    def width(self, texts: Sequence[str], size: float) -> float:
        gaps = max(0, len(texts) - 1) * size
        lines = (self.shaper.line([text]) for text in texts)
        return sum(line.width * within_band(line, size) for line in lines) + gaps

    def up_width(self, size: float) -> float:
        return size * 1.4 + self.shaper.line([self.up_word]).width * size

    def put(self, slot: _Slot, texts: Sequence[str], size: float) -> list[Words]:
        words, offset = [], 0.0
        for text in texts:
            line = self.shaper.line([text])
            words.append(slot.words(line, offset, size))
            offset += line.width * within_band(line, size) + size
        return words

    def put_up(self, slot: _Slot, offset: float, size: float) -> tuple[Words, Shape]:
        word = slot.words(self.shaper.line([self.up_word]), offset + size * 1.4, size)
        return word, slot.arrow(offset, size, self.up)


def label(piece: Piece, fields: Fields, shaper: Shaper) -> Label:
    """The job label on the longest edge that holds it, crossing no tick.

    All fields are tried on every edge at every size before one is left out; id, order and up mark never are. On a
    cell too small even for those they are spread over whatever strips there are, the order shortened if it must be.
    """
    writer = _Writer(shaper, piece.up, fields.up)
    edges = _edges(piece)
    for count in range(len(fields.spare) + 1):
        without = fields.spare[:count]
        texts = fields.text(without)
        for size in SIZES_MM:
            for pair in edges:
                placed = _on_edge(writer, pair, texts, size)
                if placed is not None:
                    left_out = tuple(name for name in without if getattr(fields, name))
                    return Label(placed[0], placed[1], left_out)
    return _spread(writer, edges, fields)


def _on_edge(
    writer: _Writer, pair: tuple[_Slot, _Slot], texts: Sequence[str], size: float
) -> tuple[tuple[Words, ...], Shape] | None:
    """Text and up mark on one side: text before the tick and mark after it, as far as the text fits there."""
    first, second = pair
    up = writer.up_width(size)
    for split in range(len(texts), -1, -1):
        head, tail = texts[:split], texts[split:]
        tail_width = writer.width(tail, size) + (size * 2 if tail else 0.0)
        if writer.width(head, size) <= first.length and tail_width + up <= second.length:
            words = [*writer.put(first, head, size), *writer.put(second, tail, size)]
            word, arrow = writer.put_up(second, tail_width, size)
            return (*words, word), arrow
    if writer.width(texts, size) + size * 2 + up <= first.length:
        word, arrow = writer.put_up(first, writer.width(texts, size) + size * 2, size)
        return (*writer.put(first, texts, size), word), arrow
    return None


def _spread(writer: _Writer, edges: Sequence[tuple[_Slot, _Slot]], fields: Fields) -> Label:
    """Id, order and up mark over separate strips, at the smallest size, each where it fits."""
    slots = sorted((slot for pair in edges for slot in pair), key=lambda slot: -slot.length)
    left_out = [name for name in fields.spare if getattr(fields, name)]
    words: list[Words] = []
    arrow: Shape | None = None
    size = SMALLEST_MM
    free = iter(slots)
    for name, text in (("order", fields.order), ("ident", fields.ident)):
        slot = next(free, None) if text else None
        if slot is None:
            continue
        line = writer.shaper.line([text])
        if line.width * size > slot.length:
            line = writer.shaper.fit(text, slot.length / size)
            left_out.append(name)
        words.append(slot.words(line, 0.0, size))
    slot = next(free, None)
    if slot is not None and writer.up_width(size) <= slot.length:
        word, arrow = writer.put_up(slot, 0.0, size)
        words.append(word)
    elif slot is not None:
        arrow = slot.arrow(0.0, size, writer.up)
        left_out.append("up word")
    return Label(tuple(words), arrow, tuple(left_out))
