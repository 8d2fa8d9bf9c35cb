"""Prints larger than the platen, by hand: how many heats, and where they meet."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from impose.pages.tickets.heat_joins import choose_joins
from impose.sheet.press_heats import HeatJoin, count_closings, find_heat_joins

INCH = 25.4


def test_a_print_of_16_in_on_a_room_of_14_takes_two_heats_joined_between_2_and_14_in() -> None:
    """Arithmetic: the first heat reaches 14 in from the top, the second 14 in from the bottom of 16."""
    (join,) = find_heat_joins(10 * INCH, 16 * INCH, 14 * INCH, 14 * INCH)
    assert join.axis == "y"
    assert (join.least, join.most) == pytest.approx((2 * INCH, 14 * INCH))
    assert count_closings(10 * INCH, 16 * INCH, 14 * INCH, 14 * INCH) == 2
    assert find_heat_joins(14 * INCH, 14 * INCH, 14 * INCH, 14 * INCH) == ()


def picture(empty: slice, upright: bool = False) -> Image.Image:
    """100 × 200 pixels of ink with a bare band across it."""
    pixels = np.zeros((200, 100), np.uint8)
    pixels[empty] = 255
    return Image.fromarray(pixels.T if upright else pixels)


def test_heats_meet_where_ink_is_least() -> None:
    """A bare band from 120 to 130 of 200 pixels, on a print of 400 mm: its middle lies 250 mm from the top."""
    (found,) = choose_joins([HeatJoin("y", 60.0, 340.0, 340.0)], picture(slice(120, 130)), 0, 200.0, 400.0)
    assert found[0] == "y"
    assert found[1] == pytest.approx(250.0, abs=4.0)


def test_a_bare_band_out_of_reach_does_not_count() -> None:
    (found,) = choose_joins([HeatJoin("y", 160.0, 200.0, 200.0)], picture(slice(120, 130)), 0, 200.0, 400.0)
    assert 160.0 <= found[1] <= 200.0


@pytest.mark.parametrize(("turned", "at"), [(90, 150.0), (270, 250.0)])
def test_a_turned_print_is_joined_where_its_picture_lies(turned: int, at: float) -> None:
    """Turned clockwise by 90 degrees the picture's top is on the right: 250 mm from the top is 150 mm from the left."""
    (found,) = choose_joins([HeatJoin("x", 60.0, 340.0, 340.0)], picture(slice(120, 130)), turned, 400.0, 200.0)
    assert found == ("x", pytest.approx(at, abs=4.0))


def test_three_heats_stay_within_reach_of_each_other() -> None:
    """A room of 100 mm on 250: joins from 50 to 100 and from 150 to 200, never more than 100 apart."""
    joins = find_heat_joins(80.0, 250.0, 100.0, 100.0)
    assert [(join.least, join.most) for join in joins] == [(50.0, 100.0), (150.0, 200.0)]
    plain = Image.new("L", (40, 125), 0)
    one, other = (at for _, at in choose_joins(joins, plain, 0, 80.0, 250.0))
    assert other - one <= 100.0
