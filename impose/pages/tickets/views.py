"""A face of a garment as it lies up in the press, with its prints seen through the paper that lies on it face down.

So every picture shows as it will be worn, at its place, with the torn paper around it, the folds that lie on creases,
and the offsets dimensioned from where the presser measures. Only the part of the garment that matters is drawn: prints,
collar or seam, centre line. The wearer's left is on the side where it lies in the press.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from impose.pages.pdf.canvas import PdfCanvas, Segment
from impose.pages.tickets.garment_outlines import draw_outline, outline_extent
from impose.sheet.garment_faces import FaceShape
from impose.sheet.heat_shields import HeatShield
from impose.sheet.press_steps import PressStep, find_crease
from impose.units import Box, show_on_ruler
from impose.values import FrozenStruct

SCALES = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 16.0, 18.0, 20.0, 22.0, 25.0, 30.0, 40.0, 50.0)
"""Drawings are to one of these scales, 1 : n, so that a ruler laid on one can be read off."""

TEXT_MM = 2.7
_CREASE = (3.0, 0.7, 0.5, 0.7)
_HEAT = (1.6, 0.8)
_ARROW_MM = 1.3
_OVER_MM = 3.0  # by which folds are drawn beyond the paper
_EDGE_MM = 1.0  # around a drawing, for the width of its strokes
UNKNOWN = "?"
_BESIDE_MM = 55.0  # cloth drawn beyond a print and the collar
_BELOW_MM = 45.0
_CENTRE_MM = 100.0  # cloth drawn on either side of the centre line: it holds a collar
_SEAM_MM = 12.0  # cloth drawn beyond the seam of a sleeve that a print is measured from
_HOOD_MM = 90.0  # of a hood above the shoulder

Units = Literal["mm", "in"]


class ViewFrame(FrozenStruct):
    """Where a face lies on the page: the page point of its origin, and the scale 1 : n."""

    x: float
    y: float
    scale: float

    def map_point(self, x: float, y: float) -> tuple[float, float]:
        """A point of the face, on the page."""
        return self.x + x / self.scale, self.y + y / self.scale

    def map_box(self, box: Box) -> Box:
        """A box of the face, on the page."""
        x, y = self.map_point(box.x, box.y)
        return Box(x, y, box.w / self.scale, box.h / self.scale)

    def map_segments(self, segments: Sequence[Segment]) -> list[Segment]:
        """A stroke of the face, on the page."""
        return [
            (kind, tuple(v for i in range(0, len(values), 2) for v in self.map_point(values[i], values[i + 1])))
            for kind, values in segments
        ]


def choose_window(shape: FaceShape, steps: Sequence[PressStep]) -> Box:
    """The part of a face that is drawn, in mm of cloth: every print with its paper, and what it is measured from."""
    whole = outline_extent(shape)
    papers = [box for step in steps for box in (_measure_kept(step), step.spot.pad) if box is not None]
    left, right = min(box.x for box in papers), max(box.right for box in papers)
    top, bottom = min(box.y for box in papers), max(box.bottom for box in papers)
    if shape.face in ("front", "back"):
        left, right = min(left - _BESIDE_MM, -_CENTRE_MM), max(right + _BESIDE_MM, _CENTRE_MM)
        high, low = max(whole.y, -_HOOD_MM), bottom + _BELOW_MM
        side = max(shape.width, shape.shoulders) / 2 + _BELOW_MM
        left, right = max(left, -side), min(right, side)
        seams = [_find_sleeve_seam(shape, step) for step in steps if _measured_from_sleeve(step)]
        left, right = (
            min([left, *(seam - _SEAM_MM for seam in seams)]),
            max([right, *(seam + _SEAM_MM for seam in seams)]),
        )
        if any(step.spot.anchor_y >= shape.length for step in steps):
            low = whole.bottom
        top, bottom = min(high, top), max(min(low, whole.bottom), bottom)
    else:
        left, right = min(whole.x, left), max(whole.right, right)
        known = all(step.spot.drop is not None and step.spot.anchor_y <= 0 for step in steps)
        low = min(whole.bottom, bottom + _BELOW_MM) if known else whole.bottom
        top, bottom = min(whole.y, top), max(low, bottom)
    return Box(left, top, right - left, bottom - top)


def _measured_from_sleeve(step: PressStep) -> bool:
    across = step.spot.across
    return step.spot.midway or (across is not None and across.measured_from == "sleeve seam")


def _find_sleeve_seam(shape: FaceShape, step: PressStep) -> float:
    """Where the sleeve begins on the side of a print, at the tip of the shoulder."""
    return shape.shoulders / 2 * (1 if step.spot.box.centre[0] > 0 else -1)


def draw_garment(canvas: PdfCanvas, shape: FaceShape, view: Box, frame: ViewFrame) -> None:
    """The garment's outline and seams within a window: one drawing for all garments of a kind and size."""
    wide, high = view.w / frame.scale + 2 * _EDGE_MM, view.h / frame.scale + 2 * _EDGE_MM
    own = ViewFrame(_EDGE_MM - view.x / frame.scale, _EDGE_MM - view.y / frame.scale, frame.scale)
    key = ("garment", shape, frame.scale, view)
    form = canvas.pages.add_form(key, wide, high, lambda drawing: _draw_outline(drawing, shape, own))
    canvas.draw_form(form, frame.x - own.x, frame.y - own.y, high)


