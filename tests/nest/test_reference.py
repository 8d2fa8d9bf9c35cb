"""Against a reference library: OR-tools' CP-SAT decides exactly what small cases need (skipped where it is absent)."""

from __future__ import annotations

import random

import pytest

from impose.nest import Rectangle, Stock, nest
from impose.nest.bounds import sheets_needed
from impose.nest.job import make_job
from impose.nest.parting import Parting

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


def test_what_is_called_impossible_is_so_by_the_reference():
    raised = laid = 0
    for seed in range(160):
        chance = random.Random(f"parting {seed}")
        wide, high = ((9, 15), (2, 7)) if seed % 2 else ((6, 14), (6, 12))
        side = 16 if seed % 2 else 20
        sizes = [(chance.randint(*wide), chance.randint(*high)) for _ in range(9)]
        stock = Stock("s", side, side, cost=1)
        job = make_job([Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], range(9), [stock])
        count = sheets_needed(job, 0)
        parting = Parting(job, 0, False, 10_000)
        sheets = parting.sheets(count)
        if sheets is not None:
            assert len(sheets) <= count
            assert sorted(k for sheet in sheets for k in sheet.kinds) == job.all()
            laid += 1
        elif not parting.open:
            fit = sheets_fit(sizes, side, side, count)
            assert fit is not True
            raised += fit is False
    assert raised > 2, "hardly anything was proven, so hardly anything was checked"
    assert laid, "nothing was laid, so nothing was checked"


@pytest.mark.parametrize("seed", range(4))
def test_no_roll_is_longer_than_the_reference_needs(seed):
    """The least length by the library's own optimum; a whole unit is what pieces of whole sizes can differ by."""
    chance = random.Random(f"roll {seed}")
    sizes = [(chance.randint(2, 7), chance.randint(2, 7)) for _ in range(8)]
    (sheet,) = nest(
        [Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], [Stock("r", 11, None, cost=1_000_000)]
    ).sheets
    assert sheets_fit(sizes, 11, sheet.height - 1, 1) is not True
