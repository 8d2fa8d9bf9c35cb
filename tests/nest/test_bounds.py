"""Lower bounds: dual feasible functions held to their definition, bounds to what exhaustive search can do."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from impose.nest import Rectangle, Stock, nest
from impose.nest.bounds import _bound_dearest_alone, _find_least_sum, bound_cost, bound_sheets
from impose.nest.dual_feasible import list_duals
from impose.nest.instance import make_instance
from laws import examples


@given(st.lists(st.integers(1, 30), min_size=1, max_size=6), st.integers(5, 30))
def test_dual_functions_keep_their_definition(lengths, top):
    """Fekete and Schepers 2004, definition: whatever lengths add up to at most the top weigh at most the whole."""
    fit = [x for x in lengths if x <= top]
    for dual in list_duals(fit or [1], top, 30):
        assert dual.weigh(top) == dual.whole
        for count in range(1, 4):
            for row in itertools.combinations_with_replacement(range(1, top + 1), count):
                if sum(row) <= top:
                    assert sum(dual.weigh(x) for x in row) <= dual.whole


def test_large_pieces_are_seen_by_the_bound_though_area_is_not():
    """Four pieces just over half the sheet each way: area says two sheets, only one fits on each."""
    pieces = [Rectangle(str(i), 51, 51) for i in range(4)]
    job = make_instance(pieces, range(4), [Stock("s", 100, 100, cost=3)])
    assert bound_sheets(job, 0) == 4
    found = nest(pieces, [Stock("s", 100, 100, cost=3)])
    assert (found.cost, found.bound, found.proven) == (12, 12, True)


def test_room_that_no_row_can_fill_is_left_out():
    """On a sheet of 130 a row of pieces of 45 reaches 90 and no further; area alone would say one sheet is enough."""
    pieces = [Rectangle(str(i), 45, 45, may_turn=False) for i in range(8)]
    job = make_instance(pieces, range(8), [Stock("s", 130, 130, cost=1)])
    assert bound_sheets(job, 0) == 2  # four a sheet; by area alone 0.96


@settings(max_examples=examples(1 / 3))
@given(
    st.lists(st.tuples(st.integers(10, 90), st.integers(10, 90), st.booleans()), min_size=1, max_size=12),
    st.integers(1, 9),
    st.integers(1, 9),
)
def test_no_bound_is_above_a_real_cost(sizes, small, large):
    pieces = [Rectangle(str(i), w, h, turn) for i, (w, h, turn) in enumerate(sizes)]
    stocks = [Stock("a", 90, 120, small), Stock("b", 120, 170, large), Stock("r", 100, None, 3_000_000)]
    for offer in (stocks[:1], stocks[:2], stocks):
        chosen = [i for i, p in enumerate(pieces) if any(s.takes(p) for s in offer)]
        job = make_instance(pieces, chosen, offer)
        for seed in range(2):
            found = nest([pieces[i] for i in chosen], offer, steps=50, seed=seed)
            assert bound_cost(job) <= found.cost


def test_a_mix_sees_what_only_the_larger_paper_can_hold_and_what_fills_the_smaller():
    """By hand: three pieces lie alone on large sheets, with no room left for the four small ones, which share a fourth
    large sheet at 10 (on small sheets they would cost 4 x 3). By area alone the cost could be 31."""
    large = [Rectangle(f"L{i}", 90, 90, may_turn=False) for i in range(3)]
    small = [Rectangle(f"S{i}", 40, 40, may_turn=False) for i in range(4)]
    stocks = [Stock("large", 100, 100, cost=10), Stock("small", 50, 50, cost=3)]
    found = nest([*large, *small], stocks)
    assert (found.cost, found.bound, found.proven) == (40, 40, True)


@pytest.mark.parametrize(("may_turn", "least"), [(True, 20_000), (False, 100_000)])
def test_a_piece_alone_on_a_roll_costs_the_length_that_it_may_lie_along(may_turn, least):
    """By hand: 20 x 100 mm on a roll 100 mm wide takes 20 mm of it lying, 100 mm upright; a millionth a micrometre."""
    roll = Stock("roll", 100_000, None, cost=1_000_000)
    job = make_instance([Rectangle("a", 20_000, 100_000, may_turn=may_turn)], range(1), [roll])
    assert _bound_dearest_alone(job) == least


def test_a_bound_that_nobody_waits_for_is_the_one_by_area():
    """By hand: 5 pieces of 60 x 60 have 18,000 of the area, 1.8 sheets of 100 x 100: two, though each needs its own."""
    pieces = [Rectangle(str(i), 60, 60) for i in range(5)]
    one, other = Stock("one", 100, 100, cost=7), Stock("other", 100, 90, cost=9)
    job = make_instance(pieces, range(5), [one])
    assert (bound_sheets(job, 0, lambda: True), bound_cost(job, lambda: True)) == (2, 14)
    assert (bound_sheets(job, 0), bound_cost(job)) == (5, 35), "what was stopped is not remembered"
    assert bound_sheets(job, 0, lambda: True) == 5, "what is known need not be worked out"
    both = make_instance(pieces, range(5), [one, other])
    assert bound_cost(both, lambda: True) == 13  # 1.8 sheets at 7, rounded up
    assert bound_cost(both) == 35


def test_pieces_all_alike_need_no_blend(monkeypatch):
    """With one size of piece the best function of each paper is all there is: climbing could gain nothing."""
    monkeypatch.setattr("impose.nest.compiled.load_library", lambda: None)
    monkeypatch.setattr("impose.nest.blended_values._update_weights", None)
    pieces = [Rectangle(str(i), 60, 60) for i in range(5)]
    job = make_instance(pieces, range(5), [Stock("s", 100, 100, cost=3), Stock("l", 130, 65, cost=7)])
    assert bound_cost(job) == 15, "one on a small sheet, two on a large one, which costs more than two small ones"


@given(st.lists(st.integers(1, 40), min_size=1, max_size=4, unique=True), st.integers(1, 120), st.integers(1, 1000))
@settings(max_examples=examples(20))
def test_costs_are_rounded_up_to_what_prices_add_up_to(prices, cost, unit):
    """Against every sum there is, counted up from nothing; prices in whole cents, say, make no difference."""
    prices, cost = sorted(price * unit for price in prices), cost * unit - unit // 2
    sums = {0}
    for total in range(0, cost + prices[-1] + 1, unit):
        if any(total - price in sums for price in prices):
            sums.add(total)
    assert _find_least_sum(prices, cost) == min(total for total in sums if total >= cost)
