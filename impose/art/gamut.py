"""How much of a picture the printer cannot make: colours that come back changed from a trip into its profile.

Each sampled ink pixel is brought into the output profile colorimetrically and back; it is out of gamut if it returns
more than 5 CIE 1976 colour differences away (the threshold of Little CMS's own gamut check). Perceptual and saturation
intents move all colours so that none is cut off, so what they are measured by is what could not be kept as it is.
With black point compensation a dark tone counts as kept where it lands on the printer's own scale of darks.

Precision: rows and columns are sampled evenly, at most 400 each way, so a share comes from up to 160,000 pixels and
shares of an irregular picture are right to about 0.2 points; Lab is compared in whole units, so a difference is known
to about 1.
"""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from impose.art.decode import DecodedFrame
from impose.art.ink import PixelBox, composite_over_white, count_tint_levels
from impose.art.output_profile import ColourConversion, OutputProfile, build_transform
from impose.errors import Finding, Severity

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

VISIBLE = 5.0
"""CIE 1976 difference beyond which a colour is out of gamut."""

SAID, WARNED = 0.005, 0.10
"""Shares of the ink from which out of gamut is a note, and a warning (our own choice; no source)."""

_LONGEST = 400
_MARK = (255, 0, 255)


def find_out_of_gamut(
    frame: DecodedFrame, bounds: PixelBox, tint: float, conversion: ColourConversion, name: str
) -> Finding | None:
    """What of the ink the output profile cannot make, with a small picture that marks it; None if next to nothing."""
    import numpy as np

    small, step = _sample_ink(frame, bounds)
    ink = np.asarray(small).reshape(small.height, small.width, -1).min(axis=2) <= 255 - count_tint_levels(tint)
    lost = measure_distance(small, conversion)
    outside = ink & (lost > VISIBLE)
    share = float(outside.sum()) / max(1, int(ink.sum()))
    if share < SAID:
        return None
    return Finding(
        f"{share:.1%} of the ink has colours that the printer cannot make; the worst miss by {lost[outside].max():.0f}",
        "Look at the soft proof; keep them, choose another intent, or change those colours in the artwork.",
        Severity.WARN if share >= WARNED else Severity.NOTE,
        "out-of-gamut",
        f"They print as the nearest the profile has (differences in CIE 1976 units; {VISIBLE:g} is plainly seen).",
        name,
        px=_bound_out_of_gamut(outside, bounds, step),
        view=_draw_gamut_view(small, outside),
    )


def _sample_ink(frame: DecodedFrame, bounds: PixelBox) -> tuple[Image.Image, int]:
    """Every so-manieth pixel of every so-manieth row, over white: true colours, where averages would be paler."""
    import numpy as np
    from PIL import Image

    left, top, right, bottom = bounds
    step = max(1, -(-max(right - left, bottom - top) // _LONGEST))
    first = min(step // 2, right - left - 1, bottom - top - 1)
    lines = [
        np.asarray(composite_over_white(frame, (left, y, right, y + 1)))[:, first::step]
        for y in range(top + first, bottom, step)
    ]
    return Image.fromarray(np.concatenate(lines)), step


def measure_distance(small: Image.Image, conversion: ColourConversion) -> Array:
    """CIE 1976 difference between each pixel and what comes back of it."""
    import numpy as np
    from PIL import ImageCms

    wanted = conversion.output
    if wanted.intent in ("perceptual", "saturation"):
        wanted = OutputProfile(wanted.icc, "relative", True)
    there = ImageCms.applyTransform(small, build_transform(conversion.source, small.mode, wanted))
    assert there is not None
    before = _convert_to_lab(small, conversion.source, wanted)
    change = np.subtract(_convert_to_lab(there, wanted.icc, wanted), before)
    return np.asarray(np.sqrt((change**2).sum(axis=2)))


def _convert_to_lab(image: Image.Image, icc: bytes, wanted: OutputProfile) -> Array:
    """L, a and b of each pixel. Pillow keeps L as 255ths of 100, a and b as whole numbers with their sign."""
    import numpy as np
    from PIL import ImageCms

    made = ImageCms.applyTransform(
        image, _build_lab_transform(icc, image.mode, wanted.intent == "absolute", wanted.black_point)
    )
    values = np.asarray(made)
    signed = values[:, :, 1:].view(np.int8).astype(np.float32)
    return np.concatenate([values[:, :, :1].astype(np.float32) * (100 / 255), signed], axis=2)


@lru_cache(maxsize=16)
def _build_lab_transform(icc: bytes, mode: str, absolute: bool, black_point: bool) -> Any:
    from PIL import ImageCms

    intent = ImageCms.Intent.ABSOLUTE_COLORIMETRIC if absolute else ImageCms.Intent.RELATIVE_COLORIMETRIC
    flags = ImageCms.Flags.BLACKPOINTCOMPENSATION if black_point and not absolute else ImageCms.Flags.NONE
    return ImageCms.buildTransform(io.BytesIO(icc), ImageCms.createProfile("LAB"), mode, "LAB", intent, flags)


def _bound_out_of_gamut(outside: Array, bounds: PixelBox, step: int) -> PixelBox:
    """The smallest box on the canvas around all that is out of gamut, to within a sample."""
    import numpy as np

    left, top, right, bottom = bounds
    rows, columns = np.flatnonzero(outside.any(axis=1)), np.flatnonzero(outside.any(axis=0))
    x, y = left + int(columns[0]) * step, top + int(rows[0]) * step
    return x, y, min(right, left + int(columns[-1] + 1) * step), min(bottom, top + int(rows[-1] + 1) * step)


def _draw_gamut_view(small: Image.Image, outside: Array) -> bytes:
    """The picture in pale grey with what is out of gamut in magenta, at most 360 pixels a side, as a PNG."""
    import numpy as np
    from PIL import Image

    pale = small.convert("L").point([128 + level // 2 for level in range(256)]).convert("RGB")
    pale.paste(_MARK, None, Image.fromarray(np.where(outside, 255, 0).astype(np.uint8)))
    pale.thumbnail((360, 360), Image.Resampling.NEAREST)
    content = io.BytesIO()
    pale.quantize(64).save(content, "PNG")
    return content.getvalue()
