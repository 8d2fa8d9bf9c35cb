"""Small copies and drawings as pixels, against areas by hand and Pillow's own averaging of the whole picture."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from PIL import Image, ImageFilter

from each_case import try_each
from impose.art.decode import DecodedFrame
from impose.art.faults.thumbnails import draw_ringed
from impose.art.png_writer import write_small_png
from impose.art.rasterise import PixelGrid, measure_coverage
from impose.art.small_pictures import RowReducer
from impose.art.vector_drawing import DrawingLayer, compute_drawing_bounds

STEP = 4  # units to a pixel
GRID = PixelGrid(12, 9, STEP, 0, 0)


def layer(*points, stroke=0) -> DrawingLayer:
    return DrawingLayer(((tuple(points),),), (0, 0, 0), stroke)


def share(low: float, high: float, count: int) -> np.ndarray:
    """How much of each pixel lies between two places."""
    at = np.arange(count)
    return np.clip(np.minimum(at + 1, high) - np.maximum(at, low), 0, 1)


@pytest.mark.parametrize(
    ("x0", "y0", "x1", "y1"),
    [
        (5, 6, 22, 29),
        (-9, 3, 22, 29),
        (5, -7, 22, 29),
        (30, 3, 61, 50),
        (-9, -7, 61, 50),
        (-20, 3, -5, 20),
        (50, 3, 60, 9),
    ],
)
def test_a_rectangle_covers_of_each_pixel_what_lies_in_it(x0, y0, x1, y1):
    """Also where it reaches past the pixels that are asked for, or lies beside them."""
    found = measure_coverage(layer((x0, y0), (x1, y0), (x1, y1), (x0, y1)), GRID) / 255
    wanted = np.outer(share(y0 / STEP, y1 / STEP, GRID.height), share(x0 / STEP, x1 / STEP, GRID.width))
    assert np.abs(found - wanted).max() <= 0.5 / 255 + 1e-9


def test_a_slanted_edge_covers_half_of_what_it_crosses():
    """A triangle of 40 by 32 units is 640 square units, 40 pixels; those on its diagonal are parted."""
    found = measure_coverage(layer((0, 0), (40, 32), (0, 32)), GRID) / 255
    assert found.sum() == pytest.approx(40, abs=0.1)
    assert found[0, 0] == pytest.approx(0.6, abs=0.01)  # below the line y = 0.8 x: 1 less the integral, 0.8 / 2


def test_a_circle_of_four_curves_has_the_area_of_a_circle():
    """Four cubic curves with handles of 0.5523 r are a circle to 0.03 % (common practice, no source).

    Drawn as straight lines they lie inside it, at most a fifth of a pixel: 0.6 % of this area.
    """
    r, k, x, y = 200, round(200 * 0.5523), 240, 240
    circle = (
        (x + r, y), (x + r, y + k, x + k, y + r, x, y + r), (x - k, y + r, x - r, y + k, x - r, y),
        (x - r, y - k, x - k, y - r, x, y - r), (x + k, y - r, x + r, y - k, x + r, y),
    )  # fmt: skip
    for left in (0, 240):  # whole, and its right half alone
        found = measure_coverage(layer(*circle), PixelGrid((480 - left) // STEP, 480 // STEP, STEP, left, 0)) / 255
        assert found.sum() * STEP**2 == pytest.approx(math.pi * r**2 * (1 - left / 480), rel=0.006)


def test_a_stroke_widens_its_outline_by_half_of_it_with_round_corners():
    """A square of 160 with a stroke of 40: 200 square, less the corners, of which a quarter circle of 20 is left."""
    square = layer((120, 120), (280, 120), (280, 280), (120, 280), stroke=40)
    found = measure_coverage(square, PixelGrid(100, 100, STEP, 0, 0)) / 255
    assert found.sum() * STEP**2 == pytest.approx(200**2 - (4 - math.pi) * 20**2, rel=0.01)
    assert found[49, 24] == 0
    assert found[49, 25] == 1
    assert found[25, 25] == 0


@try_each("mode", ["L", "RGB", "CMYK"])
@try_each("width, height, side", [(97, 61, 20), (40, 90, 16), (30, 20, 30), (7, 5, 40)])
def test_rows_are_averaged_alike_however_they_come(mode, width, height, side):
    channels = len(mode) if mode != "L" else 1
    pixels = np.random.default_rng(1).integers(0, 256, (height, width, channels), np.uint8)
    pixels[: height // 2] //= 4  # the upper half is darker
    small = []
    for cuts in ([height], [1] * height, [3, 11, *[4] * height]):
        reducer, at = RowReducer(width, height, mode, side), 0
        for rows in cuts:
            if at < height:
                reducer.add_rows(pixels[at : at + rows].reshape(min(rows, height - at), -1))
            at += rows
        small.append(reducer.make_image())
    assert max(small[0].size) == min(side, max(width, height))
    assert small[1].tobytes() == small[0].tobytes()
    assert small[2].tobytes() == small[0].tobytes()
    whole = Image.fromarray(pixels[:, :, 0] if mode == "L" else pixels, mode)
    wanted = np.asarray(whole.resize(small[0].size, Image.Resampling.BOX)).astype(float)
    assert np.abs(np.asarray(small[0]).astype(float) - wanted).mean() < 12
    assert np.asarray(small[0]).mean() == pytest.approx(pixels.mean(), abs=3)


def test_a_ring_lies_around_what_it_shows() -> None:
    """A picture of 400 pixels is shown at 360: the ring's middle is the box's, its radius half the box and 4 more."""
    frame = DecodedFrame(Image.new("RGBA", (400, 200), (90, 90, 90, 255)), None, grey=False)
    shown = np.asarray(draw_ringed(frame, [(300, 80, 340, 100)])).astype(int)
    y, x = np.nonzero(np.abs(shown - 90).sum(axis=2) > 60)
    scale = 360 / 400
    middle, reach = (320 * scale, 90 * scale), 40 * scale / 2 + 4
    ends = (middle[0] - reach, middle[1] - reach, middle[0] + reach, middle[1] + reach)
    assert (x.min(), y.min(), x.max(), y.max()) == pytest.approx(ends, abs=1.01)


def test_a_drawing_takes_half_its_stroke_around_its_curves() -> None:
    """ISO 32000-2, 8.4.3.2: half of a line's width lies on either side of its path."""
    square = ((10, 12), (30, 12), (30, 40), (10, 40))
    thin = DrawingLayer(((square,),), (0, 0, 0))
    thick = DrawingLayer(((tuple((x + 50, y + 5) for x, y in square),),), (0, 0, 0), stroke=6)
    assert compute_drawing_bounds([thin]) == (10, 12, 30, 40)
    assert compute_drawing_bounds([thick]) == (57, 14, 83, 48)
    assert compute_drawing_bounds([thin, thick]) == (10, 12, 83, 48)
    assert compute_drawing_bounds([]) is None


