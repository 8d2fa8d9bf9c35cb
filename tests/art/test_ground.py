"""Light grounds on pictures whose truth is known: a few of those that the benchmark `grounds` counts."""

from __future__ import annotations

import functools
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from each_case import try_each
from impose.art.decode import DecodedFrame
from impose.art.faults import ground as ground_room
from impose.art.faults.ground import find_ground, whiten_ground

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "bench"))

import grounds

SOME = ["disc, flat 240", "disc, lamplight", "outline, flat 240"]
MORE = ["disc, grey card", "disc, lit from the left", "disc, vignette", "disc, shadow of a hand", "outline, vignette"]
NONE = ["letters on white, JPEG", "photograph to the edge", "light wall, dark floor", "pink block", "strong vignette"]
NEITHER = [
    "disc on white, JPEG",
    "strokes on white, JPEG",
    "wash on white, JPEG",
    "even grey",
    "yellow block",
    "clouds",
]


def also(names: list[str]) -> list:
    """More of the same, run by .ci/long: each takes a second."""
    return [pytest.param(name, marks=pytest.mark.long) for name in names]


@functools.cache
def read_cases() -> dict[str, grounds.Case]:
    return {c.name: c for c in (*grounds.with_grounds("disc"), *grounds.enclosed(), *grounds.without_grounds())}


@pytest.mark.parametrize("name", SOME + also(MORE))
def test_a_ground_is_found_and_made_white_where_that_is_safe(name):
    case = read_cases()[name]
    assert grounds.found(case) in ("ground", "off-white")
    white = grounds.mended(case)
    assert (white is not None) == case.mendable
    if white is not None:
        assert grounds.misses_of_bounds(case, white) <= 6
        assert grounds.moved_colours(case, white) <= 1


@pytest.mark.parametrize("name", NONE + also(NEITHER))
def test_no_ground_is_seen_where_there_is_none(name):
    case = read_cases()[name]
    assert grounds.found(case) == ""
    white = grounds.mended(case)
    assert white is None


# Small pictures in which one measure at a time is at its edge: those of impose/art/faults/ground.py.

WIDE, HIGH = 120, 90


def lay_ground(levels: object, disc: bool = True, colour: tuple[int, int, int] = (160, 30, 40)) -> np.ndarray:
    """A ground of `levels` (rows and columns, or with channels), and a disc drawn on it."""
    ground = np.broadcast_to(np.asarray(levels, float), (HIGH, WIDE) if np.ndim(levels) < 3 else (HIGH, WIDE, 3))
    made = np.repeat(ground[..., None], 3, axis=2) if ground.ndim == 2 else ground.copy()
    if disc:
        made[DISC] = colour
    return np.rint(made).astype(np.uint8)


def frame_of(pixels: np.ndarray) -> DecodedFrame:
    return DecodedFrame(Image.fromarray(pixels), None, pixels.ndim == 2, 0)


Y, X = (np.mgrid[0:HIGH, 0:WIDE] + 0.5) / np.reshape((HIGH, WIDE), (2, 1, 1)) - 0.5
DISC = np.hypot(X * WIDE, Y * HIGH) <= 25

# Unevenly lit paper: a base level, then how much each term of second degree takes away at most.
LIGHTS = {
    "flat": 236 + 0 * X,
    "from the left": 225 + 36 * X,
    "from above": 225 + 36 * Y,
    "from both sides": 205 + 140 * X * X,
    "from above and below": 205 + 140 * Y * Y,
    "from a corner": 220 + 80 * X * Y,
    "everything": 214 + 20 * X - 12 * Y + 30 * X * X - 24 * X * Y + 18 * Y * Y,
}


@try_each("name", LIGHTS)
def test_a_ground_is_followed_whichever_way_the_light_falls(name):
    """The surface found is the light that was drawn, within half a level of rounding; then all of it is white."""
    light = LIGHTS[name]
    frame = frame_of(lay_ground(light))
    ground = find_ground(frame)
    assert ground is not None
    # The least is told as the whole level below it, the highest as the nearest.
    assert ground.low == pytest.approx(light.min() - 0.5, abs=0.85)
    assert ground.high == pytest.approx(light.max(), abs=0.85)
    drawn = ground_room._draw_surface(ground.levels, HIGH, WIDE)
    assert np.abs(drawn - light[..., None]).max() <= 0.6
    # A band of rows is the same surface.
    assert np.array_equal(ground_room._draw_surface(ground.levels, HIGH, WIDE, 30, 41), drawn[30:41])
    assert ground.share == pytest.approx((~DISC).mean(), abs=0.002)
    assert (ground.inside, ground.mendable) == (0.0, True)
    white = np.asarray(whiten_ground(frame, ground).image.convert("RGB")).astype(int)
    near = np.hypot(X * WIDE, Y * HIGH) <= 25 + 1
    assert (white[~near] == 255).all()
    inner = np.hypot(X * WIDE, Y * HIGH) <= 25 - 5  # a rim of three pixels along both axes
    assert (white[inner] == (160, 30, 40)).all()


