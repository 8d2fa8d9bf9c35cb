"""Turns, flat colours and specks against what their standards and docs say, on pictures drawn here."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from impose.art.faults.thin import find_thin_parts
from impose.art.flat_colours import list_flat_colours
from impose.art.orientation import (
    MIRRORED,
    TURNED_CLOCKWISE,
    TURNS,
    UPRIGHT,
    chain_maps,
    find_map,
    turn_pixels,
    turn_upright,
)
from impose.art.specks import BLOCK, compute_speck_limits, find_specks

# Exif 2.32, 4.6.4 A, Orientation: the side of the picture as meant on which the stored row 0 lies, and the column 0.
EXIF = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def stored(meant: np.ndarray, orientation: int) -> np.ndarray:
    """A picture as a camera with this orientation writes it."""
    row, column = EXIF[orientation]
    if row in ("left", "right"):
        meant = meant.swapaxes(0, 1)
    if row in ("bottom", "right"):
        meant = meant[::-1]
    if column in ("bottom", "right"):
        meant = meant[:, ::-1]
    return np.ascontiguousarray(meant)


def mapped(linear: tuple[int, int, int, int], pixels: np.ndarray) -> np.ndarray:
    """Each pixel moved as the matrix says: x' = a x + c y, y' = b x + d y, less than nothing moved back by one."""
    a, b, c, d = linear
    height, width = pixels.shape[:2]
    made = np.zeros((abs(b) * width + abs(d) * height, abs(a) * width + abs(c) * height, *pixels.shape[2:]), np.uint8)
    for y in range(height):
        for x in range(width):
            across, down = a * x + c * y, b * x + d * y
            made[down - (b + d < 0), across - (a + c < 0)] = pixels[y, x]  # -1 counts from the end
    return made


@pytest.mark.parametrize("orientation", EXIF)
@pytest.mark.parametrize("channels", [1, 4])
def test_each_way_of_storing_a_picture_is_undone(orientation, channels):
    meant = np.random.default_rng(orientation).integers(0, 256, (2, 3, channels), np.uint8)
    kept = stored(meant, orientation)
    image = Image.fromarray(kept if channels == 4 else kept[:, :, 0], "RGBA" if channels == 4 else "L")
    assert np.array_equal(turn_pixels(kept, orientation), meant)
    assert np.array_equal(np.asarray(turn_upright(image, orientation)).reshape(meant.shape), meant)
    assert np.array_equal(mapped(find_map(orientation), kept), meant)


def test_one_map_after_the_other_moves_pixels_as_both_do():
    pixels = np.arange(6, dtype=np.uint8).reshape(2, 3)
    maps = [UPRIGHT, *(turn[2] for turn in TURNS.values())]
    assert np.array_equal(mapped(MIRRORED, pixels), np.fliplr(pixels))
    assert np.array_equal(mapped(TURNED_CLOCKWISE, pixels), np.rot90(pixels, -1))
    for first in maps:
        for then in maps:
            assert np.array_equal(mapped(chain_maps(first, then), pixels), mapped(then, mapped(first, pixels)))


def test_what_a_stored_picture_looks_like_is_said():
    """A file shown as stored: on its side where rows and columns change places, mirrored where the turn is odd."""
    for number, (_, looks, (a, b, c, d)) in TURNS.items():
        row, column = EXIF[number]
        assert ("on its side" in looks) == (row in ("left", "right")), number
        assert ("mirrored" in looks) == (a * d - b * c < 0), number
        assert ("upside down" in looks) == (row == "bottom"), number
        assert column in ("left", "right") or "on its side" in looks


def test_flat_colours_are_areas_with_their_shares_and_neither_lines_nor_what_is_clear():
    """A pixel is flat that equals those to the right, below and between: not so a rectangle's last row and column."""
    image = Image.new("RGBA", (40, 40), (9, 9, 9, 0))
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 0, 19, 9), fill=(200, 0, 0, 255))
    draw.rectangle((0, 12, 9, 19), fill=(0, 0, 200, 255))
    draw.line((30, 0, 30, 39), fill=(0, 200, 0, 255))
    draw.rectangle((22, 30, 27, 35), fill=(1, 1, 1, 12))  # as good as clear
    unclear = 200 + 80 + 40
    assert [(c.levels, c.share) for c in list_flat_colours(image)] == [
        ((200, 0, 0), 19 * 9 / unclear),
        ((0, 0, 200), 9 * 7 / unclear),
    ]
    draw.rectangle((22, 30, 27, 35), fill=(1, 1, 1, 13))
    assert [c.levels for c in list_flat_colours(image)] == [(200, 0, 0), (0, 0, 200), (1, 1, 1)]


