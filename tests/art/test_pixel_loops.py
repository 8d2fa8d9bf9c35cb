"""The compiled loops over pixels against their twins in numpy and against Pillow, on odd and on seeded pictures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from PIL import Image

from impose.art.faults.survey import mark_with_numpy
from impose.art.faults.thin import count_all_runs
from impose.art.ink import map_with_numpy
from impose.art.pixel_loops import average_with_loops, count_with_loops, load_pixel_loops, survey_with_loops

LOOPS = load_pixel_loops()
pytestmark = pytest.mark.skipif(LOOPS is None, reason="no compiled loops here")

SIZES = ((1, 1), (1, 70), (70, 1), (7, 9), (8, 8), (17, 64), (33, 50), (40, 129))


def list_pictures() -> Iterator[np.ndarray]:
    """Of each size and number of channels: noise, nothing but white, all clear, all opaque, hardly any ink."""
    rng = np.random.default_rng(1)
    for height, width in SIZES:
        for channels in (1, 2, 4):
            noise = rng.integers(0, 256, (height, width, channels), dtype=np.uint8)
            clear, opaque, pale = noise.copy(), noise.copy(), noise.copy()
            clear[:, :, -1], opaque[:, :, -1] = 0, 255
            pale[pale < 200] = 255
            yield from (noise, np.full_like(noise, 255), clear, opaque, pale)


def turn_all_ways(pixels: np.ndarray) -> Iterator[np.ndarray]:
    """Views of the same memory as the eight ways in which a picture can be stored."""
    for rows in (pixels, pixels.swapaxes(0, 1)):
        yield from (rows, rows[::-1], rows[:, ::-1], rows[::-1, ::-1])


@pytest.mark.parametrize("levels", [1, 5, 60])
def test_blocks_and_clear_ink_are_those_of_numpy(levels):
    for pixels in list_pictures():
        for alpha in {2: (True,), 4: (False, True)}.get(pixels.shape[2], (False,)):
            for view in turn_all_ways(pixels):
                for step in (1, 2, 4):
                    blocks, solid = survey_with_loops(LOOPS, view, alpha, levels, step)
                    plain = np.ascontiguousarray(view)
                    assert np.array_equal(blocks, map_with_numpy(plain, alpha, levels))
                    assert np.array_equal(solid, mark_with_numpy(plain[::step, ::step], alpha))


def test_rows_before_the_first_of_a_step_are_passed_over():
    pixels = np.random.default_rng(2).integers(0, 256, (8, 20, 4), dtype=np.uint8)
    for step, offset in ((4, 3), (16, 12), (16, 0)):
        solid = survey_with_loops(LOOPS, pixels, True, 5, step, offset)[1]
        assert np.array_equal(solid, mark_with_numpy(pixels[offset::step, ::step], True))


@pytest.mark.parametrize("side", [2, 3, 4, 5, 7, 16, 17, 256])
def test_averages_are_those_of_pillow(side):
    """Pillow 13, `Image.reduce`; each way up, so that the narrower squares come first in memory too."""
    for pixels in (picture for picture in list_pictures() if picture.shape[2] != 2):
        for view in turn_all_ways(pixels):
            plain = np.ascontiguousarray(view)
            mode = "L" if plain.shape[2] == 1 else "RGBX"
            image = Image.frombuffer(mode, (plain.shape[1], plain.shape[0]), plain, "raw", mode, 0, 1)
            assert average_with_loops(LOOPS, view, side).tobytes() == image.reduce(side).tobytes()


def draw_strokes(rng: np.random.Generator, height: int, width: int, kind: int) -> np.ndarray:
    """A mask of noise, of bars, or of waves."""
    if kind == 0:
        return rng.random((height, width)) < rng.random()
    if kind == 1:
        mask = np.zeros((height, width), np.bool_)
        for y, x, high, wide in rng.integers(0, 60, (12, 4)):
            mask[y : y + high, x : x + wide] ^= True
        return mask
    y, x = np.mgrid[:height, :width]
    turn = rng.random() * 6
    return (y * np.sin(turn) + x * np.cos(turn) + 3 * np.sin(y / 20)) // rng.integers(1, 26) % 2 == 0


def test_runs_that_last_are_those_of_numpy():
    rng = np.random.default_rng(3)
    lasting = 0
    for number in range(120):
        height, width = (int(length) for length in rng.integers(1, 200, 2))
        height = 1 if number % 10 == 0 else height
        mask = draw_strokes(rng, height, 2 if number % 11 == 0 else width, number % 3)
        for view in (mask, mask[::-1].T):
            clear = rng.random([-(-length // 64) for length in view.shape]) < 0.8
            ours, plain = count_with_loops(LOOPS, view, clear), count_all_runs(np.ascontiguousarray(view), clear)
            assert all(np.array_equal(found, known) for found, known in zip(ours, plain, strict=True))
            lasting += int(ours[0].sum() + ours[1].sum())
    assert lasting > 10_000
