"""The nesting benchmark: sheets by rectpack alone, by our simple ways, and by the search, against the lower bound.

    python tests/bench/nesting.py               fifteen instances of each class, about six minutes
    python tests/bench/nesting.py --full        fifty instances of each class, budgets of 0.1, 1 and 10 s: an hour
    python tests/bench/nesting.py --full --steps-only --only classes    the same instances, default steps: some minutes
    python tests/bench/nesting.py --only trade  (or classes, few, large, mix, roll, straight, workers)
    python tests/bench/nesting.py --seconds 0.1 1 ...   other budgets; 0 stands for the default steps
    python tests/bench/nesting.py --plain ...   without the compiled loops

Budgets and times are processor seconds of one process, so that other work on the machine changes nothing; with workers
they are seconds by the clock. Every
placement is proven by `impose.nest.prove`, rectpack's included (its own check never looks at the last rectangle).
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

from impose.nest import NestedSheet, Nesting, Placement, Rectangle, Stock, budget, compiled, nest
from impose.nest.prove import prove_nesting

FEW_SEEDS = 5


class Row(NamedTuple):
    """One instance: rectpack's sheets, ours with no search, by budget, the bound, whether proven, seconds by budget."""

    rectpack: int
    simple: int
    found: tuple[int, ...]
    bound: int
    proven: bool
    seconds: tuple[float, ...]


def prepare(plain: bool, clock: bool = False) -> None:
    """Count processor time unless `clock`, with the compiled loops or without them, in this process."""
    if not clock:
        budget.monotonic = time.process_time  # type: ignore[assignment]
    if plain:
        compiled.load_library = lambda: None
    elif compiled.load_library() is None:
        raise SystemExit("the compiled loops are not built: python .ci/build_native.py, or --plain")


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
        sheets.append(NestedSheet(paper.name, paper.width, paper.height or 0, paper.cost, placed))
    nesting = Nesting(tuple(sheets), sum(s.cost for s in sheets), 0, 0, ())
    prove_nesting(nesting, pieces, papers)
    return nesting


def _placement(piece: Rectangle, r: Any) -> Placement:
    return Placement(piece.id, r.x, r.y, r.width, r.height, (r.width, r.height) != (piece.width, piece.height))


def measure(case: tuple[list[Rectangle], Stock], budgets: Sequence[float], peer: bool = True) -> Row:
    """One instance by every way; `nest` proves its own answers."""
    pieces, paper = case
    alone = len(rectpack_alone(pieces, [paper]).sheets) if peer else 0
    simple = len(nest(pieces, [paper], steps=0).sheets)
    found, seconds, last = [], [], None
    for allowed in budgets:
        begun = time.process_time()
        last = nest(pieces, [paper], seconds=allowed or None)  # 0 stands for the default number of steps
        seconds.append(time.process_time() - begun)
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
    """Growth, in one process so that seconds mean something. rectpack alone is quadratic: asked up to 1,000 only."""
    budgets = (0.01, 2.0, 10.0)
    heading(budgets, "cells on A4")
    paper = instances.PAPERS["A4"]
    for cells, sizes in ((1000, None), (3000, None), (10_000, None), (10_000, 40), (30_000, None)):
        case = (instances.trade_batch(cells, 1, sizes), paper)
        row = measure(case, budgets, cells <= 1000)
        show(f"{cells:,}" + (f", {sizes} sizes" if sizes else ""), [row])


def workers() -> None:
    """The same steps with one worker and with two: the same answer, and the time it took."""
    print("\n| cells on A4 | steps | sheets, one worker | two workers | seconds, one worker | two workers |")
    print("| --- | --- | --- | --- | --- | --- |")
    for cells, steps in ((1000, 400_000), (10_000, 2_000_000)):
        pieces = instances.trade_batch(cells, 1)
        sheets, seconds = [], []
        for count in (1, 2):
            begun = time.perf_counter()
            sheets.append(len(nest(pieces, [instances.PAPERS["A4"]], steps=steps, workers=count).sheets))
            seconds.append(f"{time.perf_counter() - begun:.1f}")
        print(f"| {cells:,} | {steps:,} | {sheets[0]} | {sheets[1]} | {seconds[0]} | {seconds[1]} |", flush=True)


def straight() -> None:
    """What straight cuts cost in paper."""
    print("\n| cells | sheets | sheets for straight cuts | more |")
    print("| --- | --- | --- | --- |")
    for cells in (20, 100):
        cases = [(instances.trade_batch(cells, s), p) for s in range(3) for p in instances.PAPERS.values()]
        free, cut = (
            sum(len(nest(pieces, [paper], straight_cuts=on).sheets) for pieces, paper in cases) for on in (False, True)
        )
        print(f"| {cells} ({len(cases)} batches) | {free} | {cut} | {100 * (cut / free - 1):.1f} % |", flush=True)


