"""Against a reference library: OR-tools' CP-SAT decides exactly what small cases need (skipped where it is absent)."""

from __future__ import annotations

import random

import pytest

from impose.nest import Rectangle, Stock, nest
from impose.nest.bounds import bound_cost, bound_sheets
from impose.nest.exact_mix import MixSearch
from impose.nest.exact_sets import NodeBudget
from impose.nest.exact_sheets import SheetCountSearch
from impose.nest.instance import make_instance

cp_model = pytest.importorskip("ortools.sat.python.cp_model")


def sheets_fit(sizes, width, height, count):
    """Whether the pieces, free to turn, go on `count` sheets; None if the library did not decide in time."""
    model = cp_model.CpModel()
    across, down = [], []
    for i, (w, h) in enumerate(sizes):
        turn = model.new_bool_var(f"turn {i}")
        wide, high = model.new_int_var(1, width, ""), model.new_int_var(1, height, "")
        model.add(wide == w).only_enforce_if(~turn)
        model.add(high == h).only_enforce_if(~turn)
        model.add(wide == h).only_enforce_if(turn)
        model.add(high == w).only_enforce_if(turn)
        # sheets side by side along x: a piece lies within one of them
        sheet = model.new_int_var(0, count - 1, "")
        x, y = model.new_int_var(0, width, ""), model.new_int_var(0, height, "")
        start, end = model.new_int_var(0, width * count, ""), model.new_int_var(0, width * count, "")
        low_end = model.new_int_var(0, height, "")
        model.add(x + wide <= width)
        model.add(start == width * sheet + x)
        across.append(model.new_interval_var(start, wide, end, ""))
        down.append(model.new_interval_var(y, high, low_end, ""))
    model.add_no_overlap_2d(across, down)
    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = 4.0
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    return {cp_model.FEASIBLE: True, cp_model.OPTIMAL: True, cp_model.INFEASIBLE: False}.get(status)


@pytest.mark.parametrize("seed", range(8))
def test_fewest_sheets_are_those_of_the_reference(seed):
    chance = random.Random(seed)
    sizes = [(chance.randint(3, 12), chance.randint(3, 12)) for _ in range(9)]
    found = nest([Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], [Stock("s", 16, 13, cost=1)])
    count = len(found.sheets)
    assert sheets_fit(sizes, 16, 13, count) is not False
    fewer = sheets_fit(sizes, 16, 13, count - 1) if count > 1 else False
    assert fewer is not True, f"{count} sheets were used, fewer do"
    assert not (found.proven and fewer), "proven, and yet fewer do"
    assert found.fewest <= count


@pytest.mark.parametrize("seeds", [range(50), pytest.param(range(50, 250), marks=pytest.mark.long)])
def test_what_is_called_impossible_is_so_by_the_reference(seeds):
    raised = laid = 0
    for seed in seeds:
        chance = random.Random(f"parting {seed}")
        wide, high = ((9, 15), (2, 7)) if seed % 2 else ((6, 14), (6, 12))
        side = 16 if seed % 2 else 20
        sizes = [(chance.randint(*wide), chance.randint(*high)) for _ in range(9)]
        stock = Stock("s", side, side, cost=1)
        job = make_instance([Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], range(9), [stock])
        count = bound_sheets(job, 0)
        parting = SheetCountSearch(job, 0, False, NodeBudget(10_000))
        sheets = parting.find_sheets(count)
        if sheets is not None:
            assert len(sheets) <= count
            assert sorted(k for sheet in sheets for k in sheet.kinds) == job.list_pieces()
            laid += 1
        elif not parting.open:
            fit = sheets_fit(sizes, side, side, count)
            assert fit is not True
            raised += fit is False
    assert raised >= len(seeds) // 50, "hardly anything was proven, so hardly anything was checked"
    assert laid, "nothing was laid, so nothing was checked"


@pytest.mark.parametrize("seeds", [range(53), pytest.param(range(53, 160), marks=pytest.mark.long)])
def test_sets_of_five_to_seven_are_judged_as_by_the_reference(seeds):
    """Sets that every smaller set within them and the dual feasible functions would let share a sheet."""
    shared = refused = 0
    for seed in seeds:
        chance = random.Random(f"set {seed}")
        number = 5 + seed % 3
        sizes = [(chance.randint(5, 13), chance.randint(4, 9)) for _ in range(number)]
        stock = Stock("s", 22, 17, cost=1)
        job = make_instance([Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], range(number), [stock])
        sharing = SheetCountSearch(job, 0, False, NodeBudget(100_000)).sharing
        every = (1 << number) - 1
        if not sharing.may_share(every):
            continue
        laid = sharing.find_layout(every)
        fit = sheets_fit(sizes, 22, 17, 1)
        assert fit is None or sharing.open or fit == laid
        shared += laid
        refused += not laid and not sharing.open and fit is False
    assert shared > 5
    assert refused > 2, "hardly anything was refused, so hardly anything was checked"


