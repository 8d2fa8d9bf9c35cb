"""Pictures in drawings, by their corners: as worn, turned with their sleeve; on a sheet; in tables; in part."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose.pages.proof.garment_drawings import draw_placed_picture
from impose.pages.proof.sheet_drawing import _draw_swatch, draw_spot, draw_worn_picture, place_picture
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


def map_corners(a: float, b: float, c: float, d: float, e: float, f: float) -> list[tuple[float, float]]:
    """Where the upper left, upper right and lower left corners of the unit square lie (SVG 2, "transform")."""
    return [(round(a * x + c * y + e, 6), round(b * x + d * y + f, 6)) for x, y in ((0, 0), (1, 0), (0, 1))]


def make_placed(turned: int = 0, picture: Any = "owl") -> Any:
    piece = SimpleNamespace(picture=picture, ink_w_mm=60.0, ink_h_mm=30.0)
    return SimpleNamespace(transfer=SimpleNamespace(piece=piece), ink=BOX, turned=turned)


GALLERY = cast(Any, SimpleNamespace(picture_name=lambda picture: "p-owl"))


@pytest.mark.parametrize("turned", [0, 90])
def test_on_the_sheet_a_picture_lies_as_it_is_stored_or_a_quarter_clockwise(turned: int) -> None:
    (use,) = parsed(str(place_picture(GALLERY, make_placed(turned)))).all("use")
    assert tuple(map_corners(*matrix(use))) == CORNERS[turned]


def test_in_tables_a_picture_is_unmirrored_and_a_spot_is_framed_so_that_it_is_seen() -> None:
    """What is stored is mirrored: its upper left corner is looked at on the right."""
    read = parsed(str(draw_worn_picture(GALLERY, make_placed())))
    assert map_corners(*matrix(read.all("use")[0])) == [(60, 0), (0, 0), (60, 30)]
    assert read.all("svg")[0].attributes["viewbox"] == "0 0 60 30"
    for spot, frame in ((Box(10, 5, 20, 10), (10, 5, 20, 10)), (Box(30, 15, 1, 0.4), (29.3, 14, 2.4, 2.4))):
        read = parsed(str(draw_spot(GALLERY, make_placed(), spot)))
        assert map_corners(*matrix(read.all("use")[0])) == [(60, 0), (0, 0), (60, 30)]
        assert read.all("svg")[0].attributes["viewbox"] == "0 0 60 30"
        (box,) = read.all("rect")
        assert [float(box.attributes[key]) for key in ("x", "y", "width", "height")] == pytest.approx(frame)


def test_a_swatch_shows_its_part_of_the_picture_and_no_other() -> None:
    """Of 200 x 100 pixels of ink, stored mirrored, the part of 50 x 40 that begins 20 and 10 pixels within."""
    swatch: Any = SimpleNamespace(
        piece=SimpleNamespace(picture=SimpleNamespace(ink=(10, 20, 210, 120))),
        picture=SimpleNamespace(ink=(30, 30, 80, 70)), ink=Box(5, 6, 25, 20), words=(),
    )  # fmt: skip
    (window,) = parsed(str(_draw_swatch(swatch, cast(Any, SimpleNamespace(gallery=GALLERY))))).all("svg")
    left, top, wide, high = (float(value) for value in window.attributes["viewbox"].split())
    assert (left, top, wide, high) == pytest.approx((130 / 200, 10 / 100, 50 / 200, 40 / 100))
    assert window.attributes["preserveaspectratio"] == "none", "a unit square is no shape of a picture"
    assert [float(window.attributes[key]) for key in ("x", "y", "width", "height")] == [5, 6, 25, 20]
