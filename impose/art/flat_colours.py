"""The flat colours of a decoded picture: those of which whole areas are made, not the blends along edges.

A pixel is flat where it equals its neighbours to the right, below and between. Photographs have next to none.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from impose.art.decode import split_into_bands
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

Levels = tuple[int, int, int]

NEAR = 3
"""Levels of 255 in each channel within which two numbers are one flat colour: what a lossy format makes of it."""

_LEAST_PX = 12  # of a flat colour; fewer are chance
_FAINT = 13  # of 255 alpha: what is fainter has no colour to speak of
_MOST = 200  # colours that are looked at; a drawing has a handful


class FlatColour(FrozenStruct):
    """A flat colour in the picture's own numbers, and its share of all that is not clear."""

    levels: Levels
    share: float


def list_flat_colours(image: Image.Image) -> list[FlatColour]:
    """The flat colours of a picture in mode RGB or RGBA, most first."""
    counts: Counter[int] = Counter()
    seen = 0
    for top, bottom in split_into_bands(*image.size):
        words, clear = _read_words(image.crop((0, top, image.width, min(image.height, bottom + 1))))
        seen += int((~clear[: bottom - top]).sum())
        _count_flat(words, clear, counts)
    found: list[tuple[Levels, int]] = []
    for word, count in sorted(counts.items(), key=lambda entry: (-entry[1], entry[0])):
        levels = word & 255, word >> 8 & 255, word >> 16 & 255
        near = next((at for at, (other, _) in enumerate(found) if _are_near(levels, other)), None)
        if near is not None:
            found[near] = found[near][0], found[near][1] + count
        elif len(found) < _MOST:
            found.append((levels, count))
    found = sorted((entry for entry in found if entry[1] >= _LEAST_PX), key=lambda entry: (-entry[1], entry[0]))
    return [FlatColour(levels, count / max(1, seen)) for levels, count in found]


def _are_near(first: Levels, second: Levels) -> bool:
    return all(abs(a - b) <= NEAR for a, b in zip(first, second, strict=True))


def _read_words(band: Image.Image) -> tuple[Array, Array]:
    """Each pixel as one number, alpha its highest byte, and where it is as good as clear."""
    import numpy as np

    words = np.frombuffer(band.tobytes("raw", "RGBA" if band.mode == "RGBA" else "RGBX"), "<u4")
    words = words.reshape(band.height, band.width)
    if band.mode != "RGBA":
        return words & np.uint32(0xFFFFFF), np.zeros(words.shape, np.bool_)
    return words, words < np.uint32(_FAINT << 24)


def _count_flat(words: Array, clear: Array, counts: Counter[int]) -> None:
    import numpy as np

    here = words[:-1, :-1]
    same = (here == words[:-1, 1:]) & (here == words[1:, :-1]) & (here == words[1:, 1:]) & ~clear[:-1, :-1]
    flat = here[same] & np.uint32(0xFFFFFF)
    if not len(flat):
        return
    # By runs: areas are long ones, and there is little left to sort.
    starts = np.flatnonzero(np.concatenate(([True], flat[1:] != flat[:-1])))
    values, inverse = np.unique(flat[starts], return_inverse=True)
    sums = np.bincount(inverse, np.diff(np.append(starts, len(flat))))
    for value, count in zip(values.tolist(), sums.tolist(), strict=True):
        counts[value] += int(count)
