"""Rolls against strips whose least length is known, because they were cut out of a rectangle without waste.

E. Hopper and B. Turton, An empirical investigation of meta-heuristic and heuristic algorithms for a 2D packing problem,
European J. Operational Research 128 (2001) 34-57, made theirs so; their sizes of strip and numbers of pieces are used
here (as restated in the literature, from memory), the cuts are our own.
"""

from __future__ import annotations

import random

import pytest

from impose.nest import Rectangle, Stock, nest
from impose.nest.budget import SearchBudget
from impose.nest.instance import PieceSize
from impose.nest.roll_beam import TASTES, RollBeam, raise_outline
from impose.values import replace

MM = 1000


def strip_of(pieces, width, height, seed, pinwheels):
    """A rectangle cut into pieces: by straight cuts, or now and then as a pinwheel, which no straight cut parts."""
    chance = random.Random(seed)
    parts = [(width, height)]
    while len(parts) < pieces:
        parts.sort(key=lambda part: part[0] * part[1])
        w, h = parts.pop()
        if pinwheels and pieces - len(parts) >= 5 and min(w, h) >= 5:
            x1, y1 = chance.randint(1, w - 2), chance.randint(1, h - 2)
            x2, y2 = chance.randint(x1 + 1, w - 1), chance.randint(y1 + 1, h - 1)
            parts += [(x2, y1), (w - x2, y2), (w - x1, h - y2), (x1, h - y1), (x2 - x1, y2 - y1)]
        elif chance.random() * (w + h) < w and w > 1:
            cut = chance.randint(max(1, w // 5), max(1, w - w // 5 - 1))
            parts += [(cut, h), (w - cut, h)]
        else:
            cut = chance.randint(max(1, h // 5), max(1, h - h // 5 - 1))
            parts += [(w, cut), (w, h - cut)]
    assert sum(w * h for w, h in parts) == width * height
    return [Rectangle(str(i), w * MM, h * MM) for i, (w, h) in enumerate(parts)]


@pytest.mark.parametrize("pinwheels", [False, True])
@pytest.mark.parametrize(
    ("pieces", "width", "height"),
    [(17, 20, 20), (29, 60, 30), (49, 60, 60), pytest.param(97, 80, 120, marks=pytest.mark.long)],
)
def test_strips_cut_without_waste_are_met_within_a_few_per_cent(pieces, width, height, pinwheels):
    strip = strip_of(pieces, width, height, 1, pinwheels)
    found = nest(strip, [Stock("roll", width * MM, None, cost=1_000_000)], steps=4000)
    assert found.sheets[0].height >= height * MM
    # one whole millimetre is 5 % of the shortest strip: lengths in between do not occur
    assert found.sheets[0].height <= max(1.04 * height, height + 1) * MM


def test_a_known_strip_without_waste_is_found():
    """Two squares of 3 over three of 2: the gap of 6 is filled without waste only in that way."""
    kinds = [PieceSize(3, 3, False), PieceSize(2, 2, False)]
    gaps = RollBeam(kinds, [0, 0, 1, 1, 1], 6)
    spots = gaps.fit_all(5, 4, TASTES[0], SearchBudget(100))
    assert spots is not None
    assert sorted((s.width, s.y + s.height <= 5) for s in spots) == [(2, True)] * 3 + [(3, True)] * 2
    assert gaps.fit_all(4, 4, TASTES[0], SearchBudget(100)) is None


def test_a_raised_gap_joins_level_neighbours():
    outline = ((5, 0, 4), (2, 4, 3), (5, 7, 3))
    assert raise_outline(outline, 1, 4, 3, 5) == ((5, 0, 10),)
    assert raise_outline(outline, 1, 4, 2, 5) == ((5, 0, 6), (2, 6, 1), (5, 7, 3))
    assert raise_outline(outline, 1, 5, 2, 9) == ((5, 0, 4), (2, 4, 1), (9, 5, 2), (5, 7, 3))


def test_what_a_cut_loses_grows_with_the_piece_where_the_printer_prints_short():
    """By hand: at a scale of 0.98 a metre takes 20,409 um more (1 / 0.98 - 1, rounded up); of 100 mm used 2,041 are
    lost, less than the 9,000 that every cut loses; of a metre 20,409 - 5,000."""
    roll = Stock("roll", 600 * MM, None, 1_000_000, cut_margin=9 * MM, cut_base=-5 * MM, cut_per_metre=20_409)
    assert roll.length(100 * MM) == 109 * MM
    assert roll.length(1000 * MM) == 1_015_409
    for length in (109 * MM, 1_015_409, 777_777):
        assert roll.length(roll.height_within(length)) <= length < roll.length(roll.height_within(length) + 1)
    found = nest([Rectangle("T1", 50 * MM, 100 * MM)], [roll])
    assert (found.cost, found.proven) == (50 * MM + 9 * MM, True)
    (sheet,) = nest([Rectangle("T1", 600 * MM, 1000 * MM, False)], [replace(roll, limit=1_015_409)]).sheets
    assert sheet.cost == 1_015_409
    assert nest([Rectangle("T1", 600 * MM, 1000 * MM, False)], [replace(roll, limit=1_015_408)]).unplaced


@pytest.mark.parametrize("pinwheels", [False, True])
@pytest.mark.parametrize("pieces", [5, 7, 9])
def test_few_pieces_cut_without_waste_are_laid_without_waste(pieces, pinwheels):
    """The strip that they were cut from is the shortest there can be: its area over its width."""
    strip = strip_of(pieces, 40, 60, 3, pinwheels)
    found = nest(strip, [Stock("roll", 40 * MM, None, cost=1_000_000)])
    assert [sheet.height for sheet in found.sheets] == [60 * MM]
    assert found.proven


STRIP_OF_NINE = [(237, 111), (102, 116), (182, 194), (158, 285), (90, 187), (134, 97), (78, 103), (96, 42), (355, 86)]
STRIP_OF_EIGHT = [(90, 119), (151, 116), (328, 250), (223, 143), (190, 91), (248, 135), (128, 270), (223, 69)]

# The least lengths are those that CP-SAT (OR-Tools 9, Apache 2.0) proves with no_overlap_2d, computed once.
STRIPS_PROVEN = [
    (610, [(211, 245), (153, 203), (99, 117), (269, 153), (248, 187), (219, 216)], 427),
    (305, [(210, 85), (202, 229), (99, 121)], 314),
    # Nine and eight pieces of which a beam alone finds 339 and 435 mm.
    (600, STRIP_OF_NINE, 334),
    (600, STRIP_OF_EIGHT, 431),
]


@pytest.mark.parametrize(("width", "sizes", "least"), STRIPS_PROVEN)
def test_few_pieces_meet_the_length_that_another_solver_proves(width, sizes, least):
    strip = [Rectangle(str(i), w * MM, h * MM) for i, (w, h) in enumerate(sizes)]
    found = nest(strip, [Stock("roll", width * MM, None, cost=1_000_000)])
    assert ([sheet.height for sheet in found.sheets], found.proven) == ([least * MM], True)


@pytest.mark.parametrize("steps", [1, 300])
def test_two_upright_pieces_that_no_cut_beside_the_larger_leaves_room_for_are_cut_one_below_the_other(steps):
    # Side by side they are 79.999 mm wide, the roll is 75: by hand, 15 + 95 mm is the only length.
    upright = [Rectangle("wide", 49_999, 15_000, may_turn=False), Rectangle("tall", 30_000, 95_000, may_turn=False)]
    roll = Stock("roll", 75_000, None, cost=1_000_000, cut_margin=10_000)
    found = nest(upright, [roll], steps=steps, straight_cuts=True)
    (sheet,) = found.sheets
    assert (sheet.height, len(sheet.cuts), found.unplaced) == (110_000, 1, ())
