"""Pieces for fronts and small places: the owl, the kettle band, the moth."""

from collections.abc import Callable

import numpy as np

from artwork.canvas import Canvas, radial, vertical
from artwork.letters import Pen, around, line
from artwork.motifs import AMBER, BRICK, CORAL, CREAM, FLAME, INDIGO, NIGHT, PLUM, TEAL
from artwork.shapes import (
    Path,
    arc,
    blob,
    ellipse,
    hole,
    points,
    polygon,
    rectangle,
    ribbon,
    ring,
    scaled,
    spline,
    star,
    stroke,
    turned,
    wound,
)


def _both(path: Path) -> Path:
    """The path and its mirror image about the upright middle line."""
    return path + scaled(path, -1, 1, (50, 0))


def night_school_owl() -> Canvas:
    """A bespectacled owl reads by the light of its own book."""
    canvas = Canvas(1650, 1860)
    canvas.glow(ellipse(50, 82, 24, 12), FLAME, 16, 0.9)
    _plumage(canvas)
    canvas.fill(_both(polygon([(27, 19.5), (43, 27.5), (29.5, 38)])), "#3a2356")
    disc = blob(
        [
            (50, 29),
            (59, 26.5),
            (69, 31),
            (72.5, 41),
            (67.5, 51.5),
            (57.5, 55),
            (50, 52.5),
            (42.5, 55),
            (32.5, 51.5),
            (27.5, 41),
            (31, 31),
            (41, 26.5),
        ]
    )
    canvas.fill(disc, vertical((27, "#e7b683"), (55, "#ffe6b0")))
    for angle in range(0, 360, 15):
        for cx in (39.5, 60.5):
            feather = ribbon([(cx, 40.5 - 9.6), (cx, 40.5 - 12.2)], [0.9, 0.15])
            canvas.fill(turned(feather, angle, (cx, 40.5)), "#b77a4a", clip=disc)
    _spectacles(canvas)
    canvas.fill(blob([(50, 44.6), (53, 48.6), (50, 55.4), (47, 48.6)]), AMBER)
    canvas.fill(blob([(50, 44.6), (53, 48.6), (50, 50.4), (47, 48.6)]), FLAME)
    _book(canvas)
    heavy = Pen(0.2, 0.2)
    canvas.fill(around("NIGHT SCHOOL", 50, 60, 49.6, 8.0, heavy), INDIGO)
    canvas.fill(line("THURSDAYS · ALL WELCOME", 50, 110.6, 3.5, Pen(0.18, 0.42)), CORAL)
    for x, y, size in ((13, 66, 2.2), (87, 66, 2.2), (8.5, 78, 1.4), (91.5, 78, 1.4), (12.5, 90, 1.0), (87.5, 90, 1.0)):
        canvas.fill(star(x, y, size, size * 0.35, 4), AMBER)
    return canvas


def _plumage(canvas: Canvas) -> None:
    """Wings, body and the scalloped breast."""
    canvas.fill(_both(blob([(28, 40), (20, 52), (17, 68), (21, 84), (29, 92), (38, 80), (37, 52)])), "#4a2a5e")
    for index in range(5):
        y = 58 + 6.4 * index
        canvas.fill(_both(ribbon([(36, y - 8), (26, y - 3), (20.5 + 0.5 * index, y + 7)], [0.4, 2.4, 0.2])), PLUM)
    body = blob(
        [
            (50, 24),
            (62, 25),
            (71, 33),
            (74, 48),
            (75, 68),
            (70, 86),
            (50, 93),
            (30, 86),
            (25, 68),
            (26, 48),
            (29, 33),
            (38, 25),
        ]
    )
    canvas.fill(body, vertical((24, "#3a2356"), (60, "#70407a"), (82, "#d98a55"), (93, "#b0603f")))
    for row in range(6):
        for column in range(-4, 5):
            x, y = 50 + 6.2 * (column + 0.5 * (row % 2)), 57 + 5.2 * row
            if abs(x - 50) < 19.5 - 0.2 * row:
                canvas.fill(
                    blob([(x - 2.7, y - 2), (x + 2.7, y - 2), (x + 1.9, y + 2.2), (x, y + 3.6), (x - 1.9, y + 2.2)]),
                    (CREAM, "#f3c987", "#f0b46a")[row % 3],
                    alpha=0.9,
                )


