"""Turning artwork into a printer's own colours, by its ICC profile, through Little CMS.

Only where an output profile is asked for. Blank paper stays blank: a conversion that would lay ink where the artwork
is white is refused, because transfer paper's white is the cloth's own and all ink presses onto it.
"""

from __future__ import annotations

import hashlib
import io
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from impose.art.colour import can_convert_to_screen
from impose.art.icc import (
    SRGB_CURVE,
    describe_colour_space,
    find_profile_fault,
    lacks_intent,
    make_grey_profile,
    make_rgb_profile,
)
from impose.errors import Exit, Finding, Severity, Trouble
from impose.remedies import Remedy
from impose.values import FrozenStruct, describe_value

if TYPE_CHECKING:
    from PIL import Image

Intent = Literal["perceptual", "relative", "saturation", "absolute"]
INTENTS: tuple[Intent, ...] = ("perceptual", "relative", "saturation", "absolute")
"""In the order of their numbers (ICC.1:2022, 7.2.15)."""

_MODES = {"grey": ("L", 1), "RGB": ("RGB", 3), "CMYK": ("CMYK", 4)}
_BLANK = {"L": (255,), "RGB": (255, 255, 255), "CMYK": (0, 0, 0, 0)}
_NEAR = 5
"""Levels of 255 by which a profile may miss blank paper and white is still set to blank: the 2 % below which a tint is
no ink by default."""


class OutputProfile(FrozenStruct):
    """A printer's colour profile, byte for byte, and how colours are brought into it.

    `black_point` scales the artwork's darkest tone to the printer's darkest instead of cutting off what is darker; it
    counts for the relative intent alone, the others have their own way with black.
    """

    icc: bytes
    intent: Intent = "relative"
    black_point: bool = True

    def __repr__(self) -> str:
        return describe_value(self, "icc")

    @property
    def mode(self) -> str:
        """L, RGB or CMYK, as Pillow names the pixels that come out."""
        return _MODES[describe_colour_space(self.icc)][0]

    @property
    def components(self) -> int:
        """Numbers a pixel: 1, 3 or 4."""
        return _MODES[describe_colour_space(self.icc)][1]

    @property
    def sha256(self) -> str:
        """The content of the profile, for records."""
        return hashlib.sha256(self.icc).hexdigest()


def check_output_profile(output: OutputProfile, name: str) -> list[Finding]:
    """Raise `Trouble` (wrong use) for a profile that cannot be printed with; return what is worth knowing of it."""
    fault = find_profile_fault(output.icc, output=True)
    what = None if fault is None else fault.what
    if what is None and describe_colour_space(output.icc) not in _MODES:
        what = f"is for {describe_colour_space(output.icc)}; a PDF takes grey, RGB and CMYK"
    if what is None and not (can_convert_to_screen(output.icc, output.mode) and _can_convert(output)):
        what = "cannot be read by the colour engine"
    if what is not None:
        raise Trouble(
            _make_unusable_finding(f"the output profile {what}", "Ask for the printer's own ICC profile.", name)
        )
    miss = _measure_white_error(_convert_white(make_rgb_profile("sRGB", SRGB_CURVE), "RGB", output))
    if miss > _NEAR:
        raise Trouble(_make_tinted_finding(output, miss, name, Exit.USAGE))
    if not lacks_intent(output.icc, INTENTS.index(output.intent)):
        return []
    said = f"the output profile has no table for the {output.intent} intent; its first, perceptual one is used"
    remedy = Remedy("perceptual-intent")
    return [Finding(said, remedy, Severity.WARN, "output-profile", file=name)]


def _can_convert(output: OutputProfile) -> bool:
    """Whether colours can be brought into the profile, by the intent asked for and by that which measures its gamut."""
    from PIL import ImageCms

    try:
        for wanted in (output, OutputProfile(output.icc)):
            build_transform(make_rgb_profile("sRGB", SRGB_CURVE), "RGB", wanted, exact=True)
    except (ImageCms.PyCMSError, OSError):
        return False
    return True


def _make_unusable_finding(what: str, remedy: str, name: str, exit_code: Exit = Exit.USAGE) -> Finding:
    return Finding(what, remedy, kind="output-profile", file=name, exit=exit_code)


