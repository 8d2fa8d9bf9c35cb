"""A watched search: its clock is kept, it stops at once, tells of better nestings, and starts from one."""

from __future__ import annotations

import importlib
import random
import time

import pytest

from impose.nest import Rectangle, Stock, budget, nest
from impose.nest.prove import prove_nesting
from impose.values import replace

MM = 1000
ROOM_S = 0.4
"""Over a clock, in processor time: other work counts for nothing, and a machine may be several times slower."""
A4 = Stock("a4", 204 * MM, 280 * MM, 400_000)
A3 = Stock("a3", 291 * MM, 403 * MM, 950_000)


def prints(count, seed, part=0):
    chance = random.Random(f"prints {seed}")
    return [
        Rectangle(f"T{i + part}", chance.randint(70, 200) * MM, chance.randint(60, 270) * MM, group=f"order {i // 5}")
        for i in range(count)
    ]


def published(number, pieces, seed):
    """Berkey and Wang's classes 2 and 6 (1987; restated in Lodi, Martello and Vigo, INFORMS J. Computing 11 (1999)):
    sides up to 10 on sheets of 30, up to 100 on 300; two sheets are judged exactly there."""
    chance = random.Random(f"class {number}, {pieces} pieces, {seed}")
    most, side = {2: (10, 30), 6: (100, 300)}[number]
    sizes = [(chance.randint(1, most), chance.randint(1, most)) for _ in range(pieces)]
    return [Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], [Stock("sheet", side, side, cost=1)]


@pytest.mark.parametrize(("number", "seed"), [(2, 0), (6, 1), (6, 2)])
def test_the_clock_is_kept_where_two_sheets_are_judged_exactly(number, seed, monkeypatch):
    monkeypatch.setattr(budget, "monotonic", time.thread_time)  # other work on the machine counts for nothing
    begun = time.thread_time()
    nest(*published(number, 40, seed), seconds=0.1)
    assert time.thread_time() - begun < 0.1 + ROOM_S


@pytest.mark.parametrize("papers", [[A4], [A4, A3], [Stock("roll", 600 * MM, None, 2_000_000)]])
def test_a_search_that_is_stopped_ends_at_once_and_keeps_the_best(papers):
    """Counted in this thread's processor time from the moment it was asked to stop."""
    pieces, since = prints(60, "stopped"), []

    def stop():
        if time.thread_time() > ends and not since:
            since.append(time.thread_time())
        return bool(since)

    ends = time.thread_time() + 0.3
    told = []
    found = nest(pieces, papers, steps=10**9, stop=stop, told=told.append)
    assert time.thread_time() - since[0] < ROOM_S
    assert not found.unplaced
    assert found.cost <= told[-1].cost, "what was found last need not have been told"
    assert found.clock or found.proven


def test_what_was_named_when_the_caller_wants_no_more_is_not_named_or_proven_again(monkeypatch):
    """Naming and proving 3,000 prints took 0.1 s, and once told of they were named and proven anew for the answer."""
    from impose.nest import prove, solve

    named, looked, told = [], [], []
    real, look = solve.finish_sheets, prove._check_sheet
    monkeypatch.setattr(solve, "finish_sheets", lambda *given: named.append(1) or real(*given))
    monkeypatch.setattr(prove, "_check_sheet", lambda *given: looked.append(1) or look(*given))
    found = nest(prints(80, "named"), [A4, A3], steps=10**6, told=told.append, stop=lambda: bool(told))
    assert found.sheets == told[-1].sheets
    assert (len(named), len(looked)) == (1, len(found.sheets))
    assert not found.unplaced
    assert found.clock


def test_better_and_better_nestings_are_told_each_of_them_whole():
    pieces, told = prints(50, "told"), []
    found = nest(pieces, [A4, A3], steps=4000, told=told.append)
    costs = [one.cost for one in told]
    assert costs == sorted(set(costs), reverse=True)
    assert len(costs) > 1
    assert costs[-1] == found.cost
    for one in told:
        prove_nesting(one, pieces, [A4, A3])
        assert not one.unplaced
    assert found == nest(pieces, [A4, A3], steps=4000), "being told changes nothing"


def lies(nesting):
    return {p.id: (number, p.x, p.y, p.turned) for number, sheet in enumerate(nesting.sheets) for p in sheet.placements}


