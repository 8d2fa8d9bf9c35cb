"""The strokes in the marks band of one transfer: centre-fold ticks, joining ticks, corner marks.

Whatever is printed on transfer paper presses onto the cloth, so every mark stays in the inner 3 mm of the band: the
outer rest is blank slack, and tear zone and kept paper carry nothing at all.

Coordinates are millimetres from the cell's top left corner, printed side, before nesting turns the cell. Angles are
degrees clockwise: 0 reads to the right, 270 reads upwards.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple, Protocol

from impose.profiles.placement import MARKS_MM
from impose.sheet.margins import has_marks
from impose.sheet.transfer import Piece
from impose.type.lettering import ShapedLine

STROKE_MM = 0.2  # thin, yet surely printed: about 5 dots at 600 dots an inch
TICK_MM = MARKS_MM  # as deep as the part of the band that is theirs
CORNER_MM = 2.0
JOIN_MM = 0.8  # from a join line to either of its two strokes
CLEAR_MM = 1.0  # between a mark and the next


class MarkStroke(NamedTuple):
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float


class PlacedWords(NamedTuple):
    """Shaped text: baseline start, em size in millimetres, reading angle."""

    line: ShapedLine
    x: float
    y: float
    size_mm: float
    angle: int


class MarkShape(NamedTuple):
    """A filled polygon."""

    points: tuple[tuple[float, float], ...]


class LineShaper(Protocol):
    """What this module needs of `impose.type.lettering.TextShaper`."""

    def shape_line(self, fields: Sequence[str]) -> ShapedLine: ...  # noqa: D102

    def fit_line(self, text: str, width_em: float) -> ShapedLine: ...  # noqa: D102


def list_strokes(piece: Piece) -> list[MarkStroke]:
    """Ticks on the centre lines, joining ticks and corner marks, on every side whose band has room for them."""
    return [*_fold_ticks(piece), *_list_join_ticks(piece), *_corner_marks(piece)]


def _fold_ticks(piece: Piece) -> Iterator[MarkStroke]:
    yield from _vertical_stroke(piece, piece.sides.left.total_mm + piece.crease_x_mm)
    yield from _horizontal_stroke(piece, piece.sides.top.total_mm + piece.crease_y_mm)


def _vertical_stroke(piece: Piece, x: float) -> Iterator[MarkStroke]:
    """A tick in the upper band and one in the lower, `x` from the cell's left."""
    sides, h = piece.sides, piece.cell_h_mm
    if has_marks(sides.top):
        yield MarkStroke(x, sides.top.band_mm - TICK_MM, x, sides.top.band_mm)
    if has_marks(sides.bottom):
        yield MarkStroke(x, h - sides.bottom.band_mm, x, h - sides.bottom.band_mm + TICK_MM)


def _horizontal_stroke(piece: Piece, y: float) -> Iterator[MarkStroke]:
    """A tick in the left band and one in the right, `y` from the cell's top."""
    sides, w = piece.sides, piece.cell_w_mm
    if has_marks(sides.left):
        yield MarkStroke(sides.left.band_mm - TICK_MM, y, sides.left.band_mm, y)
    if has_marks(sides.right):
        yield MarkStroke(w - sides.right.band_mm, y, w - sides.right.band_mm + TICK_MM, y)


def list_join_lines(piece: Piece, axis: str) -> list[float]:
    """Where a panel's join lines cross its edges, in mm from the cell's top left corner as printed, so mirrored."""
    if piece.panel is None:
        return []
    at = [where for name, where in piece.panel.joins if name == axis]
    if axis == "x":
        return [piece.sides.left.total_mm + piece.ink_w_mm - where for where in at]
    return [piece.sides.top.total_mm + where for where in at]


def _list_join_ticks(piece: Piece) -> Iterator[MarkStroke]:
    """A pair of strokes astride each join line, so that it is told from the single tick of a fold."""
    for line in list_join_lines(piece, "x"):
        for x in (line - JOIN_MM, line + JOIN_MM):
            yield from _vertical_stroke(piece, x)
    for line in list_join_lines(piece, "y"):
        for y in (line - JOIN_MM, line + JOIN_MM):
            yield from _horizontal_stroke(piece, y)


def _corner_marks(piece: Piece) -> Iterator[MarkStroke]:
    """An arm along each banded side at each corner of the marks area; a side without a band has no arm.

    Arms lie within the area by half their width, since its edge may be that of what the printer reaches.
    """
    sides, w, h = piece.sides, piece.cell_w_mm, piece.cell_h_mm
    left, right = measure_outer_edge(piece, "left"), w - measure_outer_edge(piece, "right")
    top, bottom = measure_outer_edge(piece, "top"), h - measure_outer_edge(piece, "bottom")
    half = STROKE_MM / 2
    for x, inward in ((left, CORNER_MM), (right, -CORNER_MM)):
        if has_marks(sides.top):
            yield MarkStroke(x, top + half, x + inward, top + half)
        if has_marks(sides.bottom):
            yield MarkStroke(x, bottom - half, x + inward, bottom - half)
    for y, inward in ((top, CORNER_MM), (bottom, -CORNER_MM)):
        if has_marks(sides.left):
            yield MarkStroke(left + half, y, left + half, y + inward)
        if has_marks(sides.right):
            yield MarkStroke(right - half, y, right - half, y + inward)


def measure_outer_edge(piece: Piece, side: str) -> float:
    """How far the marks area begins inside the cell's edge; a side without a band begins at the edge."""
    tear = getattr(piece.sides, side)
    return float(tear.band_mm - MARKS_MM) if has_marks(tear) else 0.0
