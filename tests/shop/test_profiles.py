"""Profile files: what is shipped, what a shop lays over it, and every fault by file, table and key."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from impose.errors import Exit, Severity, Trouble
from impose.profiles.placement import NAMED_TEARS, split_tear
from impose.profiles.profiles import Profiles, load_profiles


def _faults(shipped: Path, own: Path) -> list[str]:
    with pytest.raises(Trouble) as caught:
        load_profiles(shipped, own)
    assert all(f.file for f in caught.value.findings)
    return [str(f) for f in caught.value.findings]


def test_shipped_printers(profiles: Profiles) -> None:
    """The careful default is common practice: 3 mm all round and 14 mm at the trailing edge."""
    careful = profiles.find_printer("careful")
    assert (careful.left_mm, careful.top_mm, careful.right_mm, careful.bottom_mm) == (3, 3, 3, 14)
    assert (careful.scale_x, careful.scale_y) == (1, 1)
    assert profiles.settings.printer == "careful"
    borderless = profiles.find_printer("borderless")
    assert borderless.left_mm == borderless.top_mm == borderless.right_mm == borderless.bottom_mm == 0
    assert profiles.find_printer("measured").scale_y != 1


def test_the_print_area_of_the_careful_printer(profiles: Profiles) -> None:
    """Worked by hand: paper less 3 + 3 across and 3 + 14 along, in mm."""
    careful = profiles.find_printer("careful")
    by_hand = {"a4": (204.0, 280.0), "letter": (209.9, 262.4), "a3": (291.0, 403.0), "13x19": (324.2, 465.6)}
    for name, area in by_hand.items():
        paper = profiles.find_paper(name)
        assert paper.height_mm is not None
        across = paper.width_mm - careful.left_mm - careful.right_mm
        along = paper.height_mm - careful.top_mm - careful.bottom_mm
        assert (across, along) == pytest.approx(area)


def test_every_setting_says_where_it_came_from(profiles: Profiles, shipped: Path, own: Path) -> None:
    assert {origin for _, _, origin in profiles.settings.list_shown()} == {"shipped settings.toml"}
    (own / "settings.toml").write_text('units = "in"\npapers = ["letter", "legal"]\n')
    mine = load_profiles(shipped, own).settings
    assert mine.units == "in"
    assert mine.papers == ("letter", "legal")
    assert mine.currency == "EUR"
    origins = {name: origin for name, _, origin in mine.list_shown()}
    assert origins["units"] == str(own / "settings.toml")
    assert origins["tint"] == "shipped settings.toml"


def test_nearer_sources_are_laid_over(profiles: Profiles) -> None:
    settings = profiles.settings.lay_over({"units": "in", "ppi_warn": "120"}, "IMPOSE_…")
    settings = settings.lay_over({"papers": "a3, 13x19", "keep_upright": "yes", "tear": "12 mm"}, "the command")
    assert (settings.units, settings.ppi_warn, settings.papers) == ("in", 120, ("a3", "13x19"))
    assert settings.keep_upright
    assert settings.tear == split_tear(12)
    assert settings.origins["units"] == "IMPOSE_…"
    assert settings.origins["tear"] == "the command"
    assert profiles.settings.units == "mm", "the settings below are untouched"


def test_overlays_report_every_fault(profiles: Profiles) -> None:
    with pytest.raises(Trouble) as caught:
        profiles.settings.lay_over({"unit": "in", "tint": "2", "keep_upright": "perhaps", "tear": "3 mm"}, "IMPOSE_…")
    text = str(caught.value)
    assert len(caught.value.findings) == 4
    assert "“units”" in text
    assert caught.value.exit is Exit.USAGE


def test_own_files_change_keys_and_add_tables(shipped: Path, own: Path) -> None:
    (own / "papers.toml").write_text(
        '[a4]\ncost = 0.31\n[a3-plus]\nname = "custom_a3-plus_329x483mm"\naliases = ["A3+"]\ncost = "0.5"\n'
    )
    (own / "placements.toml").write_text('[left-chest.sizes.adult]\nwidth = "95 mm"\n', encoding="utf-8-sig")
    mine = load_profiles(shipped, own)
    assert mine.find_paper("a4").cost == Decimal("0.31")
    assert mine.find_paper("a4").width_mm == 210, "keys that are not named stay"
    assert mine.find_paper("A3+").width_mm == 329, "a shop that has measured its sheet may use the name"
    rule = mine.require_placement("left-chest").sizes["adult"]
    assert (rule.width_mm, rule.height_mm) == (95, 101.6)
    assert mine.origins["papers.a4.cost"] == str(own / "papers.toml")
    assert mine.origins["papers.a4.name"] == "shipped papers.toml"


def test_every_fault_of_every_file_at_once(shipped: Path, own: Path) -> None:
    (own / "papers.toml").write_text('[a4]\ncots = 1\ncost = -1\n[mine]\nname = "iso_a4_210x297in"\n')
    (own / "printers.toml").write_text('[careful]\nleft = 3\nscale_x = 1.2\nbottom = "14"\n')
    (own / "placements.toml").write_text(
        '[left-chest]\nup = "DOWN"\n[left-chest.sizes.grown-up]\nwidth = "1 in"\nsource = "x"\n'
    )
    (own / "settings.toml").write_text('units = "cm"\nprinter = "carful"\ntear = "4 mm"\n[extra]\n')
    faults = _faults(shipped, own)
    text = "\n".join(faults)
    for expected in (
        "papers.toml: table [a4], key cots: not a key that is known here. Did you mean “cost”?",
        "papers.toml: table [a4], key cost: has to be a number from 0 to 100000",
        "papers.toml: table [mine], key name: not a paper name of PWG 5101.1",
        "papers.toml: table [mine], key cost: missing",
        "printers.toml: table [careful], key left: has to be a length in quotes",
        "printers.toml: table [careful], key scale_x: has to be a number from 0.95 to 1.06",
        "printers.toml: table [careful], key bottom: no unit",
        "placements.toml: table [left-chest], key up: not one of the choices",
        "placements.toml: table [left-chest.sizes.grown-up]: not a garment group",
        "settings.toml: top level, key units: not one of the choices",
        "settings.toml: top level, key printer: names nothing that is on file",
        "settings.toml: top level, key tear: a tear margin under 5 mm",
        "settings.toml: top level, key extra: not a key that is known here",
    ):
        assert expected in text, expected
    assert len(faults) == 13


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"[a4\n", "row 1: not TOML"),
        (b'[a4]\ncost = 1\n\nnote = "\xe9"\n', "row 4: not UTF-8 text"),
        (b"[a4]\ncost = 1\ncost = 2\n", "not TOML"),
        (b"a4 = 3\n", "key a4: stands outside any table"),
        (b"[a4]\nname = 3\n", "has to be a text in quotes"),
        (b"[a4]\ncost = nan\n", "has to be a number"),
        (b"[a4]\ncost = true\n", "has to be a number"),
        (b"[a4]\ncost = 1979-05-27\n", "has to be a number"),
        (b"[a4]\ncost = 0.12345678\n", "finer than millionths"),
        (b'[a4]\naliases = ["x", 3]\n', "has to be a list of texts"),
        (b'[a3]\naliases = ["A 4"]\n', "answers to the same name as"),
        (b'[a4]\nmax_length = "1000 mm"\n', "for rolls only"),
        (b'["a 4"]\ncost = 1\nname = "iso_a4_210x297mm"\n', "small letters"),
        (b"x = " + b"[" * 5000, "nested too deeply"),
    ],
)
def test_broken_paper_files(shipped: Path, own: Path, content: bytes, expected: str) -> None:
    (own / "papers.toml").write_bytes(content)
    assert any(expected in fault for fault in _faults(shipped, own)), _faults(shipped, own)


def test_a_misnamed_file_would_do_nothing_and_is_refused(shipped: Path, own: Path) -> None:
    (own / "paper.toml").write_text("")
    assert "papers.toml" in _faults(shipped, own)[0]


def test_folders_that_are_none(shipped: Path, own: Path, tmp_path: Path) -> None:
    with pytest.raises(Trouble) as caught:
        load_profiles(shipped, tmp_path / "nowhere")
    assert caught.value.exit is Exit.USAGE
    findings = load_profiles(shipped, own).findings
    assert [f.severity for f in findings] == [Severity.NOTE]
    (own / "papers.toml").mkdir()
    with pytest.raises(Trouble) as caught:
        load_profiles(shipped, own)
    assert caught.value.exit is Exit.SYSTEM


def test_tear_margins() -> None:
    """14 mm is 5, 4, 5 and 10 mm is 3, 3, 4, the shop's own split (common practice, no source)."""
    normal, tight = NAMED_TEARS["normal"], NAMED_TEARS["tight"]
    assert (normal.kept_mm, normal.zone_mm, normal.band_mm, normal.slack_mm) == (5, 4, 5, 2)
    assert (tight.kept_mm, tight.zone_mm, tight.band_mm, tight.slack_mm) == (3, 3, 4, 1)
    assert (split_tear(23).kept_mm, split_tear(23).zone_mm, split_tear(23).band_mm) == (10, 8, 5)
    assert (split_tear(5).kept_mm, split_tear(5).zone_mm, split_tear(5).band_mm) == (1, 1, 3)


