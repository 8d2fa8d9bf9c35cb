"""Mixes and strips by the loops in C are what their twins in Python make: the same sheets, steps, limits and draws."""

from __future__ import annotations

import random

import pytest

from impose.native.library import load_library
from impose.nest import Rectangle, Stock, compiled, compiled_beam, compiled_cover, nest
from impose.nest.budget import SearchBudget
from impose.nest.cover import SheetCover
from impose.nest.instance import NestingInstance, PieceSize, make_instance
from impose.nest.mix import recover_paper
from impose.nest.roll_beam import TASTES, RollBeam
from impose.nest.search import choose_filler

pytestmark = pytest.mark.skipif(
    load_library() is None, reason="there is no library of compiled loops: nothing to compare"
)


class FailingLoops:
    """A library without memory."""

    def cover_pieces(self, *given: object) -> int:
        return -1

    recover_mix = fit_strip = cover_pieces


def make_job(seed: int, pieces: int = 40) -> NestingInstance:
    """Pieces of random sizes, some in several copies, on one to four papers that do not take all of them."""
    chance = random.Random(seed)
    papers = [
        Stock(
            f"{i}", chance.randint(60, 150), chance.randint(60, 150), cost=chance.choice((0, 7, 450_000, 951_300)),
            limit=chance.choice((None, None, 0, 3, pieces)), handling=chance.choice((0, 0, 300)),
        )
        for i in range(1 + seed % 4)
    ]  # fmt: skip
    sizes = [(chance.randint(4, papers[0].width), chance.randint(4, papers[0].height)) for _ in range(pieces)]
    rectangles = [Rectangle(str(i), *chance.choice(sizes), chance.random() < 0.7) for i in range(pieces)]
    return make_instance(rectangles, range(pieces), papers)


def cover_all(seed: int, straight: bool) -> list[object]:
    """What every way to cover makes of a job."""
    job = make_job(seed)
    cover, found = SheetCover(job, choose_filler(straight)), []
    for chance, tries in ((None, 1), (random.Random(seed), 5), (random.Random(seed), 1), (random.Random(seed), 1)):
        limits, budget = job.remaining_limits([]), SearchBudget(10**6)
        made = cover.cover_greedily(job.list_pieces(), limits, budget, chance, tries)
        found += [made, limits, budget.done, chance and chance.getstate()]
    return found


@pytest.mark.parametrize("straight", [False, True])
@pytest.mark.parametrize("few", [10, 300])
@pytest.mark.parametrize("seed", range(20))
def test_pieces_are_covered_alike(monkeypatch, seed, few, straight):
    monkeypatch.setattr("impose.nest.cover.FEW", few)  # of more, sheets are tried in one order only
    quick = cover_all(seed, straight)
    if seed < 4:
        with monkeypatch.context() as patched:
            patched.setattr(compiled_cover, "find_loops", FailingLoops)
            assert cover_all(seed, straight) == quick
    monkeypatch.setattr(compiled, "load_library", lambda: None)
    assert cover_all(seed, straight) == quick


def recover_mix(seed: int, straight: bool, patience: int | None) -> list[object]:
    """A mix covered anew for a while, and what was told of on the way."""
    job, told = make_job(seed, 30 + 20 * (seed % 3)), []
    cover, chance = SheetCover(job, choose_filler(straight)), random.Random(seed)
    sheets, _ = cover.cover_greedily(job.list_pieces(), job.remaining_limits([]), SearchBudget(10**6))
    budget = SearchBudget(1500, None, patience, tell=lambda better: told.append(list(better)))
    made = recover_paper(cover, sheets, 0, budget, chance)
    return [made, told, budget.done, budget.gain, chance.getstate()]