@pytest.mark.parametrize(("size", "flat"), [((5, 4), True), ((4, 4), False)])
def test_fewer_than_twelve_flat_pixels_are_chance(size, flat):
    image = Image.new("RGB", (20, 20))
    image.putdata([((x * 37 + y * 59) % 256, y * 12, x * 12) for y in range(20) for x in range(20)])
    image.paste((255, 255, 0), (3, 3, 3 + size[0], 3 + size[1]))
    assert [c.levels for c in list_flat_colours(image)] == ([(255, 255, 0)] if flat else [])


@pytest.mark.parametrize(("off", "one"), [(3, True), (4, False)])
@pytest.mark.parametrize("channel", [0, 1, 2])
def test_colours_three_levels_off_are_one_and_four_are_two(off, one, channel):
    other = [100, 100, 100]
    other[channel] -= off
    image = Image.new("RGB", (30, 20), (100, 100, 100))
    image.paste(tuple(other), (20, 0, 30, 20))
    found = [(c.levels, round(c.share * 600)) for c in list_flat_colours(image)]
    assert found == (
        [((100, 100, 100), 19 * 19 + 9 * 19)]
        if one
        else [((100, 100, 100), 19 * 19), ((other[0], other[1], other[2]), 9 * 19)]
    )


@pytest.mark.parametrize(
    ("longer", "small", "far"),
    [(100, 3, 12), (240, 3, 12), (400, 3, 20), (1500, 3, 75), (2000, 4, 100), (3000, 6, 150), (9000, 6, 450)],
)
def test_how_small_and_how_far_a_speck_is(longer, small, far):
    """At most 3 px or 0.2 % up to 6 px; at least 12 px or 5 %."""
    assert compute_speck_limits(longer) == pytest.approx((small, far))


def looked_at(*spots: tuple[int, int, int, int]):
    """The specks beside a square of ink of 96 px in the middle of a canvas of 320 px."""
    ink = np.zeros((320, 320), np.bool_)
    ink[112:208, 112:208] = True
    for left, top, right, bottom in spots:
        ink[top:bottom, left:right] = True
    blocks = ink.reshape(40, BLOCK, 40, BLOCK).any(axis=(1, 3))

    def spot_of(group):
        inside = np.zeros_like(ink)
        for row, column in group:
            at = slice(row * BLOCK, (row + 1) * BLOCK), slice(column * BLOCK, (column + 1) * BLOCK)
            inside[at] = ink[at]
        rows, columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
        return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1

    return find_specks(blocks, spot_of)


@pytest.mark.parametrize(
    ("width", "height", "kind"),
    [(1, 1, "outside"), (3, 3, "outside"), (4, 1, "dots"), (1, 4, "dots"), (8, 8, "dots"), (9, 2, None), (2, 9, None)],
)
@pytest.mark.parametrize(("left", "top"), [(40, 40), (260, 150), (150, 37), (150, 260), (3, 150)])
def test_spots_far_from_all_ink_are_specks_or_dots_by_their_size(width, height, kind, left, top):
    """A dot that is level with other ink may be a full stop, and is not told."""
    spot = (left, top, left + width, top + height)
    found = looked_at(spot)
    assert (found.outside, found.dots, found.inside) == (
        [spot] if kind == "outside" else [],
        [spot] if kind == "dots" and top != 150 else [],
        [],
    )


def test_a_speck_within_the_box_of_the_rest_is_inside_and_two_may_be_outside():
    """The bar below the square makes the box of the rest reach past the first speck, but not past the second."""
    bar, within, outside = (40, 240, 280, 256), (60, 150, 62, 152), (60, 40, 62, 42)
    found = looked_at(bar, within, outside)
    assert (found.inside, found.outside, found.dots) == ([within], [outside], [])


def test_a_speck_beside_a_larger_spot_is_none():
    """Other ink than specks within 12 px: the spot of 9 px is no speck itself, nor is the one beside it."""
    far_off, beside = (40, 40, 49, 49), (55, 40, 57, 42)
    found = looked_at(far_off, beside)
    assert (found.inside, found.outside) == ([], [])


@pytest.mark.parametrize(("left", "top"), [(20, 30), (130, 70), (70, 260), (300, 200)])
@pytest.mark.parametrize("step", [1, 2])
def test_a_thin_part_is_told_where_it_lies_in_the_picture(left: int, top: int, step: int) -> None:
    """An upright bar of 5 pixels beside a block, anywhere: the tile told holds a piece of it."""
    solid = np.zeros((520, 520), np.bool_)
    solid[top : top + 200, left : left + 5] = True
    solid[top : top + 200, left + 60 : left + 160] = True
    ink = tuple(step * edge for edge in (left, top, left + 160, top + 200))
    strokes, _ = find_thin_parts(solid, np.zeros_like(solid), step, step, ink)
    assert strokes[0].width == 5 * step
    x0, y0, x1, y1 = strokes[0].box
    assert (x1 - x0, y1 - y0) <= (64 * step, 64 * step)
    assert x0 < step * (left + 5)
    assert step * left < x1
    assert y0 < step * (top + 200)
    assert step * top < y1
