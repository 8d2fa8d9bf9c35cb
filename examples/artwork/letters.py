"""An alphabet of our own for the example: capitals drawn as pen strokes, with the low waist of old shop signs.

A glyph is a list of centre lines on a capital height of 1, baseline at 0, y down; the pen gives them body, so one
alphabet serves for thin, heavy, round and flat-nibbed words.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from artwork.shapes import Path, Points, arc, points, stroke

WAIST = -0.43
# Ends that meet a stem stop short of its middle: a round end that just touches the far edge would thicken it there.
MEET = 0.05


def _bowl(x: float, top: float, bottom: float, reach: float) -> Points:
    """Open bowl that leaves a stem at x and comes back to it, stopping just inside."""
    radius = (bottom - top) / 2
    bend = arc(x + reach - radius, (top + bottom) / 2, radius, radius, -90, 90)
    return np.vstack([[(x, top)], bend, [(x + MEET, bottom)]])


def _joined(*parts: Points | list[tuple[float, float]]) -> Points:
    return np.vstack([points(part) for part in parts])


def _round(cx: float, rx: float, start: float, end: float) -> Points:
    return arc(cx, -0.5, rx, 0.5, start, end)


_DRAWN: list[tuple[str, float, list[Any]]] = [
    (" ", 0.22, []),
    ("A", 0.78, [[(0, 0), (0.39, -1), (0.78, 0)], [(0.15, -0.3), (0.63, -0.3)]]),
    (
        "B",
        0.52,
        [
            _joined([(0, 0), (0, -1)], _bowl(0, -1, WAIST - 0.06, 0.44)),
            _joined(_bowl(MEET, WAIST - 0.06, 0, 0.47)[:-1], [(0, 0)]),
        ],
    ),
    ("C", 0.74, [_round(0.46, 0.46, -52, -308)]),
    ("D", 0.7, [_joined([(0, 0), (0, -1), (0.2, -1)], _round(0.2, 0.5, -90, 90), [(0, 0)])]),
    ("E", 0.46, [[(0.46, -1), (0, -1), (0, 0), (0.46, 0)], [(MEET, WAIST), (0.38, WAIST)]]),
    ("F", 0.44, [[(0.44, -1), (0, -1), (0, 0)], [(MEET, WAIST), (0.36, WAIST)]]),
    ("G", 0.82, [_joined(_round(0.46, 0.46, -52, -345), [(0.9, WAIST + 0.05), (0.54, WAIST + 0.05)])]),
    ("H", 0.66, [[(0, 0), (0, -1)], [(0.66, 0), (0.66, -1)], [(MEET, WAIST), (0.66 - MEET, WAIST)]]),
    ("I", 0.0, [[(0, 0), (0, -1)]]),
    ("J", 0.36, [_joined([(0.36, -1)], arc(0.12, -0.24, 0.24, 0.24, 0, 130))]),
    ("K", 0.56, [[(0, 0), (0, -1)], [(0.52, -1), (MEET, WAIST - 0.05)], [(0.19, WAIST - 0.16), (0.56, 0)]]),
    ("L", 0.44, [[(0, -1), (0, 0), (0.44, 0)]]),
    ("M", 0.9, [[(0, 0), (0.1, -1), (0.45, -0.25), (0.8, -1), (0.9, 0)]]),
    ("N", 0.68, [[(0, 0), (0, -1), (0.68, 0), (0.68, -1)]]),
    ("O", 0.94, [_round(0.47, 0.47, 0, 360)]),
    ("P", 0.5, [_joined([(0, 0), (0, -1)], _bowl(0, -1, WAIST + 0.03, 0.5))]),
    ("Q", 0.94, [_round(0.47, 0.47, 0, 360), [(0.58, -0.26), (0.92, 0.06)]]),
    ("R", 0.54, [_joined([(0, 0), (0, -1)], _bowl(0, -1, WAIST, 0.5)), [(0.22, WAIST + 0.04), (0.54, 0)]]),
    (
        "S",
        0.52,
        [_joined(arc(0.26, -0.74, 0.24, 0.26, -25, -270), arc(0.26, -0.24, 0.26, 0.24, -90, 155))],
    ),
    ("T", 0.6, [[(0, -1), (0.6, -1)], [(0.3, MEET - 1), (0.3, 0)]]),
    ("U", 0.64, [_joined([(0, -1)], arc(0.32, -0.32, 0.32, 0.32, 180, 0), [(0.64, -1)])]),
    ("V", 0.72, [[(0, -1), (0.36, 0), (0.72, -1)]]),
    ("W", 1.04, [[(0, -1), (0.26, 0), (0.52, -0.78), (0.78, 0), (1.04, -1)]]),
    ("X", 0.64, [[(0, 0), (0.6, -1)], [(0.04, -1), (0.64, 0)]]),
    ("Y", 0.66, [[(0, -1), (0.33, WAIST), (0.66, -1)], [(0.33, WAIST + MEET), (0.33, 0)]]),
    ("Z", 0.6, [[(0.04, -1), (0.58, -1), (0, 0), (0.6, 0)]]),
    ("0", 0.62, [_round(0.31, 0.31, 0, 360)]),
    ("1", 0.2, [[(0, -0.82), (0.2, -1), (0.2, 0)]]),
    ("4", 0.62, [[(0.46, 0), (0.46, -1), (0, -0.27), (0.62, -0.27)]]),
    ("9", 0.56, [_joined([(0.12, 0)], [(0.54, -0.6)], arc(0.28, -0.71, 0.28, 0.29, 20, 380))]),
    (".", 0.0, [[(0, 0), (0, 0)]]),
    ("'", 0.0, [[(0, -1), (-0.03, -0.8)]]),
    ("-", 0.3, [[(0, WAIST), (0.3, WAIST)]]),
    ("·", 0.06, [[(0.03, WAIST), (0.03, WAIST)]]),
]
GLYPHS: dict[str, tuple[float, list[Points]]] = {
    letter: (width, [points(line) for line in lines]) for letter, width, lines in _DRAWN
}
KERN = {
    "AT": -0.12, "TA": -0.12, "AV": -0.14, "VA": -0.14, "AW": -0.1, "WA": -0.1, "AY": -0.14, "YA": -0.14,
    "LT": -0.12, "LY": -0.12, "RT": -0.04, "TO": -0.06, "OT": -0.06, "LO": -0.04, "FO": -0.05, "PA": -0.1,
    "TT": 0.02, "TE": -0.02, "RO": -0.03, "KE": -0.02, "FA": -0.1, "RV": -0.04,
}  # fmt: skip


@dataclass(frozen=True)
class Pen:
    """Stroke width as a part of the capital height, letter spacing likewise, and the nib's shape."""

    weight: float = 0.15
    spacing: float = 0.2
    nib: float = 1.0
    slant: float = 0.0


