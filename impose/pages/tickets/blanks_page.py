"""The page of blanks: what garments to buy before anything is printed, with boxes to tick as they are counted in."""

from __future__ import annotations

from collections.abc import Sequence

from impose.pages.pdf.canvas import PdfCanvas, PdfPages
from impose.pages.tickets.text_blocks import (
    SIZE_MM,
    draw_page_heading,
    draw_paragraph,
    draw_tick_box,
    fit_parts,
)
from impose.pages.tickets.ticket_layout import SIDE_MM, TicketStyle
from impose.profiles.blank_spares import BlankSpares
from impose.sheet.blanks import BlankLine

_TOP_MM, _ROW_MM, _TEXT_MM = 9.0, 7.2, 3.6
_STARTS = (0.0, 9.0, 27.0, 45.0, 64.0, 76.0)  # bought, counted in, needed, spare, buy, what
_HEADS = ("buy", "counted in", "needed", "spare", "in all", "garment")

TOLD = (
    "Buy and count these in before anything is printed: a print that has no garment waits, and a spoiled garment needs "
    "a new blank of its size and all its prints again."
)


def write_blanks(pages: PdfPages, lines: Sequence[BlankLine], rule: BlankSpares, style: TicketStyle) -> None:
    """Draw the list, on as many pages as it takes; nothing where no garment is needed."""
    left, first = list(lines), True
    while left:
        canvas = pages.new_page(style.width, style.height * 2)
        y = _write_head(canvas, lines, rule, style, first)
        rows = max(1, int((canvas.height - _TOP_MM - y) / _ROW_MM))
        for line in left[:rows]:
            y = _write_line(canvas, line, style, y)
        pages.add_page(canvas)
        left, first = left[rows:], False


def _write_head(
    canvas: PdfCanvas, lines: Sequence[BlankLine], rule: BlankSpares, style: TicketStyle, first: bool
) -> float:
    right = SIDE_MM + style.inner
    title = "Blank garments" if first else "Blank garments, continued"
    draw_page_heading(canvas, SIDE_MM, _TOP_MM, right, title, f"batch {style.code}   {style.batch}")
    y = _TOP_MM + 10
    if first:
        needed, spare = sum(line.needed for line in lines), sum(line.spares for line in lines)
        told = f"{needed} needed and {spare} spare: {needed + spare} to buy · spares: {rule}"
        fit_parts(canvas, told, SIDE_MM, y + 4.5, style.inner, 5.0, heavy=True)
        y = draw_paragraph(canvas, TOLD, SIDE_MM, y + 6.5, style.inner, 3.2) + 2
    for start, head in zip(_STARTS, _HEADS, strict=True):
        canvas.draw_words(head, SIDE_MM + start, y + 3.4, SIZE_MM, heavy=True)
    canvas.draw_line(SIDE_MM, y + 4.8, right, y + 4.8, 0.25)
    return y + 5.4


def _write_line(canvas: PdfCanvas, line: BlankLine, style: TicketStyle, y: float) -> float:
    base = y + _ROW_MM - 2.2
    draw_tick_box(canvas, SIDE_MM + _STARTS[0], base, size_mm=3.4)
    draw_tick_box(canvas, SIDE_MM + _STARTS[1], base, size_mm=3.4)
    canvas.draw_line(SIDE_MM + _STARTS[1] + 5.2, base + 0.4, SIDE_MM + _STARTS[1] + 14, base + 0.4, 0.15)
    for start, number in zip(_STARTS[2:5], (line.needed, line.spares, line.total), strict=True):
        canvas.draw_words(str(number), SIDE_MM + start, base, _TEXT_MM, heavy=start == _STARTS[4])
    x = SIDE_MM + _STARTS[5]
    wide = fit_parts(canvas, describe_blank(line), x, base, style.inner - _STARTS[5], _TEXT_MM, heavy=True)
    room = style.inner - _STARTS[5] - wide - 4
    orders = ", ".join(line.orders)
    if room > 20 and orders:
        fit_parts(canvas, orders, x + wide + 4, base, room, SIZE_MM)
    canvas.draw_line(SIDE_MM, y + _ROW_MM, SIDE_MM + style.inner, y + _ROW_MM, 0.08, 0.6)
    return y + _ROW_MM


def describe_blank(line: BlankLine) -> str:
    """Kind, cut, size and cloth in one line, with what no order says."""
    size = line.size or "SIZE NOT SAID"
    named = "" if line.named else " (no garment named)"
    return f"{line.kind}, {line.group} {size}, {line.colour} {line.cloth}{named}"
