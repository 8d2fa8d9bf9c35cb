"""Keep samples of what this version writes: python tests/samples/make_samples.py, once for each version released.

They lie in tests/samples/VERSION and are never made again: every later version is tested to open them.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from impose import __version__
from impose.run.press_ticks import read_ticks

HERE = Path(__file__).resolve().parent
BATCH = 'papers = ["a4"]\ntear = "tight"\nsteps = 50\naccept = ["low-resolution"]\n'
ORDERS = """\
order,wearer,name,art,words,kit,placement,garment,width,copies
Crew,Ada,,owl.png,,,left-chest,adult M,40 mm,2
Crew,Bo,BO,,,away,,adult L,,1
,Ines,,,PEÑA,,upper-back,adult M,90 mm,1
"""
KITS = "kit,placement,art,words,width\naway,left-chest,owl.png,,30 mm\naway,upper-back,,{name},80 mm\n"
COLUMNS = '[order]\nfrom = "Customer"\n\n[art]\nfrom = "File"\nafter = ".png"\n'
PROFILES = {
    "settings.toml": 'currency = "GBP"\nunits = "in"\nprinter = "studio"\n',
    "papers.toml": '[a4]\ncost = "0.31"\ntemperature_c = 205\nseconds = 45\n',
    "printers.toml": '[studio]\nleft = "4 mm"\ntop = "5 mm"\nright = "6 mm"\nbottom = "12.5 mm"\nscale_x = 1.002\n'
    'sublimation_ink = true\naddress = "ipp://printer.local/ipp/print"\n',
    "placements.toml": '[full-back.offsets.adult]\nfrom = "collar"\nto = "top of print"\nusual = "100 mm"\n'
    'source = "measured"\n',
    "garments.toml": "[kinds.t-shirt]\nscale_x = 1.02\nscale_y = 1.01\n",
    "presses.toml": "[16x20]\nseconds = 55\n",
    "lettering.toml": '[league]\ntitle = "League"\nfont = "Block"\ncolour = "#C1121F"\nletter_height = "55 mm"\n',
    "texts.toml": '[approval]\nname = "Your name"\n',
}


def run_command(where: Path, *words: str) -> None:
    """Run a command of this version with a ledger and a home of the samples' own."""
    environment = {**os.environ, "HOME": str(where), "IMPOSE_LEDGER": str(where / "ledger.db")}
    subprocess.run([sys.executable, "-m", "impose", *words], cwd=where, env=environment, check=True)


def write_batch(folder: Path) -> None:
    """A batch as a shop keeps it: orders, kits, choices, a column map, a picture."""
    folder.mkdir()
    y, x = np.mgrid[0:60, 0:80]
    Image.fromarray(np.where((x - 40) ** 2 + (y - 30) ** 2 < 900, 60, 255).astype(np.uint8)).save(folder / "owl.png")
    for name, text in {"orders.csv": ORDERS, "kits.csv": KITS, "batch.toml": BATCH, "columns.toml": COLUMNS}.items():
        (folder / name).write_text(text, "utf-8")


def tick_press(batch: Path) -> None:
    """The first transfer is pressed, the second was spoiled on paper."""
    record = json.loads((batch / "sheets" / "batch.json").read_text("utf-8"))
    names = [transfer["id"] for sheet in record["sheets"] for transfer in sheet["transfers"]]
    ticks = read_ticks(batch)
    ticks.set_tick(record["code"], names[0], True, None, "2026-11-28 20:00")
    ticks.set_tick(record["code"], names[1], None, "paper", "2026-11-28 20:01")
    ticks.write_file()


def main() -> int:
    """Make them; refuse to make them again."""
    kept = HERE / __version__
    if kept.exists():
        print(f"{kept} is there already, and samples are kept as they are")
        return 1
    with tempfile.TemporaryDirectory() as name:
        where = Path(name)
        (where / "profiles").mkdir()
        for file, text in PROFILES.items():
            (where / "profiles" / file).write_text(text, "utf-8")
        write_batch(where / "batch")
        run_command(where, "profiles", "--profiles", "profiles", "--pack", "shop.zip")
        run_command(where, "stock", "a4", "--set", "20", "--because", "counted")
        made = ("--profiles", "profiles", "-o", "batch/sheets")
        run_command(where, "sheets", "batch/orders.csv", *made, "-q")
        run_command(where, "check", "batch/sheets", "--agreed", "Ada", "--order", "Crew", "--on", "2026-11-28")
        tick_press(where / "batch")
        run_command(where, "desk", "--new", "desk")
        shutil.copy(where / "batch" / "owl.png", where / "desk" / "in" / "left-chest" / "owl (2 copies, 30 mm).png")
        run_command(where, "watch", "desk", "--once", "--settle", "0", "--steps", "50", "--accept", "low-resolution")
        kept.mkdir()
        shutil.copytree(where / "profiles", kept / "profiles")
        shutil.copytree(where / "batch", kept / "batch", ignore=shutil.ignore_patterns("*.pdf", "*.html", "approval"))
        for file in ("shop.zip", "ledger.db", "desk/desk.db"):
            shutil.copy(where / file, kept / Path(file).name)
        entries = sorted(where.rglob("*.picture"), key=lambda path: path.stat().st_size)
        shutil.copy(entries[0], kept / "cached.picture")
        record = json.loads((kept / "batch" / "sheets" / "batch.json").read_text("utf-8"))
        told = {"code": record["code"], "transfers": sum(len(sheet["transfers"]) for sheet in record["sheets"])}
        told["left"] = 20 - len(record["sheets"])
        (kept / "told.json").write_text(json.dumps(told, indent=1) + "\n", "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