def test_any_tear_margin_adds_up_and_carries_its_marks() -> None:
    for tenths in range(50, 400):
        tear, wider = split_tear(tenths / 10), split_tear(tenths / 10 + 0.1)
        assert tear.total_mm == pytest.approx(tenths / 10), tenths
        assert 3 <= tear.band_mm <= 5, tenths
        assert min(tear.kept_mm, tear.zone_mm) >= 1, tenths
        assert wider.kept_mm >= tear.kept_mm - 1e-6, tenths
        assert wider.band_mm >= tear.band_mm - 1e-6, tenths


@pytest.mark.parametrize("total", [4.999, 0, -1, float("nan")])
def test_no_thinner_tear_margin(total: float) -> None:
    with pytest.raises(ValueError, match="at least 5 mm"):
        split_tear(total)


def test_presses_are_starting_points(profiles: Profiles, shipped: Path) -> None:
    """Trade pages: 185 to 205 degrees C, 30 to 60 s; the large platen is 16 x 20 in (common practice)."""
    press = profiles.find_press("16x20")
    assert (press.platen_width_mm, press.platen_height_mm) == pytest.approx((406.4, 508))
    assert press.holds_print(355.6, 457.2), "14 x 18 in is left inside a border of 1 in"
    assert press.holds_print(457.2, 355.6)
    assert not press.holds_print(356, 457.2)
    assert (press.temperature_c, press.temperature_f) == (196, 385), "196 x 9/5 + 32"
    for each in profiles.presses.values():
        assert 180 <= each.temperature_c <= 210
        assert 30 <= each.seconds <= 60
    assert "TESTED ON SCRAP" in (shipped / "presses.toml").read_text()


def test_a_key_that_may_be_missing_is_known_where_it_is_missing(shipped: Path, own: Path) -> None:
    (own / "printers.toml").write_text('[mine]\nfeed = "330 mm"\n')
    assert "feed_width" in " ".join(_faults(shipped, own))
