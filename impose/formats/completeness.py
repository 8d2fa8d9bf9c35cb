"""Whether a file that is still being copied is all there: each format says how long it is, or ends with a mark.

Only the outside is looked at, in short steps, by readers of our own: what is inside is judged later, apart. A file that
passes may be damaged; one that is still arriving does not pass.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Generator
from typing import BinaryIO
from xml.parsers import expat

from impose.file_types import AVIF, HEIC, JPEG, PDF, PSD, SVG, TIFF, WEBP, FileType
from impose.formats.svg_guard import LARGEST

Looking = Generator[None, None, str]

_SLICE = 1 << 20
_MOST_PARTS = 100_000
_MOST_PAGES = 1_000
_TAIL = 2048


def find_missing_end(file: BinaryIO, size: int, kind: FileType) -> Looking:
    """Why a file of some kind is not whole, in lower case; "" if it is, or if its kind does not say.

    Yields between steps of about a hundredth of a second. Raises `OSError` where the file cannot be read.
    """
    looks: dict[FileType, Callable[[BinaryIO, int], Looking]] = {
        JPEG: _find_jpeg_end,
        WEBP: _find_webp_end,
        TIFF: _find_tiff_end,
        AVIF: _find_boxes_end,
        HEIC: _find_boxes_end,
        PSD: _find_psd_end,
        PDF: _find_pdf_end,
        SVG: _find_svg_end,
    }
    look = looks.get(kind)
    if look is None:
        return ""
    file.seek(0)
    try:
        return (yield from look(file, size))
    except struct.error:
        return _say_cut(size)


def _say_cut(size: int) -> str:
    return f"the file is cut off after {size:,} bytes"


def _read_numbers(file: BinaryIO, form: str, at: int | None = None) -> tuple[int, ...]:
    if at is not None:
        file.seek(at)
    numbers: tuple[int, ...] = struct.unpack(form, file.read(struct.calcsize(form)))
    return numbers


def _find_jpeg_end(file: BinaryIO, size: int) -> Looking:
    """It ends with the mark EOI (ITU-T T.81, B.2.1); phones put a second picture or a film behind it.

    A thumbnail has such a mark of its own, in a segment before the scan: it is stepped over.
    """
    missing = _say_cut(size) + ": its end mark is missing"
    scan = _find_jpeg_scan(file, size)
    if scan is None:
        return missing
    file.seek(max(scan, size - _TAIL))
    if b"\xff\xd9" in file.read():
        return ""
    file.seek(scan)
    held = b""
    while block := file.read(_SLICE):
        if b"\xff\xd9" in held + block:
            return ""
        held = block[-1:]
        yield
    return missing


def _find_jpeg_scan(file: BinaryIO, size: int) -> int | None:
    """Where the picture's first scan, or its end mark, begins; None where the file ends before it.

    It is the start of what stands there instead where bytes are no marker: decoders pass over those too.
    """
    at = 2
    for _ in range(_MOST_PARTS):
        file.seek(at)
        head = file.read(4)
        if head[:2] == b"\xff\xd9":
            return at
        if head[:2] == b"\xff\xff":  # a fill byte (B.1.1.2)
            at += 1
            continue
        if len(head) < 4:
            return None
        if head[0] != 0xFF:
            return at
        at += 2 + int.from_bytes(head[2:])
        if at > size:
            return None
        if head[1] == 0xDA:
            return at
    return at


def _find_webp_end(file: BinaryIO, size: int) -> Looking:
    """RIFF says its length (RFC 9649, section 2.4)."""
    yield from ()
    (length,) = _read_numbers(file, "<I", 4)
    return _say_cut(size) if 8 + length > size + size % 2 else ""


def _find_tiff_end(file: BinaryIO, size: int) -> Looking:
    """Every strip or tile of every directory lies inside (TIFF 6.0, sections 2, 3 and 15)."""
    order = "<" if file.read(2) == b"II" else ">"
    _, start = _read_numbers(file, order + "HI", 2)
    seen: set[int] = set()
    while start and start not in seen and len(seen) < _MOST_PAGES:
        seen.add(start)
        if _strips_missing(file, size, order, start):
            return _say_cut(size)
        (count,) = _read_numbers(file, order + "H", start)
        (start,) = _read_numbers(file, order + "I", start + 2 + 12 * count)
        yield
    return ""


def _strips_missing(file: BinaryIO, size: int, order: str, start: int) -> bool:
    """Whether a strip or tile of the directory at `start` reaches beyond the file."""
    (count,) = _read_numbers(file, order + "H", start)
    places: dict[int, list[int]] = {}
    for i in range(count):
        tag, kind, number, _ = _read_numbers(file, order + "HHI4s", start + 2 + 12 * i)
        if tag in (273, 279, 324, 325) and kind in (3, 4) and number <= _MOST_PARTS:
            form = f"{order}{number}{'H' if kind == 3 else 'I'}"
            at = start + 10 + 12 * i
            if struct.calcsize(form) > 4:
                (at,) = _read_numbers(file, order + "I", at)
            places[tag] = list(_read_numbers(file, form, at))
    return any(
        offset + held > size
        for begin, length in ((273, 279), (324, 325))
        for offset, held in zip(places.get(begin, ()), places.get(length, ()), strict=False)
    )


def _find_boxes_end(file: BinaryIO, size: int) -> Looking:
    """Boxes follow one another to the end (ISO/IEC 14496-12, 4.2)."""
    at = 0
    for count in range(_MOST_PARTS):
        if at == size:
            return ""
        (length,) = _read_numbers(file, ">I", at)
        if length == 1:
            (length,) = _read_numbers(file, ">Q", at + 8)
        elif length == 0:
            return ""
        if length < 8 or at + length > size:
            return _say_cut(size)
        at += length
        if count % 1000 == 999:
            yield
    return ""


_PSD_HEADER = 26


def _find_psd_end(file: BinaryIO, size: int) -> Looking:
    """Three sections that say their length, then the picture (Adobe Photoshop File Formats, 2019)."""
    yield from ()
    channels, height, width, depth = _read_numbers(file, ">HIIH", 12)
    at = _PSD_HEADER
    for _ in range(3):
        (length,) = _read_numbers(file, ">I", at)
        at += 4 + length
    (compression,) = _read_numbers(file, ">H", at)
    at += 2
    if compression == 0:
        return _say_cut(size) if at + channels * height * ((width * depth + 7) // 8) > size else ""
    if compression == 1 and channels * height <= 10 * _MOST_PARTS:
        counts = _read_numbers(file, f">{channels * height}H", at)
        return _say_cut(size) if at + 2 * len(counts) + sum(counts) > size else ""
    return ""


def _find_pdf_end(file: BinaryIO, size: int) -> Looking:
    """It ends with %%EOF (ISO 32000-1, 7.5.5), and readers look for it in the last kilobyte."""
    yield from ()
    file.seek(max(0, size - _TAIL))
    return "" if b"%%EOF" in file.read() else _say_cut(size) + ": its end mark is missing"


def _find_svg_end(file: BinaryIO, size: int) -> Looking:
    """Its outermost element is closed (XML 1.0, section 2.1)."""
    if size > LARGEST:
        return ""
    parser = expat.ParserCreate()
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    closed: list[str] = []
    deep = 0

    def open_element(_name: str, _attributes: dict[str, str]) -> None:
        nonlocal deep
        deep += 1

    def end_element(name: str) -> None:
        nonlocal deep
        deep -= 1
        if not deep:
            closed.append(name)

    parser.StartElementHandler, parser.EndElementHandler = open_element, end_element
    parser.EntityDeclHandler = _stop_parser  # a list of entities is refused later; it must not grow here
    try:
        while block := file.read(_SLICE):
            parser.Parse(block, False)
            yield
    except (expat.ExpatError, ValueError, LookupError) as error:
        return "" if isinstance(error, _EntityDeclared) else f"the drawing is damaged or not all there ({error})"
    return "" if closed else _say_cut(size) + ": its outermost part is not closed"


class _EntityDeclared(ValueError):
    """An entity is declared."""


def _stop_parser(*_: object) -> None:
    raise _EntityDeclared
