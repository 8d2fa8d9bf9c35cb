"""The compiled loops over pixels, with their arguments stated: see the sources in `impose/native`.

Each does what a way in numpy beside its caller does as well, to the byte; where no library was built there is that way
alone. Arrays may be views of memory turned or mirrored, as a camera's picture is: the loops go along the memory, and
what they find is turned.
"""

from __future__ import annotations

import os
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from impose.native.library import KEEP_MEMORY, load_library

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
    if os.environ.get(KEEP_MEMORY) == "1":
        library.keep_memory()
    from ctypes import c_int32 as short
    from ctypes import c_int64 as long
    from ctypes import c_void_p as memory

    types = {
        "survey_pixels": [
            memory, long, long, long, short, short, short, long, memory, memory, long, long, long, short, memory,
            memory,
        ],
        "survey_and_average": [
            memory, long, long, long, short, short, long, memory, memory, long, long, short, memory, memory,
            long, long, memory, memory,
        ],
        "average_squares": [memory, long, long, long, short, long, long, long, short, memory, memory],
        "count_runs": [
            memory, long, long, long, memory, long, long, long, memory, memory, memory, memory, memory,
        ],
        "filter_pixels": [
            memory, long, long, long, short, short, memory, memory, memory, memory, memory, memory,
        ],
        "sum_levels": [memory, long, long, short, memory, memory],
        "find_marker": [memory, long, long],
        "unfilter_rows": [memory, long, long, long, short, short, memory, memory],
        "deflate_runs": [memory, long, memory, memory, memory],
    }  # fmt: skip
    counting = ("average_squares", "find_marker", "unfilter_rows", "deflate_runs")
    for name, arguments in types.items():
        function = getattr(library, name)
        function.argtypes, function.restype = arguments, long if name in counting else None
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


class BitMask(NamedTuple):
    """A mask of rows and columns as bits: lines of words of 64, the lowest bit first; lines are rows or, `transposed`,
    columns. `span` are the bits of a line; what the last word holds beyond is no matter."""

    words: Array
    span: int
    transposed: bool = False

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        lines = len(self.words)
        return (self.span, lines) if self.transposed else (lines, self.span)

    def cut_tiles(self, top: int, left: int, bottom: int, right: int) -> BitMask:
        """The part from a tile's corner, both counted in tiles, to a pixel's."""
        height, width = self.shape
        bottom, right = min(bottom, height), min(right, width)
        if self.transposed:
            return BitMask(self.words[left * TILE : right, top:], bottom - top * TILE, True)
        return BitMask(self.words[top * TILE : bottom, left:], right - left * TILE)

    def unpack_bits(self) -> Array:
        """The mask as an array of truth values."""
        import numpy as np

        bits = np.unpackbits(self.words.view(np.uint8), axis=1, count=self.span, bitorder="little").view(np.bool_)
        return bits.T if self.transposed else bits


def copy_in_order(pixels: Array) -> Array:
    """Rows, columns and channels as one piece of memory in that order; what is one already is not copied."""
    import numpy as np

    if pixels.shape[2] != 4 or pixels.strides[2] != 1:
        return np.ascontiguousarray(pixels)
    # Four channels as one number, which is moved at once.
    return np.ascontiguousarray(pixels.view("<u4")).view(np.uint8)


def follow_memory(pixels: Array) -> StoredPixels:
    """An array of rows, columns and channels in the order of its memory; copied where it has none."""
    channels = pixels.shape[2]
    high, wide, deep = pixels.strides
    transposed = abs(wide) != channels and abs(high) == channels
    rows = pixels.swapaxes(0, 1) if transposed else pixels
    if deep != 1 or abs(rows.strides[1]) != channels:
        return StoredPixels(copy_in_order(pixels), False, False)
    mirrored = rows.strides[1] < 0
    return StoredPixels(rows[:, ::-1] if mirrored else rows, transposed, mirrored)


def locate_array(array: Array) -> int:
    """The address of its first element, which whoever asks keeps alive. To ask takes as long as 10,000 pixels."""
    return array.ctypes.data


def _measure_lead(length: int, side: int, mirrored: bool) -> int:
    """How long the first square of a row is: where squares are counted from the far end, what is left over."""
    return min(length, ((length - 1) % side + 1) if mirrored else side)


