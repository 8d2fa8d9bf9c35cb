"""The nester's own proof refuses a nesting that breaks one promise, whichever it is; nestings drawn by hand."""

from __future__ import annotations

import pytest

from impose.nest import NestedSheet, Nesting, Placement, Rectangle, Stock
from impose.nest.prove import UnsoundNesting, prove_nesting
from impose.values import replace

SHEET = Stock("sheet", 100, 100, cost=7)
UPRIGHT = Rectangle("upright", 30, 60, may_turn=False)
FREE = Rectangle("free", 30, 60)
# 1,000,000 a metre: a millionth a micrometre, so that a cost is a length.
ROLL = Stock("roll", 100_000, None, cost=1_000_000, cut_margin=9_000)


def _one(placement: Placement, stock: Stock = SHEET, **changes: object) -> Nesting:
    sheet = NestedSheet(stock.name, 100, 100, 7, (placement,))
    return replace(Nesting((sheet,), 7, 7, 1, ()), **changes)  # type: ignore[arg-type]


def test_what_the_row_lets_turn_may_lie_turned() -> None:
    prove_nesting(_one(Placement("free", 0, 0, 60, 30, True)), [FREE], [SHEET])
    prove_nesting(_one(Placement("free", 0, 0, 30, 60, False)), [FREE], [SHEET])


@pytest.mark.parametrize(
    ("placement", "said"),
    [
        (Placement("upright", 0, 0, 60, 30, True), "turned"),
        (Placement("upright", 0, 0, 60, 30, False), "should be"),
        (Placement("upright", 0, 0, 30, 59, False), "should be"),
        (Placement("upright", 71, 0, 30, 60, False), "leaves the sheet"),
        (Placement("upright", 0, 41, 30, 60, False), "leaves the sheet"),
        (Placement("upright", -1, 0, 30, 60, False), "leaves the sheet"),
    ],
)
def test_a_piece_that_is_not_as_it_was_given_is_refused(placement: Placement, said: str) -> None:
    with pytest.raises(UnsoundNesting, match=said):
        prove_nesting(_one(placement), [UPRIGHT], [SHEET])


@pytest.mark.parametrize("changes", [{"cost": 6}, {"cost": 8}, {"bound": 8}, {"fewest": 2}])
def test_figures_that_the_sheets_do_not_bear_out_are_refused(changes: dict[str, int]) -> None:
    placed = Placement("upright", 0, 0, 30, 60, False)
    prove_nesting(_one(placed), [UPRIGHT], [SHEET])
    with pytest.raises(UnsoundNesting):
        prove_nesting(_one(placed, **changes), [UPRIGHT], [SHEET])


def test_touching_is_no_overlap_and_a_micrometre_is() -> None:
    pieces = [Rectangle("a", 50, 50), Rectangle("b", 50, 50)]
    for x, sound in ((50, True), (49, False)):
        placed = (Placement("a", 0, 0, 50, 50, False), Placement("b", x, 49, 50, 50, False))
        found = Nesting((NestedSheet("sheet", 100, 100, 7, placed),), 7, 7, 1, ())
        if sound:
            prove_nesting(found, pieces, [SHEET])
        else:
            with pytest.raises(UnsoundNesting, match="overlap"):
                prove_nesting(found, pieces, [SHEET])


def _rolled(roll: Stock, height: int, cost: int, pieces: int = 1) -> tuple[Nesting, list[Rectangle]]:
    """So many lengths of roll, each with one piece of its whole height."""
    given = [Rectangle(str(number), 100_000, height, may_turn=False) for number in range(pieces)]
    sheets = tuple(
        NestedSheet(roll.name, roll.width, height, cost, (Placement(one.id, 0, 0, 100_000, height, False),))
        for one in given
    )
    return Nesting(sheets, cost * pieces, cost * pieces, 1, ()), given


def test_what_is_lost_at_the_cut_of_a_roll_is_paid() -> None:
    """200 mm used and 9 mm lost are 209 mm of a roll, at a millionth a micrometre."""
    assert ROLL.piece_cost(200_000) == 209_000
    prove_nesting(*_rolled(ROLL, 200_000, 209_000), [ROLL])
    for wrong in (200_000, 208_999, 209_001):
        with pytest.raises(UnsoundNesting, match="costs"):
            prove_nesting(*_rolled(ROLL, 200_000, wrong), [ROLL])


@pytest.mark.parametrize(("left", "sound"), [(418_000, True), (417_999, False), (400_000, False)])
def test_what_is_lost_at_the_cut_of_a_roll_is_counted_against_what_is_left(left: int, sound: bool) -> None:
    """Two lengths of 200 mm take 418 mm of the roll."""
    roll = replace(ROLL, limit=left)
    found, pieces = _rolled(ROLL, 200_000, 209_000, 2)
    if sound:
        prove_nesting(found, pieces, [roll])
    else:
        with pytest.raises(UnsoundNesting, match="are left"):
            prove_nesting(found, pieces, [roll])


def test_what_a_short_printer_loses_grows_with_the_length() -> None:
    """2 % and 5 mm less: of 1 m used 15 mm are lost, of 200 mm the 9 mm of the cut."""
    short = replace(ROLL, cut_base=-5_000, cut_per_metre=20_000)
    assert short.length(1_000_000) == 1_015_000
    assert short.length(200_000) == 209_000
    prove_nesting(*_rolled(short, 1_000_000, 1_015_000), [short])
    with pytest.raises(UnsoundNesting):
        found, pieces = _rolled(short, 1_000_000, 1_015_000)
        prove_nesting(found, pieces, [replace(short, limit=1_014_999)])


@pytest.mark.parametrize("reason", ["size", "stock"])
def test_why_a_piece_is_left_out_has_to_be_true(reason: str) -> None:
    """A piece of the sheet's own size would fit it; one a micrometre larger never does."""
    for side, true in ((100, "stock"), (101, "size")):
        found = Nesting((), 0, 0, 0, (("a", reason),))
        if reason == true:
            prove_nesting(found, [Rectangle("a", side, side)], [SHEET])
        else:
            with pytest.raises(UnsoundNesting, match="left out"):
                prove_nesting(found, [Rectangle("a", side, side)], [SHEET])
