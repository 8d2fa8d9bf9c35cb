"""Specks: which small spots of ink, far from the rest, are dirt and no part of the picture.

A *speck* is a spot of ink that is both
- small: at most 3 px in each direction, or 0.2 % of the longer side of the rest of the ink up to 6 px (half a
  millimetre at 300 ppi);
- far: no other ink but such spots within 12 px or 5 % of that longer side, whichever is more, and outside the box of
  everything that is not a speck.
More than 12 of them are no accident but a pattern, stars or spray, and are all kept. So a full stop, the dot of an i,
an umlaut, a dash or a drawn star is never cut.

A *dot* is as far from everything, but larger than a speck, up to 8 px: it may be meant, so that it is kept. It makes
the box of the ink larger, by which a print is sized and centred, so that it is told. Level with other ink it may be a
full stop that was set apart. (The measures are our own choice; no source.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np

    Map = np.ndarray[tuple[int, int], np.dtype[np.bool_]]

PixelBox = tuple[int, int, int, int]
SpotOf = Callable[[list[tuple[int, int]]], PixelBox | None]

BLOCK = 8
"""Pixels along a side of the blocks in which a picture is mapped."""

SMALL_MOST_PX = 6
DOT_MOST_PX = 8
PATTERN = 12
_SMALL_PX, _SMALL_SHARE = 3, 0.002
_FAR_PX, _FAR_SHARE = 12, 0.05
_MANY = 400  # possible specks beyond which looking at each would take longer than it is worth


def compute_speck_limits(longer: int) -> tuple[float, float]:
    """In pixels, what is small at most and far at least, beside ink whose longer side is `longer`."""
    return min(max(_SMALL_PX, longer * _SMALL_SHARE), SMALL_MOST_PX), max(_FAR_PX, longer * _FAR_SHARE)


class LonelySpots(FrozenStruct):
    """Boxes in pixels: specks `outside` the rest, spots that are none only by lying `inside` it, and `dots` outside."""

    outside: list[PixelBox]
    inside: list[PixelBox]
    dots: list[PixelBox]


def find_specks(blocks: Map, spot_of: SpotOf) -> LonelySpots:
    """All specks and dots by the rules of the module.

    `blocks` is true for each block that may hold ink; `spot_of` gives the exact box of the ink in a group of blocks.
    """
    import numpy as np

    near = -(-_FAR_PX // BLOCK) + 1
    lonely = blocks & (_count_marked_around(blocks, near) <= 4)
    if not lonely.any() or np.count_nonzero(lonely) > _MANY:
        return LonelySpots([], [], [])
    rest = blocks & ~lonely
    if not rest.any():
        return LonelySpots([], [], [])
    spots = [spot for group in _group_lonely_blocks(lonely) if (spot := spot_of(group)) is not None]
    small, far = compute_speck_limits(_longer_side(rest))
    larger = [spot for spot in spots if small < _measure_side(spot) <= DOT_MOST_PX]
    _mark_spots(rest, [spot for spot in spots if _measure_side(spot) > DOT_MOST_PX])
    dots = _find_spots_outside(rest, [spot for spot in larger if not _is_near_ink(rest, spot, far)])
    dots = [spot for spot in dots if not rest[_block_slices(spot)[0]].any()]
    _mark_spots(rest, larger)
    lone = []
    for spot in spots:
        if _measure_side(spot) > small:
            continue
        if _is_near_ink(rest, spot, far):
            _mark_spots(rest, [spot])
        else:
            lone.append(spot)
    outside = _find_spots_outside(rest, lone)
    return LonelySpots(outside, [spot for spot in lone if spot not in outside], dots)


def _measure_side(spot: PixelBox) -> int:
    """The longer side."""
    return max(spot[2] - spot[0], spot[3] - spot[1])


def _mark_spots(rest: Map, spots: list[PixelBox]) -> None:
    """Put spots on the map."""
    for spot in spots:
        rest[_block_slices(spot)] = True


def _is_near_ink(rest: Map, spot: PixelBox, far: float) -> bool:
    """Whether other ink is within `far`."""
    reach = round(far)
    return bool(rest[_block_slices((spot[0] - reach, spot[1] - reach, spot[2] + reach, spot[3] + reach))].any())


def _find_spots_outside(rest: Map, spots: list[PixelBox]) -> list[PixelBox]:
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


def _count_marked_around(blocks: Map, reach: int) -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    """For each block, how many marked blocks lie within `reach` blocks of it, at most 7, itself included."""
    import numpy as np

    height, width = blocks.shape
    around = np.pad(blocks, reach).view(np.uint8)
    rows = around[:height].copy()
    for i in range(1, 2 * reach + 1):
        rows += around[i : i + height]
    count = rows[:, :width].copy()
    for i in range(1, 2 * reach + 1):
        count += rows[:, i : i + width]
    return count


def _group_lonely_blocks(lonely: Map) -> Iterator[list[tuple[int, int]]]:
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