def least_cost(sizes, papers, below):
    """The least cost under `below` for pieces free to turn on papers (width, height, cost, sheets left); else None."""
    model = cp_model.CpModel()
    offered = [paper for paper in papers for _ in range(min(len(sizes), paper[3] or len(sizes)))]
    side = max(max(paper[:2]) for paper in papers)
    used = [model.new_bool_var("") for _ in offered]
    across, down = [], []
    for w, h in sizes:
        turn = model.new_bool_var("")
        wide, high = model.new_int_var(1, side, ""), model.new_int_var(1, side, "")
        model.add(wide == w + (h - w) * turn)
        model.add(high == h + (w - h) * turn)
        x, y = model.new_int_var(0, side * len(offered), ""), model.new_int_var(0, side, "")
        right, low = model.new_int_var(0, side * len(offered), ""), model.new_int_var(0, side, "")
        here = [model.new_bool_var("") for _ in offered]
        model.add_exactly_one(here)
        for number, (lies, taken, paper) in enumerate(zip(here, used, offered, strict=True)):
            model.add_implication(lies, taken)
            model.add(x >= number * side).only_enforce_if(lies)
            model.add(x + wide <= number * side + paper[0]).only_enforce_if(lies)
            model.add(y + high <= paper[1]).only_enforce_if(lies)
        across.append(model.new_interval_var(x, wide, right, ""))
        down.append(model.new_interval_var(y, high, low, ""))
    model.add_no_overlap_2d(across, down)
    cost = sum(paper[2] * taken for paper, taken in zip(offered, used, strict=True))
    model.add(cost < below)
    model.minimize(cost)
    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = 4.0
    solver.parameters.num_workers = 1
    return int(solver.objective_value) if solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None


@pytest.mark.parametrize("seeds", [range(6), pytest.param(range(60), marks=pytest.mark.long)])
def test_small_mixes_cost_the_least_by_the_reference(seeds):
    """Half of them with one or two sheets left of a paper, so that the cheapest for its area may not do."""
    proven = searched = worse = 0
    for seed in seeds:
        chance = random.Random(f"mix {seed}")
        w, h = chance.randint(8, 20), chance.randint(8, 20)
        papers = [
            (w, h, chance.randint(3, 9), chance.choice([None, None, 2])),
            (chance.randint(w, 2 * w), chance.randint(h, 2 * h), chance.randint(6, 20), chance.choice([None, None, 1])),
        ]
        sizes = [(chance.randint(2, w), chance.randint(2, h)) for _ in range(chance.randint(4, 8))]
        stocks = [Stock(str(i), *paper[:2], cost=paper[2], limit=paper[3]) for i, paper in enumerate(papers)]
        found = nest([Rectangle(str(i), *size) for i, size in enumerate(sizes)], stocks)
        if found.unplaced:
            continue
        less = least_cost(sizes, papers, found.cost)
        assert less is None or less >= found.bound, "a bound above what does"
        proven += found.proven
        searched += found.proven and found.bound > bound_cost(make_job_of(sizes, stocks))
        worse += less is not None
    assert searched > len(seeds) // 6, "hardly anything was proven by trying, so hardly anything was checked"
    assert proven > len(seeds) * 7 // 10
    assert worse <= 1


@pytest.mark.parametrize("seeds", [(0, 1, 3, 7), pytest.param(range(40), marks=pytest.mark.long)])
def test_every_deal_tried_is_the_least_by_the_reference(seeds):
    """From a known cost that is far from the least, so that nothing but the search can find it; of six to eight pieces,
    at first those that the library decides at once."""
    sure = 0
    for seed in seeds:
        chance = random.Random(f"deal {seed}")
        papers = [(10, 8, chance.randint(5, 9), chance.choice([None, 2])), (15, 11, chance.randint(11, 19), None)]
        sizes = [(chance.randint(4, 8), chance.randint(3, 8)) for _ in range(chance.randint(6, 8))]
        stocks = [Stock(str(i), *paper[:2], cost=paper[2], limit=paper[3]) for i, paper in enumerate(papers)]
        job = make_job_of(sizes, stocks)
        dealing = MixSearch(job, False, NodeBudget(20_000), 1000)
        sheets = dealing.find_sheets()
        assert sheets is not None
        assert sorted(k for sheet in sheets for k in sheet.kinds) == job.list_pieces()
        if not dealing.open:
            assert dealing.best == job.total_cost(sheets) == least_cost(sizes, papers, 1000)
            sure += 1
    assert sure > len(seeds) // 2


def make_job_of(sizes, stocks):
    return make_instance([Rectangle(str(i), *size) for i, size in enumerate(sizes)], range(len(sizes)), stocks)


@pytest.mark.parametrize("seed", range(4))
def test_no_roll_is_longer_than_the_reference_needs(seed):
    """The least length by the library's own optimum; a whole unit is what pieces of whole sizes can differ by."""
    chance = random.Random(f"roll {seed}")
    sizes = [(chance.randint(2, 7), chance.randint(2, 7)) for _ in range(8)]
    (sheet,) = nest(
        [Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], [Stock("r", 11, None, cost=1_000_000)]
    ).sheets
    assert sheets_fit(sizes, 11, sheet.height - 1, 1) is not True


@pytest.mark.parametrize("seeds", [(0, 1, 3), pytest.param(range(10), marks=pytest.mark.long)])
def test_few_pieces_on_a_roll_are_as_short_as_can_be(seeds):
    """Up to eight pieces the least length is proven, and the library finds none shorter."""
    for seed in seeds:
        chance = random.Random(f"few {seed}")
        width = chance.choice([30, 42, 60])
        sizes = [(chance.randint(6, width - 2), chance.randint(5, 24)) for _ in range(chance.randint(3, 8))]
        pieces = [Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)]
        found = nest(pieces, [Stock("roll", width, None, cost=1_000_000)], steps=8000)
        (sheet,) = found.sheets
        assert found.proven
        assert sheets_fit(sizes, width, sheet.height - 1, 1) is not True, f"strip {seed}: a shorter length exists"
