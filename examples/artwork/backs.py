"""Large pieces for backs: the heron, the carp, the string of lanterns."""

from collections.abc import Callable

import numpy as np

from artwork.canvas import Canvas, radial, vertical
from artwork.letters import Pen, around, line
from artwork.motifs import (
    AMBER, BRICK, CORAL, CREAM, FLAME, INDIGO, MIST, NIGHT, PLUM, REED, TEAL, blade, lantern, reed, ripple,
)  # fmt: skip
from artwork.shapes import (
    Path, arc, blob, ellipse, polygon, ribbon, ring, scaled, spline, star, stroke, turned, wound,
)  # fmt: skip


def heron_back() -> Canvas:
    """The big one: a heron carries a lantern past the rising moon."""
    canvas = Canvas(2300, 2760)
    canvas.glow(ellipse(50, 45, 37), FLAME, 10, 0.6)
    moon = ellipse(50, 45, 38)
    canvas.fill(moon, vertical((7, "#fff3c4"), (38, "#ffdc83"), (62, "#f7a13c"), (80, "#dd5a35")))
    for x, y, rx, ry in (
        (37, 24, 5.5, 4.6),
        (63, 19, 3.4, 2.8),
        (70, 35, 4.6, 4.0),
        (31, 44, 3.2, 2.8),
        (60, 56, 6, 4.6),
    ):
        canvas.fill(ellipse(x, y, rx, ry), "#e89a3f", alpha=0.22, clip=moon)
    for y, left, right, thick in (
        (28, 58, 92, 2.0),
        (31, 66, 98, 1.4),
        (52, 3, 33, 2.0),
        (55.5, 8, 42, 1.3),
        (60, 62, 96, 1.5),
    ):
        canvas.fill(
            ribbon([(left, y), ((left + right) / 2, y - 0.6), (right, y)], [0.1, thick, 0.1]), "#c2573c", alpha=0.8
        )
    _shore(canvas)
    _heron(canvas)
    for x, foot, top, lean in ((8, 101, 57, -5), (14, 101, 48, -2.5), (88, 101, 62, 3), (94, 101, 52, 4)):
        reed(canvas, x, foot, top, lean)
    for x, top, lean, shade in ((6, 66, -6, TEAL), (11, 60, -9, REED), (17, 63, 6, "#2f5f4d"), (20, 78, 7, REED),
                                (83, 74, -6, REED), (86, 66, -4, "#2f5f4d"), (91, 62, 8, TEAL), (97, 72, 2.5, REED)):  # fmt: skip
        blade(canvas, x, 101, top, lean, shade)
    for x, y, size in ((15, 17, 1.9), (9, 29, 1.2), (85, 12, 1.9), (92, 23, 1.2), (76, 4.5, 1.3), (24, 6, 1.2)):
        canvas.fill(star(x, y, size, size * 0.3, 4), INDIGO)
    heavy, light = Pen(0.2, 0.2), Pen(0.15, 0.56)
    canvas.fill(line("OSTREL WEIR", 50, 113.5, 9.2, heavy), INDIGO)
    canvas.fill(line("LANTERN NIGHT", 50, 119.2, 3.1, light), CORAL)
    for left, right in ((0.8, 23), (77, 99.2)):
        canvas.fill(ribbon([(left, 117.6), ((left + right) / 2, 117.6), (right, 117.6)], [0.1, 0.9, 0.1]), CORAL)
    return canvas


def _shore(canvas: Canvas) -> None:
    far = [(11, 70), (22, 67.5), (33, 69.6), (46, 66.5), (60, 69), (72, 66.6), (89, 70.2), (91, 74), (9, 74)]
    canvas.fill([wound(spline(far, closed=True))], PLUM)
    pool = [
        (2, 84),
        (10, 75.5),
        (30, 72.5),
        (70, 72.5),
        (90, 75.5),
        (98, 84),
        (92, 95),
        (72, 101.5),
        (28, 101.5),
        (8, 95),
    ]
    water = [wound(spline(pool, closed=True))]
    canvas.fill(water, vertical((72, "#3c2a66"), (80, INDIGO), (101, TEAL)))
    source = np.random.RandomState(4)
    for index in range(46):
        y = 75 + 25.5 * index / 46
        x, span = 50 + 44 * (source.random_sample() - 0.5) * 1.7, 7 + 15 * source.random_sample()
        shade = (TEAL, MIST, "#2b3a7a", "#184f6a")[index % 4]
        canvas.fill(ripple(x, y, span, 0.75, 0.25), shade, alpha=0.75, clip=water)
    for index, y in enumerate(np.linspace(75.5, 98.5, 15)):
        span = 17 - 0.75 * index + 5 * source.random_sample()
        canvas.fill(ripple(71 + 3 * (source.random_sample() - 0.5), float(y), float(span), 1.0, 0.2),
                    (FLAME, AMBER, "#ef7b3a")[index % 3], clip=water)  # fmt: skip


