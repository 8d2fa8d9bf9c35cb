"""Strokes and gaps by their width in pixels, whatever the picture's size in print will be.

A stroke shows as runs of ink of about its width, row after row or column after column; so does a gap between inks.
Runs up to 24 px are counted by their length in tiles of 64 x 64 px. A tile holds strokes of a width where at least
six times as many runs are no longer than it: the tips of corners, curves and letters make only a few such runs (a
corner of 60 degrees less than one for each pixel of width). Strokes on a slant count as up to 1.4 times as wide as they
are. A tile in which the ink is not clear of the white, such as the grain of a photograph, is passed over.
The measures are our own choice; no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

WIDEST = 24
TILE = 64
RUNS = 6
LEAST_RUNS = 18
UNCLEAR = 0.12  # share of a tile between ink and white beyond which it holds a photograph or a glow, not strokes


@dataclass(frozen=True, slots=True)
class Thin:
    """So many pixels of `length` are no wider than `width` pixels, most of them in the tile `box`."""

    width: int
    length: int
    box: tuple[int, int, int, int]


def thin_parts(solid: Array, unclear: Array, step: int) -> tuple[tuple[Thin, ...], tuple[Thin, ...]]:
    """Strokes and gaps of a mask of ink, by increasing width; `step` is how many pixels of the picture one stands for.

    `unclear` is a mask, coarser by any whole factor, of pixels that are neither ink nor white.
    """
    high, wide = -(-solid.shape[0] // TILE), -(-solid.shape[1] // TILE)
    clear = _shares(unclear, high, wide, solid.shape) <= UNCLEAR
    across = _counted(*_edges(solid), solid, high, wide, False)
    down = _counted(*_edges_down(solid), solid, high, wide, True)
    strokes, gaps = (_thin(across[kind] + down[kind], clear, step) for kind in (1, 0))
    return strokes, gaps


def _shares(unclear: Array, high: int, wide: int, shape: tuple[int, ...]) -> Array:
    """The share of set pixels in each tile."""
    import numpy as np

    rows = np.arange(unclear.shape[0]) * shape[0] // unclear.shape[0] // TILE
    columns = np.arange(unclear.shape[1]) * shape[1] // unclear.shape[1] // TILE
    tiles = (rows[:, None] * wide + columns).ravel()
    of = np.maximum(np.bincount(tiles, minlength=high * wide), 1)
    return np.asarray(np.bincount(tiles, weights=unclear.ravel(), minlength=high * wide) / of)


def _edges(solid: Array) -> tuple[Array, Array]:
    """Line and place of each change along the rows; the place is that of the first pixel after it."""
    import numpy as np

    turns = np.flatnonzero(solid[:, 1:] != solid[:, :-1])
    lines, places = np.divmod(turns, max(1, solid.shape[1] - 1))
    return lines, places + 1


def _edges_down(solid: Array) -> tuple[Array, Array]:
    import numpy as np

    turns = np.flatnonzero(solid[1:] != solid[:-1])
    places, lines = np.divmod(turns, solid.shape[1])
    # Sorting 16-bit numbers is done in one pass for each byte.
    small = lines.astype(np.uint16) if solid.shape[1] < 1 << 16 else lines
    order = np.argsort(small, kind="stable")
    return lines[order], places[order] + 1


def _counted(lines: Array, places: Array, solid: Array, high: int, wide: int, down: bool) -> tuple[Array, Array]:
    """Gaps and strokes: for each tile, how many runs of each length up to the widest begin in it."""
    import numpy as np

    length = places[1:] - places[:-1]
    short = np.flatnonzero((lines[1:] == lines[:-1]) & (length <= WIDEST))
    line, place, length = lines[short], places[short], length[short]
    row, column = (place, line) if down else (line, place)
    ink = solid[row, column]
    slot = ((row // TILE) * wide + column // TILE) * (WIDEST + 1) + length
    size = high * wide * (WIDEST + 1)
    gaps, strokes = (np.bincount(slot[ink == kind], minlength=size).reshape(high, wide, -1) for kind in (False, True))
    return gaps, strokes


def _thin(counts: Array, clear: Array, step: int) -> tuple[Thin, ...]:
    import numpy as np

    high, wide, _ = counts.shape
    upto = counts.cumsum(axis=2).reshape(high * wide, -1)
    widths = np.arange(WIDEST + 1)
    held = (upto >= np.maximum(RUNS * widths, LEAST_RUNS)) & clear[:, None]
    lengths = (upto * held).sum(axis=0)
    best = (upto * held).argmax(axis=0)
    found: list[int] = []
    for width in range(1, WIDEST + 1):
        if lengths[width] > (lengths[found[-1]] if found else 0):
            found.append(width)
    return tuple(Thin(w * step, int(lengths[w]) * step, _tile(int(best[w]), wide, step)) for w in found)


def _tile(index: int, wide: int, step: int) -> tuple[int, int, int, int]:
    row, column = divmod(index, wide)
    size = TILE * step
    return column * size, row * size, (column + 1) * size, (row + 1) * size
