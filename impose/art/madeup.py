"""Plain PNGs made up on the fly around rows that are proven already: what a library is given in place of the file.

The rows lie in stored (uncompressed) blocks, under a header that a library cannot get wrong.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator, Sequence

from impose.art.codec import codec
from impose.art.png import SIGNATURE, Header

_STORED = 65535  # the longest stored block, RFC 1951 section 3.2.4


def stored_stream(rows: Sequence[bytes | memoryview]) -> list[bytes | memoryview]:
    """A whole zlib stream of the rows, as parts to be joined."""
    data: list[bytes | memoryview] = [b"\x78\x01"]
    check = 1
    for piece in rows:
        check = codec().adler32(piece, check)
        data += _stored(piece)
    data += [b"\1\0\0\xff\xff", check.to_bytes(4, "big")]
    return data


def whole_file(header: Header, height: int, rows: Sequence[bytes | memoryview]) -> bytes:
    """A whole PNG of `height` rows like those of `header`; they are copied once, into it."""
    data = [b"IDAT", *stored_stream(rows)]
    length, crc = -4, 0
    for part in data:
        length += len(part)
        crc = codec().crc32(part, crc)
    head = [SIGNATURE, *_chunk(b"IHDR", _ihdr(header, height)), length.to_bytes(4, "big")]
    return b"".join([*head, *data, crc.to_bytes(4, "big"), *_chunk(b"IEND", b"")])


class Feed:
    """A file, as far as Pillow looks: a plain PNG of one picture made up as it is read, and never held whole."""

    def __init__(self, header: Header, rows: Iterable[bytes]) -> None:
        self._head = SIGNATURE + b"".join(_chunk(b"IHDR", _ihdr(header, header.height)))
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


def _ihdr(header: Header, height: int) -> bytes:
    fields = (header.width, height, header.depth, header.colour, 0, 0, header.interlaced)
    return struct.pack(">IIBBBBB", *fields)


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
