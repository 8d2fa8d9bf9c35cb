"""The marshal's back piece, a paper carp, in flat colours only."""

from collections.abc import Callable

import numpy as np

from artwork.canvas import Canvas
from artwork.letters import Pen, line
from artwork.motifs import AMBER, BRICK, CORAL, CREAM, FLAME, INDIGO, TEAL
from artwork.shapes import Path, blob, ellipse, polygon, ribbon, spline, stroke, turned, wound

Bend = Callable[[float, float], tuple[float, float]]


GIRTH = spline([(0, 2.2), (0.09, 3.2), (0.3, 6.6), (0.55, 9.3), (0.78, 10.2), (0.9, 8.4), (0.97, 4.9), (1.0, 2.4)])


def _carp_bend(s: float, t: float) -> tuple[float, float]:
    """Point of the fish: s from tail 0 to nose 1, t across from inner side -1 to outer side 1."""
    angle = np.radians(226 - 282 * s)
    girth = float(np.interp(s, GIRTH[:, 0], GIRTH[:, 1]))
    reach = 33.5 - 1.5 * s + girth * t
    return 50 + reach * float(np.cos(angle)), 50 + reach * float(np.sin(angle))


def _along(bend: Bend, start: float, end: float, t: float, count: int = 60) -> list[tuple[float, float]]:
    return [bend(float(s), t) for s in np.linspace(start, end, count)]


def carp_back() -> Canvas:
    """The marshal's back, 12 inches wide: a paper carp leaps round the lantern it follows. Flat colours only."""
    canvas = Canvas(2600, 2917)
    canvas.fill(ellipse(50, 50, 21), AMBER)
    for index in range(16):
        ray = polygon([(49.2, 27.6), (50.8, 27.6), (50, 23.4)])
        canvas.fill(turned(ray, index * 22.5, (50, 50)), AMBER)
    canvas.fill(ellipse(50, 50, 18.4), FLAME)
    _fins(canvas)
    outline = _along(_carp_bend, 0, 1, 1, 160) + _along(_carp_bend, 1, 0, -1, 160)
    body = [wound(np.array(outline))]
    trunk = [wound(np.array(_along(_carp_bend, 0, 0.82, 1, 140) + _along(_carp_bend, 0.82, 0, -1, 140)))]
    canvas.fill(trunk, CORAL)
    belly = [wound(np.array(_along(_carp_bend, 0, 0.82, -1) + _along(_carp_bend, 0.82, 0, -0.5)))]
    _scales(canvas, body)
    canvas.fill(belly, CREAM, clip=body)
    for s in np.linspace(0.08, 0.76, 18):
        rib = [_carp_bend(float(s) - 0.012, -1), _carp_bend(float(s), -0.5)]
        canvas.fill(stroke(rib, 0.45), AMBER, clip=body)
    _head(canvas, body)
    _flat_lantern(canvas, 50, 49, 10.5)
    _splash(canvas)
    canvas.fill(line("FOLLOW THE FISH", 50, 109.6, 6.6, Pen(0.21, 0.2)), INDIGO)
    return canvas


def _scales(canvas: Canvas, body: Path) -> None:
    rows = np.linspace(0.76, 0.05, 30)
    for index, s in enumerate(rows):
        offsets = np.linspace(-0.4, 1.0, 6) + (0.14 if index % 2 else 0.0)
        for column, t in enumerate(offsets):
            size = float(np.interp(s, [0, 0.1, 0.45, 0.8], [0.55, 0.8, 1.6, 1.9]))
            x, y = _carp_bend(float(s), float(t))
            shade = AMBER if (index + 2 * column) % 5 == 0 else CORAL
            canvas.fill(ellipse(x, y, size * 1.1, steps=40), BRICK, clip=body)
            ahead = _carp_bend(float(s) + 0.006, float(t))
            canvas.fill(ellipse(*ahead, size, steps=40), shade, clip=body)


def _fan(root: tuple[float, float], tips: list[tuple[float, float]], fill: str, canvas: Canvas) -> None:
    """A fin: a webbed fan from its root through the tips, with rays."""
    web = spline(tips, steps=10)
    canvas.fill([wound(np.vstack([[root], web]))], fill)
    for x, y in tips:
        canvas.fill(ribbon([root, ((root[0] + x) / 2 + 0.3, (root[1] + y) / 2), (x, y)], [0.9, 0.6, 0.2]), BRICK)


def _fins(canvas: Canvas) -> None:
    tail = _carp_bend(0.02, 0)
    _fan(tail, [(31.5, 5.5), (35, 9), (38.4, 14.5), (37, 18.5), (39, 25), (37, 31), (33, 33.5)], AMBER, canvas)
    for s, spread in ((0.38, 0.05), (0.62, 0.045)):
        root = _carp_bend(s, 0.75)
        tips = []
        for step in range(6):
            x, y = _carp_bend(s - 0.03 - spread * (0.4 + 0.55 * step), 1.15)
            out = 1 + 0.03 * (5 - step)
            tips.append((50 + (x - 50) * out, 50 + (y - 50) * out))
        _fan(root, tips, AMBER, canvas)
    for s in (0.7, 0.4):
        root = _carp_bend(s, -0.8)
        tips = [_carp_bend(s - 0.05 - 0.02 * step, -1.95 + 0.13 * step) for step in range(6)]
        _fan(root, tips, AMBER, canvas)


