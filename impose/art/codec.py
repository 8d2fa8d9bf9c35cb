"""Which deflate library is at work: checksums, inflating and deflating, and the name that goes into the record.

zlib-ng is an ordinary dependency because its bytes never differed between runs and workers and it is the fastest of
those (ISA-L's fast levels gave different bytes for the same input now and then, so it is never used to write). Where
it has no wheel the standard library's zlib does the same work more slowly. The two write different bytes, which is
why the codec's name is part of every prepared picture and of every key under which one is kept.
"""

from __future__ import annotations

import zlib
from functools import cache
from typing import Any, Literal, Protocol

from impose.values import FrozenStruct

Search = Literal["repeats", "runs", "nothing"]
"""What a deflater looks for: repeats of any kind, runs of one byte alone, or nothing, so that bytes are only coded."""

_STRATEGIES: dict[Search, int] = {
    "repeats": zlib.Z_DEFAULT_STRATEGY,
    "runs": zlib.Z_RLE,
    "nothing": zlib.Z_HUFFMAN_ONLY,
}

_SMALL_LEVEL = 6


class Inflater(Protocol):
    """What is used of `zlib.decompressobj`."""

    @property
    def eof(self) -> bool:
        """Whether the stream has ended whole, its checksum proven."""

    @property
    def unconsumed_tail(self) -> bytes:
        """Input left over because the output limit was reached."""

    @property
    def unused_data(self) -> bytes:
        """Input after the stream's end."""

    def decompress(self, data: bytes | memoryview, max_length: int = 0, /) -> bytes:
        """Up to `max_length` bytes of output."""


class Deflater(Protocol):
    """What is used of `zlib.compressobj`."""

    def compress(self, data: bytes | memoryview, /) -> bytes:
        """Compressed bytes, as far as they are ready."""

    def flush(self, mode: int = zlib.Z_FINISH, /) -> bytes:
        """The rest of them."""


class DeflateCodec(FrozenStruct):
    """A deflate library and the level it writes at. `error` is what its inflater raises on bad data."""

    name: str
    library: Any
    level: int

    @property
    def error(self) -> type[Exception]:
        """The exception raised for a damaged stream."""
        fault: type[Exception] = self.library.error
        return fault

    def crc32(self, data: bytes | memoryview, value: int = 0) -> int:
        """CRC-32 as PNG chunks carry it, going on from `value`."""
        return int(self.library.crc32(data, value))

    def adler32(self, data: bytes | memoryview, value: int = 1) -> int:
        """Adler-32 as zlib streams carry it, going on from `value`."""
        return int(self.library.adler32(data, value))

    def make_inflater(self) -> Inflater:
        """A new inflater for one zlib stream."""
        made: Inflater = self.library.decompressobj()
        return made

    def make_deflater(self, search: Search) -> Deflater:
        """A new deflater for one zlib stream of filtered picture rows.

        After the Up filter a photograph has hardly any repeats but runs: not looking for more is twice as fast and a
        little smaller there. With a camera's grain it has not even runs: looking for nothing is a third faster again.
        """
        made: Deflater = self.library.compressobj(
            level=self.level, method=zlib.DEFLATED, wbits=15, memLevel=8, strategy=_STRATEGIES[search]
        )
        return made

    def make_small_deflater(self) -> Deflater:
        """A new deflater for a picture so small that its bytes count and its time does not."""
        made: Deflater = self.library.compressobj(level=_SMALL_LEVEL, method=zlib.DEFLATED, wbits=15, memLevel=8)
        return made


@cache
def best_codec() -> DeflateCodec:
    """The best library at hand: zlib-ng, else the standard library's zlib."""
    try:
        from zlib_ng import zlib_ng
    except ImportError:
        return make_standard_codec()
    return DeflateCodec("zlib-ng 2", zlib_ng, 2)


def make_standard_codec() -> DeflateCodec:
    """The standard library's zlib: always there, slower."""
    return DeflateCodec("zlib 1", zlib, 1)
