"""How a prepared picture will look: its pixels shrunk, unmirrored and turned into sRGB for a screen.

A picture's data are what is printed. Where artwork is converted for an output profile they are the printer's own
colours, and bringing those back through the profile is the soft proof. Where it is not, the same way shows the artwork
by its own profile.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from impose.art.codec import codec
from impose.art.icc import SRGB_CURVE, rgb_profile
from impose.art.prepare import Picture

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

_BYTES_AT_A_TIME = 4 << 20
_MODES = {1: "L", 3: "RGB", 4: "CMYK"}


def soft_proof(picture: Picture, longest: int = 360, paper: bool = False) -> Image.Image:
    """The ink bounds of `picture` as an RGB image in sRGB, at most `longest` pixels a side, not mirrored.

    Colours are matched relative to white, so that blank paper is white on the screen; with `paper` the colour of the
    paper is shown too, as the output profile knows it (absolute intent). Memory is a few MB, whatever the picture.
    """
    return to_screen(_shrunk(picture, longest), picture.icc, paper)


def to_screen(image: Image.Image, icc: bytes | None, paper: bool = False) -> Image.Image:
    """An image of mode L, RGB or CMYK by its profile, or without one taken for sRGB, in sRGB for a screen."""
    from PIL import ImageCms

    if icc is None:
        return image.convert("RGB")
    shown = ImageCms.applyTransform(image, _to_srgb(icc, image.mode, paper))
    assert shown is not None
    return shown


@lru_cache(maxsize=16)
def _to_srgb(icc: bytes, mode: str, paper: bool) -> Any:
    from PIL import ImageCms

    intent = ImageCms.Intent.ABSOLUTE_COLORIMETRIC if paper else ImageCms.Intent.RELATIVE_COLORIMETRIC
    screen = io.BytesIO(rgb_profile("sRGB", SRGB_CURVE))
    return ImageCms.buildTransform(io.BytesIO(icc), screen, mode, "RGB", intent)


def _shrunk(picture: Picture, longest: int) -> Image.Image:
    """The printed pixels averaged in whole blocks, not mirrored."""
    from PIL import Image

    left, top, right, bottom = picture.ink
    width, height = right - left, bottom - top
    block = max(1, -(-max(width, height) // longest))
    mode = _MODES[picture.components]
    small = Image.new(mode, (-(-width // block), -(-height // block)))
    row_bytes = width * picture.components
    held, done = bytearray(), 0
    for rows in _rows(picture.data, row_bytes):
        held += rows
        ready = len(held) // row_bytes // block * block
        if ready:
            done = _paste(small, held, mode, (width, ready), block, done)
            del held[: ready * row_bytes]
    if held:
        _paste(small, held, mode, (width, len(held) // row_bytes), block, done)
    return small


def _paste(small: Image.Image, held: bytearray, mode: str, size: tuple[int, int], block: int, done: int) -> int:
    from PIL import Image

    band = Image.frombytes(mode, size, bytes(held[: size[0] * size[1] * len(small.getbands())]))
    band = band.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    part = band.reduce(block) if block > 1 else band
    small.paste(part, (0, done))
    return done + part.height


def _rows(data: bytes, row_bytes: int) -> Iterator[bytes]:
    """The rows of a prepared picture, unfiltered, some at a time: every row is filtered Up (PNG section 9.2)."""
    import numpy as np

    inflater = codec().inflater()
    above: Array = np.zeros(row_bytes, np.uint8)
    held, rest = b"", data
    while rest or not inflater.eof:
        held += inflater.decompress(rest, max(_BYTES_AT_A_TIME, row_bytes + 1))
        rest = inflater.unconsumed_tail
        count = len(held) // (row_bytes + 1)
        if not count:
            if not rest:
                return
            continue
        cut = count * (row_bytes + 1)
        rows = np.frombuffer(held[:cut], np.uint8).reshape(count, row_bytes + 1)[:, 1:].copy()
        rows[0] += above
        np.add.accumulate(rows, axis=0, dtype=np.uint8, out=rows)
        above, held = rows[-1].copy(), held[cut:]
        yield rows.tobytes()
