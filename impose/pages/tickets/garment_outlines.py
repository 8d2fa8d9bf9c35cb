"""Line drawings of garments lying flat, by kind and face, from the measures of `impose.sheet.garment_faces.FaceShape`.

Coordinates are those of the faces: millimetres of cloth, x from the centre line to the viewer's right, y down from the
highest point of the shoulder, or from the seam of a sleeve. The proportions of what no measure is kept for (collars,
ribs, pockets, hoods) are drawn after flat garments (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from impose.profiles.placement import Face
from impose.sheet.garment_faces import HOOD_SEAM, RIB, ZIP_MM, FaceShape, measure_pouch
from impose.units import Box

Segments = list[tuple[str, tuple[float, ...]]]

_SHORT_ANGLE, _LONG_ANGLE = 40.0, 75.0  # degrees below the level at which a sleeve lies
_HOOD_SHARE, _HOOD_HEIGHT = 1.25, 0.5  # of a hood pulled up: its half width in collars', its height in shoulders


class OutlineStroke(NamedTuple):
    """One stroke of a drawing; `role` is "edge" (the garment's outline), "seam" or "hidden"."""

    role: str
    segments: Segments


def draw_outline(shape: FaceShape) -> list[OutlineStroke]:
    """The drawing of a face, outline first."""
    if shape.face == "other":
        return [OutlineStroke("edge", _rectangle_path(Box(-shape.width / 2, 0, shape.width, shape.length)))]
    if shape.face == "hood":
        return list(_draw_hood_side(shape))
    if shape.face in ("left sleeve", "right sleeve"):
        return list(_draw_flat_sleeve(shape))
    return list(_draw_body(shape))


@lru_cache(maxsize=256)
def outline_extent(shape: FaceShape) -> Box:
    """The box that holds a face's drawing."""
    xs: list[float] = []
    ys: list[float] = []
    for part in draw_outline(shape):
        for _, values in part.segments:
            xs += values[0::2]
            ys += values[1::2]
    return Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def list_other_faces(shape: FaceShape) -> list[tuple[Face, tuple[tuple[float, float], ...]]]:
    """Faces of their own that are seen on a front or back, each as the polygon it takes there: sleeves, and a hood.

    The wearer's left is at the viewer's right on a front, and at the viewer's left on a back.
    """
    if shape.face not in ("front", "back"):
        return []
    torso = _TorsoHalf(shape)
    half = (torso.tip, torso.outer, torso.inner, torso.armpit)
    sides: tuple[Face, Face] = ("left sleeve", "right sleeve")
    found: list[tuple[Face, tuple[tuple[float, float], ...]]] = [
        (face, tuple((sign * x, y) for x, y in half))
        for face, sign in zip(sides, (1, -1) if shape.face == "front" else (-1, 1), strict=True)
    ]
    if shape.kind == "hoodie":
        wide, top = shape.neck * _HOOD_SHARE, -shape.shoulders * _HOOD_HEIGHT
        found.append(("hood", ((-wide, top), (wide, top), (wide, 0.0), (-wide, 0.0))))
    return found


def _rectangle_path(box: Box) -> Segments:
    return [("m", (box.x, box.y)), ("l", (box.right, box.y)), ("l", (box.right, box.bottom)),
            ("l", (box.x, box.bottom)), ("h", ())]  # fmt: skip


def _mirror_halves(segments: Segments) -> Iterator[Segments]:
    """A stroke of the viewer's right half, and its mirror image."""
    yield segments
    yield [(kind, tuple(-v if i % 2 == 0 else v for i, v in enumerate(values))) for kind, values in segments]


class _TorsoHalf:
    """The corners of the viewer's right half of a body with its sleeve."""

    def __init__(self, shape: FaceShape) -> None:
        self.shape = shape
        self.tip = (shape.shoulders / 2, shape.shoulders * 0.09)
        self.armpit = (shape.width / 2, shape.length * 0.34)
        self.hem = (shape.width / 2 * 0.985, shape.length)
        angle = math.radians(_LONG_ANGLE if shape.long_sleeves else _SHORT_ANGLE)
        long, wide = self._measure_sleeve()
        dx, dy = math.cos(angle), math.sin(angle)
        self.outer = (self.tip[0] + long * dx, self.tip[1] + long * dy)
        self.inner = (self.outer[0] - wide * dy, self.outer[1] + wide * dx)

    def _measure_sleeve(self) -> tuple[float, float]:
        """Length of the sleeve and width of its opening, in the proportions of the body."""
        if self.shape.long_sleeves:
            return self.shape.length * 0.86, self.shape.width * 0.17
        return self.shape.length * 0.29, self.shape.width * 0.28


def _draw_body(shape: FaceShape) -> Iterator[OutlineStroke]:
    torso = _TorsoHalf(shape)
    yield OutlineStroke("edge", _body_path(torso))
    yield from (OutlineStroke("seam", half) for half in _mirror_halves([("m", torso.tip), ("c", _armhole_path(torso))]))
    yield from _draw_collar(shape)
    if shape.kind in ("hoodie", "sweatshirt"):
        yield from _draw_ribs(torso)
    else:
        yield from _draw_hems(torso)
    if shape.kind == "hoodie":
        yield from _draw_hood_up(shape)
        if shape.face == "front":
            yield from _draw_pouch(shape)
    if shape.zip:
        yield from _draw_zip(shape)
    if shape.kind == "polo" and shape.face == "front":
        yield from _draw_placket(shape)
    if shape.pocket is not None and shape.kind != "hoodie":
        yield OutlineStroke("seam", _patch_path(shape.pocket))


def _body_path(torso: _TorsoHalf) -> Segments:
    """Once around: collar, shoulder, sleeve, side, hem, and back up the other half."""
    shape = torso.shape
    right: list[tuple[float, float]] = [(shape.neck, 0.0), torso.tip, torso.outer, torso.inner, torso.armpit, torso.hem]
    left = [(-x, y) for x, y in reversed(right)]
    segments: Segments = [("m", right[0]), *(("l", point) for point in (*right[1:], *left))]
    drop = shape.collar_y
    segments += [("c", (-shape.neck, drop * 0.75, -shape.neck * 0.62, drop, 0.0, drop)),
                 ("c", (shape.neck * 0.62, drop, shape.neck, drop * 0.75, shape.neck, 0.0)), ("h", ())]  # fmt: skip
    return segments


def _armhole_path(torso: _TorsoHalf) -> tuple[float, ...]:
    (x1, y1), (x2, y2) = torso.tip, torso.armpit
    return (x1 - 12, y1 + (y2 - y1) * 0.45, x1 - 6, y2 - (y2 - y1) * 0.15, x2, y2)


def _draw_collar(shape: FaceShape) -> Iterator[OutlineStroke]:
    """The collar's rib above its seam; on the back it lies flat across the neck."""
    drop, neck = shape.collar_y, shape.neck
    rib = shape.shoulders * 0.045
    if shape.kind == "polo":
        yield from _draw_polo_collar(shape)
        return
    if shape.kind == "hoodie":
        return
    inner = max(drop - rib, 0.0) if shape.face == "front" else 0.0
    curve: Segments = [
        ("m", (-neck + rib * 0.6, -rib * 0.25)),
        ("c", (-neck * 0.8, inner * 0.75, -neck * 0.55, inner, 0.0, inner)),
        ("c", (neck * 0.55, inner, neck * 0.8, inner * 0.75, neck - rib * 0.6, -rib * 0.25)),
    ]
    yield OutlineStroke("seam", curve)
    top: Segments = [("m", (-neck, 0.0)), ("l", (-neck + rib * 0.6, -rib * 0.25))]
    yield from (OutlineStroke("seam", half) for half in _mirror_halves(top))


def _draw_polo_collar(shape: FaceShape) -> Iterator[OutlineStroke]:
    neck, drop = shape.neck, shape.collar_y
    if shape.face == "back":
        fall = drop + shape.shoulders * 0.09
        yield OutlineStroke("seam", [("m", (-neck, 0.0)), ("c", (-neck * 0.6, fall, neck * 0.6, fall, neck, 0.0))])
        return
    flap: Segments = [("m", (neck, 0.0)), ("l", (neck * 0.95, drop * 0.95)), ("l", (neck * 0.3, drop * 1.35)),
                      ("l", (0.0, drop)), ("l", (neck * 0.55, drop * 0.2)), ("l", (neck, 0.0))]  # fmt: skip
    yield from (OutlineStroke("seam", half) for half in _mirror_halves(flap))


def _draw_placket(shape: FaceShape) -> Iterator[OutlineStroke]:
    half, top, long = shape.shoulders * 0.035, shape.collar_y, shape.shoulders * 0.32
    yield OutlineStroke("seam", _rectangle_path(Box(-half, top, 2 * half, long)))
    for share in (0.3, 0.75):
        r, y = half * 0.35, top + long * share
        yield OutlineStroke("seam", _rectangle_path(Box(-r, y - r, 2 * r, 2 * r)))


def _draw_ribs(torso: _TorsoHalf) -> Iterator[OutlineStroke]:
    """The ribbed hem and cuffs of a sweatshirt."""
    shape = torso.shape
    y = shape.length * (1 - RIB)
    yield OutlineStroke("seam", [("m", (-shape.width / 2, y)), ("l", (shape.width / 2, y))])
    yield from _draw_sleeve_line(torso, shape.length * RIB)


def _draw_hems(torso: _TorsoHalf) -> Iterator[OutlineStroke]:
    shape = torso.shape
    y = shape.length - 22
    yield OutlineStroke("seam", [("m", (-shape.width / 2, y)), ("l", (shape.width / 2, y))])
    yield from _draw_sleeve_line(torso, 22)


def _draw_sleeve_line(torso: _TorsoHalf, back: float) -> Iterator[OutlineStroke]:
    """A line across the sleeve, `back` from its opening."""
    (x1, y1), (x2, y2), (tx, ty), (ax, ay) = torso.outer, torso.inner, torso.tip, torso.armpit
    near = back / math.hypot(x1 - tx, y1 - ty)
    far = back / math.hypot(x2 - ax, y2 - ay)
    near_end = (x1 + (tx - x1) * near, y1 + (ty - y1) * near)
    other = (x2 + (ax - x2) * far, y2 + (ay - y2) * far)
    yield from (OutlineStroke("seam", half) for half in _mirror_halves([("m", near_end), ("l", other)]))


def _draw_hood_up(shape: FaceShape) -> Iterator[OutlineStroke]:
    """The hood pulled up off the body, as it has to lie in the press."""
    n, top = shape.neck * _HOOD_SHARE, -shape.shoulders * _HOOD_HEIGHT
    edge: Segments = [
        ("m", (-shape.neck, 0.0)),
        ("c", (-n * 1.35, top * 0.35, -n * 1.3, top, 0.0, top)),
        ("c", (n * 1.3, top, n * 1.35, top * 0.35, shape.neck, 0.0)),
    ]
    yield OutlineStroke("edge", edge)
    if shape.face == "back":
        yield OutlineStroke("seam", [("m", (0.0, top)), ("l", (0.0, shape.collar_y))])
        return
    opening: Segments = [
        ("m", (0.0, shape.collar_y)),
        ("c", (-n * 0.95, 0.0, -n * 0.9, top * 0.8, 0.0, top * 0.8)),
        ("c", (n * 0.9, top * 0.8, n * 0.95, 0.0, 0.0, shape.collar_y)),
    ]
    yield OutlineStroke("seam", opening)
    cord: Segments = [("m", (12.0, shape.collar_y)), ("l", (20.0, shape.collar_y + shape.shoulders * 0.3))]
    yield from (OutlineStroke("seam", half) for half in _mirror_halves(cord))


def _draw_zip(shape: FaceShape) -> Iterator[OutlineStroke]:
    """A zip from the neck seam to the hem: the edges of its tape, its teeth, and the slider at the top."""
    top, half = shape.collar_y, ZIP_MM
    yield from (
        OutlineStroke("seam", side) for side in _mirror_halves([("m", (half, top)), ("l", (half, shape.length))])
    )
    yield OutlineStroke("edge", [("m", (0.0, top)), ("l", (0.0, shape.length))])
    yield OutlineStroke("seam", _rectangle_path(Box(-half * 0.6, top + 6, half * 1.2, 26)))


def _draw_pouch(shape: FaceShape) -> Iterator[OutlineStroke]:
    box = measure_pouch(shape.width, shape.length)
    inset = box.w * 0.19
    if shape.zip:
        half: Segments = [("m", (ZIP_MM, box.y)), ("l", (box.right - inset, box.y)),
                          ("l", (box.right, box.y + box.h * 0.55)), ("l", (box.right, box.bottom))]  # fmt: skip
        yield from (OutlineStroke("seam", side) for side in _mirror_halves(half))
        return
    yield OutlineStroke(
        "seam",
        [
            ("m", (box.x, box.bottom)),
            ("l", (box.x, box.y + box.h * 0.55)),
            ("l", (box.x + inset, box.y)),
            ("l", (box.right - inset, box.y)),
            ("l", (box.right, box.y + box.h * 0.55)),
            ("l", (box.right, box.bottom)),
        ],
    )


def _patch_path(box: Box) -> Segments:
    """A chest pocket with a pointed foot."""
    foot = box.h * 0.12
    x = box.centre[0]
    return [("m", (box.x, box.y)), ("l", (box.right, box.y)), ("l", (box.right, box.bottom - foot)),
            ("l", (x, box.bottom)), ("l", (box.x, box.bottom - foot)), ("h", ())]  # fmt: skip


def _draw_flat_sleeve(shape: FaceShape) -> Iterator[OutlineStroke]:
    """A sleeve seen from outside, shoulder up, folded along its underarm seam."""
    half, long = shape.width / 2, shape.length
    end = half * (0.56 if shape.long_sleeves else 0.88)
    cap = min(long * 0.32, half * 1.3)
    edge: Segments = [
        ("m", (-half, cap)),
        ("c", (-half * 0.72, cap * 0.42, -half * 0.4, 0.0, 0.0, 0.0)),
        ("c", (half * 0.4, 0.0, half * 0.72, cap * 0.42, half, cap)),
        ("l", (end, long)),
        ("l", (-end, long)),
        ("h", ()),
    ]
    yield OutlineStroke("edge", edge)
    rib = shape.kind in ("hoodie", "sweatshirt") and shape.long_sleeves
    back = 60.0 if rib else 22.0
    wide = end + (half - end) * back / (long - cap)
    yield OutlineStroke("seam", [("m", (-wide, long - back)), ("l", (wide, long - back))])


def _draw_hood_side(shape: FaceShape) -> Iterator[OutlineStroke]:
    """The wearer's left side of a hood: the opening on the viewer's left, the neck seam below."""
    w, h = shape.width / 2, shape.length
    edge: Segments = [
        ("m", (-w, h * HOOD_SEAM)),
        ("l", (-w, h * 0.22)),
        ("c", (-w * 0.95, 0.0, -w * 0.3, 0.0, 0.0, 0.0)),
        ("c", (w * 0.75, 0.0, w, h * 0.3, w, h * 0.5)),
        ("c", (w, h * 0.75, w * 0.7, h * 0.8, w * 0.62, h)),
        ("c", (w * 0.1, h * 0.97, -w * 0.6, h * 0.93, -w, h * HOOD_SEAM)),
        ("h", ()),
    ]
    yield OutlineStroke("edge", edge)
    yield OutlineStroke("seam", [("m", (-w + 28, h * HOOD_SEAM)), ("l", (-w + 28, h * 0.2))])
