"""Nesting that keeps up with a person: the first new sheets, how well a clock and a stop are kept, visits of garments.

    python tests/bench/nesting_live.py

One process, processor seconds. A change is one print of a batch grown by 8 mm; the nesting before it is the start.
Counted batches are cut out of the counted sheets without waste, so all of them fit; strips of up to nine pieces are of
trade sizes. There is no peer: no general library starts from an earlier nesting or knows counted sheets.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import instances

from impose.nest import Nesting, Rectangle, Stock, budget, nest
from impose.values import replace

sys.path.insert(0, str(Path(__file__).parents[1]))


def changed() -> None:
    """Seconds until the first complete nesting of a changed batch, and until the search is stopped at that."""
    print("\n| cells | papers | first told after | ended after | cost before | cost then |")
    print("| --- | --- | --- | --- | --- | --- |")
    papers = list(instances.PAPERS.values())
    for cells in (60, 200):
        for offered in (papers[:1], papers):
            pieces = instances.trade_batch(cells, 1)
            known = nest(pieces, offered)
            grown = [replace(pieces[0], width=pieces[0].width + 8 * instances.UM), *pieces[1:]]
            after: list[float] = []
            begun = time.process_time()
            told = lambda _, begun=begun, after=after: after.append(time.process_time() - begun)  # noqa: E731
            found = nest(grown, offered, start=known.sheets, told=told, stop=lambda after=after: bool(after))
            ended = time.process_time() - begun
            costs = f"{known.cost / 1e6:.2f} | {found.cost / 1e6:.2f}"
            print(f"| {cells} | {len(offered)} | {after[0]:.3f} | {ended:.3f} | {costs} |", flush=True)


def clock() -> None:
    """How far a call runs past 0.2 s, worst of the published classes (three of each size) and of trade batches."""
    print("\n| instances | worst, seconds past 0.2 |")
    print("| --- | --- |")
    for number, cases in instances.classes(3):
        print(f"| class {number} | {max(_past(pieces, [paper]) for pieces, paper in cases):.2f} |", flush=True)
    papers = list(instances.PAPERS.values())
    roll = Stock("roll", 600 * instances.UM, None, 1_000_000, max_height=3000 * instances.UM)
    for cells in (20, 60, 100, 200, 500):
        pieces = instances.trade_batch(cells, 1)
        worst = max(_past(pieces, offered) for offered in (papers[:1], papers, [roll], [papers[0], roll]))
        print(f"| {cells} cells, one paper, three, a roll, both | {worst:.2f} |", flush=True)


def _past(pieces: list[Rectangle], papers: list[Stock]) -> float:
    begun = time.process_time()
    nest(pieces, papers, seconds=0.2)
    return time.process_time() - begun - 0.2


class Looks:
    """Says stop after a while, and keeps the longest stretch of work in which it was not asked."""

    def __init__(self, after: float) -> None:
        self.last = time.process_time()
        self.ends, self.longest, self.stopped = self.last + after, 0.0, False

    def wants_no_more(self) -> bool:
        """Asked by the search."""
        now = time.process_time()
        if not self.stopped:
            self.longest, self.stopped = max(self.longest, now - self.last), now >= self.ends
            self.last = time.process_time()
        return self.stopped


def stops() -> None:
    """The longest stretch without a look at the caller's stop, and what comes after it, worst of several moments."""
    print("\n| cells | told | longest stretch | ended after |")
    print("| --- | --- | --- | --- |")
    a4, a3, large = instances.PAPERS.values()
    roll = Stock("roll", 600 * instances.UM, None, 1_000_000, max_height=3000 * instances.UM)
    for cells in (20, 60, 200, 1000, 3000):
        for told in (None, lambda _: None):
            stretches, ends = [], []
            for seed, offered in enumerate(([a4], [a4, a3], [a4, a3, large], [roll], [a4, roll])):
                pieces = [replace(piece, together=piece.group) for piece in instances.trade_batch(cells, seed)]
                for after in (0.1, 0.4, 1.2):
                    looks = Looks(after)
                    nest(pieces, offered, told=told, stop=looks.wants_no_more)
                    stretches.append(looks.longest)
                    ends.append(time.process_time() - looks.last if looks.stopped else 0.0)
            words = "yes" if told else "no"
            print(f"| {cells:,} | {words} | {max(stretches):.3f} | {max(ends):.3f} |", flush=True)


def visits() -> None:
    """Garments of two or three prints out of four designs: visits with and without `together`, at the same cost."""
    import random

    print("\n| garments | papers | visits before | visits | cost before | cost |")
    print("| --- | --- | --- | --- | --- | --- |")
    papers = list(instances.PAPERS.values())[:2]
    for garments in (10, 30, 80):
        for offered in (papers[:1], papers):
            before = after = 0
            costs = [0, 0]
            for seed in range(4):
                chance = random.Random(f"evening {seed}")
                pieces = _evening(garments, chance)
                apart = nest([replace(one, together="") for one in pieces], offered, steps=5000)
                found = nest(pieces, offered, steps=5000)
                before, after = before + _visits(apart, pieces), after + _visits(found, pieces)
                costs = [costs[0] + apart.cost, costs[1] + found.cost]
            words = " | ".join(f"{cost / 1e6:.2f}" for cost in costs)
            print(f"| {garments} | {len(offered)} | {before} | {after} | {words} |", flush=True)


def _evening(garments: int, chance: instances.random.Random) -> list[Rectangle]:
    """Front, chest and sleeve of four designs (common practice, no source), with a 14 mm margin."""
    sizes = ((180, 270, 150, 280), (80, 110, 70, 110), (70, 100, 120, 200))
    designs = [[(chance.randint(*one[:2]), chance.randint(*one[2:])) for one in sizes] for _ in range(4)]
    made = []
    for garment in range(garments):
        for number, (w, h) in enumerate(chance.choice(designs)[: chance.randint(2, 3)]):
            w, h = min(w + 28, 206) * instances.UM, min(h + 28, 282) * instances.UM
            made.append(Rectangle(f"T{garment}.{number}", w, h, group=f"{garment // 6}", together=str(garment)))
    return made


def _visits(found: Nesting, pieces: list[Rectangle]) -> int:
    unit = {piece.id: piece.together for piece in pieces}
    return sum(len({unit[p.id] for p in sheet.placements}) for sheet in found.sheets)


def counted() -> None:
    """Batches cut out of counted sheets: how many are refused though they fit."""
    from nest.test_counted import counted_batch

    print("\n| sheets cut into up to | batches | refused |")
    print("| --- | --- | --- |")
    for most in (4, 6):
        refused = sum(bool(nest(*counted_batch(seed, most)).unplaced) for seed in range(100))
        print(f"| {most} parts | 100 | {refused} |", flush=True)


if __name__ == "__main__":
    budget.monotonic = time.process_time  # type: ignore[assignment]
    nest(instances.trade_batch(20, 9), list(instances.PAPERS.values()))  # loads numpy and rectpack
    for table in (changed, clock, stops, visits, counted):
        table()
