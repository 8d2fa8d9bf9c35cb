"""What of a picture prints: pixels over white, the smallest box that holds all ink, and the specks left out of it.

Ink is a pixel whose colour over white has a *tint* (255 less its least channel) of at least so many levels. To find
its bounds without looking at every pixel twice, the picture is first mapped in blocks of 8 x 8: a block that cannot
hold ink is out for good. Only blocks at the edges, and around possible specks, are then looked at pixel by pixel.

A *speck* is a spot of ink that is both
- small: at most 3 px in each direction, or 0.2 % of the longer side of the rest of the ink up to 6 px (half a
  millimetre at 300 ppi);
- far: no other ink but such spots within 12 px or 5 % of that longer side, whichever is more, and outside the box of
  everything that is not a speck.
More than 12 of them are no accident but a pattern, stars or spray, and are all kept. So a full stop, the dot of an i,
an umlaut, a dash or a drawn star is never cut. (The measures are our own choice; no source.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from impose.art.decode import Frame, bands

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Map = np.ndarray[tuple[int, int], np.dtype[np.bool_]]
    Array = np.ndarray[Any, np.dtype[Any]]

PixelBox = tuple[int, int, int, int]
"""Left, top, right, bottom in pixels, half open."""

Watch = Callable[[Any], object]

BLOCK = 8
SPECK_PX, SPECK_SHARE, SPECK_MOST_PX = 3, 0.002, 6
FAR_PX, FAR_SHARE = 12, 0.05
PATTERN = 12
_MANY = 400  # possible specks beyond which looking at each would take longer than it is worth


@dataclass(frozen=True)
class Ink:
    """`bounds` of the ink, the boxes of the `specks` outside them, and how many spots were kept as a `pattern`.

    `inside` are the boxes of spots as small and as far from other ink that lie within the bounds and print.
    """

    bounds: PixelBox
    specks: tuple[PixelBox, ...] = ()
    pattern: int = 0
    inside: tuple[PixelBox, ...] = ()


def tint_levels(tint: float) -> int:
    """Levels of 255 that a share makes, rounded, at least 1: 2 % is 5."""
    return max(1, round(tint * 255))


def over_white(frame: Frame, box: PixelBox) -> Image.Image:
    """The pixels of `box` as they print: mode L or RGB, 255 - alpha (255 - colour) / 255 rounded to the nearest."""
    from PIL import Image

    band = frame.image.crop(box)
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


def find_ink(frame: Frame, tint: float, keep_specks: bool = False, watch: Watch | None = None) -> Ink | None:
    """The ink of a picture at a least `tint` (share of 1), or None if there is none. See the module for specks.

    `watch` is shown every band of pixels on the way, in order: an array of rows, columns and channels, with a table's
    least channel in the place of colours and a filler as the fourth channel of colour without alpha.
    """
    levels = tint_levels(tint)
    blocks = _block_map(frame, levels, watch)
    specks: list[PixelBox] = []
    inside: list[PixelBox] = []
    pattern = 0
    if not keep_specks:
        specks, inside = _specks(frame, blocks, levels)
        if len(specks) > PATTERN:
            specks, pattern = [], len(specks)
    for left, top, right, bottom in specks:
        blocks[top // BLOCK : -(-bottom // BLOCK), left // BLOCK : -(-right // BLOCK)] = False
    bounds = _bounds(frame, blocks, levels)
    return None if bounds is None else Ink(bounds, tuple(specks), pattern, tuple(inside))


def _block_map(frame: Frame, levels: int, watch: Watch | None = None) -> Map:
    """True for each block that may hold ink; never False for one that does.

    Exact where there is no alpha. With alpha a column of eight pixels is judged by its greatest alpha and its least
    channel together, which is never less than the tint of any one of them.
    """
    import numpy as np

    rows = [_band_map(frame, top, bottom, levels, watch) for top, bottom in bands(*frame.image.size)]
    found: Map = np.concatenate(rows)
    return found


def _band_map(frame: Frame, top: int, bottom: int, levels: int, watch: Watch | None) -> Map:
    import numpy as np

    width = frame.image.width
    band = frame.image.crop((0, top, width, bottom))
    table = _least_table(frame)
    if table is not None:
        band = band.point(table)
    # Four bytes a pixel is how Pillow keeps colour: handing them over as they are is a plain copy.
    data = band.tobytes("raw", "RGBX") if band.mode == "RGB" else band.tobytes()
    pixels = np.frombuffer(data, np.uint8).reshape(bottom - top, -1)
    if watch is not None:
        watch(pixels.reshape(bottom - top, width, -1))
    least = _by_rows(pixels, np.minimum).reshape(-1, width, pixels.shape[1] // width)
    if not frame.image.mode.endswith("A"):
        return np.asarray(_by_columns(_least_channel(least), np.minimum, 255) <= 255 - levels)
    most = _by_rows(pixels, np.maximum).reshape(least.shape)[:, :, -1]
    tint = most.astype(np.uint16) * (255 - _least_channel(least[:, :, :-1]).astype(np.uint16))
    return np.asarray(_by_columns(tint, np.maximum, 0) >= 255 * levels - 128)


def _by_rows(pixels: Array, better: np.ufunc) -> Array:
    """Eight rows to one. Row against row is what the processor does sixteen bytes at a time."""
    import numpy as np

    whole = pixels.shape[0] // BLOCK * BLOCK
    parts = [better.reduce(pixels[:whole].reshape(-1, BLOCK, pixels.shape[1]), axis=1)]
    if whole < pixels.shape[0]:
        parts.append(better.reduce(pixels[whole:], axis=0)[None])
    return np.concatenate(parts)


def _by_columns(values: Array, better: np.ufunc, neutral: int) -> Array:
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


def _least_table(frame: Frame) -> bytes | None:
    """For a picture with a table, the least channel of each entry."""
    if frame.table is None or frame.grey:
        return frame.table
    t = frame.table
    return bytes(min(t[i : i + 3]) for i in range(0, 768, 3))


def _mask(frame: Frame, box: PixelBox, levels: int) -> Map:
    """Which pixels of a (small) box are ink."""
    import numpy as np

    width, height = frame.image.size
    left, top, right, bottom = max(0, box[0]), max(0, box[1]), min(width, box[2]), min(height, box[3])
    pixels = np.asarray(over_white(frame, (left, top, right, bottom)))
    least = _least_channel(pixels.reshape(*pixels.shape[:2], -1))
    return np.asarray(least <= 255 - levels)


def _bounds(frame: Frame, blocks: Map, levels: int) -> PixelBox | None:
    """The exact box of the ink in `blocks`; clears the blocks at the edges that turn out to hold none."""
    edges = []
    for axis, last in ((0, False), (0, True), (1, False), (1, True)):
        edge = _edge(frame, blocks, levels, axis, last)
        if edge is None:
            return None
        edges.append(edge)
    top, bottom, left, right = edges
    return left, top, right + 1, bottom + 1


def _edge(frame: Frame, blocks: Map, levels: int, axis: int, last: bool) -> int | None:
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
        mask = _mask(frame, box, levels)
        mask = mask if axis == 0 else mask.T
        # A speck that is being cut may lie in this strip: its blocks are no longer on the map.
        inked = (mask & np.repeat(turned[line, low:high], BLOCK)[: mask.shape[1]]).any(axis=1)
        if inked.any():
            return line * BLOCK + int(np.flatnonzero(inked)[-1 if last else 0])
        turned[line] = False
    return None


def _specks(frame: Frame, blocks: Map, levels: int) -> tuple[list[PixelBox], list[PixelBox]]:
    """The boxes of all specks by the rule of the module, then of spots that are none only by lying inside the rest."""
    import numpy as np

    near = -(-FAR_PX // BLOCK) + 1
    lonely = blocks & (_count_around(blocks, near) <= 4)
    if not lonely.any() or np.count_nonzero(lonely) > _MANY:
        return [], []
    rest = blocks & ~lonely
    if not rest.any():
        return [], []
    spots = [spot for group in _groups(lonely) if (spot := _spot(frame, group, levels)) is not None]
    longer = _longer_side(rest)
    small = min(max(SPECK_PX, longer * SPECK_SHARE), SPECK_MOST_PX)
    far = max(FAR_PX, longer * FAR_SHARE)
    lone = []
    for spot in spots:
        if max(spot[2] - spot[0], spot[3] - spot[1]) > small:
            rest[_block_slices(spot)] = True
        else:
            lone.append(spot)
    lone = [spot for spot in lone if not _stays(rest, spot, far)]
    outside = _outside(rest, lone)
    return outside, [spot for spot in lone if spot not in outside]


def _stays(rest: Map, spot: PixelBox, far: float) -> bool:
    """True if other ink is within `far`; the spot is then put on the map with it."""
    reach = round(far)
    near = rest[_block_slices((spot[0] - reach, spot[1] - reach, spot[2] + reach, spot[3] + reach))]
    if near.any():
        rest[_block_slices(spot)] = True
        return True
    return False


def _outside(rest: Map, spots: list[PixelBox]) -> list[PixelBox]:
    """Of the spots, those that lie wholly outside the box of all the others."""
    left, top, right, bottom = _block_box(rest)
    box = [left * BLOCK, top * BLOCK, right * BLOCK, bottom * BLOCK]
    out = spots
    while True:
        apart = [s for s in out if s[2] <= box[0] or s[0] >= box[2] or s[3] <= box[1] or s[1] >= box[3]]
        if len(apart) == len(out):
            return out
        for s in out:
            if s not in apart:
                box = [min(box[0], s[0]), min(box[1], s[1]), max(box[2], s[2]), max(box[3], s[3])]
        out = apart


def _count_around(blocks: Map, reach: int) -> np.ndarray[tuple[int, int], np.dtype[np.int64]]:
    """For each block, how many marked blocks lie within `reach` blocks of it, itself included."""
    import numpy as np

    sums = np.pad(blocks, ((reach + 1, reach), (reach + 1, reach))).astype(np.int64).cumsum(0).cumsum(1)
    size = 2 * reach + 1
    count: np.ndarray[tuple[int, int], np.dtype[np.int64]]
    count = sums[size:, size:] - sums[:-size, size:] - sums[size:, :-size] + sums[:-size, :-size]
    return count


def _groups(lonely: Map) -> Iterator[list[tuple[int, int]]]:
    """Lonely blocks that touch, at most four together, as (row, column)."""
    import numpy as np

    left = {(int(r), int(c)) for r, c in zip(*np.nonzero(lonely), strict=True)}
    for start in sorted(left):
        if start not in left:
            continue
        group, edge = [], [start]
        left.discard(start)
        while edge:
            r, c = edge.pop()
            group.append((r, c))
            touching = {(r + i, c + j) for i in (-1, 0, 1) for j in (-1, 0, 1)} & left
            left -= touching
            edge.extend(sorted(touching))
        yield group


def _spot(frame: Frame, group: list[tuple[int, int]], levels: int) -> PixelBox | None:
    """The exact box of the ink in a group of blocks, None if there is none after all."""
    import numpy as np

    top, left = min(r for r, _ in group) * BLOCK, min(c for _, c in group) * BLOCK
    bottom, right = (max(r for r, _ in group) + 1) * BLOCK, (max(c for _, c in group) + 1) * BLOCK
    mask = _mask(frame, (left, top, right, bottom), levels)
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return None
    return left + int(columns[0]), top + int(rows[0]), left + int(columns[-1]) + 1, top + int(rows[-1]) + 1


def _block_slices(box: PixelBox) -> tuple[slice, slice]:
    left, top, right, bottom = (max(0, side) for side in box)
    return slice(top // BLOCK, -(-bottom // BLOCK)), slice(left // BLOCK, -(-right // BLOCK))


def _block_box(blocks: Map) -> PixelBox:
    import numpy as np

    rows, columns = np.flatnonzero(blocks.any(axis=1)), np.flatnonzero(blocks.any(axis=0))
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def _longer_side(blocks: Map) -> int:
    left, top, right, bottom = _block_box(blocks)
    return BLOCK * max(right - left, bottom - top)