def describe_colour_engine() -> str:
    """The colour engine and its version: another one may round otherwise, and finds black points otherwise."""
    from PIL import features

    return f"Little CMS {features.version('littlecms2')}"


def _make_tinted_finding(output: OutputProfile, miss: int, name: str, exit_code: Exit) -> Finding:
    remedy: str = Remedy("relative-intent")
    if output.intent != "absolute":
        remedy = "Ask for a profile whose white is the paper's own, or print without an output profile."
    why = "White in the artwork is blank paper, and all ink on it presses onto the cloth."
    what = (
        f"with the {output.intent} intent the output profile prints a tint of {miss / 255:.0%} where artwork is white"
    )
    return Finding(what, remedy, kind="output-profile", why=why, file=name, exit=exit_code)


class ColourConversion(FrozenStruct):
    """The way from one picture's colours to the printer's. `white` is what the profile alone makes of white."""

    output: OutputProfile
    source: bytes
    mode: str
    white: tuple[int, ...]

    def __call__(self, band: Image.Image) -> Image.Image:
        """Pixels over white (mode L or RGB) as the printer's own; white is blank paper to the level."""
        from PIL import ImageCms

        printed = ImageCms.applyTransform(band, build_transform(self.source, self.mode, self.output))
        assert printed is not None  # only a transform in place returns nothing
        blank = _BLANK[printed.mode]
        if self.white != blank:
            printed.paste(blank if len(blank) > 1 else blank[0], None, _mask_white(band))
        return printed


def make_conversion(icc: bytes | None, grey: bool, output: OutputProfile, name: str = "") -> ColourConversion:
    """The conversion of a picture with the profile `icc`; without one its colours are taken for sRGB.

    Raises `Trouble` if it would print on blank paper.
    """
    source = icc or (make_grey_profile("sRGB grey", SRGB_CURVE) if grey else make_rgb_profile("sRGB", SRGB_CURVE))
    mode = "L" if grey else "RGB"
    white = _convert_white(source, mode, output)
    miss = _measure_white_error(white)
    if miss > _NEAR:
        raise Trouble(_make_tinted_finding(output, miss, name, Exit.REFUSED))
    return ColourConversion(output, source, mode, white)


@lru_cache(maxsize=16)
def _convert_white(source: bytes, mode: str, output: OutputProfile) -> tuple[int, ...]:
    """White through the profiles alone: the engine's own table mends white, and that would hide a tint beside it."""
    from PIL import Image, ImageCms

    pixel = Image.new(mode, (1, 1), "white")
    made = ImageCms.applyTransform(pixel, build_transform(source, mode, output, exact=True))
    assert made is not None
    return tuple(made.tobytes())


def _measure_white_error(white: tuple[int, ...]) -> int:
    """Levels by which what is made of white misses blank paper: 255 of grey and RGB, no ink of CMYK."""
    blank = {1: 255, 3: 255, 4: 0}[len(white)]
    return max(abs(level - blank) for level in white)


def _mask_white(band: Image.Image) -> Image.Image:
    """255 where every channel is 255."""
    from PIL import ImageChops

    only_white = [0] * 255 + [255]
    masks = [channel.point(only_white) for channel in band.split()]
    mask = masks[0]
    for other in masks[1:]:
        mask = ImageChops.darker(mask, other)
    return mask


@lru_cache(maxsize=16)
def build_transform(source: bytes, mode: str, output: OutputProfile, exact: bool = False) -> Any:
    """The colour engine's transform from pixels of `mode` with the profile `source` to the output's.

    The engine tabulates the whole way once, and its finer grid halves the error at the same speed; `exact` goes through
    the profiles for each pixel, at an eighth of it.
    """
    from PIL import ImageCms

    flags = ImageCms.Flags.NOOPTIMIZE if exact else ImageCms.Flags.HIGHRESPRECALC
    if output.black_point and output.intent == "relative":
        flags |= ImageCms.Flags.BLACKPOINTCOMPENSATION
    return ImageCms.buildTransform(
        io.BytesIO(source),
        io.BytesIO(output.icc),
        mode,
        output.mode,
        ImageCms.Intent(INTENTS.index(output.intent)),
        flags,
    )
