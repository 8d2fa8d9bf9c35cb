"""From filtered rows to pixels, by libraries that undo PNG's row filters in C.

Neither is given the file. Each is fed plain PNGs made up on the fly: the rows in stored (uncompressed) blocks, under
a header it cannot get wrong. What is proven about the data is proven before, in `inflate`.

Pillow does it for every kind of picture, as one made-up file read while it is written. Where pyspng (libspng, an
optional dependency) is installed, it does it for 8-bit pictures that are not interlaced, about twice as fast and
with the same pixels. It wants its file whole, so it is given strips of the picture: a row's filter looks no further
than one row up (section 9.2), so a strip is a well-formed picture of its own once the row above it, unfiltered, is
put before it.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from types import ModuleType
from typing import TYPE_CHECKING, Any, NamedTuple

from impose.art.codec import codec
from impose.art.png import SIGNATURE, Header

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

_READ = 1 << 18
_STORED = 65535  # the longest stored block, RFC 1951 section 3.2.4
_STRIP = 1 << 19
_LEAST_ROWS = 16  # a strip's extra row must not weigh


class Painted(NamedTuple):
    """A picture, and the memory it lies in as an array of rows, columns and channels where it is one."""

    image: Image.Image
    pixels: Array | None = None


class PaintError(Exception):
    """A row is filtered in a way that no PNG has."""


def paint(header: Header, rows: Iterable[bytes]) -> Painted:
    """The picture whose filtered rows these are, all of which are read; mode 1, L, LA, RGB, RGBX or RGBA.

    `header` says how they are to be understood: at most 8 bits, no palette. Raises `PaintError`.
    """
    plain = header.depth == 8 and not header.interlaced and header.channels != 2
    # Strips of very long rows would take as much memory as the picture.
    if plain and header.width * header.channels * _LEAST_ROWS <= 8 * _STRIP and (spng := faster()) is not None:
        return _by_spng(spng, header, rows)
    return Painted(_by_pillow(header, rows))


@cache
def faster() -> ModuleType | None:
    """pyspng, if it is installed."""
    try:
        import pyspng  # type: ignore[import-untyped,import-not-found,unused-ignore]
    except ImportError:
        return None
    module: ModuleType = pyspng
    return module


def _by_pillow(header: Header, rows: Iterable[bytes]) -> Image.Image:
    from PIL.PngImagePlugin import PngImageFile

    feed = _Feed(_ihdr(header, header.height), rows)
    try:
        # Not Image.open: its process-wide pixel limit is not ours, and this one file is known to be a PNG.
        image = PngImageFile(feed)  # type: ignore[arg-type]
        image.decodermaxblock = _READ
        image.load()
        feed.finish()
    except OSError as error:
        raise PaintError(str(error)) from None
    return image


def _by_spng(spng: ModuleType, header: Header, rows: Iterable[bytes]) -> Painted:
    import numpy as np
    from PIL import Image

    mode = {1: "L", 3: "RGBX", 4: "RGBA"}[header.channels]
    frame = np.empty((header.height, header.width, 1 if mode == "L" else 4), np.uint8)
    top = 0
    above = b""
    for count, strip in _strips(header, rows):
        fresh = slice(1 if above else 0, None)
        count += fresh.start
        try:
            # Colour comes with a fourth byte, so that the frame can lie in memory as Pillow wants it.
            pixels = spng.load(_file(header, count, [above, *strip]), "L" if mode == "L" else "RGBA")
        except RuntimeError as error:
            raise PaintError(str(error)) from None
        pixels = pixels.reshape(count, *frame.shape[1:])[fresh]
        frame[top : top + len(pixels)] = pixels
        top += len(pixels)
        above = b"\0" + frame[top - 1, :, : header.channels].tobytes()
    return Painted(Image.frombuffer(mode, (header.width, header.height), frame, "raw", mode, 0, 1), frame)


def _strips(header: Header, rows: Iterable[bytes]) -> Iterator[tuple[int, list[memoryview]]]:
    """The rows again, about half a megabyte of whole ones at a time: how many, and the pieces they are in."""
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


def _file(header: Header, height: int, rows: Sequence[bytes | memoryview]) -> bytes:
    """A whole PNG of the rows, stored; they are copied once, into it."""
    data: list[bytes | memoryview] = [b"IDAT", b"\x78\x01"]
    check = 1
    for piece in rows:
        check = codec().adler32(piece, check)
        data += _stored(piece)
    data += [b"\1\0\0\xff\xff", check.to_bytes(4, "big")]
    length, crc = -4, 0
    for part in data:
        length += len(part)
        crc = codec().crc32(part, crc)
    head = [SIGNATURE, *_chunk(b"IHDR", _ihdr(header, height)), length.to_bytes(4, "big")]
    return b"".join([*head, *data, crc.to_bytes(4, "big"), *_chunk(b"IEND", b"")])


def _ihdr(header: Header, height: int) -> bytes:
    fields = (header.width, height, header.depth, header.colour, 0, 0, header.interlaced)
    return struct.pack(">IIBBBBB", *fields)


class _Feed:
    """A file, as far as Pillow looks: a plain PNG of one picture made up as it is read, and never held whole."""

    def __init__(self, header: bytes, rows: Iterable[bytes]) -> None:
        self._head = SIGNATURE + b"".join(_chunk(b"IHDR", header))
        self._parts = self._made(rows)
        self._rest = memoryview(b"")
        self._at = 0

    @staticmethod
    def _made(rows: Iterable[bytes]) -> Iterator[bytes]:
        check = 1
        yield from _chunk(b"IDAT", b"\x78\x01")
        for piece in rows:
            check = codec().adler32(piece, check)
            yield from _chunk(b"IDAT", b"".join(_stored(piece)))
        yield from _chunk(b"IDAT", b"\1\0\0\xff\xff" + check.to_bytes(4, "big"))
        yield from _chunk(b"IEND", b"")

    def read(self, size: int) -> bytes:
        """The next `size` bytes, fewer only at the end."""
        if self._at >= len(self._head) and not len(self._rest):
            part = next(self._parts, b"")
            if len(part) == size:  # the common case, a chunk's data: handed on without a copy
                self._at += size
                return part
            self._rest = memoryview(part)
        found: list[bytes | memoryview] = [self._head[self._at : self._at + size]]
        left = size - len(found[0])
        while left:
            if not len(self._rest):
                self._rest = memoryview(next(self._parts, b""))
                if not len(self._rest):
                    break
            found.append(self._rest[:left])
            self._rest = self._rest[left:]
            left -= len(found[-1])
        data = b"".join(found)
        self._at += len(data)
        return data

    def tell(self) -> int:
        """Where reading goes on."""
        return self._at

    def seek(self, at: int, whence: int = 0) -> int:
        """Back only within the header, which is held; else to where it stands."""
        if whence or (at != self._at and max(at, self._at) > len(self._head)):
            raise OSError("the made-up PNG can only be read forward")
        self._at = at
        return at

    def finish(self) -> None:
        """Read what Pillow left, so that the last lengths and checksums are proven too."""
        for _ in self._parts:
            pass


def _chunk(name: bytes, data: bytes) -> Iterator[bytes]:
    check = codec().crc32(data, codec().crc32(name))
    yield len(data).to_bytes(4, "big") + name
    if data:
        yield data
    yield check.to_bytes(4, "big")


def _stored(piece: bytes | memoryview) -> Iterator[bytes | memoryview]:
    whole = memoryview(piece)
    for at in range(0, len(piece), _STORED):
        block = whole[at : at + _STORED]
        yield struct.pack("<BHH", 0, len(block), len(block) ^ 0xFFFF)
        yield block
