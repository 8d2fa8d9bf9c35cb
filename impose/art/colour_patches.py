"""The numbered patches around a colour: what a person presses, looks at and chooses from.

45 places: five rows of lightness, three blocks of hue, in each three columns of saturation, numbered row by row. A
number beside its colour therefore says a colour by itself, with no file to keep. The steps are our own choice: what is
plainly seen on pressed cloth (no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

from impose.art.cielab import Triple, format_hex, from_lab, measure_difference, parse_hex, to_lab, to_lch
from impose.values import FrozenStruct

ROWS, BLOCKS, COLUMNS = 5, 3, 3
ACROSS = BLOCKS * COLUMNS

LIGHTER, STRONGER, TURN = 6.0, 0.2, 15.0
"""From a row to the next in L*, from a column to the next as a share of the most chroma that sRGB has of that lightness
and hue, from a block to the next in degrees of hue."""

GREY, TINGE = 8.0, 7.0
"""Below this chroma a hue says nothing: blocks go by b*, columns by a*, this far from one to the next."""

_DARKEST, _LIGHTEST = 3.0, 97.0  # L* of the outer rows
_APART = 1.5  # of CIEDE2000: nearer than that, two patches are one
_FAINTEST = 5  # levels of 255: what is paler prints as nothing
_MOST_CHROMA = 150.0  # sRGB ends at 134


class PatchGrid(FrozenStruct):
    """Where a colour stands among its patches: its row and its column, its lightness, chroma, hue and saturation."""

    row: int
    column: int
    lch: Triple
    saturation: float

    @property
    def middle(self) -> int:
        """The number of the colour itself."""
        return self.row * ACROSS + COLUMNS + self.column + 1


@lru_cache(maxsize=64)
def make_grid(colour: str) -> PatchGrid:
    """The colour's place: in the middle, or nearer to an edge where it is so light, dark, pale or strong already."""
    lightness, chroma, hue = to_lch(parse_hex(colour))
    up = min(ROWS // 2, max(0, math.floor((_LIGHTEST - lightness) / LIGHTER)))
    down = min(ROWS // 2, max(0, math.floor((lightness - _DARKEST) / LIGHTER)))
    row = ROWS - 1 - down if down < ROWS // 2 else up
    most = _find_most_chroma(lightness, hue)
    saturation = min(1.0, chroma / most) if most else 0.0
    column = 1
    if chroma >= GREY:
        column = 2 if saturation > 1 - STRONGER else 0 if saturation < STRONGER else 1
    return PatchGrid(row, column, (lightness, chroma, hue), saturation)


@lru_cache(maxsize=64)
def list_patches(colour: str) -> dict[int, str]:
    """The patches around `#RRGGBB` by their numbers.

    A number is missing where it would be no ink, and where it looks like a patch that is there.
    """
    grid = make_grid(colour)
    found = {grid.middle: colour}
    labs = [to_lab(parse_hex(colour))]
    # From the colour outwards, so that of two alike the one nearer to it stays.
    for number, lab in sorted(_list_places(colour, grid), key=lambda place: (_count_steps(place[0], grid), place[0])):
        levels = from_lab(lab)
        if number == grid.middle or levels is None or min(levels) > 255 - _FAINTEST:
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


def _count_steps(number: int, grid: PatchGrid) -> int:
    row, block, column = locate_patch(number)
    return abs(row - grid.row) + abs(block - 1) + abs(column - grid.column)


def _list_places(colour: str, grid: PatchGrid) -> Iterator[tuple[int, Triple]]:
    """Each number with its L*, a*, b*."""
    lightness, chroma, hue = grid.lch
    _, a, b = to_lab(parse_hex(colour))
    for number in range(1, ROWS * ACROSS + 1):
        row, block, column = locate_patch(number)
        light = lightness + (grid.row - row) * LIGHTER
        if chroma < GREY:
            yield number, (light, a + (column - 1) * TINGE, b + (1 - block) * TINGE)
            continue
        turned = hue + (block - 1) * TURN
        strength = min(1.0, max(0.0, grid.saturation + (column - grid.column) * STRONGER))
        yield number, _make_lab(light, strength * _find_most_chroma(light, turned), turned)


def _make_lab(lightness: float, chroma: float, hue: float) -> Triple:
    return lightness, chroma * math.cos(math.radians(hue)), chroma * math.sin(math.radians(hue))


def _find_most_chroma(lightness: float, hue: float) -> float:
    """The most chroma that sRGB has of a lightness and hue, to a twentieth."""
    low, high = 0.0, _MOST_CHROMA
    while high - low > 0.05:
        middle = (low + high) / 2
        low, high = (middle, high) if from_lab(_make_lab(lightness, middle, hue)) is not None else (low, middle)
    return low
