"""Joining ticks of panels: where the neighbour's edge has to lie, judged by the printed page and the artwork."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import drawn
from conftest import draw
from impose.run import Options, plan, produce

TICK_MM = 3.0  # the drawing of the transfer's anatomy: ticks are 3 mm long
JOIN_MM = 0.8  # and stand in pairs, 0.8 mm to either side of the line


@pytest.mark.parametrize(("width", "height"), [(320, 120), (120, 320)])
def test_join_ticks_are_mirrored_with_the_print(tmp_path: Path, width: int, height: int) -> None:
    """Panel 1 is the left one as worn. Printed face up it is mirrored, so that it joins at its printed left edge; and
    panel 2, the right one, at its printed right edge. Panels above each other join below and above, mirrored or not."""
    draw("noise", width, height, 5).save(tmp_path / "sky.png")
    (tmp_path / "one.csv").write_text(f"art,width,may_turn\nsky.png,{width} mm,no\n", "utf-8")
    settings = {"papers": ["a4"], "panel_overlap": "6 mm"}
    options = Options(settings=settings, oversize="panels", steps=5, workers=1, cache=False)
    out = produce(plan([tmp_path / "one.csv"], options), tmp_path / "out")
    record = json.loads((out / "batch.json").read_text("utf-8"))
    pages = list(drawn.pages(out / "sheets-a4.pdf"))
    seen = 0
    for sheet in record["sheets"]:
        page = pages[sheet["page"] - 1]
        for one in sheet["transfers"]:
            assert one["turned"] == 0
            cell, ink, number = one["cell_mm"], one["ink_mm"], one["panel"]["panel"]
            overlap = one["panel"]["overlap_mm"]
            assert overlap >= 6 - 1e-6
            if width > height:
                edge = ink["x"] if number == 1 else ink["x"] + ink["w"]
                line = edge + overlap / 2 if number == 1 else edge - overlap / 2
                found = _ticks(page, cell, upright=True)
            else:
                edge = ink["y"] + ink["h"] if number == 1 else ink["y"]
                line = edge - overlap / 2 if number == 1 else edge + overlap / 2
                found = _ticks(page, cell, upright=False)
            for at in (line - JOIN_MM, line + JOIN_MM):
                # The pixels that neighbours share may be a few more than the overlap that was asked for.
                assert any(abs(at - tick) < 0.6 for tick in found), (number, at, found)
            seen += 1
    assert seen == 2


def _ticks(page: drawn.Page, cell: dict[str, float], upright: bool) -> list[float]:
    """The places of strokes of a tick's length within a cell."""
    found = []
    for (x1, y1), (x2, y2) in page.lines:
        within = cell["x"] <= min(x1, x2) and max(x1, x2) <= cell["x"] + cell["w"]
        within = within and cell["y"] <= min(y1, y2) and max(y1, y2) <= cell["y"] + cell["h"]
        long = abs(y2 - y1) if upright else abs(x2 - x1)
        thin = abs(x2 - x1) if upright else abs(y2 - y1)
        if within and thin < 1e-3 and long == pytest.approx(TICK_MM, abs=0.01):
            found.append(x1 if upright else y1)
    return found
