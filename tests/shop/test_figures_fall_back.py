"""The measures that a group of sizes is drawn by: its own, or those of the group it falls back to, in any circle."""

from __future__ import annotations

from impose import files
from impose.profiles.profiles import load_profiles
from impose.values import replace

WARDROBE = load_profiles(files.find_shipped_profiles()).wardrobe


def test_a_group_without_measures_has_those_of_the_one_it_falls_back_to() -> None:
    groups = dict(WARDROBE.groups)
    adult = groups["adult"]
    assert adult.figure is not None
    groups["tall"] = replace(adult, name="tall", otherwise="adult", figure=None, smallest=None)
    groups["taller"] = replace(adult, name="taller", otherwise="tall", figure=None, smallest=None)
    wardrobe = replace(WARDROBE, groups=groups)
    for group in ("adult", "tall", "taller"):
        assert wardrobe.find_figure(group) == adult.figure
        assert wardrobe.find_figure(group, smallest=True) == (adult.smallest or adult.figure)
    assert wardrobe.find_figure("nobody") is None


def test_groups_that_fall_back_on_each_other_have_no_measures() -> None:
    bare = replace(WARDROBE.groups["adult"], figure=None, smallest=None)
    groups = {"one": replace(bare, name="one", otherwise="two"), "two": replace(bare, name="two", otherwise="one")}
    assert replace(WARDROBE, groups=groups).find_figure("one") is None


def test_a_copy_with_other_groups_has_their_words_and_leaves_the_first_its_own() -> None:
    two = replace(WARDROBE.groups["adult"], name="couple", words=("couple",))
    other = replace(WARDROBE, groups={"couple": two, "adult": WARDROBE.groups["adult"]})
    assert other.read_garment("t-shirt couple").garment.group == "couple"
    assert other.read_garment("t-shirt youth").unknown == ("youth",)
    assert WARDROBE.read_garment("t-shirt couple").unknown == ("couple",)
