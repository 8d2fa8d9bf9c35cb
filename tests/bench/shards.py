"""What it costs in paper to nest neighbouring orders apart, instead of a whole batch at once.

    python tests/bench/shards.py [--pieces 2000] [--seed 1]

Orders of ten pieces, seeded, on A4 and on 13 x 19 in. The same pieces are nested at once, and in shards of orders that
follow each other, with the same number of steps for each piece. Sheets are compared with those of the whole.
"""

from __future__ import annotations

import argparse
import random
import time

from impose.nest import Rectangle, Stock, nest

PAPERS = (Stock("A4", 208_000, 295_000, cost=450_000), Stock("13x19", 328_000, 480_000, cost=1_400_000))
SHARDS = (50, 100, 200, 500, 1000)
STEPS_A_PIECE = 2


def pieces(count: int, seed: int) -> list[Rectangle]:
    """Crests, and a back to every three of them, with their margins."""
    chance = random.Random(seed)
    found = []
    for number in range(count):
        small = chance.random() < 0.75
        width = chance.randint(88, 128) if small else chance.randint(165, 205)
        height = chance.randint(88, 128) if small else chance.randint(150, 280)
        found.append(Rectangle(f"T{number:05}", width * 1000, height * 1000, group=f"order {number // 10}"))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pieces", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    cells = pieces(chosen.pieces, chosen.seed)
    print("| paper | shard | sheets | more than at once | CPU s |\n|---|---|---|---|---|")
    for paper in PAPERS:
        whole = 0
        for size in (len(cells), *sorted(SHARDS, reverse=True)):
            begun = time.process_time()
            parts = [cells[start : start + size] for start in range(0, len(cells), size)]
            sheets = sum(len(nest(part, [paper], steps=STEPS_A_PIECE * len(part)).sheets) for part in parts)
            whole = whole or sheets
            took = time.process_time() - begun
            print(f"| {paper.name} | {size:,} | {sheets} | {sheets / whole - 1:+.1%} | {took:.1f} |", flush=True)


if __name__ == "__main__":
    main()
