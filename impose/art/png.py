"""The outside of a PNG: signature, chunks, checksums, header, and what the header promises.

Written after the W3C Recommendation "Portable Network Graphics (PNG) Specification (Third Edition)", 24 June 2025;
section numbers below are its. Nothing compressed is opened here, so nothing here can be a bomb: the picture's own
data are inflated by `decode` against the length the header promises, a colour profile by `colour` against a cap, and
compressed text not at all, since nothing of it is printed.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import NoReturn

from impose.art.codec import best_codec
from impose.errors import Finding, Severity, Trouble, quote_text
from impose.file_types import describe_foreign_file
from impose.values import FrozenStruct

SIGNATURE = b"\x89PNG\r\n\x1a\n"
PIXEL_LIMIT = 200_000_000
"""Pixels in one picture unless the caller says otherwise: twice a 13 x 19 in sheet at 600 ppi."""

_SIDE_LIMIT = 1_000_000
"""Pixels along one side: what libpng, the reference implementation, takes unless told otherwise (pngpriv.h)."""

_MOST_CHUNKS = 150_000
"""Far more than a picture at the pixel limit has (8 KB to a chunk is usual), few enough to walk in a second."""

AGAIN = "Copy, send or export the artwork again and compare the file sizes."
_GREY, _RGB, _PALETTE, _GREY_ALPHA, _RGBA = 0, 2, 3, 4, 6
# Section 11.2.1, table 12: the depths each colour type may have.
_DEPTHS = {_GREY: (1, 2, 4, 8, 16), _RGB: (8, 16), _PALETTE: (1, 2, 4, 8), _GREY_ALPHA: (8, 16), _RGBA: (8, 16)}
_CHANNELS = {_GREY: 1, _RGB: 3, _PALETTE: 1, _GREY_ALPHA: 2, _RGBA: 4}
# Section 8.1 and its figure: the seven passes' first column, first row, and steps across and down.
_ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


class PngHeader(FrozenStruct):
    """What IHDR says: size in pixels, bits a sample, colour type (0, 2, 3, 4, 6), Adam7 or not."""

    width: int
    height: int
    depth: int
    colour: int
    interlaced: bool

    @property
    def pixels(self) -> int:
        """Width times height."""
        return self.width * self.height

    @property
    def channels(self) -> int:
        """Samples to a pixel as stored: 1 for grey and palette, 2 with alpha, 3, 4."""
        return _CHANNELS[self.colour]

    @property
    def grey(self) -> bool:
        """True for the two grey colour types."""
        return self.colour in (_GREY, _GREY_ALPHA)

    @property
    def palette(self) -> bool:
        """True where a pixel is a number into PLTE."""
        return self.colour == _PALETTE

    @property
    def alpha(self) -> bool:
        """True where every pixel carries its own alpha sample."""
        return self.colour in (_GREY_ALPHA, _RGBA)

    def list_passes(self) -> tuple[tuple[int, int], ...]:
        """(bytes of a row without its filter byte, rows) of each pass that has pixels, in the order stored."""
        grids = _ADAM7 if self.interlaced else ((0, 0, 1, 1),)
        sizes = [(-((x - self.width) // dx), -((y - self.height) // dy)) for x, y, dx, dy in grids]
        bits = self.channels * self.depth
        return tuple(((bits * w + 7) // 8, h) for w, h in sizes if w > 0 and h > 0)

    @property
    def raw_length(self) -> int:
        """Bytes that the picture's data must inflate to: every row with its filter byte."""
        return sum((row + 1) * rows for row, rows in self.list_passes())


class PngChunk(FrozenStruct):
    """One chunk: its four-letter name and where its data stand in the file."""

    name: bytes
    start: int
    length: int

    @property
    def end(self) -> int:
        """First byte after the data (the checksum)."""
        return self.start + self.length


class PngFile(FrozenStruct, dict=True):
    """A file whose outside has been checked whole. `findings` are warnings and notes, never stops."""

    content: bytes
    header: PngHeader
    chunks: tuple[PngChunk, ...]
    findings: tuple[Finding, ...]

    def find_chunk_data(self, name: bytes) -> bytes | None:
        """The data of the first chunk of that name, or None."""
        return next((self.content[c.start : c.end] for c in self.chunks if c.name == name), None)

    def list_idat(self) -> Iterator[memoryview]:
        """The compressed picture, chunk by chunk, without copying."""
        whole = memoryview(self.content)
        return (whole[c.start : c.end] for c in self.chunks if c.name == b"IDAT")

    @cached_property
    def palette(self) -> bytes:
        """PLTE as it stands: three bytes an entry."""
        return self.find_chunk_data(b"PLTE") or b""

    @cached_property
    def transparency(self) -> bytes | None:
        """tRNS where the colour type allows it, else None."""
        return None if self.header.alpha else self.find_chunk_data(b"tRNS")

    @property
    def orientation(self) -> int:
        """The Exif orientation, 1 to 8; 1 where there is none or it cannot be read."""
        return read_exif_orientation(self.find_chunk_data(b"eXIf") or b"")