def draw_flat_and_glow() -> list[Image.Image]:
    """Rings with smoothed edges in one ink and in two, spots that glow, a slope of colour, and a few pixels."""
    y, x = np.mgrid[:200, :300]
    rings = np.clip(np.sin(np.hypot(y - 100, x - 150) / 4) * 400 + 128, 0, 255).astype(np.uint8)
    spots = Image.new("RGB", (300, 200), "white")
    for i in range(6):
        spots.paste((40 * i, 90, 200 - 30 * i), (40 * i, 20 * i, 40 * i + 60, 20 * i + 70))
    slope = np.stack([(x * 0.8).astype(np.uint8), (y + x // 3).astype(np.uint8), np.full_like(rings, 90)], axis=-1)
    inks = Image.fromarray(np.stack([rings, 255 - rings // 2, rings], axis=-1))
    small = [Image.fromarray(slope).crop((0, 0, *size)) for size in ((1, 1), (40, 33), (1, 70))]
    return [Image.fromarray(rings), inks, spots.filter(ImageFilter.GaussianBlur(9)), Image.fromarray(slope), *small]


def test_a_small_png_is_what_pillow_reads_and_hardly_larger_than_its_own():
    """Pillow tries every filter on every row, which helps most on a slope that nobody drew by hand."""
    sizes = []
    for image in draw_flat_and_glow():
        made, own = write_small_png(image), io.BytesIO()
        image.save(own, "PNG", compress_level=6)
        with Image.open(io.BytesIO(made)) as read:
            assert read.mode == image.mode
            assert read.tobytes() == image.tobytes()
        sizes.append((len(made), len(own.getvalue())))
    assert all(ours <= 1.1 * theirs for ours, theirs in sizes[:3]), sizes