@pytest.mark.parametrize("straight", [False, True])
@pytest.mark.parametrize("papers", [[A4], [A4, A3]])
def test_what_did_not_change_stays_where_it_lay_unless_that_saves_paper(papers, straight):
    pieces = prints(30, "start")
    first = nest(pieces, papers, steps=2000, straight_cuts=straight)
    again = nest(pieces, papers, steps=2000, straight_cuts=straight, start=first.sheets)
    if again.cost == first.cost:
        assert lies(again) == lies(first)
    small = Rectangle("new", 20 * MM, 20 * MM)
    more = nest([*pieces, small], papers, steps=0, straight_cuts=straight, start=first.sheets)
    assert {name: place for name, place in lies(more).items() if name != "new"} == lies(first)
    assert "new" in lies(more)
    less = nest(pieces[1:], papers, steps=0, straight_cuts=straight, start=first.sheets)
    kept = {name: place[1:] for name, place in lies(first).items() if name != pieces[0].id}
    left = sum(sheet.cost for sheet in first.sheets if {p.id for p in sheet.placements} != {pieces[0].id})
    assert less.cost <= left
    if less.cost == left:
        assert {name: place[1:] for name, place in lies(less).items()} == kept


def test_a_changed_piece_is_laid_anew_and_a_start_never_costs_paper():
    pieces = prints(30, "changed")
    first = nest(pieces, [A4], steps=0)
    grown = [replace(pieces[0], width=pieces[0].width + 5 * MM), *pieces[1:]]
    found = nest(grown, [A4], steps=3000, start=first.sheets)
    assert found.cost <= nest(grown, [A4], steps=3000).cost
    assert not found.unplaced


def test_a_start_on_paper_that_is_no_longer_offered_or_enough_is_left():
    pieces = prints(12, "gone")
    first = nest(pieces, [A3])
    found = nest(pieces, [A4], start=first.sheets)
    assert {sheet.stock for sheet in found.sheets} == {"a4"}
    few = replace(A3, limit=1)
    found = nest(pieces, [few, A4], start=first.sheets)
    assert not found.unplaced
    assert sum(sheet.stock == "a3" for sheet in found.sheets) <= 1


def test_a_changed_table_is_answered_before_its_bound_is_known(monkeypatch):
    """The first sheets of a change come at once: what takes longest, the lower bound, is worked out after them."""
    from impose.nest import solve

    told, order = [], []
    real = solve._compute_bounds
    monkeypatch.setattr(solve, "_compute_bounds", lambda *given: order.append("bounds") or real(*given))
    pieces = [Rectangle(str(i), 60_000 + 1000 * i, 80_000) for i in range(12)]
    paper = Stock("a4", 204_000, 280_000, cost=15)
    before = nest(pieces, [paper], steps=50)
    order.clear()
    changed = [replace(pieces[0], width=pieces[0].width + 1000), *pieces[1:]]

    def hear(found):
        order.append("told")
        told.append(found)

    nest(changed, [paper], steps=50, start=before.sheets, told=hear)
    assert order[:2] == ["told", "bounds"]
    assert not told[0].unplaced