def _head(canvas: Canvas, body: Path) -> None:
    hood = [
        wound(
            np.array(
                _along(_carp_bend, 0.8, 1, 1, 40)
                + _along(_carp_bend, 1, 0.8, -1, 40)
                + [_carp_bend(0.775, -0.5), _carp_bend(0.765, 0), _carp_bend(0.775, 0.5)]
            )
        )
    ]
    canvas.fill(hood, AMBER)
    canvas.fill(ellipse(*_carp_bend(0.99, 0.0), 3.1), AMBER)
    gill = [
        _carp_bend(0.8, 1.02),
        _carp_bend(0.775, 0.5),
        _carp_bend(0.765, 0),
        _carp_bend(0.775, -0.5),
        _carp_bend(0.8, -1.02),
    ]
    canvas.fill(stroke(spline(gill), 1.1), BRICK, clip=body)
    crown = [
        _carp_bend(s, t)
        for s, t in ((0.815, 1.3), (0.825, 0.75), (0.855, 0.62), (0.9, 0.72), (0.95, 0.78), (0.97, 1.3), (0.9, 1.5))
    ]
    canvas.fill(blob(crown), CORAL, clip=body)
    cheek = [_carp_bend(0.822, 0.5), _carp_bend(0.806, 0), _carp_bend(0.822, -0.6)]
    canvas.fill(stroke(spline(cheek), 0.7), BRICK)
    for s, t in ((0.868, -0.2), (0.86, -0.45), (0.88, -0.5), (0.962, 0.52)):
        canvas.fill(ellipse(*_carp_bend(s, t), 0.55), BRICK)
    x, y = _carp_bend(0.902, 0.28)
    for radius, colour in ((3.4, BRICK), (2.8, CREAM), (1.9, INDIGO)):
        canvas.fill(ellipse(x, y, radius), colour)
    canvas.fill(ellipse(x + 0.6, y - 0.7, 0.65), CREAM)
    mouth = [_carp_bend(0.998, 0.2), _carp_bend(0.965, -0.1), _carp_bend(0.95, -0.45)]
    canvas.fill(stroke(spline(mouth), 0.9), BRICK)
    for start, way in ((0.985, -1), (0.97, -1.3)):
        root = _carp_bend(start, 0.55 * way)
        tip = _carp_bend(start + 0.05, 2.1 * way)
        bend = _carp_bend(start + 0.045, 1.1 * way)
        canvas.fill(ribbon([root, bend, tip], [0.2, 1.0, 0.8, 0.2]), BRICK)


def _flat_lantern(canvas: Canvas, cx: float, cy: float, r: float) -> None:
    canvas.fill(ellipse(cx, cy, r, r * 1.12), CORAL)
    for part, shade in ((0.78, "#ec7a3c"), (0.5, AMBER), (0.24, CREAM)):
        canvas.fill(ellipse(cx, cy, r * part, r * 1.12), shade)
    canvas.fill(stroke([(cx, cy - r * 1.1), (cx, cy - 17)], 0.6), INDIGO)
    for side in (-1, 1):
        canvas.fill(stroke([(cx - 3.6, cy + side * r * 1.1), (cx + 3.6, cy + side * r * 1.1)], 2.2), INDIGO)
    for dx in (-2.2, 0, 2.2):
        canvas.fill(ribbon([(cx + dx * 0.5, cy + r * 1.2), (cx + dx, cy + r * 1.2 + 5.2)], [0.6, 0.9]), INDIGO)


def _splash(canvas: Canvas) -> None:
    swell = [(3, 88), (24, 94.5), (50, 97.2), (76, 94.5), (97, 88)]
    canvas.fill(ribbon(swell, [0.3, 6, 7, 6, 0.3]), INDIGO)
    canvas.fill(ribbon([(x, y + 0.5) for x, y in swell], [0.1, 3.4, 4.2, 3.4, 0.1]), TEAL)
    for cx, cy, size, way in (
        (12, 84, 8.5, 1),
        (26, 91, 7.5, 1),
        (88, 84, 8.5, -1),
        (74, 91, 7.5, -1),
        (50, 94, 6.5, 1),
    ):
        curl: Path = []
        angle = np.linspace(0, 3.4 * np.pi, 90)
        reach = size * (1 - 0.085 * angle)
        spiral = np.column_stack([cx + way * reach * np.cos(angle + 2.6), cy + reach * 0.8 * np.sin(angle + 2.6)])
        curl += ribbon([tuple(p) for p in spiral[::3]], [0.3, 2.6, 2.2, 1.6, 0.9], steps=6)
        canvas.fill(ellipse(cx, cy, size, size * 0.8), INDIGO)
        canvas.fill(ellipse(cx, cy, size * 0.86, size * 0.66), TEAL)
        canvas.fill(curl, CREAM, clip=ellipse(cx, cy, size * 0.9, size * 0.7))
    for x, y, size in ((5, 70, 1.5), (3.5, 76, 0.9), (95, 70, 1.5), (96.8, 76, 0.9)):
        canvas.fill(ellipse(x, y, size), TEAL)
