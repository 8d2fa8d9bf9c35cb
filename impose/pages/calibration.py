"""The calibration page: rulers on both axes, scales that show where the printer stops, a grid, words that must read.

Drawn as asked, with no correction: what a ruler laid on the print shows is what the printer makes of it.
"""

from __future__ import annotations

from pathlib import Path

from impose.pages.pdf.canvas import Canvas, Pages
from impose.pages.pdf.objects import PdfFile
from impose.pages.tickets.blocks import PITCH, paragraph, wrapped
from impose.sheet.chart import STEP_MM, Chart, Stairs, grid_side
from impose.sheet.lettering import Lettering
from impose.shop.paper import Paper
from impose.units import Box, show_length

SIZE_MM = 2.35
_LINE_MM = 0.15
_GAP_MM = 3.0
_LARGEST = 16 << 20


def write_calibration(path: Path, chart: Chart, paper: Paper, printer_name: str, lettering: Lettering) -> None:
    """Write the one page for a paper and printer to `path`."""
    with PdfFile() as document:
        pages = Pages(document, lettering)
        canvas = pages.page(chart.width, chart.height)
        _ruler_across(canvas, chart)
        _ruler_along(canvas, chart)
        for stairs in chart.stairs:
            _stairs(canvas, stairs)
        _middle(canvas, chart, _texts(chart, paper, printer_name))
        pages.add(canvas)
        pages.save(path, f"calibration {paper.alias} {printer_name}", "C-")


def is_calibration(path: Path) -> bool:
    """Whether a file is a calibration page as we wrote it, by its title and labels; not one that was added to since."""
    try:
        with path.open("rb") as file:
            content = file.read(_LARGEST + 1)
    except OSError:
        return False
    marked = b"(calibration " in content and b"/P(C-)" in content.replace(b" ", b"")
    return content.startswith(b"%PDF-") and len(content) <= _LARGEST and marked and content.count(b"%%EOF") == 1


def words_height(chart: Chart, paper: Paper, printer_name: str, lettering: Lettering) -> float:
    """How much of the page the words take, which is what the grid has to leave."""
    return _height(chart, _texts(chart, paper, printer_name), lettering)


def _height(chart: Chart, texts: list[tuple[str, float]], lettering: Lettering) -> float:
    lines = sum(len(wrapped(lettering, text, size, chart.room.w)) * size for text, size in texts)
    return lines * PITCH + len(texts) + _GAP_MM


def _texts(chart: Chart, paper: Paper, printer_name: str) -> list[tuple[str, float]]:
    """What the page says, with the size of each paragraph."""
    size = f"{show_length(chart.width)} × {show_length(chart.height)}"
    return [
        ("IF THESE WORDS ARE BACKWARDS, SWITCH OFF THE DRIVER'S MIRRORING.", 3.0),
        (f"Calibration, {paper.alias}, {size}, printer {printer_name}. Printed uncorrected. Print it on the paper you "
         "will use, on its coated side, at actual size (100 %), no fitting, no borderless. Let it dry.", SIZE_MM),
        (f"1. Lay a steel rule along both rulers. Across: ______ mm for {chart.across_mm:g}. Along: ______ mm for "
         f"{chart.along_mm:g}. Where an end is cut off, read to the last whole centimetre and say so: "
         "across=179.6/180.", SIZE_MM),
        ("2. At each edge find the step nearest the edge that is there in its whole length. Left ____ top ____ right "
         "____ bottom ____ mm. Top is the edge that came out first.", SIZE_MM),
        ("3. The grid, if there is one: its diagonals, rising ____ falling ____ mm; its left side from the paper's "
         "left edge, upper end ____ lower end ____ mm.", SIZE_MM),
        (f"4. impose calibrate -p {paper.alias} --printer {printer_name} --profiles DIR --read "
         '"across=… along=… left=… top=… right=… bottom=…"', SIZE_MM),
    ]  # fmt: skip


def _ruler_across(canvas: Canvas, chart: Chart) -> None:
    x, y, long = chart.across_x, chart.across_y, chart.across_mm
    canvas.line(x, y, x + long, y, _LINE_MM)
    for mm in range(int(long) + 1):
        canvas.line(x + mm, y - _tall(mm), x + mm, y, _LINE_MM)
        if mm % 10 == 0:
            canvas.words(str(mm), x + mm, y + 2.6, 2.0, align="centre")
    canvas.words(f"across: {long:g} mm from the first stroke to the last", x + long / 2, y + 5.6, 2.2, align="centre")


