"""The part of a picture that shows most of its colours, to be tried before the whole is pressed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.crop import read_picture_rows
from impose.art.ink import PixelBox
from impose.art.prepare import PreparedPicture
from impose.art.rasterise import rasterise_picture
from impose.art.vector_drawing import Drawing

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

_SIDE = 240  # samples along the longer side; a window of 25 mm in a back of 300 mm is still twenty of them
_STEPS = 6  # places of the window within its own length
_COVERED = 0.7  # of the window that is to be drawn on; below, colours count for less
_BLANK = 5  # levels of 255 that are no ink


def find_busiest_part(picture: PreparedPicture, width: int, height: int) -> PixelBox:
    """The box of `width` by `height` pixels within the ink bounds with most colours, well covered; the first of equals.

    Colours are counted in steps of 16 levels, on a grid of samples. A side longer than the ink is as long as the ink.
    """
    left, top, right, bottom = picture.ink
    width, height = min(width, right - left), min(height, bottom - top)
    samples, step = _sample_codes(picture)
    rows, columns = samples.shape
    high, wide = max(1, min(rows, round(height / step))), max(1, min(columns, round(width / step)))
    best, found = (-1.0, -1.0), (0, 0)
    for y in _list_starts(rows, high):
        for x in _list_starts(columns, wide):
            score = _score_window(samples[y : y + high, x : x + wide])
            if score > best:
                best, found = score, (y, x)
    down = min(round(found[0] * step), bottom - top - height)
    across = min(round(found[1] * step), right - left - width)
    return left + across, top + down, left + across + width, top + down + height


def _list_starts(length: int, window: int) -> list[int]:
    last = length - window
    return sorted({*range(0, last + 1, max(1, window // _STEPS)), last})


def _score_window(codes: Array) -> tuple[float, float]:
    """How many colours a window shows, less where it is mostly blank; and how much of it is drawn on.

    As many as equal shares of colours would be with the same entropy (Shannon, 1948): a blend along an edge is hardly
    one, and half and half is more than a corner of another.
    """
    import numpy as np

    drawn = codes[codes >= 0]
    if not drawn.size:
        return 0.0, 0.0
    covered = drawn.size / codes.size
    shares = np.unique(drawn, return_counts=True)[1] / drawn.size
    colours = float(np.exp(-(shares * np.log(shares)).sum()))
    return round(colours * min(1.0, covered / _COVERED), 6), round(covered, 6)


def _sample_codes(picture: PreparedPicture) -> tuple[Array, float]:
    """A colour's number for each sample as worn, -1 for blank paper, and the pixels from one to the next."""
    import numpy as np

    left, top, right, bottom = picture.ink
    if isinstance(picture, Drawing):
        pixels = np.asarray(rasterise_picture(picture, _SIDE))
        return _name_colours(pixels.reshape(*pixels.shape[:2], -1)), max(right - left, bottom - top) / _SIDE
    step = max(1, max(right - left, bottom - top) // _SIDE)
    bands, y = [], 0
    for rows in read_picture_rows(picture):
        bands.append(rows[-y % step :: step].reshape(-1, right - left, picture.components)[:, step // 2 :: step])
        y += len(rows)
    return _name_colours(np.concatenate(bands)), float(step)


def _name_colours(mirrored: Array) -> Array:
    import numpy as np

    pixels = mirrored[:, ::-1].astype(np.int64)
    channels = pixels.shape[2]
    tint = pixels.max(axis=2) if channels == 4 else 255 - pixels.min(axis=2)
    codes = sum((pixels[:, :, channel] >> 4) << (4 * channel) for channel in range(channels))
    return np.where(tint < _BLANK, -1, codes)
