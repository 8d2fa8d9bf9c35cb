"""The inside of a PNG: its pixels right at every depth and colour type.

The library that undoes the row filters sees neither palette, nor transparent colours, nor 16 bits (Pillow clips
16-bit grey to white, and compares transparent colours at the wrong depth):

- A palette picture is painted as grey of the same depth: what comes out are the numbers, and the colours are ours.
- A 16-bit picture is painted from its high bytes. Filters work byte by byte on the byte one whole pixel to the left
  (section 9.2), so every second byte of the filtered rows is itself a well-formed picture of 8 bits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from impose.art.inflate import ScanlineReader, make_damage_finding, split_byte_lane
from impose.art.orientation import turn_pixels, turn_upright, turn_view
from impose.art.pixel_loops import copy_in_order, load_pixel_loops
from impose.art.png import PngFile
from impose.art.sixteen_bit import reduce_with_alpha, reduce_with_clear
from impose.art.unfilter import FilterError, UnfilteredImage, unfilter_scanlines
from impose.errors import Trouble
from impose.values import replace

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

BAND = 128
"""Rows handled at a time of a picture of everyday width."""

_NARROW, _WIDE = 1 << 16, 1 << 20


@dataclass(eq=False)
class DecodedFrame:
    """A decoded picture: mode L, LA, RGB, RGBX or RGBA at 8 bits, and for L maybe a table of what the levels mean.

    `table` holds 256 grey levels or 256 colours of 3 bytes, over white already. `grey` says how the file saw itself;
    `surplus` counts bytes found in the picture's data after their end. `pixels` is the image as an array of rows,
    columns and channels where it lies in memory as one, else None. Never changed, but that a turned one makes its image
    when it is first asked for.
    """

    image: Image.Image
    table: bytes | None
    grey: bool
    surplus: int = 0
    pixels: Array | None = None

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.image.size

    @property
    def mode(self) -> str:
        """The image's mode."""
        return self.image.mode

    def crop_image(self, box: tuple[int, int, int, int]) -> Image.Image:
        """A part of the image: left, top, right, bottom."""
        return self.image.crop(box)

    def replace_image(self, image: Image.Image) -> DecodedFrame:
        """The same with another image."""
        return DecodedFrame(image, self.table, self.grey, self.surplus)


class TurnedFrame(DecodedFrame):
    """A picture that stays in memory as it was stored and is seen turned; its whole image is made when it is asked for.

    Hardly anything asks: what is looked for is looked for in the memory, and what was found is turned.
    """

    def __init__(self, stored: DecodedFrame, orientation: int) -> None:
        assert stored.pixels is not None
        pixels = turn_view(stored.pixels, orientation)
        kept = {"table": stored.table, "grey": stored.grey, "surplus": stored.surplus, "pixels": pixels}
        vars(self).update(kept, _mode=stored.mode)

    @cached_property
    def image(self) -> Image.Image:  # type: ignore[override]  # nobody writes it
        """The whole, turned."""
        return self.crop_image((0, 0, *self.size))

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        assert self.pixels is not None
        return self.pixels.shape[1], self.pixels.shape[0]

    @property
    def mode(self) -> str:
        """The image's mode."""
        mode: str = self.__dict__["_mode"]
        return mode

    def crop_image(self, box: tuple[int, int, int, int]) -> Image.Image:
        """A part of the image, within it."""
        from PIL import Image

        assert self.pixels is not None
        left, top, right, bottom = box
        part = copy_in_order(self.pixels[top:bottom, left:right])
        return Image.frombuffer(self.mode, (right - left, bottom - top), part, "raw", self.mode, 0, 1)


def turn_frame(frame: DecodedFrame, orientation: int) -> DecodedFrame:
    """The picture as it is meant, stored by an Exif orientation; where numpy sees its memory, it does so still."""
    if orientation == 1:
        return frame
    if frame.pixels is None:
        return frame.replace_image(turn_upright(frame.image, orientation))
    if load_pixel_loops() is not None and not frame.mode.endswith("A"):
        return TurnedFrame(frame, orientation)
    from PIL import Image

    pixels, mode = turn_pixels(frame.pixels, orientation), frame.image.mode
    image = Image.frombuffer(mode, (pixels.shape[1], pixels.shape[0]), pixels, "raw", mode, 0, 1)
    return DecodedFrame(image, frame.table, frame.grey, frame.surplus, pixels)


