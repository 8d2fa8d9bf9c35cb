"""Cloth against what the trade says of it: sources stand beside the figures."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from each_case import try_each
from impose import files
from impose.errors import Severity
from impose.profiles.cloth import Cloth
from impose.profiles.profiles import Profiles, load_profiles
from impose.run import Options, check, plan

HEADING = "order,wearer,art,placement,garment,cloth,cloth_colour,accept"


@pytest.fixture(scope="module")
def profiles() -> Profiles:
    return load_profiles(files.find_shipped_profiles())


@pytest.fixture
def said(batch: Callable[..., Path]) -> Callable[..., dict[str, Severity]]:
    def run(cloth: str = "", colour: str = "", accept: str = "", placement: str = "left-chest") -> dict[str, Severity]:
        line = f'A,Ada,a.png,{placement},hoodie adult M,"{cloth}","{colour}",{accept}'
        path = batch([line], {"a.png": ("ellipse", 900, 900)}, HEADING)
        found = check([path], Options(settings={"papers": ["a3"]}, cache=False)).findings
        return {finding.kind: finding.severity for finding in found}

    return run


@try_each(
    "text, share",
    [
        ("polyester", 100), ("100% polyester", 100), ("100 % recycled polyester", 100),
        ("80% polyester 20% cotton", 80),
        ("65/35 polyester/cotton", 65), ("polyester 52 %, cotton 48 %", 52), ("cotton", 0),
        ("65% polyester", 65), ("95% polyester, 5% elastane", 95), ("60% cotton, 40% polyester", 40),
        ("60% organic cotton 40% recycled polyester", 40), ("100% polyester microfibre", 100), ("rPET fleece", 100),
        ("polycotton 65/35", 65), ("65/35 polycotton", 65), ("polycotton (65/35)", 65), ("cotton, polyester 48", 48),
    ],
)  # fmt: skip
def test_shares_are_read_as_labels_write_them(profiles: Profiles, text: str, share: float) -> None:
    cloth = profiles.wardrobe.cloth_words.read_cloth(text, "")
    assert dict(cloth.shares).get("polyester", 0) == share
    assert not cloth.unknown


@try_each(
    "fibres",
    [
        {"polyester": 60, "cotton": 30, "elastane": 10}, {"cotton": 50, "polyester": 38, "viscose": 12},
        {"polyester": 65, "cotton": 35}, {"cotton": 52, "polyester": 48}, {"polyester": 100},
    ],
)  # fmt: skip
def test_a_share_belongs_to_the_fibre_that_it_stands_by(profiles: Profiles, fibres: dict[str, int]) -> None:
    """Labels name each fibre with its share, the largest first (Regulation (EU) No 1007/2011, article 9)."""
    names, shares = "/".join(fibres), "/".join(str(share) for share in fibres.values())
    last = list(fibres)[-1]
    rest = {name: share for name, share in fibres.items() if name != last}
    for text in (
        " ".join(f"{share}% {name}" for name, share in fibres.items()),
        ", ".join(f"{name} {share} %" for name, share in fibres.items()),
        ", ".join(f"{share} {name}" for name, share in fibres.items()),
        f"{shares} {names}", f"{names} {shares}",
        # The last one said without a share has what is left.
        " ".join([*(f"{name} {share}" for name, share in rest.items()), last]),
        " ".join([*(f"{share}% {name}" for name, share in rest.items()), last]),
    ):  # fmt: skip
        assert dict(profiles.wardrobe.cloth_words.read_cloth(text, "").shares) == fibres, text


@pytest.mark.parametrize(
    ("share", "kind"),
    # Five trade pages: all polyester best, 65 % or more workable, lower washed out, cotton holds none.
    [(100, None), (99, "cloth-blend"), (65, "cloth-blend"), (64, "cloth"), (50, "cloth"), (1, "cloth")],
)
def test_the_share_of_polyester_decides(said, share: int, kind: str | None) -> None:
    found = said(f"{share}% polyester {100 - share}% cotton" if share < 100 else "100% polyester")
    assert {one for one in found if one.startswith("cloth")} == ({kind} if kind else set())
    assert not kind or found[kind] is (Severity.STOP if kind == "cloth" else Severity.WARN)


@pytest.mark.parametrize(
    "text",
    ["nylon", "80% polyester 20% acrylic", "polypropylene", "90% polyester 10% polyamide", "polyester 10% modacrylic"],
)
def test_what_can_melt_stops_in_any_share(said, text: str) -> None:
    """Handbook knowledge, from memory: all three soften at press temperatures of 185 to 205 °C."""
    assert said(text)["cloth"] is Severity.STOP


def test_cotton_and_a_blend_without_its_share_stop(said) -> None:
    assert said("cotton")["cloth"] is Severity.STOP
    assert said("polycotton")["cloth"] is Severity.STOP


def test_an_unknown_word_is_quoted(said, batch: Callable[..., Path]) -> None:
    assert said("bamboo")["cloth-unknown"] is Severity.WARN
    path = batch(["A,Ada,a.png,left-chest,hoodie,hemp,taupe,"], {"a.png": ("ellipse", 900, 900)}, HEADING)
    told = [f.what for f in check([path], Options(cache=False)).findings if f.kind == "cloth-unknown"]
    assert ["“hemp”" in told[0], "“taupe”" in told[1]] == [True, True]


def test_dark_cloth_stops_until_it_is_accepted(said) -> None:
    """Dye can only darken: white is a void of the colour (trade magazine, 2017-04)."""
    assert said(colour="navy")["dark-cloth"] is Severity.STOP
    assert said(colour="navy", accept="dark-cloth")["dark-cloth"] is Severity.WARN
    assert said(colour="cream")["light-cloth"] is Severity.WARN
    assert not {"dark-cloth", "light-cloth"} & said(colour="white").keys()


def test_dyed_parts_are_named_and_stop_where_they_are_printed_on(said) -> None:
    """Dyed polyester bleeds from about 280 °F (four trade pages)."""
    chest = said(colour="white with navy sleeves")
    assert chest["dyed-cloth"] is Severity.WARN
    assert "dark-cloth" not in chest
    assert said(colour="white, navy sleeves", placement="left-long-sleeve")["dark-cloth"] is Severity.STOP
    assert said(colour="white, red lining")["dyed-cloth"] is Severity.WARN


@pytest.mark.parametrize("colour", ["white with coloured lining", "white, contrast sleeves", "contrasting hood"])
def test_a_part_of_a_colour_that_nobody_names_is_dyed(said, colour: str) -> None:
    found = said(colour=colour)
    assert found["dyed-cloth"] is Severity.WARN
    assert "dark-cloth" not in found
    assert "light-cloth" not in found


def test_white_inside_is_said_only_where_the_cloth_is_not_white(tmp_path: Path) -> None:
    from PIL import Image, ImageDraw

    image = Image.new("RGBA", (600, 600), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    pen.ellipse((10, 10, 590, 590), fill="teal")
    pen.ellipse((150, 150, 450, 450), fill="white")
    image.save(tmp_path / "a.png")
    kinds = {}
    for colour in ("", "white", "cream"):
        (tmp_path / "b.csv").write_text(f"art,placement,cloth_colour\na.png,left-chest,{colour}\n", "utf-8")
        kinds[colour] = {f.kind for f in check([tmp_path / "b.csv"], Options(cache=False)).findings}
    assert ["white-inside" in kinds[colour] for colour in ("", "white", "cream")] == [False, False, True]


def test_every_ticket_has_its_line_and_the_record_what_was_said(batch: Callable[..., Path]) -> None:
    from impose.sheet.press_steps import make_tickets

    lines = [
        "A,Ada,a.png,left-chest,hoodie adult M,,,",
        "A,Ben,a.png,left-chest,hoodie adult M,80% polyester 20% cotton,white,",
    ]
    made = plan([batch(lines, {"a.png": ("ellipse", 900, 900)}, HEADING)], Options(cache=False))
    told = [ticket.worn.cloth.words for ticket in make_tickets(made.batch.rows, made.layout, made.profiles)]
    assert told == ["assumed white polyester", "white 80% polyester 20% cotton"]
    said = {one["wearer"]: one.get("fibre") for sheet in made.record["sheets"] for one in sheet["transfers"]}
    assert said == {"Ada": None, "Ben": "80% polyester 20% cotton"}


def test_shares_beyond_the_whole_are_refused(said) -> None:
    assert said("80% polyester 40% cotton")["bad-cloth"] is Severity.STOP


def test_two_cloths_are_two_garments(batch: Callable[..., Path]) -> None:
    lines = ["A,Ada,a.png,left-chest,hoodie,polyester,,", "A,Ada,a.png,full-back,hoodie,80% polyester 20% cotton,,"]
    path = batch(lines, {"a.png": ("ellipse", 900, 900)}, HEADING)
    assert "which-garment" in {f.kind for f in check([path], Options(cache=False)).findings}


def test_nothing_said_is_white_polyester() -> None:
    assert (Cloth().words, Cloth().shade, Cloth().said) == ("assumed white polyester", "white", False)
