"""Small pictures of what was found, for pages that show them. Made only when something was found.

Every view is a PNG of at most 360 px a side, the same bytes each time.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import TYPE_CHECKING

from impose.art.decode import DecodedFrame
from impose.art.ink import PixelBox, composite_over_white

if TYPE_CHECKING:
    from PIL import Image

SIDE = 360
PANE = 176  # two of them and a gap
_MARK = (214, 0, 110)
_GAP = (128, 128, 128)


def draw_plain(frame: DecodedFrame, side: int = SIDE) -> Image.Image:
    """The picture over white, shrunk until its longer side is no more than `side`."""
    from PIL.Image import Resampling

    image = frame.image
    longer = max(image.size)
    if longer >= 2 * side:
        # Nearest first, so that only four times the wanted pixels are flattened and averaged.
        size = (max(1, round(image.width * 2 * side / longer)), max(1, round(image.height * 2 * side / longer)))
        frame = DecodedFrame(image.resize(size, Resampling.NEAREST), frame.table, frame.grey)
        return composite_over_white(frame, (0, 0, *size)).reduce(2).convert("RGB")
    flat = composite_over_white(frame, (0, 0, *image.size)).convert("RGB")
    flat.thumbnail((side, side))
    return flat


def draw_exaggerated(frame: DecodedFrame, side: int = SIDE) -> Image.Image:
    """The same with every tint made twelve times as strong: what is hardly there shows."""
    return exaggerate_tints(draw_plain(frame, side))


def exaggerate_tints(image: Image.Image) -> Image.Image:
    """A picture over white with every tint twelve times as strong."""
    return image.convert("RGB").point([max(0, 255 - 12 * (255 - level)) for level in range(256)] * 3)


def draw_ringed(frame: DecodedFrame, boxes: Iterable[PixelBox], side: int = SIDE) -> Image.Image:
    """The picture with a ring around each box."""
    from PIL import ImageDraw

    image = draw_plain(frame, side)
    pen = ImageDraw.Draw(image)
    scale = image.width / frame.image.width
    for left, top, right, bottom in boxes:
        x, y = (left + right) / 2 * scale, (top + bottom) / 2 * scale
        reach = max(7.0, max(right - left, bottom - top) * scale / 2 + 4)
        pen.ellipse((x - reach, y - reach, x + reach, y + reach), outline=_MARK, width=2)
    return image


def draw_framed(frame: DecodedFrame, box: PixelBox, side: int = SIDE) -> Image.Image:
    """The picture with a frame around a box."""
    from PIL import ImageDraw

    image = draw_plain(frame, side)
    scale = image.width / frame.image.width
    left, top, right, bottom = (value * scale for value in box)
    low = (max(0.0, left - 2), max(0.0, top - 2))
    high = (min(image.width - 1.0, right + 1), min(image.height - 1.0, bottom + 1))
    ImageDraw.Draw(image).rectangle((*low, max(low[0], high[0]), max(low[1], high[1])), outline=_MARK, width=2)
    return image


def join_side_by_side(before: Image.Image, after: Image.Image) -> Image.Image:
    """Two pictures side by side with a grey gap."""
    from PIL import Image

    both = Image.new("RGB", (before.width + 8 + after.width, max(before.height, after.height)), _GAP)
    both.paste(before, (0, 0))
    both.paste(after, (before.width + 8, 0))
    return both


def encode_png(image: Image.Image) -> bytes:
    """The view's bytes; few colours, so that a page with many of them stays small."""
    from PIL.Image import Dither, Quantize

    file = io.BytesIO()
    image.quantize(96, Quantize.FASTOCTREE, dither=Dither.NONE).save(file, "PNG", optimize=False, compress_level=6)
    return file.getvalue()