def _ruler_along(canvas: Canvas, chart: Chart) -> None:
    x, y, long = chart.along_x, chart.along_y, chart.along_mm
    canvas.line(x, y, x, y + long, _LINE_MM)
    for mm in range(int(long) + 1):
        canvas.line(x, y + mm, x + _tall(mm), y + mm, _LINE_MM)
        if mm % 10 == 0:
            canvas.words(str(mm), x - 0.8, y + mm + 0.7, 2.0, align="right")
    canvas.words(
        f"along: {long:g} mm from the first stroke to the last", x + 6.6, y + long / 2, 2.2, align="centre", angle=90
    )


def _tall(mm: int) -> float:
    return 4.0 if mm % 10 == 0 else 3.0 if mm % 5 == 0 else 1.8


def _stairs(canvas: Canvas, stairs: Stairs) -> None:
    """Steps along an edge, each half a millimetre further in; every fourth carries its distance."""
    for step in range(stairs.steps):
        away, at = step * STEP_MM, stairs.start + step * stairs.tread
        _step(canvas, stairs, away, at)
        if step % 4 == 0:
            _figure(canvas, stairs, f"{away:g}", away, at + stairs.tread / 2)
    _edge_name(canvas, stairs)


def _edge_name(canvas: Canvas, stairs: Stairs) -> None:
    """Which edge it is, beyond the innermost step."""
    deep = (stairs.steps - 1) * STEP_MM
    end = stairs.start + stairs.steps * stairs.tread
    if stairs.side == "top":
        canvas.words("top: came out first", end + 1.5, deep, 2.2)
    elif stairs.side == "bottom":
        canvas.words("bottom", end + 1.5, canvas.height - deep, 2.2)
    elif stairs.side == "left":
        canvas.words("left", deep, end + 2.4, 2.2, align="centre")
    else:
        canvas.words("right", canvas.width - deep, end + 2.4, 2.2, align="centre")


def _step(canvas: Canvas, stairs: Stairs, away: float, at: float) -> None:
    end = at + stairs.tread
    if stairs.side == "left":
        canvas.line(away, at, away, end, 0.25)
    elif stairs.side == "right":
        canvas.line(canvas.width - away, at, canvas.width - away, end, 0.25)
    elif stairs.side == "top":
        canvas.line(at, away, end, away, 0.25)
    else:
        canvas.line(at, canvas.height - away, end, canvas.height - away, 0.25)


def _figure(canvas: Canvas, stairs: Stairs, text: str, away: float, middle: float) -> None:
    """The distance of a step, on the side away from the paper's edge, where it is sure to print."""
    deep = away + 1.0
    if stairs.side == "left":
        canvas.words(text, deep, middle + 0.6, 1.7)
    elif stairs.side == "right":
        canvas.words(text, canvas.width - deep, middle + 0.6, 1.7, align="right")
    elif stairs.side == "top":
        canvas.words(text, middle, deep + 1.3, 1.7, align="centre")
    else:
        canvas.words(text, middle, canvas.height - deep, 1.7, align="centre")


def _middle(canvas: Canvas, chart: Chart, texts: list[tuple[str, float]]) -> None:
    """Words, and below them the square grid with its diagonals."""
    room, y = chart.room, chart.room.y
    side = grid_side(chart, _height(chart, texts, canvas.pages.lettering))
    for index, (text, size) in enumerate(texts):
        y = paragraph(canvas, text, room.x, y, room.w, size, heavy=index == 0) + 1.0
    if side:
        _grid(canvas, Box(room.x, y + _GAP_MM / 2, side, side))


def _grid(canvas: Canvas, box: Box) -> None:
    for step in range(1, int(box.w // 10)):
        canvas.line(box.x + step * 10, box.y, box.x + step * 10, box.bottom, 0.1)
        canvas.line(box.x, box.y + step * 10, box.right, box.y + step * 10, 0.1)
    canvas.line(box.x, box.y, box.right, box.bottom, 0.1)
    canvas.line(box.x, box.bottom, box.right, box.y, 0.1)
    canvas.box(box, 0.25)
    canvas.words(f"square of {box.w:g} mm", box.right - 1, box.bottom - 1, 2.0, align="right")
