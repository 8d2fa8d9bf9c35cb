"""Chest pieces: the lantern crest, the rowers' shield, the ferry's rubber stamp."""

import numpy as np

from artwork.canvas import Canvas
from artwork.letters import Pen, around
from artwork.motifs import (
    AMBER,
    BRICK,
    CORAL,
    CREAM,
    FLAME,
    INDIGO,
    NIGHT,
    TEAL,
    dusk,
    lantern,
    noise,
    ripple,
    wave_band,
)
from artwork.shapes import (
    Path,
    arc,
    blob,
    ellipse,
    hole,
    moved,
    polygon,
    rectangle,
    ribbon,
    ring,
    scaled,
    scallop,
    spline,
    star,
    stroke,
    turned,
    wound,
)


def lantern_crest() -> Canvas:
    """Round badge of the lantern night: a lantern over the weir pool at dusk."""
    canvas = Canvas(1200, 1200)
    canvas.fill(scallop(50, 50, 47, 36, 1.8), INDIGO)
    canvas.fill(ring(50, 50, 46, 45.2), AMBER)
    canvas.fill(ring(50, 50, 33.6, 32.2), AMBER)
    scene = ellipse(50, 50, 32.2)
    canvas.fill(scene, dusk(18, 68))
    for x, y, size in ((33, 33, 1.5), (66, 29, 1.2), (70, 41, 0.9), (29, 46, 0.9), (41, 26, 0.8), (60, 22.5, 0.8)):
        canvas.fill(star(x, y, size, size * 0.32, 4), CREAM)
    hills = [(15, 62), (24, 57.5), (34, 60), (44, 56.5), (58, 60), (70, 55.5), (86, 61), (86, 75), (15, 75)]
    canvas.fill([wound(spline(hills, closed=True))], "#3a1d4d", clip=scene)
    for level, shade in ((63, TEAL), (69, "#105469"), (75, INDIGO)):
        canvas.fill(wave_band(level, 0.9, 9.5, 90, shift=level), shade, clip=scene)
    for index, (y, span) in enumerate(((65, 15), (68, 20), (71.3, 12), (74.2, 16), (77.5, 9))):
        canvas.fill(ripple(50 + (-1) ** index * 1.2, y, span, 1.2), FLAME if index % 2 else AMBER, clip=scene)
    canvas.glow(ellipse(50, 43, 12), FLAME, 9, 0.75)
    canvas.fill(rectangle(49.75, 17, 0.5, 12), NIGHT, clip=scene)
    lantern(canvas, 50, 44, 11)
    pen = Pen(0.17, 0.28)
    canvas.fill(around("OSTREL WEIR", 50, 50, 36.6, 5.6, pen), CREAM)
    canvas.fill(around("LANTERN NIGHT", 50, 50, 42.2, 5.6, pen, middle=90), CREAM)
    for x in (10.6, 89.4):
        canvas.fill(star(x, 50, 2.7, 1.1), AMBER)
    return canvas


def _shield(cx: float, top: float, half: float, tall: float) -> Path:
    right = [(0, 0.06), (0.5, 0.03), (1, -0.04), (1.0, 0.3), (0.9, 0.62), (0.55, 0.86), (0, 1.04)]
    curve = spline([(cx + half * x, top + tall * y) for x, y in right])
    left = curve[::-1] * (-1, 1) + (2 * cx, 0)
    return [wound(np.vstack([curve, left]))]


def _oar(canvas: Canvas, lean: float, foot: tuple[float, float], blade: str, band: str) -> None:
    """An oar standing on its handle at `foot`, leaning by `lean` degrees."""
    x, y = foot
    parts: list[tuple[Path, str]] = [
        (rectangle(x - 0.75, y - 58, 1.5, 58), "#b9722d"),
        (stroke([(x, y), (x, y - 6)], 2.3), INDIGO),
        (stroke([(x, y - 22), (x, y - 25)], 2.4), INDIGO),
    ]
    leaf = blob(
        [
            (x - 0.9, y - 49),
            (x - 3.9, y - 56),
            (x - 4.1, y - 66),
            (x, y - 69),
            (x + 4.1, y - 66),
            (x + 3.9, y - 56),
            (x + 0.9, y - 49),
        ]
    )
    for path, colour in parts:
        canvas.fill(turned(path, lean, foot), colour)
    canvas.fill(turned(leaf, lean, foot), blade)
    for offset in (57.5, 61.8):
        stripe = turned(
            polygon(
                [
                    (x - 6, y - offset),
                    (x, y - offset - 2.4),
                    (x + 6, y - offset),
                    (x + 6, y - offset - 2),
                    (x, y - offset - 4.4),
                    (x - 6, y - offset - 2),
                ]
            ),
            lean,
            foot,
        )
        canvas.fill(stripe, band, clip=turned(leaf, lean, foot))


