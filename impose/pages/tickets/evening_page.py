"""The first page: what the evening holds, how the press is set, order of work and cautions, once for all tickets."""

from __future__ import annotations

from collections.abc import Sequence

from impose.pages.pdf.canvas import PdfCanvas
from impose.pages.tickets import sentences
from impose.pages.tickets.text_blocks import (
    PITCH,
    SIZE_MM,
    draw_page_heading,
    draw_paragraph,
    draw_tick_box,
    fit_parts,
    measure_height,
)
from impose.pages.tickets.ticket_layout import SIDE_MM, TicketStyle
from impose.profiles.guidance import CAUTIONS, ORDER_OF_WORK
from impose.profiles.press import HeatPress
from impose.sheet.garment_variants import AlikeGarments, PressSetup, list_setups
from impose.sheet.press_times import PressEvening
from impose.units import format_minutes

_TOP_MM = 9.0
_TEXT_MM = 3.2
_HEAD_MM = 4.2
_MARK_MM = 6.0
_GAP_MM = 6.0
_PITCH_MM = SIZE_MM * PITCH * 1.25
_MOST_INDEX_MM = 80.0

DRAWINGS = (
    "Drawings show the garment as it lies up in the press and the print seen through the paper, which lies face down: "
    "as it will be worn. Distances are laid by the ruler; exact figures stand in the record."
)


def write_evening(canvas: PdfCanvas, found: Sequence[AlikeGarments], style: TicketStyle) -> None:
    """Draw the first page of a batch's tickets."""
    tickets = [ticket for group in found for ticket in group.tickets]
    parts = list_setups(tickets, style.press)
    right = SIDE_MM + style.inner
    batch = f"batch {style.code}   {style.batch}"
    draw_page_heading(canvas, SIDE_MM, _TOP_MM, right, "The press evening", batch)
    y = _write_summary(canvas, found, parts, style, _TOP_MM + 10)
    y = _write_setups(canvas, parts, style, y + 2)
    y = _write_settings(canvas, parts, style, y + 2)
    high = canvas.height - _TOP_MM - _arrange_index(found)[2]
    size = next(
        (
            size
            for size in (4.0, 3.7, 3.4, 3.2, 3.0, 2.8, 2.6, 2.4)
            if y + _practice_height(canvas, style, size) <= high
        ),
        2.2,
    )
    y = _write_practice(canvas, style, y + 3, size)
    _write_index(canvas, found, style, y + 3)


def _write_summary(
    canvas: PdfCanvas, found: Sequence[AlikeGarments], parts: Sequence[PressSetup], style: TicketStyle, y: float
) -> float:
    garments = sum(len(group.tickets) for group in found)
    presses, prints = sum(setup.presses for setup in parts), sum(setup.prints for setup in parts)
    minutes = style.evening.times.minutes
    words = [_format_count(garments, "garment"), _format_count(len(found), "ticket"), _format_count(prints, "print"),
             _format_count(presses, "press", "presses"), f"about {format_minutes(minutes)}"]  # fmt: skip
    fit_parts(canvas, " · ".join(words), SIDE_MM, y + 4.5, style.inner, 5.0, heavy=True)
    y += 6.5
    cloths = list(dict.fromkeys(group.first.worn.cloth.words for group in found))
    if len(cloths) == 1:
        y += 4.1
        fit_parts(canvas, f"All garments: {cloths[0]}", SIDE_MM, y - 1.2, style.inner, _TEXT_MM)
    firsts = [group.number for group in found if group.first.first]
    if firsts:
        y += 4.6
        which = f"ticket {firsts[0]}" if len(firsts) == 1 else f"tickets {firsts[0]} to {firsts[-1]}"
        told = f"First ones off: {which}. Press them and look at them before you print the rest."
        fit_parts(canvas, told, SIDE_MM, y - 1.2, style.inner, _TEXT_MM, heavy=True)
    return y


def _format_count(number: int, noun: str, plural: str = "") -> str:
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def _write_setups(canvas: PdfCanvas, parts: Sequence[PressSetup], style: TicketStyle, y: float) -> float:
    """What is pressed in which set-up."""
    starts = (0.0, 34.0, 66.0, 98.0, 130.0, 155.0)
    heads = ("set-up", "garments", "prints", "presses", "minutes", "paper")
    for start, head in zip(starts, heads, strict=True):
        canvas.draw_words(head, SIDE_MM + start, y + 3, SIZE_MM, heavy=True)
    y += 4.2
    canvas.draw_line(SIDE_MM, y, SIDE_MM + style.inner, y, 0.25)
    for part in parts:
        y += _TEXT_MM * 1.4
        cells = (
            part.name, str(part.garments), str(part.prints), str(part.presses), str(part.times.minutes), part.paper
        )  # fmt: skip
        for start, cell in zip(starts, cells, strict=True):
            room = style.inner - start if start == starts[-1] else 30.0
            fit_parts(canvas, cell, SIDE_MM + start, y, room, _TEXT_MM)
    return y + 1.5


