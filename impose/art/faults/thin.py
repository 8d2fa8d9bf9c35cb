"""Strokes and gaps by their width in pixels, whatever the picture's size in print will be.

A stroke shows as runs of ink of about its width, row after row or column after column; so does a gap between inks.
Runs up to 24 px are followed: one counts if eight rows further on it is still there, has moved no more than a pixel a
row and is no more than a pixel wider or narrower. So corners, curves and the grain of a worn stamp do not count. What
counts is added up by width in tiles of 64 x 64 px. A stroke that tapers has twice as many runs up to a width as up to
half of it, and one of even width nearly none below, so twice the lesser count is taken off. Strokes on a slant count as
up to 1.4 times as wide as they are. A tile in which the ink is not clear of the white, such as a photograph's, is
passed over. The measures are our own choice; no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.pixel_loops import TILE, WIDEST, BitMask, count_with_loops, load_pixel_loops
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

DOUBLINGS = 3  # two to this power are the rows a run is followed
RUNS, LEAST_RUNS, MOST_RUNS = 3, 12, 40  # in a tile: three for each pixel of width
UNCLEAR = 0.12  # share of a tile between ink and white beyond which it holds a photograph or a glow, not strokes


class ThinPart(FrozenStruct):
    """So many pixels of `length` are no wider than `width` pixels, most of them in the tile `box`."""

    width: int
    length: int
    box: tuple[int, int, int, int]


def find_thin_parts(
    solid: Array | BitMask, unclear: Array, step: int, stride: int, ink: tuple[int, int, int, int]
) -> tuple[tuple[ThinPart, ...], tuple[ThinPart, ...]]:
    """Strokes and gaps of a mask of ink, by increasing width; `step` is how many pixels of the picture one stands for.

    `unclear` is a mask of pixels that are neither ink nor white, one for `stride`. Both are powers of two
    up to 64. Only tiles that `ink`, a box in pixels of the picture, reaches are looked at.
    """
    left, top = (edge // (TILE * step) for edge in ink[:2])
    bottom, right = (-(-edge // step) for edge in (ink[3], ink[2]))
    if isinstance(solid, BitMask):
        solid = solid.cut_tiles(top, left, bottom, right)
    else:
        solid = solid[top * TILE : bottom, left * TILE : right]
    side = max(1, TILE * step // stride)
    unclear = unclear[top * side :, left * side :]
    high, wide = -(-solid.shape[0] // TILE), -(-solid.shape[1] // TILE)
    clear = _measure_shares(unclear, high, wide, side) <= UNCLEAR
    if not clear.any():  # as of some photographs
        return (), ()
    loops, clear = load_pixel_loops(), clear.reshape(high, wide)
    if isinstance(solid, BitMask):
        assert loops is not None  # they made it
        gaps, strokes = count_with_loops(loops, solid, clear)
    else:
        gaps, strokes = count_all_runs(solid, clear)
    corner = left * TILE * step, top * TILE * step
    return _list_thin_parts(strokes, step, corner), _list_thin_parts(gaps, step, corner)


def count_all_runs(solid: Array, clear: Array) -> tuple[Array, Array]:
    """Gaps and strokes of a mask: for each tile, how many lasting runs of each length begin in it where it is clear."""
    across = _count_runs(*_find_edges_across(solid), solid, clear, False)
    down = _count_runs(*_find_edges_down(solid), solid, clear, True)
    return across[0] + down[0], across[1] + down[1]


def _measure_shares(unclear: Array, high: int, wide: int, side: int) -> Array:
    """The share of set pixels in each tile of `side` of them, at most `TILE`."""
    import numpy as np

    sums = np.zeros((high, wide))
    tall, broad = -(-unclear.shape[0] // side), np.arange(0, unclear.shape[1], side)
    whole = np.zeros((tall, side, unclear.shape[1]), np.uint8)
    whole.reshape(tall * side, -1)[: len(unclear)] = unclear
    # Row upon row of bytes, which is many at once; so many fit a byte.
    found = np.add.reduceat(np.add.reduce(whole, axis=1, dtype=np.uint8), broad, axis=1, dtype=np.uint32)
    rows, columns = min(high, tall), min(wide, len(broad))
    sums[:rows, :columns] = found[:rows, :columns]
    return sums.ravel() / side**2


def _find_edges_across(solid: Array) -> tuple[Array, Array]:
    """Line and place of each change along the rows; the place is that of the first pixel after it."""
    import numpy as np

    turns = _narrow_numbers(np.flatnonzero(solid[:, 1:] != solid[:, :-1]), solid)
    lines, places = np.divmod(turns, max(1, solid.shape[1] - 1))
    return lines, places + 1


def _narrow_numbers(numbers: Array, solid: Array) -> Array:
    """Places in a mask in 32 bits, which is quicker by a third, where they fit with room for keys made of them."""
    import numpy as np

    return numbers.astype(np.int32) if solid.size + 8 * sum(solid.shape) < 1 << 30 else numbers


def _find_edges_down(solid: Array) -> tuple[Array, Array]:
    import numpy as np

    turns = _narrow_numbers(np.flatnonzero(solid[1:] != solid[:-1]), solid)
    places, lines = np.divmod(turns, solid.shape[1])
    # Sorting 16-bit numbers is done in one pass for each byte.
    small = lines.astype(np.uint16) if solid.shape[1] < 1 << 16 else lines
    order = np.argsort(small, kind="stable")
    return lines[order], places[order] + 1


def _count_runs(lines: Array, places: Array, solid: Array, clear: Array, down: bool) -> tuple[Array, Array]:
    """Gaps and strokes: for each tile, how many runs of each length up to the widest begin in it."""
    import numpy as np

    high, wide = clear.shape
    length = places[1:] - places[:-1]
    short = np.flatnonzero((lines[1:] == lines[:-1]) & (length <= WIDEST))
    line, place, length = lines[short], places[short], length[short]
    row, column = (place, line) if down else (line, place)
    # Photographs have most of the runs, and none that count.
    worth = clear[row // TILE, column // TILE]
    line, place, length, row, column = line[worth], place[worth], length[worth], row[worth], column[worth]
    ink = solid[row, column]
    lasting = _find_lasting_runs(line, place, length, ink)
    row, column, length, ink = row[lasting], column[lasting], length[lasting], ink[lasting]
    slot = ((row // TILE) * wide + column // TILE) * (WIDEST + 1) + length
    size = high * wide * (WIDEST + 1)
    gaps, strokes = (np.bincount(slot[ink == kind], minlength=size).reshape(high, wide, -1) for kind in (False, True))
    return gaps, strokes


def _find_lasting_runs(line: Array, place: Array, length: Array, ink: Array) -> Array:
    """Which runs are followed by like ones, each beside the last, for as many lines as they have to be."""
    import numpy as np

    lasting = np.zeros(len(line), np.bool_)
    for kind in (False, True):
        chosen = np.flatnonzero(ink == kind)
        if len(chosen):
            lasting[chosen] = _find_followed_runs(line[chosen], place[chosen], length[chosen])
    return lasting


def _find_followed_runs(line: Array, place: Array, length: Array) -> Array:
    import numpy as np

    count = len(line)
    width = int(place.max()) + 4
    key = line * width + place
    after = np.full(count + 1, count)  # the last stands for nothing, and is followed by itself
    nearest = np.searchsorted(key, key + width - 1)
    for other in (nearest + 1, nearest):
        inside = np.minimum(other, count - 1)
        like = (other < count) & (key[inside] <= key + width + 1) & (abs(length[inside] - length) <= 1)
        after[:-1][like] = inside[like]
    for _ in range(DOUBLINGS):
        after = after[after]
    last = np.minimum(after[:-1], count - 1)
    return np.asarray((after[:-1] < count) & (abs(length[last] - length) <= 1))


def _list_thin_parts(counts: Array, step: int, corner: tuple[int, int]) -> tuple[ThinPart, ...]:
    import numpy as np

    wide = counts.shape[1]
    tiles = np.flatnonzero(counts.any(axis=2))
    if not len(tiles):
        return ()
    upto = counts.reshape(-1, counts.shape[2])[tiles].cumsum(axis=1)
    widths = np.arange(WIDEST + 1)
    even = upto - upto[:, widths // 2] - upto[:, (widths + 1) // 2]
    even[:, 1] = upto[:, 1]
    held = even * (even >= np.clip(RUNS * widths, LEAST_RUNS, MOST_RUNS))
    lengths, best = held.sum(axis=0), held.argmax(axis=0)
    found = [width for width in range(1, WIDEST + 1) if lengths[width]]
    return tuple(
        ThinPart(w * step, int(lengths[w]) * step, _tile_box(int(tiles[best[w]]), wide, step, corner)) for w in found
    )


def _tile_box(index: int, wide: int, step: int, corner: tuple[int, int]) -> tuple[int, int, int, int]:
    row, column = divmod(index, wide)
    size = TILE * step
    left, top = corner[0] + column * size, corner[1] + row * size
    return left, top, left + size, top + size
