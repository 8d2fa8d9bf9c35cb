"""Where a print, its folds, its panels and its pad lie on a garment, by turning pictures and mirroring sides.

A face is symmetrical about its centre line and a turn is a turn, whatever is laid there: both need no figure of ours.
"""

from __future__ import annotations

import itertools
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from impose import files
from impose.errors import Finding, Severity
from impose.orders.batch import BatchRow
from impose.profiles.placement import SizeRule
from impose.profiles.profiles import load_profiles
from impose.sheet.cutting_plan import _choose_distance
from impose.sheet.garment_faces import FaceShape, PrintSpot, locate_print, make_face_shape
from impose.sheet.pad_choice import choose_pad
from impose.sheet.piece import Piece
from impose.sheet.placement_guide import make_guide
from impose.sheet.press_steps import _panel_box, find_crease
from impose.sheet.words_over_edge import find_words_over_edge
from impose.units import Box
from impose.values import replace

PROFILES = load_profiles(files.find_shipped_profiles())
INCH = 25.4


def _turn(picture: np.ndarray[Any, Any], degrees: int) -> np.ndarray[Any, Any]:
    """A picture turned clockwise, by numpy."""
    return np.rot90(picture, -degrees // 90)


@pytest.mark.parametrize("degrees", [0, 90, 270])
def test_folds_and_panels_turn_with_their_print(degrees: int) -> None:
    """A print 60 wide and 30 high, its fold at one pixel, its panel a rectangle of pixels; a pixel is 1 mm."""
    picture = np.zeros((30, 60), int)
    picture[5:15, 8:28] = 1
    picture[22, 43] = 2
    seen = _turn(picture, degrees)
    high, wide = seen.shape
    spot = PrintSpot(Box(100, 200, wide, high), degrees, None, None, False, 0.0)
    # A fold is marked on the back of the paper, from its left there: mirrored. Cloth that grows is undone.
    piece = cast(
        Piece,
        SimpleNamespace(
            ink_w_mm=120.0, crease_x_mm=120.0 - 43.5 * 2, crease_y_mm=22.5 * 4, cloth_x=2.0, cloth_y=4.0,
            panel=SimpleNamespace(box=Box(8 * 2, 5 * 4, 20 * 2, 10 * 4)),
        ),
    )  # fmt: skip
    (y,), (x,) = np.nonzero(seen == 2)
    assert find_crease(piece, spot) == pytest.approx((100 + x + 0.5, 200 + y + 0.5))
    ys, xs = np.nonzero(seen == 1)
    box = _panel_box(piece, spot)
    assert (box.x - 100, box.right - 100) == pytest.approx((xs.min(), xs.max() + 1))
    assert (box.y - 200, box.bottom - 200) == pytest.approx((ys.min(), ys.max() + 1))


def _shape(placement: str, garment: str, wide: float, high: float) -> tuple[FaceShape, PrintSpot]:
    rule, wardrobe = PROFILES.require_placement(placement), PROFILES.wardrobe
    worn = wardrobe.read_garment(garment).garment
    shape = make_face_shape(rule.face, worn, rule, wardrobe, Box(0, 0, wide, high))
    return shape, locate_print(rule, worn, wardrobe, shape, wide, high)


@pytest.mark.parametrize("garment", ["zip hoodie adult M", "hoodie adult M", "T-shirt youth M"])
def test_a_pad_on_the_right_is_that_on_the_left_mirrored(garment: str) -> None:
    pads = tuple(PROFILES.pads.values())
    for placement, inches in itertools.product(("left-chest", "full-front", "full-back"), (2, 3.5, 6, 9)):
        shape, spot = _shape(placement, garment, inches * INCH, 3 * INCH)
        away = spot.box.move_by(4 * INCH, 0)
        back = Box(-away.right, away.y, away.w, away.h)
        left, right = choose_pad(shape, away, pads), choose_pad(shape, back, pads)
        assert left is not None
        assert right is not None
        assert (left.pad, left.folded, left.cut, left.least, left.crowded) == (
            right.pad, right.folded, right.cut, right.least, right.crowded
        )  # fmt: skip
        assert left.room == pytest.approx(right.room)
        if left.box is not None:
            assert right.box is not None
            assert (-left.box.right, left.box.y) == pytest.approx((right.box.x, right.box.y))


def test_a_print_across_a_zip_has_no_pad() -> None:
    shape, spot = _shape("full-front", "zip hoodie adult M", 9 * INCH, 9 * INCH)
    found = choose_pad(shape, Box(-spot.box.w / 2, spot.box.y, spot.box.w, spot.box.h), tuple(PROFILES.pads.values()))
    assert found is not None
    assert found.pad is None
    assert found.crowded


WORDS = BatchRow(3, "", "", "words “ADA”", Path(), None, PROFILES.wardrobe.read_garment("").garment, 1, None, None,
                 words="ADA")  # fmt: skip


def _told_over(placement: str | None, garment: str, wide: float, high: float, words: str = "ADA") -> list[Finding]:
    row = replace(WORDS, placement=placement, garment=PROFILES.wardrobe.read_garment(garment).garment, words=words)
    return list(find_words_over_edge(cast(Piece, SimpleNamespace(row=row, finished_size=(wide, high))), PROFILES))


def test_words_over_an_edge_are_told_by_the_side_that_is_over_it() -> None:
    """A usual adult T-shirt lies as wide and long as garments.toml has it; a sleeve's words run along the arm."""
    figure = PROFILES.wardrobe.find_figure("adult")
    assert figure is not None
    for wide, high, told in (
        (figure.width - 1, 50, ""),
        (figure.width + 30, 50, f"{figure.width + 30:g} mm wide on"),
        (300, figure.length + 30, f"{figure.length + 30:g} mm high on"),
    ):
        found = _told_over("full-back", "T-shirt adult M", wide, high)
        assert bool(found) == bool(told), (wide, high)
        for finding in found:
            assert told in finding.what
            assert (finding.severity, finding.kind, finding.row, finding.read) == (
                Severity.WARN, "words-over-edge", 3, "ADA"
            )  # fmt: skip
    (told_of,) = _told_over("full-back", "T-shirt adult M", figure.width + 30, 50)
    assert f"a usual one has {figure.width:g} mm there" in told_of.what
    (along,) = _told_over("left-long-sleeve", "hoodie adult M", figure.long_sleeve + 40, 30)
    assert f"{figure.long_sleeve + 40:g} mm wide on" in along.what
    assert f"a usual one has {figure.long_sleeve:g} mm there" in along.what
    (around,) = _told_over("left-long-sleeve", "hoodie adult M", 100, figure.long_sleeve_width + 40)
    assert f"{figure.long_sleeve_width + 40:g} mm high on" in around.what
    assert f"a usual one has {figure.long_sleeve_width:g} mm there" in around.what
    # Laid at the left chest, half of the front is less than all of it.
    (beside,) = _told_over("left-chest", "T-shirt adult M", figure.width - 40, 30)
    assert "laid as usual, they reach" in beside.what


def test_of_artwork_and_of_words_without_a_place_no_edge_is_told() -> None:
    assert _told_over(None, "T-shirt adult M", 900, 900) == []
    assert _told_over("full-back", "T-shirt adult M", 900, 900, words="") == []


def test_a_guide_for_a_size_of_one_side_is_open_on_the_other() -> None:
    rule = PROFILES.require_placement("left-chest")
    worn = PROFILES.wardrobe.read_garment("hoodie adult M").garment
    for size, side, box in (
        (SizeRule(90.0, None, None, None, "ours"), "height", (90, 90)),
        (SizeRule(None, 70.0, None, None, "ours"), "width", (70, 70)),
        (SizeRule(90.0, 70.0, None, None, "ours"), "", (90, 70)),
    ):
        guide = make_guide(rule, worn, size, PROFILES)
        assert guide is not None
        assert guide.open_side == side
        assert (guide.spot.box.w, guide.spot.box.h) == box


def test_a_guide_holds_the_print_the_centre_line_and_the_seam() -> None:
    """Whatever the face: what a hand lays the card against is on the card, and nothing is cut off."""
    for placement, garment in (
        ("left-chest", "hoodie adult M"), ("left-chest", "T-shirt adult M"), ("full-back", "hoodie adult M"),
        ("left-long-sleeve", "hoodie adult M"), ("right-long-sleeve", "hoodie adult M"), ("hood", "hoodie adult M"),
        ("left-short-sleeve", "T-shirt adult M"), ("full-front", "T-shirt youth M"),
    ):  # fmt: skip
        rule = PROFILES.placements.get(placement)
        if rule is None:
            continue
        worn = PROFILES.wardrobe.read_garment(garment).garment
        found = rule.find_size(worn, PROFILES.wardrobe)
        guide = make_guide(rule, worn, found[0], PROFILES) if found else None
        if guide is None:
            continue
        inner = guide.area.inset_by(*(12.0,) * 4)
        assert inner.contains_box(guide.spot.box), placement
        assert inner.x <= 0 <= inner.right, placement
        assert inner.y <= guide.spot.anchor_y <= inner.bottom, placement


@pytest.mark.parametrize(
    ("low", "high", "units", "at", "told"),
    [
        (100.0, 110.0, "mm", 105.0, "105 mm"),
        (100.2, 103.9, "mm", 102.0, "102 mm"),
        (100.2, 100.6, "mm", 100.5, "100.5 mm"),
        (100.24, 100.44, "mm", 100.3, "100.3 mm"),
        # No tenth of a millimetre lies well within: that nearest to the middle.
        (100.01, 100.05, "mm", 100.0, "100 mm"),
        (100.06, 100.09, "mm", 100.1, "100.1 mm"),
        (4 * INCH - 3, 4 * INCH + 3, "in", 4 * INCH, "4 in"),
        (4.249 * INCH, 4.2501 * INCH, "in", 4.25 * INCH, "4 1/4 in"),
    ],
)
def test_a_cut_is_told_at_the_roundest_distance_that_lies_in_its_gap(
    low: float, high: float, units: Any, at: float, told: str
) -> None:
    found, words = _choose_distance(low, high, units)
    assert found == pytest.approx(at)
    assert words == told
