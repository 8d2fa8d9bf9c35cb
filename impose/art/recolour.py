"""A picture with flat colours exchanged for others, as a row asks for it.

Colours are named as sRGB numbers, whatever the artwork's own profile: `#C81E28` is what a screen shows of it. They are
brought into the artwork's colours and stay there, so that everything else of the picture is printed as it was.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from impose.art.blended_edges import EXACT, LOSSY, EdgeLimits, exchange_colours, is_lossy
from impose.art.cielab import format_hex, measure_difference, parse_hex, to_lab
from impose.art.colour import ColourDescription
from impose.art.decode import DecodedFrame
from impose.art.faults import thumbnails as views
from impose.art.flat_colours import NEAR, FlatColour, Levels, list_flat_colours
from impose.art.icc import SRGB_CURVE, make_rgb_profile
from impose.art.ink import composite_over_white
from impose.errors import Finding, Severity, Trouble
from impose.file_types import ColourChange

if TYPE_CHECKING:
    from PIL import Image

_KEPT = 0.003  # of the picture; a smaller area is no colour of its own in a noisy picture
_NAMED = 3  # flat colours that are named where the one asked for is not there
_SEEN = 2.0  # of CIEDE2000, between the colour asked for and what the artwork's profile can say of it


class ColourNumbers:
    """The way between a picture's own numbers and sRGB. Without a profile, and with that of sRGB, they are the same."""

    def __init__(self, icc: bytes | None) -> None:
        self._icc = None if icc == make_rgb_profile("sRGB", SRGB_CURVE) else icc

    def to_srgb(self, levels: Levels) -> Levels:
        """What a screen shows of the picture's numbers."""
        return levels if self._icc is None else self._convert(levels, self._icc, _make_srgb())

    def from_srgb(self, levels: Levels) -> Levels:
        """The picture's numbers for a colour. Raises `Trouble` where its profile only goes the other way."""
        return levels if self._icc is None else self._convert(levels, _make_srgb(), self._icc)

    def _convert(self, levels: Levels, source: bytes, target: bytes) -> Levels:
        from PIL import Image, ImageCms

        flags = ImageCms.Flags.NOOPTIMIZE
        intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
        ends = io.BytesIO(source), io.BytesIO(target)
        try:
            way = ImageCms.buildTransform(*ends, "RGB", "RGB", intent, flags)
        except (ImageCms.PyCMSError, OSError):
            what = "the artwork's colour profile only says what its colours are, and no other can be put into them"
            raise Trouble(Finding(what, "Export it as sRGB.", kind="recolour-absent")) from None
        made = ImageCms.applyTransform(Image.new("RGB", (1, 1), levels), way)
        assert made is not None  # only a transform in place returns nothing
        red, green, blue = made.tobytes()
        return red, green, blue


def _make_srgb() -> bytes:
    return make_rgb_profile("sRGB", SRGB_CURVE)


def find_flat_colours(
    frame: DecodedFrame, colours: ColourDescription
) -> tuple[bytes | None, list[tuple[str, FlatColour]]]:
    """The profile of a picture, and its flat colours, each as sRGB `#RRGGBB` and in its own numbers, most first."""
    image, icc = _make_coloured(frame, colours.icc)
    return icc, _name_flat_colours(image, ColourNumbers(icc))


def _name_flat_colours(image: Image.Image, numbers: ColourNumbers) -> list[tuple[str, FlatColour]]:
    return [(format_hex(numbers.to_srgb(flat.levels)), flat) for flat in list_flat_colours(image)]


def recolour_frame(
    frame: DecodedFrame, colours: ColourDescription, changes: Sequence[ColourChange], name: str = ""
) -> tuple[DecodedFrame, bytes | None, list[Finding]]:
    """The picture with its colours exchanged, the profile of its pixels, and what was done with before and after.

    Raises `Trouble` with every colour that is not there, and the nearest that are.
    """
    import numpy as np
    from PIL import Image

    image, icc = _make_coloured(frame, colours.icc)
    numbers = ColourNumbers(icc)
    flats = _name_flat_colours(image, numbers)
    exchanged: list[tuple[list[Levels], Levels]] = []
    faults: list[Finding] = []
    said: list[str] = []
    for change in changes:
        found = [flat for shown, flat in flats if _are_near(shown, change.before)]
        if not found:
            faults.append(_make_absent(change.before, flats, name))
            continue
        after = numbers.from_srgb(parse_hex(change.after))
        exchanged.append(([flat.levels for flat in found], after))
        said.append(_describe_change(change, sum(flat.share for flat in found), format_hex(numbers.to_srgb(after))))
    if faults:
        raise Trouble(faults)
    pixels = np.array(image)
    lossy = any(is_lossy(pixels, shades[0]) for shades, _ in exchanged)
    limits = LOSSY if lossy else EXACT
    exchange_colours(pixels, exchanged, limits, list(_list_kept(flats, exchanged, limits)))
    made = DecodedFrame(Image.fromarray(pixels, image.mode), None, False)
    return made, icc, [_make_done(frame, made, said, lossy, name)]


