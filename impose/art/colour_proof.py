"""How a prepared picture will look: its printed numbers brought back through their profile into sRGB for a screen.

Where artwork is converted for an output profile the prepared pixels are the printer's own colours, and bringing those
back is the soft proof: what the printer cannot make is seen as what it makes instead. Where artwork goes through
untouched, the same way shows it by its own profile.
"""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from impose.art.icc import SRGB_CURVE, make_rgb_profile
from impose.art.prepare import PreparedPicture

if TYPE_CHECKING:
    from PIL import Image


def make_soft_proof(image: Image.Image, picture: PreparedPicture, paper: bool = False) -> Image.Image:
    """`image` (mode L, RGB or CMYK, pixels of `picture` at any size) as an RGB image in sRGB.

    Colours are matched relative to white, so that blank paper is white on the screen; with `paper` the colour of the
    paper is shown too, as the profile describes it (absolute intent). A picture without a profile is taken for sRGB.
    """
    from PIL import ImageCms

    if picture.icc is None:
        return image.convert("RGB")
    shown = ImageCms.applyTransform(image, _build_srgb_transform(picture.icc, image.mode, paper))
    assert shown is not None  # only a transform in place returns nothing
    return shown


@lru_cache(maxsize=16)
def _build_srgb_transform(icc: bytes, mode: str, paper: bool) -> Any:
    from PIL import ImageCms

    intent = ImageCms.Intent.ABSOLUTE_COLORIMETRIC if paper else ImageCms.Intent.RELATIVE_COLORIMETRIC
    screen = io.BytesIO(make_rgb_profile("sRGB", SRGB_CURVE))
    return ImageCms.buildTransform(io.BytesIO(icc), screen, mode, "RGB", intent)