def mix() -> None:
    """Three papers against rectpack offered the same three."""
    print("\n| batch of 100 | rectpack, all papers | best single paper | mix | bound | seconds |")
    print("| --- | --- | --- | --- | --- | --- |")
    papers = list(instances.PAPERS.values())
    for seed in range(3):
        pieces = instances.trade_batch(100, seed)
        alone = rectpack_alone(pieces, papers).cost
        single = min(nest(pieces, [paper]).cost for paper in papers)
        begun = time.process_time()
        mixed = nest(pieces, papers)
        took = time.process_time() - begun
        cells = [*(f"{c / 1e6:.2f}" for c in (alone, single, mixed.cost, mixed.bound)), f"{took:.1f}"]
        print(f"| {seed} | " + " | ".join(cells) + " |", flush=True)
    print("\n| 30 batches of | rectpack, all papers | best single paper | mix | bound | proven | seconds each |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for cells_each in (4, 8, 12, 20):
        cases = [instances.trade_batch(cells_each, seed) for seed in range(30)]
        costs = [sum(rectpack_alone(pieces, papers).cost for pieces in cases)]
        costs.append(sum(min(nest(pieces, [paper]).cost for paper in papers) for pieces in cases))
        begun = time.process_time()
        found = [nest(pieces, papers) for pieces in cases]
        took = (time.process_time() - begun) / len(cases)
        costs += [sum(one.cost for one in found), sum(one.bound for one in found)]
        proven = sum(one.proven for one in found)
        words = " | ".join(f"{cost / 1e6:.2f}" for cost in costs)
        print(f"| {cells_each} | {words} | {proven} of {len(cases)} | {took:.2f} |", flush=True)


def few(pool: ProcessPoolExecutor) -> None:
    """How many small batches are proven within a second: of one paper up to 20 prints, of two up to 15."""
    alone = [(name,) for name in instances.PAPERS]
    pairs = [("A4", "A3"), ("A4", "13x19"), ("A3", "13x19")]
    for papers, counts in ((alone, (5, 8, 10, 12, 15, 18, 20)), (pairs, (4, 6, 8, 10, 12, 15))):
        print("\n| prints | " + " | ".join(" and ".join(names) for names in papers) + " | proven | seconds each |")
        print("|" + " --- |" * (len(papers) + 3), flush=True)
        total = 0
        for count in counts:
            cases = [(count, seed, names) for names in papers for seed in range(FEW_SEEDS)]
            done = list(pool.map(_prove_few, cases))
            proven = [sum(sure for sure, _ in done[i : i + FEW_SEEDS]) for i in range(0, len(done), FEW_SEEDS)]
            total += sum(proven)
            cells = [*proven, f"{sum(proven)} of {len(cases)}", f"{sum(took for _, took in done) / len(done):.2f}"]
            print(f"| {count} | " + " | ".join(map(str, cells)) + " |", flush=True)
        print(f"| all | {' | ' * len(papers)}{total} of {len(counts) * len(papers) * FEW_SEEDS} | |", flush=True)


def _prove_few(case: tuple[int, int, tuple[str, ...]]) -> tuple[bool, float]:
    count, seed, names = case
    begun = time.process_time()
    found = nest(instances.trade_batch(count, 1000 + seed), [instances.PAPERS[name] for name in names], seconds=1.0)
    return found.proven, time.process_time() - begun


def roll() -> None:
    """Perfect strips, cut at random out of a rectangle whose height is thus the optimum; per cent over it."""
    print("\n| strip of pieces | cut | rectpack default | rectpack bottom left | no search | default steps | seconds |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    rows = []
    for count, width, height in instances.STRIPS:
        for pinwheels in (False, True):
            pieces = instances.perfect_strip(count, width, height, 1, pinwheels)
            paper = Stock("roll", width * instances.UM, None, cost=1_000_000)
            lengths = [_rectpack_strip(pieces, paper.width, rule) for rule in ("MaxRectsBssf", "MaxRectsBl")]
            lengths.append(nest(pieces, [paper], steps=0).sheets[0].height)
            begun = time.process_time()
            lengths.append(nest(pieces, [paper]).sheets[0].height)
            took = time.process_time() - begun
            row = [100 * (length / (height * instances.UM) - 1) for length in lengths]
            rows.append(row)
            how = "pinwheels" if pinwheels else "straight"
            print(f"| {count} | {how} | " + " | ".join(f"{x:.1f} %" for x in row) + f" | {took:.1f} |", flush=True)
    means = [sum(column) / len(rows) for column in zip(*rows, strict=True)]
    print("| mean | | " + " | ".join(f"{x:.1f} %" for x in means) + " | |", flush=True)


def _rectpack_strip(pieces: Sequence[Rectangle], width: int, rule: str) -> int:
    """The length rectpack's rule uses, largest first, on a strip as long as it likes."""
    packer: Any = rectpack.newPacker(pack_algo=getattr(rectpack, rule))
    packer.add_bin(width, sum(max(p.width, p.height) for p in pieces))
    for piece in pieces:
        packer.add_rect(piece.width, piece.height)
    packer.pack()
    assert len(packer[0]) == len(pieces)
    return max(int(r.y + r.height) for r in packer[0])


def main() -> None:
    """Print the tables asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true")
    parser.add_argument("--plain", action="store_true", help="without the compiled loops")
    parser.add_argument("--processes", type=int, default=2, help="side by side")
    parser.add_argument("--steps-only", action="store_true", help="classes and trade with the default steps only")
    parser.add_argument("--seconds", nargs="+", type=float, help="budgets for classes and trade; 0: default steps")
    alone = {"large": large, "mix": mix, "roll": roll, "straight": straight, "workers": workers}
    parser.add_argument("--only", choices=("classes", "trade", "few", *alone))
    asked = parser.parse_args()
    budgets: tuple[float, ...] = (0.1, 1.0, 10.0, 0.0) if asked.full else (0.1, 1.0, 0.0)
    if asked.steps_only:
        budgets = (0.0,)
    if asked.seconds:
        budgets = tuple(asked.seconds)
    prepare(asked.plain, asked.only == "workers")
    with ProcessPoolExecutor(asked.processes, initializer=prepare, initargs=(asked.plain,)) as pool:
        if asked.only in (None, "trade"):
            trade(pool, budgets)
        if asked.only in (None, "classes"):
            classes(pool, asked.full, budgets)
        if asked.only in (None, "few"):
            few(pool)
    for name, table in alone.items():
        if asked.only == name or (asked.only is None and name != "workers"):
            table()


if __name__ == "__main__":
    main()
