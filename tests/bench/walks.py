"""The files that a dropped PNG and a reprint pass through, and the climbs: calls from a lower floor into a higher one.

    python tests/bench/walks.py [CHECKOUT]

Both are run as commands, with a profiler in every process of theirs; calls between two files are counted once, whoever
calls how often. The floors are read from the table in the checkout's DEVELOPERS.md, so that an older checkout is
measured by its own house. Calls while a module is imported are not counted.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image, ImageDraw

HERE = Path(__file__).resolve().parents[2]

HOOK = """
import json, os, sys, threading

ROOT = os.environ["WALK_ROOT"]
pairs = set()

def inside(frame):
    while frame is not None and not frame.f_code.co_filename.startswith(ROOT):
        frame = frame.f_back
    return frame

def watch(frame, event, argument):
    if event != "call" or not frame.f_code.co_filename.startswith(ROOT) or frame.f_code.co_name == "<module>":
        return
    caller = inside(frame.f_back)
    if caller is not None and caller.f_code.co_name != "<module>":
        pair = (caller.f_code.co_filename[len(ROOT):], frame.f_code.co_filename[len(ROOT):])
        if pair[0] != pair[1] and pair not in pairs:
            pairs.add(pair)
            lines = os.open(f"{os.environ['WALK_OUT']}/{os.getpid()}", os.O_WRONLY | os.O_APPEND | os.O_CREAT)
            os.write(lines, (json.dumps(pair) + chr(10)).encode())
            os.close(lines)

# Written at once: a worker whose parent goes ends without Python's own ending.
if "WALK_OUT" in os.environ:
    sys.setprofile(watch)
    threading.setprofile(watch)
"""


def read_floors(checkout: Path) -> dict[str, int]:
    """The floor of each room, by the table of the house."""
    table = re.findall(r"^\| (\d+) \| ([^|]+)\|", (checkout / "DEVELOPERS.md").read_text("utf-8"), re.M)
    return {room.rstrip("/"): int(floor) for floor, rooms in table for room in re.findall(r"`([\w/.]+)`", rooms)}


def find_floor(floors: dict[str, int], file: str) -> int | None:
    """The floor of a file of the package: that of its room, or of the innermost folder that is one."""
    parts = file.removesuffix(".py").split("/")
    return next((floors[key] for n in range(len(parts), 0, -1) if (key := "/".join(parts[:n])) in floors), None)


class WalkTrace:
    """Commands of one checkout, run in a folder of their own; those that are traced leave their pairs of files."""

    def __init__(self, checkout: Path, folder: Path) -> None:
        self._checkout, self._folder = checkout, folder
        (folder / "hook").mkdir()
        (folder / "hook" / "sitecustomize.py").write_text(HOOK, "utf-8")

    def run_command(self, *words: str, out: Path | None = None) -> None:
        """Run `impose` with the words; with `out`, traced."""
        values = {**os.environ, "PYTHONPATH": os.pathsep.join([str(self._folder / "hook"), str(self._checkout)]),
                  "WALK_ROOT": f"{self._checkout}/impose/", "XDG_CACHE_HOME": str(self._folder / "cache")}  # fmt: skip
        values.pop("WALK_OUT", None)
        if out:
            out.mkdir()
            values["WALK_OUT"] = str(out)
        done = subprocess.run([sys.executable, "-m", "impose", *words], cwd=self._folder, env=values,
                              capture_output=True, text=True, check=False)  # fmt: skip
        if done.returncode:
            sys.exit(f"impose {' '.join(words)}: {done.stderr}")

    def tell_walk(self, name: str, out: Path) -> None:
        """Print what a traced command passed."""
        floors = read_floors(self._checkout)
        pairs = {tuple(json.loads(line)) for path in out.iterdir() for line in path.read_text("utf-8").splitlines()}
        climbs = []
        for caller, called in sorted(pairs):
            low, high = find_floor(floors, caller), find_floor(floors, called)
            if low is not None and high is not None and high > low:
                climbs.append((caller, called))
        print(f"{name}: {len({file for pair in pairs for file in pair})} files, {len(climbs)} climbs")
        for caller, called in climbs:
            print(f"    {caller} calls {called}")


def walk_dropped_png(trace: WalkTrace, folder: Path) -> None:
    """From the desk's `in/` to the print folder."""
    trace.run_command("desk", "--new", "desk")
    image = Image.new("RGBA", (600, 500))
    ImageDraw.Draw(image).ellipse((20, 20, 580, 480), fill=(200, 30, 60, 255))
    (folder / "desk" / "in" / "left-chest").mkdir(exist_ok=True)
    image.save(folder / "desk" / "in" / "left-chest" / "owl.png", dpi=(300, 300))
    (folder / "prints").mkdir()
    out = folder / "dropped"
    trace.run_command("watch", "desk", "--once", "--settle", "0.5", "--print-folder", "prints", out=out)
    trace.tell_walk("a dropped PNG", out)


def walk_reprint(trace: WalkTrace, folder: Path, checkout: Path) -> None:
    """One print of the example's sheets, made again."""
    orders = str(checkout / "examples" / "lantern-night" / "orders.csv")
    trace.run_command("sheets", orders, "-p", "a4", "-p", "13x19", "-o", "sheets", "-q", "--steps", "0")
    out = folder / "reprint"
    trace.run_command("reprint", "sheets", "--only", "1", "-o", "again", "-q", out=out)
    trace.tell_walk("a reprint", out)


def main() -> None:
    """Walk both ways and tell."""
    checkout = Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else HERE
    with tempfile.TemporaryDirectory(prefix="walks-") as name:
        folder = Path(name)
        trace = WalkTrace(checkout, folder)
        walk_dropped_png(trace, folder)
        walk_reprint(trace, folder, checkout)


if __name__ == "__main__":
    main()
