"""The compiled loops over pixels, with their arguments stated: see `impose/native/pixels.c` and `strokes.c`.

Each does what a way in numpy beside its caller does as well, to the byte; where no library was built there is that way
alone. Arrays may be views of memory turned or mirrored, as a camera's picture is: the loops go along the memory, and
what they find is turned.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from impose.native.library import load_library

if TYPE_CHECKING:
    import ctypes

    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

BLOCK, TILE, WIDEST = 8, 64, 24
MOST_SIDE = 256
"""Pixels along a side of a square to be averaged: more might not fit the sums."""

_KEPT = 16  # lines of runs


@cache
def load_pixel_loops() -> ctypes.CDLL | None:
    """The library with the types of its arguments, None where there is none."""
    library = load_library()
    if library is None:
        return None
    from ctypes import c_int32 as short
    from ctypes import c_int64 as long
    from ctypes import c_void_p as memory

    types = {
        "survey_pixels": [
            memory, long, long, long, short, short, short, long, long, memory, memory, long, long, long, memory,
        ],
        "average_squares": [memory, long, long, long, short, long, long, long, memory, memory],
        "count_runs": [memory, long, long, long, long, memory, long, long, long, memory, memory, memory],
    }  # fmt: skip
    for name, arguments in types.items():
        function = getattr(library, name)
        function.argtypes, function.restype = arguments, None
    return library


class StoredPixels(NamedTuple):
    """Pixels as rows that go up in memory, and how they were meant: with lines for columns, mirrored, or both."""

    pixels: Array
    transposed: bool
    mirrored: bool

    def turn_back(self, found: Array) -> Array:
        """What was found in the rows of memory, as a view in the order that was meant."""
        meant = found[:, ::-1] if self.mirrored else found
        return meant.swapaxes(0, 1) if self.transposed else meant


def follow_memory(pixels: Array) -> StoredPixels:
    """An array of rows, columns and channels in the order of its memory; copied where it has none."""
    import numpy as np

    channels = pixels.shape[2]
    high, wide, deep = pixels.strides
    transposed = abs(wide) != channels and abs(high) == channels
    rows = pixels.swapaxes(0, 1) if transposed else pixels
    if deep != 1 or abs(rows.strides[1]) != channels:
        return StoredPixels(np.ascontiguousarray(pixels), False, False)
    mirrored = rows.strides[1] < 0
    return StoredPixels(rows[:, ::-1] if mirrored else rows, transposed, mirrored)


def _measure_lead(length: int, side: int, mirrored: bool) -> int:
    """How long the first square of a row is: where squares are counted from the far end, what is left over."""
    return min(length, ((length - 1) % side + 1) if mirrored else side)


def survey_with_loops(
    loops: ctypes.CDLL, pixels: Array, alpha: bool, levels: int, step: int = 1, offset: int = 0
) -> tuple[Array, Array]:
    """Blocks that may hold ink, and which pixels are clear ink, of every `step`-th column and row from `offset` on.

    Of turned pixels `offset` has to be 0.
    """
    import numpy as np

    # With alpha a block is judged by its columns, which must not become rows.
    stored = follow_memory(np.ascontiguousarray(pixels) if alpha else pixels)
    rows = stored.pixels
    height, width, channels = rows.shape
    blocks = np.empty((-(-height // BLOCK), -(-width // BLOCK)), np.bool_)
    across = (width - 1) % step if stored.mirrored else 0
    solid = np.empty((max(0, -(-(height - offset) // step)), -(-(width - across) // step)), np.bool_)
    scratch = np.empty(2 * width * channels, np.uint8)
    loops.survey_pixels(
        rows.ctypes.data, rows.strides[0], width, height, channels, alpha, levels,
        _measure_lead(width, BLOCK, stored.mirrored), min(height, BLOCK), blocks.ctypes.data,
        solid.ctypes.data, step, across, offset, scratch.ctypes.data,
    )  # fmt: skip
    return stored.turn_back(blocks), stored.turn_back(solid)


def count_with_loops(loops: ctypes.CDLL, solid: Array, clear: Array) -> tuple[Array, Array]:
    """Gaps and strokes, along rows and along columns together: for each tile how many runs of each length last."""
    import numpy as np

    tall, wide = clear.shape
    counts = np.zeros((2, tall, wide, WIDEST + 1), np.int64)
    clear = np.ascontiguousarray(clear)
    scratch = np.empty(TILE * max(solid.shape), np.uint8)
    runs = np.empty(2 * _KEPT * (max(solid.shape) // 2 + 1) * 4, np.int32)
    down, across = solid.strides
    for lines, span, line_step, place_step, tile_line, tile_step in (
        (*solid.shape, down, across, wide, 1),
        (*solid.shape[::-1], across, down, 1, wide),
    ):
        loops.count_runs(
            solid.ctypes.data, line_step, place_step, lines, span, clear.ctypes.data, tile_line, tile_step,
            tall * wide, counts.ctypes.data, scratch.ctypes.data, runs.ctypes.data,
        )  # fmt: skip
    return counts[0], counts[1]


def average_with_loops(loops: ctypes.CDLL, pixels: Array, side: int) -> Array:
    """The averages over squares of pixels, as `Image.reduce` makes them; `side` is at most `MOST_SIDE`."""
    import numpy as np

    stored = follow_memory(pixels)
    rows = stored.pixels
    height, width, channels = rows.shape
    averages = np.empty((-(-height // side), -(-width // side), channels), np.uint8)
    scratch = np.empty(width * channels, np.uint16)
    loops.average_squares(
        rows.ctypes.data, rows.strides[0], width, height, channels, side,
        _measure_lead(width, side, stored.mirrored), min(height, side), averages.ctypes.data, scratch.ctypes.data,
    )  # fmt: skip
    return np.ascontiguousarray(stored.turn_back(averages))
