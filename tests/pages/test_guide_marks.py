"""The strokes of a placement guide: short ones across the edges of the print, the one that is measured longest."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose.pages import guide
from impose.pages.tickets.views import ViewFrame
from impose.units import Box
from pages.remembered import Remembered


@pytest.mark.parametrize("centre", [0.0, 70.0, -70.0])
@pytest.mark.parametrize("measured", [120.0, 150.0, 180.0])
def test_the_middle_of_a_print_is_marked_across_its_edges(monkeypatch, centre: float, measured: float) -> None:
    """A print on the centre line has that line for its middle; one beside it has strokes of its own."""
    monkeypatch.setattr(guide, "_list_words", lambda _: [])
    monkeypatch.setattr(guide, "_draw_up", lambda *_: None)
    canvas, box = Remembered(), Box(centre - 40, 120, 80, 60)
    made: Any = SimpleNamespace(spot=SimpleNamespace(box=box), open_side="", measured_y=measured)
    guide._draw_print(cast(Any, canvas), made, ViewFrame(0.0, 0.0, 1.0))
    (drawn,) = canvas.boxes
    assert drawn == box
    level = [line for line, _ in canvas.lines if line[1] == line[3]]
    upright = [line for line, _ in canvas.lines if line[0] == line[2]]
    edges = [line for line in level if line[1] == measured and line[0] < box.x and line[2] > box.right]
    assert len(edges) == 1, "what is measured goes beyond the print on both sides"
    short = [line for line in level if line not in edges]
    assert sorted((x1 + x2) / 2 for x1, _, x2, _ in short) == pytest.approx([box.x, box.right])
    assert all(y == box.centre[1] and 4 < x2 - x1 < 12 for x1, y, x2, _ in short)
    assert len(upright) == (2 if centre else 0)
    for edge, (x, y1, _, y2) in zip((box.y, box.bottom), upright, strict=False):
        assert x == centre
        assert y1 < edge - 1.5 < edge + 1.5 < y2, "it crosses the edge"
        assert y2 - y1 < 12