def _spectacles(canvas: Canvas) -> None:
    for cx in (39.5, 60.5):
        canvas.fill(ellipse(cx, 40.5, 8.4), radial(cx, 43, (1, "#fff6c4"), (8.4, AMBER)))
        canvas.fill(ellipse(cx + (50 - cx) * 0.08, 42.0, 5.0), NIGHT)
        canvas.fill(ellipse(cx + 1.6, 39.6, 1.6), "#ffffff")
        canvas.fill(ellipse(cx - 1.8, 44.2, 0.8), "#ffffff", alpha=0.8)
        lid = [wound(np.vstack([arc(cx, 40.5, 8.6, 8.6, 180, 360), [(cx + 8.6, 39), (cx, 36.4), (cx - 8.6, 39)]]))]
        canvas.fill(lid, "#70407a")
        canvas.fill(ring(cx, 40.5, 9.8, 8.2), BRICK)
        glint = stroke(arc(cx, 40.5, 9.0, 9.0, 205, 250), 0.45)
        canvas.fill(glint, "#e98a6a")
    canvas.fill(stroke(arc(50, 40.6, 2.2, 1.9, 200, 340), 1.3), BRICK)


def _book(canvas: Canvas) -> None:
    cover = _both(polygon([(50, 99.8), (50, 84), (46, 81.4), (22, 82.4), (15.5, 86), (19.5, 101), (47, 101.6)]))
    canvas.fill(cover, TEAL)
    canvas.fill(rectangle(48.6, 84, 2.8, 17.6), "#0e4a5b")
    for lift, shade in ((0.0, "#f1d9a4"), (-1.0, CREAM), (-2.0, "#fffbe6")):
        page = np.vstack(
            [
                spline([(50, 87 + lift), (42, 82.4 + lift), (32, 81.6 + lift), (19.5, 84.6 + lift)]),
                spline([(22.6, 97.6 + lift), (34, 95.4 + lift), (43, 96 + lift), (50, 99.4 + lift)]),
            ]
        )
        canvas.fill(_both([wound(page)]), shade)
    for index in range(4):
        y = 85.4 + 2.6 * index
        canvas.fill(
            _both(stroke(spline([(26.4 + 0.5 * index, y + 0.6), (34, y - 0.9), (45.2, y + 0.7)]), 0.55)), "#c9986a"
        )
    for side, lean in ((-1, -12), (1, 12)):
        wing = blob(
            [
                (50 + side * 24, 78),
                (50 + side * 31, 82),
                (50 + side * 32, 92),
                (50 + side * 27, 96),
                (50 + side * 25, 88),
            ]
        )
        canvas.fill(wing, "#4a2a5e")
        for index in range(3):
            x = 50 + side * (25.6 + 2.0 * index)
            claw = ribbon(
                [(x, 93 - index), (x - side * 1.2, 96.5 - index), (x - side * 2.0, 98.6 - index)], [1.6, 1.5, 0.3]
            )
            canvas.fill(turned(claw, lean * 0.2, (x, 95)), AMBER)
    for x, y, size in ((44, 77.4, 1.5), (50, 73, 2.2), (56.4, 77, 1.3), (53, 80.2, 0.9), (47, 80.6, 0.8)):
        canvas.glow(ellipse(x, y, size * 0.5), "#fff6c8", 2.2, 0.9)
        canvas.fill(star(x, y, size, size * 0.36, 5), "#fffbe0")


