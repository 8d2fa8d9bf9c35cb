"""Where prints lie on garments, against the trade's usual figures; and the shop's own, which go before them.

Figures in inches. Those of hoodies, sleeves and youth sizes are common practice, no source; those of T-shirts and polos
are held to the table of trade pages in test_placements.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from impose import files
from impose.cli.profiles import profiles as command
from impose.errors import Trouble
from impose.profiles.placement import PlacementRule
from impose.profiles.profiles import Profiles, load_profiles
from impose.run import Options
from impose.run.own_figures import enter_figure
from impose.run.own_profiles import set_keys
from impose.sheet.garment_faces import locate_print, make_face_shape
from impose.units import Box

INCH = 25.4
SHORT, LONG = ("t-shirt", "jersey", "polo"), ("long-sleeve", "sweatshirt", "hoodie", "zip-hoodie")
ACROSS_ZIP = ("full-front", "centre-chest")


def on(placement: str, kind: str) -> bool:
    """Whether a garment of a kind has the place at all."""
    if placement == "hood":
        return "hoodie" in kind
    if "short-sleeve" in placement:
        return kind in SHORT
    if "long-sleeve" in placement:
        return kind in LONG
    return not (kind == "zip-hoodie" and placement in ACROSS_ZIP)


@pytest.fixture(scope="module")
def profiles() -> Profiles:
    return load_profiles(files.find_shipped_profiles())


@pytest.mark.parametrize("group", ["adult", "youth"])
def test_no_place_on_a_shipped_garment_says_measure(profiles: Profiles, group: str) -> None:
    wardrobe, lacking = profiles.wardrobe, []
    for placement in profiles.placements.values():
        for kind in wardrobe.kinds:
            garment = wardrobe.read_garment(f"{kind} {group} M").garment
            assert (garment.kind, garment.group) == (kind, group)
            if not on(placement.name, kind):
                continue
            shape = make_face_shape(placement.face, garment, placement, wardrobe, Box(0, 0, 50, 50))
            spot = locate_print(placement, garment, wardrobe, shape, 50, 50)
            if (
                placement.find_size(garment, wardrobe) is None
                or spot.midway
                or (spot.drop is None and shape.pocket is None)
            ):
                lacking.append((placement.name, kind))
    assert lacking == []


# placement, garment, from, to, usual, least, most: common practice, no source.
USUAL = [
    ("full-back", "hoodie adult L", "neck seam", "top", 5, 5, 6),  # 6 in where the hood would still cover it
    ("full-back", "zip hoodie adult L", "neck seam", "top", 5, 5, 6),
    ("full-back", "hoodie youth M", "neck seam", "top", 4, 4, 5),
    ("left-long-sleeve", "hoodie adult M", "shoulder seam", "top", 3.5, None, None),
    ("right-long-sleeve", "sweatshirt adult M", "shoulder seam", "top", 3.5, None, None),
    ("left-long-sleeve", "hoodie youth M", "shoulder seam", "top", 2.5, None, None),
    ("full-front", "sweatshirt adult M", "collar", "top", 3.5, 3, 4),  # about 1 in lower than on a T-shirt
]


@pytest.mark.parametrize(("name", "text", "start", "to", "usual", "least", "most"), USUAL)
def test_drops_are_the_usual_ones(profiles, name, text, start, to, usual, least, most) -> None:
    drop = profiles.require_placement(name).find_drop(profiles.wardrobe.read_garment(text).garment, profiles.wardrobe)
    assert (drop.measured_from, drop.measured_to) == (start, f"{to} of print")
    assert drop.usual_mm == pytest.approx(usual * INCH)
    if least is not None:
        assert (drop.least_mm, drop.most_mm) == pytest.approx((least * INCH, most * INCH))
    assert not drop.own


# Widths of hoodies: sleeve length 9 1/2 to 10 1/2 in, of youth 6 to 7; youth back 8 to 9, chest 2 3/4 (no source).
@pytest.mark.parametrize(
    ("name", "text", "least", "most"),
    [
        ("full-back", "hoodie youth M", 8, 9), ("left-chest", "hoodie youth M", 2, 3.25),
    ],
)  # fmt: skip
def test_widths_are_the_usual_ones(profiles: Profiles, name: str, text: str, least: float, most: float) -> None:
    rule, _ = profiles.require_placement(name).find_size(
        profiles.wardrobe.read_garment(text).garment, profiles.wardrobe
    )
    assert (rule.least_mm, rule.most_mm) == pytest.approx((least * INCH, most * INCH))
    assert least * INCH <= rule.width_mm + 1e-9 <= most * INCH + 2e-9
    if name == "left-chest":
        assert rule.width_mm == pytest.approx(2.75 * INCH)


@pytest.mark.parametrize(("text", "least", "most"), [("hoodie adult M", 9.5, 10.5), ("hoodie youth M", 6, 7)])
def test_a_hoodies_sleeve_is_as_long_as_usual(profiles: Profiles, text: str, least: float, most: float) -> None:
    """Length of the print 9 1/2 to 10 1/2 in, of a youth's 6 to 7; a single word may be shorter (no source)."""
    rule, _ = profiles.require_placement("left-long-sleeve").find_size(
        profiles.wardrobe.read_garment(text).garment, profiles.wardrobe
    )
    assert least * INCH <= rule.width_mm <= most * INCH + 1e-9
    assert rule.most_mm == pytest.approx(most * INCH)
    assert rule.least_mm is None