def _heron(canvas: Canvas) -> None:
    slate, pale, deep = "#3d568f", "#93aed0", INDIGO
    for knots in ([(41, 72), (42.5, 82), (41.5, 96)], [(35, 72), (33.5, 80.5), (37.5, 88), (36, 96)]):
        canvas.fill(ribbon(knots, [1.9, 1.2, 1.3, 1.1]), "#d98b3a")
        x = knots[-1][0]
        for reach in (3.6, 2.2, -2.0):
            canvas.fill(ribbon([(x, 95.6), (x + reach * 0.6, 96.2), (x + reach, 97)], [1.0, 0.7, 0.2]), "#d98b3a")
    neck = [(42.5, 62), (49.5, 57), (52, 50), (47, 43.5), (42.4, 37.5), (43.2, 30.5), (48.5, 27.2)]
    canvas.fill(ribbon(neck, [12, 8.2, 5.6, 4.6, 4.2, 4.0, 4.4], 24), slate)
    front = [(47.5, 60.5), (52.2, 55), (53.6, 49.6), (48.6, 42.6), (44, 37), (44.6, 31.4), (48.5, 28.4)]
    canvas.fill(ribbon(front, [0.4, 2.0, 1.7, 1.3, 1.2, 1.2, 1.6], 24), CREAM)
    body = [
        (50, 58.5),
        (51.5, 64),
        (46.5, 71),
        (37, 75.5),
        (27, 79),
        (19.5, 82.5),
        (23, 76),
        (27, 69),
        (33.5, 61.5),
        (42, 56.5),
    ]
    canvas.fill(blob(body), slate)
    for index, (x, y) in enumerate(((47, 64.5), (46.3, 67.2), (44.6, 69.5), (48.6, 62.2))):
        canvas.fill(ribbon([(x, y), (x + 1.8, y + 3.4), (x + 1.2, y + 7 - index)], [1.5, 1.0, 0.1]), pale)
    wing = [(43.5, 60.5), (43, 66), (36, 72), (26.5, 77.5), (17.5, 84), (20, 77), (25.5, 69), (32.5, 61.8), (39, 58.6)]
    canvas.fill(blob(wing), deep)
    for index in range(6):
        start = (41.5 - 1.8 * index, 61.6 + 1.0 * index)
        knots = [start, (36 - 2.2 * index, 66.8 + 1.6 * index), (27.5 - 1.4 * index, 73.4 + 1.5 * index)]
        canvas.fill(ribbon(knots, [0.5, 2.0, 0.2]), pale if index % 2 == 0 else "#5f7cb0", clip=blob(wing))
    canvas.fill(polygon([(50, 24.8), (71.5, 28.2), (50.5, 29.4)]), AMBER)
    canvas.fill(polygon([(50, 27.2), (71.5, 28.2), (50.5, 29.4)]), "#c96a1e")
    canvas.fill(blob([(44.4, 27), (47.4, 24), (51.6, 24.3), (54.6, 26.6), (52.6, 29.4), (47.6, 30.2)]), pale)
    canvas.fill(ribbon([(52.5, 25.6), (48, 24.6), (43, 25.6), (36.5, 30.5)], [0.1, 2.0, 1.5, 0.1]), deep)
    canvas.fill(ribbon([(48, 25.2), (42.4, 27.6), (37.5, 34)], [1.2, 1.0, 0.1]), deep)
    canvas.fill(ellipse(51.3, 26.7, 0.85), FLAME)
    canvas.fill(ellipse(51.5, 26.7, 0.45), NIGHT)
    canvas.fill(stroke([(68.6, 27.6), (69.2, 33), (69.6, 38.6)], 0.42), NIGHT)
    canvas.glow(ellipse(69.6, 48, 6), "#fff6c8", 7, 0.8)
    lantern(canvas, 69.6, 48.6, 6.6)


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
    canvas = Canvas(2460, 2760)
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
    hood = [wound(np.array(_along(_carp_bend, 0.8, 1, 1, 40) + _along(_carp_bend, 1, 0.8, -1, 40)
                           + [_carp_bend(0.775, -0.5), _carp_bend(0.765, 0), _carp_bend(0.775, 0.5)]))]  # fmt: skip
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


def lantern_string() -> Canvas:
    """A garland of seven lit lanterns, wide and low, for an upper back or a hood."""
    canvas = Canvas(2250, 640)
    knots = [(1.5, 2.6), (25, 7.5), (50, 9.2), (75, 7.5), (98.5, 2.6)]
    cord = spline(knots, steps=60)
    spots = [(9, "teal", "globe", 3.5), (22.5, "coral", "barrel", 3.9), (36, "amber", "drum", 3.5), (50, "coral", "globe", 5.0),
             (64, "green", "drum", 3.5), (77.5, "plum", "barrel", 3.9), (91, "amber", "globe", 3.5)]  # fmt: skip
    hung = []
    for x, hue, kind, size in spots:
        top = float(np.interp(x, cord[:, 0], cord[:, 1]))
        reach = {"barrel": 1.18, "globe": 1.0, "drum": 1.35}[kind] * size + 0.3 * size
        hung.append((x, top, top + 1.2 + reach, hue, kind, size))
    for x, _, y, _, _, size in hung:
        canvas.glow(ellipse(x, y, size), AMBER, size * 1.0, 0.6)
    canvas.fill(stroke(cord, 0.55), NIGHT)
    for x, top, y, hue, kind, size in hung:
        canvas.fill(stroke([(x, top), (x, y - size)], 0.3), NIGHT)
        lantern(canvas, x, y, size, hue, kind)
    for index, x in enumerate((15.5, 29, 43, 57, 71, 84.5)):
        top = float(np.interp(x, cord[:, 0], cord[:, 1]))
        canvas.fill(polygon([(x - 1.7, top), (x + 1.7, top), (x, top + 4)]), CORAL if index % 2 else TEAL)
    for x, y in ((1.5, 2.6), (98.5, 2.6)):
        canvas.fill(ellipse(x, y, 1.2), NIGHT)
    return canvas
