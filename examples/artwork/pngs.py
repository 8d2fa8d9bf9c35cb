"""The pictures as PNG files of the several kinds that customers send."""

import io
from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, PngImagePlugin

from artwork.canvas import Canvas

Pixels = NDArray[np.uint8]
STEPS = 8


def clear(canvas: Canvas) -> Image.Image:
    """Colour with alpha. Colour under a pixel that shows nothing is set to one value."""
    return Image.fromarray(canvas.rgba())


def opaque(canvas: Canvas) -> Image.Image:
    """Colour on white."""
    return Image.fromarray(canvas.on_white())


def grey(canvas: Canvas) -> Image.Image:
    """One channel, on white, for art drawn in greys."""
    return Image.fromarray(np.ascontiguousarray(canvas.on_white()[..., 1]))


def indexed(canvas: Canvas, inks: Sequence[str]) -> Image.Image:
    """Eight-bit palette: white, clear; the inks; and the steps between any two of them that edges need."""
    flat = np.array([[255, 255, 255], *([int(code[i : i + 2], 16) for i in (1, 3, 5)] for code in inks)])
    between = [
        (one * (STEPS - step) + other * step + STEPS // 2) // STEPS
        for one, other in combinations(flat, 2)
        for step in range(1, STEPS)
    ]
    palette = np.vstack([flat, *between])
    if len(palette) > 256:
        raise ValueError(f"{len(inks)} inks need {len(palette)} palette entries; 256 is the most a PNG holds")
    image = Image.fromarray(_nearest(canvas.on_white(), palette), mode="P")
    image.putpalette(palette.astype(np.uint8).tobytes())
    image.info["transparency"] = 0
    return image


def _nearest(pixels: Pixels, palette: NDArray[np.int64]) -> Pixels:
    red, green, blue = (pixels[..., i].astype(np.int64) for i in range(3))
    code = red << 16 | green << 8 | blue
    seen = np.zeros(1 << 24, np.bool_)
    seen[code] = True
    used = np.flatnonzero(seen)
    wanted = np.stack([used >> 16, used >> 8 & 255, used & 255], axis=1)
    index = np.zeros(1 << 24, np.uint8)
    for start in range(0, len(used), 4096):
        off = wanted[start : start + 4096, None, :] - palette[None]
        index[used[start : start + 4096]] = np.argmin((off * off).sum(axis=2), axis=1)
    chosen: Pixels = index[code]
    return chosen


def srgb_profile() -> bytes:
    """An sRGB profile without the hour of its making, so that the same file comes out every day."""
    made = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # ICC.1:2022 7.2: date in bytes 24-35, profile ID (a checksum, zero for none) in bytes 84-99.
    made[24:36] = bytes.fromhex("07d0 0001 0001 0000 0000 0000")
    made[84:100] = bytes(16)
    return bytes(made)


def encoded(image: Image.Image, ppi: int | None = None, profile: bool = False) -> bytes:
    """PNG bytes; `ppi` is what the file claims of itself, which the engine rightly ignores."""
    held = io.BytesIO()
    options: dict[str, object] = {"compress_level": 6, "pnginfo": PngImagePlugin.PngInfo()}
    if ppi is not None:
        options["dpi"] = (ppi, ppi)
    if profile:
        options["icc_profile"] = srgb_profile()
    if image.mode == "P":
        options["transparency"] = image.info["transparency"]
    image.save(held, "PNG", **options)
    return held.getvalue()
