"""What a batch costs as it grows: 100, 1,000, 10,000 (and with --full 100,000) transfers of 200 artworks, end to end.

    python tests/bench/growth.py [SIZE ...] [--full] [--paper NAME ...] [--workers N] [--part-sheets N] [--json FILE]
    python tests/bench/growth.py 100000 --designs 40 ...    forty rows of a quantity each, forty sizes

Each size is a process of its own, `impose sheets` in all but the terminal, without the cache. Seconds are by the clock
and by the processors (workers included), memory is the largest resident set of the main process and of the largest
worker. What one more transfer costs is taken between two sizes that follow each other. Then where the time goes, in
processor seconds of the main process by stage, with what is left over; its workers prepare artwork and, with two or
more, write the tickets. Needs Linux.

Artwork is drawn small (0.1 to 0.6 megapixels) so that what grows with the batch is seen beside it; the batch is
seeded: orders of about ten transfers, four wearers with a crest and a back each, and something in two copies.
"""

from __future__ import annotations

import argparse
import csv
import functools
import json
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Generator, Iterator
from contextlib import suppress
from importlib import import_module
from itertools import count
from multiprocessing import forkserver
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))

ARTWORKS = 200
SIZES = (100, 1_000, 10_000)
FULL = 100_000
GARMENTS = ("hoodie adult M", "t-shirt adult L", "t-shirt youth 9-11", "sweatshirt adult XL")

# Stage, and the functions it is made of, each by the module that calls it. What runs inside another is its own stage's.
STAGES = (
    ("read", "impose.orders.batch_reader", "read_batch"),
    ("artwork", "impose.run.artwork", "prepare_artwork"),
    ("sizing", "impose.run.nest_batch", "make_pieces"),
    ("nest", "impose.run.handling_choice", "nest"),
    ("layout", "impose.run.plan", "lay_out"),
    ("layout", "impose.sheet.layout", "_redraw_sheet"),
    ("findings", "impose.run.plan", "place_findings"),
    ("findings", "impose.run.plan", "judge_findings"),
    ("costs", "impose.run.plan", "compute_costs"),
    ("record", "impose.run.plan", "make_record"),
    ("record", "impose.run.produce", "encode_in_pieces"),
    ("record", "impose.run.delivery_documents", "make_reprint_list"),
    ("pdf", "impose.pages.pdf.sheet_pages", "write_sheets"),
    ("readback", "impose.pages.pdf.readback", "check_sheets"),
    ("tickets", "impose.pages.tickets.ticket_file", "write_tickets"),
    ("tickets", "impose.sheet.press_steps", "make_tickets"),
    ("proof", "impose.pages.proof.proof_page", "draw_proof_page"),
    ("approval", "impose.pages.proof.approval_page", "write_approvals"),
    ("disk", "impose.files", "sync_path"),
)
ORDER = tuple(dict.fromkeys(stage for stage, _, _ in STAGES))