def oars_shield() -> Canvas:
    """The rowers' shield, small in the middle of a large white canvas, as many a customer sends it."""
    canvas = Canvas(1860, 1860)
    _oar(canvas, 37, (28.5, 77), CORAL, CREAM)
    _oar(canvas, -37, (71.5, 77), CORAL, CREAM)
    outer, inner = _shield(50, 31, 18.4, 41.5), _shield(50, 32.6, 16.9, 38.4)
    canvas.fill(outer, INDIGO)
    canvas.fill(inner, CREAM)
    canvas.fill(rectangle(30, 30, 40, 18.6), TEAL, clip=inner)
    canvas.fill(rectangle(30, 47.6, 40, 1.2), INDIGO, clip=inner)
    canvas.fill(star(50, 40.4, 5.6, 2.2, 8), AMBER)
    canvas.fill(ellipse(50, 40.4, 2.5), CREAM)
    canvas.fill(ellipse(50, 40.4, 1.6), CORAL)
    for x in (39, 61):
        canvas.fill(star(x, 40.4, 2.3, 0.9), CREAM)
    for level, shade in ((52.5, TEAL), (56.8, CREAM), (60.2, INDIGO), (64.2, CREAM), (67.2, TEAL)):
        canvas.fill(wave_band(level, 0.75, 8.4, 90, shift=50), shade, clip=inner)
    _banner(canvas, "WEIR ROWERS")
    return canvas


def _banner(canvas: Canvas, words: str) -> None:
    cx, cy, outer, inner = 50, 26.0, 52.4, 45.2
    sweep = (118, 62)
    for x, flip in ((0.0, 1), (100.0, -1)):
        tail = polygon([(27.5, 69.8), (21, 68.5), (24, 71.5), (21.5, 75.5), (31, 76.8)])
        canvas.fill(scaled(tail, flip, 1, (0, 0)) if x == 0 else moved(scaled(tail, -1, 1), 100), BRICK)
    band = np.vstack([arc(cx, cy, outer, outer, *sweep), arc(cx, cy, inner, inner, *sweep[::-1])])
    canvas.fill([wound(band)], CORAL)
    canvas.fill(around(words, cx, cy, 50.5, 3.5, Pen(0.19, 0.3), middle=90), CREAM)


def ferry_stamp() -> Canvas:
    """A one-colour rubber stamp, unevenly inked."""
    canvas = Canvas(1100, 820)
    ink, cx, cy = TEAL, 50, 37.3
    for rx, ry, width in ((48.6, 35.8, 1.5), (45.8, 33, 0.6), (33.2, 21.6, 0.6)):
        canvas.fill(ellipse(cx, cy, rx, ry) + hole(ellipse(cx, cy, rx - width, ry - width)), ink)
    pen = Pen(0.19, 0.26)
    for words, middle, radius in (("LAST FERRY", -90, 24.6), ("NINE FORTY", 90, 31.0)):
        text = around(words, 0, 0, radius, 6.4, pen, middle)
        canvas.fill(moved(scaled(text, 1.42, 1.0), cx, cy), ink)
    for x in (10.8, 89.2):
        canvas.fill(star(x, cy, 2.6, 1.05), ink)
    scene = ellipse(cx, cy, 32.4, 20.8)
    hull = [(27, 40.5), (73, 40.5), (67.5, 47), (32, 47)]
    canvas.fill(polygon(hull), ink)
    cabin = polygon([(38, 39.7), (39.5, 32), (60, 32), (61.5, 39.7)])
    windows = [hole(rectangle(x, 34, 3.2, 3.2))[0] for x in (41.2, 45.8, 50.4, 55)]
    canvas.fill(cabin + windows, ink)
    canvas.fill(rectangle(37.5, 30.2, 25, 1.2), ink)
    canvas.fill(polygon([(46.2, 29.6), (46.9, 23), (52.1, 23), (52.8, 29.6)]), ink)
    canvas.fill(ribbon([(49.5, 21.5), (54, 18.9), (59, 20.5), (64, 18.8)], [1.2, 2.2, 1.4, 0.1]), ink)
    canvas.fill(stroke([(29, 40), (29, 29.5), (33.5, 29.5)], 0.8), ink)
    canvas.fill(ellipse(33.5, 32.4, 1.7, 2.1), ink)
    for index, y in enumerate((48.9, 51.4, 53.9)):
        wave = np.linspace(15, 85, 200)
        crest = np.column_stack([wave, y + 0.75 * np.cos((wave + 3 * index) * 0.9)])
        canvas.fill(stroke(crest, 0.85), ink, clip=scene)
    grain = noise(11, canvas.height, canvas.width, 90, 3, 0.8)
    patches = noise(12, canvas.height, canvas.width, 5, 3, 0.5)
    worn = np.clip((grain - 0.36 - 0.28 * (patches - 0.5)) * 9, 0, 1)
    canvas.keep(worn.astype(np.float32))
    return canvas
