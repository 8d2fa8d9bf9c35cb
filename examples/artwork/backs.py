"""Large pieces for backs: the heron and the string of lanterns."""

import numpy as np

from artwork.canvas import Canvas, vertical
from artwork.letters import Pen, line
from artwork.motifs import (
    AMBER,
    CORAL,
    CREAM,
    FLAME,
    INDIGO,
    MIST,
    NIGHT,
    PLUM,
    REED,
    TEAL,
    blade,
    lantern,
    reed,
    ripple,
)
from artwork.shapes import blob, ellipse, polygon, ribbon, spline, star, stroke, wound


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
    for x, top, lean, shade in (
        (6, 66, -6, TEAL),
        (11, 60, -9, REED),
        (17, 63, 6, "#2f5f4d"),
        (20, 78, 7, REED),
        (83, 74, -6, REED),
        (86, 66, -4, "#2f5f4d"),
        (91, 62, 8, TEAL),
        (97, 72, 2.5, REED),
    ):
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
        canvas.fill(
            ripple(71 + 3 * (source.random_sample() - 0.5), float(y), float(span), 1.0, 0.2),
            (FLAME, AMBER, "#ef7b3a")[index % 3],
            clip=water,
        )


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


def lantern_string() -> Canvas:
    """A garland of seven lit lanterns, wide and low, for an upper back or a hood."""
    canvas = Canvas(2250, 640)
    knots = [(1.5, 2.6), (25, 7.5), (50, 9.2), (75, 7.5), (98.5, 2.6)]
    cord = spline(knots, steps=60)
    spots = [
        (9, "teal", "globe", 3.5),
        (22.5, "coral", "barrel", 3.9),
        (36, "amber", "drum", 3.5),
        (50, "coral", "globe", 5.0),
        (64, "green", "drum", 3.5),
        (77.5, "plum", "barrel", 3.9),
        (91, "amber", "globe", 3.5),
    ]
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
