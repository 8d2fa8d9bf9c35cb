"""A face of a garment twice: as it will be worn, and as it lies in the press with the paper face down on it.

Both are drawn to one scale. As worn: the picture at its place, its outline, and the offsets dimensioned from where the
presser measures. Face down: the paper with its folds, its pencilled id and arrow, and the garment's own creases under
it. In both the garment is seen from outside, so the wearer's left is on the same side.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from impose.pages.pdf.canvas import Canvas, Segment
from impose.pages.tickets.outlines import extent, outline
from impose.sheet.faces import Shape
from impose.sheet.pressing import Step, crease_at
from impose.units import Box, show_length

SCALES = (4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 16.0, 18.0, 20.0, 22.0, 25.0, 30.0, 40.0, 50.0)
"""Drawings are to one of these scales, 1 : n, so that a ruler laid on one can be read off."""

GAP_MM = 2.0  # beside each drawing
BESIDE_MM = 7.5  # beside a sleeve, which has no room for a dimension on it
TEXT_MM = 1.9
_CREASE = (3.0, 0.7, 0.5, 0.7)
_ARROW_MM = 1.1
_OVER_MM = 2.2  # by which folds are drawn beyond the paper
_EDGE_MM = 1.0  # around a drawing, for the width of its strokes
UNKNOWN = "? measure"
_LEAST_ID_MM = 1.7  # a smaller id is written beside the paper

Units = Literal["mm", "in"]


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a face lies on the page: the page point of its origin, and the scale 1 : n."""

    x: float
    y: float
    scale: float

    def point(self, x: float, y: float) -> tuple[float, float]:
        """A point of the face, on the page."""
        return self.x + x / self.scale, self.y + y / self.scale

    def box(self, box: Box) -> Box:
        """A box of the face, on the page."""
        x, y = self.point(box.x, box.y)
        return Box(x, y, box.w / self.scale, box.h / self.scale)

    def segments(self, segments: Sequence[Segment]) -> list[Segment]:
        """A stroke of the face, on the page."""
        return [
            (kind, tuple(v for i in range(0, len(values), 2) for v in self.point(values[i], values[i + 1])))
            for kind, values in segments
        ]


def reach(shape: Shape, steps: Sequence[Step]) -> Box:
    """What one drawing of a face spans, in mm of cloth: the garment and every print on it."""
    boxes = [extent(shape), *(step.spot.box for step in steps)]
    x, y = min(box.x for box in boxes), min(box.y for box in boxes)
    return Box(x, y, max(box.right for box in boxes) - x, max(box.bottom for box in boxes) - y)


def garment(canvas: Canvas, shape: Shape, frame: Frame, grey: float = 0.0) -> None:
    """The garment's outline and seams: one drawing for all garments of a kind and size."""
    whole = extent(shape)
    wide, high = whole.w / frame.scale + 2 * _EDGE_MM, whole.h / frame.scale + 2 * _EDGE_MM
    own = Frame(_EDGE_MM - whole.x / frame.scale, _EDGE_MM - whole.y / frame.scale, frame.scale)
    form = canvas.pages.form(
        ("garment", shape, frame.scale, grey), wide, high, lambda drawing: _outlined(drawing, shape, own, grey)
    )
    canvas.stamp(form, frame.x - own.x, frame.y - own.y, high)


def _outlined(canvas: Canvas, shape: Shape, frame: Frame, grey: float) -> None:
    styles: dict[str, tuple[float, Sequence[float]]] = {
        "edge": (0.35, ()),
        "seam": (0.15, ()),
        "hidden": (0.15, (1, 1)),
    }
    for part in outline(shape):
        width, dash = styles[part.role]
        fill = 1.0 if part.role == "edge" else None
        canvas.path(frame.segments(part.segments), width, grey, fill, dash)


def as_worn(canvas: Canvas, steps: Sequence[Step], frame: Frame, image: Callable[[Step], str], units: Units) -> None:
    """The face as worn: pictures, outlines, dimensions. `image` gives the resource of a step's picture."""
    shape = steps[0].shape
    garment(canvas, shape, frame)
    for step in steps:
        box = frame.box(step.spot.box)
        canvas.picture(image(step), box, step.spot.turned)
        canvas.box(box, 0.18)
    for step in steps:
        _dimensions(canvas, step, frame, units)


