"""A flat colour exchanged in pixels: whole where it is whole, and by its share where edges blend it with others.

A drawing program makes the pixels of an edge by mixing what lies on either side of it. How much of the colour is in a
pixel is found again from the colours around: the pixel lies on the line between the colour and that of a neighbour, and
where on it says the share. Mixing is that of numbers, over what is clear with alpha multiplied in (Porter and Duff,
1984), as paint programs and renderers of drawings do it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import TYPE_CHECKING, Any

from impose.art.flat_colours import NEAR, Levels
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]


class EdgeLimits(FrozenStruct):
    """How exactly a picture keeps its colours: pixels within `near` levels are the colour, edges lie within `reach`
    pixels of it, and a blend within `beside` levels of its line. What is no blend and within `rim` is the colour too.
    """

    near: int
    reach: int
    beside: float
    rim: float


EXACT = EdgeLimits(NEAR, 2, 9.0, 0.0)
LOSSY = EdgeLimits(12, 4, 40.0, 90.0)
"""A lossy format leaves noise in areas, and swings and smeared colours along edges (ITU-T T.81 says how; the figures
are measured on JPEG of quality 75 to 95)."""

_LOSSY_SHARE = 0.01  # of the inside of a flat colour's areas that is a level or more off it
BAND = 512
"""Rows handled at a time, so that all but the picture itself is small."""

_FLAT_NEIGHBOURS = 3  # of 8 that equal it: then it is a colour of its own; along a straight edge they are 2
_CHUNK = 1 << 18


def is_lossy(pixels: Array, colour: Levels) -> bool:
    """Whether the picture's areas of a colour are noisy, as a lossy format leaves them; edges do not count."""
    inside = ~_grow_mask(~_match_colour(pixels, colour, LOSSY.near), LOSSY.reach)
    noisy = inside & ~_match_colour(pixels, colour, 0)
    return bool(noisy.sum() > _LOSSY_SHARE * inside.sum())


def exchange_colours(
    pixels: Array,
    changes: Sequence[tuple[Sequence[Levels], Levels]],
    limits: EdgeLimits = EXACT,
    kept: Sequence[Levels] = (),
) -> None:
    """Exchange colours in rows of RGB or RGBA pixels, in place.

    Each change is a colour, first, with what else a lossy format made of it, and what takes its place. All changes are
    those of the picture as it was: two colours can change places. Pixels of the colours `kept` stay what they are.
    """
    import numpy as np

    above = pixels[:0]
    for top in range(0, len(pixels), BAND):
        bottom = min(top + BAND, len(pixels))
        band = np.concatenate([above, pixels[top : bottom + limits.reach]])
        start = len(above)
        above = pixels[max(0, bottom - limits.reach) : bottom].copy()
        _exchange_in_band(band, changes, limits, kept)
        pixels[top:bottom] = band[start : start + bottom - top]


def _exchange_in_band(
    pixels: Array,
    changes: Sequence[tuple[Sequence[Levels], Levels]],
    limits: EdgeLimits,
    kept: Sequence[Levels],
) -> None:
    """The same for rows that bring along as many on either side as edges are looked for in."""
    import numpy as np

    held = np.zeros(pixels.shape[:2], np.bool_)
    for colour in kept:
        held |= _match_colour(pixels, colour, limits.near)
    made: list[tuple[Array, Array]] = []
    whole: list[tuple[Array, Levels]] = []
    for shades, after in changes:
        same = np.logical_or.reduce([_match_colour(pixels, shade, limits.near) for shade in shades])
        whole.append((same, after))
        made += _blend_edges(pixels, same, held, (shades[0], after), limits)
    if made:
        at, back = np.unique(np.concatenate([places for places, _ in made]), return_inverse=True)
        moved = np.zeros((len(at), 3))
        np.add.at(moved, back, np.concatenate([shift for _, shift in made]))
        _apply_shifts(pixels, at, moved)
    for same, after in whole:
        pixels[same, :3] = after


def _match_colour(pixels: Array, colour: Levels, near: int) -> Array:
    """Where a pixel has the colour to `near` levels, whatever its alpha."""
    import numpy as np

    same = np.ones(pixels.shape[:2], np.bool_)
    for channel, level in enumerate(colour):
        values = pixels[:, :, channel]
        same &= (values >= max(0, level - near)) & (values <= min(255, level + near))
    if pixels.shape[2] == 4:
        same &= pixels[:, :, 3] > 0
    return same


def _blend_edges(
    pixels: Array, same: Array, held: Array, change: tuple[Levels, Levels], limits: EdgeLimits
) -> Iterator[tuple[Array, Array]]:
    """Places of edge pixels, counted row by row, and by how much each of their colours moves, alpha multiplied in."""
    import numpy as np

    before, after = change
    places = np.flatnonzero(_grow_mask(same, limits.reach) & ~same & ~held)
    if pixels.shape[2] == 4:
        places = places[pixels.reshape(-1, 4)[places, 3] > 0]
    step = np.array(after, np.float64) - np.array(before, np.float64)
    for start in range(0, len(places), _CHUNK):
        chunk = places[start : start + _CHUNK]
        share = _measure_shares(pixels, chunk, before, limits)
        mixed = share > 0
        yield chunk[mixed], share[mixed, None] * step


