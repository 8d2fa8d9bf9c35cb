"""Batches for the nesting benchmark, made from published definitions or trade practice with seeds of our own.

Classes 1-6: J. O. Berkey and P. Y. Wang, Two-dimensional finite bin-packing algorithms, J. Operational Research Society
38 (1987) 423-429. Classes 7-10: S. Martello and D. Vigo, Exact solution of the two-dimensional finite bin packing
problem, Management Science 44 (1998) 388-399. Both as restated in A. Lodi, S. Martello and D. Vigo, Heuristic and
metaheuristic approaches for a class of two-dimensional bin packing problems, INFORMS J. Computing 11 (1999). The
instances here are drawn from those definitions, not the published files, so only ratios compare with the literature.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

from impose.nest import Rectangle, Stock

UM = 1000

# class: (largest side drawn, side of the sheet)
BERKEY_WANG = {1: (10, 10), 2: (10, 30), 3: (35, 40), 4: (35, 100), 5: (100, 100), 6: (100, 300)}

# Martello and Vigo's four types on a sheet of 100 x 100: ranges of width and of height
TYPES = (((67, 100), (1, 50)), ((1, 50), (67, 100)), ((50, 100), (50, 100)), ((1, 50), (1, 50)))

PAPERS = {
    "A4": Stock("A4", 206 * UM, 282 * UM, cost=450_000),
    "A3": Stock("A3", 293 * UM, 405 * UM, cost=950_000),
    "13x19": Stock("13x19", 326_200, 467_600, cost=1_500_000),
}


def published_class(number: int, pieces: int, seed: int) -> tuple[list[Rectangle], Stock]:
    """One instance of a published class; pieces may turn by 90 degrees."""
    chance = random.Random(f"class {number}, {pieces} pieces, {seed}")
    if number in BERKEY_WANG:
        most, side = BERKEY_WANG[number]
        sizes = [(chance.randint(1, most), chance.randint(1, most)) for _ in range(pieces)]
    else:
        side = 100
        sizes = [_martello_vigo(number - 7, chance) for _ in range(pieces)]
    return [Rectangle(str(i), w, h) for i, (w, h) in enumerate(sizes)], Stock("sheet", side, side, cost=1)


def _martello_vigo(main: int, chance: random.Random) -> tuple[int, int]:
    """Seven in ten of the main type, one in ten of each other."""
    kind = main if chance.random() < 0.7 else chance.choice([t for t in range(4) if t != main])
    (w0, w1), (h0, h1) = TYPES[kind]
    return chance.randint(w0, w1), chance.randint(h0, h1)


def trade_batch(pieces: int, seed: int, sizes: int | None = None) -> list[Rectangle]:
    """Prints as a shop gets them (common practice, no source): chests, sleeves, fronts and backs with a 14 mm margin.

    Each order has one to three pictures of fixed proportions, each in a size for every few garments. With `sizes`,
    only that many different sizes occur.
    """
    chance = random.Random(f"trade, {pieces} pieces, {seed}")
    pool: list[tuple[int, int]] = []
    while len(pool) < (sizes or pieces):
        long_side = chance.choice((80, 90, 90, 100, 100, 120, 150, 200, 240, 280)) + chance.randint(-6, 6)
        short_side = max(40, min(270, int(long_side * chance.uniform(0.3, 1.0))))
        pool.append((long_side, short_side) if chance.random() < 0.5 else (short_side, long_side))
    rows = []
    for i in range(pieces):
        w, h = pool[i] if sizes is None else chance.choice(pool)
        w, h = w + 28, h + 28
        if not ((w <= 206 and h <= 282) or (h <= 206 and w <= 282)):
            w, h = min(w, 206), min(h, 282)
        rows.append(Rectangle(f"T{i:05d}", w * UM, h * UM, group=f"order {i // 7}"))
    return rows


# pieces, width and height of strips as Hopper and Turton sized theirs (categories 1 to 7)
STRIPS = ((17, 20, 20), (25, 40, 15), (29, 60, 30), (49, 60, 60), (73, 60, 90), (97, 80, 120), (197, 160, 240))


def perfect_strip(pieces: int, width: int, height: int, seed: int, pinwheels: bool) -> list[Rectangle]:
    """A rectangle cut at random into pieces, so that no strip can be shorter than it is high; lengths given in mm.

    The way E. Hopper and B. Turton made theirs (An empirical investigation of meta-heuristic and heuristic algorithms
    for a 2D packing problem, European J. Operational Research 128 (2001)); their own data are not here. With
    `pinwheels` some parts are cut into five that no straight cut parts.
    """
    chance = random.Random(f"strip, {pieces} pieces, {width} x {height}, {seed}, {pinwheels}")
    parts = [(width, height)]
    while len(parts) < pieces:
        parts.sort(key=lambda p: p[0] * p[1])
        w, h = parts.pop()
        if pinwheels and pieces - len(parts) >= 5 and min(w, h) >= 5 and chance.random() < 0.6:
            parts += _pinwheel(w, h, chance)
        elif chance.random() * (w + h) < w and w > 1:
            cut = chance.randint(max(1, w // 5), max(1, w - w // 5 - 1))
            parts += [(cut, h), (w - cut, h)]
        else:
            cut = chance.randint(max(1, h // 5), max(1, h - h // 5 - 1))
            parts += [(w, cut), (w, h - cut)]
    return [Rectangle(str(i), w * UM, h * UM) for i, (w, h) in enumerate(parts)]


def _pinwheel(w: int, h: int, chance: random.Random) -> list[tuple[int, int]]:
    x1, y1 = chance.randint(1, w - 2), chance.randint(1, h - 2)
    x2, y2 = chance.randint(x1 + 1, w - 1), chance.randint(y1 + 1, h - 1)
    return [(x2, y1), (w - x2, y2), (w - x1, h - y2), (x1, h - y1), (x2 - x1, y2 - y1)]


def classes(seeds: int) -> Iterator[tuple[int, list[tuple[list[Rectangle], Stock]]]]:
    """Each class with its instances: `seeds` of each of the five published numbers of pieces."""
    for number in range(1, 11):
        yield number, [published_class(number, n, seed) for n in (20, 40, 60, 80, 100) for seed in range(seeds)]
