"""Ink bounds against their definition, worked out pixel by pixel; specks cut only where the rule says so."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from impose.art.decode import DecodedFrame
from impose.art.ink import composite_over_white, count_tint_levels, find_ink
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.art.scanlines import flatten_quickly


def defined_bounds(rgba: np.ndarray, tint: float) -> tuple[int, int, int, int] | None:
    """The definition: colour over white, tint = 255 less the least channel, at least round(tint x 255) levels."""
    alpha = rgba[:, :, 3:].astype(np.float64) / 255
    over = np.floor(255 * (1 - alpha) + rgba[:, :, :3] * alpha + 0.5)
    ink = 255 - over.min(axis=2) >= max(1, round(tint * 255))
    if not ink.any():
        return None
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def found(rgba: np.ndarray, tint: float) -> tuple[int, int, int, int] | None:
    image = Image.fromarray(rgba, "RGBA")
    ink = find_ink(DecodedFrame(image, None, False), tint, keep_specks=True)
    assert find_ink(DecodedFrame(image, None, False, pixels=rgba), tint, keep_specks=True) == ink
    return None if ink is None else ink.bounds


@given(st.integers(0, 2**32 - 1), st.integers(1, 150), st.integers(1, 150), st.sampled_from([0.0, 0.02, 0.1, 0.5]))
def test_bounds_are_those_of_the_definition(seed, width, height, tint):
    """Canvases with faint, white and hidden colours, some soft, few with ink to the edges."""
    rng = np.random.default_rng(seed)
    rgba = np.zeros((height, width, 4), np.uint8)
    rgba[:, :, :3] = rng.integers(0, 256, 3)  # colour under alpha 0 must not count
    for _ in range(int(rng.integers(0, 6))):
        x0, x1 = sorted(rng.integers(0, width + 1, 2))
        y0, y1 = sorted(rng.integers(0, height + 1, 2))
        colour = rng.choice([[0, 0, 0], [255, 255, 255], [250, 251, 252], [255, 0, 255], [128, 128, 128]])
        rgba[y0:y1, x0:x1, :3] = colour
        rgba[y0:y1, x0:x1, 3] = rng.choice([0, 1, 4, 5, 6, 12, 26, 128, 254, 255])
    noise = rng.random((height, width)) < 0.02
    rgba[noise, 3] = rng.integers(0, 30, int(noise.sum()))
    assert found(rgba, tint) == defined_bounds(rgba, tint)


@pytest.mark.parametrize(
    ("colour", "alpha"),
    # Smallest alpha that gives a tint of 2 % (250 or less over white): 255 - a (255 - c) / 255, by hand.
    [(0, 5), (128, 10), (240, 77)],
)
def test_the_least_alpha_that_is_ink(colour, alpha):
    for given_alpha, expected in ((alpha - 1, None), (alpha, (3, 2, 4, 3))):
        rgba = np.zeros((9, 9, 4), np.uint8)
        rgba[2, 3] = (colour, colour, colour, given_alpha)
        assert found(rgba, 0.02) == expected


def test_levels_of_a_tint():
    assert [count_tint_levels(t) for t in (0, 0.001, 0.02, 0.1, 1)] == [1, 1, 5, 26, 255]


def test_over_white_is_rounded_to_the_nearest():
    """Every alpha, a row of each, with every level."""
    alpha, grey = (plane.astype(np.uint8) for plane in np.mgrid[0:256, 0:256])
    rgba = np.stack([grey, grey[:, ::-1], np.roll(grey, 7, axis=1), alpha], axis=-1)
    ours = np.asarray(
        composite_over_white(DecodedFrame(Image.fromarray(rgba, "RGBA"), None, False), (0, 0, 256, 256)), np.int64
    )
    # (255 (255 - a) + a c) / 255 to the nearest; 255 is odd, so there are no ties
    level = alpha.astype(np.int64)[:, :, None]
    exact = (2 * (255 * (255 - level) + level * rgba[:, :, :3].astype(np.int64)) + 255) // 510
    assert (ours == exact).all()
    la = np.stack([grey, alpha], axis=-1)
    ours = np.asarray(
        composite_over_white(DecodedFrame(Image.fromarray(la, "LA"), None, True), (0, 0, 256, 256)), np.int64
    )
    assert (ours == exact[:, :, 0]).all()


@pytest.mark.parametrize("mode", ["RGBA", "RGBX"])
def test_flattened_from_memory_is_the_same(mode):
    """All alphas with all levels, among enough that is opaque or clear for the quick way to be taken."""
    rng = np.random.default_rng(3)
    rgba = rng.integers(0, 256, (256, 256 * 30, 4)).astype(np.uint8)
    rgba[:, :, 3] = np.where(rng.random((256, 256 * 30)) < 0.5, 255, 0)
    levels, alphas = np.meshgrid(np.arange(256), np.arange(256))
    rgba[:, 100:356] = np.stack([levels, 255 - levels, levels, alphas], axis=-1)
    frame = DecodedFrame(
        Image.fromarray(rgba, "RGBA") if mode == "RGBA" else Image.fromarray(rgba[:, :, :3]), None, False
    )
    held = DecodedFrame(Image.frombuffer(mode, (256 * 30, 256), rgba, "raw", mode, 0, 1), None, False, pixels=rgba)
    for box in ((0, 0, 256 * 30, 256), (7, 3, 7000, 200), (300, 255, 301, 256), (90, 0, 400, 256)):
        ours = flatten_quickly(held, box)
        assert (box[2] - box[0] < 400 and mode == "RGBA") or ours.mode == "RGBX"
        assert (np.asarray(ours)[:, :, :3] == np.asarray(composite_over_white(frame, box))).all()


def canvas(width: int = 1000, height: int = 1000) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    image = Image.new("RGB", (width, height), "white")
    return image, ImageDraw.Draw(image)


def prepared(image: Image.Image, **recipe):
    file = io.BytesIO()
    image.save(file, "PNG", compress_level=1)
    return prepare_picture(file.getvalue(), PreparationOptions(**recipe), "art.png")


def dot(draw: ImageDraw.ImageDraw, x: int, y: int, size: int = 1, fill="black") -> None:
    draw.rectangle((x, y, x + size - 1, y + size - 1), fill=fill)


def test_specks_far_away_are_cut_and_said():
    image, draw = canvas()
    draw.ellipse((300, 400, 699, 599), fill="navy")
    for x, y, size in ((5, 5, 1), (990, 8, 2), (500, 980, 3), (20, 500, 1)):
        dot(draw, x, y, size)
    picture = prepared(image)
    assert picture.ink == (300, 400, 700, 600)
    assert {f.kind for f in picture.findings} == {"speck"}
    assert sorted(f.px for f in picture.findings) == [
        (5, 5, 6, 6),
        (20, 500, 21, 501),
        (500, 980, 503, 983),
        (990, 8, 992, 10),
    ]
    kept = prepared(image, keep_specks=True)
    assert kept.ink == (5, 5, 992, 983)
    assert not kept.findings


def test_a_speck_over_or_beside_the_design_is_cut_too():
    """Not in a corner: in line with the design, so that its rows or columns are the design's as well."""
    image, draw = canvas()
    draw.rectangle((300, 300, 699, 699), fill="green")
    dot(draw, 500, 100)
    dot(draw, 900, 500)
    assert prepared(image).ink == (300, 300, 700, 700)


