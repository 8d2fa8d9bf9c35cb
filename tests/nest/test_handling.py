"""What work costs, minimised together with paper: judged by counting sheets, as the cells are all alike."""

from __future__ import annotations

import random

import pytest

from impose.nest import Rectangle, Stock, nest
from impose.nest.handling import add_handling, count_changes, drop_handling
from impose.nest.instance import FilledSheet, NestingInstance, PieceSize, PlacedSpot
from impose.nest.prove import UnsoundNesting, prove_nesting
from impose.values import replace

MM = 1000
CENT = 10_000
# a cell of 200 x 270 mm fills the one paper, and two of them the other
A4 = Stock("a4", 204 * MM, 280 * MM, 40 * CENT)
A3 = Stock("a3", 291 * MM, 403 * MM, 75 * CENT)


def cells(count):
    return [Rectangle(f"T{i}", 200 * MM, 270 * MM) for i in range(count)]


def least(count, a4, a3, changing):
    """The least cost of paper and work: so many sheets of the large paper, the rest on the small one."""
    costs = []
    for large in range((count + 1) // 2 + 1):
        small = max(0, count - 2 * large)
        work = large * a3.handling + small * a4.handling + (changing if large and small else 0)
        costs.append(large * a3.cost + small * a4.cost + work)
    return min(costs)


@pytest.mark.parametrize("seed", range(25))
def test_paper_and_work_together_cost_the_least(seed):
    chance = random.Random(f"handling {seed}")
    count, changing = chance.randint(1, 9), chance.choice([0, 5, 20, 60]) * CENT
    a4 = replace(A4, handling=chance.choice([0, 3, 10, 40]) * CENT)
    a3 = replace(A3, handling=chance.choice([0, 3, 10, 40]) * CENT)
    found = nest(cells(count), [a4, a3], steps=500, changing=changing)
    assert found.cost + found.handling == least(count, a4, a3, changing)
    assert found.cost == sum({"a4": a4, "a3": a3}[sheet.stock].cost for sheet in found.sheets), "cost is paper alone"
    assert found.proven or found.least < found.cost + found.handling


def test_one_paper_where_changing_costs_more_than_it_saves():
    """By hand: five cells take two A3 and one A4 for 1.90, five A4 for 2.00, three A3 for 2.25."""
    assert sorted(s.stock for s in nest(cells(5), [A4, A3]).sheets) == ["a3", "a3", "a4"]
    found = nest(cells(5), [A4, A3], changing=20 * CENT)
    assert [s.stock for s in found.sheets] == ["a4"] * 5
    assert (found.cost, found.handling, found.proven) == (200 * CENT, 0, True)
    found = nest(cells(5), [replace(A4, handling=10 * CENT), replace(A3, handling=10 * CENT)], changing=5 * CENT)
    assert sorted(s.stock for s in found.sheets) == ["a3", "a3", "a4"]
    assert (found.cost, found.handling) == (190 * CENT, 35 * CENT)


def test_pieces_of_a_roll_have_their_handling_too():
    """By hand: both cells end to end on one piece of roll, 400 mm at 2.00 a metre, 0.80; two A4 cost 0.80 too."""
    roll = Stock("roll", 280 * MM, None, 200 * CENT, handling=30 * CENT)
    found = nest(cells(2), [roll, replace(A4, handling=10 * CENT)])
    assert [s.stock for s in found.sheets] == ["a4", "a4"]
    found = nest(cells(2), [roll, replace(A4, handling=20 * CENT)])
    assert [s.stock for s in found.sheets] == ["roll"]
    assert (found.cost, found.handling) == (80 * CENT, 30 * CENT)


def test_the_proof_counts_the_work():
    found = nest(cells(5), [replace(A4, handling=CENT), A3], changing=CENT)
    prove_nesting(found, cells(5), [replace(A4, handling=CENT), A3], CENT)
    with pytest.raises(UnsoundNesting, match="handling"):
        prove_nesting(replace(found, handling=found.handling + 1), cells(5), [replace(A4, handling=CENT), A3], CENT)
    with pytest.raises(ValueError, match="changing"):
        nest(cells(1), [A4], changing=-1)


def test_the_fewest_sheets_are_told_with_handling_as_without():
    """What the exact search sees holds for the number of sheets whatever handling costs."""
    chance = random.Random(5)
    pieces = [Rectangle(str(i), chance.randint(60, 190) * MM, chance.randint(60, 260) * MM) for i in range(14)]
    plain, worked = nest(pieces, [A4]), nest(pieces, [replace(A4, handling=10 * CENT)])
    assert (plain.fewest, plain.proven) == (worked.fewest, worked.proven)
    assert plain.bound == worked.bound == plain.fewest * A4.cost


def test_the_bound_on_paper_counts_no_handling():
    """The dear sheet costs 12 and no handling, the cheap one 10 and 5: all lies on either, so paper can cost 10."""
    pieces = [Rectangle("large", 100, 60), Rectangle("a", 50, 40), Rectangle("b", 50, 40)]
    papers = [Stock("cheap", 100, 100, cost=10, handling=5), Stock("dear", 100, 100, cost=12)]
    found = nest(pieces, papers)
    assert (found.cost, found.handling, found.least, found.proven) == (12, 0, 12, True)
    assert found.bound == 10


def test_handling_is_counted_once_and_a_change_between_each_two_papers():
    """By hand: a sheet costs its paper and its handling; a piece of roll is priced with its own."""
    roll = Stock("roll", 280 * MM, None, 200 * CENT, handling=30 * CENT)
    job = NestingInstance(
        (PieceSize(270 * MM, 200 * MM, True),), (3,), ((0, 1, 2),), (replace(A4, handling=7 * CENT), A3, roll)
    )
    told = add_handling(job)
    assert [(stock.cost, stock.handling) for stock in told.stocks] == [
        (47 * CENT, 0), (75 * CENT, 0), (200 * CENT, 30 * CENT),
    ]  # fmt: skip
    assert add_handling(told) == told, "what is counted is not counted again"
    assert [(stock.cost, stock.handling) for stock in drop_handling(job).stocks] == [
        (40 * CENT, 0), (75 * CENT, 0), (200 * CENT, 0),
    ]  # fmt: skip
    assert replace(told, stocks=job.stocks) == job
    spot = [PlacedSpot(0, 0, 0, 270 * MM, 200 * MM)]
    for papers, changes in (((), 0), ((1,), 0), ((1, 1), 0), ((0, 1, 0), 1), ((2, 0, 1), 2)):
        assert count_changes([FilledSheet(s, spot) for s in papers]) == changes
