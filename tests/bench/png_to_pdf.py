"""From PNGs to a print-ready PDF: this program against plain scripts, and against decoding alone, in one run.

    python tests/bench/png_to_pdf.py [--pictures 200] [--rounds 1] [--keep FOLDER] [--only WAY ...]

Needs Linux, and reportlab (PyPI) for one of the peers. Every way is a process of its own, from its start to its end;
CPU is that of the process and all it started. Figures are medians of the rounds, ratios against Pillow's decoding.
The ways:

decode          Pillow opens and loads each file: the floor
script-png6/1   Pillow, rectpack and PyMuPDF's insert_image as their manuals show it, PNGs at level 6 or 1
reportlab       Pillow, rectpack and reportlab's drawImage, the same way
pdf-1/2         pictures to sheets PDF as the scripts do it, one worker or two: nested at the first try, no tickets, no
                proof, no cache; written and read back
impose-1/2      `impose sheets --no-cache` with one worker or two: the whole program
impose-cold     with an empty cache;  impose-warm: the same again
art             only preparing the pictures (`impose.art`), one worker; art-plain without the optional pyspng,
                art-zlib without zlib-ng either
"""

from __future__ import annotations

import argparse
import ctypes
import io
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections import deque
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(Path(__file__).resolve().parent))

WIDTH_MM = 70.0
PAPER = ("na_super-b_13x19in", 330.2, 482.6)
MARGIN_MM = 14.0
EDGE_MM = 14.0
WAYS = (
    "decode",
    "art",
    "art-plain",
    "art-zlib",
    "pdf-1",
    "pdf-2",
    "impose-1",
    "impose-2",
    "impose-cold",
    "impose-warm",
    "script-png6",
    "script-png1",
    "reportlab",
)
MISSING = {"art": (), "art-plain": ("pyspng",), "art-zlib": ("pyspng", "zlib_ng")}


def decode(folder: Path) -> None:
    from PIL import Image

    for path in sorted(folder.glob("*.png")):
        with Image.open(path) as image:
            image.load()


def art(folder: Path, without: tuple[str, ...] = ()) -> None:
    for name in without:
        sys.modules[name] = None  # type: ignore[assignment]  # importing it fails, as if it were not installed
    from impose.formats.prepare_many import prepare_pictures

    for outcome in prepare_pictures(sorted(folder.glob("*.png"))):
        assert outcome.data  # type: ignore[union-attr]


def pdf(folder: Path, out: Path, workers: int) -> None:
    from impose.pages.pdf.readback import check_sheets
    from impose.pages.pdf.sheet_pages import write_sheets
    from impose.run import Options, plan

    options = Options(settings={"papers": [PAPER[0]]}, steps=0, workers=workers, cache=False)
    planned = plan([folder / "batch.csv"], options)
    for _, sheets in planned.layout.group_by_paper():
        deque(write_sheets(out / "sheets.pdf", planned.layout, sheets, planned.printer, planned.lettering), 0)
        check_sheets(out / "sheets.pdf", sheets, planned.printer)


def flattened(path: Path):
    """Open, cut to what is not white, put on white, mirror: as a script would."""
    from PIL import Image, ImageChops

    image = Image.open(path).convert("RGBA")
    paper = Image.new("RGBA", image.size, "white")
    paper.alpha_composite(image)
    image = paper.convert("RGB")
    box = ImageChops.difference(image, Image.new("RGB", image.size, "white")).getbbox()
    return image.crop(box).transpose(Image.Transpose.FLIP_LEFT_RIGHT)


def packed(sizes: list[tuple[float, float]]) -> list[list[tuple[int, float, float, bool]]]:
    """Pages of (picture, x, y, turned) in mm, by rectpack's default rules, margins included."""
    import rectpack

    packer = rectpack.newPacker(rotation=True)
    for number, (width, height) in enumerate(sizes):
        packer.add_rect(round(1000 * (width + 2 * MARGIN_MM)), round(1000 * (height + 2 * MARGIN_MM)), number)
    packer.add_bin(round(1000 * (PAPER[1] - EDGE_MM)), round(1000 * (PAPER[2] - EDGE_MM)), float("inf"))
    packer.pack()
    pages: dict[int, list[tuple[int, float, float, bool]]] = {}
    for page, x, y, width, _, number in packer.rect_list():
        turned = width != round(1000 * (sizes[number][0] + 2 * MARGIN_MM))
        pages.setdefault(page, []).append((number, x / 1000 + MARGIN_MM, y / 1000 + MARGIN_MM, turned))
    return [pages[page] for page in sorted(pages)]


def sized(folder: Path):
    images = [flattened(path) for path in sorted(folder.glob("*.png"))]
    return images, [(WIDTH_MM, WIDTH_MM * image.height / image.width) for image in images]


def script(folder: Path, out: Path, level: int) -> None:
    import pymupdf

    images, sizes = sized(folder)
    document, point = pymupdf.open(), 72 / 25.4
    for placed in packed(sizes):
        page = document.new_page(width=PAPER[1] * point, height=PAPER[2] * point)
        for number, x, y, turned in placed:
            file = io.BytesIO()
            images[number].save(file, "PNG", compress_level=level)
            width, height = sizes[number][::-1] if turned else sizes[number]
            box = pymupdf.Rect(x, y, x + width, y + height) * point
            page.insert_image(box, stream=file.getvalue(), rotate=90 if turned else 0)
    document.save(out / "sheets.pdf", deflate=True)


