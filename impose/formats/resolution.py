"""How finely a drawing is rendered: so that its ink has 400 pixels an inch at the size it is printed in.

The ink is found on a small rendering first; then the drawing is rendered once more, that much larger.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from impose.art.decode import DecodedFrame
from impose.art.ink import PixelBox, find_ink

PPI = 400
"""Pixels an inch at the final size: more than a transfer keeps (common practice, no source)."""

MOST_PIXELS = 60_000_000
"""Of one rendering: a full back of 400 mm square at 400 pixels an inch has 40 million."""

FIRST_SIDE = 1000
"""Pixels of the longer side of the first, small rendering."""

_ENOUGH = 300  # pixels of ink by which its size is known to a third of a per cent

Size = tuple[float | None, float | None]
"""Width and height of the ink in print, millimetres: both mean fit inside; None leaves it to the other."""


def find_rendered_ink(frame: DecodedFrame, tint: float, keep_specks: bool) -> PixelBox | None:
    """The ink of a rendering, None where there is none."""
    found = find_ink(frame, tint, keep_specks)
    return None if found is None else found.bounds


def choose_first_zoom(width: float, height: float) -> float:
    """Pixels to a unit of the small rendering."""
    return FIRST_SIDE / max(width, height)


def find_drawn_ink(
    render: Callable[[float], DecodedFrame], width: float, height: float, tint: float, keep_specks: bool
) -> tuple[float, float, float, float] | None:
    """Left, top, right, bottom of a drawing's ink in its own units, found on a rendering fine enough to tell."""
    zoom = choose_first_zoom(width, height)
    box = find_rendered_ink(render(zoom), tint, keep_specks)
    if box is None:
        # Something so small that it vanishes is still there on a finer one.
        zoom = limit_zoom(width, height, MOST_PIXELS // 8)
        box = find_rendered_ink(render(zoom), tint, keep_specks)
    if box is None:
        return None
    longer = max(box[2] - box[0], box[3] - box[1])
    if longer < _ENOUGH and (finer := min(zoom * _ENOUGH / longer, limit_zoom(width, height, MOST_PIXELS // 4))) > zoom:
        box, zoom = find_rendered_ink(render(finer), tint, keep_specks) or box, finer
    return box[0] / zoom, box[1] / zoom, box[2] / zoom, box[3] / zoom


def limit_zoom(width: float, height: float, pixels: float) -> float:
    """Pixels to a unit so that the whole has no more than so many, either side rounded out to whole ones at both ends.

    That is the root of (width zoom + 2) (height zoom + 2) = pixels.
    """
    area, half = width * height, width + height
    return (math.sqrt(half**2 + area * max(pixels - 4, 1)) - half) / area


def choose_zoom(ink: tuple[float, float, float, float], size: Size) -> float:
    """Pixels to a unit so that the ink has 400 to the inch in its size."""
    wide, high = ink[2] - ink[0], ink[3] - ink[1]
    scale = min(mm / units for mm, units in ((size[0], wide), (size[1], high)) if mm is not None)
    return scale * PPI / 25.4