def _draw_outline(canvas: PdfCanvas, shape: FaceShape, frame: ViewFrame) -> None:
    styles: dict[str, tuple[float, Sequence[float]]] = {
        "edge": (0.4, ()),
        "seam": (0.18, ()),
        "hidden": (0.18, (1, 1)),
    }
    for part in draw_outline(shape):
        width, dash = styles[part.role]
        fill = 1.0 if part.role == "edge" else None
        canvas.draw_path(frame.map_segments(part.segments), width, 0.0, fill, dash)


class DrawnPrint(FrozenStruct):
    """What is drawn on a face: its prints with their numbers, those pressed before, and where heats join.

    `image` gives the resource of a step's picture, `joins` the axis and place of each join of its heats.
    """

    steps: Sequence[tuple[int, PressStep]]
    before: Sequence[tuple[int, PressStep]]
    image: Callable[[PressStep], str]
    joins: Callable[[PressStep], Sequence[tuple[str, float]]]
    units: Units


def draw_face(canvas: PdfCanvas, drawn: DrawnPrint, view: Box, frame: ViewFrame) -> None:
    """One face: garment, what is pressed already, papers with their pictures, folds, dimensions."""
    shape = drawn.steps[0][1].shape
    draw_garment(canvas, shape, view, frame)
    for number, step in drawn.before:
        _draw_pressed(canvas, number, step, drawn, frame)
    for _, step in drawn.steps:
        if step.spot.pad is not None:
            _draw_pad(canvas, step, frame)
    for shield in dict.fromkeys(shield for _, step in drawn.steps for shield in step.shields if shield.beneath):
        _draw_shield(canvas, shield, view, frame)
    prints = _group_by_number(drawn.steps)
    for steps in prints.values():
        canvas.draw_polygon(_make_torn_edges(frame.map_box(_measure_paper(steps))), 0.2, fill=0.9)
    for steps in prints.values():
        for step in steps:
            canvas.draw_picture(drawn.image(step), frame.map_box(step.spot.box), step.spot.turned)
        canvas.draw_box(frame.map_box(_measure_span([step.spot.box for step in steps])), 0.18)
        _draw_folds(canvas, steps, frame)
        _draw_heats(canvas, steps[0], drawn.joins(steps[0]), frame)
    _centre_line(canvas, shape, view, frame)
    for number, steps in prints.items():
        paper = frame.map_box(_measure_paper(steps))
        _draw_up_arrow(canvas, paper)
        _draw_number(canvas, number, paper)
        _draw_dimensions(canvas, steps[0], frame, drawn.units)
        for step in steps:
            _draw_panel(canvas, step, frame)


def _draw_pad(canvas: PdfCanvas, step: PressStep, frame: ViewFrame) -> None:
    """The pad inside the garment, where it reaches past the paper; seams and pockets that it lifts stay in sight."""
    assert step.spot.pad is not None
    canvas.draw_box(frame.map_box(step.spot.pad), 0.25, 0.2, dash=(1.2, 0.6))


