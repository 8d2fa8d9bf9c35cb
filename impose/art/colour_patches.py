"""The numbered patches around a colour: what a person presses, looks at and chooses from.

45 places, always the same: five rows of lightness, three blocks of hue, in each three columns of chroma, numbered row
by row. A number beside its colour therefore says a colour by itself, with no file to keep. The steps are our own
choice: the least that is plainly seen on pressed cloth (no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

from impose.art.cielab import (
    Triple,
    format_hex,
    from_lab,
    measure_difference,
    parse_hex,
    to_lab,
    to_lch,
)

ROWS, BLOCKS, COLUMNS = 5, 3, 3
ACROSS = BLOCKS * COLUMNS
MIDDLE = 2 * ACROSS + COLUMNS + 2
"""The number of the colour itself."""

LIGHTER, STRONGER, TURN = 6.0, 12.0, 15.0
"""From a row to the next in L*, from a column to the next in C*, from a block to the next in degrees of hue."""

GREY, TINGE = 8.0, 7.0
"""Below this chroma a hue says nothing: blocks go by b*, columns by a*, this far from one to the next."""

_APART = 1.5  # of CIEDE2000: nearer than that, two patches are one
_FAINTEST = 5  # levels of 255: what is paler prints as nothing


@lru_cache(maxsize=64)
def list_patches(colour: str) -> dict[int, str]:
    """The patches around `#RRGGBB` by their numbers.

    A patch stronger than sRGB can say has the most chroma there is of its lightness and hue. A number is missing where
    there is no such colour, where it would be no ink, and where it looks like a patch that is there.
    """
    found = {MIDDLE: colour}
    labs = [to_lab(parse_hex(colour))]
    # From the middle outwards, so that of two alike the one nearer to the colour stays.
    for number, lab in sorted(_list_places(colour), key=lambda place: (_measure_way(place[0]), place[0])):
        levels = None if lab is None else from_lab(lab)
        if number == MIDDLE or levels is None or min(levels) > 255 - _FAINTEST:
            continue
        exact = to_lab(levels)
        if all(measure_difference(exact, other) >= _APART for other in labs):
            labs.append(exact)
            found[number] = format_hex(levels)
    return dict(sorted(found.items()))


def locate_patch(number: int) -> tuple[int, int, int]:
    """Row, block and column of a number, each from 0."""
    row, across = divmod(number - 1, ACROSS)
    return row, *divmod(across, COLUMNS)


def _measure_way(number: int) -> int:
    row, block, column = locate_patch(number)
    return abs(row - ROWS // 2) + abs(block - 1) + abs(column - 1)


def _list_places(colour: str) -> Iterator[tuple[int, Triple | None]]:
    """Each number with its L*, a*, b*; None where lightness is out of range."""
    levels = parse_hex(colour)
    lightness, chroma, hue = to_lch(levels)
    _, a, b = to_lab(levels)
    for number in range(1, ROWS * ACROSS + 1):
        row, block, column = locate_patch(number)
        light = lightness + (ROWS // 2 - row) * LIGHTER
        if not 0 <= light <= 100:
            yield number, None
        elif chroma < GREY:
            yield number, (light, a + (column - 1) * TINGE, b + (1 - block) * TINGE)
        else:
            yield number, _keep_within(light, max(0.0, chroma + (column - 1) * STRONGER), hue + (block - 1) * TURN)


def _keep_within(lightness: float, chroma: float, hue: float) -> Triple | None:
    """The colour with its chroma, or with the most that sRGB has of its lightness and hue."""
    across, up = math.cos(math.radians(hue)), math.sin(math.radians(hue))

    def mix(strength: float) -> Triple:
        return lightness, strength * across, strength * up

    if from_lab(mix(chroma)) is not None:
        return mix(chroma)
    low, high = 0.0, chroma
    if from_lab(mix(low)) is None:
        return None
    while high - low > 0.05:
        middle = (low + high) / 2
        low, high = (middle, high) if from_lab(mix(middle)) is not None else (low, middle)
    return mix(low)