def kettle_band() -> Canvas:
    """Engraving in black lines: the town band's kettle, whose spout is a horn."""
    canvas = Canvas(1500, 1420)
    ink, paper = "#161616", "#ffffff"
    _horn(canvas, ink, paper)
    grip = spline([(34, 49.5), (23, 45.5), (13.5, 51), (12.5, 62), (18, 71), (29, 73)])
    canvas.fill(stroke(grip, 3.8), ink)
    canvas.fill(stroke(grip, 1.6), paper)
    body = blob(
        [
            (27, 74),
            (24.5, 62),
            (30, 48),
            (41, 41),
            (50, 40),
            (59, 41),
            (70, 48),
            (75.5, 62),
            (73, 74),
            (62, 80),
            (38, 80),
        ]
    )
    canvas.fill(body, paper)
    _hoops(canvas, body, ink)
    canvas.fill(stroke(np.vstack([body[0], body[0][:1]]), 1.1), ink)
    canvas.fill(blob([(25, 77), (38, 80.5), (62, 80.5), (75, 77), (76, 80.6), (62, 84.4), (38, 84.4), (24, 80.6)]), ink)
    canvas.fill(stroke(spline([(29, 80.8), (40, 82.6), (60, 82.6), (71, 80.8)]), 0.5), paper)
    lid = blob([(33.5, 44), (38, 39.6), (50, 37.6), (62, 39.6), (66.5, 44), (58, 46.2), (42, 46.2)])
    canvas.fill(lid, paper)
    _hatch(canvas, lid, 0.75, lambda x: 0.12 + 0.42 * min(max((x - 40) / 26, 0), 1))
    canvas.fill(stroke(np.vstack([lid[0], lid[0][:1]]), 0.8), ink)
    canvas.fill(ellipse(50, 35.3, 3.1) + hole(ellipse(49.2, 34.6, 1.1)), ink)
    _notes(canvas, ink)
    canvas.fill(around("KETTLE STREET", 46.5, 61, 39, 6.3, Pen(0.2, 0.2, 0.5, -30), middle=-104), ink)
    canvas.fill(line("TOWN BAND", 50, 92.4, 4.4, Pen(0.2, 0.55, 0.5, -30)), ink)
    return canvas


def _horn(canvas: Canvas, ink: str, paper: str) -> None:
    """The spout: a tube that flares into a bell, with engraving lines running along it."""
    knots, widths = [(66, 70), (76, 66), (81.5, 55), (83.5, 44), (87, 34)], [12, 9, 7.4, 6.6, 7.6, 11.5, 21]
    tube = ribbon(knots, widths)
    canvas.fill(tube, paper)
    centre = spline(knots)
    run = np.gradient(centre, axis=0)
    normal = np.column_stack([-run[:, 1], run[:, 0]]) / np.hypot(run[:, 0], run[:, 1])[:, None]
    half = np.interp(np.linspace(0, 1, len(centre)), np.linspace(0, 1, len(widths)), widths) / 2
    for part in np.linspace(-0.9, 0.95, 13):
        along = centre + normal * (half * part)[:, None]
        body = 0.12 + 0.75 * abs(part - 0.25) ** 1.3
        canvas.fill(stroke(along, body), ink, clip=tube)
    canvas.fill(stroke(np.vstack([tube[0], tube[0][:1]]), 0.95), ink)
    for part in (0.42, 0.48):
        spot = int(part * len(centre))
        across = [centre[spot] - normal[spot] * half[spot] * 1.12, centre[spot] + normal[spot] * half[spot] * 1.12]
        canvas.fill(stroke(across, 1.3), ink)
    lean = float(np.degrees(np.arctan2(normal[-1, 1], normal[-1, 0])))
    canvas.fill(turned(ellipse(87, 34, 11, 3.4), lean, (87, 34)), ink)
    canvas.fill(turned(ellipse(87, 34, 9.7, 2.3), lean, (87, 34)), paper)
    canvas.fill(turned(ellipse(87, 34.5, 7.4, 1.4), lean, (87, 34)), ink)


def _hatch(canvas: Canvas, shape: Path, step: float, shade: Callable[[float], float]) -> None:
    """Upright engraving lines; `shade` gives each its width."""
    low, high = shape[0].min(axis=0), shape[0].max(axis=0)
    lines: Path = []
    for x in np.arange(low[0], high[0], step):
        lines += stroke([(x, low[1]), (x, high[1])], shade(float(x)))
    canvas.fill(lines, "#161616", clip=shape)


def _hoops(canvas: Canvas, body: Path, ink: str) -> None:
    """Curved engraving lines round the belly, heavier where it turns from the light."""
    hoops: Path = []
    for index, y in enumerate(np.arange(46, 79, 1.15)):
        x = np.linspace(22, 78, 60)
        sag = 3.2 * (1 - ((x - 50) / 27) ** 2)
        shade = np.clip(np.abs((x - 42) / 30) ** 1.6, 0, 1) * (0.55 + 0.45 * index / 29)
        widths = [float(w) for w in 0.12 + 0.82 * shade]
        hoops += ribbon(np.column_stack([x, y + sag]).tolist(), widths, steps=3)
    canvas.fill(hoops, ink, clip=body)
    canvas.fill(turned(ellipse(36, 55, 2.2, 6.5), 14, (36, 55)), "#ffffff")
    canvas.fill(ellipse(50, 64, 9.4), "#ffffff", clip=body)
    canvas.fill(ring(50, 64, 9.4, 8.8), ink)
    canvas.fill(star(50, 64, 7.4, 3.0, 5), ink)


