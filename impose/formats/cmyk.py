"""Pictures in process inks brought to sRGB by their own profile; without one their colours cannot be known."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from impose.art.colour import can_convert_to_screen
from impose.art.icc import SRGB_CURVE, find_profile_fault, make_rgb_profile
from impose.errors import Finding, Severity
from impose.formats.conversion import make_refusal

if TYPE_CHECKING:
    from PIL import Image

_REMEDY = "Export it with its ICC profile, or as sRGB."
_WHY = "The same numbers are other colours on every press."


def convert_cmyk(image: Image.Image, icc: bytes | None, name: str) -> tuple[Image.Image, Finding]:
    """Pixels in sRGB, relative colorimetric with black-point compensation, and the note that says so.

    Raises `Trouble` without a profile for them.
    """
    from PIL import ImageCms

    if icc is None:
        what = "its colours are process inks (CMYK) without a profile, so what they look like cannot be known"
        raise make_refusal(what, _REMEDY, name, "cmyk-unknown", _WHY)
    fault = find_profile_fault(icc, "CMYK")
    if fault is not None or not can_convert_to_screen(icc, "CMYK"):
        said = fault.what if fault is not None else "cannot be read by the colour engine"
        raise make_refusal(
            f"its colours are process inks (CMYK), and the embedded profile {said}", _REMEDY, name, "cmyk-unknown", _WHY
        )
    screen = io.BytesIO(make_rgb_profile("sRGB", SRGB_CURVE))
    made = ImageCms.profileToProfile(
        image,
        io.BytesIO(icc),
        screen,
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
        # The finer table: with the usual one colours are up to 5 levels off.
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION | ImageCms.Flags.HIGHRESPRECALC,
    )
    assert made is not None  # it is only where the picture itself is changed
    what = (
        "its process inks (CMYK) were brought to sRGB by its own profile, relative colorimetric with black-point "
        "compensation"
    )
    return made, Finding(what, "Look at the colours in the proof.", Severity.NOTE, "from-cmyk", file=name)