def _placed(words: str, pen: Pen) -> tuple[list[tuple[float, str]], float]:
    """Left edge of each glyph's centre lines and the length of the whole, in capital heights."""
    at, x = [], pen.weight / 2
    for index, letter in enumerate(words):
        width, _ = GLYPHS[letter]
        at.append((x, letter))
        x += width + pen.weight + pen.spacing + KERN.get(words[index : index + 2], 0.0)
    return at, x - pen.spacing - pen.weight / 2


def length(words: str, height: float, pen: Pen) -> float:
    """Length of a straight line of words in units."""
    return _placed(words, pen)[1] * height


def line(words: str, x: float, y: float, height: float, pen: Pen, anchor: float = 0.5) -> Path:
    """Words on a straight baseline at y; `anchor` 0 starts at x, 0.5 is centred on it, 1 ends there."""
    at, whole = _placed(words, pen)
    start = x - whole * height * anchor
    path: Path = []
    for left, letter in at:
        for centre in GLYPHS[letter][1]:
            body = (centre + np.array([left, 0.0])) * height + np.array([start, y])
            path += stroke(body, pen.weight * height, pen.nib, pen.slant)
    return path


def around(words: str, cx: float, cy: float, radius: float, height: float, pen: Pen, middle: float = -90) -> Path:
    """Words along a circle, centred on the angle `middle`; in the lower half they stand with feet outward."""
    at, whole = _placed(words, pen)
    below = np.sin(np.radians(middle)) > 0
    path: Path = []
    for left, letter in at:
        width = GLYPHS[letter][0]
        along = (left + width / 2 - whole / 2) * height / radius
        angle = np.radians(middle) + (-along if below else along)
        tilt = angle - np.pi / 2 if below else angle + np.pi / 2
        turn = np.array([[np.cos(tilt), np.sin(tilt)], [-np.sin(tilt), np.cos(tilt)]])
        foot = np.array([cx + radius * np.cos(angle), cy + radius * np.sin(angle)])
        for centre in GLYPHS[letter][1]:
            body = ((centre - (width / 2, 0)) * height) @ turn + foot
            path += stroke(body, pen.weight * height, pen.nib, pen.slant)
    return path
