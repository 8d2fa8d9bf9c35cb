"""Sizes by the smallest garment of a run, and the cloth's allowance, kept apart from the printer's."""

from __future__ import annotations

import json
from pathlib import Path

import pikepdf
import pytest

from conftest import draw
from impose.errors import Trouble
from impose.run import Options, plan, produce

INCH = 25.4
HEADING = "order,wearer,art,placement,garment,width"


def planned(folder: Path, lines: list[str], own: dict[str, str] | None = None, **settings: object):
    draw("noise", 300, 200, 1).save(folder / "owl.png")
    draw("words", 60, 240, 2).save(folder / "tall.png")
    (folder / "one.csv").write_text("\n".join([HEADING, *lines]) + "\n", "utf-8")
    profiles = None
    if own:
        profiles = folder / "own"
        profiles.mkdir(exist_ok=True)
        for name, text in own.items():
            (profiles / name).write_text(text, "utf-8")
    values = {"papers": ["a4", "13x19"], **settings}
    return plan([folder / "one.csv"], Options(settings=values, profiles_dir=profiles, steps=10, workers=1))


def transfers(made) -> dict[str, dict]:
    return {t["wearer"]: t for sheet in made.record["sheets"] for t in sheet["transfers"]}


def long_side(transfer: dict) -> float:
    return max(transfer["ink_mm"]["w"], transfer["ink_mm"]["h"])


RUN = ["R-1,Ada,owl.png,full-front,T-shirt youth M,", "R-1,Bo,owl.png,full-front,T-shirt adult M,",
       "R-1,Cy,owl.png,full-front,T-shirt adult L,8 in", "R-2,Di,owl.png,full-front,T-shirt adult M,"]  # fmt: skip


def test_the_smallest_garment_decides_for_its_order_and_an_explicit_width_wins(tmp_path: Path) -> None:
    """One shop's rule: the smallest garment in the run sets the size. Trade pages: youth 9 in, adult 11 in wide."""
    made = transfers(planned(tmp_path, RUN, smallest_decides=True))
    assert long_side(made["Ada"]) == pytest.approx(9 * INCH)
    assert long_side(made["Bo"]) == pytest.approx(9 * INCH)
    assert long_side(made["Cy"]) == pytest.approx(8 * INCH)
    assert long_side(made["Di"]) == pytest.approx(11 * INCH)  # another order is another run


def test_without_the_setting_every_garment_has_its_own_size(tmp_path: Path) -> None:
    made = transfers(planned(tmp_path, RUN))
    assert long_side(made["Bo"]) == pytest.approx(11 * INCH)


CLOTH = {"garments.toml": "[kinds.hoodie]\nscale_x = 1.01\nscale_y = 1.02\n"}


def test_the_cloths_allowance_is_on_paper_and_in_the_record(tmp_path: Path) -> None:
    """90 mm across and 60 mm along: 90 x 1.01 = 90.9 and 60 x 1.02 = 61.2 mm on paper."""
    made = transfers(
        planned(
            tmp_path,
            ["R-1,Ada,owl.png,left-chest,hoodie adult M,90 mm", "R-1,Bo,owl.png,left-chest,T-shirt adult M,90 mm"],
            CLOTH,
        )
    )
    ink = made["Ada"]["ink_mm"]
    assert sorted((ink["w"], ink["h"])) == pytest.approx([61.2, 90.9])
    assert made["Ada"]["cloth"] == [1.01, 1.02]
    assert sorted((made["Bo"]["ink_mm"]["w"], made["Bo"]["ink_mm"]["h"])) == pytest.approx([60, 90])


def test_on_a_sleeve_the_artworks_width_runs_along_the_cloth(tmp_path: Path) -> None:
    made = transfers(planned(tmp_path, ["R-1,Ada,owl.png,left-long-sleeve,hoodie adult M,90 mm"], CLOTH))
    ink = made["Ada"]["ink_mm"]
    assert sorted((ink["w"], ink["h"])) == pytest.approx([60.6, 91.8])


def test_the_printers_correction_is_beside_it_and_not_in_the_record(tmp_path: Path) -> None:
    own = {**CLOTH, "printers.toml": '[short]\nleft="3 mm"\ntop="3 mm"\nright="3 mm"\nbottom="14 mm"\nscale_x = 0.99\n'}
    made = planned(tmp_path, ["R-1,Ada,owl.png,left-chest,hoodie adult M,90 mm"], own, printer="short")
    (one,) = transfers(made).values()
    assert max(one["ink_mm"]["w"], one["ink_mm"]["h"]) == pytest.approx(90.9)
    out = produce(made, tmp_path / "out")
    with pikepdf.open(out / json.loads((out / "batch.json").read_text())["sheets"][0]["file"]) as document:
        first = next(iter(pikepdf.parse_content_stream(document.pages[0])))
    assert str(first.operator) == "cm"
    assert float(first.operands[0]) == pytest.approx(1 / 0.99, abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "press", "printer", "fine"),
    [  # the product of all, the printer's correction being 1 / scale, has to lie in 0.95 to 1.06
        ("1.03", "1.02", "1.0", True),  # 1.0506
        ("1.04", "1.03", "1.0", False),  # 1.0712
        ("1.05", "1.0", "0.98", False),  # 1.0714
        ("1.05", "1.0", "1.0", True),
        ("0.94", "1.0", "1.0", False),
        ("0.96", "1.0", "1.02", False),  # 0.9412
    ],
)
def test_a_product_outside_0_95_to_1_06_is_refused(
    tmp_path: Path, kind: str, press: str, printer: str, fine: bool
) -> None:
    own = {
        "garments.toml": f"[kinds.hoodie]\nscale_x = {kind}\n",
        "presses.toml": f'["16x20"]\nscale_x = {press}\n',
        "printers.toml": f"[careful]\nscale_x = {printer}\n",
    }
    lines = ["R-1,Ada,owl.png,left-chest,hoodie adult M,90 mm"]
    if fine:
        planned(tmp_path, lines, own)
        return
    with pytest.raises(Trouble, match="scale_x of hoodie") as caught:
        planned(tmp_path, lines, own)
    assert caught.value.exit == 2
    assert "0.95 to 1.06" in str(caught.value)


def test_sleeve_art_that_stands_tall_is_a_finding(tmp_path: Path) -> None:
    """Artwork along an arm is supplied as it is read; 60 x 240 pixels is 4 times as tall as wide."""
    made = planned(tmp_path, ["R-1,Ada,tall.png,left-long-sleeve,hoodie adult M,20 mm",
                              "R-1,Ada,owl.png,right-long-sleeve,hoodie adult M,90 mm"])  # fmt: skip
    found = [one for one in made.findings if one.kind == "turned-art"]
    assert [one.row for one in found] == [2]


@pytest.mark.parametrize("garment", ["hoodie toddler 2T", "T-shirt toddler 3T"])
def test_where_no_value_is_known_a_width_is_asked_for_and_no_adults_is_scaled(tmp_path: Path, garment: str) -> None:
    """Nobody gives a toddler's long sleeve."""
    with pytest.raises(Trouble, match="Measure the garment and give a width"):
        planned(tmp_path, [f"R-1,Ada,owl.png,left-long-sleeve,{garment},"])