_HATCH_MM = 2.4


def _draw_shield(canvas: PdfCanvas, shield: HeatShield, view: Box, frame: ViewFrame) -> None:
    """What is pressed on the other side and lies beneath the platen: hatched; the sentences beside it name it."""
    x, y = max(shield.box.x, view.x), max(shield.box.y, view.y)
    seen = Box(x, y, min(shield.box.right, view.right) - x, min(shield.box.bottom, view.bottom) - y)
    if min(seen.w, seen.h) <= 0:
        return
    box = frame.map_box(seen)
    canvas.draw_box(box, 0.2, 0.35, dash=(0.6, 0.6))
    for number in range(1, int((box.w + box.h) / _HATCH_MM) + 1):
        along = number * _HATCH_MM
        x1, y1 = box.x + min(along, box.w), box.y + max(0.0, along - box.w)
        x2, y2 = box.x + max(0.0, along - box.h), box.y + min(along, box.h)
        canvas.draw_line(x1, y1, x2, y2, 0.1, 0.55)


def _group_by_number(numbered: Sequence[tuple[int, PressStep]]) -> dict[int, list[PressStep]]:
    """The steps of each print: one, or its panels."""
    found: dict[int, list[PressStep]] = {}
    for number, step in numbered:
        found.setdefault(number, []).append(step)
    return found


def _measure_paper(steps: Sequence[PressStep]) -> Box:
    """The paper of a print; panels are cut where they join and torn around the whole."""
    return _measure_kept(steps[0]) if len(steps) == 1 else _measure_span([_measure_kept(step) for step in steps])


def _measure_span(boxes: Sequence[Box]) -> Box:
    x, y = min(box.x for box in boxes), min(box.y for box in boxes)
    return Box(x, y, max(box.right for box in boxes) - x, max(box.bottom for box in boxes) - y)


def _draw_panel(canvas: PdfCanvas, step: PressStep, frame: ViewFrame) -> None:
    """A panel's cut edges, and its number as its label gives it."""
    panel, spot = step.transfer.piece.panel, step.spot
    if panel is None:
        return
    box = frame.map_box(spot.box)
    canvas.draw_box(box, 0.35)
    line = canvas.pages.choose_weight(True).shape_line([f"{panel.number}/{panel.of}"])
    x, y = box.centre
    wide = line.width * TEXT_MM
    canvas.draw_box(Box(x - wide / 2 - 0.4, y - TEXT_MM * 0.75, wide + 0.8, TEXT_MM), None, fill=1.0)
    canvas.draw_words(line, x, y, TEXT_MM, align="centre", heavy=True)


def _draw_pressed(canvas: PdfCanvas, number: int, step: PressStep, drawn: DrawnPrint, frame: ViewFrame) -> None:
    """A print of an earlier half page: its picture struck through, for it is on the cloth already."""
    box = frame.map_box(step.spot.box)
    canvas.draw_picture(drawn.image(step), box, step.spot.turned)
    canvas.draw_box(box, 0.3, dash=(1, 1))
    canvas.draw_line(box.x, box.y, box.right, box.bottom, 0.3, dash=(1, 1))
    canvas.draw_line(box.x, box.bottom, box.right, box.y, 0.3, dash=(1, 1))
    line = canvas.pages.choose_weight(True).shape_line([f"{number} pressed"])
    _lay_on_white(canvas, f"{number} pressed", box.centre[0] - line.width * TEXT_MM / 2, box.centre[1] + TEXT_MM * 0.35)


def _centre_line(canvas: PdfCanvas, shape: FaceShape, view: Box, frame: ViewFrame) -> None:
    """The garment's own crease, the length of what is drawn."""
    if shape.face in ("other", "hood") or shape.zip:
        return  # beside a zip the crease is the print's own
    top, bottom = frame.map_point(0, max(view.y, 0.0))[1] - 1.0, frame.map_point(0, view.bottom)[1] + 1.0
    canvas.draw_line(frame.x, top, frame.x, bottom, 0.18, dash=_CREASE)


