"""Which files a dropped PNG and a reprint pass on their way, and how often a call climbs: python tests/bench/walks.py

Run from a checkout; `python walks.py OTHER` counts another checkout the same way. A pair is a file and another that it
calls; a climb is a pair whose second file stands in a higher row of the house, as with a function that is passed in.
The rows are those of FLOORS in the checkout's own `tests/test_house.py`. Prints files, pairs and climbs.
"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]

# Runs in every process, the worker too, which is killed in the end: so each pair is written when it is first met.
TRACE = """
import os, sys, threading
root = os.environ["WALK_ROOT"] + os.sep + "impose" + os.sep
out = os.open(os.environ["WALK_OUT"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
met = set()
def trace(frame, event, arg):
    if event != "call" or not frame.f_code.co_filename.startswith(root) or frame.f_code.co_name == "<module>":
        return
    caller = frame.f_back
    while caller is not None and not caller.f_code.co_filename.startswith(root):
        caller = caller.f_back
    if caller is None or caller.f_code.co_name == "<module>":
        return
    pair = caller.f_code.co_filename[len(root):], frame.f_code.co_filename[len(root):]
    if pair[0] != pair[1] and pair not in met:
        met.add(pair)
        os.write(out, (" ".join(pair) + "\\n").encode())
sys.setprofile(trace)
threading.setprofile(trace)
"""


def read_floors(checkout: Path) -> dict[str, int]:
    """Row of each room, as the checkout's own test has them."""
    tree = ast.parse((checkout / "tests" / "test_house.py").read_text("utf-8"))
    for node in tree.body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id == "FLOORS":
            return ast.literal_eval(node.value)
    raise SystemExit("tests/test_house.py has no FLOORS")


def find_row(floors: dict[str, int], file: str) -> int:
    """The row that a file of the package stands in; the package's own __init__ in none."""
    return floors.get(file.split("/")[0].removesuffix(".py"), -1)


def run_command(checkout: Path, work: Path, *command: str, trace: Path | None = None) -> None:
    """Run `impose` of a checkout in a folder, with the calls between its files written to `trace`."""
    env = os.environ | {"PYTHONPATH": str(checkout), "HOME": str(work), "PYTHONDONTWRITEBYTECODE": "1"}
    if trace is not None:
        env |= {"PYTHONPATH": f"{work / 'hook'}{os.pathsep}{checkout}", "WALK_ROOT": str(checkout)}
        env["WALK_OUT"] = str(trace)
    done = subprocess.run(
        [sys.executable, "-m", "impose", *command], cwd=work, env=env, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise SystemExit(f"impose {' '.join(command)}: {done.returncode}\n{done.stderr}")


def draw_artwork(path: Path) -> None:
    """A disc on nothing, 50 mm wide."""
    from PIL import Image, ImageDraw

    picture = Image.new("RGBA", (600, 500), (0, 0, 0, 0))
    ImageDraw.Draw(picture).ellipse((20, 20, 580, 480), fill=(200, 30, 60, 255))
    picture.save(path, dpi=(300, 300))


def walk_drop(checkout: Path, work: Path) -> Path:
    """A PNG dropped on a desk, up to the print folder."""
    desk, printer = work / "desk", work / "print"
    printer.mkdir()
    run_command(checkout, work, "desk", "--new", str(desk))
    inbox = desk / "in" / "left-chest"
    inbox.mkdir(exist_ok=True)
    draw_artwork(inbox / "disc.png")
    trace = work / "drop.txt"
    run_command(
        checkout, work, "watch", str(desk), "--once", "--settle", "0.5", "--print-folder", str(printer), trace=trace
    )
    assert list(printer.rglob("*.pdf")), "nothing was printed"
    return trace


def walk_reprint(checkout: Path, work: Path) -> Path:
    """One print of the example made again."""
    orders = checkout / "examples" / "lantern-night" / "orders.csv"
    run_command(checkout, work, "sheets", str(orders), "-p", "a4", "-p", "13x19", "-o", "sheets", "-q", "--steps", "0")
    trace = work / "reprint.txt"
    run_command(checkout, work, "reprint", "sheets", "--only", "1", "-o", "again", "-q", trace=trace)
    return trace


def report_walk(name: str, trace: Path, floors: dict[str, int]) -> None:
    """Print the figures of a walk, and its climbs."""
    pairs = {(a, b) for a, b in (line.split() for line in trace.read_text("utf-8").splitlines())}
    climbs = sorted((a, b) for a, b in pairs if 0 <= find_row(floors, a) < find_row(floors, b))
    print(f"{name}: {len({file for pair in pairs for file in pair})} files, {len(pairs)} pairs, {len(climbs)} climbs")
    for caller, callee in climbs:
        print(f"    {caller} -> {callee}")


def main() -> None:
    """Count both walks."""
    checkout = Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else HERE
    floors = read_floors(checkout)
    for name, walk in (("a dropped PNG", walk_drop), ("a reprint", walk_reprint)):
        with tempfile.TemporaryDirectory() as folder:
            work = Path(folder)
            (work / "hook").mkdir()
            (work / "hook" / "sitecustomize.py").write_text(TRACE, "utf-8")
            report_walk(name, walk(checkout, work), floors)


if __name__ == "__main__":
    main()
