"""Turning artwork into a printer's own colours, by its ICC profile, through Little CMS.

Only where an output profile is asked for. Blank paper stays blank: a conversion that would lay ink where the artwork
is white is refused, because transfer paper's white is the cloth's own and all ink presses onto it.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

from impose.art.colour import opens
from impose.art.icc import SRGB_CURVE, fault_of, grey_profile, rendering_missing, rgb_profile, space_of
from impose.errors import Exit, Finding, Severity, Trouble

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


@dataclass(frozen=True, slots=True)
class Output:
    """A printer's colour profile, byte for byte, and how colours are brought into it.

    `black_point` scales the artwork's darkest tone to the printer's darkest instead of cutting off what is darker; it
    counts for the relative intent alone, the others have their own way with black.
    """

    icc: bytes = field(repr=False)
    intent: Intent = "relative"
    black_point: bool = True

    @property
    def mode(self) -> str:
        """L, RGB or CMYK, as Pillow names the pixels that come out."""
        return _MODES[space_of(self.icc)][0]

    @property
    def components(self) -> int:
        """Numbers a pixel: 1, 3 or 4."""
        return _MODES[space_of(self.icc)][1]

    @property
    def sha256(self) -> str:
        """The content of the profile, for records."""
        return hashlib.sha256(self.icc).hexdigest()


def check_output(output: Output, name: str) -> list[Finding]:
    """Raise `Trouble` (wrong use) for a profile that cannot be printed with; return what is worth knowing of it."""
    fault = fault_of(output.icc, output=True)
    what = None if fault is None else fault.what
    if what is None and space_of(output.icc) not in _MODES:
        what = f"is for {space_of(output.icc)}; a PDF takes grey, RGB and CMYK"
    if what is None and not (opens(output.icc, output.mode) and _takes(output)):
        what = "cannot be read by the colour engine"
    if what is not None:
        raise Trouble(_unusable(f"the output profile {what}", "Ask for the printer's own ICC profile.", name))
    miss = _missed(_white(rgb_profile("sRGB", SRGB_CURVE), "RGB", output))
    if miss > _NEAR:
        raise Trouble(_tinted(output, miss, name, Exit.USAGE))
    if not rendering_missing(output.icc, INTENTS.index(output.intent)):
        return []
    said = f"the output profile has no table for the {output.intent} intent; its first, perceptual one is used"
    remedy = "Choose --intent perceptual, or ask for a profile that has it."
    return [Finding(said, remedy, Severity.WARN, "output-profile", file=name)]


def _takes(output: Output) -> bool:
    """Whether colours can be brought into the profile, by the intent asked for and by that which measures its gamut."""
    from PIL import ImageCms

    try:
        for wanted in (output, Output(output.icc)):
            built(rgb_profile("sRGB", SRGB_CURVE), "RGB", wanted, exact=True)
    except (ImageCms.PyCMSError, OSError):
        return False
    return True


def _unusable(what: str, remedy: str, name: str, exit_code: Exit = Exit.USAGE) -> Finding:
    return Finding(what, remedy, kind="output-profile", file=name, exit=exit_code)


def engine() -> str:
    """The colour engine and its version: another one may round otherwise, and finds black points otherwise."""
    from PIL import features

    return f"Little CMS {features.version('littlecms2')}"


def _tinted(output: Output, miss: int, name: str, exit_code: Exit) -> Finding:
    remedy = "Use --intent relative, which keeps blank paper blank."
    if output.intent != "absolute":
        remedy = "Ask for a profile whose white is the paper's own, or print without an output profile."
    why = "White in the artwork is blank paper, and all ink on it presses onto the cloth."
    what = (
        f"with the {output.intent} intent the output profile prints a tint of {miss / 255:.0%} where artwork is white"
    )
    return Finding(what, remedy, kind="output-profile", why=why, file=name, exit=exit_code)


@dataclass(frozen=True)
class Conversion:
    """The way from one picture's colours to the printer's. `white` is what the profile alone makes of white."""

    output: Output
    source: bytes
    mode: str
    white: tuple[int, ...]

    def __call__(self, band: Image.Image) -> Image.Image:
        """Pixels over white (mode L or RGB) as the printer's own; white is blank paper to the level."""
        from PIL import ImageCms

        printed = ImageCms.applyTransform(band, built(self.source, self.mode, self.output))
        assert printed is not None  # only a transform in place returns nothing
        blank = _BLANK[printed.mode]
        if self.white != blank:
            printed.paste(blank if len(blank) > 1 else blank[0], None, _white_mask(band))
        return printed


def conversion_of(icc: bytes | None, grey: bool, output: Output, name: str = "") -> Conversion:
    """The conversion of a picture with the profile `icc`; without one its colours are taken for sRGB.

    Raises `Trouble` if it would print on blank paper.
    """
    source = icc or (grey_profile("sRGB grey", SRGB_CURVE) if grey else rgb_profile("sRGB", SRGB_CURVE))
    mode = "L" if grey else "RGB"
    white = _white(source, mode, output)
    miss = _missed(white)
    if miss > _NEAR:
        raise Trouble(_tinted(output, miss, name, Exit.REFUSED))
    return Conversion(output, source, mode, white)


@lru_cache(maxsize=16)
def _white(source: bytes, mode: str, output: Output) -> tuple[int, ...]:
    """White through the profiles alone: the engine's own table mends white, and that would hide a tint beside it."""
    from PIL import Image, ImageCms

    pixel = Image.new(mode, (1, 1), "white")
    made = ImageCms.applyTransform(pixel, built(source, mode, output, exact=True))
    assert made is not None
    return tuple(made.tobytes())


def _missed(white: tuple[int, ...]) -> int:
    """Levels by which what is made of white misses blank paper: 255 of grey and RGB, no ink of CMYK."""
    blank = {1: 255, 3: 255, 4: 0}[len(white)]
    return max(abs(level - blank) for level in white)


def _white_mask(band: Image.Image) -> Image.Image:
    """255 where every channel is 255."""
    from PIL import ImageChops

    only_white = [0] * 255 + [255]
    masks = [channel.point(only_white) for channel in band.split()]
    mask = masks[0]
    for other in masks[1:]:
        mask = ImageChops.darker(mask, other)
    return mask


@lru_cache(maxsize=16)
def built(source: bytes, mode: str, output: Output, exact: bool = False) -> Any:
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
