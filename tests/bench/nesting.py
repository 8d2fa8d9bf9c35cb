"""The nesting benchmark: sheets by rectpack alone, by our simple ways, and by the search, against the lower bound.

    python tests/bench/nesting.py              a few instances of each class, about two minutes
    python tests/bench/nesting.py --full       ten instances of each class and size, budgets of 0.1, 1 and 10 s
    python tests/bench/nesting.py --only trade (or classes, large, mix, roll)

Every placement is proven by `impose.nest.prove`, rectpack's included (its own check never looks at the last rectangle).
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import Any, NamedTuple

import instances
import rectpack

from impose.nest import Nesting, Placement, Rectangle, Sheet, Stock, nest
from impose.nest.prove import prove


class Row(NamedTuple):
    """One instance: rectpack's sheets, ours with no search, by budget, the bound, whether proven, seconds by budget."""

    rectpack: int
    simple: int
    found: tuple[int, ...]
    bound: int
    proven: bool
    seconds: tuple[float, ...]


def rectpack_alone(pieces: Sequence[Rectangle], papers: Sequence[Stock]) -> Nesting:
    """What a user gets from rectpack's default rule, offered as many sheets of every paper as there are pieces."""
    packer: Any = rectpack.newPacker()
    for paper in papers:
        packer.add_bin(paper.width, paper.height, count=len(pieces))
    for index, piece in enumerate(pieces):
        packer.add_rect(piece.width, piece.height, index)
    packer.pack()
    sheets = []
    for one in packer:
        paper = next(s for s in papers if {s.width, s.height} == {one.width, one.height})
        placed = tuple(_placement(pieces[r.rid], r) for r in one)
        sheets.append(Sheet(paper.name, paper.width, paper.height or 0, paper.cost, placed))
    nesting = Nesting(tuple(sheets), sum(s.cost for s in sheets), 0, 0, ())
    prove(nesting, pieces, papers)
    return nesting


def _placement(piece: Rectangle, r: Any) -> Placement:
    return Placement(piece.id, r.x, r.y, r.width, r.height, (r.width, r.height) != (piece.width, piece.height))


def measure(case: tuple[list[Rectangle], Stock], budgets: Sequence[float], peer: bool = True) -> Row:
    """One instance by every way; `nest` proves its own answers."""
    pieces, paper = case
    alone = len(rectpack_alone(pieces, [paper]).sheets) if peer else 0
    simple = len(nest(pieces, [paper], steps=0).sheets)
    found, seconds, last = [], [], None
    for budget in budgets:
        begun = time.perf_counter()
        last = nest(pieces, [paper], seconds=budget or None)  # 0 stands for the default number of steps
        seconds.append(time.perf_counter() - begun)
        found.append(len(last.sheets))
    assert last is not None
    return Row(alone, simple, tuple(found), last.fewest, last.proven, tuple(seconds))


def show(name: str, rows: Sequence[Row]) -> None:
    """One line of the table."""
    found = [sum(row.found[i] for row in rows) for i in range(len(rows[0].found))]
    seconds = [sum(row.seconds[i] for row in rows) / len(rows) for i in range(len(rows[0].seconds))]
    proven = sum(row.proven for row in rows)
    cells = [sum(row.rectpack for row in rows) or "-", sum(row.simple for row in rows), *found]
    cells += [sum(row.bound for row in rows), f"{proven} of {len(rows)}", *(f"{s:.2f}" for s in seconds)]
    print(f"| {name} | " + " | ".join(str(cell) for cell in cells) + " |", flush=True)


def heading(budgets: Sequence[float], first: str) -> None:
    """The table's head."""
    names = [first, "rectpack default", "no search", *(f"search {b:g} s" if b else "default steps" for b in budgets)]
    names += ["bound", "proven", *(f"seconds at {b:g}" if b else "seconds by default" for b in budgets)]
    print("\n| " + " | ".join(names) + " |")
    print("|" + " --- |" * len(names), flush=True)


