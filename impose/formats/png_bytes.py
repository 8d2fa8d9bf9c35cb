"""What is known of a picture as a PNG says it: size, profile and turning, nothing else of the file it came from."""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING

from impose.art.codec import best_codec
from impose.art.png import SIGNATURE

if TYPE_CHECKING:
    from PIL import Image

_COLOURS = {"L": 0, "RGB": 2, "RGBX": 2, "LA": 4, "RGBA": 6}


def write_png_head(image: Image.Image, icc: bytes | None = None, orientation: int = 1, srgb: bool = False) -> bytes:
    """What a PNG says of an image of mode L, LA, RGB, RGBX or RGBA, without its pixels: W3C PNG, third edition.

    `orientation` is kept as an Exif note of that one value; `srgb` says that the colours are sRGB.
    """
    width, height = image.size
    header = struct.pack(">IIBBBBB", width, height, 8, _COLOURS[image.mode], 0, 0, 0)
    parts = [SIGNATURE, *_make_chunk(b"IHDR", header)]
    if srgb:
        parts += _make_chunk(b"sRGB", b"\0")
    elif icc is not None:
        parts += _make_chunk(b"iCCP", b"ICC\0\0" + zlib.compress(icc, 1))
    if orientation != 1:
        # TIFF 6.0, section 2: one directory of one entry, a short.
        note = b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01" + struct.pack(">HHI", orientation, 0, 0)
        parts += _make_chunk(b"eXIf", note)
    return b"".join([*parts, *_make_chunk(b"IDAT"), *_make_chunk(b"IEND")])


def _make_chunk(name: bytes, *data: bytes | memoryview) -> list[bytes | memoryview]:
    length, check = 0, best_codec().crc32(name)
    for part in data:
        length += len(part)
        check = best_codec().crc32(part, check)
    return [length.to_bytes(4, "big") + name, *data, check.to_bytes(4, "big")]


def mark_srgb(png: bytes) -> bytes:
    """A PNG without a colour description as one that says sRGB, as SVG and rendered pages are (CSS Color 4, 4.1)."""
    end = 8 + 25  # the signature and IHDR
    return b"".join([png[:end], *_make_chunk(b"sRGB", b"\0"), png[end:]])
