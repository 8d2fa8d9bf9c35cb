"""Sheets as PWG Raster (PWG 5102.4) for printers that take no PDF: drawn at their own dots, so that nothing is scaled.

The page header is section 4.3 of the standard (offsets from memory, proven against the spooler's own reader in the
tests); lines are packed by pixels as in section 4.4.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from impose.pages.pdf.raster import count_dots, draw_bands, read_page_sizes

if TYPE_CHECKING:
    import numpy as np

SYNC = b"RaS2"
HEADER_BYTES = 1796
SRGB = 19  # ColorSpace: sRGB
MOST_REPEAT = 128
MOST_SAME_LINES = 256


def write_raster(pdf: Path, pages: Sequence[int], dpi: int, media: tuple[str, str], out: Path) -> None:
    """Draw pages (counted from 0) of a PDF into one raster file; `media` is the paper's name and type."""
    sizes = read_page_sizes(pdf)
    with out.open("wb") as file:
        file.write(SYNC)
        for page in pages:
            file.write(write_page_header(sizes[page], count_dots(*sizes[page], dpi), dpi, media, len(pages)))
            _write_lines(file, pdf, page, dpi)


def write_page_header(
    size_mm: tuple[float, float], dots: tuple[int, int], dpi: int, media: tuple[str, str], pages: int
) -> bytes:
    """The 1796 bytes before a page's lines."""
    header = bytearray(HEADER_BYTES)

    def text(at: int, words: str) -> None:
        content = words.encode("ascii", "replace")[:63]
        header[at : at + len(content)] = content

    def numbers(at: int, *values: int) -> None:
        struct.pack_into(f">{len(values)}I", header, at, *values)

    text(0, "PwgRaster")
    text(128, media[1])  # MediaType
    numbers(276, dpi, dpi)  # HWResolution
    numbers(340, 1)  # NumCopies
    numbers(352, *(round(mm / 25.4 * 72) for mm in size_mm))  # PageSize, in points
    numbers(372, *dots)  # Width, Height
    numbers(384, 8, 24, dots[0] * 3)  # BitsPerColor, BitsPerPixel, BytesPerLine
    numbers(396, 0, SRGB)  # ColorOrder: chunky; ColorSpace
    numbers(420, 3)  # NumColors
    numbers(452, pages, 1, 1)  # TotalPageCount, CrossFeedTransform, FeedTransform: as drawn
    numbers(464, 0, 0, *dots)  # ImageBox: all of it
    numbers(484, 5)  # PrintQuality: high
    text(1668, "relative")  # RenderingIntent
    text(1732, media[0])  # PageSizeName
    return bytes(header)


def _write_lines(file: BinaryIO, pdf: Path, page: int, dpi: int) -> None:
    """The lines of a page; those that are alike, one below the other, once."""
    last, packed, count = b"", b"", 0
    for row in _draw_rows(pdf, page, dpi):
        line = row.tobytes()
        if line == last and count < MOST_SAME_LINES:
            count += 1
            continue
        if count:
            file.write(bytes([count - 1]) + packed)
        last, packed, count = line, pack_line(row), 1
    if count:
        file.write(bytes([count - 1]) + packed)


def _draw_rows(pdf: Path, page: int, dpi: int) -> Iterator[np.ndarray[Any, Any]]:
    for band in draw_bands(pdf, page, dpi):
        yield from band


def pack_line(row: np.ndarray[Any, Any]) -> bytes:
    """One line of dots x 3, packed: alike ones by their count, others as they are, at most 128 at a time."""
    import numpy as np

    count, raw = len(row), row.tobytes()
    dots = row.astype(np.uint32)
    colours = dots[:, 0] << 16 | dots[:, 1] << 8 | dots[:, 2]
    starts = np.concatenate(([0], np.flatnonzero(colours[1:] != colours[:-1]) + 1))
    lengths = np.diff(starts, append=count)
    runs = lengths > 1
    out = bytearray()
    at = 0
    for start, length in zip(starts[runs].tolist(), lengths[runs].tolist(), strict=True):
        _put_unlike(out, raw, at, start)
        _put_alike(out, raw[start * 3 : start * 3 + 3], length)
        at = start + length
    _put_unlike(out, raw, at, count)
    return bytes(out)


def _put_alike(out: bytearray, dot: bytes, length: int) -> None:
    while length:
        part = min(MOST_REPEAT, length)
        out.append(part - 1)
        out += dot
        length -= part


def _put_unlike(out: bytearray, raw: bytes, start: int, end: int) -> None:
    while start < end:
        part = min(MOST_REPEAT, end - start)
        out.append(257 - part if part > 1 else 0)  # a single dot is one that is repeated once
        out += raw[start * 3 : (start + part) * 3]
        start += part