def test_what_is_a_ground_and_what_is_none():
    """Each measure of the module on both sides of its edge."""

    def is_ground(levels: object, **how: object) -> bool:
        return find_ground(frame_of(lay_ground(levels, **how))) is not None

    def coloured(red: float, green: float, blue: float) -> np.ndarray:
        return np.broadcast_to(np.array([red, green, blue], float), (HIGH, WIDE, 3))

    # Its darkest place.
    assert is_ground(np.full((HIGH, WIDE), 166.0))
    assert not is_ground(np.full((HIGH, WIDE), 164.0))
    assert is_ground(206 + 78 * X)  # 167 at the left
    assert not is_ground(206 + 90 * X)  # 161
    # What is within two levels of white is white.
    assert is_ground(np.full((HIGH, WIDE), 252.0))
    assert not is_ground(np.full((HIGH, WIDE), 254.0))
    # Its colour: 40 levels between channels.
    assert is_ground(coloured(240, 220, 201))
    assert not is_ground(coloured(240, 220, 198))
    # How rough it may be: 12 levels, seeded grain of an even share.
    grain = np.random.default_rng(4).uniform(-1, 1, (HIGH, WIDE))
    assert is_ground(215 + 9 * grain)
    assert not is_ground(215 + 26 * grain)
    # Nothing is drawn on it, or too little of the canvas is left of it.
    assert not is_ground(np.full((HIGH, WIDE), 236.0), disc=False)
    assert not is_ground(np.full((HIGH, WIDE), 236.0), colour=(225, 225, 225))
    assert is_ground(np.full((HIGH, WIDE), 236.0), colour=(205, 236, 236))
    # So much of the border may be artwork that reaches the edge: a bar from top to bottom, of 240 of 420 samples.
    for part, found in ((0.22, True), (0.30, False)):
        pixels = lay_ground(np.full((HIGH, WIDE), 236.0))
        pixels[:, 20 : 20 + round(part * WIDE)] = (30, 60, 120)
        assert (find_ground(frame_of(pixels)) is not None) is found, part
    # Only of opaque pictures, and only of those with enough to look at.
    pixels = lay_ground(np.full((HIGH, WIDE), 236.0))
    for alpha, found in ((255, True), (254, False)):
        clear = np.dstack([pixels, np.full((HIGH, WIDE), 255, np.uint8)])
        clear[40, 60, 3] = alpha
        assert (find_ground(DecodedFrame(Image.fromarray(clear), None, False, 0)) is not None) is found
    small = np.full((24, 40, 3), 236, np.uint8)
    small[8:16, 14:26] = 20
    assert find_ground(frame_of(small)) is not None
    assert find_ground(frame_of(small[1:])) is None
    grey = np.asarray(Image.fromarray(pixels).convert("L"))
    assert find_ground(frame_of(grey)) is not None


def test_a_ground_within_an_outline_counts_as_inside():
    """A ring: what lies in it hangs together with the border through a gap alone, and gaps of ten pixels are closed."""
    for gap, within in ((6, True), (24, False)):
        pixels = lay_ground(np.full((HIGH, WIDE), 236.0), disc=False)
        away = np.hypot(X * WIDE, Y * HIGH)
        pixels[(away <= 38) & (away >= 30)] = (160, 30, 40)
        pixels[HIGH // 2 - gap // 2 : HIGH // 2 + gap // 2, WIDE // 2 :] = 236
        ground = find_ground(frame_of(pixels))
        assert ground is not None
        assert ground.mendable is not within
        share = np.pi * 25**2 / (WIDE * HIGH - np.pi * (38**2 - 30**2))
        assert ground.inside == pytest.approx(share if within else 0.0, abs=0.06)


def test_whitening_leaves_colours_behind_an_outline_and_takes_grain():
    pixels = lay_ground(np.full((HIGH, WIDE), 236.0), disc=False)
    pixels[20:70, 30:90] = (20, 20, 20)
    pixels[30:60, 40:80] = (228, 228, 228)  # pale, and shut in
    pixels[8:14, 8:14] = (222, 222, 222)  # grain: six pixels, nowhere clearly darker
    pixels[8:14, 100:106] = (150, 150, 150)  # as small, and drawn
    pixels[76:88, 60:72] = (206, 206, 206)  # larger than grain
    frame = frame_of(pixels)
    ground = find_ground(frame)
    assert ground is not None
    made = whiten_ground(frame, ground).image
    white = np.asarray(made.convert("RGB"))
    assert (white[45, 60] == 228).all()
    assert (white[45, 35] == 20).all()
    assert (white[10, 10] == 255).all()
    assert (white[11, 103] == round(150 * 255 / 236)).all()  # within the rim, where the ground shines through
    assert white[82, 66, 0] < 245
    assert (white[4, 60] == 255).all()
    # Soft edges are freed of the ground that shines through them: half of black over the ground is half over white.
    soft = lay_ground(np.full((HIGH, WIDE), 220.0), disc=False)
    soft[30:60, 30:90] = 0
    soft[29, 30:90] = soft[60, 30:90] = 110
    ground = find_ground(frame_of(soft))
    assert ground is not None
    freed = np.asarray(whiten_ground(frame_of(soft), ground).image)
    assert freed[29, 60].tolist() == [128, 128, 128]
    assert freed[45, 60, 0] == 0
    grey = frame_of(np.asarray(Image.fromarray(soft).convert("L")))
    assert whiten_ground(grey, ground).image.mode == "L"
