"""What straight cuts cost is told where they are asked for."""

from __future__ import annotations

from impose.nest import Rectangle, Stock, nest
from impose.run.options import Options
from impose.run.straight_cut_cost import price_straight_cuts


def test_a_pinwheel_fills_a_sheet_that_straight_cuts_cannot_part():
    """By hand: four of 5 x 4 round one of 1 x 1 fill 9 x 9 without waste. A cut from edge to edge would leave a part 4
    or 5 wide and 9 long, of which pieces 5 or 4 long fill 5 or 8."""
    pieces = [Rectangle(str(i), 5, 4) for i in range(4)] + [Rectangle("middle", 1, 1)]
    stocks = [Stock("sheet", 9, 9, cost=450_000)]
    price = price_straight_cuts(nest(pieces, stocks, straight_cuts=True), pieces, stocks, 0, Options())
    assert (price.more, price.free) == (450_000, 450_000)
    assert price.make_finding(True, "EUR").what.startswith("straight cuts take 0.45 EUR of paper more")
    assert price.make_finding(False, "EUR").what.startswith("straight cuts take 100.0% of paper more")


def test_rows_of_equal_pieces_cost_nothing_more():
    pieces = [Rectangle(str(i), 3, 3) for i in range(12)]
    stocks = [Stock("sheet", 9, 9, cost=450_000)]
    price = price_straight_cuts(nest(pieces, stocks, straight_cuts=True), pieces, stocks, 0, Options())
    assert price.more == 0