def face_down(canvas: Canvas, steps: Sequence[Step], frame: Frame) -> None:
    """The face with the paper on it, printed side down: folds on the garment's creases, id and arrow pencilled."""
    shape = steps[0].shape
    garment(canvas, shape, frame, 0.35)
    whole = extent(shape)
    for step in steps:
        if step.spot.pad is not None:
            _pad(canvas, step.spot.pad, frame)
        _paper(canvas, step, frame)
    if shape.zip:
        return  # the crease is beside the zip, through the print's own middle
    top, bottom = frame.point(0, max(whole.y, 0.0))[1] - 1.0, frame.point(0, whole.bottom)[1] + 1.0
    canvas.line(frame.x, top, frame.x, bottom, 0.18, dash=_CREASE)


def _pad(canvas: Canvas, pad: Box, frame: Frame) -> None:
    """The pad inside the garment that keeps the zip out of the press, with its name below it."""
    box = frame.box(pad)
    canvas.box(box, 0.25, 0.2, fill=0.97, dash=(1.2, 0.6))
    _on_white(canvas, "pad", box.x + 0.4, box.bottom + TEXT_MM)


def _paper(canvas: Canvas, step: Step, frame: Frame) -> None:
    """One torn transfer from behind: what is kept of it, its folds beyond its edges, its arrow."""
    box = frame.box(_kept(step))
    canvas.polygon(_torn(box), 0.2, fill=0.9)
    canvas.box(frame.box(step.spot.box), 0.12, 0.35, dash=(0.6, 0.6))
    x, y = frame.point(*crease_at(step.transfer.piece, step.spot))
    canvas.line(box.x - _OVER_MM, y, box.right + _OVER_MM, y, 0.18, dash=_CREASE)
    canvas.line(x, box.y - _OVER_MM, x, box.bottom + _OVER_MM, 0.18, dash=_CREASE)
    _up(canvas, box, x)


def pencil(canvas: Canvas, step: Step, frame: Frame) -> None:
    """The id pencilled on a transfer's back, or beside it where it is too small: all that differs between copies."""
    box = frame.box(_kept(step))
    x, y = frame.point(*crease_at(step.transfer.piece, step.spot))
    line = canvas.pages.lettering.line([step.transfer.id])
    size = min(TEXT_MM, (box.right - x - 0.9) / line.width, box.bottom - y - 0.5)
    if size >= _LEAST_ID_MM:
        canvas.words(line, x + 0.5, y + size * 0.95, size)
    else:
        _on_white(canvas, step.transfer.id, box.right + _OVER_MM + 0.5, y + TEXT_MM * 0.35)


def _kept(step: Step) -> Box:
    """The paper that stays on after tearing: kept paper and, on average, half of the tear zone.

    The paper is mirrored towards the eye, since it is seen from behind: left and right of the printed side change.
    """
    sides = step.transfer.piece.sides
    left, right = sides.right, sides.left
    margins = [side.kept_mm + side.zone_mm / 2 for side in (sides.top, right, sides.bottom, left)]
    turns = {0: 0, 90: 1, 270: 3}[step.spot.turned]
    top, right_mm, bottom, left_mm = margins[-turns:] + margins[:-turns] if turns else margins
    return step.spot.box.inset(-left_mm, -top, -right_mm, -bottom)


def _torn(box: Box) -> list[tuple[float, float]]:
    """A rectangle with hand-torn edges: a small wave all round, always the same."""
    step, deep = 0.9, 0.1
    points: list[tuple[float, float]] = []
    corners = [(box.x, box.y), (box.right, box.y), (box.right, box.bottom), (box.x, box.bottom)]
    for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True):
        count = max(2, round((abs(x2 - x1) + abs(y2 - y1)) / step))
        nx, ny = (0.0, 1.0) if y1 == y2 else (1.0, 0.0)
        for i in range(count):
            off = 0.0 if i == 0 else (deep if i % 2 else -deep)
            share = i / count
            points.append((x1 + (x2 - x1) * share + nx * off, y1 + (y2 - y1) * share + ny * off))
    return points


def _up(canvas: Canvas, box: Box, x: float) -> None:
    """The pencilled arrow: up is up on every face, since a sleeve lies with its shoulder up."""
    high = min(3.2, box.h * 0.4)
    top = box.y + box.h * 0.08
    half = high * 0.28
    canvas.line(x, top, x, top + high, 0.35)
    canvas.polygon([(x, top), (x - half, top + half * 1.6), (x + half, top + half * 1.6)], None, fill=0.0)


