"""Small boxes against every arrangement there is, tried cell by cell by a search that shares nothing with ours."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from functools import cache

import pytest

from impose.nest import Placement, Rectangle, Stock, nest
from impose.nest.exact_roll import StripFitting
from impose.nest.exact_sheet import pack_one_sheet
from impose.nest.guillotine import find_cuts
from impose.nest.instance import PieceSize

Size = tuple[int, int]


@cache
def goes(pieces: tuple[tuple[Size, ...], ...], width: int, height: int) -> bool:
    """Whether pieces, each in one of its sizes, go into a box: the first free cell is some piece's corner, or waste."""

    def fill(taken: int, left: tuple[tuple[Size, ...], ...]) -> bool:
        if not left:
            return True
        free = next((n for n in range(width * height) if not taken >> n & 1), None)
        if free is None:
            return False
        x, y = free % width, free // width
        for i, ways in enumerate(left):
            for w, h in ways:
                if x + w > width or y + h > height:
                    continue
                cells = sum(((1 << w) - 1) << ((y + row) * width + x) for row in range(h))
                if not taken & cells and fill(taken | cells, left[:i] + left[i + 1 :]):
                    return True
        return fill(taken | 1 << free, left)

    return fill(0, pieces)


def draw_pieces(chance: random.Random, count: int, most: int) -> list[PieceSize]:
    return [PieceSize(chance.randint(1, most), chance.randint(1, most), chance.random() < 0.6) for _ in range(count)]


def list_ways(piece: PieceSize) -> tuple[Size, ...]:
    ways = [(piece.width, piece.height), (piece.height, piece.width)]
    return tuple(dict.fromkeys(ways[: 2 if piece.turn else 1]))


def check_laid(spots: Sequence[tuple[int, int, int, int, int]], pieces: Sequence[PieceSize], box: Size) -> None:
    """Piece, x, y, width and height: each piece once, as it may lie, within the box and over no other."""
    assert sorted(spot[0] for spot in spots) == list(range(len(pieces)))
    for k, x, y, w, h in spots:
        assert (w, h) in list_ways(pieces[k])
        assert x >= 0
        assert y >= 0
        assert x + w <= box[0]
        assert y + h <= box[1]
    for (_, x, y, w, h), (_, u, v, a, b) in itertools.combinations(spots, 2):
        assert x + w <= u or u + a <= x or y + h <= v or v + b <= y


@pytest.mark.parametrize("seed", range(3))
def test_a_strip_holds_pieces_just_where_trying_finds_a_way(seed: int) -> None:
    chance = random.Random(seed)
    for _ in range(12):
        pieces = draw_pieces(chance, chance.randint(1, 4), 4)
        ways, width = [list_ways(piece) for piece in pieces], chance.randint(2, 6)
        for height in range(1, 8):
            laid = StripFitting(ways, width, 100_000).find_within(height)
            assert (laid is not None) == goes(tuple(ways), width, height), (pieces, width, height)
            if laid is not None:
                check_laid(laid, pieces, (width, height))


def test_a_search_that_is_over_or_has_no_places_left_finds_nothing() -> None:
    ways = [((3, 2), (2, 3)), ((3, 2), (2, 3))]
    assert StripFitting(ways, 3, 100).find_within(4) is not None
    assert StripFitting(ways, 3, 0).find_within(4) is None
    assert StripFitting(ways, 3, 100, lambda: True).find_within(4) is None


@pytest.mark.parametrize("seed", range(4))
def test_a_sheet_that_is_filled_without_waste_is_filled_rightly(seed: int) -> None:
    """Cut from a sheet at random, so that there is a way; what is found lies rightly, what is too much never does."""
    chance = random.Random(seed)
    for _ in range(12):
        pieces = [(chance.randint(3, 7), chance.randint(3, 7))]
        width, height = pieces[0]
        while len(pieces) < 5:
            w, h = pieces.pop(0)
            if max(w, h) < 2:
                pieces.append((w, h))
                break
            at = chance.randint(1, (w if w >= h else h) - 1)
            pieces += [(at, h), (w - at, h)] if w >= h else [(w, at), (w, h - at)]
        kinds = [PieceSize(w, h, False) for w, h in pieces]
        found = pack_one_sheet(kinds, range(len(kinds)), width, height, 100_000)
        assert found is not None
        check_laid([tuple(spot) for spot in found], kinds, (width, height))  # type: ignore[misc]
        assert pack_one_sheet([*kinds, PieceSize(1, 1, True)], range(len(kinds) + 1), width, height, 100_000) is None
        assert pack_one_sheet(kinds, range(len(kinds)), width, height, 0) is None


@pytest.mark.parametrize("seed", range(3))
def test_sheets_of_few_pieces_are_the_fewest_that_trying_finds(seed: int) -> None:
    """Every parting of up to four pieces onto sheets of one size, each tried cell by cell."""
    chance = random.Random(seed)
    for _ in range(5):
        width, height = chance.randint(4, 6), chance.randint(4, 6)
        pieces = [p for p in draw_pieces(chance, 4, 5) if any(w <= width and h <= height for w, h in list_ways(p))]
        if not pieces:
            continue
        ways = [list_ways(piece) for piece in pieces]
        fewest = min(
            len(set(parting))
            for parting in itertools.product(range(len(pieces)), repeat=len(pieces))
            if all(goes(tuple(w for w, p in zip(ways, parting, strict=True) if p == part), width, height)
                   for part in set(parting))
        )  # fmt: skip
        found = nest(
            [Rectangle(str(n), p.width, p.height, p.turn) for n, p in enumerate(pieces)],
            [Stock("sheet", width, height, cost=7)], steps=300,
        )  # fmt: skip
        assert len(found.sheets) == fewest
        assert found.fewest <= fewest
        assert (found.cost, found.bound <= found.cost) == (7 * fewest, True)


@pytest.mark.parametrize("seed", range(4))
def test_straight_cuts_are_found_just_where_trying_finds_them(seed: int) -> None:
    """Against parting the sheet by every line that goes through no piece, again and again."""

    @cache
    def part(boxes: tuple[tuple[int, int, int, int], ...]) -> bool:
        if len(boxes) < 2:
            return True
        for axis in (0, 1):
            for at in {box[axis] for box in boxes}:
                below = tuple(box for box in boxes if box[axis] + box[axis + 2] <= at)
                above = tuple(box for box in boxes if box[axis] >= at)
                if below and above and len(below) + len(above) == len(boxes) and part(below) and part(above):
                    return True
        return False

    chance, told = random.Random(seed), set()
    for _ in range(60):
        boxes: list[tuple[int, int, int, int]] = []
        for _ in range(chance.randint(2, 6)):
            box = chance.randint(0, 5), chance.randint(0, 5), chance.randint(1, 4), chance.randint(1, 4)
            x, y, w, h = box
            if all(x + w <= u or u + a <= x or y + h <= v or v + b <= y for u, v, a, b in boxes):
                boxes.append(box)
        placed = [Placement(str(n), *box, False) for n, box in enumerate(boxes)]
        told.add(part(tuple(boxes)))
        assert (find_cuts(placed, 10, 10) is not None) == part(tuple(boxes)), boxes
    # The pinwheel: five pieces that no straight cut parts.
    wheel = [(0, 0, 2, 1), (2, 0, 1, 2), (1, 2, 2, 1), (0, 1, 1, 2), (1, 1, 1, 1)]
    assert not part(tuple(wheel))
    assert find_cuts([Placement(str(n), *box, False) for n, box in enumerate(wheel)], 3, 3) is None