def test_the_nape_takes_a_neck_print_and_the_upper_back_does_not(profiles: Profiles) -> None:
    """A print 4 in wide below the collar is usual there (no source); between the shoulders 10 in are (one page)."""
    nape, upper = profiles.require_placement("nape"), profiles.require_placement("upper-back")
    assert profiles.require_placement("back-neck") is nape
    assert nape.sizes["adult"].least_mm <= 4 * INCH <= nape.sizes["adult"].most_mm
    assert upper.sizes["adult"].least_mm == pytest.approx(10 * INCH)
    assert nape.offsets["adult"].usual_mm < upper.offsets["adult"].usual_mm


def chest(profiles: Profiles, placement: PlacementRule) -> Box:
    garment = profiles.wardrobe.read_garment("hoodie adult M").garment
    shape = make_face_shape("front", garment, placement, profiles.wardrobe, Box(0, 0, 90, 90))
    return locate_print(placement, garment, profiles.wardrobe, shape, 90, 90).box


def test_a_left_chest_is_measured_in_the_shops_way(profiles: Profiles, tmp_path: Path) -> None:
    """Middle 3 to 4 in from the centre line; or 5 1/2 in from the sleeve seam and below the shoulder (no source).

    The drawn adult garment is 460 mm from seam to seam.
    """
    usual = chest(profiles, profiles.require_placement("left-chest")).centre[0]
    assert 3 * INCH <= usual <= 4 * INCH
    (tmp_path / "placements.toml").write_text('[left-chest]\nway = "sleeve-seam"\n', "utf-8")
    own = load_profiles(files.find_shipped_profiles(), tmp_path)
    assert chest(own, own.require_placement("left-chest")).centre == pytest.approx((230 - 5.5 * INCH, 5.5 * INCH))
    (tmp_path / "placements.toml").write_text('[left-chest]\nway = "by-eye"\n', "utf-8")
    with pytest.raises(Trouble, match="sleeve-seam"):
        load_profiles(files.find_shipped_profiles(), tmp_path)