def _write_settings(canvas: PdfCanvas, parts: Sequence[PressSetup], style: TicketStyle, y: float) -> float:
    """How the press is set for each paper."""
    papers: dict[str, dict[str, None]] = {}
    for part in parts:
        papers.setdefault(sentences.setting_words(part.press), {})[part.paper] = None
    press = style.press
    for words, names in papers.items():
        whose = f"Paper {', '.join(names)}: " if len(papers) > 1 else ""
        y = draw_paragraph(canvas, f"{whose}{words}", SIDE_MM, y, style.inner, 3.6, heavy=True)
    rest = (
        f"Press {press.title}. A light touch of {press.prepress_seconds} s first. Cover: {press.cover}. "
        f"{sentences.BOTH_PRACTICES}"
    )
    y = draw_paragraph(canvas, rest, SIDE_MM, y + 0.6, style.inner, SIZE_MM)
    y = draw_paragraph(canvas, sentences.STARTING_POINT, SIDE_MM, y, style.inner, SIZE_MM, heavy=True)
    y = draw_paragraph(canvas, describe_times(style.evening, press), SIDE_MM, y, style.inner, SIZE_MM)
    return draw_paragraph(canvas, DRAWINGS, SIDE_MM, y, style.inner, SIZE_MM)


def describe_times(evening: PressEvening, press: HeatPress) -> str:
    """What the minutes go into, by which figures, and what the other order of working would take."""
    times = evening.times
    parts = (
        ("press closed", times.pressing), ("resting", times.resting), ("light touch", times.prepress),
        ("taping and lifting", times.taping), ("turning", times.turning), ("changing the set-up", times.changing),
    )  # fmt: skip
    told = ", ".join(f"{name} {-(-seconds // 60)}" for name, seconds in parts if seconds)
    orders = {"garment": "garment by garment", "platen": "set-up by set-up"}
    other = next(words for name, words in orders.items() if name != evening.by)
    more = (
        f" {other.capitalize()} it would be about {format_minutes(evening.other.minutes)}."
        if (evening.other.minutes != times.minutes)
        else ""
    )
    return (
        f"Minutes {orders[evening.by]} go into {told}.{more} Reckoned with {press.handling_seconds} s of taping and "
        f"lifting a print, {press.turning_seconds} s of turning a face, {press.setup_seconds} s a change: time yours."
    )


def _measure_column(style: TicketStyle) -> float:
    return (style.inner - _GAP_MM) / 2


def _practice_height(canvas: PdfCanvas, style: TicketStyle, size: float) -> float:
    return max(_items_height(canvas, style, texts, size) for texts in (ORDER_OF_WORK, CAUTIONS)) + _HEAD_MM + 7


def _items_height(canvas: PdfCanvas, style: TicketStyle, texts: Sequence[str], size: float) -> float:
    wide = _measure_column(style) - _MARK_MM
    return sum(measure_height(canvas.pages.lettering, text, wide, size) + size * 0.3 for text in texts)


def _write_practice(canvas: PdfCanvas, style: TicketStyle, y: float, size: float) -> float:
    """Order of work on the left, cautions on the right."""
    canvas.draw_line(SIDE_MM, y, SIDE_MM + style.inner, y, 0.3)
    right = SIDE_MM + _measure_column(style) + _GAP_MM
    canvas.draw_words("ORDER OF WORK", SIDE_MM, y + 5, _HEAD_MM, heavy=True)
    canvas.draw_words("CAUTIONS", right, y + 5, _HEAD_MM, heavy=True)
    ends = [
        _write_items(
            canvas, [f"{number}. {text}" for number, text in enumerate(ORDER_OF_WORK, 1)], SIDE_MM, y + 6.5, style, size
        ),
        _write_items(canvas, CAUTIONS, right, y + 6.5, style, size),
    ]
    return max(ends)


def _write_items(canvas: PdfCanvas, texts: Sequence[str], x: float, y: float, style: TicketStyle, size: float) -> float:
    for text in texts:
        numbered = text.partition(". ")[0].isdigit()
        mark, rest = text.split(". ", 1) if numbered else ("!", text)
        canvas.draw_words(mark, x, y + size * 0.96, size, heavy=True)
        y = draw_paragraph(canvas, rest, x + _MARK_MM, y, _measure_column(style) - _MARK_MM, size) + size * 0.3
    return y


def _arrange_index(found: Sequence[AlikeGarments]) -> tuple[int, bool, float]:
    """How many columns the list of tickets has, whether it names cloths, and how high it is.

    Cloths are named where there are several, in two columns that hold them; where that is too high, or where there is
    one, there are three. No height at all where it would leave no room for the practice.
    """
    several = len({group.first.worn.cloth.words for group in found}) > 1
    for columns, cloths in ((2, True), (3, False)) if several else ((3, False),):
        high = 8.0 + -(-len(found) // columns) * _PITCH_MM
        if high < _MOST_INDEX_MM:
            return columns, cloths, high
    return 3, False, 0.0


def _write_index(canvas: PdfCanvas, found: Sequence[AlikeGarments], style: TicketStyle, y: float) -> None:
    """The tickets by number with a box for each, where the page has room for all of them."""
    columns, cloths, high = _arrange_index(found)
    size = SIZE_MM
    wide, rows = style.inner / columns, -(-len(found) // columns)
    if y + high > canvas.height - _TOP_MM + 3:
        return
    canvas.draw_line(SIDE_MM, y, SIDE_MM + style.inner, y, 0.25)
    describe = sentences.describe_garment if cloths else sentences.name_garment
    for index, group in enumerate(found):
        x, line = SIDE_MM + (index // rows) * wide, y + 4.4 + (index % rows) * _PITCH_MM
        after = draw_tick_box(canvas, x, line, size_mm=size)
        count = f"{len(group.tickets)} × " if len(group.tickets) > 1 else ""
        told = f"{group.number}  {sentences.make_heading(group.tickets)}: {count}{describe(group.first.worn)}"
        fit_parts(canvas, told, after, line, x + wide - 3 - after, size)
