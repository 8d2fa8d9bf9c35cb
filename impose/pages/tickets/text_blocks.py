"""What is set in type: paragraphs, boxes to tick, the plain-paper heading."""

from __future__ import annotations

import math
from weakref import WeakKeyDictionary

from impose.pages.pdf.canvas import Align, PdfCanvas
from impose.type.lettering import ShapedLine, TextShaper
from impose.units import Box

SIZE_MM = 3.0  # em of running text, 8.5 points: read at arm's length
SMALL_MM = 2.3
PITCH = 1.22  # line to line, in em

_MOST_WRAPPED = 4096
_WRAPPED: WeakKeyDictionary[TextShaper, dict[tuple[str, float], tuple[str, ...]]] = WeakKeyDictionary()
"""Texts wrapped before, forgotten with their lettering: a desk makes deliveries for months, each with its own."""


def wrap_text(lettering: TextShaper, text: str, size_mm: float, width_mm: float) -> list[str]:
    """The text in lines no wider than asked; a word that is wider stands alone, shortened."""
    known = _WRAPPED.setdefault(lettering, {})
    key = text, round(width_mm / size_mm, 6)
    if key not in known:
        if len(known) >= _MOST_WRAPPED:
            known.clear()
        known[key] = _wrap_text(lettering, *key)
    return list(known[key])


def _wrap_text(lettering: TextShaper, text: str, width_em: float) -> tuple[str, ...]:
    space = lettering.shape_sentence("x x").width - 2 * lettering.shape_line(["x"]).width
    lines: list[str] = []
    line, length = "", 0.0
    for word in text.split():
        wide = lettering.shape_line([word]).width
        if wide > width_em:
            word = lettering.fit_line(word, width_em).fields[0] if lettering.fit_line(word, width_em).fields else ""
            wide = lettering.shape_line([word]).width
        if line and length + space + wide > width_em:
            lines.append(line)
            line, length = word, wide
        else:
            line, length = (f"{line} {word}", length + space + wide) if line else (word, wide)
    return (*lines, line) if line else tuple(lines)


def measure_height(lettering: TextShaper, text: str, width_mm: float, size_mm: float = SIZE_MM) -> float:
    """What `draw_paragraph` takes for it."""
    return len(wrap_text(lettering, text, size_mm, width_mm)) * size_mm * PITCH


def draw_paragraph(
    canvas: PdfCanvas, text: str, x: float, y: float, width_mm: float, size_mm: float = SIZE_MM, *,
    heavy: bool = False, right_to_left: bool = False,
) -> float:  # fmt: skip
    """Text below `y` in as many lines as it takes, from the edge that its reading begins at; returns the y below it."""
    lettering = canvas.pages.choose_weight(heavy)
    for line in wrap_text(lettering, text, size_mm, width_mm):
        y += size_mm * PITCH
        shaped = lettering.shape_paragraph_line(line, right_to_left)
        at = x + width_mm if right_to_left else x
        align: Align = "right" if right_to_left else "left"
        canvas.draw_words(shaped, at, y - size_mm * 0.26, size_mm, heavy=heavy, align=align)
    return y


def fit_parts(
    canvas: PdfCanvas, text: str, x: float, y: float, width_mm: float, size_mm: float, *, heavy: bool = False
) -> float:
    """One line on the baseline `y`, set smaller down to three quarters where it is long, then cut short; its length.

    It runs from left to right, whichever way a name in it does.
    """
    lettering = canvas.pages.choose_weight(heavy)
    line, size = shrink_line(lettering, text, width_mm, size_mm, 0.75, 0)
    return canvas.draw_words(line, x, y, size, heavy=heavy)


def shrink_line(
    lettering: TextShaper, text: str, width_mm: float, size_mm: float, least: float, base: int | None = None
) -> tuple[ShapedLine, float]:
    """A line set smaller where it is long, down to a share of its size, then cut short; and its size."""
    whole = lettering.fit_line(text, math.inf, base)
    size = size_mm if whole.width * size_mm <= width_mm else max(size_mm * least, width_mm / whole.width)
    # What was made to fit is not measured again: by a hair of rounding its end would be cut off.
    return (lettering.fit_line(text, width_mm / size, base) if size == size_mm * least else whole), size


def draw_tick_box(canvas: PdfCanvas, x: float, y: float, text: str = "", size_mm: float = SMALL_MM) -> float:
    """A box to tick with its word after it, on the baseline `y`; returns the x behind it."""
    side = size_mm * 1.15
    canvas.draw_box(Box(x, y - side * 0.85, side, side), 0.2)
    return x + side + 0.8 + (canvas.draw_words(text, x + side + 0.8, y, size_mm) if text else 0.0)


def draw_plain_paper_heading(
    canvas: PdfCanvas, x: float, y: float, size_mm: float = 2.8, words: str = "PLAIN PAPER"
) -> float:
    """The heading that keeps a ticket off transfer paper, or other words: white on black; returns its width."""
    line = canvas.pages.choose_weight(True).shape_line([words])
    wide = line.width * size_mm + 3
    canvas.draw_box(Box(x, y, wide, size_mm * 1.7), None, fill=0.0)
    canvas.draw_words(line, x + 1.5, y + size_mm * 1.2, size_mm, grey=1.0, heavy=True)
    return wide


def draw_page_heading(canvas: PdfCanvas, x: float, y: float, right: float, title: str, told: str) -> None:
    """What stands above a whole page: plain paper, what the page is, and on the right which batch it is of."""
    after = x + draw_plain_paper_heading(canvas, x, y) + 4
    canvas.draw_words(title, after, y + 4.6, 6.0, heavy=True)
    canvas.draw_words(told, right, y + 3.8, SIZE_MM, align="right")
