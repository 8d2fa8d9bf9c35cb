"""Outlines as plain point lists, in drawing units: x to the right, y down.

A path is a list of closed polygons. Parts wound the same way add up, a part wound the other way is a hole,
so that strokes and overlapping petals need no geometry library.
"""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Path = list[Points]
Pairs = Iterable[Sequence[float]]


def points(pairs: Pairs) -> Points:
    """The pairs as an array of x, y."""
    return np.array([tuple(pair) for pair in pairs], dtype=np.float64)


def wound(outline: Points) -> Points:
    """The outline, turned round if need be so that all outlines run the same way."""
    x, y = outline[:, 0], outline[:, 1]
    area = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)
    return outline if area >= 0 else outline[::-1]


def polygon(pairs: Pairs) -> Path:
    """Straight-edged closed shape."""
    return [wound(points(pairs))]


def rectangle(x: float, y: float, w: float, h: float) -> Path:
    """Axis-parallel rectangle from its top left corner."""
    return polygon([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])


def arc(cx: float, cy: float, rx: float, ry: float, start: float, end: float, steps: int = 0) -> Points:
    """Points along an ellipse from `start` to `end` degrees; 0 is to the right, 90 is down."""
    count = steps or max(8, int(abs(end - start) / 4))
    angle = np.radians(np.linspace(start, end, count + 1))
    return np.column_stack([cx + rx * np.cos(angle), cy + ry * np.sin(angle)])


def ellipse(cx: float, cy: float, rx: float, ry: float | None = None, steps: int = 180) -> Path:
    """Ellipse, or circle when one radius is given."""
    return [wound(arc(cx, cy, rx, rx if ry is None else ry, 0, 360, steps)[:-1])]


def hole(path: Path) -> Path:
    """The same path wound the other way, to be added to a larger one that it pierces."""
    return [part[::-1] for part in path]


def ring(cx: float, cy: float, outer: float, inner: float) -> Path:
    """Circular band."""
    return ellipse(cx, cy, outer) + hole(ellipse(cx, cy, inner))


def spline(pairs: Pairs, closed: bool = False, steps: int = 14) -> Points:
    """Smooth curve through the pairs (centripetal enough for drawing: uniform Catmull-Rom)."""
    knots = points(pairs)
    if closed:
        padded = np.vstack([knots[-1:], knots, knots[:2]])
    else:
        padded = np.vstack([2 * knots[0] - knots[1], knots, 2 * knots[-1] - knots[-2]])
    t = np.linspace(0, 1, steps, endpoint=False)[:, None]
    a, b, c, d = padded[:-3, None], padded[1:-2, None], padded[2:-1, None], padded[3:, None]
    curve = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
    flat = curve.reshape(-1, 2)
    return flat if closed else np.vstack([flat, knots[-1:]])


def blob(pairs: Pairs) -> Path:
    """Smooth closed shape through the pairs."""
    return [wound(spline(pairs, closed=True))]


def ribbon(pairs: Pairs, widths: Sequence[float], steps: int = 14) -> Path:
    """Smooth stroke whose width goes through `widths`, evenly spaced along the curve."""
    line = spline(pairs, steps=steps)
    run = np.gradient(line, axis=0)
    normal = np.column_stack([-run[:, 1], run[:, 0]])
    normal /= np.maximum(np.hypot(normal[:, 0], normal[:, 1]), 1e-9)[:, None]
    half = np.interp(np.linspace(0, 1, len(line)), np.linspace(0, 1, len(widths)), widths) / 2
    offset = normal * half[:, None]
    return [wound(np.vstack([line + offset, (line - offset)[::-1]]))]


def stroke(line: Points | Pairs, width: float, nib: float = 1.0, slant: float = 0.0) -> Path:
    """Line with round joints and ends; a nib under 1 flattens the pen, slanted by `slant` degrees."""
    centre = points(line)
    if nib != 1.0:
        angle = np.radians(slant)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        squash = turn @ np.diag([1.0, nib]) @ turn.T
        rounded = stroke(centre @ np.linalg.inv(squash).T, width)
        return [part @ squash.T for part in rounded]
    runs = np.diff(centre, axis=0)
    lengths = np.hypot(runs[:, 0], runs[:, 1])
    starts, ends = centre[:-1][lengths > 1e-9], centre[1:][lengths > 1e-9]
    if not len(starts):
        return ellipse(*centre[0], width / 2, steps=40)
    sides = np.stack([-(ends - starts)[:, 1], (ends - starts)[:, 0]], axis=1)
    sides *= width / 2 / lengths[lengths > 1e-9][:, None]
    parts = [np.array([a + n, b + n, b - n, a - n]) for a, b, n in zip(starts, ends, sides, strict=True)]
    bends = list(zip(starts[1:], sides[:-1], sides[1:], strict=True))
    if np.allclose(starts[0], ends[-1]):
        bends.append((starts[0], sides[-1], sides[0]))
    else:
        bends += [(starts[0], -sides[0], sides[0]), (ends[-1], sides[-1], -sides[-1])]
    return [wound(part) for part in parts + [_wedge(*bend) for bend in bends]]


def _wedge(at: Points, before: Points, after: Points) -> Points:
    """Round corner on the outside of a bend, or half a disc at an end. It meets the straight parts without lying
    over them: where parts overlap along an edge their coverage adds up, and the edge comes out in steps."""
    turn = float(before[0] * after[1] - before[1] * after[0])
    half = float(np.hypot(*before))
    angle = float(np.arctan2(turn, before @ after))
    if np.allclose(before, -after):
        angle = -np.pi
    flip = 1.0 if angle < 0 else -1.0
    first = np.arctan2(flip * before[1], flip * before[0])
    sweep = first + np.linspace(0, angle, max(1, int(abs(angle) * 8)) + 1)[1:-1]
    inner = at + half * np.column_stack([np.cos(sweep), np.sin(sweep)])
    return np.vstack([at, at + flip * before, inner, at + flip * after])


def moved(path: Path, dx: float = 0, dy: float = 0) -> Path:
    """Path shifted."""
    shift = np.array([dx, dy])
    return [part + shift for part in path]


def scaled(path: Path, sx: float, sy: float | None = None, about: Sequence[float] = (0, 0)) -> Path:
    """Path scaled about a point; a negative factor mirrors it, keeping its winding."""
    factor, centre = np.array([sx, sx if sy is None else sy]), np.array(about)
    result = [(part - centre) * factor + centre for part in path]
    return [part[::-1] for part in result] if factor[0] * factor[1] < 0 else result


def turned(path: Path, degrees: float, about: Sequence[float] = (0, 0)) -> Path:
    """Path turned clockwise about a point."""
    angle, centre = np.radians(degrees), np.array(about)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return [(part - centre) @ turn + centre for part in path]


def star(cx: float, cy: float, outer: float, inner: float, tips: int = 5, tilt: float = -90) -> Path:
    """Pointed star."""
    angles = np.radians(tilt + np.arange(2 * tips) * 180 / tips)
    radii = np.where(np.arange(2 * tips) % 2 == 0, outer, inner)
    return [wound(np.column_stack([cx + radii * np.cos(angles), cy + radii * np.sin(angles)]))]


def scallop(cx: float, cy: float, radius: float, bumps: int, depth: float) -> Path:
    """Disc with a softly waved rim."""
    angle = np.linspace(0, 2 * np.pi, bumps * 24, endpoint=False)
    reach = radius + depth * np.abs(np.sin(angle * bumps / 2))
    return [wound(np.column_stack([cx + reach * np.cos(angle), cy + reach * np.sin(angle)]))]