def reportlab(folder: Path, out: Path) -> None:
    from reportlab.lib.units import mm
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen.canvas import Canvas

    images, sizes = sized(folder)
    canvas = Canvas(str(out / "sheets.pdf"), pagesize=(PAPER[1] * mm, PAPER[2] * mm))
    for placed in packed(sizes):
        for number, x, y, turned in placed:
            width, height = sizes[number]
            canvas.saveState()
            canvas.translate(x * mm, y * mm)
            if turned:
                canvas.rotate(90)
                canvas.translate(0, -height * mm)
            canvas.drawImage(ImageReader(images[number]), 0, 0, width * mm, height * mm)
            canvas.restoreState()
        canvas.showPage()
    canvas.save()


def command(way: str, folder: Path, out: Path) -> list[str]:
    """What to run for a way: this program's own command, or this file as the peer."""
    if not way.startswith("impose-"):
        return [sys.executable, __file__, "--one", way, str(folder), str(out)]
    run = [sys.executable, "-m", "impose", "sheets", str(folder / "batch.csv"), "-q", "-p", PAPER[0], "-o"]
    run.append(str(out / "sheets"))
    if way in ("impose-1", "impose-2"):
        return [*run, "--no-cache", "--workers", way[-1]]
    return [*run, "--workers", "1"]


def measured(way: str, folder: Path, work: Path) -> dict[str, float]:
    """CPU s, wall s, greatest resident MB of any one process, MB of PDF."""
    out = Path(tempfile.mkdtemp(dir=work))
    cache = work / "cache"
    if way == "impose-cold":
        shutil.rmtree(cache, ignore_errors=True)
    environment = os.environ | {"PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(cache)}
    start = time.perf_counter()
    process = subprocess.Popen(command(way, folder, out), env=environment, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{way} failed")
    cpu, peak = used.ru_utime + used.ru_stime, used.ru_maxrss
    # Workers are children of a server process that outlives its parent for a moment, and then becomes ours.
    while True:
        try:
            _, _, used = os.wait3(0)
        except ChildProcessError:
            break
        cpu += used.ru_utime + used.ru_stime
        peak = max(peak, used.ru_maxrss)
    size = sum(path.stat().st_size for path in out.rglob("*.pdf"))
    shutil.rmtree(out)
    return {"cpu": cpu, "wall": wall, "peak": peak / 1024, "size": size / 1e6}


def one(way: str, folder: Path, out: Path) -> None:
    if way == "batch":
        batch(folder, int(str(out)))
    elif way == "decode":
        decode(folder)
    elif way in MISSING:
        art(folder, MISSING[way])
    elif way.startswith("pdf-"):
        pdf(folder, out, int(way[-1]))
    elif way == "reportlab":
        reportlab(folder, out)
    else:
        script(folder, out, int(way[-1]))


def batch(folder: Path, count: int) -> None:
    """The pictures, a batch CSV that uses each once, and a line on how many pixels they have."""
    from pictures import write
    from PIL import Image

    paths = write(folder, count)
    for extra in set(folder.glob("*.png")) - set(paths):
        extra.unlink()
    lines = ["order,art,width,garment"] + [
        f"{i // 8},{path.name},{WIDTH_MM:g}mm,tee adult L" for i, path in enumerate(paths)
    ]
    (folder / "batch.csv").write_text("\n".join(lines) + "\n", "utf-8")
    pixels = [image.width * image.height for image in map(Image.open, paths)]
    print(f"{count} pictures, {sum(pixels) / 1e6:.0f} megapixels, the largest {max(pixels) / 1e6:.1f}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="PNG to PDF against peers and against decoding alone.")
    parser.add_argument("--pictures", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for the pictures, kept for the next run")
    parser.add_argument("--only", nargs="+", choices=WAYS, default=WAYS)
    parser.add_argument("--one", nargs=3, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        one(asked.one[0], Path(asked.one[1]), Path(asked.one[2]))
        return
    ctypes.CDLL(None).prctl(36, 1, 0, 0, 0)  # PR_SET_CHILD_SUBREAPER, see measured()
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        folder = asked.keep or work / "art"
        # In a process of its own: a child's peak memory begins at its parent's.
        subprocess.run([sys.executable, __file__, "--one", "batch", str(folder), str(asked.pictures)], check=True)
        rounds = [{way: measured(way, folder, work) for way in asked.only} for _ in range(asked.rounds)]
        print(f"{'way':12} {'CPU s':>8} {'x decode':>9} {'wall s':>8} {'peak MB':>8} {'PDF MB':>8}")
        for way in asked.only:
            found = {key: statistics.median(r[way][key] for r in rounds) for key in ("cpu", "wall", "peak", "size")}
            floor = statistics.median(r[asked.only[0]]["cpu"] for r in rounds)
            print(
                f"{way:12} {found['cpu']:8.2f} {found['cpu'] / floor:9.2f} {found['wall']:8.2f}"
                f" {found['peak']:8.0f} {found['size']:8.1f}"
            )


if __name__ == "__main__":
    main()
