"""Words set by us: shaped text to a picture, straight or bent along an arc, with or without an outline.

HarfBuzz shapes the text and fills its outlines (its raster library, through uharfbuzz); an outline is the union of the
letters moved around a circle, which is what the nonzero rule makes of them when they are drawn together. The result is
a PNG like any artwork, and goes the same way from there on: trimmed, mirrored, checked.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from impose.sheet.lettering import Lettering, Line
from impose.shop.styles import Style
from impose.units import MM_PER_INCH

if TYPE_CHECKING:
    from PIL.Image import Image

PPI = 450
MOST_PIXELS_A_SIDE = 8000
_MEASURE_EM_PX = 256  # fine enough for proportions to a thousandth, and quick
_LEADING = 1.2
_MESH_PX = 24


@dataclass(frozen=True, slots=True)
class Size:
    """The room for the words: greatest ink width and height in mm, None where there is no limit.

    With `fill` they are made as large as that; else the letters have the style's height, and the room only limits it.
    """

    width_mm: float | None
    height_mm: float | None
    fill: bool


def set_words(lines: Sequence[str], style: Style, size: Size, lettering: Lettering) -> tuple[bytes, float, float]:
    """A PNG of the words, and the width and height of their ink in mm.

    `lines` are set one below the other, centred. Raises `ValueError` where nothing of them can be seen.
    """
    shaped = [lettering.line((line,)) for line in lines]
    capital = _capital(lettering)
    small = _draw(shaped, style, capital, _MEASURE_EM_PX, lettering)
    if small is None:
        raise ValueError("no ink in these words")
    wide, high = small.width / _MEASURE_EM_PX, small.height / _MEASURE_EM_PX
    em_mm = style.letter_height_mm / capital if not size.fill else math.inf
    limits = [mm / em for mm, em in ((size.width_mm, wide), (size.height_mm, high)) if mm is not None]
    em_mm = min([em_mm, *limits])
    pixels = min(em_mm * PPI / MM_PER_INCH, MOST_PIXELS_A_SIDE / max(wide, high))
    image = _draw(shaped, style, capital, pixels, lettering)
    assert image is not None  # it showed when it was smaller
    # The small picture's proportions are good to a thousandth; the room is kept, or filled, to the pixel.
    room = [mm / px for mm, px in ((size.width_mm, image.width), (size.height_mm, image.height)) if mm is not None]
    scale = min([em_mm / pixels, *room]) if not size.fill else min(room)
    return _png(image), image.width * scale, image.height * scale


def _capital(lettering: Lettering) -> float:
    """The height of the typeface's capitals in em; of its tallest letters where it has no Latin ones."""
    return lettering.primary.shape("H", False, "Latn").top or lettering.primary.ascent or 0.7


def _png(image: Image) -> bytes:
    out = io.BytesIO()
    # Read again at once: the compression that counts is the page's own.
    image.save(out, "PNG", compress_level=1, compress_type=3)
    return out.getvalue()


def _draw(lines: Sequence[Line], style: Style, capital: float, em_px: float, lettering: Lettering) -> Image | None:
    """The words in colour on white, cut to their ink, at so many pixels to the em; None where nothing shows."""
    from PIL import Image

    reach = style.outline_width * capital * em_px if style.outline else 0.0
    border = math.ceil(reach) + 2
    masks = [(_mask(lines, em_px, border, 0.0, lettering), style.colour)]
    if style.outline:
        masks.insert(0, (_mask(lines, em_px, border, reach, lettering), style.outline))
    if style.arc:
        run = max(line.width for line in lines) * em_px
        baseline = border + lines[0].ascent * em_px
        masks = [(_bent(mask, math.radians(style.arc), run, baseline), colour) for mask, colour in masks]
    ink = masks[0][0].getbbox()  # an outline reaches as far as the letters and farther
    if ink is None:
        return None
    image = Image.new("RGB", (ink[2] - ink[0], ink[3] - ink[1]), "white")
    for mask, colour in masks:
        image.paste(colour, mask=mask.crop(ink))
    return image


