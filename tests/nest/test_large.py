"""Many pieces, several workers, rolls and the shop's wishes."""

from __future__ import annotations

import random
from concurrent.futures import BrokenExecutor, ThreadPoolExecutor

import pytest
import rectpack

from impose.nest import Rectangle, Stock, nest
from impose.nest.finish import find_offcut
from impose.nest.instance import PlacedSpot
from impose.nest.prove import UnsoundNesting, prove_nesting
from impose.values import replace

MM = 1000
A4 = Stock("a4", 206 * MM, 282 * MM, cost=450_000)


def batch(count, sizes=None, seed=0):
    chance = random.Random(seed)
    pool = [(chance.randint(60, 200) * MM, chance.randint(60, 200) * MM) for _ in range(sizes or count)]
    return [Rectangle(f"T{i}", *chance.choice(pool), group=f"order {i // 5}") for i in range(count)]


def rectpack_sheets(pieces, paper):
    packer = rectpack.newPacker()
    packer.add_bin(paper.width, paper.height, count=len(pieces))
    for piece in pieces:
        packer.add_rect(piece.width, piece.height)
    packer.pack()
    return len(packer)


@pytest.mark.parametrize("sizes", [None, 12])
def test_large_batches_are_no_worse_than_rectpack_alone_and_the_same_for_any_workers(sizes):
    pieces = batch(600, sizes)
    found = nest(pieces, [A4], steps=3000)
    with ThreadPoolExecutor(3) as threads:
        assert nest(pieces, [A4], steps=3000, workers=threads) == found
    assert len(found.sheets) <= rectpack_sheets(pieces, A4)


def test_workers_of_our_own_give_the_same_answer():
    pieces = batch(200)
    assert nest(pieces, [A4], steps=400, workers=2) == nest(pieces, [A4], steps=400)


class Broken(ThreadPoolExecutor):
    """An executor whose workers die, as processes do that cannot import the caller's script."""

    def submit(self, *args, **kwargs):
        raise BrokenExecutor("no worker could start")


def test_workers_that_cannot_start_cost_nothing_but_time():
    pieces = batch(200)
    with Broken(1) as broken:
        assert nest(pieces, [A4], steps=400, workers=broken) == nest(pieces, [A4], steps=400)


def test_one_order_lands_together_where_sizes_allow():
    """Twelve equal pieces of three orders, four to a sheet: each order gets a sheet of its own."""
    pieces = [Rectangle(f"T{i}", 100 * MM, 140 * MM, group="ABC"[i % 3]) for i in range(12)]
    found = nest(pieces, [A4])
    groups = {p.id: p.group for p in pieces}
    assert len(found.sheets) == 3
    assert all(len({groups[q.id] for q in sheet.placements}) == 1 for sheet in found.sheets)


def test_the_emptiest_sheet_is_last_and_its_waste_in_one_piece():
    pieces = [Rectangle(f"T{i}", 100 * MM, 140 * MM) for i in range(5)]
    found = nest(pieces, [A4])
    assert [len(sheet.placements) for sheet in found.sheets] == [4, 1]
    _, _, width, height = found.sheets[-1].offcut
    assert width * height >= 206 * 142 * MM * MM  # all the paper beside or below the one piece, whichever is more


def test_the_offcut_is_the_largest_clean_rectangle():
    assert find_offcut(10, 10, [PlacedSpot(0, 0, 0, 10, 4)]) == (0, 4, 10, 6)
    assert find_offcut(10, 10, [PlacedSpot(0, 0, 0, 10, 10)]) is None
    assert find_offcut(12, 10, [PlacedSpot(0, 4, 4, 2, 2)]) == (6, 0, 6, 10)


def test_a_roll_is_cut_no_longer_than_needed():
    """Ten pieces of 100 x 150 on a roll 500 wide: two rows of five, 300 long, which area alone proves best."""
    pieces = [Rectangle(str(i), 100 * MM, 150 * MM) for i in range(10)]
    roll = Stock("roll", 500 * MM, None, cost=2_000_000)
    found = nest(pieces, [roll])
    assert [(s.height, s.cost) for s in found.sheets] == [(300 * MM, 600_000)]
    assert found.proven


def test_a_roll_with_a_greatest_length_and_a_margin_at_each_cut():
    pieces = [Rectangle(str(i), 400 * MM, 300 * MM, may_turn=False) for i in range(5)]
    roll = Stock("roll", 500 * MM, None, cost=1_000_000, max_height=700 * MM, cut_margin=10 * MM)
    found = nest(pieces, [roll], steps=200)
    assert sorted(s.height for s in found.sheets) == [300 * MM, 600 * MM, 600 * MM]
    assert found.cost == 310_000 + 2 * 610_000
    short = nest(pieces, [replace(roll, limit=1220 * MM)], steps=200)
    assert [why for _, why in short.unplaced] == ["stock"]


def test_cheaper_of_roll_and_sheets_is_taken():
    pieces = [Rectangle(str(i), 100 * MM, 140 * MM) for i in range(8)]
    roll = Stock("roll", 500 * MM, None, cost=2_000_000)
    assert {s.stock for s in nest(pieces, [A4, roll], steps=200).sheets} == {"roll"}
    assert {s.stock for s in nest(pieces, [A4, replace(roll, cost=9_000_000)], steps=200).sheets} == {"a4"}


def test_straight_cuts_part_every_piece_and_a_wrong_cut_is_seen():
    pieces = batch(30, seed=4)
    found = nest(pieces, [A4], steps=500, straight_cuts=True)
    assert any(len(sheet.placements) > 2 for sheet in found.sheets)
    cut = next(s for s in found.sheets if s.cuts)
    wrong = replace(cut, cuts=(replace(cut.cuts[0], x1=cut.cuts[0].x1 + 1), *cut.cuts[1:]))
    with pytest.raises(UnsoundNesting):
        prove_nesting(replace(found, sheets=tuple(wrong if s is cut else s for s in found.sheets)), pieces, [A4])


def test_no_search_for_sheets_that_would_be_all_but_full():
    """Where one sheet fewer would have to be 98 % full, a short round by default; all steps if asked for."""
    paper = replace(A4, width=293 * MM, height=405 * MM)
    pieces = batch(40, seed=11)
    used = sum(piece.width * piece.height for piece in pieces)
    found = nest(pieces, [paper])
    assert 0.96 < used / ((len(found.sheets) - 1) * paper.width * paper.height) < 1
    assert not found.proven
    assert found.steps <= 2000
    asked = nest(pieces, [paper], steps=5000)
    assert (asked.steps, len(asked.sheets)) == (5000, len(found.sheets))


def test_on_a_coarse_grid_all_but_full_sheets_are_searched_for():
    """Class 3 of Berkey and Wang (J. Operational Research Society 38 (1987)): sides of 1 to 35 on sheets of 40."""
    chance = random.Random("class 3, 80 pieces, 5")
    pieces = [Rectangle(str(i), chance.randint(1, 35), chance.randint(1, 35)) for i in range(80)]
    paper = Stock("sheet", 40, 40, cost=1)
    found = nest(pieces, [paper])
    assert len(found.sheets) == 16
    assert sum(piece.width * piece.height for piece in pieces) > 0.96 * 16 * 40 * 40