def split_into_bands(width: int, height: int, top: int = 0) -> Iterator[tuple[int, int]]:
    """Top and bottom of the bands in which `height` rows of `width` pixels are walked through, the first at `top`.

    Every band but the last is a multiple of 8 rows high: 128, more of a narrow picture, whose millions of rows would
    take minutes one band after another, fewer of a wide one, so that a band is never a large part of a picture.
    """
    rows = min(max(BAND, _NARROW // width), max(8, _WIDE // width)) // 8 * 8
    for start in range(top, top + height, rows):
        yield start, min(start + rows, top + height)


def decode_png(png: PngFile, name: str = "") -> DecodedFrame:
    """Decode all of `png`; raises `Trouble` where its data are damaged, too short or too long.

    Every pixel is right over white to one level in 255. Samples of 16 bits are cut to their high byte, which is less
    than a level off; with alpha what prints is the nearest level (see `impose.art.sixteen_bit`), which needs both
    bytes, and so twice the time and 8 bytes a pixel.
    Transparent colours are compared at the file's own depth, before any of that.
    """
    _check_declared_size(png, name)
    header, clear = png.header, png.transparency
    if header.depth == 16:
        painted, surplus = _decode_scanlines(png, name, lane=0)
        if header.alpha:
            painted = reduce_with_alpha(painted, _decode_scanlines(png, name, lane=1)[0])
        if clear is not None:
            painted = reduce_with_clear(painted, _decode_scanlines(png, name, lane=1)[0], clear)
        image = painted.image
    else:
        painted, surplus = _decode_scanlines(png, name)
        image = painted.image
    if image.mode == "1":
        image = image.convert("L")
    if header.palette:
        return DecodedFrame(image, _make_palette_table(png, image, name), False, surplus)
    if clear is None or header.depth == 16:
        return DecodedFrame(image, None, header.grey, surplus, painted.pixels if image is painted.image else None)
    if header.grey:
        return DecodedFrame(image, _make_grey_table(header.depth, clear), True, surplus)
    image = image.convert("RGB")
    _blank_masked(image, lambda box: _mask_equal(image.crop(box), [clear[1], clear[3], clear[5]]))
    return DecodedFrame(image, None, False, surplus)


def _check_declared_size(png: PngFile, name: str) -> None:
    """Refuse a header that promises more than deflate could ever hold, before memory is taken for it.

    One bit of deflate yields at most 258 bytes after the first (RFC 1951), so 1 byte at most 1,032 and a half.
    """
    held = sum(len(part) for part in png.list_idat())
    if png.header.raw_length > 1040 * held + 4096:
        raise Trouble(make_damage_finding("the picture data are far too short for the size in the header", name))


def _decode_scanlines(png: PngFile, name: str, lane: int | None = None) -> tuple[UnfilteredImage, int]:
    """The picture of the rows, or of one byte lane of them, and the bytes after their stream."""
    header = png.header
    rows = ScanlineReader(png, name)
    if header.palette:
        header = replace(header, colour=0)
    try:
        if lane is None:
            return unfilter_scanlines(header, rows), rows.surplus
        return unfilter_scanlines(replace(header, depth=8), split_byte_lane(rows, header, lane)), rows.surplus
    except FilterError:
        raise Trouble(
            make_damage_finding("the picture data are damaged: a row asks for a filter that no PNG has", name)
        ) from None


def _make_palette_table(png: PngFile, image: Image.Image, name: str) -> bytes:
    """256 colours over white, one for each level Pillow made of a palette number."""
    step = 255 // (2**png.header.depth - 1)
    colours, alphas = png.palette, png.transparency or b""
    highest = image.getextrema()[1]
    if not isinstance(highest, int) or highest // step >= len(colours) // 3:
        raise Trouble(
            make_damage_finding(f"a pixel asks for a colour beyond the {len(colours) // 3} of the palette", name)
        )
    table = bytearray(b"\xff" * 768)
    for i in range(min(len(colours) // 3, 255 // step + 1)):
        alpha = alphas[i] if i < len(alphas) else 255
        over = bytes((255 * (255 - alpha) + alpha * c + 127) // 255 for c in colours[3 * i : 3 * i + 3])
        table[3 * i * step : 3 * i * step + 3] = over
    return bytes(table)


def _make_grey_table(depth: int, clear: bytes) -> bytes:
    """Levels over white where one level, given at the file's own depth, is transparent."""
    highest = 2**depth - 1
    table = bytearray(range(256))
    table[(int.from_bytes(clear, "big") & highest) * 255 // highest] = 255
    return bytes(table)


def _mask_equal(band: Image.Image, key: list[int]) -> Image.Image:
    """A mask, 255 where every channel of `band` equals its value in `key`."""
    from PIL import ImageChops

    masks = [
        channel.point([255 * (level == value) for level in range(256)])
        for channel, value in zip(band.split(), key, strict=True)
    ]
    mask = masks[0]
    for other in masks[1:]:
        mask = ImageChops.darker(mask, other)
    return mask


def _blank_masked(image: Image.Image, mask_of: Callable[[tuple[int, int, int, int]], Image.Image]) -> None:
    white = (255,) * len(image.getbands())
    for box in _tile_boxes(image):
        image.paste(white if len(white) > 1 else 255, box, mask_of(box))


def _tile_boxes(image: Image.Image) -> Iterator[tuple[int, int, int, int]]:
    for top, bottom in split_into_bands(*image.size):
        yield 0, top, image.width, bottom