def _draw_folds(canvas: PdfCanvas, steps: Sequence[PressStep], frame: ViewFrame) -> None:
    """The folds of a transfer, beyond its edges; of panels, those of the whole."""
    box = frame.map_box(_measure_paper(steps))
    x, y = frame.map_point(*find_crease(steps[0].transfer.piece, steps[0].spot))
    if len(steps) > 1:
        x, y = box.centre
    for end, out in ((box.x, -_OVER_MM), (box.right, _OVER_MM)):
        canvas.draw_line(end, y, end + out, y, 0.25, dash=_CREASE)
    for end, out in ((box.y, -_OVER_MM), (box.bottom, _OVER_MM)):
        canvas.draw_line(x, end, x, end + out, 0.25, dash=_CREASE)


def _draw_heats(canvas: PdfCanvas, step: PressStep, joins: Sequence[tuple[str, float]], frame: ViewFrame) -> None:
    """Where one heat ends and the next begins."""
    box = frame.map_box(_measure_kept(step))
    for axis, at in joins:
        x, y = frame.map_point(step.spot.box.x + at, step.spot.box.y + at)
        ends = (x, box.y - 2, x, box.bottom + 2) if axis == "x" else (box.x - 2, y, box.right + 2, y)
        canvas.draw_line(*ends, 1.1, 1.0)
        canvas.draw_line(*ends, 0.5, dash=_HEAT)


def _measure_kept(step: PressStep) -> Box:
    """The paper that stays on after tearing: kept paper and, on average, half of the tear zone.

    The paper is mirrored towards the eye, since it is seen from behind: left and right of the printed side change.
    """
    sides = step.transfer.piece.sides
    left, right = sides.right, sides.left
    margins = [side.kept_mm + side.zone_mm / 2 for side in (sides.top, right, sides.bottom, left)]
    turns = {0: 0, 90: 1, 270: 3}[step.spot.turned]
    top, right_mm, bottom, left_mm = margins[-turns:] + margins[:-turns] if turns else margins
    return step.spot.box.inset_by(-left_mm, -top, -right_mm, -bottom)


def _make_torn_edges(box: Box) -> list[tuple[float, float]]:
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


def _draw_up_arrow(canvas: PdfCanvas, box: Box) -> None:
    """The pencilled arrow, beside the paper: up is up on every face, since a sleeve lies with its shoulder up."""
    high, x, top = 4.0, box.x - 1.6, box.y + 0.3
    half = high * 0.25
    canvas.draw_line(x, top, x, top + high, 0.35)
    canvas.draw_polygon([(x, top), (x - half, top + half * 1.6), (x + half, top + half * 1.6)], None, fill=0.0)


def _draw_number(canvas: PdfCanvas, number: int, box: Box) -> None:
    """The print's turn, above the left corner of its paper."""
    line = canvas.pages.choose_weight(True).shape_line([str(number)])
    canvas.draw_box(Box(box.x - 0.2, box.y - 4.2, line.width * 4 + 0.9, 3.6), None, fill=1.0)
    canvas.draw_words(line, box.x + 0.2, box.y - 1.0, 4.0, heavy=True)


def _draw_dimensions(canvas: PdfCanvas, step: PressStep, frame: ViewFrame, units: Units) -> None:
    spot, shape = step.spot, step.shape
    box, paper = frame.map_box(spot.box), frame.map_box(_measure_kept(step))
    if spot.drop is not None:
        _draw_drop(canvas, step, frame, units)
    elif shape.pocket is None and shape.face in ("front", "back") and step.transfer.piece.panel is None:
        _lay_on_white(canvas, UNKNOWN, paper.right + 0.8, paper.y + 2.4)
    y = paper.bottom + 4.6
    if spot.across is not None:
        x1, x2 = frame.x, frame.map_point(*find_crease(step.transfer.piece, spot))[0]
        if spot.across.measured_from == "sleeve seam":
            x1 = frame.map_point(_find_sleeve_seam(shape, step), 0)[0]
        elif spot.across.measured_from == "hood edge":
            x1 = frame.map_point(-shape.width / 2, 0)[0]
        _draw_measure(canvas, (x1, y), (x2, y), _format_bare(spot.across.usual_mm, units))
        canvas.draw_line(x2, paper.bottom, x2, y + 0.8, 0.1, 0.3)
        canvas.draw_line(x1, frame.map_point(0, shape.collar_y)[1], x1, y + 0.8, 0.1, 0.3, dash=(0.8, 0.6))
    elif spot.midway:
        seam = frame.map_point(_find_sleeve_seam(shape, step), 0)[0]
        _draw_measure(canvas, (frame.x, y), (box.centre[0], y), "=")
        _draw_measure(canvas, (box.centre[0], y), (seam, y), "=")