def _grow_mask(mask: Array, reach: int) -> Array:
    """The mask and all within `reach` of it."""
    for axis in (0, 1):
        grown = mask.copy()
        for by in range(1, reach + 1):
            near, far = [slice(None)] * 2, [slice(None)] * 2
            near[axis], far[axis] = slice(by, None), slice(None, -by)
            grown[tuple(near)] |= mask[tuple(far)]
            grown[tuple(far)] |= mask[tuple(near)]
        mask = grown
    return mask


def _read_mixed(pixels: Array, rows: Array, columns: Array) -> Array:
    """Pixels as they mix: red, green, blue with alpha multiplied in, and alpha; levels of 255."""
    import numpy as np

    height, width = pixels.shape[:2]
    found: Array = pixels[np.clip(rows, 0, height - 1), np.clip(columns, 0, width - 1)].astype(np.float64)
    if found.shape[1] == 3:
        return np.concatenate([found, np.full((len(found), 1), 255.0)], axis=1)
    found[:, :3] *= found[:, 3:] / 255
    return np.asarray(found)


def _measure_shares(pixels: Array, places: Array, colour: Levels, limits: EdgeLimits) -> Array:
    """How much of the colour is in each of some pixels, from 0 to 1."""
    import numpy as np

    rows, columns = np.divmod(places, pixels.shape[1])
    pure = np.array([*colour, 255.0])
    own = _read_mixed(pixels, rows, columns) - pure
    size = np.sqrt((own**2).sum(axis=1))
    farthest, equal = np.zeros(len(places)), np.zeros(len(places), np.intp)
    span = range(-limits.reach, limits.reach + 1)
    around = [
        (y, x, _read_mixed(pixels, rows + y, columns + x) - pure) for y, x in product(span, span) if (y, x) != (0, 0)
    ]
    for y, x, other in around:
        if max(abs(y), abs(x)) == 1:
            equal += np.abs(other - own).max(axis=1) <= 1
        length = np.sqrt((other**2).sum(axis=1))
        along = (own * other).sum(axis=1) / np.maximum(length, 1e-9)
        beside = np.sqrt(np.maximum(size**2 - along**2, 0))
        fits = (beside <= limits.beside) & (along > 0) & (length >= size - 1) & (length > 4 * NEAR)
        np.maximum(farthest, np.where(fits, length, 0), out=farthest)
    share = np.where(farthest > 0, 1 - size / np.maximum(farthest, 1e-9), 0)
    lone = (farthest <= size + 1) & (equal < _FLAT_NEIGHBOURS)
    if lone.any():
        grounds = [np.full(4, 255.0) - pure] + ([-pure] if pixels.shape[2] == 4 else [])
        share[lone] = _measure_of_three(own[lone], [other[lone] for _, _, other in around], grounds, limits.beside)
    share = np.where(equal < _FLAT_NEIGHBOURS, np.clip(share, 0, 1), 0)
    share[(size <= limits.rim) & (share < 0.5)] = 1.0
    return share


def _measure_of_three(own: Array, around: Sequence[Array], grounds: Sequence[Array], beside: float) -> Array:
    """The share in pixels where the colour, a second one and a ground meet: what is clear, or white."""
    import numpy as np

    best, share = np.full(len(own), beside), np.zeros(len(own))
    for other, ground in product(around, grounds):
        # own = second * other + rest * ground, by least squares; what is left of 1 is the colour.
        aa, ab, bb = (other**2).sum(axis=1), other @ ground, float(ground @ ground)
        det = aa * bb - ab**2
        x, y = (own * other).sum(axis=1), own @ ground
        usable = det > 1e-3 * np.maximum(aa * bb, 1e-9)
        scale = np.where(usable, det, 1.0)
        second, rest = (x * bb - y * ab) / scale, (y * aa - x * ab) / scale
        off = np.sqrt(((own - second[:, None] * other - rest[:, None] * ground) ** 2).sum(axis=1))
        fits = usable & (second >= 0) & (rest >= 0) & (second + rest <= 1 + 1e-9) & (off < best - 1e-6)
        best, share = np.where(fits, off, best), np.where(fits, 1 - second - rest, share)
    return share


def _apply_shifts(pixels: Array, at: Array, moved: Array) -> None:
    """Move the colours of some pixels."""
    import numpy as np

    flat = pixels.reshape(-1, pixels.shape[2])
    old = flat[at, :3]
    alpha = flat[at, 3:].astype(np.float64) if pixels.shape[2] == 4 else np.full((len(at), 1), 255.0)
    flat[at, :3] = np.clip(np.rint(old + moved * 255 / alpha), 0, 255).astype(np.uint8)
