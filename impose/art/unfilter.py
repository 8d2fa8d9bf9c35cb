"""From filtered rows to pixels: by compiled loops of our own, or by libraries that undo PNG's row filters in C.

None is given the file, but rows that are proven already, in `inflate`, inside plain PNGs made up on the fly.

8-bit pictures that are not interlaced are painted in strips, into memory of our own, by the compiled loops. Without
them a strip becomes a well-formed picture of its own, since a row's filter looks no further than one row up (section
9.2), once the row above it, unfiltered, is put before it. pyspng (libspng, an optional dependency) paints those where
it is installed, in about half the time and with the same pixels, Pillow where not. All other pictures Pillow reads as
one made-up file while it is written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from types import ModuleType
from typing import TYPE_CHECKING, Any, NamedTuple

from impose.art.pixel_loops import RowUnfilter, load_pixel_loops
from impose.art.png import PngHeader
from impose.art.png_writer import PngFeed, make_png, make_stored_stream

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

_READ = 1 << 18
_STRIP = 1 << 18
_LEAST_ROWS = 16  # a strip's extra row must not weigh
_MODES = {1: "L", 3: "RGBX", 4: "RGBA"}  # those whose images can lie in memory that is ours


class UnfilteredImage(NamedTuple):
    """A picture, and the memory it lies in as an array of rows, columns and channels where it is one."""

    image: Image.Image
    pixels: Array | None = None


PaintStrip = Callable[[PngHeader, Sequence["bytes | memoryview"], Any], None]
"""Paints filtered rows like those of a header into memory: an array of as many rows, columns and channels."""


class FilterError(Exception):
    """A row is filtered in a way that no PNG has."""


def unfilter_scanlines(header: PngHeader, rows: Iterable[bytes]) -> UnfilteredImage:
    """The picture whose filtered rows these are, all of which are read; mode 1, L, LA, RGB, RGBX or RGBA.

    `header` says how they are to be understood: at most 8 bits, no palette. Raises `FilterError`.
    """
    plain = header.depth == 8 and not header.interlaced and header.channels in _MODES
    # Strips of very long rows would take as much memory as the picture.
    if plain and header.width * header.channels * _LEAST_ROWS <= 8 * _STRIP:
        if (loops := load_pixel_loops()) is not None:
            return _decode_with_loops(RowUnfilter(loops, header.height, header.width, header.channels), header, rows)
        if find_fast_decoder() is not None:
            return _decode_by_strips(header, rows, _decode_strip_by_spng)
        if can_decode_in_place():
            return _decode_by_strips(header, rows, _decode_strip_by_pillow)
    return UnfilteredImage(_decode_by_pillow(header, rows))


@cache
def find_fast_decoder() -> ModuleType | None:
    """pyspng, if it is installed."""
    try:
        import pyspng  # type: ignore[import-untyped,import-not-found,unused-ignore]
    except ImportError:
        return None
    module: ModuleType = pyspng
    return module


def _decode_by_pillow(header: PngHeader, rows: Iterable[bytes]) -> Image.Image:
    from PIL.PngImagePlugin import PngImageFile

    feed = PngFeed(header, rows)
    try:
        # Not Image.open: its process-wide pixel limit is not ours, and this one file is known to be a PNG.
        image = PngImageFile(feed)  # type: ignore[arg-type]
        image.decodermaxblock = _READ
        image.load()
        feed.read_rest()
    except OSError as error:
        raise FilterError(str(error)) from None
    return image


def _decode_with_loops(undone: RowUnfilter, header: PngHeader, rows: Iterable[bytes]) -> UnfilteredImage:
    from PIL import Image

    for piece in rows:
        if not undone.add_piece(piece):
            raise FilterError("a row has a filter that PNG has not")
    mode, pixels = _MODES[header.channels], undone.pixels
    return UnfilteredImage(Image.frombuffer(mode, (header.width, header.height), pixels, "raw", mode, 0, 1), pixels)


def _decode_by_strips(header: PngHeader, rows: Iterable[bytes], paint_strip: PaintStrip) -> UnfilteredImage:
    import numpy as np
    from PIL import Image

    mode = _MODES[header.channels]
    frame = np.empty((header.height, header.width, len(mode)), np.uint8)
    top = 0
    above = b""
    for count, strip in _split_strips(header, rows):
        # With the row above, which is painted again as it is.
        paint_strip(header, [above, *strip], frame[top - bool(above) : top + count])
        top += count
        above = b"\0" + frame[top - 1, :, : header.channels].tobytes()
    return UnfilteredImage(Image.frombuffer(mode, (header.width, header.height), frame, "raw", mode, 0, 1), frame)


def _decode_strip_by_spng(header: PngHeader, rows: Sequence[bytes | memoryview], memory: Array) -> None:
    spng = find_fast_decoder()
    assert spng is not None  # it was there when it was chosen
    try:
        # Colour comes with a fourth byte, so that the frame can lie in memory as Pillow keeps it.
        pixels = spng.load(make_png(header, len(memory), rows), "L" if header.channels == 1 else "RGBA")
    except RuntimeError as error:
        raise FilterError(str(error)) from None
    memory[:] = pixels.reshape(memory.shape)


def _decode_strip_by_pillow(header: PngHeader, rows: Sequence[bytes | memoryview], memory: Array) -> None:
    from PIL import Image

    mode = _MODES[header.channels]
    strip = Image.frombuffer(mode, (header.width, len(memory)), memory, "raw", mode, 0, 1)
    try:
        strip.frombytes(b"".join(make_stored_stream(rows)), "zip", "RGB" if mode == "RGBX" else mode, 0)
    except (OSError, ValueError) as error:
        raise FilterError(str(error)) from None


@cache
def can_decode_in_place() -> bool:
    """Whether Pillow decodes into the memory an image was made of, as it always has; tried, as nobody promises it."""
    import numpy as np

    memory = np.zeros((1, 1, 1), np.uint8)
    _decode_strip_by_pillow(PngHeader(1, 1, 8, 0, False), [b"\0\7"], memory)
    return bool(memory[0, 0, 0] == 7)


def _split_strips(header: PngHeader, rows: Iterable[bytes]) -> Iterator[tuple[int, list[memoryview]]]:
    """The rows again, about a quarter of a megabyte of whole ones at a time: how many, and the pieces they are in."""
    row = header.width * header.channels + 1
    size = row * max(_LEAST_ROWS, _STRIP // row)
    strip: list[memoryview] = []
    wanted = size
    for whole in rows:
        piece = memoryview(whole)
        while len(piece) >= wanted:
            yield size // row, [*strip, piece[:wanted]]
            piece, strip, wanted = piece[wanted:], [], size
        if len(piece):
            strip.append(piece)
            wanted -= len(piece)
    if strip:
        yield (size - wanted) // row, strip
