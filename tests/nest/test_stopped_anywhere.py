"""Wherever a search in chunks is stopped: its answer holds every piece once, or it has none."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable

import pytest

from impose.nest import compiled
from impose.nest.budget import SearchBudget
from impose.nest.chunks import ChunkNester
from impose.nest.instance import PieceSize
from impose.nest.model import Stock

PIECES = 23


def make_nester(straight: bool) -> ChunkNester:
    """Pieces of many sizes on a small paper, each chunk in this very process."""
    chance = random.Random(4)
    sides = [sorted((chance.randrange(20, 60), chance.randrange(20, 60))) for _ in range(PIECES)]
    sizes = tuple(PieceSize(w, h, True) for h, w in sorted(sides, key=lambda side: -side[0] * side[1]))
    return ChunkNester(sizes, Stock("a", 100, 100, 1), range(PIECES), straight, lambda work, tasks: map(work, tasks))


def stop_after(asked: int) -> Callable[[], bool]:
    left = iter(range(asked))
    return lambda: next(left, None) is None


@pytest.mark.parametrize("straight", [False, True])
@pytest.mark.parametrize("always", [False, True])
@pytest.mark.parametrize("size", [8, 12, 30])
@pytest.mark.parametrize("plain", [False, True])
def test_no_piece_is_lost_wherever_it_is_stopped(monkeypatch, straight: bool, always: bool, size: int, plain) -> None:
    if plain:
        monkeypatch.setattr(compiled, "find_loops", lambda: None)  # asks at every sheet
    monkeypatch.setattr(compiled, "PAUSE", 1)  # the compiled loop asks after every filling
    nester = make_nester(straight)
    answers = set()
    for asked in range(60):
        budget = SearchBudget(None, stop=stop_after(asked))
        made = nester.try_chunks(3, random.Random(asked), False, budget, size, always)
        answers.add(made is not None)
        if made is None:
            assert not always, "there always has to be an answer"
            continue
        held = Counter(spot.kind for sheet in made for spot in sheet.spots)
        assert held == Counter(range(PIECES)), f"stopped at the {asked}th look"
    assert True in answers
    assert (False in answers) == (not always and size < PIECES)
