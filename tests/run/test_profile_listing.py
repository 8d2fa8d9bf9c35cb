"""The tables of profiles, held against the shipped TOML files as the standard library reads them, and a shop's own."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from impose import files
from impose.errors import Trouble
from impose.run import Options
from impose.run.profile_listing import copy_profiles, list_profiles

SHIPPED = files.find_shipped_profiles()
SHELVES = {
    "papers",
    "printers",
    "placements",
    "garments",
    "presses",
    "pads",
    "lettering",
    "settings",
    "prices",
    "texts",
}


def read_shipped(kind: str) -> dict[str, Any]:
    return tomllib.loads((SHIPPED / f"{kind}.toml").read_text("utf-8"))


@pytest.fixture(scope="module")
def listed() -> dict[str, list[tuple[str, ...]]]:
    return list_profiles(Options())


def test_every_shelf_is_listed_and_one_alone_when_asked_for(listed) -> None:
    assert set(listed) == SHELVES
    assert all(rows for rows in listed.values())
    assert list_profiles(Options(), "presses") == {"presses": listed["presses"]}
    assert list_profiles(Options(), "socks") == {}


@pytest.mark.parametrize("kind", ["papers", "printers", "placements", "presses", "pads", "lettering"])
def test_each_profile_of_a_shelf_is_there_with_the_file_it_came_from(listed, kind: str) -> None:
    told = {row[0] for row in listed[kind]}
    assert told >= {name for name in read_shipped(kind) if isinstance(read_shipped(kind)[name], dict)}
    assert all(f"{kind}.toml" in row[-1] for row in listed[kind])
    assert len({len(row) for row in listed[kind]}) == 1


def test_presses_pads_and_lettering_say_what_their_files_say(listed) -> None:
    """Lengths in the shipped unit; degrees Fahrenheit are 9/5 of Celsius and 32 more."""
    for name, platen, clear, start, *_ in listed["presses"]:
        press = read_shipped("presses")[name]
        assert f"{press['temperature_c']} °C ({round(press['temperature_c'] * 9 / 5 + 32)} °F)" in start
        assert f"{press['seconds']} s, {press['pressure']} pressure" in start
        wide, high = (part.removesuffix(" mm").replace(",", "") for part in platen.split(" × "))
        assert (float(wide), float(high)) == pytest.approx(
            tuple(read_mm(press[f"platen_{side}"]) for side in ("width", "height")), abs=0.06
        )
        assert float(clear.removesuffix(" mm clear")) == pytest.approx(read_mm(press["border"]), abs=0.06)
    for name, size, card, owned, _ in listed["pads"]:
        pad = read_shipped("pads")[name]
        assert float(size.split(" mm")[0]) == pytest.approx(read_mm(pad["width"]), abs=0.06)
        assert (card == "card, may be folded once") is pad.get("card", False)
        assert (owned == "not owned") is (not pad.get("owned", True))
    for name, font, look, _ in listed["lettering"]:
        style = read_shipped("lettering")[name]
        assert font == (style.get("font") or "the tool's own face")
        assert look.startswith(style["colour"])
        assert ("outline " in look) is ("outline" in style)
        assert ("arc " in look) is bool(style.get("arc"))


def read_mm(text: str) -> float:
    number, unit = text.split()
    return float(number) * {"mm": 1, "cm": 10, "in": 25.4}[unit]


def test_garments_have_their_words_and_groups_their_sizes(listed) -> None:
    told = {(row[0], row[1]): row[2].split(", ") for row in listed["garments"]}
    shipped = read_shipped("garments")
    assert {name for kind, name in told if kind == "kind"} == set(shipped["kinds"])
    assert {name for kind, name in told if kind == "group"} == set(shipped["groups"])
    for name, kind in shipped["kinds"].items():
        assert set(kind.get("words", [])) <= set(told["kind", name])


def test_prices_that_nobody_entered_are_said_not_to_be_and_own_ones_with_their_unit(listed, tmp_path: Path) -> None:
    rows = {name: value for name, value, _ in listed["prices"]}
    assert rows.pop("spoilage").startswith("0.05 of all prints")
    assert set(rows.values()) == {"not entered"}
    text = 'press_rate = 18\nmarkup = 0.6\ntax = 0.23\nshop = "Low Bridge"\n[blanks]\nhoodie = 15\n[steps]\n30 = 0.1\n'
    (tmp_path / "prices.toml").write_text(text, "utf-8")
    own = {name: (value, origin) for name, value, origin in list_profiles(Options(profiles_dir=tmp_path))["prices"]}
    assert own["press_rate"][0] == "18 EUR an hour"
    assert own["markup"][0] == "0.6 of all costs, added"
    assert own["tax"][0] == "0.23 of the price"
    assert own["shop"][0] == "Low Bridge"
    assert own["blank hoodie"][0] == "15 EUR"
    assert own["from 30"][0] == "0.1 off"
    assert own["power_kw"][0] == own["terms"][0] == "not entered"
    assert all(str(tmp_path) in origin for name, (value, origin) in own.items()
               if value != "not entered" and name != "spoilage")  # fmt: skip
    assert str(tmp_path) not in own["spoilage"][1]


def test_a_size_and_a_drop_of_ones_own_are_listed_in_the_units_of_the_shop(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text('units = "in"\n', "utf-8")
    before = {row[:2]: row for row in list_profiles(Options(), "placements")["placements"]}
    after = {row[:2]: row for row in list_profiles(Options(profiles_dir=tmp_path), "placements")["placements"]}
    assert set(before) == set(after)
    (row,) = [
        row for row in after.values() if row[0] == "left-chest" and "adult" in row and "hoodie" not in str(row[1])
    ]
    assert "3.5 in wide, at most 4 in high" in row
    (row,) = [row for row in before.values() if row[0] == "left-chest" and "adult" in row]
    assert "88.9 mm wide, at most 101.6 mm high" in row


def test_what_is_copied_is_the_shipped_file_and_nothing_is_overwritten(tmp_path: Path) -> None:
    written, left = copy_profiles(tmp_path / "mine", "papers")
    assert ([Path(name).name for name in written], left) == (["papers.toml"], [])
    (tmp_path / "mine" / "papers.toml").write_text("# mine\n", "utf-8")
    written, left = copy_profiles(tmp_path / "mine")
    assert {Path(name).stem for name in written} == {path.stem for path in SHIPPED.glob("*.toml")} - {"papers"}
    assert [Path(name).name for name in left] == ["papers.toml"]
    assert (tmp_path / "mine" / "papers.toml").read_text("utf-8") == "# mine\n"
    for path in SHIPPED.glob("*.toml"):
        if path.stem != "papers":
            assert (tmp_path / "mine" / path.name).read_bytes() == path.read_bytes()
    with pytest.raises(Trouble, match="nothing is overwritten"):
        copy_profiles(tmp_path / "mine", "papers")
