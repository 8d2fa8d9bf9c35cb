"""Pieces that are needed together lie on few sheets: counted here from the placements alone."""

from __future__ import annotations

import random

import pytest

from impose.nest import Rectangle, Stock, nest
from impose.nest.prove import prove_nesting
from impose.values import replace

MM = 1000
A4 = Stock("a4", 204 * MM, 280 * MM, 400_000)


def visits(found, pieces):
    unit = {piece.id: piece.together for piece in pieces}
    return sum(len({unit[p.id] for p in sheet.placements}) for sheet in found.sheets)


def test_equal_pieces_change_places_until_each_garment_lies_on_one_sheet():
    """By hand: two of 100 x 200 and one of 200 x 60 fill a sheet; with as many garments as sheets one visit each does.
    The rows come front, sleeve, sleeve, garment after garment backwards, so that no order of input helps."""
    pieces = []
    for i in range(5):
        pieces.append(Rectangle(f"front {i}", 200 * MM, 60 * MM, together=f"garment {4 - i}"))
        pieces += [
            Rectangle(f"sleeve {i} {j}", 100 * MM, 200 * MM, together=f"garment {(3 * i + j) % 5}") for j in (0, 1)
        ]
    counts = [sum(piece.together == f"garment {i}" for piece in pieces) for i in range(5)]
    found = nest(pieces, [A4])
    assert len(found.sheets) == 5
    apart = nest([replace(piece, together="") for piece in pieces], [A4])
    assert visits(found, pieces) < visits(apart, pieces)
    assert counts == [3] * 5
    assert visits(found, pieces) == 5


@pytest.mark.parametrize("straight", [False, True])
@pytest.mark.parametrize("seed", [0, *(pytest.param(more, marks=pytest.mark.long) for more in (1, 2))])
def test_fewer_visits_at_no_cost_in_paper(seed, straight):
    """Garments of two or three prints out of a few sizes; every answer is proven sound, and costs what it did."""
    chance = random.Random(f"visits {seed}")
    sizes = [(chance.randint(70, 130) * MM, chance.randint(60, 130) * MM) for _ in range(6)]
    pieces = []
    for garment in range(16):
        for number in range(chance.randint(2, 3)):
            size = chance.choice(sizes)
            pieces.append(Rectangle(f"T{garment}.{number}", *size, together=f"garment {garment}"))
    chance.shuffle(pieces)
    plain = [replace(piece, together="") for piece in pieces]
    found, before = (nest(some, [A4], steps=2000, straight_cuts=straight) for some in (pieces, plain))
    prove_nesting(found, pieces, [A4])
    assert found.cost == before.cost
    assert visits(found, pieces) < visits(before, pieces)
    assert found == nest(pieces, [A4], steps=2000, straight_cuts=straight)


def test_what_stays_from_an_earlier_nesting_is_not_exchanged():
    pieces = [Rectangle(f"T{i}", 100 * MM, 130 * MM, together=f"garment {i % 4}") for i in range(16)]
    apart = [replace(piece, together="") for piece in pieces]
    first = nest(apart, [A4])
    again = nest(pieces, [A4], start=first.sheets)
    assert again.sheets == first.sheets
