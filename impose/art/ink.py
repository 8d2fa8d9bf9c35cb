"""What of a picture prints: pixels over white, the smallest box that holds all ink, and the specks left out of it.

Ink is a pixel whose colour over white has a *tint* (255 less its least channel) of at least so many levels. To find
its bounds without looking at every pixel twice, the picture is first mapped in blocks of 8 x 8: a block that cannot
hold ink is out for good. Only blocks at the edges, and around possible specks, are then looked at pixel by pixel.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from impose.art.decode import DecodedFrame, split_into_bands
from impose.art.pixel_loops import load_pixel_loops, survey_with_loops
from impose.art.specks import BLOCK, PATTERN, LonelySpots, find_specks
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Map = np.ndarray[tuple[int, int], np.dtype[np.bool_]]
    Array = np.ndarray[Any, np.dtype[Any]]

PixelBox = tuple[int, int, int, int]
"""Left, top, right, bottom in pixels, half open."""

Watch = Callable[[Any, bool, int], Any]
"""Takes rows, columns and channels of pixels, whether the last channel is alpha, and the least levels of ink's tint;
gives the map of their blocks, as `map_pixel_blocks` does."""


class InkBounds(FrozenStruct):
    """`bounds` of the ink, the boxes of the `specks` outside them, and how many spots were kept as a `pattern`.

    `inside` are the boxes of spots as small and as far from other ink that lie within the bounds and print. `dots` are
    a little larger, lie outside all the rest, and are within the bounds, which they make larger.
    """

    bounds: PixelBox
    specks: tuple[PixelBox, ...] = ()
    pattern: int = 0
    inside: tuple[PixelBox, ...] = ()
    dots: tuple[PixelBox, ...] = ()


def count_tint_levels(tint: float) -> int:
    """Levels of 255 that a share makes, rounded, at least 1: 2 % is 5."""
    return max(1, round(tint * 255))


def composite_over_white(frame: DecodedFrame, box: PixelBox) -> Image.Image:
    """The pixels of `box` as they print: mode L or RGB, 255 - alpha (255 - colour) / 255 rounded to the nearest."""
    from PIL import Image

    band = frame.crop_image(box)
    if frame.table is not None:
        if frame.grey:
            return band.point(frame.table)
        band.putpalette(frame.table)
        return band.convert("RGB")
    if band.mode == "RGBX":
        return band.convert("RGB")
    if band.mode in ("L", "RGB"):
        return band
    alpha = band.getchannel("A")
    lowest, highest = alpha.getextrema()
    if lowest == 255:
        return band.convert(band.mode[:-1])
    paper = Image.new("L" if band.mode == "LA" else "RGB", band.size, "white")
    if highest:
        paper.paste(band.getchannel("L") if band.mode == "LA" else band, (0, 0), alpha)
    return paper


def measure_tint(frame: DecodedFrame, box: PixelBox) -> Array:
    """The tint of each pixel of a (small) box: 255 less its least channel over white."""
    import numpy as np

    if frame.pixels is not None and not frame.mode.endswith("A") and frame.table is None:
        left, top, right, bottom = box
        pixels = frame.pixels[top:bottom, left:right]
    else:
        pixels = np.asarray(composite_over_white(frame, box))
    return np.asarray(255 - _least_channel(pixels.reshape(*pixels.shape[:2], -1)))


def find_ink(
    frame: DecodedFrame, tint: float, keep_specks: bool = False, watch: Watch | None = None
) -> InkBounds | None:
    """The ink of a picture at a least `tint` (share of 1), or None if there is none. See `impose.art.specks`.

    `watch` maps the blocks of every band of pixels, in order: an array of rows, columns and channels, with a table's
    least channel in the place of colours and a filler as the fourth channel of colour without alpha.
    """
    levels = count_tint_levels(tint)
    blocks = _map_ink_blocks(frame, levels, watch)
    specks: list[PixelBox] = []
    spots = LonelySpots([], [], [])
    pattern = 0
    if not keep_specks:
        spots = find_specks(blocks, lambda group: _bound_spot(frame, group, levels))
        specks = spots.outside
        if len(specks) > PATTERN:
            specks, pattern = [], len(specks)
    for left, top, right, bottom in specks:
        blocks[top // BLOCK : -(-bottom // BLOCK), left // BLOCK : -(-right // BLOCK)] = False
    bounds = _bound_ink(frame, blocks, levels)
    return None if bounds is None else InkBounds(bounds, tuple(specks), pattern, tuple(spots.inside), tuple(spots.dots))


def _map_ink_blocks(frame: DecodedFrame, levels: int, watch: Watch | None = None) -> Map:
    """True for each block that may hold ink; never False for one that does.

    Exact where there is no alpha. With alpha a column of eight pixels is judged by its greatest alpha and its least
    channel together, which is never less than the tint of any one of them.
    """
    import numpy as np

    look: Watch = watch or map_pixel_blocks
    alpha = frame.mode.endswith("A")
    if frame.pixels is not None and load_pixel_loops() is not None:
        return np.asarray(look(frame.pixels, alpha, levels))
    bands = split_into_bands(*frame.size)
    found: Map = np.concatenate([look(_read_band(frame, *rows), alpha, levels) for rows in bands])
    return found


def _read_band(frame: DecodedFrame, top: int, bottom: int) -> Array:
    """Rows, columns and channels of a band; of a table's colours only the least channel."""
    import numpy as np

    if frame.pixels is not None:
        return frame.pixels[top:bottom]
    band = frame.image.crop((0, top, frame.image.width, bottom))
    table = _make_least_table(frame)
    if table is not None:
        band = band.point(table)
    # Four bytes a pixel is how Pillow keeps colour: handing them over as they are is a plain copy.
    data = band.tobytes("raw", "RGBX") if band.mode == "RGB" else band.tobytes()
    return np.frombuffer(data, np.uint8).reshape(bottom - top, frame.image.width, -1)


