"""Which deflate library is at work: checksums, inflating and deflating, and the name that goes into the record.

zlib-ng is an ordinary dependency because its bytes never differed between runs and workers and it is the fastest of
those (ISA-L's fast levels gave different bytes for the same input now and then, so it is never used to write). Where
it has no wheel the standard library's zlib does the same work more slowly. Rows in which runs alone are looked for are
deflated by a compiled loop where there is one, in less than half of zlib-ng's time. All write different bytes, which is
why the codec's name is part of every prepared picture and of every key under which one is kept.
"""

from __future__ import annotations

import zlib
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, Protocol

from impose.art.pixel_loops import RunDeflating, load_pixel_loops
from impose.values import FrozenStruct

if TYPE_CHECKING:
    from ctypes import CDLL

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
    """A deflate library and the level it writes at. `error` is what its inflater raises on bad data.

    With `loops` runs are deflated by those.
    """

    name: str
    library: Any
    level: int
    loops: Any = None

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
        if self.loops is not None and search != "repeats":
            return RunDeflater(self, self.loops)
        return self.make_library_deflater(search)

    def make_library_deflater(self, search: Search) -> Deflater:
        """The same by the library alone."""
        made: Deflater = self.library.compressobj(
            level=self.level, method=zlib.DEFLATED, wbits=15, memLevel=8, strategy=_STRATEGIES[search]
        )
        return made

    def make_small_deflater(self) -> Deflater:
        """A new deflater for a picture so small that its bytes count and its time does not."""
        made: Deflater = self.library.compressobj(level=_SMALL_LEVEL, method=zlib.DEFLATED, wbits=15, memLevel=8)
        return made


class RunDeflater:
    """Deflates into one zlib stream (RFC 1950) by the compiled loop, which looks for runs and nothing else."""

    def __init__(self, codec: DeflateCodec, loops: CDLL) -> None:
        self._codec, self._runs, self._check = codec, RunDeflating(loops), 1
        self._head = b"\x78\x01"

    def compress(self, data: bytes | memoryview, /) -> bytes:
        """Compressed bytes, as far as they are ready."""
        self._check = self._codec.adler32(data, self._check)
        head, self._head = self._head, b""
        return head + self._runs.deflate_bytes(data)

    def flush(self, mode: int = zlib.Z_FINISH, /) -> bytes:
        """The rest of them."""
        return self._head + self._runs.end_blocks() + self._check.to_bytes(4, "big")


@cache
def best_codec() -> DeflateCodec:
    """The best at hand: zlib-ng, else the standard library's zlib, with the compiled loop where there is one."""
    try:
        from zlib_ng import zlib_ng

        codec = DeflateCodec("zlib-ng 2", zlib_ng, 2)
    except ImportError:
        codec = make_standard_codec()
    loops = load_pixel_loops()
    return codec if loops is None else DeflateCodec(f"{codec.name}, runs 1", codec.library, codec.level, loops)


def make_standard_codec() -> DeflateCodec:
    """The standard library's zlib: always there, slower."""
    return DeflateCodec("zlib 1", zlib, 1)