def test_an_own_figure_entered_once_is_used_ever_after(tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    runner = CliRunner()
    enter = ["profiles", "--profiles", str(mine), "--enter", "full-back", "hoodie adult", "drop", "5 3/4 in"]
    assert runner.invoke(command, enter[1:]).exit_code == 0
    own = load_profiles(files.find_shipped_profiles(), mine)
    garment = own.wardrobe.read_garment("zip hoodie adult XL").garment
    drop = own.require_placement("full-back").find_drop(garment, own.wardrobe)
    assert drop.usual_mm == pytest.approx(5.75 * INCH)
    assert drop.own
    shown = runner.invoke(command, ["placements", "--profiles", str(mine), "--units", "in"]).output
    assert "5.75 in from neck seam, your own figure" in shown
    assert shown.count("your own figure") == 1


def test_entering_leaves_the_rest_of_the_file_as_it_is(tmp_path: Path) -> None:
    text = '# ours\n[full-back.offsets."hoodie adult"]  # measured in May\nusual = "5.5 in"\nmost = "6 in"\n'
    text += '\n[left-chest]\nway = "sleeve-seam"\n'
    (tmp_path / "placements.toml").write_text(text, "utf-8")
    enter_figure(("full-back", "hoodie adult", "drop", "140mm"), Options(profiles_dir=tmp_path))
    enter_figure(("full-front", "hoodie women", "width", "9in"), Options(profiles_dir=tmp_path))
    after = (tmp_path / "placements.toml").read_text("utf-8")
    assert after.startswith("# ours\n")
    assert "# measured in May" in after
    own = load_profiles(files.find_shipped_profiles(), tmp_path)
    assert own.require_placement("left-chest").way == "sleeve-seam"
    assert own.require_placement("full-back").offsets["hoodie adult"].usual_mm == pytest.approx(140)
    garment = own.wardrobe.read_garment("hoodie women M").garment
    rule, key = own.require_placement("full-front").find_size(garment, own.wardrobe)
    assert (rule.width_mm, key) == (pytest.approx(9 * INCH), "hoodie women")


@pytest.mark.parametrize(
    "words",
    [
        ("full-bakc", "hoodie adult", "drop", "5in"), ("full-back", "hoodie yuoth", "drop", "5in"),
        ("full-back", "hoodie adult", "depth", "5in"), ("full-back", "hoodie adult", "drop", "5"),
    ],
)  # fmt: skip
def test_what_cannot_be_entered_writes_nothing(tmp_path: Path, words: tuple[str, str, str, str]) -> None:
    with pytest.raises(Trouble):
        enter_figure(words, Options(profiles_dir=tmp_path))
    assert list(tmp_path.iterdir()) == []


def test_a_figure_is_tried_with_all_the_shops_files_and_what_is_wrong_is_told_of_its_own_folder(tmp_path: Path) -> None:
    """The kind of garment that it is for stands in another file; a table in another spelling cannot be added to."""
    (tmp_path / "garments.toml").write_text('[kinds.bib]\ntitle = "bib"\nwords = ["bibs"]\nlike = "t-shirt"\n', "utf-8")
    enter_figure(("full-front", "bib adult", "width", "9in"), Options(profiles_dir=tmp_path))
    own = load_profiles(files.find_shipped_profiles(), tmp_path)
    rule, _ = own.require_placement("full-front").find_size(
        own.wardrobe.read_garment("bib adult M").garment, own.wardrobe
    )
    assert rule.width_mm == pytest.approx(9 * INCH)
    before = (
        '[full-back]\noffsets."hoodie adult" = {usual = "5 in", from = "collar", to = "top of print", source = "us"}\n'
    )
    (tmp_path / "placements.toml").write_text(before, "utf-8")
    with pytest.raises(Trouble) as told:
        enter_figure(("full-back", "hoodie adult", "drop", "9in"), Options(profiles_dir=tmp_path))
    assert {finding.file for finding in told.value.findings} == {str(tmp_path / "placements.toml")}
    assert (tmp_path / "placements.toml").read_text("utf-8") == before


def test_a_copy_of_the_shipped_file_is_not_the_shops_own(tmp_path: Path) -> None:
    shipped = (files.find_shipped_profiles() / "placements.toml").read_bytes()
    (tmp_path / "placements.toml").write_bytes(shipped)
    own = load_profiles(files.find_shipped_profiles(), tmp_path)
    assert not any(one.own for placement in own.placements.values() for one in placement.offsets.values())


def test_keys_are_set_in_their_own_table_alone() -> None:
    text = "[a.b]\nusual = 1\n[a.c]\nusual = 2\n"
    assert set_keys(text, "[a.c]", {"usual": "3"}) == "[a.b]\nusual = 1\n[a.c]\nusual = 3\n"
    assert set_keys("", "[a.c]", {"usual": "3"}) == "[a.c]\nusual = 3\n"