@pytest.mark.parametrize("straight", [False, True])
@pytest.mark.parametrize("pause", [1, 1 << 40])
@pytest.mark.parametrize("seed", range(12))
def test_a_mix_is_covered_anew_alike(monkeypatch, seed, pause, straight):
    monkeypatch.setattr(compiled_cover, "PAUSE", pause)  # whether asked after every move or never
    patience = None if seed % 2 else 90
    quick = recover_mix(seed, straight, patience)
    if seed < 2:
        with monkeypatch.context() as patched:
            patched.setattr(compiled_cover, "find_loops", FailingLoops)
            assert recover_mix(seed, straight, patience) == quick
    monkeypatch.setattr(compiled, "load_library", lambda: None)
    assert recover_mix(seed, straight, patience) == quick


def fit_strips(seed: int) -> list[object]:
    """Strips by every taste, some too short; what is found and the steps done."""
    chance, found = random.Random(seed), []
    count, width = chance.randint(5, 45), chance.randint(20, 60)
    kinds = [
        PieceSize(chance.randint(2, width), chance.randint(1, width // 2), chance.random() < 0.7) for _ in range(12)
    ]
    wanted = chance.choices(range(len(kinds)), k=count)
    beam = RollBeam(kinds, wanted, width)
    for taste in TASTES:
        for breadth, over in ((1, 1.02), (9, 1.06), (40, 1.1), (40, 1.6)):
            budget = SearchBudget(chance.choice((200, 4000)), None, chance.choice((None, 150)), gain=20)
            length = int(over * sum(kinds[k].width * kinds[k].height for k in wanted) / width)
            found += [beam.fit_all(length, breadth, taste, budget), budget.done, budget.gain]
    return found


@pytest.mark.parametrize("seed", [*range(5), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(5, 16))])
def test_a_strip_is_filled_alike(monkeypatch, seed):
    quick = fit_strips(seed)
    if seed < 3:
        with monkeypatch.context() as patched:
            patched.setattr(compiled_beam, "find_loops", FailingLoops)
            assert fit_strips(seed) == quick
    monkeypatch.setattr(compiled, "load_library", lambda: None)
    assert fit_strips(seed) == quick
    assert any(isinstance(answer, list) for answer in quick)


def test_a_strip_that_nobody_waits_for_is_given_up():
    kinds = [PieceSize(3 + i, 2 + i % 4, True) for i in range(12)]
    beam = RollBeam(kinds, [i % 12 for i in range(60)], 40)
    asked = []
    budget = SearchBudget(None, stop=lambda: asked.append(1) or len(asked) > 1)
    assert beam.fit_all(60, 200, TASTES[0], budget) is None
    assert len(asked) == 2


def test_what_the_caller_raises_while_a_mix_is_covered_comes_back_to_it():
    job = make_job(5)

    def refuse() -> bool:
        raise KeyError("no more")

    cover = SheetCover(job, choose_filler(False))
    with pytest.raises(KeyError, match="no more"):
        cover.cover_greedily(job.list_pieces(), job.remaining_limits([]), SearchBudget(None, stop=refuse))


def test_a_mix_that_nobody_waits_for_is_given_up_or_made_at_once():
    job = make_job(5)
    cover, pieces = SheetCover(job, choose_filler(False)), job.list_pieces()
    over = SearchBudget(None, stop=lambda: True)
    limits = job.remaining_limits([])
    assert cover.cover_greedily(pieces, limits, over, random.Random(1), 10**6, True) == ([], pieces)
    assert limits == job.remaining_limits([])
    made, left = cover.cover_greedily(pieces, limits, over, random.Random(1), 10**6)
    assert sorted([k for sheet in made for k in sheet.kinds] + left) == pieces


def test_prices_that_doubles_do_not_hold_are_left_to_python(monkeypatch):
    """What one sheet costs for its area is compared as a double: above 2^53 the library would round twice."""
    pieces = [Rectangle(str(i), 40 + i, 50) for i in range(30)]
    papers = [Stock("a", 100, 120, (1 << 53) + 1), Stock("b", 140, 160, (1 << 54) + 3)]
    quick = nest(pieces, papers, steps=200)
    monkeypatch.setattr(compiled, "load_library", lambda: None)
    assert nest(pieces, papers, steps=200) == quick
