"""Pictures of the scenes, each with the one fault its name says; sizes in pixels."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable

import numpy as np
from PIL import Image, ImageDraw

Chunk = tuple[bytes, bytes]
INK = (160, 30, 40, 255)


def draw_disc(size: int = 160, ground: tuple[int, ...] = (0, 0, 0, 0), colour: tuple[int, ...] = INK) -> Image.Image:
    """A smooth disc in the middle of its canvas: nothing is wrong with it."""
    big = Image.new("RGBA", (size * 2, size * 2), ground)
    ImageDraw.Draw(big).ellipse((size // 3, size // 3, size * 5 // 3, size * 5 // 3), fill=colour)
    return big.resize((size, size), Image.Resampling.BOX)


def _lay(*boxes: tuple[tuple[int, int, int, int], tuple[int, ...]], on: Image.Image | None = None) -> Image.Image:
    picture = draw_disc() if on is None else on
    pen = ImageDraw.Draw(picture)
    for box, colour in boxes:
        pen.rectangle(box, fill=colour)
    return picture


def _draw_haze() -> Image.Image:
    pixels = np.asarray(draw_disc()).copy()
    pixels[pixels[..., 3] == 0] = (40, 60, 40, 9)
    return Image.fromarray(pixels, "RGBA")


def _draw_screenshot() -> Image.Image:
    picture = Image.new("RGB", (390, 844), (250, 250, 252))
    return _lay(((0, 0, 389, 90), (20, 90, 220)), ((40, 200, 349, 500), (160, 30, 40)), on=picture)


def _draw_gaps() -> Image.Image:
    picture = Image.new("RGBA", (160, 160), (0, 0, 0, 0))
    return _lay(*(((30, 30 + 8 * k, 130, 36 + 8 * k), INK) for k in range(12)), on=picture)


def _draw_strokes() -> Image.Image:
    picture = draw_disc()
    pen = ImageDraw.Draw(picture)
    for k in range(8):
        pen.line((8 + 4 * k, 4, 8 + 4 * k, 60), fill=INK)
    return picture


def _draw_spots() -> Image.Image:
    chance = np.random.default_rng(5)
    picture = Image.new("RGBA", (320, 320), (0, 0, 0, 0))
    picture.alpha_composite(draw_disc(120), (20, 20))
    for x, y in chance.integers(170, 310, (40, 2)):
        picture.putpixel((int(x), int(y)), INK)
    return picture


PICTURES: dict[str, Callable[[], Image.Image]] = {
    "clean": draw_disc,
    "grey": lambda: draw_disc().convert("LA"),
    "white-ground": lambda: draw_disc(ground=(255, 255, 255, 255)).convert("RGB"),
    "haze": _draw_haze,
    "off-white": lambda: draw_disc(ground=(252, 252, 250, 255)).convert("RGB"),
    "tinted-ground": lambda: draw_disc(ground=(236, 232, 214, 255)).convert("RGB"),
    "white-inside": lambda: _lay(((60, 60, 100, 100), (255, 255, 255, 255)), on=draw_disc()),
    "speck": lambda: _lay(((2, 2, 3, 3), INK)),
    "speck-inside": lambda: _lay(((60, 60, 100, 100), (0, 0, 0, 0)), ((80, 80, 80, 80), INK)),
    "spots": _draw_spots,
    "cut-off": lambda: draw_disc().crop((40, 0, 160, 160)),
    "square": lambda: Image.new("RGB", (120, 90), (30, 60, 120)),
    "screenshot": _draw_screenshot,
    "gaps": _draw_gaps,
    "strokes": _draw_strokes,
    "faint": lambda: draw_disc(colour=(160, 30, 40, 60)),
    "blank": lambda: Image.new("RGBA", (40, 40), (0, 0, 0, 0)),
    "white": lambda: Image.new("RGB", (40, 40), (255, 255, 255)),
    "bright": lambda: draw_disc(colour=(0, 255, 40, 255)),
    "two-colours": lambda: _lay(((60, 60, 100, 100), (18, 160, 91, 255))),
    "tall": lambda: _lay(((20, 20, 60, 280), INK), on=Image.new("RGBA", (80, 300), (0, 0, 0, 0))),
    "wide": lambda: _lay(((20, 20, 380, 60), INK), on=Image.new("RGBA", (400, 80), (0, 0, 0, 0))),
}  # fmt: skip

CHUNKS: dict[str, Chunk] = {
    # W3C PNG 3rd edition, 11.3: the chunks and their contents.
    "srgb": (b"sRGB", b"\0"),
    "gamma-linear": (b"gAMA", struct.pack(">I", 100_000)),
    "gamma-none": (b"gAMA", struct.pack(">I", 0)),
    "72-ppi": (b"pHYs", struct.pack(">IIB", 2835, 2835, 1)),
    "icc-junk": (b"iCCP", b"junk\0\0" + zlib.compress(b"no profile", 0)),
    "animation": (b"acTL", struct.pack(">II", 3, 0)),
    "hdr": (b"cICP", bytes((9, 16, 0, 1))),
    # CIPA DC-008 (Exif), tag 0x0112 Orientation = 6: turn clockwise by a quarter.
    "turned": (b"eXIf", b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0"),
    "unknown": (b"zzZz", b"mine"),
}
