"""The calibration page: rulers on both axes, scales that show where the printer stops, a grid, words that must read.

Drawn as asked, with no correction: what a ruler laid on the print shows is what the printer makes of it.
"""

from __future__ import annotations

from pathlib import Path

from impose.pages.own_page import is_own_page
from impose.pages.pdf.canvas import PdfCanvas, PdfPages
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.tickets.text_blocks import PITCH, draw_paragraph, wrap_text
from impose.profiles.paper import Paper
from impose.remedies import Remedy
from impose.sheet.calibration_chart import STEP_MM, CalibrationChart, EdgeScale, choose_grid_side
from impose.type.lettering import TextShaper
from impose.units import Box, format_length

SIZE_MM = 2.35
_LINE_MM = 0.15
_GAP_MM = 3.0
LABEL = "C-"


def write_calibration(
    path: Path, chart: CalibrationChart, paper: Paper, printer_name: str, lettering: TextShaper
) -> None:
    """Write the one page for a paper and printer to `path`."""
    with PdfFile() as document:
        pages = PdfPages(document, lettering)
        canvas = pages.new_page(chart.width, chart.height)
        _draw_ruler_across(canvas, chart)
        _draw_ruler_along(canvas, chart)
        for stairs in chart.stairs:
            _draw_stairs(canvas, stairs)
        _draw_middle(canvas, chart, _list_texts(chart, paper, printer_name))
        pages.add_page(canvas)
        pages.save_document(path, f"calibration {paper.alias} {printer_name}", LABEL)


def is_calibration(path: Path) -> bool:
    """Whether a file is a calibration page as we wrote it."""
    return is_own_page(path, "calibration", LABEL)


def measure_words_height(chart: CalibrationChart, paper: Paper, printer_name: str, lettering: TextShaper) -> float:
    """How much of the page the words take, which is what the grid has to leave."""
    return _measure_height(chart, _list_texts(chart, paper, printer_name), lettering)


def _measure_height(chart: CalibrationChart, texts: list[tuple[str, float]], lettering: TextShaper) -> float:
    lines = sum(len(wrap_text(lettering, text, size, chart.room.w)) * size for text, size in texts)
    return lines * PITCH + len(texts) + _GAP_MM


def _list_texts(chart: CalibrationChart, paper: Paper, printer_name: str) -> list[tuple[str, float]]:
    """What the page says, with the size of each paragraph."""
    size = f"{format_length(chart.width)} × {format_length(chart.height)}"
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
        (f"4. {Remedy('save-readings', paper=paper.alias, printer=printer_name)}", SIZE_MM),
    ]  # fmt: skip


def _draw_ruler_across(canvas: PdfCanvas, chart: CalibrationChart) -> None:
    x, y, long = chart.across_x, chart.across_y, chart.across_mm
    canvas.draw_line(x, y, x + long, y, _LINE_MM)
    for mm in range(int(long) + 1):
        canvas.draw_line(x + mm, y - _tick_height(mm), x + mm, y, _LINE_MM)
        if mm % 10 == 0:
            canvas.draw_words(str(mm), x + mm, y + 2.6, 2.0, align="centre")
    canvas.draw_words(
        f"across: {long:g} mm from the first stroke to the last", x + long / 2, y + 5.6, 2.2, align="centre"
    )


def _draw_ruler_along(canvas: PdfCanvas, chart: CalibrationChart) -> None:
    x, y, long = chart.along_x, chart.along_y, chart.along_mm
    canvas.draw_line(x, y, x, y + long, _LINE_MM)
    for mm in range(int(long) + 1):
        canvas.draw_line(x, y + mm, x + _tick_height(mm), y + mm, _LINE_MM)
        if mm % 10 == 0:
            canvas.draw_words(str(mm), x - 0.8, y + mm + 0.7, 2.0, align="right")
    canvas.draw_words(
        f"along: {long:g} mm from the first stroke to the last", x + 6.6, y + long / 2, 2.2, align="centre", angle=90
    )


