"""Draw the pictures of the documents again, from the example: python shared/docs/pictures/draw_pictures.py

Needs impose with its extra `test`, Debian's `poppler-utils` and `chromium`. Each picture stays under 60 KB.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pypdfium2
from PIL import Image

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[2]
BATCH = ROOT / "examples" / "lantern-night" / "orders.csv"
MOST_BYTES = 60_000
ANATOMY_ART = "art/oars-shield.png"

ANATOMY = """<!doctype html><meta charset="utf-8"><style>
body {{ margin: 0; font: 17px sans-serif; width: 900px; height: 580px; color: #222;
  background: #fff; position: relative }}
img {{ position: absolute; left: 20px; top: 20px; width: {width}px }}
p {{ position: absolute; left: 590px; margin: 0; width: 300px; line-height: 1.3 }}
svg {{ position: absolute; left: 0; top: 0 }}
b {{ color: #c1121f }}
</style>
<img src="{image}">
<svg width="900" height="580" fill="none" stroke="#c1121f" stroke-width="2">
<rect x="{ix}" y="{iy}" width="{iw}" height="{ih}" stroke-dasharray="6 4"/>
<rect x="{kx}" y="{ky}" width="{kw}" height="{kh}" stroke="#777" stroke-dasharray="2 3"/>
<rect x="{zx}" y="{zy}" width="{zw}" height="{zh}" stroke="#777" stroke-dasharray="2 3"/>
<path d="M {ink_right} 110 L 580 40 M {kept_right} 170 L 580 130"/>
<path d="M {zone_right} 220 L 580 220 M {band_right} 290 L 580 310"/>
</svg>
<p style="top:28px"><b>Ink</b>: the artwork, mirrored. Its size is the size on the garment.</p>
<p style="top:118px"><b>Kept paper</b>, 5 mm: blank. It stays on the print.</p>
<p style="top:208px"><b>Tear zone</b>, 4 mm: blank. You tear here.</p>
<p style="top:298px"><b>Band</b>, 5 mm: fold ticks and job label. It goes into the bin before pressing.</p>
"""


def run(*command: str | Path) -> None:
    """Run a program; its failure ends the script."""
    subprocess.run([str(part) for part in command], check=True, cwd=ROOT, stdout=subprocess.DEVNULL)


def render_page(pdf: Path, page: int, ppi: int, out: Path) -> Image.Image:
    """One page of a PDF as a picture, by poppler."""
    run("pdftoppm", "-r", str(ppi), "-f", str(page), "-l", str(page), "-singlefile", "-png", pdf, out.with_suffix(""))
    return Image.open(out.with_suffix(".png")).convert("RGB")


def find_page(pdf: Path, words: str) -> int:
    """The first page with some words on it, from 1."""
    pages = pypdfium2.PdfDocument(pdf)
    return next(at for at, page in enumerate(pages, 1) if words in page.get_textpage().get_text_bounded())


def screenshot(page: Path, width: int, height: int, out: Path) -> Image.Image:
    """The top of an HTML page as a picture, by chromium."""
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--hide-scrollbars"]
    run("chromium", *flags, f"--window-size={width},{height}", f"--screenshot={out}", page.as_uri())
    return Image.open(out).convert("RGB")


def save_small(image: Image.Image, name: str) -> None:
    """Write a picture with ever fewer colours until it is small enough."""
    path = HERE / name
    for colours in (128, 64, 32, 16):
        image.quantize(colours, dither=Image.Dither.NONE).save(path, optimize=True)
        if path.stat().st_size <= MOST_BYTES:
            return
    raise SystemExit(f"{name} is larger than {MOST_BYTES} bytes")


def find_transfer(record: dict[str, Any], art: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """The first upright transfer of an artwork, with its sheet."""
    return next(
        (sheet, one)
        for sheet in record["sheets"]
        for one in sheet["transfers"]
        if one["art"] == art and one["turned"] == 0
    )


def draw_anatomy(made: Path, work: Path) -> Image.Image:
    """A transfer cut from its sheet, with its parts named."""
    record = json.loads((made / "batch.json").read_text("utf-8"))
    sheet, one = find_transfer(record, ANATOMY_ART)
    page = render_page(made / sheet["file"], sheet["page"], 254, work / "cell.png")  # ten pixels to the millimetre
    cell, ink = one["cell_mm"], one["ink_mm"]
    box = [cell["x"], cell["y"], cell["x"] + cell["w"], cell["y"] + cell["h"]]
    page.crop([round(10 * mm) for mm in box]).save(work / "cell.png")
    width = 540
    scale = width / cell["w"]

    def place(grow_mm: float) -> list[float]:
        x, y = 20 + scale * (ink["x"] - cell["x"] - grow_mm), 20 + scale * (ink["y"] - cell["y"] - grow_mm)
        return [round(n, 1) for n in (x, y, scale * (ink["w"] + 2 * grow_mm), scale * (ink["h"] + 2 * grow_mm))]

    i, k, z = place(0), place(5), place(9)
    text = ANATOMY.format(
        image=(work / "cell.png").as_uri(), width=width,
        ix=i[0], iy=i[1], iw=i[2], ih=i[3], kx=k[0], ky=k[1], kw=k[2], kh=k[3], zx=z[0], zy=z[1], zw=z[2], zh=z[3],
        ink_right=i[0] + i[2] - 20, kept_right=i[0] + i[2] + 2.5 * scale, zone_right=k[0] + k[2] + 2 * scale,
        band_right=z[0] + z[2] + 2.5 * scale,
    )  # fmt: skip
    (work / "anatomy.html").write_text(text, "utf-8")
    return screenshot(work / "anatomy.html", 900, 580, work / "anatomy.png")


PAGE_ROWS = """order,wearer,art,placement,garment
OW-101 Stewards,Inge Halvorsen,art/heron-back.png,full-back,hoodie adult M
OW-101 Stewards,Inge Halvorsen,art/lantern-crest.png,left-chest,hoodie adult M
OW-101 Stewards,Inge Halvorsen,art/light-the-water.png,left-long-sleeve,hoodie adult M
"""


def draw_views(work: Path) -> dict[str, Image.Image]:
    """The views of the page with a hoodie of three prints, in a browser: its sheets made, one print pressed."""
    from playwright.sync_api import sync_playwright

    folder = work / "Lantern night"
    (folder / "art").mkdir(parents=True)
    for name in ("heron-back", "lantern-crest", "light-the-water"):
        shutil.copy(BATCH.parent / "art" / f"{name}.png", folder / "art")
    (folder / "orders.csv").write_text(PAGE_ROWS, "utf-8")
    (folder / "batch.toml").write_text('papers = ["a4", "13x19"]\n', "utf-8")
    command = [sys.executable, "-m", "impose", "open", str(folder), "--no-browser"]
    home = {**os.environ, "HOME": str(work), "XDG_DATA_HOME": str(work / "data")}
    program = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=home, cwd=ROOT)
    assert program.stdout is not None
    try:
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.set_default_timeout(300_000)
            page.goto(program.stdout.readline().strip())
            page.wait_for_selector("body[data-ready]")
            walk_views(page, work)
            browser.close()
    finally:
        program.terminate()
        program.wait()
    views = {name: Image.open(work / f"{name}.png").convert("RGB") for name in ("page", *VIEWS)}
    return {name: image.resize((900, 633), Image.Resampling.LANCZOS) for name, image in views.items()}


VIEWS = ("page-sheets", "page-press", "page-shop")


def walk_views(page: Any, work: Path) -> None:
    """Through the four views, a picture of each."""

    def keep(name: str) -> None:
        page.wait_for_timeout(2000)
        page.screenshot(path=work / f"{name}.png")

    page.click("nav >> text=Orders")
    page.wait_for_function("() => document.querySelectorAll('.plane g.print').length === 3")
    keep("page")
    page.click("nav >> text=Sheets")
    page.wait_for_selector(".sheet svg")
    keep("page-sheets")
    page.click("#make")
    page.wait_for_selector(".made-now, dialog .main-act")
    if page.locator("dialog .main-act").count():
        page.click("dialog .main-act")
    page.click("text=Press them")
    page.check(".to-press-one:first-child [name=pressed]")
    keep("page-press")
    page.click("nav >> text=Shop")
    page.wait_for_selector(".paper-row")
    keep("page-shop")


def main() -> None:
    """Make the example's sheets, and draw every picture from what lies there."""
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        made = work / "sheets"
        run(sys.executable, "-m", "impose", "sheets", BATCH, "-p", "a4", "-p", "13x19", "-o", made, "-q")
        save_small(render_page(next(made.glob("sheets-*.pdf")), 1, 40, work / "sheet.png"), "sheet.png")
        save_small(draw_anatomy(made, work), "transfer.png")
        tickets = made / "tickets.pdf"
        cutting_list = render_page(tickets, find_page(tickets, "Cutting list"), 60, work / "list.png")
        save_small(cutting_list, "cutting-list.png")
        ticket = render_page(
            made / "tickets.pdf", find_page(made / "tickets.pdf", "ticket 1 of"), 80, work / "ticket.png"
        )
        save_small(ticket.crop((0, 0, ticket.width, ticket.height // 2)), "ticket.png")
        save_small(screenshot(made / "proof.html", 1000, 900, work / "proof.png").resize((700, 630)), "proof.png")
        run(sys.executable, "-m", "impose", "calibrate", "-p", "a4", "--printer", "careful", "-o", work / "cal.pdf")
        save_small(render_page(work / "cal.pdf", 1, 55, work / "cal.png"), "calibration.png")
        approval = next((made / "approval").glob("ow-103*.pdf"))
        save_small(render_page(approval, 1, 60, work / "approval.png"), "approval.png")
        for name, image in draw_views(work).items():
            save_small(image, f"{name}.png")


if __name__ == "__main__":
    main()