def draw_artwork(folder: Path, pictures_wanted: int = ARTWORKS) -> None:
    """Pictures of every kind, a third as large each way as those of `pictures.py`."""
    import pictures

    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(pictures_wanted):
        path = folder / f"p{seed:04}.png"
        if not path.exists():
            image = pictures.draw(seed)
            image.resize((image.width // 3, image.height // 3)).save(path)


def write_batch(path: Path, transfers: int, designs: int | None = None, seed: int = 1) -> None:
    """A batch of exactly so many transfers, its artwork in a folder `art`; with `designs` in so many rows and sizes."""
    rows = _rows(random.Random(seed)) if designs is None else _rows_of_quantity(transfers, designs)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["order", "wearer", "art", "placement", "width", "garment", "copies"])
        left = transfers
        for row in rows:
            copies = min(left, row[-1])
            writer.writerow([*row[:-1], copies])
            left -= copies
            if not left:
                return


def _rows(chance: random.Random) -> Iterator[list[Any]]:
    """Orders without end."""
    for order in count(1):
        for wearer, garment in enumerate(GARMENTS):
            for placement, width in (("left-chest", chance.randint(80, 100)), ("full-back", chance.randint(140, 200))):
                art = f"art/p{chance.randrange(ARTWORKS):04}.png"
                yield [f"Order {order}", f"Wearer {order}-{wearer}", art, placement, f"{width} mm", garment, 1]
        yield [f"Order {order}", "", f"art/p{chance.randrange(ARTWORKS):04}.png", "left-chest", "60 mm", GARMENTS[1], 2]


def _rows_of_quantity(transfers: int, designs: int) -> Iterator[list[Any]]:
    """One row a design, an order and a size of its own for each."""
    for number in range(designs):
        placement, width = ("left-chest", 60 + number) if number % 2 else ("full-back", 140 + number)
        art = f"art/p{number:04}.png"
        copies = -(-transfers // designs)
        yield [f"Order {number}", "", art, placement, f"{width} mm", GARMENTS[number % len(GARMENTS)], copies]


class Stopwatch:
    """Processor seconds of the main process by stage; a stage within a stage is taken out of the outer one."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)
        self._inner: list[float] = []

    def watch(self, stage: str, module: str, name: str) -> None:
        """Time a function wherever its module's callers find it by that name."""
        room = import_module(module)
        function = getattr(room, name)
        setattr(room, name, self._timed(stage, function))

    def _timed(self, stage: str, function: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(function)
        def timed(*args: Any, **kwargs: Any) -> Any:
            with_result = self._measured(stage, lambda: function(*args, **kwargs))
            return self._each(stage, with_result) if hasattr(with_result, "__next__") else with_result

        return timed

    def _each(self, stage: str, items: Iterator[Any]) -> Generator[Any, None, Any]:
        while True:
            try:
                item = self._measured(stage, lambda: next(items))
            except StopIteration as end:
                return end.value  # a layout is what its steps come to
            yield item

    def _measured(self, stage: str, work: Callable[[], Any]) -> Any:
        self._inner.append(0.0)
        begun = time.process_time()
        try:
            return work()
        finally:
            took = time.process_time() - begun
            self.seconds[stage] += took - self._inner.pop()
            if self._inner:
                self._inner[-1] += took


class Helpers:
    """What the processes of the server of processes take: they are its children, not ours."""

    def __init__(self) -> None:
        self.peak_kb = 0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def _look(self) -> None:
        while not self._over.wait(0.5):
            with suppress(OSError, TypeError):  # not begun yet, or ended while it was looked at
                for pid in Path(f"/proc/{_server()}/task/{_server()}/children").read_text().split():
                    status = Path(f"/proc/{pid}/status").read_text()
                    self.peak_kb = max(self.peak_kb, *map(int, re.findall(r"VmHWM:\s*(\d+)", status)))

    def seconds(self) -> float:
        """Processor seconds of all that have ended, and of the server itself."""
        self._over.set()
        self._thread.join()
        if _server() is None:
            return 0.0
        fields = Path(f"/proc/{_server()}/stat").read_text().rpartition(")")[2].split()
        return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")  # utime, stime, cutime, cstime: proc(5)


def _server() -> int | None:
    pid: int | None = getattr(forkserver._forkserver, "_forkserver_pid", None)
    return pid


def one(folder: Path, chosen: argparse.Namespace) -> dict[str, Any]:
    """Make one batch in this process; what it took."""
    watch, aside = Stopwatch(), Helpers()
    for stage, module, name in STAGES:
        watch.watch(stage, module, name)
    from impose.run import Options, plan, produce

    papers = chosen.paper or ["a4", "13x19"]
    extra = {name: value for name in ("part_sheets", "scheduler") if (value := getattr(chosen, name)) is not None}
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)
    begun = time.monotonic()
    options = Options({"papers": papers}, art_root=folder.parent, workers=chosen.workers, cache=False, **extra)
    planned = plan([folder / "batch.csv"], options)
    produce(planned, out)
    wall = time.monotonic() - begun
    own, helpers = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = sum(used.ru_utime + used.ru_stime for used in (own, helpers)) + aside.seconds()
    mine = own.ru_utime + own.ru_stime
    return {
        "wall": wall,
        "cpu": cpu,
        "peak_mb": own.ru_maxrss / 1024,
        "helpers_mb": max(helpers.ru_maxrss, aside.peak_kb) / 1024,
        "sheets": len(planned.record["sheets"]),
        "rows": len(planned.batch.rows),
        "bytes": {p.name: p.stat().st_size for p in sorted(out.iterdir()) if p.is_file()}
        | {"approval": sum(p.stat().st_size for p in (out / "approval").glob("*"))},
        "stages": dict(watch.seconds) | {"rest": mine - sum(watch.seconds.values()), "workers": cpu - mine},
    }


def apart(transfers: int, folder: Path, arguments: list[str], designs: int | None = None) -> dict[str, Any]:
    """The same in a process of its own, so that its memory is its own."""
    write_batch(folder / "batch.csv", transfers, designs)
    command = [sys.executable, __file__, "--one", str(folder), *arguments]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
    return {"transfers": transfers} | json.loads(done.stdout)


def told(runs: list[dict[str, Any]]) -> Iterator[str]:
    """The runs as tables in Markdown."""
    yield (
        "| transfers | sheets | seconds | CPU s | peak MB, and the largest worker's | output MB "
        "| one more: CPU ms | one more: KB |"
    )
    yield "|---|---|---|---|---|---|---|---|"
    before: dict[str, Any] | None = None
    for run in runs:
        size, peaks = sum(run["bytes"].values()), f"{run['peak_mb']:.0f}, {run['helpers_mb']:.0f}"
        more = [""] * 2
        if before is not None:
            more_of_them = run["transfers"] - before["transfers"]
            more = [
                f"{(run['cpu'] - before['cpu']) / more_of_them * 1000:.2f}",
                f"{(size - sum(before['bytes'].values())) / more_of_them / 1000:.1f}",
            ]
        yield (
            f"| {run['transfers']:,} | {run['sheets']:,} | {run['wall']:.1f} | {run['cpu']:.1f} | {peaks} "
            f"| {size / 1e6:.0f} | {more[0]} | {more[1]} |"
        )
        before = run
    yield ""
    yield (
        "| CPU s of the main process by stage, and of its workers | "
        + " | ".join(f"{run['transfers']:,}" for run in runs)
        + " |"
    )
    yield "|---|" + "---|" * len(runs)
    for stage in (*ORDER, "rest", "workers"):
        yield f"| {stage} | " + " | ".join(f"{run['stages'].get(stage, 0.0):.2f}" for run in runs) + " |"


def arguments() -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("sizes", nargs="*", type=int)
    parser.add_argument("--full", action="store_true")
    parser.add_argument("--paper", action="append")
    parser.add_argument("--workers", type=int)
    parser.add_argument("--part-sheets", type=int)
    parser.add_argument("--designs", type=int, help="rows, each of a quantity; else orders of about ten transfers")
    parser.add_argument("--scheduler")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--profile", type=Path)
    parser.add_argument("--one", type=Path)
    return parser.parse_args()


def main() -> None:
    chosen = arguments()
    if chosen.one is not None:
        if chosen.profile is not None:
            import cProfile

            with cProfile.Profile() as profile:
                made = one(chosen.one, chosen)
            profile.dump_stats(chosen.profile)
        else:
            made = one(chosen.one, chosen)
        print(json.dumps(made))
        return
    sizes = chosen.sizes or [*SIZES, *([FULL] if chosen.full else [])]
    passed = [word for word in sys.argv[1:] if not word.isdigit() or sys.argv[sys.argv.index(word) - 1][:2] == "--"]
    passed = [word for word in passed if word != "--full"]
    with tempfile.TemporaryDirectory() as name:
        home = chosen.keep or Path(name)
        draw_artwork(home / "art", chosen.designs or ARTWORKS)
        runs = []
        for size in sizes:
            folder = home / f"{size}"
            folder.mkdir(parents=True, exist_ok=True)
            runs.append(apart(size, folder, passed, chosen.designs))
            print(f"{size:,} done in {runs[-1]['wall']:.0f} s", file=sys.stderr)
    print("\n".join(told(runs)))
    if chosen.json is not None:
        chosen.json.write_text(json.dumps(runs, indent=1))


if __name__ == "__main__":
    main()
