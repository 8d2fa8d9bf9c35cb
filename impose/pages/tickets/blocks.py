"""What is set in type: paragraphs, check boxes, the plain-paper heading, order of work and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from weakref import WeakKeyDictionary

from impose.pages.pdf.canvas import Canvas
from impose.sheet.lettering import GAP, Lettering, Line
from impose.shop.practice import CAUTIONS, ORDER_OF_WORK
from impose.units import Box

SIZE_MM = 2.25  # em of running text, about 6.4 points
SMALL_MM = 1.95
PITCH = 1.22  # line to line, in em

PRACTICE_MM = 19.8
"""The height of the block that `practice` draws on a page 190 mm wide or more."""


_MOST_WRAPPED = 4096
_WRAPPED: WeakKeyDictionary[Lettering, dict[tuple[str, float], tuple[str, ...]]] = WeakKeyDictionary()
"""Texts wrapped before, forgotten with their lettering: a desk makes deliveries for months, each with its own."""


def wrapped(lettering: Lettering, text: str, size_mm: float, width_mm: float) -> list[str]:
    """The text in lines no wider than asked; a word that is wider stands alone, shortened."""
    known = _WRAPPED.setdefault(lettering, {})
    key = text, round(width_mm / size_mm, 6)
    if key not in known:
        if len(known) >= _MOST_WRAPPED:
            known.clear()
        known[key] = _wrapped(lettering, *key)
    return list(known[key])


def _wrapped(lettering: Lettering, text: str, width_em: float) -> tuple[str, ...]:
    space = lettering.sentence("x x").width - 2 * lettering.line(["x"]).width
    lines: list[str] = []
    line, length = "", 0.0
    for word in text.split():
        wide = lettering.line([word]).width
        if wide > width_em:
            word = lettering.fit(word, width_em).fields[0] if lettering.fit(word, width_em).fields else ""
            wide = lettering.line([word]).width
        if line and length + space + wide > width_em:
            lines.append(line)
            line, length = word, wide
        else:
            line, length = (f"{line} {word}", length + space + wide) if line else (word, wide)
    return (*lines, line) if line else tuple(lines)


def fitted(lettering: Lettering, text: str, width_em: float) -> Line:
    """Parts of text with wide gaps between them in one line, each shaped by itself, since most of them come again.

    Where that is too long it is cut short at its end.
    """
    line = lettering.line(text.split(GAP))
    return line if line.width <= width_em else lettering.fit(text, width_em)


def paragraph(
    canvas: Canvas, text: str, x: float, y: float, width_mm: float, size_mm: float = SIZE_MM, *, heavy: bool = False
) -> float:
    """Text below `y` in as many lines as it takes; returns the y below it."""
    for line in wrapped(canvas.pages.lettering, text, size_mm, width_mm):
        y += size_mm * PITCH
        canvas.words(canvas.pages.lettering.sentence(line), x, y - size_mm * 0.26, size_mm, heavy=heavy)
    return y


def tick_box(canvas: Canvas, x: float, y: float, text: str = "", size_mm: float = SMALL_MM) -> float:
    """A box to tick with its word after it, on the baseline `y`; returns the x behind it."""
    side = size_mm * 1.15
    canvas.box(Box(x, y - side * 0.85, side, side), 0.2)
    return x + side + 0.8 + (canvas.words(text, x + side + 0.8, y, size_mm) if text else 0.0)


def plain_paper(canvas: Canvas, x: float, y: float, size_mm: float = 3.2) -> float:
    """The heading that keeps a ticket off transfer paper: white on black; returns its width."""
    line = canvas.pages.lettering.line(["PLAIN PAPER"])
    wide = line.width * size_mm + 4
    canvas.box(Box(x, y, wide, size_mm * 1.7), None, fill=0.0)
    canvas.words(line, x + 2, y + size_mm * 1.2, size_mm, grey=1.0, heavy=True)
    return wide


def practice(canvas: Canvas) -> None:
    """Order of work with its check boxes in two columns, cautions in the third."""
    lettering, gap = canvas.pages.lettering, 4.0
    column = (canvas.width - 2 * gap) * 0.3
    size = 1.75
    works = [(f"{number}. {text}", True) for number, text in enumerate(ORDER_OF_WORK, 1)]
    canvas.line(0, 0, canvas.width, 0, 0.25)
    canvas.words("ORDER OF WORK", 0, 2.6, size, heavy=True)
    canvas.words("CAUTIONS", 2 * (column + gap), 2.6, size, heavy=True)
    first, second = _halved(lettering, works, size, column - 3.2)
    for index, items in enumerate((first, second)):
        _items(canvas, items, index * (column + gap), 3.3, column, size)
    _items(
        canvas, [(text, False) for text in CAUTIONS], 2 * (column + gap), 3.3, canvas.width - 2 * (column + gap), size
    )


def _halved(
    lettering: Lettering, items: Sequence[tuple[str, bool]], size: float, width: float
) -> tuple[list[tuple[str, bool]], list[tuple[str, bool]]]:
    """Two columns of nearly the same number of lines."""
    lines = [len(wrapped(lettering, text, size, width)) for text, _ in items]
    cut = min(range(len(items) + 1), key=lambda i: abs(sum(lines[:i]) - sum(lines[i:])))
    return list(items[:cut]), list(items[cut:])


def _items(canvas: Canvas, items: Sequence[tuple[str, bool]], x: float, y: float, width: float, size: float) -> None:
    for text, box in items:
        mark = 3.2 if box else 2.0
        if box:
            tick_box(canvas, x, y + size * 1.0, size_mm=size)
        else:
            canvas.words("•", x, y + size * 1.0, size)
        y = paragraph(canvas, text, x + mark, y, width - mark, size) + 0.2
