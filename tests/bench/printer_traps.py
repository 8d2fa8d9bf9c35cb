"""The traps of the print dialog, one after the other, through `impose print`: each line arrives true or is refused.

    python tests/bench/printer_traps.py [WORDS]   # only the lines that begin so

A queue of Debian's spooler is set to spoil the sheet in one way, the sheet is sent, and what the printer behind it
received is measured by renderers that did not write it. Needs what the tests of printers need, and root.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT.parent)]

from printing.conftest import PROFILE, frame_art  # noqa: E402
from printing.measure import measure_pdf, measure_raster  # noqa: E402
from printing.world import PRINTERS, World, missing  # noqa: E402

STRAIGHT = "ipp://localhost:8631/ipp/print"
QUEUE = "ipp://127.0.0.1:6631/printers/evening"
TRAPS = (
    ("queue set to A4", "media-default=iso_a4_210x297mm", QUEUE),
    ("queue set to A4 and no scaling", "media-default=iso_a4_210x297mm print-scaling-default=none", QUEUE),
    ("queue set to fit", "print-scaling-default=fit", QUEUE),
    ("queue set to fill", "print-scaling-default=fill", QUEUE),
    ("queue set to auto", "print-scaling-default=auto", QUEUE),
    ("queue set to auto-fit", "print-scaling-default=auto-fit", QUEUE),
    ("queue set to fit-to-page", "fit-to-page-default=true", QUEUE),
    ("queue set to mirror", "mirror-default=true", QUEUE),
    ("queue set to two pages a sheet", "number-up-default=2", QUEUE),
    ("queue set to a banner page", "job-sheets-default=standard,standard", QUEUE),
    ("queue set to landscape", "orientation-requested-default=4", QUEUE),
    ("queue set to a border", "page-border-default=single", QUEUE),
    ("queue set to scale 50 %", "scaling-default=50", QUEUE),
    ("queue set to glossy", "media-type-default=photographic-glossy", QUEUE),
    ("straight, PDF", "", STRAIGHT),
    ("straight, PWG Raster", "", "ipp://localhost:8632/ipp/print"),
    ("straight, A4 loaded", "", "ipp://localhost:8634/ipp/print"),
)


def main(only: str = "") -> int:
    lacking = missing()
    if lacking:
        print(lacking)
        return 2
    folder = Path(tempfile.mkdtemp(prefix="printer-traps-"))
    folder.chmod(0o755)  # the spooler's filters run as another user
    (folder / "world").mkdir()
    world = World(folder / "world").start()
    os.environ["CUPS_SERVER"] = "127.0.0.1:6631"
    try:
        frame_art(folder / "art.png")
        profiles(folder, STRAIGHT)
        impose(world, folder, "sheets", folder / "art.png", "--width", "280mm", "-p", "13x19", "-o", folder / "out")
        box = json.loads((folder / "out" / "batch.json").read_text("utf-8"))["sheets"][0]["transfers"][0]["ink_mm"]
        print(f"frame on the sheet: left {box['x']:.2f}, top {box['y']:.2f}, {box['w']:.2f} x {box['h']:.2f} mm\n")
        traps = [trap for trap in TRAPS if trap[0].startswith(only)]
        spoiled = [trap for trap in traps if not one(world, folder, *trap, box)]
    finally:
        world.stop()
        shutil.rmtree(folder, ignore_errors=True)
    print(f"\n{len(traps) - len(spoiled)} of {len(traps)} lines true or refused")
    return len(spoiled)


def profiles(folder: Path, address: str) -> None:
    (folder / "mine").mkdir(exist_ok=True)
    text = PROFILE.replace(STRAIGHT, address)
    (folder / "mine" / "printers.toml").write_text(text, "utf-8")


def one(world: World, folder: Path, title: str, default: str, address: str, box: dict[str, float]) -> bool:
    """Set the trap, print, measure; whether it came out true or was refused."""
    if address == QUEUE:
        spooler = ("-h", "127.0.0.1:6631", "-p", "evening")
        world.shell("lpadmin", "-h", "127.0.0.1:6631", "-x", "evening")
        world.shell("lpadmin", *spooler, "-E", "-v", STRAIGHT, "-m", "everywhere")
        world.shell(
            "lpadmin",
            *spooler,
            "-v",
            STRAIGHT.replace("ipp:", "http:", 1),
            *[word for option in default.split() for word in ("-o", option)],
        )
    profiles(folder, address)
    before = received(world)
    code, told = impose(world, folder, "print", folder / "out", "--printer", "studio", "--again")
    if code:
        print(f"{title:33} refused, exit {code}: {told.strip().splitlines()[-1][:90]}")
        return received(world) == before
    words, true = arrived(world, before, box)
    print(f"{title:33} {words}")
    if address == QUEUE:
        before = received(world)
        world.shell("lp", "-h", "127.0.0.1:6631", "-d", "evening", str(folder / "out" / "sheets-13x19.pdf"))
        print(f"{'  without us (lp)':33} {arrived(world, before, box)[0]}")
    return true


def received(world: World) -> dict[str, int]:
    """How many documents each printer has received."""
    return {printer.name: len(world.got(printer.name)) for printer in PRINTERS}


def arrived(world: World, before: dict[str, int], box: dict[str, float]) -> tuple[str, bool]:
    """What came out, measured, in words; and whether it is true."""
    end = time.monotonic() + 20
    new: list[Path] = []
    while not new and time.monotonic() < end:
        new = [path for name, count in before.items() for path in world.got(name)[count:]]
        time.sleep(0.05)
    if not new:
        return "nothing arrived", False
    try:
        found = (measure_raster if new[0].suffix == ".pwg-raster" else measure_pdf)(new[0])
    except AssertionError:
        return "SPOILED: no frame on it", False
    left, top, wide, high = found.frame
    off = max(abs(left - box["x"]), abs(top - box["y"]), abs(wide - box["w"]), abs(high - box["h"]))
    media = world.asked(new[0]).get("IPP_MEDIA_COL", "").partition("media-type=")[2].partition(" ")[0].rstrip("}")
    once = found.corner == "top right"
    true = off <= 0.1 and once and found.pages == 1 and media == "photographic-matte"
    page = f"page {found.page[0]:.1f} x {found.page[1]:.1f}, frame at {left:.2f} {top:.2f}, {wide:.2f} x {high:.2f}"
    more = f"off {off:.2f} mm, {'mirrored once' if once else f'block {found.corner}'}, {media or 'no type'}"
    return f"{'true' if true else 'SPOILED'}: {page}, {more}, pages {found.pages}", true


def impose(world: World, folder: Path, *words: object) -> tuple[int, str]:
    from impose.cli import main as command

    os.environ["IMPOSE_LEDGER"] = str(folder / "ledger.db")
    told = io.StringIO()
    more = ["--profiles", folder / "mine"] + (["--printer", "studio", "-q"] if words[0] == "sheets" else [])
    more += [word for kind in ("low-resolution", "straight-edge") for word in ("--accept", kind)]
    code = 0
    with contextlib.redirect_stderr(told), contextlib.redirect_stdout(told), world.inside():
        try:
            command([str(word) for word in (*words, *more)])
        except SystemExit as left:
            code = int(left.code or 0)
    return code, told.getvalue()


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:2]))