def _dimensions(canvas: Canvas, step: Step, frame: Frame, units: Units) -> None:
    spot, shape = step.spot, step.shape
    box = frame.box(spot.box)
    if spot.drop is not None:
        _drop(canvas, step, frame, box, units)
    elif shape.face in ("front", "back") and shape.pocket is None and step.transfer.piece.panel is None:
        # Left of a centred print, since the dimension of another one stands on its right.
        wide = canvas.pages.lettering.line([UNKNOWN]).width * TEXT_MM
        beside = box.x - 0.8 - wide if abs(spot.box.centre[0]) < 1 else box.right + 0.8
        _on_white(canvas, UNKNOWN, beside, box.y + 0.4)
    if spot.across is not None:
        y = box.bottom + 2.4
        x1, x2 = frame.x, frame.point(*crease_at(step.transfer.piece, spot))[0]
        if spot.across.measured_from == "sleeve seam":
            x1 = frame.point(shape.shoulders / 2 * (1 if spot.box.centre[0] > 0 else -1), 0)[0]
        elif spot.across.measured_from == "hood edge":
            x1 = frame.point(-shape.width / 2, 0)[0]
        _measure(canvas, (x1, y), (x2, y), show_length(spot.across.usual_mm, units))
        canvas.line(x2, box.bottom, x2, y + 0.8, 0.1, 0.3)
        canvas.line(x1, frame.point(0, shape.collar_y)[1], x1, y + 0.8, 0.1, 0.3, dash=(0.8, 0.6))
    elif spot.midway:
        y = box.bottom + 2.4
        seam = frame.point(shape.shoulders / 2 * (1 if spot.box.centre[0] > 0 else -1), 0)[0]
        _measure(canvas, (frame.x, y), (box.centre[0], y), "=")
        _measure(canvas, (box.centre[0], y), (seam, y), "=")


def _drop(canvas: Canvas, step: Step, frame: Frame, box: Box, units: Units) -> None:
    """The drop, beside the print on the side away from the centre line, with a line at where it is measured from."""
    spot = step.spot
    assert spot.drop is not None
    edge = {"top of print": box.y, "centre of print": box.centre[1], "bottom of print": box.bottom}[
        spot.drop.measured_to
    ]
    anchor = frame.point(0, spot.anchor_y)[1]
    right = spot.box.centre[0] >= 0 or step.shape.face == "hood"  # a hood's other distance is on the left
    x = box.right + 1.8 if right else box.x - 1.8
    canvas.line(
        frame.x if abs(spot.box.centre[0]) < 1 else box.centre[0],
        anchor,
        x + (0.8 if right else -0.8),
        anchor,
        0.1,
        0.3,
    )
    canvas.line(box.right if right else box.x, edge, x + (0.8 if right else -0.8), edge, 0.1, 0.3)
    _measure(canvas, (x, anchor), (x, edge), show_length(spot.drop.usual_mm, units))


def _measure(canvas: Canvas, start: tuple[float, float], end: tuple[float, float], text: str) -> None:
    """A dimension line with an arrowhead at each end and its text beside it."""
    (x1, y1), (x2, y2) = start, end
    canvas.line(x1, y1, x2, y2, 0.15)
    length = abs(x2 - x1) + abs(y2 - y1)
    for (x, y), sign in ((start, 1), (end, -1)):
        _head(canvas, x, y, (x2 - x1) * sign, (y2 - y1) * sign, min(_ARROW_MM, length * 0.4))
    if x1 == x2:
        _on_white(canvas, text, x1 + 0.6, (y1 + y2) / 2 + TEXT_MM * 0.35)
    else:
        wide = canvas.pages.lettering.line([text]).width * TEXT_MM
        _on_white(canvas, text, (x1 + x2 - wide) / 2, y1 + TEXT_MM * 1.05)


def _on_white(canvas: Canvas, text: str, x: float, y: float) -> None:
    """A dimension's text, the drawing's lines cleared from behind it."""
    line = canvas.pages.lettering.line([text])
    canvas.box(Box(x - 0.2, y - TEXT_MM * 0.78, line.width * TEXT_MM + 0.4, TEXT_MM), None, fill=1.0)
    canvas.words(line, x, y, TEXT_MM)


def _head(canvas: Canvas, x: float, y: float, dx: float, dy: float, size: float) -> None:
    length = abs(dx) + abs(dy)
    if not length:
        return
    ux, uy = dx / length, dy / length
    half = size * 0.28
    tail = (x + ux * size, y + uy * size)
    canvas.polygon(
        [(x, y), (tail[0] - uy * half, tail[1] + ux * half), (tail[0] + uy * half, tail[1] - ux * half)], None, fill=0.0
    )
