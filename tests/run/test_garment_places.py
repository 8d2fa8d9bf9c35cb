"""A garment before anything is on it: its faces, where each place's usual print lies, and what is said of its size."""

from __future__ import annotations

from typing import Any

import pytest

from impose.profiles.placement import SizeRule
from impose.run import Options
from impose.run.garment_places import _choose_usual, _size_words, list_faces
from impose.run.load_batch import load_profiles_in_force

PROFILES = load_profiles_in_force(Options())
INCH = 25.4


def faces_of(words: str) -> dict[str, Any]:
    garment = PROFILES.wardrobe.read_garment(words).garment
    return {face.face: {place.placement.name: place for place in face.places} for face in list_faces(garment, PROFILES)}


def test_a_left_chest_print_is_three_and_a_half_inches_wide() -> None:
    """3.5 in wide, at most 4 in high (trade pages, as the profile cites them)."""
    place = faces_of("T-shirt adult M")["front"]["left-chest"]
    assert place.size == "88.9 mm wide, at most 101.6 mm high"
    assert (place.spot.box.w, place.spot.box.h) == pytest.approx((3.5 * INCH, 4 * INCH), abs=0.05)
    assert (place.known, place.own) == (True, False)
    assert place.why
    assert place.offset


def test_faces_are_named_from_the_front_and_hold_each_place_once() -> None:
    faces = faces_of("hoodie adult M")
    order = ["front", "back", "left sleeve", "right sleeve", "hood", "other"]
    assert list(faces) == [face for face in order if face in faces]
    names = [name for places in faces.values() for name in places]
    assert len(names) == len(set(names))
    assert "hood" in faces
    assert "hood" not in faces_of("T-shirt adult M")


def make_rule(width_mm: float | None, height_mm: float | None) -> Any:
    return SizeRule(**{**BASE, "width_mm": width_mm, "height_mm": height_mm})


_KNOWN = PROFILES.placements["left-chest"].sizes["adult"]
BASE = {name: getattr(_KNOWN, name) for name in _KNOWN.__struct_fields__}


@pytest.mark.parametrize(
    ("width", "height", "usual", "words"),
    [
        (100, None, (100, 115), "100 mm wide"), (100, 110, (100, 110), "100 mm wide, at most 110 mm high"),
        (100, 130, (100, 115), "100 mm wide, at most 130 mm high"), (None, 115, (100, 115), "115 mm high"),
        (None, None, (90 / 1.15, 90), ""),
    ],
)  # fmt: skip
def test_a_usual_print_is_a_little_higher_than_wide_within_what_the_rule_allows(
    width: float | None, height: float | None, usual: tuple[float, float], words: str
) -> None:
    assert _choose_usual(make_rule(width, height)) == pytest.approx(usual)
    assert _size_words(make_rule(width, height), "mm") == words


def test_a_place_without_a_size_is_drawn_square() -> None:
    assert _choose_usual(None) == (90, 90)
