"""The largest clean piece left is clean, and no larger one is there, by trying every rectangle between edges."""

from __future__ import annotations

import itertools
import random
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from impose.run import Options, plan
from impose.run.offcuts import find_offcut
from impose.units import Box

EXAMPLE = Path(__file__).parents[2] / "examples" / "lantern-night" / "orders.csv"
CLEAR_MM = 2.0  # what the document on reprints says a second printing keeps clear
SLACK = 2e-3  # the record rounds


def test_the_largest_clean_piece_is_told():
    record = plan([EXAMPLE], Options(settings={"papers": ["a4", "13x19"]}, steps=0)).record
    kept = record["offcut"]
    assert kept["sheet"] == max(s["sheet"] for s in record["sheets"] if s["paper"] == kept["paper"])
    sheet = record["sheets"][kept["sheet"] - 1]
    taken = [grown(box) for box in [*(one["cell_mm"] for one in sheet["transfers"]), *sheet["marks_mm"]]]
    left, top, right, bottom = edges(sheet["printable_mm"])
    place = edges(kept["place_mm"])
    assert place[0] >= left - SLACK
    assert place[1] >= top - SLACK
    assert place[2] <= right + SLACK
    assert place[3] <= bottom + SLACK
    assert not any(meet(place, box) for box in taken)
    across = sorted({left, right, *(x for box in taken for x in (box[0], box[2]) if left < x < right)})
    down = sorted({top, bottom, *(y for box in taken for y in (box[1], box[3]) if top < y < bottom)})
    free = [
        (x2 - x1) * (y2 - y1)
        for x1, x2 in itertools.combinations(across, 2)
        for y1, y2 in itertools.combinations(down, 2)
        if not any(meet((x1, y1, x2, y2), box) for box in taken)
    ]
    assert abs(max(free) - kept["place_mm"]["w"] * kept["place_mm"]["h"]) < 1.0


def edges(box):
    return box["x"], box["y"], box["x"] + box["w"], box["y"] + box["h"]


def grown(box):
    left, top, right, bottom = edges(box)
    return left - CLEAR_MM, top - CLEAR_MM, right + CLEAR_MM, bottom + CLEAR_MM


def meet(one, other):
    return (
        one[0] < other[2] - 2e-3 and other[0] < one[2] - 2e-3 and one[1] < other[3] - 2e-3 and other[1] < one[3] - 2e-3
    )


@pytest.mark.parametrize("seed", range(3))
def test_the_largest_clean_rectangle_is_told_of_the_last_sheet_of_each_paper(seed: int) -> None:
    """By trying every rectangle of whole centimetres: as clear as a second printing, on the emptiest sheet alone."""
    chance = random.Random(seed)
    clear = 10 * round(CLEAR_MM / 10) or 10

    def lay(number: int, paper: str) -> Any:
        cells = [Box(10 * chance.randint(0, 15) + clear, 10 * chance.randint(0, 20) + clear, 10 * chance.randint(1, 6),
                     10 * chance.randint(1, 6)) for _ in range(chance.randint(1, 4))]  # fmt: skip
        placed = [SimpleNamespace(cell=box.inset_by(*[CLEAR_MM - clear] * 4)) for box in cells]
        return SimpleNamespace(
            number=number, paper=SimpleNamespace(name=paper), placed=placed, marks=(), area=Box(0, 0, 200, 280)
        )

    def find_most(sheet: Any) -> float:
        taken = [placed.cell.inset_by(*[-CLEAR_MM] * 4) for placed in sheet.placed]
        most = 0.0
        for x, y in itertools.product(range(0, 200, 10), range(0, 280, 10)):
            for w, h in itertools.product(range(60, 210 - x, 10), range(60, 290 - y, 10)):
                if w * h > most and not any(Box(x, y, w, h).overlaps_box(box) for box in taken):
                    most = w * h
        return most

    sheets = [lay(1, "a4"), lay(2, "a4"), lay(3, "a3")]
    found = find_offcut(sheets)
    best = {sheet.number: find_most(sheet) for sheet in sheets[1:]}
    assert found is not None
    place = found["place_mm"]
    assert place["w"] * place["h"] == pytest.approx(max(best.values()))
    assert best[found["sheet"]] == max(best.values())
    assert found["paper"] == ("a4" if found["sheet"] == 2 else "a3")
    tight = replace_area(sheets[1], Box(0, 0, 59, 280))
    assert find_offcut([tight]) is None


def replace_area(sheet: Any, area: Box) -> Any:
    return SimpleNamespace(**{**vars(sheet), "area": area})