def _tick_height(mm: int) -> float:
    return 4.0 if mm % 10 == 0 else 3.0 if mm % 5 == 0 else 1.8


def _draw_stairs(canvas: PdfCanvas, stairs: EdgeScale) -> None:
    """Steps along an edge, each half a millimetre further in; every fourth carries its distance."""
    for step in range(stairs.steps):
        away, at = step * STEP_MM, stairs.start + step * stairs.tread
        _draw_step(canvas, stairs, away, at)
        if step % 4 == 0:
            _draw_figure(canvas, stairs, f"{away:g}", away, at + stairs.tread / 2)
    _draw_edge_name(canvas, stairs)


def _draw_edge_name(canvas: PdfCanvas, stairs: EdgeScale) -> None:
    """Which edge it is, beyond the innermost step."""
    deep = (stairs.steps - 1) * STEP_MM
    end = stairs.start + stairs.steps * stairs.tread
    if stairs.side == "top":
        canvas.draw_words("top: came out first", end + 1.5, deep, 2.2)
    elif stairs.side == "bottom":
        canvas.draw_words("bottom", end + 1.5, canvas.height - deep, 2.2)
    elif stairs.side == "left":
        canvas.draw_words("left", deep, end + 2.4, 2.2, align="centre")
    else:
        canvas.draw_words("right", canvas.width - deep, end + 2.4, 2.2, align="centre")


def _draw_step(canvas: PdfCanvas, stairs: EdgeScale, away: float, at: float) -> None:
    end = at + stairs.tread
    if stairs.side == "left":
        canvas.draw_line(away, at, away, end, 0.25)
    elif stairs.side == "right":
        canvas.draw_line(canvas.width - away, at, canvas.width - away, end, 0.25)
    elif stairs.side == "top":
        canvas.draw_line(at, away, end, away, 0.25)
    else:
        canvas.draw_line(at, canvas.height - away, end, canvas.height - away, 0.25)


def _draw_figure(canvas: PdfCanvas, stairs: EdgeScale, text: str, away: float, middle: float) -> None:
    """The distance of a step, on the side away from the paper's edge, where it is sure to print."""
    deep = away + 1.0
    if stairs.side == "left":
        canvas.draw_words(text, deep, middle + 0.6, 1.7)
    elif stairs.side == "right":
        canvas.draw_words(text, canvas.width - deep, middle + 0.6, 1.7, align="right")
    elif stairs.side == "top":
        canvas.draw_words(text, middle, deep + 1.3, 1.7, align="centre")
    else:
        canvas.draw_words(text, middle, canvas.height - deep, 1.7, align="centre")


def _draw_middle(canvas: PdfCanvas, chart: CalibrationChart, texts: list[tuple[str, float]]) -> None:
    """Words, and below them the square grid with its diagonals."""
    room, y = chart.room, chart.room.y
    side = choose_grid_side(chart, _measure_height(chart, texts, canvas.pages.lettering))
    for index, (text, size) in enumerate(texts):
        y = draw_paragraph(canvas, text, room.x, y, room.w, size, heavy=index == 0) + 1.0
    if side:
        _draw_grid(canvas, Box(room.x, y + _GAP_MM / 2, side, side))


def _draw_grid(canvas: PdfCanvas, box: Box) -> None:
    for step in range(1, int(box.w // 10)):
        canvas.draw_line(box.x + step * 10, box.y, box.x + step * 10, box.bottom, 0.1)
        canvas.draw_line(box.x, box.y + step * 10, box.right, box.y + step * 10, 0.1)
    canvas.draw_line(box.x, box.y, box.right, box.bottom, 0.1)
    canvas.draw_line(box.x, box.bottom, box.right, box.y, 0.1)
    canvas.draw_box(box, 0.25)
    canvas.draw_words(f"square of {box.w:g} mm", box.right - 1, box.bottom - 1, 2.0, align="right")
