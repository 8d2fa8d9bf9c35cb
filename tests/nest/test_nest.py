"""The nester against published packings, exhaustive search on tiny cases, and the laws every nesting keeps."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from impose.nest import NestedSheet, Nesting, Placement, Rectangle, Stock, nest
from impose.nest.bounds import bound_cost, bound_sheets
from impose.nest.instance import make_instance
from impose.nest.prove import UnsoundNesting, prove_nesting
from impose.values import replace

MM = 1000
A4 = Stock("iso_a4_210x297mm", 208 * MM, 284 * MM, cost=450_000)

# Z. Moroń, O rozkładach prostokątów na kwadraty, Przegląd Matematyczno-Fizyczny 3 (1925) 152-153: nine squares tile
# a rectangle of 33 x 32. Bouwkamp code from memory; that it tiles is what the test shows.
MORON = ((18, 15), (7, 8), (14, 4), (10, 1), (9,))

# A. J. W. Duijvestijn, Simple perfect squared square of lowest order, J. Combinatorial Theory B 25 (1978) 240-243:
# 21 squares tile a square of 112. Bouwkamp code from memory of the paper; that it tiles is what the test shows.
DUIJVESTIJN = ((50, 35, 27), (8, 19), (15, 17, 11), (6, 24), (29, 25, 9, 2), (7, 18), (16,), (42,), (4, 37), (33,))


def bouwkamp(rows, side):
    """Squares laid as a Bouwkamp code says: each group from the left of the highest, leftmost gap."""
    skyline = [0] * side
    placed = []
    for row in rows:
        top = min(skyline)
        x = skyline.index(top)
        for size in row:
            placed.append((size, x, top))
            assert skyline[x : x + size] == [top] * size
            skyline[x : x + size] = [top + size] * size
            x += size
    return placed, skyline


def tiling(squares, width, height):
    pieces = [Rectangle(str(size), size, size) for size, _, _ in squares]
    placements = tuple(Placement(str(size), x, y, size, size, False) for size, x, y in squares)
    sheet = NestedSheet("frame", width, height, 1, placements)
    return pieces, Stock("frame", width, height, cost=1), Nesting((sheet,), 1, 1, 1, ())


def test_published_squared_rectangle_is_sound_and_its_optimum_is_found_or_bounded():
    squares, skyline = bouwkamp(MORON, 33)
    assert len(squares) == len({size for size, _, _ in squares}) == 9
    assert skyline == [32] * 33
    pieces, frame, published = tiling(squares, 33, 32)
    prove_nesting(published, pieces, [frame])
    found = nest(pieces, [frame], steps=20_000)
    assert found.bound == 1
    assert len(found.sheets) == 1, "nine squares were not fitted into 33 x 32"
    assert found.proven


def test_published_squared_square_is_sound():
    squares, skyline = bouwkamp(DUIJVESTIJN, 112)
    assert len(squares) == len({size for size, _, _ in squares}) == 21
    assert skyline == [112] * 112
    pieces, frame, published = tiling(squares, 112, 112)
    prove_nesting(published, pieces, [frame])
    found = nest(pieces, [frame], steps=100_000)
    assert found.bound == 1  # the published tiling proves that no bound may say more
    assert len(found.sheets) == 1, "the order-21 squared square was not found"


def brute_sheets(sizes, width, height):  # noqa: C901
    """Fewest sheets by trying every order with every corner position: right for a handful of pieces."""

    def fits(group):
        for order in itertools.permutations(group):
            for turns in itertools.product((False, True), repeat=len(order)):
                if _corner_fit(
                    [(h, w) if t else (w, h) for (w, h), t in zip(order, turns, strict=True)], width, height
                ):
                    return True
        return False

    def partitions(items):
        if not items:
            yield []
            return
        first, *rest = items
        for smaller in partitions(rest):
            for index, group in enumerate(smaller):
                yield [*smaller[:index], [first, *group], *smaller[index + 1 :]]
            yield [[first], *smaller]

    cache = {}

    def fits_cached(group):
        key = tuple(sorted(group))
        if key not in cache:
            cache[key] = fits(key)
        return cache[key]

    return min(len(p) for p in partitions(list(sizes)) if all(fits_cached(group) for group in p))


def _corner_fit(sizes, width, height, placed=()):
    if not sizes:
        return True
    (w, h), rest = sizes[0], sizes[1:]
    xs = {0, *(x + pw for x, _, pw, _ in placed)}
    ys = {0, *(y + ph for _, y, _, ph in placed)}
    for x, y in itertools.product(sorted(xs), sorted(ys)):
        if x + w > width or y + h > height:
            continue
        if any(x < px + pw and px < x + w and y < py + ph and py < y + h for px, py, pw, ph in placed):
            continue
        if _corner_fit(rest, width, height, (*placed, (x, y, w, h))):
            return True
    return False


@given(st.lists(st.tuples(st.integers(2, 9), st.integers(2, 9)), min_size=1, max_size=4))
def test_tiny_cases_against_exhaustive_search(sizes):
    pieces = [Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)]
    best = brute_sheets(sizes, 10, 9)
    found = nest(pieces, [Stock("s", 10, 9, cost=7)], steps=300)
    assert found.bound <= 7 * best
    assert len(found.sheets) == best


PIECES = st.lists(
    st.tuples(st.integers(20, 300), st.integers(20, 300), st.booleans(), st.sampled_from("ABC")), max_size=25
)
STOCKS = st.lists(
    st.sampled_from(
        [
            A4,
            Stock("a3", 295 * MM, 407 * MM, cost=900_000),
            Stock("13x19", 326 * MM, 469 * MM, cost=1_200_000, limit=2),
            Stock("roll", 600 * MM, None, cost=2_000_000, max_height=1500 * MM, cut_margin=20 * MM),
        ]
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda stock: stock.name,
)


@given(PIECES, STOCKS, st.booleans(), st.integers(0, 3))
def test_laws_of_every_nesting(sizes, stocks, straight, seed):
    """Each id once, nothing overlaps, all inside, limits kept, bound below cost, the same answer again."""
    pieces = [Rectangle(f"T{i}", w * MM, h * MM, turn, group) for i, (w, h, turn, group) in enumerate(sizes)]
    found = nest(pieces, stocks, steps=60, seed=seed, straight_cuts=straight)
    prove_nesting(found, pieces, stocks)
    ids = [p.id for sheet in found.sheets for p in sheet.placements] + [name for name, _ in found.unplaced]
    assert sorted(ids) == sorted(piece.id for piece in pieces)
    assert found.bound <= found.cost
    assert found.proven == (found.bound == found.cost and not found.unplaced)
    assert isinstance(found.cost, int)
    assert found == nest(pieces, stocks, steps=60, seed=seed, straight_cuts=straight, workers=2)
    if straight:
        assert all(len(sheet.placements) < 2 or sheet.cuts for sheet in found.sheets)


@given(PIECES)
def test_a_mix_is_never_dearer_than_one_paper(sizes):
    pieces = [Rectangle(f"T{i}", w * MM, h * MM, turn) for i, (w, h, turn, _) in enumerate(sizes)]
    wide = Stock("wide", 310 * MM, 310 * MM, cost=700_000)
    alone = nest(pieces, [wide], steps=40)
    mixed = nest(pieces, [wide, A4], steps=40)
    assert not alone.unplaced
    assert mixed.cost <= alone.cost


def test_nothing_to_do_is_done():
    found = nest([], [A4])
    assert (found.sheets, found.cost, found.bound, found.proven, found.unplaced) == ((), 0, 0, True, ())


def test_what_cannot_be_placed_is_named_with_the_reason():
    pieces = [Rectangle("huge", 500 * MM, 500 * MM), *(Rectangle(f"T{i}", 200 * MM, 200 * MM) for i in range(3))]
    found = nest(pieces, [replace(A4, limit=2)])
    assert found.unplaced[0] == ("huge", "size")
    assert [reason for _, reason in found.unplaced[1:]] == ["stock"]
    assert len(found.sheets) == 2


@pytest.mark.parametrize(
    ("pieces", "stocks", "words"),
    [
        ([Rectangle("T1", 1, 1), Rectangle("T1", 2, 2)], [A4], "T1"),
        ([Rectangle("T1", 0, 1)], [A4], "width"),
        ([Rectangle("T1", 1.5, 1)], [A4], "width"),  # type: ignore[arg-type]
        ([Rectangle("T1", 1, 1)], [replace(A4, cost=-1)], "cost"),
        ([Rectangle("T1", 1, 1)], [replace(A4, height=1 << 31)], "height"),
        ([Rectangle("T1", 1, 1)], [A4, A4], "stocks"),
    ],
)
def test_senseless_input_is_named(pieces, stocks, words):
    with pytest.raises(ValueError, match=words):
        nest(pieces, stocks)


@pytest.mark.parametrize("last", [0, 3])
def test_the_proof_sees_a_collision_wherever_it_is(last):
    """A packer's own check has been seen to pass over the last rectangle: every one is moved onto another here."""
    pieces = [Rectangle(f"T{i}", 100 * MM, 130 * MM, may_turn=False) for i in range(4)]
    found = nest(pieces, [A4])
    (sheet,) = found.sheets
    placements = list(sheet.placements)
    other = placements[1]
    placements[last] = replace(placements[last], x=other.x + MM, y=other.y + MM)
    broken = replace(found, sheets=(replace(sheet, placements=tuple(placements), offcut=None),))
    with pytest.raises(UnsoundNesting):
        prove_nesting(broken, pieces, [A4])