def map_pixel_blocks(pixels: Array, alpha: bool, levels: int) -> Map:
    """Which blocks of an array of rows, columns and channels may hold ink; `alpha` says whether the last is one."""
    loops = load_pixel_loops()
    if loops is None:
        return map_with_numpy(pixels, alpha, levels)
    return survey_with_loops(loops, pixels, alpha, levels, mask=False)[0]


def map_with_numpy(pixels: Array, alpha: bool, levels: int) -> Map:
    """The same without the compiled loops."""
    import numpy as np

    height, width, channels = pixels.shape
    flat = pixels.reshape(height, -1)
    least = _reduce_rows(flat, np.minimum).reshape(-1, width, channels)
    if not alpha:
        return np.asarray(_reduce_columns(_least_channel(least), np.minimum, 255) <= 255 - levels)
    most = _reduce_rows(flat, np.maximum).reshape(least.shape)[:, :, -1]
    tint = most.astype(np.uint16) * (255 - _least_channel(least[:, :, :-1]).astype(np.uint16))
    return np.asarray(_reduce_columns(tint, np.maximum, 0) >= 255 * levels - 128)


def _reduce_rows(pixels: Array, better: np.ufunc) -> Array:
    """Eight rows to one. Row against row is what the processor does sixteen bytes at a time."""
    import numpy as np

    whole = pixels.shape[0] // BLOCK * BLOCK
    parts = [better.reduce(pixels[:whole].reshape(-1, BLOCK, pixels.shape[1]), axis=1)]
    if whole < pixels.shape[0]:
        parts.append(better.reduce(pixels[whole:], axis=0)[None])
    return np.concatenate(parts)


def _reduce_columns(values: Array, better: np.ufunc, neutral: int) -> Array:
    """Eight columns to one, as eight slices: along a row a reduction would go byte by byte."""
    import numpy as np

    height, width = values.shape
    padded = np.full((height, -(-width // BLOCK) * BLOCK), neutral, values.dtype)
    padded[:, :width] = values
    result: Array = padded[:, ::BLOCK]
    for i in range(1, BLOCK):
        result = better(result, padded[:, i::BLOCK])
    return result


def _least_channel(values: Array) -> Array:
    """The least of the colour channels of each pixel; a fourth one is Pillow's filler of 255."""
    import numpy as np

    least = values[:, :, 0]
    for i in range(1, min(3, values.shape[2])):
        least = np.minimum(least, values[:, :, i])
    return least


def _make_least_table(frame: DecodedFrame) -> bytes | None:
    """For a picture with a table, the least channel of each entry."""
    if frame.table is None or frame.grey:
        return frame.table
    t = frame.table
    return bytes(min(t[i : i + 3]) for i in range(0, 768, 3))


def _mask_ink_in_box(frame: DecodedFrame, box: PixelBox, levels: int) -> Map:
    """Which pixels of a (small) box are ink."""
    import numpy as np

    width, height = frame.size
    left, top, right, bottom = max(0, box[0]), max(0, box[1]), min(width, box[2]), min(height, box[3])
    return np.asarray(measure_tint(frame, (left, top, right, bottom)) >= levels)


def _bound_ink(frame: DecodedFrame, blocks: Map, levels: int) -> PixelBox | None:
    """The exact box of the ink in `blocks`; clears the blocks at the edges that turn out to hold none."""
    edges = []
    for axis, last in ((0, False), (0, True), (1, False), (1, True)):
        edge = _find_ink_edge(frame, blocks, levels, axis, last)
        if edge is None:
            return None
        edges.append(edge)
    top, bottom, left, right = edges
    return left, top, right + 1, bottom + 1


def _find_ink_edge(frame: DecodedFrame, blocks: Map, levels: int, axis: int, last: bool) -> int | None:
    """The first or last pixel row (axis 0) or column (axis 1) that holds ink."""
    import numpy as np

    turned = blocks if axis == 0 else blocks.T
    lines = np.flatnonzero(turned.any(axis=1))
    for line in map(int, lines[::-1] if last else lines):
        across = np.flatnonzero(turned[line])
        low, high = int(across[0]), int(across[-1]) + 1
        along = (line * BLOCK, (line + 1) * BLOCK)
        span = (low * BLOCK, high * BLOCK)
        box = (span[0], along[0], span[1], along[1]) if axis == 0 else (along[0], span[0], along[1], span[1])
        mask = _mask_ink_in_box(frame, box, levels)
        mask = mask if axis == 0 else mask.T
        # A speck that is being cut may lie in this strip: its blocks are no longer on the map.
        inked = (mask & np.repeat(turned[line, low:high], BLOCK)[: mask.shape[1]]).any(axis=1)
        if inked.any():
            return line * BLOCK + int(np.flatnonzero(inked)[-1 if last else 0])
        turned[line] = False
    return None


def _bound_spot(frame: DecodedFrame, group: list[tuple[int, int]], levels: int) -> PixelBox | None:
    """The exact box of the ink in a group of blocks, None if there is none after all."""
    import numpy as np

    top, left = min(r for r, _ in group) * BLOCK, min(c for _, c in group) * BLOCK
    bottom, right = (max(r for r, _ in group) + 1) * BLOCK, (max(c for _, c in group) + 1) * BLOCK
    mask = _mask_ink_in_box(frame, (left, top, right, bottom), levels)
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return None
    return left + int(columns[0]), top + int(rows[0]), left + int(columns[-1]) + 1, top + int(rows[-1]) + 1
