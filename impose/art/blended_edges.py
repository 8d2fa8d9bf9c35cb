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

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

REACH = 2
"""Pixels from the colour within which edges are looked for: those of a picture that was made larger or smaller too."""

_OFF_LINE = 9.0  # levels that rounding, and a lossy format, put a blend beside its line
_FLAT_NEIGHBOURS = 3  # of 8 that equal it: then it is a colour of its own; along a straight edge they are 2
_CHUNK = 1 << 18


def exchange_colours(pixels: Array, changes: Sequence[tuple[Levels, Levels]]) -> int:
    """Exchange colours, from each to each, in rows of RGB or RGBA pixels, in place; returns how many pixels changed.

    All changes are those of the picture as it was: two colours can change places.
    """
    import numpy as np

    made: list[tuple[Array, Array]] = []
    whole: list[tuple[Array, Levels]] = []
    for before, after in changes:
        same = _match_colour(pixels, before)
        whole.append((same, after))
        made += _blend_edges(pixels, same, before, after)
    count = 0
    if made:
        at, back = np.unique(np.concatenate([places for places, _ in made]), return_inverse=True)
        moved = np.zeros((len(at), 3))
        np.add.at(moved, back, np.concatenate([shift for _, shift in made]))
        count += _apply_shifts(pixels, at, moved)
    for same, after in whole:
        pixels[same, :3] = after
        count += int(same.sum())
    return count


def _match_colour(pixels: Array, colour: Levels) -> Array:
    """Where a pixel has the colour, whatever its alpha."""
    import numpy as np

    same = np.ones(pixels.shape[:2], np.bool_)
    for channel, level in enumerate(colour):
        values = pixels[:, :, channel]
        same &= (values >= max(0, level - NEAR)) & (values <= min(255, level + NEAR))
    if pixels.shape[2] == 4:
        same &= pixels[:, :, 3] > 0
    return same


def _blend_edges(pixels: Array, same: Array, before: Levels, after: Levels) -> Iterator[tuple[Array, Array]]:
    """Places of edge pixels, counted row by row, and by how much each of their colours moves, alpha multiplied in."""
    import numpy as np

    places = np.flatnonzero(_grow(same) & ~same)
    if pixels.shape[2] == 4:
        places = places[pixels.reshape(-1, 4)[places, 3] > 0]
    step = np.array(after, np.float64) - np.array(before, np.float64)
    for start in range(0, len(places), _CHUNK):
        chunk = places[start : start + _CHUNK]
        share = _measure_shares(pixels, chunk, before)
        mixed = share > 0
        yield chunk[mixed], share[mixed, None] * step


def _grow(mask: Array) -> Array:
    """The mask and all within `REACH` of it."""
    for axis in (0, 1):
        grown = mask.copy()
        for by in range(1, REACH + 1):
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
    found = pixels[np.clip(rows, 0, height - 1), np.clip(columns, 0, width - 1)].astype(np.float64)
    if found.shape[1] == 3:
        return np.concatenate([found, np.full((len(found), 1), 255.0)], axis=1)
    found[:, :3] *= found[:, 3:] / 255
    return found


def _measure_shares(pixels: Array, places: Array, colour: Levels) -> Array:
    """How much of the colour is in each of some pixels, from 0 to 1."""
    import numpy as np

    rows, columns = np.divmod(places, pixels.shape[1])
    pure = np.array([*colour, 255.0])
    own = _read_mixed(pixels, rows, columns) - pure
    size = np.sqrt((own**2).sum(axis=1))
    farthest, equal = np.zeros(len(places)), np.zeros(len(places), np.intp)
    around = [
        (y, x, _read_mixed(pixels, rows + y, columns + x) - pure)
        for y in range(-REACH, REACH + 1)
        for x in range(-REACH, REACH + 1)
        if (y, x) != (0, 0)
    ]
    for y, x, other in around:
        if max(abs(y), abs(x)) == 1:
            equal += np.abs(other - own).max(axis=1) <= 1
        length = np.sqrt((other**2).sum(axis=1))
        along = (own * other).sum(axis=1) / np.maximum(length, 1e-9)
        beside = np.sqrt(np.maximum(size**2 - along**2, 0))
        fits = (beside <= _OFF_LINE) & (along > 0) & (length >= size - 1) & (length > 4 * NEAR)
        np.maximum(farthest, np.where(fits, length, 0), out=farthest)
    share = np.where(farthest > 0, 1 - size / np.maximum(farthest, 1e-9), 0)
    lone = (farthest <= size + 1) & (equal < _FLAT_NEIGHBOURS)
    if lone.any():
        grounds = [np.full(4, 255.0) - pure] + ([-pure] if pixels.shape[2] == 4 else [])
        share[lone] = _measure_of_three(own[lone], [other[lone] for _, _, other in around], grounds)
    share[size <= _OFF_LINE] = 1.0  # the colour itself, as a lossy format left it
    return np.where(equal < _FLAT_NEIGHBOURS, np.clip(share, 0, 1), 0)


def _measure_of_three(own: Array, around: Sequence[Array], grounds: Sequence[Array]) -> Array:
    """The share in pixels where the colour, a second one and a ground meet: what is clear, or white."""
    import numpy as np

    best, share = np.full(len(own), _OFF_LINE), np.zeros(len(own))
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


def _apply_shifts(pixels: Array, at: Array, moved: Array) -> int:
    """Move the colours of some pixels, and return how many changed."""
    import numpy as np

    flat = pixels.reshape(-1, pixels.shape[2])
    old = flat[at, :3]
    alpha = flat[at, 3:].astype(np.float64) if pixels.shape[2] == 4 else np.full((len(at), 1), 255.0)
    new = np.clip(np.rint(old + moved * 255 / alpha), 0, 255).astype(np.uint8)
    flat[at, :3] = new
    return int((new != old).any(axis=1).sum())