def _list_kept(
    flats: Sequence[tuple[str, FlatColour]], exchanged: Sequence[tuple[list[Levels], Levels]], limits: EdgeLimits
) -> Iterator[Levels]:
    """The flat colours that stay: those that noise around an exchanged one cannot have made."""
    gone = [shade for shades, _ in exchanged for shade in shades]
    for _, flat in flats:
        ways = [max(abs(a - b) for a, b in zip(flat.levels, shade, strict=True)) for shade in gone]
        if flat.share >= _KEPT and min(ways) > 2 * limits.near:
            yield flat.levels


def _make_coloured(frame: DecodedFrame, icc: bytes | None) -> tuple[Image.Image, bytes | None]:
    """The picture in mode RGB or RGBA, and its profile: a grey one becomes coloured, as sRGB where its own was grey."""
    whole = (0, 0, *frame.image.size)
    image = composite_over_white(frame, whole) if frame.table is not None else frame.image
    if image.mode == "RGBX":
        image = image.convert("RGB")
    if image.mode in ("RGB", "RGBA"):
        return image, icc
    grey = image.getchannel("L")
    coloured = grey.convert("RGB") if icc is None else _show_grey(grey, icc)
    if image.mode == "LA":
        coloured.putalpha(image.getchannel("A"))
    return coloured, None if icc is None else _make_srgb()


def _show_grey(grey: Image.Image, icc: bytes) -> Image.Image:
    from PIL import ImageCms

    ends = io.BytesIO(icc), io.BytesIO(_make_srgb())
    way = ImageCms.buildTransform(*ends, "L", "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC)
    shown = ImageCms.applyTransform(grey, way)
    assert shown is not None  # only a transform in place returns nothing
    return shown


def _are_near(shown: str, asked: str) -> bool:
    return all(abs(a - b) <= NEAR for a, b in zip(parse_hex(shown), parse_hex(asked), strict=True))


def describe_nearest(colour: str, others: Sequence[str]) -> str:
    """The colours that are most like one, in words; "" where there are none."""
    own = to_lab(parse_hex(colour))
    ranked = sorted(dict.fromkeys(others), key=lambda other: measure_difference(own, to_lab(parse_hex(other))))
    return ", ".join(ranked[:_NAMED])


def _make_absent(colour: str, flats: Sequence[tuple[str, FlatColour]], name: str) -> Finding:
    what = f"{colour} is no flat colour of the picture"
    nearest = describe_nearest(colour, [shown for shown, _ in flats])
    if not nearest:
        what = f"{what}, which has none: it is a photograph, or shaded all over"
        return Finding(what, "Change its colours in a paint program.", kind="recolour-absent", file=name)
    return Finding(what, f"Nearest of those that are: {nearest}.", kind="recolour-absent", file=name)


def _describe_change(change: ColourChange, share: float, printed: str) -> str:
    patch = f" (patch {change.patch})" if change.patch else ""
    most = f"{share:.0%}" if share >= 0.005 else "less than 1 %"
    said = f"{change.before} became {change.after}{patch} on {most} of the picture"
    way = measure_difference(to_lab(parse_hex(printed)), to_lab(parse_hex(change.after)))
    return f"{said}, as {printed}, the nearest that its profile can say" if way > _SEEN else said


def _make_done(before: DecodedFrame, after: DecodedFrame, said: Sequence[str], lossy: bool, name: str) -> Finding:
    pair = views.join_side_by_side(*(views.draw_plain(frame, views.PANE) for frame in (before, after)))
    remedy = "Look at the picture before and after; soft edges keep their share of the new colour."
    box = (0, 0, *after.image.size)
    what, severity = "; ".join(said), Severity.NOTE
    if lossy:
        what, severity = f"{what}; its areas are noisy, as JPEG leaves them", Severity.WARN
        remedy = "Look at its edges: a rim of the old colour may show. A PNG of the artwork has none."
    return Finding(what, remedy, severity, "recolour", file=name, px=box, view=views.encode_png(pair))
