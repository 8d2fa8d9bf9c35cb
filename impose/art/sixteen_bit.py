"""Pictures of 16 bits brought to 8, exactly as they print: from one picture of the high bytes and one of the low.

What prints is the colour over white, to the nearest of 255 levels of the true value. Alpha and colour rounded by
themselves miss it by up to 1.3 levels, so the colour is chosen such that over white at 8 bits it comes out right. There
always is one: of the ink a share a/255 lets through, 0 to a levels, one level of colour moves at most one.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from impose.art.unfilter import UnfilteredImage

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

_PIXELS = 1 << 15
"""Handled at a time, so that what is reckoned with stays small beside a picture."""
_MOST = 65535


def reduce_with_alpha(high: UnfilteredImage, low: UnfilteredImage) -> UnfilteredImage:
    """Pixels with alpha whose bytes are these, at 8 bits, in the memory of `high` where it is ours."""
    import numpy as np

    for top, bottom in _split_rows(high):
        deep = _slice_rows(high, top, bottom).astype(np.int64) << 8  # room for the product of two samples and 510
        deep |= _slice_rows(low, top, bottom)
        _store_rows(high, top, _round_over_white(deep))
    return high


def reduce_with_clear(high: UnfilteredImage, low: UnfilteredImage, clear: bytes) -> UnfilteredImage:
    """Pixels without alpha, those white that equal the transparent colour in all 16 bits of each sample."""
    import numpy as np

    samples = len(clear) // 2
    first, second = (np.frombuffer(clear[lane::2], np.uint8) for lane in (0, 1))
    for top, bottom in _split_rows(high):
        rows = _slice_rows(high, top, bottom)
        same = (rows[..., :samples] == first) & (_slice_rows(low, top, bottom)[..., :samples] == second)
        white = same.all(axis=2)
        if white.any():
            rows = rows.copy()
            rows[white] = 255
            _store_rows(high, top, rows)
    return high


def _round_over_white(deep: Array) -> Array:
    """Samples of 16 bits, alpha last, to 8 bits that are right over white."""
    import numpy as np

    alpha = deep[..., -1:]
    ink = alpha * (_MOST - deep[..., :-1])
    levels = (ink * 255 + _MOST * _MOST // 2) // (_MOST * _MOST)  # of ink, as they shall print
    made = (deep * 255 + _MOST // 2) // _MOST
    share = made[..., -1:]
    off = (share * (255 - made[..., :-1]) + 127) // 255 != levels
    mended = 255 - (levels * 510 + share) // np.maximum(2 * share, 1)
    made[..., :-1] = np.where(off, mended, made[..., :-1])
    return made.astype(np.uint8)


def _split_rows(painted: UnfilteredImage) -> Iterator[tuple[int, int]]:
    width, height = painted.image.size
    step = max(1, _PIXELS // width)
    for top in range(0, height, step):
        yield top, min(top + step, height)


def _slice_rows(painted: UnfilteredImage, top: int, bottom: int) -> Array:
    import numpy as np

    if painted.pixels is not None:
        return painted.pixels[top:bottom]
    image = painted.image
    band = image.crop((0, top, image.width, bottom))
    return np.frombuffer(band.tobytes(), np.uint8).reshape(band.height, band.width, -1)


def _store_rows(painted: UnfilteredImage, top: int, rows: Array) -> None:
    if painted.pixels is not None:
        painted.pixels[top : top + len(rows)] = rows
        return
    from PIL import Image

    image = painted.image
    part = Image.frombytes(image.mode, (image.width, len(rows)), rows.tobytes())
    image.paste(part, (0, top))