def read_png(content: bytes, name: str = "", pixel_limit: int = PIXEL_LIMIT) -> PngFile:
    """Check everything outside the compressed data and return it.

    Refuses (`Trouble`) a wrong signature, any wrong checksum, a file that ends early, sizes over `pixel_limit`, and
    chunks that are missing, doubled, out of order or unknown but needed. What can be ignored without doubt about a
    single pixel (bytes after the end, chunks that do not belong) is reported among `findings`.
    """
    _check_signature(content, name)
    walk = _read_chunks(content, name)
    first = next(walk)
    header = _read_header(content, first, name, pixel_limit)
    chunks = (first, *walk)
    _check_order(chunks, header, name)
    _check_colours(chunks, header, name)
    return PngFile(content, header, chunks, tuple(_find_surprises(chunks, content, header, name)))


def read_exif_orientation(exif: bytes) -> int:
    """Orientation (tag 0x0112 of the first directory) of an Exif block, 1 where absent or unreadable.

    Source: Exif 2.32 (CIPA DC-008), section 4.6.4, table 4; TIFF 6.0, section 2, for the layout.
    """
    order = {b"II*\0": "little", b"MM\0*": "big"}.get(exif[:4])
    if order is None:
        return 1

    def number(start: int, size: int) -> int:
        return int.from_bytes(exif[start : start + size], "little" if order == "little" else "big")

    start = number(4, 4)
    for i in range(min(number(start, 2), 512) if start + 2 <= len(exif) else 0):
        entry = start + 2 + 12 * i
        if entry + 12 > len(exif):
            break
        if number(entry, 2) == 0x0112:
            value = number(entry + 8, 2)
            return value if 1 <= value <= 8 else 1
    return 1


def _refuse_png(name: str, what: str, remedy: str, kind: str = "damaged", why: str = "") -> NoReturn:
    raise Trouble(Finding(what, remedy, kind=kind, why=why, file=name))


def _check_signature(content: bytes, name: str) -> None:
    if content[:8] != SIGNATURE:
        raise Trouble(describe_foreign_file(content, name))


def _read_chunks(content: bytes, name: str) -> Iterator[PngChunk]:
    """Every chunk up to and with IEND, its checksum proven."""
    at, end = 8, len(content)
    whole = memoryview(content)
    for _ in range(_MOST_CHUNKS):
        if at + 12 > end:
            _refuse_png(name, f"the file is cut off after {end:,} bytes: its end mark is missing", AGAIN)
        length = int.from_bytes(whole[at : at + 4], "big")
        chunk = PngChunk(bytes(whole[at + 4 : at + 8]), at + 8, length)
        if not chunk.name.isalpha() or length > 2**31 - 1:
            _refuse_png(name, f"the file is damaged at byte {at:,}: no chunk begins there", AGAIN)
        if chunk.end + 4 > end:
            missing = chunk.end + 4 - end
            what = f"{missing:,} bytes of its {_quote_chunk(chunk)} part are" if missing > 1 else "its last byte is"
            _refuse_png(name, f"the file is cut off: {what} missing", AGAIN)
        stored = int.from_bytes(whole[chunk.end : chunk.end + 4], "big")
        if best_codec().crc32(whole[at + 4 : chunk.end]) != stored:
            _refuse_png(name, f"the file is damaged: the checksum of its {_quote_chunk(chunk)} part is wrong", AGAIN)
        yield chunk
        if chunk.name == b"IEND":
            return
        at = chunk.end + 4
    _refuse_png(name, f"the file has more than {_MOST_CHUNKS:,} parts", AGAIN)


def _quote_chunk(chunk: PngChunk) -> str:
    return chunk.name.decode("latin-1")