def count_with_loops(loops: ctypes.CDLL, solid: BitMask, clear: Array) -> tuple[Array, Array]:
    """Gaps and strokes, along rows and along columns together: for each tile how many runs of each length last."""
    import numpy as np

    tall, wide = clear.shape
    lines, span = len(solid.words), solid.span
    counts = np.zeros((2, tall, wide, WIDEST + 1), np.int64)
    turned = np.empty(TILE * -(-lines // TILE), np.uint64)
    most = 2 * _KEPT * (max(lines, span) // 2 + 4)
    numbers, lengths = np.empty(2 * most, np.int32), np.empty(most, np.uint8)
    clear, busy = np.ascontiguousarray(clear), np.zeros(clear.shape, np.bool_)
    tile_line, tile_step = (1, wide) if solid.transposed else (wide, 1)
    loops.count_runs(
        locate_array(solid.words), solid.words.strides[0] // 8, lines, span, locate_array(clear), tile_line, tile_step,
        tall * wide, locate_array(counts), locate_array(busy), locate_array(turned), locate_array(numbers),
        locate_array(lengths),
    )  # fmt: skip
    return counts[0], counts[1]


class SquareSums:
    """Averages over squares of pixels, as `Image.reduce` makes them, of rows that come in parts.

    The picture is `width` by `height`, a square's `side` at most `MOST_SIDE`; `averages` is an array of rows, columns
    and channels once all rows have come.
    """

    def __init__(self, loops: ctypes.CDLL, width: int, height: int, channels: int, side: int) -> None:
        import numpy as np

        self._loops, self._side, self._left, self._held, self._done = loops, side, height, 0, 0
        self._sums = np.empty(width * channels, np.uint16)
        self.averages = np.empty((-(-height // side), -(-width // side), channels), np.uint8)
        self._places = locate_array(self.averages), locate_array(self._sums)

    def add_rows(self, rows: Array, mirrored: bool = False) -> None:
        """The next rows, as they lie in memory; of `mirrored` ones squares are counted from the right, and turned."""
        height, width, channels = rows.shape
        self._left -= height
        made, sums = self._places
        made += self._done * -(-width // self._side) * channels
        self._done += (self._held + height) // self._side
        self._held = self._loops.average_squares(
            locate_array(rows), rows.strides[0], width, height, channels, self._side,
            _measure_lead(width, self._side, mirrored), self._held, not self._left, made, sums,
        )  # fmt: skip
        if mirrored and not self._left:
            self.averages = self.averages[:, ::-1]


def average_with_loops(loops: ctypes.CDLL, pixels: Array, side: int) -> Array:
    """The averages over squares of pixels."""
    stored = follow_memory(pixels)
    height, width, channels = stored.pixels.shape
    sums = SquareSums(loops, width, height, channels, side)
    sums.add_rows(stored.pixels, stored.mirrored)
    return _order_averages(stored, sums.averages)


def _order_averages(stored: StoredPixels, averages: Array) -> Array:
    return copy_in_order(stored._replace(mirrored=False).turn_back(averages))


class Surveyed(NamedTuple):
    """What was found in one walk: blocks that may hold ink, clear ink, and the averages of squares where asked for."""

    blocks: Array
    solid: BitMask
    averages: Array | None = None


def survey_with_loops(
    loops: ctypes.CDLL,
    pixels: Array,
    alpha: bool,
    levels: int,
    step: int = 1,
    offset: int = 0,
    mask: bool = True,
    side: int = 0,
) -> Surveyed:
    """Blocks that may hold ink, and which pixels are clear ink, of every `step`-th column and row from `offset` on.

    Of turned pixels `offset` has to be 0. Without `mask` it is of no rows. With a `side` squares of opaque pixels are
    averaged as well, as `average_with_loops` does it; then there is a mask, and `offset` is 0.
    """
    import numpy as np

    # With alpha a block is judged by its columns, which must not become rows.
    stored = follow_memory(copy_in_order(pixels) if alpha else pixels)
    rows = stored.pixels
    height, width, channels = rows.shape
    blocks = np.empty((-(-height // BLOCK), -(-width // BLOCK)), np.bool_)
    across = (width - 1) % step if stored.mirrored else 0
    marked = -(-(width - across) // step)
    solid = np.empty((max(0, -(-(height - offset) // step)) * mask, -(-marked // 64)), np.uint64)
    scratch, row = np.empty(2 * width * channels, np.uint8), np.empty(BLOCK * solid.shape[1], np.uint64)
    where = locate_array(rows), rows.strides[0], width, height, channels
    lead, found = _measure_lead(width, BLOCK, stored.mirrored), (locate_array(blocks), locate_array(solid))
    memory, averages = (locate_array(scratch), locate_array(row)), None
    if side:
        averages = np.empty((-(-height // side), -(-width // side), channels), np.uint8)
        sums = np.empty(width * channels, np.uint16)
        loops.survey_and_average(
            *where, levels, lead, *found, step, across, stored.mirrored, *memory,
            side, _measure_lead(width, side, stored.mirrored), locate_array(averages), locate_array(sums),
        )  # fmt: skip
        averages = _order_averages(stored, averages[:, ::-1] if stored.mirrored else averages)
    else:
        loops.survey_pixels(
            *where, alpha, levels, lead, found[0], found[1] if mask else None, step, across, offset, stored.mirrored,
            *memory,
        )  # fmt: skip
    return Surveyed(stored.turn_back(blocks), BitMask(solid, marked, stored.transposed), averages)


def sum_with_loops(loops: ctypes.CDLL, pixels: Array) -> tuple[Array, Array]:
    """The sums of the levels of each column and of each row of pixels that lie in order; a fourth channel is filler."""
    import numpy as np

    height, width, channels = pixels.shape
    columns, rows = np.zeros(width, np.uint32), np.empty(height, np.uint64)
    loops.sum_levels(locate_array(pixels), width, height, channels, locate_array(columns), locate_array(rows))
    return columns, rows


class RowFilter:
    """Rows for the page from the pixels of a box: over white, mirrored, under the PNG filter Up; and their levels.

    `columns` are the sums of levels down the columns so far, `sums` those of each row.
    """

    def __init__(self, loops: ctypes.CDLL, width: int, channels: int, alpha: bool) -> None:
        import numpy as np

        self._loops, self._alpha = loops, alpha
        self._above, self._scratch = np.zeros((width, channels), np.uint8), np.empty((width, channels), np.uint8)
        self.columns, self.sums = np.zeros(width, np.uint32), list[Any]()
        self._places = locate_array(self.columns), locate_array(self._scratch)

    def filter_rows(self, pixels: Array) -> tuple[Array, Array]:
        """The next rows, an array of 1 or 4 channels: over white (a fourth channel is filler), and filtered."""
        import numpy as np

        height, width, channels = pixels.shape
        if pixels.strides[1:] != (channels, 1):  # turned or mirrored
            pixels = copy_in_order(pixels)
        flat = np.empty(pixels.shape, np.uint8)
        filtered = np.empty((height, width * min(3, channels) + 1), np.uint8)
        sums = np.empty(height, np.uint64)
        self._loops.filter_pixels(
            locate_array(pixels), pixels.strides[0], width, height, channels, self._alpha, locate_array(self._above),
            locate_array(flat), locate_array(filtered), self._places[0], locate_array(sums), self._places[1],
        )  # fmt: skip
        self._above = flat[-1]
        self.sums.append(sums)
        return flat, filtered


_TOKENS = 1 << 16  # of a block
_FINAL_BLOCK, _FINAL_BITS = 3, 10  # of the codes that need no telling: that it is the last, and that it is at its end


class RunDeflating:
    """The blocks of a deflated stream (RFC 1951), of runs and single bytes."""

    def __init__(self, loops: ctypes.CDLL) -> None:
        import numpy as np

        self._loops = loops
        self._held, self._tokens, self._out = (
            np.zeros(2, np.uint64),
            np.empty(_TOKENS, np.uint16),
            np.empty(0, np.uint8),
        )

    def deflate_bytes(self, data: bytes | memoryview) -> bytes:
        """Blocks of the bytes, as far as they are whole bytes themselves."""
        import numpy as np

        given = np.frombuffer(data, np.uint8)
        room = 2 * len(given) + 256 * (len(given) // _TOKENS + 1) + 16
        if len(self._out) < room:
            self._out = np.empty(room, np.uint8)
        made = self._loops.deflate_runs(
            locate_array(given), len(given), locate_array(self._held), locate_array(self._tokens),
            locate_array(self._out),
        )  # fmt: skip
        return self._out[:made].tobytes()

    def end_blocks(self) -> bytes:
        """The last block, which has no bytes, and what was held before it."""
        bits, count = map(int, self._held)
        return (bits | _FINAL_BLOCK << count).to_bytes((count + _FINAL_BITS + 7) // 8, "little")


class RowUnfilter:
    """Undoes the PNG filters of rows of 1, 3 or 4 channels, one after another, into a picture of 1 or 4."""

    def __init__(self, loops: ctypes.CDLL, height: int, width: int, channels: int) -> None:
        import numpy as np

        self._loops, self._channels, self._done, self._held = loops, channels, 0, b""
        self.pixels = np.empty((height, width, 1 if channels == 1 else 4), np.uint8)
        self._zeros = np.zeros(self.pixels.shape[1:], np.uint8)
        self._places = locate_array(self._zeros), locate_array(self.pixels)

    def add_piece(self, piece: bytes) -> bool:
        """More of the rows, each after its filter's number; returns whether each filter is one that PNG has.

        What is no whole row yet is held; all other bytes are read where they lie.
        """
        row = self.pixels.shape[1] * self._channels + 1
        start = -len(self._held) % row
        held = self._held + piece[:start]
        if start > len(piece):
            self._held = held
            return True
        count = (len(piece) - start) // row
        if (start > 0) + count > len(self.pixels) - self._done:
            raise ValueError("these are more rows than the picture has")
        sound = not start or self._undo_rows(held, 0, 1)
        self._held = piece[start + count * row :]
        return sound and self._undo_rows(piece, start, count)

    def _undo_rows(self, rows: bytes, start: int, count: int) -> bool:
        """Undo so many whole rows, the first of them `start` bytes on."""
        _, width, channels = self.pixels.shape
        zeros, out = self._places
        undone = self._loops.unfilter_rows(
            rows, start, width, count, self._channels, self._done > 0, zeros, out + self._done * width * channels
        )
        self._done += count
        return bool(undone == count)
