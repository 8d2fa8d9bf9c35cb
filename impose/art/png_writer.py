"""Plain PNGs: of rows that are proven already, for a library in place of the file, and small ones to be looked at.

The former lie in stored (uncompressed) blocks, under a header that a library cannot get wrong.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from impose.art.codec import best_codec
from impose.art.png import SIGNATURE, PngHeader

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Rows = np.ndarray[Any, np.dtype[np.uint8]]

_STORED = 65535  # the longest stored block, RFC 1951 section 3.2.4
_NONE, _UP = 0, 2  # filters, PNG section 9.2
_SAMPLES, _SAMPLE_ROWS = 3, 32


def make_stored_stream(rows: Sequence[bytes | memoryview]) -> list[bytes | memoryview]:
    """A whole zlib stream of the rows, as parts to be joined."""
    data: list[bytes | memoryview] = [b"\x78\x01"]
    check = 1
    for piece in rows:
        check = best_codec().adler32(piece, check)
        data += _make_stored_block(piece)
    data += [b"\1\0\0\xff\xff", check.to_bytes(4, "big")]
    return data


def make_png(header: PngHeader, height: int, rows: Sequence[bytes | memoryview]) -> bytes:
    """A whole PNG of `height` rows like those of `header`; they are copied once, into it."""
    data = [b"IDAT", *make_stored_stream(rows)]
    length, crc = -4, 0
    for part in data:
        length += len(part)
        crc = best_codec().crc32(part, crc)
    head = [SIGNATURE, *_make_chunk(b"IHDR", _make_ihdr(header, height)), length.to_bytes(4, "big")]
    return b"".join([*head, *data, crc.to_bytes(4, "big"), *_make_chunk(b"IEND", b"")])


class PngFeed:
    """A file, as far as Pillow looks: a plain PNG of one picture made up as it is read, and never held whole."""

    def __init__(self, header: PngHeader, rows: Iterable[bytes]) -> None:
        self._head = SIGNATURE + b"".join(_make_chunk(b"IHDR", _make_ihdr(header, header.height)))
        self._parts = self._generate_file(rows)
        self._rest = memoryview(b"")
        self._at = 0

    @staticmethod
    def _generate_file(rows: Iterable[bytes]) -> Iterator[bytes]:
        check = 1
        yield from _make_chunk(b"IDAT", b"\x78\x01")
        for piece in rows:
            check = best_codec().adler32(piece, check)
            yield from _make_chunk(b"IDAT", b"".join(_make_stored_block(piece)))
        yield from _make_chunk(b"IDAT", b"\1\0\0\xff\xff" + check.to_bytes(4, "big"))
        yield from _make_chunk(b"IEND", b"")

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

    def read_rest(self) -> None:
        """Read what Pillow left, so that the last lengths and checksums are proven too."""
        for _ in self._parts:
            pass


def write_small_png(image: Image.Image) -> bytes:
    """A PNG of a small picture, mode L or RGB, with nothing but its pixels.

    All rows have one filter: none, by which flat colours become smaller, or Up, for what runs from one colour into
    another. Trying every filter on every row takes three times as long, and both come out smaller.
    """
    import numpy as np

    rows = np.asarray(image).reshape(image.height, -1)
    kind = min((_NONE, _UP), key=lambda kind: _measure_filter(rows, kind))
    deflater = best_codec().make_small_deflater()
    data = deflater.compress(_filter_rows(rows, kind)) + deflater.flush()
    return wrap_rows(PngHeader(image.width, image.height, 8, 0 if image.mode == "L" else 2, False), data)


def wrap_rows(header: PngHeader, data: bytes) -> bytes:
    """A PNG of filtered rows that are deflated already."""
    parts = ((b"IHDR", _make_ihdr(header, header.height)), (b"IDAT", data), (b"IEND", b""))
    return b"".join([SIGNATURE, *(piece for name, data in parts for piece in _make_chunk(name, data))])


def _measure_filter(rows: Rows, kind: int) -> int:
    """Bytes to which a few of the rows are deflated under a filter."""
    deflater, size = best_codec().make_deflater("repeats"), 0
    for i in range(_SAMPLES):
        top = (len(rows) - _SAMPLE_ROWS) * (2 * i + 1) // (2 * _SAMPLES)
        size += len(deflater.compress(_filter_rows(rows[max(0, top) :][:_SAMPLE_ROWS], kind)))
    return size + len(deflater.flush())


def _filter_rows(rows: Rows, kind: int) -> memoryview:
    import numpy as np

    filtered = np.empty((rows.shape[0], rows.shape[1] + 1), np.uint8)
    filtered[:, 0], filtered[:, 1:] = kind, rows
    if kind == _UP:
        filtered[1:, 1:] -= rows[:-1]
    return filtered.data.cast("B")


def _make_ihdr(header: PngHeader, height: int) -> bytes:
    fields = (header.width, height, header.depth, header.colour, 0, 0, header.interlaced)
    return struct.pack(">IIBBBBB", *fields)


def _make_chunk(name: bytes, data: bytes) -> Iterator[bytes]:
    check = best_codec().crc32(data, best_codec().crc32(name))
    yield len(data).to_bytes(4, "big") + name
    if data:
        yield data
    yield check.to_bytes(4, "big")


def _make_stored_block(piece: bytes | memoryview) -> Iterator[bytes | memoryview]:
    whole = memoryview(piece)
    for at in range(0, len(piece), _STORED):
        block = whole[at : at + _STORED]
        yield struct.pack("<BHH", 0, len(block), len(block) ^ 0xFFFF)
        yield block
