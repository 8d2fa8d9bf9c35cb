"""Curves moved, bent and cut: what becomes of letters' outlines between the font and the page. Lengths in em, y up."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

from impose.type.shaping import Contour

Point = tuple[float, float]
Bend = Callable[[float, float, float, float], tuple[float, float, float, float]]
"""Takes a point and a direction there to where they come to lie."""

_TURN = 0.1  # radians of an arc that one curve takes: off by less than a millionth of the radius
_NEAR = 1e-9


def move_contours(contours: Iterable[Contour], scale: float, x: float, y: float) -> Iterator[Contour]:
    """Contours at another size and place."""
    for contour in contours:
        yield tuple([_move_segment(segment, scale, x, y) for segment in contour])


def _move_segment(segment: Sequence[float], scale: float, x: float, y: float) -> tuple[float, ...]:
    if len(segment) == 2:
        return segment[0] * scale + x, segment[1] * scale + y
    a, b, c, d, e, f = segment
    return a * scale + x, b * scale + y, c * scale + x, d * scale + y, e * scale + x, f * scale + y


def make_arc(angle: float, run: float) -> Bend:
    """A straight line of the length `run`, its middle at x = 0, bent over `angle` radians: ends down if positive.

    Distances along the baseline keep their length; what stands on it leans, each letter by its own place.
    """
    radius = run / abs(angle)

    def bend(x: float, y: float, dx: float, dy: float) -> tuple[float, float, float, float]:
        turn = x / radius
        sine, cosine = math.sin(turn), math.cos(turn)
        if angle > 0:
            away = radius + y
            along = dx * away / radius
            return away * sine, away * cosine - radius, along * cosine + dy * sine, dy * cosine - along * sine
        away = max(0.0, radius - y)
        along = dx * away / radius
        return away * sine, radius - away * cosine, along * cosine - dy * sine, along * sine + dy * cosine

    return bend


def bend_contours(contours: Iterable[Contour], bend: Bend, radius: float) -> Iterator[Contour]:
    """Contours bent; each curve in pieces so short that none of them shows it."""
    for contour in contours:
        x, y = contour[0]
        made: list[tuple[float, ...]] = [bend(x, y, 0.0, 0.0)[:2]]
        ring = contour if contour[-1][-2:] == contour[0] else (*contour, contour[0])
        for segment in ring[1:]:
            made += _bend_curve(_make_curve((x, y), segment), bend, radius)
            x, y = segment[-2:]
        yield tuple(made)


def _make_curve(start: Point, segment: Sequence[float]) -> tuple[float, ...]:
    """A segment with its start, as a curve: eight numbers."""
    if len(segment) == 6:
        return (*start, *segment)
    x, y = segment
    dx, dy = (x - start[0]) / 3, (y - start[1]) / 3
    return (*start, start[0] + dx, start[1] + dy, x - dx, y - dy, x, y)


def _bend_curve(curve: Sequence[float], bend: Bend, radius: float) -> Iterator[tuple[float, ...]]:
    wide = max(curve[0::2]) - min(curve[0::2])
    count = max(1, math.ceil(wide / radius / _TURN))
    for piece in split_curve(curve, [n / count for n in range(1, count)]):
        x0, y0, x1, y1, x2, y2, x3, y3 = piece
        px, py, pdx, pdy = bend(x0, y0, x1 - x0, y1 - y0)
        qx, qy, qdx, qdy = bend(x3, y3, x3 - x2, y3 - y2)
        yield px + pdx, py + pdy, qx - qdx, qy - qdy, qx, qy


def split_curve(curve: Sequence[float], at: Sequence[float]) -> Iterator[tuple[float, ...]]:
    """A curve of eight numbers cut at these parts of its way, in order (de Casteljau)."""
    rest, gone = tuple(curve), 0.0
    for value in at:
        first, rest = _halve_curve(rest, (value - gone) / (1 - gone))
        gone = value
        yield first
    yield rest


def _halve_curve(curve: Sequence[float], t: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    x0, y0, x1, y1, x2, y2, x3, y3 = curve
    ax, bx, cx = _mix_points(x0, x1, t), _mix_points(x1, x2, t), _mix_points(x2, x3, t)
    ay, by, cy = _mix_points(y0, y1, t), _mix_points(y1, y2, t), _mix_points(y2, y3, t)
    dx, dy, ex, ey = _mix_points(ax, bx, t), _mix_points(ay, by, t), _mix_points(bx, cx, t), _mix_points(by, cy, t)
    fx, fy = _mix_points(dx, ex, t), _mix_points(dy, ey, t)
    return (x0, y0, ax, ay, dx, dy, fx, fy), (fx, fy, ex, ey, cx, cy, x3, y3)


def _mix_points(a: float, b: float, t: float) -> float:
    return a + (b - a) * t


def cut_at_extremes(contour: Contour) -> Contour:
    """The same contour, its curves cut where they turn back along x or y: their ends then hold all of it."""
    made: list[tuple[float, ...]] = [contour[0]]
    x, y = contour[0]
    for segment in contour[1:]:
        if len(segment) == 2 or _lies_within(x, y, segment):
            made.append(segment)
        else:
            curve = (x, y, *segment)
            at = sorted({*_find_turning_points(curve[0::2]), *_find_turning_points(curve[1::2])})
            made += [piece[2:] for piece in split_curve(curve, at)]
        x, y = segment[-2:]
    return tuple(made)


def _lies_within(x: float, y: float, curve: Sequence[float]) -> bool:
    """Whether the control points lie within the box of the ends, which then holds the curve."""
    a, b, c, d, e, f = curve
    low_x, high_x = (x, e) if x < e else (e, x)
    low_y, high_y = (y, f) if y < f else (f, y)
    return low_x <= a <= high_x and low_x <= c <= high_x and low_y <= b <= high_y and low_y <= d <= high_y


def _find_turning_points(values: Sequence[float]) -> Iterator[float]:
    """Where a curve's one coordinate stands still on its way: the roots of its derivative between 0 and 1."""
    first, second, third = (b - a for a, b in pairwise(values))
    a, b, c = first - 2 * second + third, 2 * (second - first), first
    if abs(a) < _NEAR:
        roots = [-c / b] if abs(b) > _NEAR else []
    else:
        inside = b * b - 4 * a * c
        root = math.sqrt(inside) if inside > 0 else 0.0
        roots = [(-b - root) / (2 * a), (-b + root) / (2 * a)] if inside > 0 else []
    for t in roots:
        if _NEAR < t < 1 - _NEAR:
            yield t