def run(pool: ProcessPoolExecutor, cases: Iterable[Any], budgets: Sequence[float], peer: bool = True) -> list[Row]:
    """Instances in parallel, answers in order."""
    return list(pool.map(partial(measure, budgets=budgets, peer=peer), cases))


def classes(pool: ProcessPoolExecutor, full: bool, budgets: Sequence[float]) -> None:
    """The ten published classes."""
    heading(budgets, "class")
    every = []
    for number, cases in instances.classes(3 if not full else 10):
        rows = run(pool, cases, budgets)
        show(str(number), rows)
        every += rows
    show("all", every)


def trade(pool: ProcessPoolExecutor, budgets: Sequence[float]) -> None:
    """Batches as shops have them, each on three papers."""
    heading(budgets, "cells")
    for cells, seeds in ((20, 3), (100, 3), (500, 1)):
        cases = [(instances.trade_batch(cells, s), p) for s in range(seeds) for p in instances.PAPERS.values()]
        show(f"{cells} ({len(cases)} batches)", run(pool, cases, budgets))


def large() -> None:
    """Growth, in one process so that seconds mean something. rectpack alone is quadratic: asked up to 2,000 only."""
    budgets = (1.0, 10.0)
    heading(budgets, "cells on A4")
    paper = instances.PAPERS["A4"]
    for cells, sizes in ((1000, None), (1000, 40), (2000, None), (10_000, None), (10_000, 40)):
        case = (instances.trade_batch(cells, 1, sizes), paper)
        row = measure(case, budgets, cells <= 2000)
        show(f"{cells:,}" + (f", {sizes} sizes" if sizes else ""), [row])


def mix() -> None:
    """Three papers against rectpack offered the same three."""
    print("\n| batch of 100 | rectpack, all papers | best single paper | mix | bound | seconds |")
    print("| --- | --- | --- | --- | --- | --- |")
    papers = list(instances.PAPERS.values())
    for seed in range(3):
        pieces = instances.trade_batch(100, seed)
        alone = rectpack_alone(pieces, papers).cost
        single = min(nest(pieces, [paper]).cost for paper in papers)
        begun = time.perf_counter()
        mixed = nest(pieces, papers)
        took = time.perf_counter() - begun
        cells = [*(f"{c / 1e6:.2f}" for c in (alone, single, mixed.cost, mixed.bound)), f"{took:.1f}"]
        print(f"| {seed} | " + " | ".join(cells) + " |", flush=True)


def roll() -> None:
    """Perfect strips, cut at random out of a rectangle whose height is thus the optimum."""
    print("\n| strip of pieces | optimum | found | over | seconds |")
    print("| --- | --- | --- | --- | --- |")
    for count in (17, 25, 29, 49, 73, 97):
        pieces, width, height = instances.perfect_strip(count, 1)
        begun = time.perf_counter()
        found = nest(pieces, [Stock("roll", width, None, cost=1_000_000)])
        took = time.perf_counter() - begun
        used = sum(sheet.height for sheet in found.sheets)
        print(f"| {count} | {height} | {used} | {100 * (used / height - 1):.1f} % | {took:.1f} |", flush=True)


def main() -> None:
    """Print the tables asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true")
    parser.add_argument("--only", choices=("classes", "trade", "large", "mix", "roll"))
    asked = parser.parse_args()
    budgets = (0.1, 1.0, 10.0, 0.0) if asked.full else (0.1, 1.0, 0.0)
    with ProcessPoolExecutor(2) as pool:
        if asked.only in (None, "trade"):
            trade(pool, budgets)
        if asked.only in (None, "classes"):
            classes(pool, asked.full, budgets)
    if asked.only in (None, "large"):
        large()
    if asked.only in (None, "mix"):
        mix()
    if asked.only in (None, "roll"):
        roll()


if __name__ == "__main__":
    main()
