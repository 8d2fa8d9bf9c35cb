"""Size advice says what a little less saves; each figure is checked by quoting the smaller batch."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from conftest import draw

pytestmark = pytest.mark.usefixtures("sheets_alone")


def write(folder, rows, heading="order,wearer,art,placement,garment,copies,width"):
    draw("noise", 100, 100).save(folder / "square.png")
    path = folder / "evening.csv"
    path.write_text("\n".join([heading, *rows]) + "\n", "utf-8")
    return path


def quoted(run, path, *more):
    code, out, _ = run("quote", path, "--steps", "300", "--json", *more)
    assert code == 0
    return json.loads(out)


def best(told):
    (one,) = (offer for offer in told["offers"] if offer["best"])
    return Decimal(one["cost"]) + Decimal(one["handling"]["cost"]), sum(one["sheets"].values())


def test_a_little_less_puts_two_prints_on_a_sheet(run, tmp_path):
    """By hand: an A4 is 297 mm long; prints of 123 mm with 14 mm of margin are 151 mm, so one lies on a sheet. The
    printer leaves 3 mm and 14 mm blank, over each of which 2 mm of slack may hang: 284 mm, two prints of 114 mm."""
    path = write(tmp_path, ["A,,square.png,,,6,123 mm"])
    told = quoted(run, path, "-p", "a4")
    (advice,) = told["advice"]
    before, sheets = best(told)
    assert (sheets, advice["saved_sheets"], advice["less_mm"]) == (6, 3, 9.0)
    assert Decimal(advice["saved"]) == 3 * (Decimal("0.15") + Decimal("0.10"))
    width = 123 - advice["less_mm"]
    then = quoted(run, write(tmp_path, [f"A,,square.png,,,6,{width} mm"]), "-p", "a4")
    assert best(then) == (before - Decimal(advice["saved"]), 3)
    more = quoted(run, write(tmp_path, [f"A,,square.png,,,6,{width + 1} mm"]), "-p", "a4")
    assert best(more) == (before, 6), "a millimetre less of it would save nothing"


def test_advice_in_words(run, tmp_path):
    code, out, _ = run("quote", write(tmp_path, ["A,,square.png,,,6,123 mm"]), "-p", "a4", "--steps", "300")
    assert code == 0
    assert "row 2: 9 mm narrower (now 123 mm) saves 0.75 EUR and 3 sheets: 3 a4" in out


def test_all_prints_of_a_placement_change_or_none(run, tmp_path):
    rows = ["A,,square.png,centre-chest,T-shirt adult L,3,", "B,,square.png,centre-chest,T-shirt adult M,3,"]
    path = write(tmp_path, rows)
    for advice in quoted(run, path, "-p", "a4")["advice"]:
        assert (advice["placement"], advice["rows"]) == ("centre-chest", [2, 3])


@pytest.mark.parametrize(("width", "across", "some"), [("92 mm", 240, True), ("80 mm", 204, False)])
def test_never_below_the_least_of_the_placement(run, tmp_path, width, across, some):
    """A left chest on an adult T-shirt is 3 to 4 in wide (placements.toml), so 76.2 mm at least. Of a paper 240 mm wide
    6 mm are not printed, and 2 mm of slack hang over either edge: 238 mm, two prints of 91 mm with their margins. On
    204 mm two of 73 mm would lie side by side."""
    own = tmp_path / "own"
    own.mkdir()
    (own / "papers.toml").write_text(f'[own]\nname = "custom_own_{across}x150mm"\ncost = 0.20\n', "utf-8")
    path = write(tmp_path, [f"A,,square.png,left-chest,T-shirt adult L,4,{width}"])
    told = quoted(run, path, "-p", "own", "--profiles", own)
    assert best(told)[1] == 4
    assert [one["less_mm"] for one in told["advice"]] == ([1.0] if some else [])


def test_large_batches_and_unpriced_paper_are_not_advised_on(run, tmp_path):
    assert quoted(run, write(tmp_path, ["A,,square.png,,,501,123 mm"]), "-p", "a4")["advice"] == []
    assert quoted(run, write(tmp_path, ["A,,square.png,,,6,123 mm"]), "-p", "211x297mm")["advice"] == []