def _notes(canvas: Canvas, ink: str) -> None:
    for x, y, size, lean in ((90.5, 18, 1.0, 8), (79.5, 22, 0.8, -8), (84, 9.5, 0.65, 12)):
        head = turned(ellipse(x, y, 2.6 * size, 1.9 * size), -24, (x, y))
        tail = stroke([(x + 2.2 * size, y - 0.6), (x + 2.2 * size, y - 9 * size)], 0.75 * size)
        flag = ribbon(
            [(x + 2.2 * size, y - 9 * size), (x + 4.6 * size, y - 6.4 * size), (x + 5 * size, y - 3.4 * size)],
            [1.5 * size, 1.1 * size, 0.2],
        )
        canvas.fill(turned(head + tail + flag, lean, (x, y)), ink)


def moth() -> Canvas:
    """A moth with lit windows in its wings, in its own soft light."""
    canvas = Canvas(1000, 800)
    fore = blob(
        [(51, 32), (58, 20), (70, 10.5), (86, 6.5), (95, 9.5), (93, 20), (86, 31), (76, 39.5), (62, 42.5), (52, 41)]
    )
    hind = blob([(51.5, 40), (62, 41), (75, 43.5), (82, 51), (80, 61), (72, 68), (63, 66.5), (56, 58), (52, 49)])
    canvas.glow(_both(fore) + _both(hind), FLAME, 7, 0.85)
    for wing, stops in (
        (hind, ((2, "#ffe7a8"), (22, "#f0994a"), (38, "#a8443c"))),
        (fore, ((4, "#ffe0a0"), (24, "#c9622f"), (52, "#6a2433"))),
    ):
        canvas.fill(_both(wing), radial(50, 40, *stops))
    for wing, start, tips in (
        (fore, (52, 38), ((94, 10), (90, 22), (83, 33), (72, 41), (80, 8))),
        (hind, (52.5, 43), ((82, 50), (78, 62), (68, 67), (59, 61))),
    ):
        for tip in tips:
            bend = ((start[0] + tip[0]) / 2, (start[1] + tip[1]) / 2 + 1.4)
            canvas.fill(_both(ribbon([start, bend, tip], [0.7, 0.45, 0.2])), "#5a1d2b", alpha=0.7, clip=_both(wing))
    edge = spline([(64, 15.5), (77, 12.5), (86.4, 15.5), (83, 26), (75, 34)])
    canvas.fill(_both([p for x, y in edge[::9] for p in ellipse(x, y, 0.75)]), CREAM)
    rim = spline([(78, 48), (77, 58), (70, 64), (62, 61)])
    canvas.fill(_both([p for x, y in rim[::7] for p in ellipse(x, y, 0.7)]), CREAM)
    for cx, cy, size in ((74.5, 24, 5.0), (67.5, 54.2, 4.0)):
        for part, shade in ((1.0, NIGHT), (0.78, CORAL), (0.56, AMBER), (0.34, "#fff8d8")):
            canvas.fill(_both(ellipse(cx, cy, size * part)), shade)
    canvas.fill(
        blob([(50, 26), (53, 30), (53.6, 40), (52.4, 54), (50, 62), (47.6, 54), (46.4, 40), (47, 30)]), "#4a1c2c"
    )
    for index in range(8):
        y = 39 + 2.7 * index
        canvas.fill(stroke([(50 - 2.6 + 0.2 * index, y), (50, y + 0.9), (50 + 2.6 - 0.2 * index, y)], 0.75), AMBER)
    canvas.fill(blob([(50, 25.5), (54, 29), (53.6, 35), (50, 37.6), (46.4, 35), (46, 29)]), "#f0c27a")
    canvas.fill(ellipse(50, 26.2, 2.6), "#4a1c2c")
    canvas.fill(_both(ellipse(51.9, 25.4, 0.95)), AMBER)
    feeler = points([(51, 24.6), (55, 17), (61, 11.5), (67, 9.5)])
    canvas.fill(_both(ribbon(feeler.tolist(), [0.9, 0.7, 0.3])), "#4a1c2c")
    for x, y in spline(feeler.tolist())[6::4]:
        for dx, dy in ((-1.5, -1.6), (1.7, 1.3)):
            canvas.fill(_both(stroke([(x, y), (x + dx, y + dy)], 0.35)), "#4a1c2c")
    return canvas