def test_the_proof_sees_what_is_lost():
    pieces = [Rectangle(f"T{i}", 100 * MM, 130 * MM) for i in range(4)]
    found = nest(pieces, [A4])
    (sheet,) = found.sheets
    broken = replace(found, sheets=(replace(sheet, placements=sheet.placements[:-1], offcut=None),))
    with pytest.raises(UnsoundNesting, match="lost or doubled"):
        prove_nesting(broken, pieces, [A4])


def test_bounds_by_hand():
    """Five pieces that can only lie alone need five sheets, though their area fits three and a bit."""
    pieces = [Rectangle(f"T{i}", 150 * MM, 200 * MM) for i in range(5)]
    job = make_instance(pieces, range(5), [A4])
    assert bound_sheets(job, 0) == 5
    assert bound_cost(job) == 5 * A4.cost


def test_one_rectpack_call_is_never_better():
    """Against the library alone, in its default setting (rectpack, MaxRectsBssf, SORT_AREA)."""
    import random

    import rectpack

    chance = random.Random(7)
    sizes = [(chance.randint(60, 200) * MM, chance.randint(60, 200) * MM) for _ in range(60)]
    packer = rectpack.newPacker(rotation=True)
    packer.add_bin(A4.width, A4.height, count=float("inf"))
    for width, height in sizes:
        packer.add_rect(width, height)
    packer.pack()
    found = nest([Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], [A4], steps=300)
    assert len(found.sheets) <= len(packer)
