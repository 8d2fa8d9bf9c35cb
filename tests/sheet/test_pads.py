"""Pads by hand: larger than the ink all round by 1/4 in, smaller than the place (common practice, no source)."""

from __future__ import annotations

import pytest

from impose import files
from impose.profiles.profiles import load_profiles
from impose.sheet.garment_faces import locate_print, make_face_shape
from impose.sheet.heat_shields import PressedPrint, find_shields
from impose.sheet.pad_choice import PadChoice, choose_pad, measure_half_sleeve
from impose.units import Box
from impose.values import replace

INCH = 25.4
PROFILES = load_profiles(files.find_shipped_profiles())
PADS = tuple(PROFILES.pads.values())


def chosen(placement: str, garment: str, w: float, h: float, pads=PADS):
    """The pad for a print of w × h inches as the artwork reads."""
    rule, wardrobe = PROFILES.require_placement(placement), PROFILES.wardrobe
    worn = wardrobe.read_garment(garment).garment
    shape = make_face_shape(rule.face, worn, rule, wardrobe, Box(0, 0, w * INCH, h * INCH))
    spot = locate_print(rule, worn, wardrobe, shape, w * INCH, h * INCH)
    return choose_pad(shape, spot.box, pads), spot, shape


@pytest.mark.parametrize(
    ("placement", "garment", "w", "h", "pad"),
    [
        # A pad of about 5 x 15 in fits an adult's sleeve (common practice): a print of 10 x 3 in, along the arm.
        ("left-long-sleeve", "hoodie adult M", 10, 3, "5x15"),
        # In a small sleeve a 12 x 12 in card folded once does the same.
        ("left-long-sleeve", "hoodie youth S", 6.5, 2, "12x12-card"),
        # 3.5 in and 1/4 in on either side are 4 in: the smallest shipped pad is 5 x 5 in.
        ("left-chest", "hoodie adult M", 3.5, 3.5, "5x5"),
        ("left-chest", "hoodie adult M", 4.5, 4.5, "5x5"),
        # 4.6 and two quarters are 5.1 in: larger than 5.
        ("left-chest", "sweatshirt adult M", 4.6, 3, "10x10"),
        ("full-back", "hoodie adult M", 9, 9, "10x10"),
        ("full-back", "hoodie adult M", 12, 14, "14x16"),
    ],
)
def test_the_smallest_pad_that_carries_the_print_is_named(placement, garment, w, h, pad):
    found, spot, _ = chosen(placement, garment, w, h)
    assert found is not None
    assert found.pad is not None
    assert found.pad.name == pad
    # It reaches 1/4 in past the ink on every side.
    assert found.box.contains_box(spot.box.inset_by(*(-INCH / 4,) * 4))


def test_a_sleeve_takes_no_pad_that_is_wider_than_it_where_it_ends():
    found, _, shape = chosen("left-long-sleeve", "hoodie adult M", 10, 3)
    assert max(found.box.right, -found.box.x) <= measure_half_sleeve(shape, found.box.bottom)
    assert found.box.y >= 0
    # A sleeve's own figures: 190 mm flat at the upper arm, less towards the cuff.
    assert max(measure_half_sleeve(shape, y) for y in range(620)) == pytest.approx(95, abs=0.1)
    assert measure_half_sleeve(shape, 0) < 1
    assert measure_half_sleeve(shape, 620) < 60


def test_a_pad_lies_between_the_seams_of_its_place_and_off_a_zip():
    found, _, shape = chosen("left-chest", "zip hoodie adult M", 3, 3)
    assert found.box.x >= 10  # half a zip with its tape, as drawn
    assert found.box.right <= shape.shoulders / 2


def test_none_is_named_where_none_goes():
    found, *_ = chosen("full-back", "hoodie adult M", 15, 15)
    assert found.pad is None
    assert not found.crowded
    assert found.least == pytest.approx((15.5 * INCH, 15.5 * INCH))
    found, *_ = chosen("full-back", "infant 3M", 11, 8)
    assert found.pad is None
    assert found.crowded


def test_a_pad_that_is_not_owned_is_not_named():
    found, *_ = chosen("left-chest", "hoodie adult M", 3.5, 3.5, tuple(replace(p, owned=p.name != "5x5") for p in PADS))
    assert found.pad.name != "5x5"


def test_a_card_that_can_be_folded_is_named_before_a_smaller_one_that_lies_flat():
    """Folded card lifts the cloth, flat card hardly does (common practice, no source)."""
    (card,) = (pad for pad in PADS if pad.name == "12x12-card")
    flat = replace(card, name="small", width_mm=7 * INCH, height_mm=7 * INCH)
    found, *_ = chosen("full-back", "hoodie adult M", 4, 6, (flat, card))
    assert (found.pad.name, found.folded) == ("12x12-card", True)


def test_what_lies_beneath_the_platen_is_seen_mirrored():
    """A back print 100 mm to the right as the back lies up is 100 mm to the left as the front does."""
    back = PressedPrint("T001", "full back", "back", Box(100, 150, 80, 60))
    (shield,) = find_shields("front", Box(-300, 0, 400, 500), [back], ())
    assert (shield.box, shield.beneath) == (Box(-180, 150, 80, 60), True)
    assert find_shields("front", Box(-90, 0, 300, 500), [back], ()) == ()
    assert find_shields("left sleeve", Box(-300, 0, 400, 500), [back], ()) == ()


@pytest.mark.parametrize(
    ("least", "room", "crowded"),
    [((50, 40), (50, 40), False), ((50, 40), (60, 45), False), ((50, 40), (45, 90), True), ((50, 40), (90, 35), True),
     ((40, 50), (45, 45), True), ((50, 40), (45, 45), True)],
)  # fmt: skip
def test_a_place_is_crowded_where_the_print_with_its_margin_is_wider_or_higher(least, room, crowded):
    assert PadChoice(None, least, room).crowded is crowded


@pytest.mark.parametrize("garment", ["T-shirt adult M", "hoodie adult M"])
def test_where_a_drop_is_not_known_a_print_is_drawn_below_the_collar_and_in_the_middle_of_a_sleeve(garment):
    wardrobe = PROFILES.wardrobe
    worn = wardrobe.read_garment(garment).garment
    found = {}
    for name in ("full-back", "upper-back", "full-front", "left-short-sleeve", "left-chest"):
        rule = replace(PROFILES.require_placement(name), offsets={})
        shape = make_face_shape(rule.face, worn, rule, wardrobe, Box(0, 0, 80, 60))
        spot = locate_print(rule, worn, wardrobe, shape, 80, 60)
        assert spot.drop is None
        found[name] = spot, shape
    for name in ("full-back", "upper-back", "full-front", "left-chest"):
        spot, shape = found[name]
        assert shape.collar_y + 30 < spot.box.y < shape.collar_y + 100
        assert spot.anchor_y == shape.collar_y
    assert found["upper-back"][0].box.y < found["full-back"][0].box.y, "words between the shoulders lie higher"
    spot, shape = found["left-short-sleeve"]
    assert spot.box.centre[1] == pytest.approx(shape.length / 2)