def _draw_drop(canvas: PdfCanvas, step: PressStep, frame: ViewFrame, units: Units) -> None:
    """The drop, beside the print on the side away from the centre line, with a line at where it is measured from."""
    spot = step.spot
    assert spot.drop is not None
    box, paper = frame.map_box(spot.box), frame.map_box(_measure_kept(step))
    edge = {"top of print": box.y, "centre of print": box.centre[1], "bottom of print": box.bottom}[
        spot.drop.measured_to
    ]
    anchor = frame.map_point(0, spot.anchor_y)[1]
    right = spot.box.centre[0] >= 0 or step.shape.face == "hood"  # a hood's other distance is on the left
    x, out = (paper.right + 1.8, 0.8) if right else (paper.x - 3.4, -0.8)
    start = frame.x if abs(spot.box.centre[0]) < 1 else box.centre[0]
    canvas.draw_line(start, anchor, x + out, anchor, 0.1, 0.3)
    canvas.draw_line(box.right if right else box.x, edge, x + out, edge, 0.1, 0.3)
    _draw_measure(canvas, (x, anchor), (x, edge), _format_bare(spot.drop.usual_mm, units), left=not right)


def _format_bare(mm: float, units: Units) -> str:
    """A dimension as drawings give it: the number alone, the unit being said beside."""
    return show_on_ruler(mm, units).removesuffix(" mm").removesuffix(" in")


def _draw_measure(
    canvas: PdfCanvas, start: tuple[float, float], end: tuple[float, float], text: str, *, left: bool = False
) -> None:
    """A dimension line with an arrowhead at each end and its text beside it."""
    (x1, y1), (x2, y2) = start, end
    canvas.draw_line(x1, y1, x2, y2, 0.15)
    length = abs(x2 - x1) + abs(y2 - y1)
    for (x, y), sign in ((start, 1), (end, -1)):
        _draw_arrowhead(canvas, x, y, (x2 - x1) * sign, (y2 - y1) * sign, min(_ARROW_MM, length * 0.4))
    wide = canvas.pages.choose_weight(True).shape_line([text]).width * TEXT_MM
    if x1 == x2:
        _lay_on_white(canvas, text, x1 - 0.9 - wide if left else x1 + 0.9, (y1 + y2) / 2 + TEXT_MM * 0.35)
    else:
        _lay_on_white(canvas, text, (x1 + x2 - wide) / 2, y1 + TEXT_MM * 1.05)


def _lay_on_white(canvas: PdfCanvas, text: str, x: float, y: float) -> None:
    """A dimension's text, the drawing's lines cleared from behind it."""
    line = canvas.pages.choose_weight(True).shape_line([text])
    canvas.draw_box(Box(x - 0.2, y - TEXT_MM * 0.75, line.width * TEXT_MM + 0.4, TEXT_MM), None, fill=1.0)
    canvas.draw_words(line, x, y, TEXT_MM, heavy=True)


def _draw_arrowhead(canvas: PdfCanvas, x: float, y: float, dx: float, dy: float, size: float) -> None:
    length = abs(dx) + abs(dy)
    if not length:
        return
    ux, uy = dx / length, dy / length
    half = size * 0.28
    tail = (x + ux * size, y + uy * size)
    canvas.draw_polygon(
        [(x, y), (tail[0] - uy * half, tail[1] + ux * half), (tail[0] + uy * half, tail[1] - ux * half)], None, fill=0.0
    )
