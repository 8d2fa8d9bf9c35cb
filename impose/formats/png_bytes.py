"""A picture in memory as the bytes of a PNG: pixels, profile and turning, and nothing else of the file it came from."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from typing import TYPE_CHECKING

from impose.art.codec import best_codec
from impose.art.png import SIGNATURE
from impose.art.png_writer import make_stored_stream

if TYPE_CHECKING:
    from PIL import Image

_COLOURS = {"L": 0, "RGB": 2, "LA": 4, "RGBA": 6}
_BAND = 1 << 22  # bytes of rows in one IDAT chunk


def write_png(image: Image.Image, icc: bytes | None = None, orientation: int = 1, srgb: bool = False) -> bytes:
    """A PNG of an image of mode L, LA, RGB or RGBA: W3C PNG, third edition, with stored (uncompressed) data.

    `orientation` is kept as an Exif note of that one value; `srgb` says that the colours are sRGB. Nothing is
    compressed, since it is read back at once.
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
        parts += _make_chunk(
            b"eXIf", b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01" + struct.pack(">HHI", orientation, 0, 0)
        )
    parts += _make_chunk(b"IDAT", *make_stored_stream(list(_split_rows(image))))
    parts += _make_chunk(b"IEND")
    return b"".join(parts)


def _split_rows(image: Image.Image) -> Iterator[bytes]:
    """The rows in bands, each row behind the filter byte that stands for none."""
    import numpy as np

    width, height = image.size
    channels = len(image.getbands())
    step = max(1, _BAND // (width * channels + 1))
    for top in range(0, height, step):
        band = image.crop((0, top, width, min(top + step, height)))
        rows = np.zeros((band.height, width * channels + 1), np.uint8)
        rows[:, 1:] = np.frombuffer(band.tobytes(), np.uint8).reshape(band.height, -1)
        yield rows.tobytes()


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