@pytest.mark.parametrize("offset", range(-9, 9, 3))
def test_a_speck_is_cut_wherever_it_lies_on_the_grid_of_blocks(offset):
    image, draw = canvas()
    draw.rectangle((300, 300, 699, 699), fill="green")
    dot(draw, 96 + offset, 96 + offset, 3)
    assert prepared(image).ink == (300, 300, 700, 700)


def test_a_speck_inside_the_box_prints_as_drawn():
    image, draw = canvas()
    draw.line((100, 100, 900, 110), fill="red", width=9)
    draw.line((100, 110, 110, 900), fill="red", width=9)
    dot(draw, 700, 700)
    picture = prepared(image)
    assert [f.kind for f in picture.findings] == ["speck-inside"]
    assert picture.ink[2] > 900


def letters(text: str, size: int) -> Image.Image:
    image, draw = canvas(1600, 700)
    draw.text((100, 100), text, fill="black", font_size=size)
    return image


@pytest.mark.parametrize("text", ["i", "Mini.", "Über alles!", "a . b", "...", "Ë : ;", "– – –", "wait . . ."])
@pytest.mark.parametrize("size", [12, 60, *(pytest.param(size, marks=pytest.mark.long) for size in (24, 200))])
def test_dots_of_letters_are_never_cut(text, size):
    image = letters(text, size)
    picture = prepared(image)
    assert not picture.findings
    assert picture.ink == prepared(image, keep_specks=True).ink


