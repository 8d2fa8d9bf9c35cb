"""Colours and small things that several pictures share: paper lanterns, water, reeds, noise."""

import numpy as np

from artwork.canvas import Canvas, Grid, Paint, enlarged, radial, vertical
from artwork.shapes import Path, arc, ellipse, polygon, rectangle, ribbon, ring, stroke, wound

NIGHT, INDIGO, PLUM = "#12183d", "#1f2861", "#5b2a66"
TEAL, MIST, REED = "#14657a", "#6fbcb9", "#4b7f4a"
CORAL, BRICK, AMBER, FLAME, CREAM = "#d8452e", "#8f2430", "#f6a623", "#ffd66b", "#fff1c9"

HUES = {
    "coral": ("#fff0b8", "#ff9a44", "#d8452e", "#8a1f2c"),
    "amber": ("#fff6cf", "#ffd25e", "#f09a1a", "#96510c"),
    "teal": ("#f3ffd9", "#7fd0b4", "#177a86", "#0c3f58"),
    "plum": ("#ffe9c9", "#e58aa0", "#8d3d85", "#42194f"),
    "green": ("#fdffcf", "#c4d96a", "#5c9a45", "#2c5233"),
}


def barrel(cx: float, cy: float, half: float, tall: float) -> Path:
    """Rounded outline of a paper lantern: half width and half height."""
    angle = np.linspace(0, 2 * np.pi, 160, endpoint=False)
    x = half * np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** 0.72
    y = tall * np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** 0.95
    return [wound(np.column_stack([cx + x, cy + y]))]


def lantern(canvas: Canvas, cx: float, cy: float, r: float, hue: str = "coral", kind: str = "barrel") -> None:
    """A lit paper lantern hanging at its middle: `barrel` has upright ribs, `globe` hoops, `drum` is boxy."""
    heart, mid, skin, dark = HUES[hue]
    tall = {"barrel": 1.18, "globe": 1.0, "drum": 1.35}[kind] * r
    half = {"barrel": 1.0, "globe": 1.08, "drum": 0.8}[kind] * r
    body = barrel(cx, cy, half, tall)
    paint = radial(cx, cy + 0.25 * r, (0.1 * r, heart), (0.55 * r, mid), (1.0 * r, skin), (1.5 * r, dark))
    _fittings(canvas, cx, cy, r, tall, dark)
    canvas.fill(body, paint)
    ribs: Path = []
    if kind == "globe":
        for level in (-0.72, -0.4, 0.0, 0.4, 0.72):
            reach = half * (1 - abs(level) ** 2.4) ** 0.5
            curve = arc(cx, cy + level * tall, reach, 0.16 * r, 180, 0)
            ribs += stroke(curve, 0.055 * r)
    else:
        for part in (0.36, 0.74):
            ribs += stroke(arc(cx, cy, half * part, tall, 90, 270), 0.055 * r)
            ribs += stroke(arc(cx, cy, half * part, tall, -90, 90), 0.055 * r)
        ribs += stroke([(cx, cy - tall), (cx, cy + tall)], 0.055 * r)
    canvas.fill(ribs, dark, alpha=0.55, clip=body)
    canvas.fill(ellipse(cx - 0.45 * half, cy - 0.45 * tall, 0.13 * r, 0.26 * r), "#ffffff", alpha=0.35)


def _fittings(canvas: Canvas, cx: float, cy: float, r: float, tall: float, dark: str) -> None:
    """Rims, ring and tassel."""
    for side in (-1, 1):
        canvas.fill(barrel(cx, cy + side * tall, 0.42 * r, 0.14 * r), dark)
    canvas.fill(ring(cx, cy - tall - 0.24 * r, 0.16 * r, 0.08 * r), dark)
    foot = cy + tall + 0.12 * r
    canvas.fill(rectangle(cx - 0.035 * r, foot, 0.07 * r, 0.3 * r), dark)
    tassel = [(cx - 0.1 * r, foot + 0.28 * r), (cx + 0.1 * r, foot + 0.28 * r)]
    canvas.fill(polygon([*tassel, (cx + 0.17 * r, foot + 0.85 * r), (cx - 0.17 * r, foot + 0.85 * r)]), AMBER)
    canvas.fill(ellipse(cx, foot + 0.28 * r, 0.13 * r), dark)


def ripple(cx: float, y: float, span: float, thick: float, sway: float = 0.6) -> Path:
    """One lens-shaped streak on water."""
    knots = [(cx + span * (t - 0.5), y + sway * (0.5 - t) * (-1) ** i) for i, t in enumerate((0, 0.3, 0.62, 1))]
    return ribbon(knots, [0.02, thick, thick * 0.8, 0.02])


def wave_band(y: float, rise: float, period: float, bottom: float, shift: float = 0.0) -> Path:
    """Everything below a row of rounded waves, across the whole canvas."""
    x = np.linspace(-2, 102, 520)
    crest = y + rise * np.cos(2 * np.pi * (x - shift) / period)
    outline = np.vstack([np.column_stack([x, crest]), [(102, bottom), (-2, bottom)]])
    return [wound(outline)]


def reed(canvas: Canvas, x: float, foot: float, top: float, lean: float, shade: str = REED) -> None:
    """A bulrush: blade, stem and brown head."""
    tip = (x + lean, top)
    bend = (x + lean * 0.3, (foot + top) / 2)
    canvas.fill(ribbon([(x, foot), bend, tip], [0.3, 0.7, 0.35]), shade)
    head = [(x + lean * 0.9, top + 1.5), (x + lean * 1.0, top - 2), (x + lean * 1.08, top - 6)]
    canvas.fill(ribbon(head, [1.6, 2.1, 2.0, 1.2]), "#7a3b22")
    canvas.fill(ribbon([head[2], (x + lean * 1.13, top - 9)], [0.5, 0.2]), "#7a3b22")


def blade(canvas: Canvas, x: float, foot: float, top: float, lean: float, shade: str = REED) -> None:
    """A pointed reed leaf that bends over."""
    knots = [(x, foot), (x + lean * 0.15, (foot * 2 + top) / 3), (x + lean * 0.5, (foot + 2 * top) / 3)]
    canvas.fill(ribbon([*knots, (x + lean, top)], [0.5, 1.9, 1.3, 0.05]), shade)


def dusk(top: float, bottom: float) -> Paint:
    """Evening sky from `top` to `bottom`."""
    span = bottom - top
    return vertical((top, NIGHT), (top + 0.45 * span, PLUM), (top + 0.8 * span, CORAL), (bottom, AMBER))


def noise(
    seed: int, height: int, width: int, coarsest: int, octaves: int, falloff: float = 0.5, flat: float = 1
) -> Grid:
    """Cloud-like noise of mean 0.5: random grids, each twice as fine as the last, summed; `flat` squashes it."""
    # RandomState's stream is frozen for good; the newer generators may change between versions.
    source = np.random.RandomState(seed)
    total, weight, sum_of_weights = np.zeros((height, width), np.float32), 1.0, 0.0
    for octave in range(octaves):
        cells = coarsest * 2**octave
        rows = max(2, round(cells * flat * height / width))
        coarse = source.random_sample((rows + 1, cells + 1)).astype(np.float32)
        total += np.float32(weight) * enlarged(coarse, height, width)
        sum_of_weights += weight
        weight *= falloff
    return total / np.float32(sum_of_weights)