def _read_header(content: bytes, chunk: PngChunk, name: str, pixel_limit: int) -> PngHeader:
    if chunk.name == b"CgBI":
        _refuse_png(
            name,
            "this is a PNG rewritten for a phone's own use, which other programs cannot read",
            "Take the original artwork, not the one out of an app.",
            kind="foreign-format",
        )
    if chunk.name != b"IHDR" or chunk.length != 13:
        _refuse_png(name, "the file does not begin with a PNG header", AGAIN)
    d = content[chunk.start : chunk.end]
    width, height = int.from_bytes(d[:4], "big"), int.from_bytes(d[4:8], "big")
    depth, colour, compression, filtering, interlace = d[8:]
    if not (0 < width < 2**31 and 0 < height < 2**31):
        _refuse_png(name, f"the header gives a size of {width} × {height} pixels", AGAIN)
    if depth not in _DEPTHS.get(colour, ()):
        _refuse_png(name, f"the header gives colour type {colour} at {depth} bits, which no PNG has", AGAIN)
    if compression or filtering or interlace > 1:
        _refuse_png(name, "the header asks for a compression, filter or interlace method that no PNG has", AGAIN)
    if width * height > pixel_limit:
        _refuse_png(
            name,
            f"the picture has {width:,} × {height:,} pixels; the limit is {pixel_limit:,} in all",
            "Make it smaller (300 pixels an inch at the printed size are plenty) or raise the pixel limit.",
            kind="too-large",
        )
    if max(width, height) > _SIDE_LIMIT:
        _refuse_png(
            name,
            f"the picture has {width:,} × {height:,} pixels; the limit is {_SIDE_LIMIT:,} along one side",
            "Cut it into parts.",
            kind="too-large",
        )
    return PngHeader(width, height, depth, colour, bool(interlace))


def _check_order(chunks: tuple[PngChunk, ...], header: PngHeader, name: str) -> None:
    """Section 5.6: what must be there, once, and in which order, as far as it bears on the picture."""
    names = [c.name for c in chunks]
    for single in (b"IHDR", b"PLTE", b"tRNS"):
        if names.count(single) > 1:
            _refuse_png(name, f"the file has two {single.decode()} parts, and nothing says which is meant", AGAIN)
    unknown = [n for n in names if not n[0] & 32 and n not in (b"IHDR", b"PLTE", b"IDAT", b"IEND")]
    if unknown:
        part = quote_text(unknown[0].decode("latin-1"))
        _refuse_png(
            name, f"the file says that its part {part} is needed to read it, and no PNG standard describes it", AGAIN
        )
    if b"IDAT" not in names:
        _refuse_png(name, "the file holds no picture data (IDAT)", AGAIN)
    first = names.index(b"IDAT")
    last = len(names) - 1 - names[::-1].index(b"IDAT")
    if last - first + 1 != names.count(b"IDAT"):
        _refuse_png(name, "the picture data (IDAT) are interrupted by another part", AGAIN)
    for early in (b"PLTE", b"tRNS"):
        if early in names[first:] and (early == b"PLTE" or not header.alpha):
            _refuse_png(name, f"the {early.decode()} part comes after the picture data it belongs before", AGAIN)


def _check_colours(chunks: tuple[PngChunk, ...], header: PngHeader, name: str) -> None:
    """Sections 11.2.2 and 11.3.1.1: palette and transparent colour fit the colour type."""
    lengths = {c.name: c.length for c in chunks}
    entries = lengths.get(b"PLTE", 0)
    if header.palette and b"PLTE" not in lengths:
        _refuse_png(name, "the picture is painted by number, but its palette (PLTE) is missing", AGAIN)
    if b"PLTE" in lengths and not header.grey and not (0 < entries <= 768 and entries % 3 == 0):
        _refuse_png(name, f"the palette (PLTE) has {entries} bytes; it must be 1 to 256 colours of 3 bytes", AGAIN)
    clear = lengths.get(b"tRNS")
    if clear is None or header.alpha:
        return
    fits = 0 < clear <= entries // 3 if header.palette else clear == 2 * header.channels
    if not fits:
        _refuse_png(name, f"the transparent colours (tRNS) take {clear} bytes, which does not fit this picture", AGAIN)


def _find_surprises(chunks: tuple[PngChunk, ...], content: bytes, header: PngHeader, name: str) -> Iterator[Finding]:
    lengths = {c.name: c.length for c in chunks}
    trailing = len(content) - chunks[-1].end - 4
    if trailing:
        yield Finding(
            f"{trailing:,} bytes after the picture's end were ignored",
            "Export the artwork again if they were meant to be part of it.",
            Severity.WARN,
            "trailing-data",
            file=name,
        )
    odd = [
        (b"PLTE", header.grey, "a palette in a grey picture"),
        (b"tRNS", header.alpha, "a transparent colour besides the alpha channel"),
        (b"IEND", lengths[b"IEND"] > 0, "data in the end mark"),
    ]
    for chunk, found, what in odd:
        if found and chunk in lengths:
            yield Finding(f"ignored: {what}", "", Severity.NOTE, "odd-png", file=name)
    if b"acTL" in lengths:
        yield Finding(
            "the PNG is animated; its still picture is what prints",
            "Look at the proof: the still picture may differ from the frames.",
            Severity.WARN,
            "animated",
            file=name,
        )