def many(count):
    """Prints of some 25 sizes, as a large order has them (common practice, no source)."""
    return [replace(piece, id=f"T{i}") for i, piece in enumerate(prints(25, "many") * (count // 25))]


ROLL = Stock("roll", 600 * MM, None, 2_000_000)
MIX = [A4, A3, Stock("super b", 326 * MM, 470 * MM, 1_500_000)]


@pytest.mark.parametrize(("papers", "changing"), [(MIX, 0), (MIX, 10**6), ([ROLL], 0)], ids=["mix", "changes", "roll"])
def test_what_is_always_worked_out_keeps_to_the_clock_too(papers, changing, monkeypatch):
    """Bounds and simple ways of 2,000 prints, in processor time."""
    monkeypatch.setattr(budget, "monotonic", time.thread_time)
    nest(prints(3, "loads numpy and rectpack"), papers, steps=0)
    begun = time.thread_time()
    found = nest(many(2000), papers, seconds=0.1, changing=changing)
    assert time.thread_time() - begun < 0.1 + 2 * ROOM_S
    assert not found.unplaced
    assert found.clock


@pytest.mark.parametrize(
    ("papers", "straight"),
    [([A4], False), (MIX, True), ([ROLL], False), ([ROLL], True)],
    ids=["sheets", "mix, straight cuts", "roll", "roll, straight cuts"],
)
def test_without_time_two_thousand_prints_are_offered_a_few_at_a_time(papers, straight, monkeypatch):
    """Counted, since clocks differ: what a filling is offered is what it costs. It was 130 pieces for each piece on
    one paper and 270 on three, and all 2,000 at once on a roll."""
    offered = []
    for room in ("mix", "chunks", "roll", "search"):
        real = importlib.import_module(f"impose.nest.{room}").choose_filler(straight)

        def fill(*given, real=real):
            offered.append(len(given[3]))
            return real(*given)

        monkeypatch.setattr(f"impose.nest.{room}.choose_filler", lambda straight, fill=fill: fill)
    monkeypatch.setattr(budget, "monotonic", lambda: float(len(offered)))
    found = nest(prints(2000, "two thousand"), papers, seconds=1e-6, straight_cuts=straight)
    assert not found.unplaced
    assert sum(offered) < 2000 * 60 * len(papers)
    assert max(offered) <= 400


def test_proving_straight_cuts_looks_at_each_piece_once_a_cut_that_may_cross_it(monkeypatch):
    """A roll of 300 prints has 299 cuts; to look at every piece in every part for each was nine million looks."""
    from impose.nest import prove

    looks, real = [], prove._lies_inside
    monkeypatch.setattr(prove, "_lies_inside", lambda *given: looks.append(1) or real(*given))
    found = nest(prints(300, "roll"), [ROLL], steps=1, straight_cuts=True)
    assert sum(len(sheet.cuts) + 1 for sheet in found.sheets) == 300
    assert len(looks) < 300 * 300


@pytest.mark.parametrize("papers", [MIX, [ROLL], [A4]], ids=["mix", "roll", "sheets"])
def test_a_clock_that_has_run_out_leaves_the_first_simple_way(papers, monkeypatch):
    """Time is up at the second look: nothing is filled that the answer does not need, and bounds are those by area."""
    from impose.nest import cover, free_rectangles, roll, search

    looks, fillings = iter(range(10**9)), []
    monkeypatch.setattr(budget, "monotonic", lambda: float(next(looks)))

    def count(*given):
        fillings.append(1)
        return free_rectangles.fill_sheet(*given)

    for room in (cover, roll, search):
        for name in ("fill_sheet", "choose_filler"):
            if hasattr(room, name):
                monkeypatch.setattr(room, name, count if name == "fill_sheet" else lambda straight: count)
    monkeypatch.setattr("impose.nest.mix.choose_filler", lambda straight: count)
    found = nest(prints(60, "late"), papers, seconds=0.5)
    assert not found.unplaced
    assert len(fillings) <= 3 * len(found.sheets) * len(papers) + 3
    area = sum(q.width * q.height for sheet in found.sheets for q in sheet.placements)
    if papers == [A4]:
        assert found.fewest == -(-area // (A4.width * A4.height))


def test_a_roll_on_its_own_has_the_whole_clock(monkeypatch):
    """Nothing comes after it: what is left over of the clock would be lost. Each look at it takes 0.1 ms here."""
    from impose.nest import mix

    given, looks = [], iter(range(10**9))

    def watch(job, stock, part, *rest):
        given.append(part.seconds)
        raise StopIteration

    monkeypatch.setattr(mix, "solve_roll", watch)
    monkeypatch.setattr(budget, "monotonic", lambda: next(looks) / 10_000)
    for papers in ([ROLL], [ROLL, A3]):
        with pytest.raises(StopIteration):
            nest(prints(12, "alone"), papers, seconds=0.2)
    assert 0.13 < given[0] <= 0.2
    assert given[1] < 0.12


def test_patience_does_not_begin_anew_for_a_weakest_sheet_that_stays_heavy():
    """Round after round it grew emptier by a hundredth, and 16,200 fillings went by in which no sheet was saved."""
    pieces = prints(24, "light 3")
    found = nest(pieces, [A3])
    assert (len(found.sheets), found.fewest) == (7, 6)
    assert found.steps < 2 * budget.make_budget(None, None, len(pieces)).patience


def test_a_nesting_told_of_never_takes_more_paper_than_is_left():
    """`nest` proves what it tells of: a single paper's search begins with more sheets than there may be."""
    pieces, told = prints(24, "counted"), []
    least = len(nest(pieces, [A4], steps=2000).sheets)
    found = nest(pieces, [replace(A4, limit=least - 1), replace(A3, limit=1)], steps=500, told=told.append)
    assert all(sum(sheet.stock == A4.name for sheet in better.sheets) < least for better in told)
    assert sum(sheet.stock == A4.name for sheet in found.sheets) < least
