"""The largest clean piece left is clean, and no larger one is there, by trying every rectangle between edges."""

from __future__ import annotations

import itertools
from pathlib import Path

from impose.run import Options, plan

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
