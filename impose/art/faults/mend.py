"""Mending on request: haze taken away, specks dropped. The picture is changed in bands, by the libraries' own loops.

Nothing here runs unless it was asked for; what was done is said in a finding with the picture before and after.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.decode import DecodedFrame, split_into_bands
from impose.art.faults.areas import FAINT, FaintArea
from impose.art.faults.regions import ConnectedRegions, find_regions
from impose.art.ink import PixelBox, composite_over_white, count_tint_levels
from impose.art.specks import BLOCK, SMALL_MOST_PX, compute_speck_limits

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]


SPARE = 4
"""Levels taken away beyond nearly all of the haze, so that its peaks go as well."""


def make_easing_table(cut: int) -> list[int]:
    """256 levels: up to `cut` nothing, from twice that on unchanged, and straight between, so that no edge appears."""
    return [0 if level <= cut else min(level, 2 * (level - cut)) for level in range(256)]


def remove_haze(frame: DecodedFrame, area: FaintArea) -> DecodedFrame:
    """The picture without faint alpha up to the haze's highest; softer edges above it run out a little sooner."""
    image = frame.image.copy()
    image.putalpha(image.getchannel("A").point(make_easing_table(min(FAINT, area.high + SPARE))))
    return frame.replace_image(image)


def remove_off_white(frame: DecodedFrame, area: FaintArea) -> DecodedFrame:
    """The picture with its nearly white pixels white, by the same easing on their tint; colours stay as they are."""
    if frame.table is not None:
        table = _whiten_table(frame.table, frame.grey, area.high)
        return DecodedFrame(frame.image, table, frame.grey, frame.surplus, frame.pixels)
    ease = make_easing_table(area.high)
    # How much of the white paper to lay over a pixel of each least channel.
    share = [255 - (255 * ease[255 - c] // (255 - c) if c < 255 else 0) for c in range(256)]
    share = [value if 255 - c <= 2 * area.high else 0 for c, value in enumerate(share)]
    image = frame.image.copy()
    colour = "L" if frame.grey else "RGB"
    for top, bottom in split_into_bands(*image.size):
        box = (0, top, image.width, bottom)
        band = image.crop(box)
        white = 255 if len(band.getbands()) == 1 else (255,) * len(band.getbands())
        image.paste(white, box, _least_channel(band.convert(colour) if band.mode != colour else band).point(share))
    if frame.image.mode.endswith("A"):
        image.putalpha(frame.image.getchannel("A"))
    return frame.replace_image(image)


def _least_channel(band: Image.Image) -> Image.Image:
    from PIL import ImageChops

    first, *others = band.split()
    for other in others:
        first = ImageChops.darker(first, other)
    return first


def _whiten_table(table: bytes, grey: bool, cut: int) -> bytes:
    ease = make_easing_table(cut)
    size = 1 if grey else 3
    made = bytearray(table)
    for at in range(0, len(table), size):
        tint = 255 - min(table[at : at + size])
        if 0 < tint <= 2 * cut:
            made[at : at + size] = bytes(255 - (255 - c) * ease[tint] // tint for c in table[at : at + size])
    return bytes(made)


def remove_specks(frame: DecodedFrame, tint: float) -> tuple[DecodedFrame, tuple[PixelBox, ...]]:
    """The picture without any speck, inside or out, and the boxes of those that were dropped.

    A speck is small and far by the measures of `impose.art.ink`, but here neither their number nor whether they lie
    inside the rest counts: dust is many specks.
    """
    mask = _mask_ink(frame, count_tint_levels(tint))
    if not mask.any():
        return frame, ()
    found = find_regions(mask)
    most, far = compute_speck_limits(_measure_main_region(found))
    size = found.box[:, 2:] - found.box[:, :2]
    small = size.max(axis=1) <= most
    lonely = small & ~_find_near_regions(found, small, mask.shape, far)
    if not lonely.any() or lonely.all():  # a picture of nothing but dots is no dust
        return frame, ()
    boxes = tuple(sorted(tuple(int(v) for v in box) for box in found.box[lonely]))
    return _blank_regions(frame, found, lonely, mask.shape), boxes  # type: ignore[return-value]


def _mask_ink(frame: DecodedFrame, levels: int) -> Array:
    import numpy as np

    width, height = frame.image.size
    masks = []
    for top, bottom in split_into_bands(width, height):
        pixels = np.asarray(composite_over_white(frame, (0, top, width, bottom)))
        masks.append((pixels.min(axis=2) if pixels.ndim == 3 else pixels) <= 255 - levels)
    return np.concatenate(masks)


def _measure_main_region(found: ConnectedRegions) -> int:
    """The longer side of the box of the largest region's kind: of everything that is more than a few pixels."""
    large = found.box[found.area > SMALL_MOST_PX**2]
    box = large if len(large) else found.box
    return int(max(box[:, 2].max() - box[:, 0].min(), box[:, 3].max() - box[:, 1].min()))


def _find_near_regions(found: ConnectedRegions, small: Array, shape: tuple[int, ...], reach: float) -> Array:
    """For each region, whether any that is not small lies within `reach` pixels, to a block of 8."""
    import numpy as np

    rows, columns = -(-shape[0] // BLOCK), -(-shape[1] // BLOCK)
    large = found.runs[~small[found.runs[:, 0]]]
    # Marks at the ends and along a run: a difference summed up along the row.
    marks = np.zeros((rows, columns + 1), np.int64)
    np.add.at(marks, (large[:, 1] // BLOCK, large[:, 2] // BLOCK), 1)
    np.add.at(marks, (large[:, 1] // BLOCK, (large[:, 3] - 1) // BLOCK + 1), -1)
    sums = np.pad((marks.cumsum(axis=1)[:, :-1] > 0).astype(np.int64), ((1, 0), (1, 0))).cumsum(0).cumsum(1)
    out = -(-int(reach) // BLOCK)
    left, top = (np.maximum(found.box[:, i] // BLOCK - out, 0) for i in (0, 1))
    right = np.minimum((found.box[:, 2] - 1) // BLOCK + out + 1, columns)
    bottom = np.minimum((found.box[:, 3] - 1) // BLOCK + out + 1, rows)
    return np.asarray(sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left] > 0)


def _blank_regions(frame: DecodedFrame, found: ConnectedRegions, gone: Array, shape: tuple[int, ...]) -> DecodedFrame:
    """The picture with the boxes of some regions, and the faint rim around them, made white or clear."""
    import numpy as np
    from PIL import Image

    mask = np.zeros((shape[0] + 1, shape[1] + 1), np.int32)
    left, top, right, bottom = found.box[gone].T
    left, top = np.maximum(left - 1, 0), np.maximum(top - 1, 0)
    right, bottom = np.minimum(right + 1, shape[1]), np.minimum(bottom + 1, shape[0])
    for rows, columns, step in ((top, left, 1), (top, right, -1), (bottom, left, -1), (bottom, right, 1)):
        np.add.at(mask, (rows, columns), step)
    covered = mask.cumsum(0).cumsum(1)[:-1, :-1] > 0
    if frame.table is not None:
        return _paint_out_regions(frame, covered)
    image = frame.image.copy()
    clear = (255,) * (len(image.getbands()) - 1) + (0,) if image.mode.endswith("A") else "white"
    image.paste(clear, (0, 0), Image.fromarray(covered.astype(np.uint8) * 255))
    return frame.replace_image(image)


def _paint_out_regions(frame: DecodedFrame, covered: Array) -> DecodedFrame:
    """The same for a picture whose levels mean colours: those are looked up first, since none of them need be white."""
    import numpy as np
    from PIL import Image

    image = composite_over_white(frame, (0, 0, *frame.image.size))
    image.paste("white", (0, 0), Image.fromarray(covered.astype(np.uint8) * 255))
    return DecodedFrame(image, None, frame.grey, frame.surplus)