def _mask(lines: Sequence[Line], em_px: float, border: int, reach: float, lettering: Lettering) -> Image:
    """How much of each pixel the letters cover, fattened by `reach` pixels all round."""
    import uharfbuzz as hb
    from PIL import Image

    width = math.ceil(max(line.width for line in lines) * em_px) + 2 * border
    leading = _LEADING * max(line.ascent + line.descent for line in lines)
    top, bottom = lines[0].ascent, lines[-1].descent + leading * (len(lines) - 1)
    # Glyphs may reach beyond their advance (italics, swashes): half an em on either side holds them.
    side = math.ceil(em_px / 2)
    height = math.ceil((top + bottom) * em_px) + 2 * border
    size = (width + 2 * side, height)
    raster = hb.RasterDraw()
    for number, line in enumerate(lines):
        x = border + side + (width - 2 * border - line.width * em_px) / 2
        y = height - border - (top + leading * number) * em_px
        for dx, dy in _around(reach):
            _trace(raster, line, x + dx, y + dy, em_px, lettering)
    raster.extents = hb.RasterExtents(0, 0, *size, size[0])
    image = raster.render()
    return Image.frombytes("L", size, bytes(image.buffer), "raw", "L", image.extents.stride, -1)  # y goes up


def _around(reach: float) -> Iterator[tuple[float, float]]:
    """Where the letters are drawn to fatten them: in place, and on circles close enough that no dot falls between."""
    yield 0.0, 0.0
    for radius in (reach, reach * 2 / 3, reach / 3):
        steps = min(72, max(8, math.ceil(2 * math.pi * radius / 2))) if radius else 0
        for step in range(steps):
            angle = 2 * math.pi * step / steps
            yield radius * math.cos(angle), radius * math.sin(angle)


def _trace(raster: object, line: Line, x: float, y: float, em_px: float, lettering: Lettering) -> None:
    for run in line.runs:
        face = lettering.face(run.face)
        for glyph in run.glyphs:
            face.draw(raster, glyph.gid, x + glyph.dx * em_px, y + glyph.dy * em_px, em_px)
            x += glyph.advance * em_px


def _bent(mask: Image, angle: float, run: float, baseline: float) -> Image:
    """A straight line of letters, `run` pixels long, bent over `angle` radians: ends down if positive, else up.

    The picture is bent as a whole, so that joined scripts stay joined; what leans is each letter's own place on the
    arc. Pixels are asked back to where they came from over a mesh of small squares.
    """
    from PIL import Image

    width, height = mask.size
    radius = run / abs(angle)
    above, below = (baseline, height - baseline) if angle > 0 else (height - baseline, baseline)
    outer, inner = radius + above, max(0.0, radius - below)
    half = min(width / radius / 2, math.pi)
    across = math.ceil(2 * outer * (math.sin(half) if half < math.pi / 2 else 1.0))
    down = math.ceil(outer - inner * math.cos(half) if half < math.pi / 2 else outer - outer * math.cos(half))
    size = (across, down)

    def source(x: float, y: float) -> tuple[float, float]:
        dx, dy = x - across / 2, outer - (y if angle > 0 else down - y)
        away = math.hypot(dx, dy) - radius
        return width / 2 + math.atan2(dx, dy) * radius, baseline - away if angle > 0 else baseline + away

    mesh = []
    for left in range(0, across, _MESH_PX):
        for top in range(0, down, _MESH_PX):
            right, bottom = min(left + _MESH_PX, across), min(top + _MESH_PX, down)
            quad = [source(x, y) for x, y in ((left, top), (left, bottom), (right, bottom), (right, top))]
            if _touches(quad, width, height):
                mesh.append(((left, top, right, bottom), tuple(value for point in quad for value in point)))
    return mask.transform(size, Image.Transform.MESH, mesh, Image.Resampling.BICUBIC)


def _touches(quad: Sequence[tuple[float, float]], width: int, height: int) -> bool:
    """Whether a square of the mesh shows any of the picture; at the back of the circle it would show it twice."""
    xs, ys = [x for x, _ in quad], [y for _, y in quad]
    return max(xs) > 0 and min(xs) < width and max(ys) > 0 and min(ys) < height and max(xs) - min(xs) < 8 * _MESH_PX
