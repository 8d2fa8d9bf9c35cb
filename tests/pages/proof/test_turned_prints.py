"""Prints where they are worn, turned with their sleeve: the corners of the picture, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose.pages.proof.garment_drawings import draw_placed_picture
from impose.units import Box
from pages.proof.reading import matrix, parsed

BOX = Box(100, 200, 60, 30)
# Where the picture's upper left, upper right and lower left corners lie, as it is looked at: y grows downwards.
CORNERS = {
    0: ((100, 200), (160, 200), (100, 230)),
    90: ((160, 200), (160, 230), (100, 200)),  # clockwise: what was on top is on the right
    270: ((100, 230), (100, 200), (160, 230)),
}


@pytest.mark.parametrize("turned", CORNERS)
def test_a_print_fills_its_box_turned_as_it_is_worn(turned: int) -> None:
    step: Any = SimpleNamespace(
        spot=SimpleNamespace(box=BOX, turned=turned),
        transfer=SimpleNamespace(piece=SimpleNamespace(picture="owl", panel=None)),
    )
    gallery = SimpleNamespace(picture_name=lambda picture: f"p-{picture}")
    (use,) = parsed(str(draw_placed_picture(step, cast(Any, gallery)))).all("use")
    a, b, c, d, e, f = matrix(use)
    assert use.attributes["href"] == "#p-owl"
    assert ((e, f), (a + e, b + f), (c + e, d + f)) == CORNERS[turned]
