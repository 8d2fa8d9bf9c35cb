"""The clock and the caller's stop are looked at often: counted in calls of functions, which are alike on every machine.

A call takes from a tenth of a microsecond to a few: so many as are allowed here between two looks take a tenth of a
second at most, where the project is developed.
"""

from __future__ import annotations

import random
import sys
from itertools import product

import pytest

from impose.nest import Rectangle, Stock, budget, compiled, mix, nest
from impose.nest.row_lengths import find_reachable_length
from impose.values import replace

MM = 1000
A4 = Stock("a4", 204 * MM, 280 * MM, 400_000)
A3 = Stock("a3", 291 * MM, 403 * MM, 950_000)
ROLL = Stock("roll", 600 * MM, None, 2_000_000, max_height=2000 * MM)
BETWEEN = 30_000  # calls between two looks
AFTER = 45_000  # calls once the caller has said that it wants no more: naming, offcuts, the proof
SEARCHED = 250_000  # calls before that


def prints(count: int) -> list[Rectangle]:
    chance = random.Random(f"looks {count}")
    return [
        Rectangle(
            f"T{i}",
            chance.randint(70, 200) * MM,
            chance.randint(60, 270) * MM,
            group=f"order {i // 5}",
            together=f"garment {i // 3}",
        )
        for i in range(count)
    ]


class CallCount:
    """Counts calls of functions, those between two looks and those after the last, as a profiler does."""

    def __init__(self) -> None:
        self.calls = self.looked = self.longest = self.stopped = 0

    def count_call(self, _frame: object, event: str, _of: object) -> None:
        self.calls += event in ("call", "c_call")

    def wants_no_more(self) -> bool:
        self.longest = max(self.longest, self.calls - self.looked)
        self.looked = self.calls
        if self.calls >= SEARCHED and not self.stopped:
            self.stopped = self.calls
        return self.stopped > 0


CASES = {
    "one paper": (prints(120), [A4], {}),
    "few": (prints(14), [A3], {}),
    "three papers": (prints(70), [A4, A3, replace(ROLL, max_height=600 * MM)], {}),
    "handling": (prints(60), [replace(A4, handling=50_000), replace(A3, handling=50_000)], {"changing": 300_000}),
    "straight": (prints(60), [A4], {"straight_cuts": True}),
    "roll": (prints(80), [ROLL], {}),
    "short roll": (prints(11), [replace(ROLL, max_height=None)], {}),
    "counted": (prints(40), [replace(A4, limit=6), replace(A3, limit=2)], {}),
    "many": (prints(250), [A4], {}),
}


@pytest.mark.parametrize("case", CASES)
def test_little_is_done_between_two_looks_and_after_the_caller_wants_no_more(case, monkeypatch):
    monkeypatch.setattr(compiled, "load_library", lambda: None)  # a call of these takes as long as PAUSE lets it
    pieces, papers, options = CASES[case]
    count = CallCount()
    sys.setprofile(count.count_call)
    try:
        nest(pieces, papers, steps=10**9, stop=count.wants_no_more, **options)
    finally:
        sys.setprofile(None)
    assert count.longest < BETWEEN
    assert not count.stopped or count.calls - count.stopped < AFTER


def test_a_clock_long_run_out_leaves_no_time_for_more(monkeypatch):
    now = [10.0]
    monkeypatch.setattr(budget, "monotonic", lambda: now[0])
    search = budget.SearchBudget(None, 1.0)
    now[0] = 11.03
    assert not search.extend_clock(0.05).over
    now[0] = 11.06
    assert search.extend_clock(0.05).over


def test_paper_that_cannot_hold_all_is_not_searched_alone(monkeypatch):
    """By its area, or by the fewest sheets: the search would end in nothing."""
    searched = []
    monkeypatch.setattr(mix, "solve_paper", lambda *given: searched.append(given))
    monkeypatch.setattr(mix, "solve_roll", lambda *given: searched.append(given))
    short = replace(ROLL, limit=150 * MM)
    large = [Rectangle(f"T{i}", 150 * MM, 200 * MM, together=f"{i}") for i in range(10)]  # one an A4
    found = nest(large, [replace(A4, limit=5), short], steps=50)
    assert len(found.unplaced) == 2  # five sheets hold five, the roll three
    assert not searched


@pytest.mark.parametrize("unit", [1, 7, 1000])
def test_what_a_row_can_add_up_to_is_the_greatest_sum_there_is(unit):
    """Each piece left out or at one of its lengths, all ways tried."""
    chance = random.Random(f"rows {unit}")
    for _ in range(40):
        kinds = [([chance.randint(3, 40) * unit for _ in range(chance.randint(1, 2))], 1) for _ in range(6)]
        room = chance.randint(20, 120) * unit + chance.randint(0, unit - 1)
        ways = product(*[(0, *lengths) for lengths, _ in kinds])
        assert find_reachable_length(room, kinds) == max(total for way in ways if (total := sum(way)) <= room)
