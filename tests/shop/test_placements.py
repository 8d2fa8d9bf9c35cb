"""Placements and garments against trade pages (common practice: there is no standard for placing a print)."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from each_case import try_each
from impose.profiles.garment import Garment
from impose.profiles.profiles import Profiles

TRADE = Path(__file__).parent.parent.parent / "shared" / "trade_placements.csv"
INCH = 25.4

# Trade name and garment of the reference table -> our placement and rule.
RULES = {
    ("left chest", "adult"): ("left-chest", "adult"),
    ("left chest", "adult plus 2XL-5XL"): ("left-chest", "plus"),
    ("left chest", "youth"): ("left-chest", "youth"),
    ("left chest", "toddler"): ("left-chest", "toddler"),
    ("left chest", "polo adult"): ("left-chest", "polo adult"),
    ("left chest", "hoodie adult"): ("left-chest", "hoodie adult"),
    ("center chest", "adult"): ("centre-chest", "adult"),
    ("center chest", "youth"): ("centre-chest", "youth"),
    ("full front", "adult"): ("full-front", "adult"),
    ("full front", "women fitted"): ("full-front", "women"),
    ("full front", "youth"): ("full-front", "youth"),
    ("full front", "youth large"): ("full-front", "youth L"),
    ("full front", "toddler"): ("full-front", "toddler"),
    ("full front", "infant/newborn"): ("full-front", "infant"),
    ("full front", "sweatshirt or hoodie adult"): ("full-front", "hoodie adult"),
    ("full front", "hoodie youth"): ("full-front", "hoodie youth"),
    ("full back", "adult"): ("full-back", "adult"),
    ("full back", "hoodie adult"): ("full-back", "hoodie adult"),
    ("full back", "youth"): ("full-back", "youth"),
    ("upper back", "adult"): ("upper-back", "adult"),
    ("sleeve short", "adult"): ("left-short-sleeve", "adult"),
    ("hood text", "adult"): ("hood", "adult"),
    ("pocket", "adult"): ("pocket", "adult"),
}


def _trade() -> list[dict[str, str]]:
    with TRADE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_trade_row_is_used() -> None:
    seen = {(row["placement"], row["garment_group"]) for row in _trade()}
    assert seen - set(RULES) == {("sleeve long", "adult")}, "the long sleeve has a test of its own"


@try_each("row", _trade())
def test_sizes_are_the_trades(profiles: Profiles, row: dict[str, str]) -> None:
    key = RULES.get((row["placement"], row["garment_group"]))
    if key is None:
        return
    rule = profiles.placements[key[0]].sizes[key[1]]
    assert rule.width_mm == pytest.approx(float(row["width_in_default_suggested"]) * INCH)
    assert rule.least_mm == pytest.approx(float(row["width_in_low"]) * INCH)
    assert rule.most_mm == pytest.approx(float(row["width_in_high"]) * INCH)
    if row["height_in_max_seen"]:
        assert rule.height_mm == pytest.approx(float(row["height_in_max_seen"]) * INCH)


@try_each("row", _trade())
def test_offsets_are_the_trades(profiles: Profiles, row: dict[str, str]) -> None:
    key = RULES.get((row["placement"], row["garment_group"]))
    if key is None or not row["offset_in_default_suggested"]:
        return
    offset = profiles.placements[key[0]].offsets[key[1]]
    assert offset.least_mm == pytest.approx(float(row["offset_in_low"]) * INCH)
    assert offset.most_mm == pytest.approx(float(row["offset_in_high"]) * INCH)
    assert offset.least_mm is not None
    assert offset.most_mm is not None
    assert offset.least_mm <= offset.usual_mm <= offset.most_mm
    assert ("SHOULDER" in row["anchor"]) == (offset.measured_from == "shoulder seam")
    assert ("hem" in row["anchor"]) == (offset.measured_from == "hem seam")


def test_a_long_sleeve_is_sized_by_its_length_along_the_arm(profiles: Profiles) -> None:
    """Trade pages: 14 to 15 in long, 2 to 4 in across, usually 3 (common practice)."""
    for side in ("left", "right"):
        placement = profiles.require_placement(f"{side}-long-sleeve")
        rule = placement.sizes["adult"]
        assert (rule.width_mm, rule.height_mm) == pytest.approx((14 * INCH, 3 * INCH))
        assert rule.most_mm == pytest.approx(15 * INCH)
        assert (placement.up, placement.reading) == ("SHOULDER", "shoulder-down")


def test_every_figure_names_its_source(profiles: Profiles) -> None:
    for placement in profiles.placements.values():
        sources = [rule.source for rule in placement.sizes.values()]
        sources += [offset.source for offset in (*placement.offsets.values(), *placement.across.values())]
        for source in sources:
            assert "common practice" in source or "trade page" in source


def test_the_names_and_their_up_marks(profiles: Profiles) -> None:
    names = set(profiles.placements)
    assert names == {
        "left-chest", "centre-chest", "full-front", "full-back", "upper-back", "nape", "pocket", "hood",
        "left-short-sleeve", "right-short-sleeve", "left-long-sleeve", "right-long-sleeve",
    }  # fmt: skip
    for name, placement in profiles.placements.items():
        assert (placement.up == "SHOULDER") == ("sleeve" in name)
        assert placement.least_side_mm == (0 if name in ("full-front", "full-back") else 5)


@pytest.mark.parametrize("name", ["Left Chest", "left_chest", "LEFT-CHEST", "lc", "center chest", "back"])
def test_names_as_people_write_them(profiles: Profiles, name: str) -> None:
    assert profiles.require_placement(name).name in profiles.placements


def _size(profiles: Profiles, placement: str, text: str) -> tuple[float, float] | None:
    garment = profiles.wardrobe.read_garment(text).garment
    found = profiles.require_placement(placement).find_size(garment, profiles.wardrobe)
    if found is None:
        return None
    rule = found[0]
    return round((rule.width_mm or 0) / INCH, 3), round((rule.height_mm or 0) / INCH, 3)


@try_each(
    "placement, garment, size",
    [
        ("left-chest", "", (3.5, 4)),
        ("left-chest", "Adult L", (3.5, 4)),
        ("left-chest", "3XL", (4.25, 4.5)),
        ("left-chest", "hoodie 3XL", (4, 4.5)),
        ("left-chest", "youth M", (2.75, 3)),
        ("full-front", "youth L", (10, 15)),
        ("full-front", "youth S", (9, 12)),
        ("full-front", "hoodie youth M", (9, 5.5)),
        ("full-front", "hoodie XXL", (12, 8.5)),
        ("full-front", "jersey", (11, 17)),
        ("full-front", "women M", (9, 15)),
        ("full-back", "ladies M", (11, 16)),
        ("full-back", "hoodie youth", (9, 10)),
        ("left-long-sleeve", "youth M", (6.5, 2)),  # 6 to 7 in long (common practice, no source)
        ("left-long-sleeve", "toddler", None),
        ("left-short-sleeve", "toddler", None),
        ("full-back", "toddler", None),
        ("hood", "hoodie 2T", None),
        ("pocket", "2T", None),
    ],
)
def test_a_garment_gets_its_size_and_never_a_scaled_one(
    profiles: Profiles, placement: str, garment: str, size: tuple[float, float] | None
) -> None:
    assert _size(profiles, placement, garment) == size


@try_each(
    "placement, garment, inches",
    [
        ("left-chest", "adult L", 3),
        ("left-chest", "jersey L", 3),
        ("left-chest", "polo L", 8),
        ("left-chest", "hoodie L", 6.5),
        ("left-chest", "polo toddler", None),
        ("full-back", "adult", 4),
        ("full-back", "hoodie adult", 5),  # below the hood, not the T-shirt's 4 (common practice, no source)
        ("full-back", "hoodie youth", 4),
        ("full-back", "hoodie toddler", None),
        ("full-front", "sweatshirt", 3.5),
    ],
)
def test_a_drop_does_not_carry_over_to_another_collar(
    profiles: Profiles, placement: str, garment: str, inches: float | None
) -> None:
    read = profiles.wardrobe.read_garment(garment).garment
    offset = profiles.require_placement(placement).find_drop(read, profiles.wardrobe)
    assert (offset and round(offset.usual_mm / INCH, 3)) == inches


@try_each(
    "text, kind, group, size",
    [
        ("", "t-shirt", "adult", ""),
        ("Adult L", "t-shirt", "adult", "L"),
        ("hoodie youth M", "hoodie", "youth", "M"),
        ("Youth-M Hoodie", "hoodie", "youth", "M"),
        ("YL", "t-shirt", "youth", "L"),
        ("YXL", "t-shirt", "youth", "XL"),
        ("AM", "t-shirt", "adult", "M"),
        ("2T", "t-shirt", "toddler", "2T"),
        ("6M", "t-shirt", "infant", "6M"),
        ("Men's XXL T-shirt", "t-shirt", "plus", "2XL"),
        ("xxxl", "t-shirt", "plus", "3XL"),
        ("2X", "t-shirt", "plus", "2XL"),
        ("hooded sweatshirt, extra large", "hoodie", "adult", "XL"),
        ("Ladies tee small", "t-shirt", "women", "S"),
        ("women 2XL", "t-shirt", "women", "2XL"),
        ("navy kids polo 10-12", "polo", "youth", "10-12"),
        ("Long sleeve t-shirt M", "long-sleeve", "adult", "M"),
        ("crew neck", "sweatshirt", "adult", ""),
    ],
)
def test_garments_as_people_write_them(profiles: Profiles, text: str, kind: str, group: str, size: str) -> None:
    reading = profiles.wardrobe.read_garment(text)
    assert (reading.garment.kind, reading.garment.group, reading.garment.size) == (kind, group, size)
    assert not reading.fault


@pytest.mark.parametrize("text", ["yuoth M", "toddlr", "hoodei youth", "youth adult", "hoodie polo", "S M adult"])
def test_garments_that_would_be_misread_are_refused(profiles: Profiles, text: str) -> None:
    assert profiles.wardrobe.read_garment(text).fault


@pytest.mark.parametrize(
    "words", ["crew black L adult", "v-neck tee", "short sleeve", "team sport M", "sweater, size L"]
)
def test_ordinary_words_are_no_slips(profiles: Profiles, words: str) -> None:
    assert not profiles.wardrobe.read_garment(words).fault


def test_words_that_mean_nothing_are_handed_back(profiles: Profiles) -> None:
    reading = profiles.wardrobe.read_garment("Jugend M")
    assert reading.unknown == ("jugend",)
    assert not reading.group_named


def test_the_most_particular_name_comes_first() -> None:
    keys = Garment("hoodie", "youth", "L", "").rule_keys
    assert keys == ("hoodie youth L", "hoodie youth", "youth L", "youth")


def test_every_placement_lies_on_a_face_and_left_is_the_wearers(profiles: Profiles) -> None:
    faces = {name: (placement.face, placement.side) for name, placement in profiles.placements.items()}
    assert faces == {
        "left-chest": ("front", "left"), "centre-chest": ("front", "centre"), "full-front": ("front", "centre"),
        "full-back": ("back", "centre"), "upper-back": ("back", "centre"), "nape": ("back", "centre"),
        "pocket": ("front", "left"),
        "hood": ("hood", "centre"), "left-short-sleeve": ("left sleeve", "centre"),
        "right-short-sleeve": ("right sleeve", "centre"), "left-long-sleeve": ("left sleeve", "centre"),
        "right-long-sleeve": ("right sleeve", "centre"),
    }  # fmt: skip


def test_what_limits_a_print_is_said_where_the_trade_says_it(profiles: Profiles) -> None:
    """Trade pages: the pocket limits a hoodie's and a sweatshirt's front. A hood hangs over a back's upper part."""
    front, back = profiles.placements["full-front"], profiles.placements["full-back"]
    assert "pocket" in front.sizes["hoodie adult"].limit
    assert "pocket" in front.sizes["sweatshirt youth"].limit
    assert "hood hangs" in back.sizes["hoodie adult"].limit


def test_every_group_has_the_measures_it_is_drawn_by(profiles: Profiles) -> None:
    for group in profiles.wardrobe.groups:
        figure = profiles.wardrobe.find_figure(group)
        assert figure is not None
        assert "common practice" in figure.source
        assert figure.shoulders < figure.width < figure.length