def test_stars_dashes_and_dotted_borders_are_never_cut():
    drawings = []
    image, draw = canvas()  # stars scattered around a moon, each larger than a speck
    draw.ellipse((400, 400, 600, 600), fill="gold")
    for i in range(9):
        draw.regular_polygon(((137 * i) % 900 + 50, (331 * i) % 900 + 50, 5), 5, fill="gold")
    drawings.append(image)
    image, draw = canvas()  # a thin dash far away
    draw.rectangle((400, 400, 600, 600), fill="navy")
    draw.line((100, 50, 112, 50), fill="navy")
    drawings.append(image)
    image, draw = canvas()  # a border of dots no larger than specks
    draw.rectangle((300, 300, 700, 700), fill="navy")
    for i in range(50, 950, 30):
        for x, y in ((i, 50), (i, 949), (50, i), (949, i)):
            dot(draw, x, y, 2)
    drawings.append(image)
    image, draw = canvas()  # nothing but small dots
    for i in range(5):
        dot(draw, 100 + 190 * i, 500 - 90 * i, 2)
    drawings.append(image)
    for image in drawings:
        assert prepared(image).ink == prepared(image, keep_specks=True).ink


@pytest.mark.parametrize("size", [4, 6, 8])
def test_far_dots_too_large_for_dirt_print_and_are_told_with_what_they_do_to_the_size(size):
    image, draw = canvas()  # a crest with ten spots round it, each larger than a speck
    draw.ellipse((300, 300, 699, 699), fill="navy")
    places = [(20 + 96 * i, 20 if i % 2 else 970) for i in range(10)]
    for x, y in places:
        dot(draw, x, y, size)
    picture = prepared(image)
    assert picture.ink == (20, 20, 20 + 96 * 9 + size, 970 + size)
    (told,) = picture.findings
    assert told.kind == "far-dots"
    assert told.px == picture.ink
    assert told.what.startswith(f"10 dots of up to {size} px at (116, 20), (308, 20)")
    dot(draw, 500, 200, 9)  # larger than a dot: drawn on purpose, as is what lies beside it
    dot(draw, 520, 200, size)
    assert [f.what[:7] for f in prepared(image).findings] == ["10 dots"]
    assert prepared(image, keep_specks=True).findings == ()


def test_many_specks_are_a_pattern_and_said_to_be_kept():
    image, draw = canvas(2000, 2000)
    draw.rectangle((900, 900, 1100, 1100), fill="navy")
    for i in range(20):
        dot(draw, (i * 617) % 1900 + 50, 50 + i * 20, 2)
    picture = prepared(image)
    assert picture.ink == prepared(image, keep_specks=True).ink
    assert [f.kind for f in picture.findings] == ["spots"]


def test_a_near_or_large_spot_is_no_speck():
    for x, y, size in ((720, 500, 3), (990, 990, 7)):
        image, draw = canvas()
        draw.rectangle((300, 300, 699, 699), fill="green")
        dot(draw, x, y, size)
        picture = prepared(image)
        assert picture.ink[2:] == (max(700, x + size), max(700, y + size))


def test_white_stickers_on_nothing_have_no_ink_of_their_own():
    """A white rim over transparent black: alpha everywhere, ink only inside."""
    rgba = np.zeros((200, 300, 4), np.uint8)
    rgba[10:190, 10:290] = 255
    rgba[60:140, 80:220] = (200, 0, 0, 255)
    assert found(rgba, 0.02) == (80, 60, 220, 140)


def test_faint_noise_everywhere_is_not_taken_for_specks_for_ever():
    rng = np.random.default_rng(3)
    grey = np.full((2000, 2000), 255, np.uint8)
    grey[rng.random((2000, 2000)) < 0.001] = 200
    grey[900:1100, 900:1100] = 0
    picture = prepared(Image.fromarray(grey))
    assert picture.ink == prepared(Image.fromarray(grey), keep_specks=True).ink
