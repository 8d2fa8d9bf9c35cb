"""Counted paper: what was cut out of the sheets that are left fits on them, by construction."""

from __future__ import annotations

import random

import pytest

from impose.nest import Rectangle, Stock, nest

MM = 1000
# printable areas in mm and prices of three papers, of our own choosing
PAPERS = (("a4", 204, 280, 400_000), ("a3", 291, 403, 950_000), ("13x19", 324, 466, 1_500_000))


def cut_up(width, height, parts, chance):
    """A sheet parted without waste, one in three times round a pinwheel, which no straight cut parts."""
    out = [(width, height)]
    if parts >= 5 and chance.random() < 0.3:
        x1, y1 = chance.randint(20, width - 60), chance.randint(20, height - 60)
        x2, y2 = chance.randint(x1 + 20, width - 20), chance.randint(y1 + 20, height - 20)
        out = [(x2, y1), (width - x2, y2), (width - x1, height - y2), (x1, height - y1), (x2 - x1, y2 - y1)]
    while len(out) < parts:
        out.sort(key=lambda part: part[0] * part[1])
        w, h = out.pop()
        at = chance.randint(max(w, h) // 4, 3 * max(w, h) // 4)
        out += [(at, h), (w - at, h)] if w >= h else [(w, at), (w, h - at)]
    return out


def counted_batch(seed, most_parts):
    """One to three papers with one to three sheets left of each, and exactly the pieces that they are cut into."""
    chance = random.Random(f"counted {seed}")
    stocks, sizes = [], []
    for name, w, h, cost in chance.sample(PAPERS, chance.randint(1, 3)):
        limit = chance.randint(1, 3)
        stocks.append(Stock(name, w * MM, h * MM, cost, limit=limit))
        for _ in range(limit):
            sizes += cut_up(w, h, chance.randint(1, most_parts), chance)
    chance.shuffle(sizes)
    turn = [chance.random() < 0.8 for _ in sizes]
    return [Rectangle(f"T{i}", w * MM, h * MM, turn[i]) for i, (w, h) in enumerate(sizes)], stocks


@pytest.mark.parametrize("tens", [0, 1, 2, *(pytest.param(tens, marks=pytest.mark.long) for tens in range(3, 10))])
def test_what_was_cut_out_of_the_counted_sheets_fits_them(tens):
    for seed in range(10 * tens, 10 * tens + 10):
        pieces, stocks = counted_batch(seed, 4)
        found = nest(pieces, stocks)
        assert not found.unplaced, f"batch {seed}: {len(found.unplaced)} of {len(pieces)} pieces are left over"
        # not a micrometre is wasted, so every sheet is needed
        assert found.cost == sum(stock.cost * (stock.limit or 0) for stock in stocks)


def test_what_fits_only_counted_paper_is_placed_there_first():
    """By hand: three sleeves of 80 x 440 lie side by side on the one large sheet and are too long for A4, of which each
    of the four backs, larger than a sleeve, fills a sheet."""
    pieces = [Rectangle(f"S{i}", 80 * MM, 440 * MM) for i in range(3)]
    pieces += [Rectangle(f"T{i}", 200 * MM, 270 * MM) for i in range(4)]
    papers = [Stock("a4", 204 * MM, 280 * MM, 400_000), Stock("13x19", 324 * MM, 466 * MM, 600_000, limit=1)]
    found = nest(pieces, papers)
    assert not found.unplaced
    assert sorted(sheet.stock for sheet in found.sheets) == ["13x19", "a4", "a4", "a4", "a4"]
    assert found.proven


def test_a_counted_roll_is_cut_into_the_lengths_that_hold_all():
    """By hand: 1000 mm of roll in pieces of 500 at most; four of 300 x 490, two on each piece."""
    roll = Stock("roll", 600 * MM, None, 2_000_000, limit=1000 * MM, max_height=500 * MM)
    sheet = Stock("a4", 204 * MM, 280 * MM, 400_000)
    pieces = [Rectangle(f"T{i}", 300 * MM, 490 * MM, False) for i in range(4)]
    pieces += [Rectangle(f"S{i}", 200 * MM, 130 * MM, False) for i in range(2)]
    found = nest(pieces, [roll, sheet])
    assert not found.unplaced
    assert sorted(one.stock for one in found.sheets) == ["a4", "roll", "roll"]


def test_a_partial_nesting_is_never_proven():
    pieces = [Rectangle(f"T{i}", 200 * MM, 200 * MM) for i in range(3)]
    found = nest(pieces, [Stock("a4", 204 * MM, 280 * MM, 400_000, limit=2)])
    assert [reason for _, reason in found.unplaced] == ["stock"]
    assert found.cost == found.bound
    assert not found.proven
    assert not nest([*pieces[:1], Rectangle("huge", 900 * MM, 900 * MM)], [Stock("a4", 204 * MM, 280 * MM, 1)]).proven
