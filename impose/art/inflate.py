"""A PNG's picture data inflated, every length and checksum proven on the way, a little at a time.

The promise is the header's: so many rows of so many bytes. Data that inflate to more are refused at the first byte
too many, so that a bomb goes off nowhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from impose.art.codec import Inflater, best_codec
from impose.art.png import AGAIN, PngFile, PngHeader
from impose.errors import Finding, Trouble

STEP = (1 << 18) - 64
"""Most bytes of rows handed on at once; with the headers of stored blocks it is still within 256 KiB."""

_SLICE = 1 << 16


def make_damage_finding(what: str, name: str) -> Finding:
    """The finding for data that are not what the rest of the file promises."""
    return Finding(what, AGAIN, kind="damaged", file=name)


class ScanlineReader:
    """The filtered rows in pieces of at most 256 KiB, proven in number and by their checksum.

    `surplus` is, once they have ended, how many bytes of the IDAT chunks come after the compressed stream.
    """

    def __init__(self, png: PngFile, name: str) -> None:
        self._png, self._name = png, name
        self.surplus = 0

    def __iter__(self) -> Iterator[bytes]:
        left = self._png.header.raw_length
        for piece in self._inflate_idat():
            left -= len(piece)
            if left < 0:
                raise Trouble(
                    make_damage_finding("there are more picture data than the header has room for", self._name)
                )
            yield piece
        if left:
            missing = f"{left:,} bytes of rows are" if left > 1 else "1 byte of rows is"
            raise Trouble(make_damage_finding(f"the picture data end early: {missing} missing", self._name))

    def _inflate_idat(self) -> Iterator[bytes]:
        """What the IDAT chunks inflate to, as far as it is asked for; raises unless the stream ends whole."""
        inflater = best_codec().make_inflater()
        try:
            for part in self._png.list_idat():
                # In slices: the inflater returns what it has not used yet as a copy.
                for at in range(0, len(part), _SLICE):
                    yield from self._inflate_chunk(inflater, part[at : at + _SLICE])
            while not inflater.eof and (piece := inflater.decompress(b"", STEP)):
                yield piece
        except best_codec().error as error:
            wrong = "their checksum is wrong" if "data check" in str(error) else "they cannot be unpacked"
            raise Trouble(make_damage_finding(f"the picture data are damaged: {wrong}", self._name)) from None
        if not inflater.eof:
            raise Trouble(make_damage_finding("the picture data end early: their checksum is missing", self._name))
        self.surplus += len(inflater.unused_data)

    def _inflate_chunk(self, inflater: Inflater, tail: bytes | memoryview) -> Iterator[bytes]:
        if inflater.eof:
            self.surplus += len(tail)
            return
        while len(tail) and not inflater.eof:
            if piece := inflater.decompress(tail, STEP):
                yield piece
            tail = inflater.unconsumed_tail


def split_byte_lane(pieces: Iterable[bytes], header: PngHeader, lane: int) -> Iterator[bytes]:
    """Of 16-bit rows, the rows of their high (0) or low (1) bytes, filter bytes kept."""
    import numpy as np

    held = bytearray()
    source = iter(pieces)
    for row, rows in header.list_passes():
        done = 0
        while done < rows:
            while len(held) <= row:
                held += next(source, b"") or _has_ended()
            count = min(rows - done, len(held) // (row + 1))
            block = np.frombuffer(bytes(held[: count * (row + 1)]), np.uint8).reshape(count, row + 1)
            half = np.empty((count, row // 2 + 1), np.uint8)
            half[:, 0] = block[:, 0]
            half[:, 1:] = block[:, 1 + lane :: 2]
            yield half.tobytes()
            del held[: count * (row + 1)]
            done += count
    for _ in source:
        pass


def _has_ended() -> bytes:
    raise EOFError("the rows ended although their number was proven")
