"""How soon a person sees new sheets: one row of a table changed, processor seconds and clock to the first new plan.

    python tests/bench/live.py [SIZE ...] [--pictures N] [--pixels N]

For each size (60 and 200 rows): the median and the worst of twelve changes to the first complete plan, how long the
search goes on, and in how many milliseconds it is stopped. Its peer, in the same run: the same table planned afresh by
`plan`, warm. Then memory: the largest resident set of a process that plans 200 pictures live and makes the sheets,
beside the deflated bytes that it would hold. Processor seconds are those of the planning process. Needs Linux.
"""

from __future__ import annotations

import argparse
import csv
import os
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from threading import Event
from typing import Any

CHANGES = 12
SIZES = (60, 200)
PLACEMENTS = ("left-chest", "full-back", "centre-chest", "")


def draw_table(folder: Path, size: int, pixels: int) -> list[dict[str, Any]]:
    """Seeded artwork and the rows that use it; written as a batch file too."""
    import numpy as np
    from PIL import Image, ImageDraw

    chance, noise = random.Random(size), np.random.default_rng(size)
    (folder / "art").mkdir(parents=True)
    rows = []
    for number in range(size):
        width = int((pixels * chance.uniform(0.6, 1.4)) ** 0.5)
        height = int(width * chance.uniform(0.6, 1.6))
        grain = noise.integers(0, 60, (height, width, 3), dtype=np.uint8)
        picture = Image.fromarray(grain).convert("RGBA")
        pen = ImageDraw.Draw(picture)
        for _ in range(12):
            x, y = chance.randint(0, width - 60), chance.randint(0, height - 60)
            colour = tuple(chance.randint(0, 220) for _ in range(3))
            pen.ellipse([x, y, x + chance.randint(60, width), y + chance.randint(60, height)], (*colour, 255))
        picture.save(folder / f"art/{number}.png", compress_level=1)
        rows.append(
            {
                "order": f"Order {number // 6}",
                "wearer": f"W{number}",
                "art": f"art/{number}.png",
                "placement": chance.choice(PLACEMENTS),
                "garment": "T-shirt adult L",
                "width": f"{chance.randint(60, 180)} mm",
            }
        )
    with (folder / "orders.csv").open("w", newline="") as file:
        table = csv.DictWriter(file, list(rows[0]))
        table.writeheader()
        table.writerows(rows)
    return rows


class Watch:
    """Hears of plans, and when the first of a change came."""

    def __init__(self) -> None:
        self.first, self.cpu, self.wall = Event(), 0.0, 0.0

    def told(self, plan: Any, final: bool) -> None:
        """A plan has come."""
        if not self.first.is_set():
            self.cpu, self.wall = time.process_time(), time.perf_counter()
            self.first.set()


def measure(folder: Path, rows: list[dict[str, Any]]) -> None:
    """One size: changes, their end, a stop in the middle, and a plan afresh."""
    from impose.run import Options, plan
    from impose.run.live import Live

    chance, watch = random.Random(1), Watch()
    cpu, wall, whole = [], [], []
    options = Options({"papers": ["a4", "a3"]}, art_root=folder, workers=1)
    with Live(options, watch.told) as live:
        live.change(rows)
        live.plan()
        for _ in range(CHANGES):
            chance.choice(rows)["width"] = f"{chance.randint(60, 180)} mm"
            watch.first.clear()
            began, ticked = time.perf_counter(), time.process_time()
            live.change(rows)
            watch.first.wait()
            cpu.append(watch.cpu - ticked)
            wall.append(watch.wall - began)
            live.plan()
            whole.append(time.process_time() - ticked)
        stops = [_stopped(live, rows, chance, watch) for _ in range(CHANGES)]
    ticked = time.process_time()
    plan([folder / "orders.csv"], options)
    afresh = time.process_time() - ticked
    print(
        f"{len(rows):5} rows: first new sheets {statistics.median(cpu):.3f} s CPU (worst {max(cpu):.3f}), "
        f"{statistics.median(wall):.3f} s clock; search ended {statistics.median(whole):.2f} s CPU; stopped in "
        f"{_ms(stops, 0)} clock, {_ms(stops, 1)} CPU; planned afresh {afresh:.2f} s CPU"
    )


def _stopped(live: Any, rows: list[dict[str, Any]], chance: random.Random, watch: Watch) -> tuple[float, float]:
    """Seconds by clock and processor from the call of stop, once there are sheets, to an idle planner."""
    chance.choice(rows)["width"] = f"{chance.randint(60, 180)} mm"
    watch.first.clear()
    live.change(rows)
    watch.first.wait()
    time.sleep(chance.uniform(0.0, 0.5))
    began, ticked = time.perf_counter(), time.process_time()
    live.stop()
    while live.busy:
        time.sleep(0.001)
    return time.perf_counter() - began, time.process_time() - ticked


def remember(folder: Path) -> None:
    """Plan a folder's batch live and make it; its largest resident set and what the rows would take."""
    from impose.run import Options, produce
    from impose.run.live import Live

    with (folder / "orders.csv").open() as file:
        rows = list(csv.DictReader(file))
    with Live(Options({"papers": ["a4", "a3"]}, art_root=folder)) as live:
        live.change(rows)
        plan = live.plan()
        held = sum(len(one.picture.data) for one in {id(p): p for p in _pieces(plan)}.values())
        planned = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        produce(plan, folder / "sheets")
    made = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"      memory: planned {planned >> 10} MB, made {made >> 10} MB; rows of all pictures {held >> 20} MB")


def _ms(stops: list[tuple[float, float]], which: int) -> str:
    seconds = [one[which] for one in stops]
    return f"{statistics.median(seconds) * 1000:.0f} ms (worst {max(seconds) * 1000:.0f})"


def _pieces(plan: Any) -> list[Any]:
    return [placed.transfer.piece for sheet in plan.layout.sheets for placed in sheet.placed]


def main() -> None:
    """Measure each size in a process of its own, with a cache of its own."""
    parser = argparse.ArgumentParser()
    parser.add_argument("sizes", nargs="*", type=int, default=SIZES)
    parser.add_argument("--pictures", type=int, default=200, help="pictures of the measure of memory")
    parser.add_argument("--pixels", type=int, default=2_000_000, help="pixels of each of them")
    parser.add_argument("--remember", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.remember:
        remember(given.remember)
        return
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["XDG_CACHE_HOME"] = f"{scratch}/cache"
        for size in given.sizes:
            folder = Path(scratch) / str(size)
            measure(folder, draw_table(folder, size, 300_000))
        folder = Path(scratch) / "pictures"
        draw_table(folder, given.pictures, given.pixels)
        subprocess.run([sys.executable, __file__, "--remember", folder], check=True)


if __name__ == "__main__":
    main()
