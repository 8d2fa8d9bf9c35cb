"""L*a*b*, differences of colours and the patches around one, held to published values and another colour engine."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from each_case import try_each
from impose.art import colour_patches
from impose.art.cielab import format_hex, from_lab, measure_difference, parse_hex, to_lab, to_lch
from impose.art.colour_patches import ACROSS, COLUMNS, LIGHTER, list_patches, locate_patch, make_grid
from impose.art.icc import SRGB_CURVE, make_rgb_profile

PAIRS = Path(__file__).resolve().parents[2] / "shared" / "ciede2000_pairs.csv"


def test_differences_are_those_of_the_published_pairs_both_ways():
    """Sharma, Wu, Dalal, Color Research & Application 30 (2005), 21-30, table 1: all 34 pairs, four places."""
    with PAIRS.open() as file:
        pairs = [{name: float(value) for name, value in row.items()} for row in csv.DictReader(file)]
    assert len(pairs) == 34
    for pair in pairs:
        first, second = (tuple(pair[f"{axis}{n}"] for axis in "Lab") for n in (1, 2))
        assert measure_difference(first, second) == pytest.approx(pair["difference"], abs=0.00006), pair
        assert measure_difference(second, first) == pytest.approx(pair["difference"], abs=0.00006), pair


def test_lab_is_that_of_published_colours():
    """W3C CSS Color 4, 9.3, lab() with white D50: its own test of `green`, and of black and white."""
    assert to_lab(parse_hex("#008000")) == pytest.approx((46.2775, -47.5621, 48.5837), abs=0.0002)
    assert to_lch(parse_hex("#008000")) == pytest.approx((46.2775, 67.9892, 134.3912), abs=0.0002)
    assert to_lab((0, 0, 0)) == (0, 0, 0)
    assert to_lab((255, 255, 255)) == pytest.approx((100, 0, 0), abs=1e-9)


def lab_by_lcms(levels: list[tuple[int, int, int]]) -> np.ndarray:
    """L*a*b* by Little CMS, in 8 bits: L* in steps of 0.4, a* and b* in whole numbers."""
    image = Image.frombytes("RGB", (len(levels), 1), bytes(v for rgb in levels for v in rgb))
    srgb = io.BytesIO(make_rgb_profile("sRGB", SRGB_CURVE))
    flags = ImageCms.Flags.NOOPTIMIZE
    way = ImageCms.buildTransform(srgb, ImageCms.createProfile("LAB"), "RGB", "LAB", flags=flags)
    raw = np.frombuffer(ImageCms.applyTransform(image, way).tobytes(), np.uint8).reshape(-1, 3)
    return np.column_stack([raw[:, 0] / 2.55, raw[:, 1:].view(np.int8).astype(float)])


def test_the_colour_engine_has_the_same_lab():
    rng = np.random.default_rng(1)
    levels = [tuple(int(v) for v in rgb) for rgb in rng.integers(0, 256, (500, 3))]
    ours = np.array([to_lab(rgb) for rgb in levels])
    assert np.abs(ours - lab_by_lcms(levels)).max() <= 0.65  # half a step, and the engine's own rounding
    assert all(from_lab(to_lab(rgb)) == rgb for rgb in levels)
    assert from_lab((50, 120, -100)) is None


@pytest.mark.parametrize("colour", ["#C81E28", "#FF0000", "#808080", "#FFE600", "#000000", "#7BA4D9"])
def test_patches_go_by_lightness_hue_and_chroma_as_the_colour_engine_sees_them(colour):
    patches = list_patches(colour)
    grid = make_grid(colour)
    assert patches[grid.middle] == colour
    assert len(set(patches.values())) == len(patches) >= 24
    seen = dict(zip(patches, lab_by_lcms([parse_hex(patch) for patch in patches.values()]), strict=True))
    for number, lab in seen.items():
        row, block, column = locate_patch(number)
        assert number == row * ACROSS + block * COLUMNS + column + 1
        assert lab[0] - seen[grid.middle][0] == pytest.approx((grid.row - row) * LIGHTER, abs=0.8), number
    # Any two are told apart (Mokrzycki and Tatol, 2011: below 1 an observer sees no difference).
    labs = [to_lab(parse_hex(patch)) for patch in patches.values()]
    assert min(measure_difference(a, b) for a in labs for b in labs if a != b) > 1.4


@try_each("colour", ["#FF0000", "#FFE600", "#0A0A0A", "#F2F2EE", "#00FF00", "#7BA4D9", "#2B0010", "#FFD0E0"])
def test_of_two_patches_alike_the_one_nearer_to_the_colour_is_there(colour):
    """Each place that is left empty is no colour of sRGB, no ink, or like one that is not farther from the middle."""
    grid, patches = make_grid(colour), list_patches(colour)
    labs = {number: to_lab(parse_hex(patch)) for number, patch in patches.items()}

    def count_steps(number: int) -> int:
        row, block, column = locate_patch(number)
        middle = locate_patch(grid.middle)
        return sum(abs(a - b) for a, b in zip((row, block, column), middle, strict=True))

    for number, lab in colour_patches._list_places(colour, grid):
        levels = from_lab(lab)
        if number in patches or levels is None or min(levels) > 250:
            continue
        alike = [other for other, there in labs.items() if measure_difference(to_lab(levels), there) < 1.5]
        assert alike, number
        assert min(map(count_steps, alike)) <= count_steps(number), number


def test_a_number_says_the_same_colour_ever_after():
    """What was chosen from a page that was pressed a year ago: these must never change."""
    assert [list_patches("#C81E28").get(n) for n in (1, 5, 22, 23, 26, 41)] == [
        "#CB6771", "#E2554C", "#A44D43", "#B73C36", "#A74C25", "#872A25",
    ]  # fmt: skip
    assert list_patches("#C81E28")[24] == "#C81E28"
    assert format_hex(parse_hex("#0A0b0C")) == "#0A0B0C"
