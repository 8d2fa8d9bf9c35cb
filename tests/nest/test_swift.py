"""The compiled loops give what the plain ones give, piece for piece, and leave the generator where they would.

The plain search is the reference: it is held to rectpack, published packings and CP-SAT by the other tests here, and
the generator's numbers to Python's own.
"""

from __future__ import annotations

import importlib.util
import random
import subprocess
import sys

import numpy as np
import pytest

from each_case import try_each
from impose.nest import Rectangle, Stock, nest
from impose.nest import compiled as swift
from impose.nest.budget import SearchBudget
from impose.nest.chunks import ChunkTask, nest_chunk
from impose.nest.free_rectangles import RULES, area_grain, fill_sheet
from impose.nest.instance import PieceSize, make_instance
from impose.nest.search import SheetEmptying, make_first_sheets, used_area


@pytest.fixture
def as_they_stand(monkeypatch):
    """The loops run by the interpreter, whether numba is here or not."""
    if importlib.util.find_spec("numba"):
        import numba

        monkeypatch.setattr(numba.config, "DISABLE_JIT", True)
    spec = importlib.util.find_spec("impose.nest.compiled_loops")
    loops = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(loops)
    return loops


@pytest.fixture
def plain(monkeypatch):
    """No compiled loops, whatever was loaded before."""
    monkeypatch.setattr(swift._LoopState, "kernel", None)
    monkeypatch.setattr(swift._LoopState, "missing", True)


def cut(count, seed, most=97, least=8):
    chance = random.Random(seed)
    return [
        Rectangle(str(i), chance.randint(least, most), chance.randint(least, most), chance.random() < 0.8)
        for i in range(count)
    ]


def test_the_generator_is_pythons(as_they_stand):
    chance = random.Random(7)
    state = np.array(random.Random(7).getstate()[1], np.int64)
    assert [as_they_stand.draw_random(state) for _ in range(1500)] == [chance.random() for _ in range(1500)]


@try_each("seed", range(12))
@try_each("rule", range(4))
def test_a_sheet_is_filled_alike(as_they_stand, rule, seed):
    chance = random.Random(seed)
    kinds = [PieceSize(chance.randint(1, 30), chance.randint(1, 30), chance.random() < 0.5) for _ in range(15)]
    order = sorted(chance.choices(range(15), k=60), key=lambda k: -kinds[k].width * kinds[k].height)
    spots, left, _ = fill_sheet(kinds, 100, 90, order, RULES[rule])
    laid, over = np.zeros((60, 5), np.int64), np.zeros(60, np.int64)
    placed, count = as_they_stand.fill_sheet(
        np.array(kinds, np.int64), np.ones(15, np.int64), 100, 90, np.array(order), 60, rule, -1, -1, laid, over
    )
    assert [tuple(spot) for spot in spots] == [tuple(row) for row in laid[:placed].tolist()]
    assert left == over[:count].tolist()


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("patience", [None, 40])
def test_the_weakest_sheet_is_emptied_alike(as_they_stand, plain, seed, patience):
    job = make_instance(cut(30, seed), range(30), [Stock("sheet", 150, 140, cost=1)])
    first = make_first_sheets(job, 0, job.list_pieces(), False, SearchBudget(0))
    sheets = sorted(first, key=lambda s: used_area(job, s))
    answers = []
    for loops in (None, as_they_stand):
        budget, chance = SearchBudget(150, None, patience), random.Random(seed)
        emptying = SheetEmptying(job, 0, budget, chance, fill_sheet)
        kept, pool = (
            emptying._absorb_compiled(loops, sheets[1:], sheets[0].kinds)
            if loops
            else emptying.absorb_pool(sheets[1:], sheets[0].kinds)
        )
        answers.append((kept, pool, budget.done, budget.gain, chance.random()))
    assert answers[0] == answers[1]


@pytest.mark.parametrize("pairs", [False, True])
@pytest.mark.parametrize("size", [(200, 150), (100, 100)])
def test_a_chunk_is_nested_alike(as_they_stand, plain, monkeypatch, size, pairs):
    paper = Stock("sheet", *size, cost=1)
    job = make_instance(cut(40, 3), range(40), [paper])
    task = ChunkTask(job.kinds, paper, 11, False, tuple(job.list_pieces()), tries=5, pairs=pairs)
    slow = nest_chunk(task).sheets
    monkeypatch.setattr(swift._LoopState, "kernel", as_they_stand)
    assert nest_chunk(task).sheets == slow


@pytest.mark.parametrize("given_up", [False, True])
def test_a_chunk_that_nobody_waits_for_is_filled_once_or_given_up(as_they_stand, plain, monkeypatch, given_up):
    """The compiled loop ran through all its tries, minutes of them, and never asked."""
    paper = Stock("sheet", 100, 100, cost=1)
    job = make_instance(cut(40, 3), range(40), [paper])
    asked = []
    task = ChunkTask(job.kinds, paper, 11, False, tuple(job.list_pieces()), tries=10**9, given_up=given_up)
    task = task._replace(stop=lambda: asked.append(1) or True)
    monkeypatch.setattr(swift._LoopState, "kernel", as_they_stand)
    monkeypatch.setattr(swift, "PAUSE", 5)
    made = nest_chunk(task).sheets
    assert asked
    assert sorted(k for sheet in made for k in sheet.kinds) == ([] if given_up else job.list_pieces())


@pytest.mark.long  # compiling takes a quarter of a minute; run by .ci/run where the extra is. The loops alone: above
def test_compiled_answers_are_the_plain_ones(monkeypatch):
    """The whole way, with numba itself: small and large, one worker and two."""
    pytest.importorskip("numba")
    mm = 1000
    paper = Stock("a4", 206 * mm, 282 * mm, cost=450_000)
    pieces = [Rectangle(p.id, p.width * mm * 2, p.height * mm * 2) for p in cut(300, 1, 95, 25)]
    for some in (pieces[:40], pieces):
        monkeypatch.setattr(swift._LoopState, "kernel", None)
        monkeypatch.setattr(swift._LoopState, "missing", True)
        slow = nest(some, [paper], steps=8000)
        monkeypatch.setattr(swift._LoopState, "missing", False)
        monkeypatch.setattr(swift, "AFTER", 100)
        monkeypatch.setattr(swift, "AHEAD_STEPS", 1000)
        assert nest(some, [paper], steps=8000) == slow
        loops = swift.loaded_loops(paper.width, paper.height)
        assert loops is not None
        assert swift._is_compiled_kept(loops), "a short clock would never load them"
        assert nest(some, [paper], steps=8000, workers=2) == slow


def test_burdens_stay_within_machine_numbers():
    for side in (10, 300, 300_000, 5_000_000):
        assert ((side * side) >> area_grain(side, side)) ** 2 <= 1 << 48


def test_a_small_job_loads_no_compiler():
    """Loading costs more than a small job does."""
    code = (
        "import sys; from impose.nest import *; "
        "nest([Rectangle(str(i), 60, 70) for i in range(9)], [Stock('s', 200, 200, cost=1)]); "
        "assert 'numba' not in sys.modules and 'impose.nest.compiled_loops' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
