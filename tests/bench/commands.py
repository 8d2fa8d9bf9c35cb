"""What whole commands cost: processor seconds of `impose sheets` with tickets, proof and approvals, beside their peers.

    python tests/bench/commands.py [--megapixels N] [--rounds N]

The batch is 20 seeded pictures (see pictures.py), one print of each. Peer, in the same run and interleaved: Pillow
decoding the same files to plain RGBA in a process of its own, and the same process with nothing to do. Told are the
least of the rounds: cold and warm cache, `check` and then `sheets`, one artwork to a PDF, the example batch, and
`--help`. Byte code is kept, as it is after the first run of an installed program. Needs Linux.
"""

from __future__ import annotations

import argparse
import csv
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "lantern-night" / "orders.csv"
DECODE = "import sys\nfrom PIL import Image\nfor name in sys.argv[1:]:\n    Image.open(name).convert('RGBA')\n"


class Runner:
    """Runs commands with a cache, a ledger and byte code of their own, and takes their processor seconds."""

    def __init__(self, scratch: Path) -> None:
        self.scratch, self.cache = scratch, scratch / "cache"
        self._environment = {
            **{name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
            "PYTHONPYCACHEPREFIX": str(scratch / "code"),
            "XDG_CACHE_HOME": str(self.cache),
            "IMPOSE_LEDGER": str(scratch / "ledger.db"),
        }

    def impose(self, *arguments: object) -> float:
        """One command; those that write go into a folder of their own, which is empty."""
        out = self.scratch / "out"
        shutil.rmtree(out, ignore_errors=True)
        where = {"sheets": ["-o", str(out), "--workers", "1", "-q"], "check": ["--workers", "1"]}
        return self.seconds(["-m", "impose", *map(str, arguments), *where.get(str(arguments[0]), [])])

    def seconds(self, arguments: list[str]) -> float:
        """Processor seconds of Python with these arguments, children included."""
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        command = [sys.executable, *arguments]
        subprocess.run(command, env=self._environment, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    def forget(self) -> None:
        """Empty the cache."""
        shutil.rmtree(self.cache, ignore_errors=True)


def write_batch(folder: Path, megapixels: float) -> tuple[Path, list[Path], float]:
    """Twenty pictures of so many megapixels in all, and a batch of them; with what they came to."""
    from pictures import draw
    from PIL import Image

    folder.mkdir()
    seeds, files, total = range(20), [], 0.0
    drawn = [draw(seed) for seed in seeds]
    factor = (megapixels * 1e6 / sum(image.width * image.height for image in drawn)) ** 0.5
    for seed, image in zip(seeds, drawn, strict=True):
        size = (round(image.width * factor), round(image.height * factor))
        whole = image.resize(size, Image.Resampling.BICUBIC)
        files.append(folder / f"{seed:02}.png")
        whole.save(files[-1])
        total += size[0] * size[1] / 1e6
    with (folder / "orders.csv").open("w", newline="") as file:
        table = csv.writer(file)
        table.writerow(["order", "wearer", "art", "width", "garment"])
        table.writerows(
            [f"Order {n // 4}", f"W{n}", one.name, "120 mm", "T-shirt adult L"] for n, one in enumerate(files)
        )
    return folder / "orders.csv", files, total


def measure(runner: Runner, batch: Path, files: list[Path], rounds: int) -> dict[str, float]:
    """The least of some rounds, each work once a round."""
    pictures = [str(one) for one in files]
    papers = ("-p", "a4", "-p", "13x19")

    def cold(*arguments: object) -> float:
        runner.forget()
        return runner.impose(*arguments)

    works: dict[str, Callable[[], float]] = {
        "Pillow decodes them": lambda: runner.seconds(["-c", DECODE, *pictures]),
        "Pillow with nothing to do": lambda: runner.seconds(["-c", DECODE]),
        "sheets, cold": lambda: cold("sheets", batch, "-p", "a4"),
        "sheets, warm": lambda: runner.impose("sheets", batch, "-p", "a4"),
        "check, cold": lambda: cold("check", batch, "-p", "a4"),
        "sheets after check": lambda: runner.impose("sheets", batch, "-p", "a4"),
        "one artwork, cold": lambda: cold("sheets", files[0], "--width", "90mm", "-p", "a4"),
        "example, warm": lambda: runner.impose("sheets", EXAMPLE, *papers),
        "example, warm, no search": lambda: runner.impose("sheets", EXAMPLE, *papers, "--steps", "0"),
        "--help": lambda: runner.impose("--help"),
    }
    for work in works.values():  # byte code, and what the example has in the cache
        work()
    runner.impose("sheets", EXAMPLE, *papers, "--steps", "0")
    least: dict[str, float] = {}
    for _ in range(rounds):
        for name, work in works.items():
            if name == "example, warm":
                runner.impose("check", EXAMPLE, *papers)  # the work before has emptied the cache
            took = work()
            least[name] = min(took, least.get(name, took))
    return least


def main() -> None:
    """Print each work with its peer."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--megapixels", type=float, default=60.0)
    parser.add_argument("--rounds", type=int, default=3)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        batch, files, total = write_batch(Path(scratch) / "batch", given.megapixels)
        least = measure(Runner(Path(scratch)), batch, files, given.rounds)
    peer = least["Pillow decodes them"]
    print(f"{total:.0f} megapixels in {len(files)} pictures; processor seconds, and times Pillow's decoding")
    for name, took in least.items():
        print(f"{name:28} {took:6.2f}  {took / peer:5.2f}")


if __name__ == "__main__":
    main()
