"""What a PDF page draws, read from its content stream by another library: strokes and outlines in mm from the top left.

Forms are followed. Words come from pdfium, with their places. Nothing of the program is used.

This is the reader for tests that measure: which strokes, rings and boxes are there, of what width and length, and what
the words say. It keeps no order between them. What lies over what, and whole pages to compare, are for `drawn_text`.
"""

from __future__ import annotations

import ctypes
import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw

POINT_MM = 25.4 / 72  # ISO 32000-1, 8.3.2.3: the default user space unit is 1/72 inch
Point = tuple[float, float]
Matrix = tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class Outline:
    """One subpath: its corners (ends of curves included), whether it is closed, how it is painted (the operator),
    whether it is dashed, the grey it is filled with, and how wide its stroke is in mm.
    """

    points: tuple[Point, ...]
    closed: bool
    paint: str
    dashed: bool
    fill: float | None
    width: float = 0.0

    @property
    def box(self) -> tuple[float, float, float, float]:
        """x, y, width, height."""
        xs, ys = [x for x, _ in self.points], [y for _, y in self.points]
        return min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)

    @property
    def is_box(self) -> bool:
        x, y, w, h = self.box
        corners = {(round(a - x, 4), round(b - y, 4)) for a, b in self.points}
        ends = {(0.0, 0.0), (round(w, 4), 0.0), (0.0, round(h, 4)), (round(w, 4), round(h, 4))}
        return self.closed and corners == ends


@dataclass(frozen=True)
class Shown:
    """A picture: the page points of its lower left, lower right and upper left corner."""

    corners: tuple[Point, Point, Point]


@dataclass
class State:
    matrix: Matrix
    dashed: bool = False
    fill: float | None = None
    width: float = 0.0


def times(a: Matrix, b: Matrix) -> Matrix:
    """First `a`, then `b` (ISO 32000-1, 8.3.4)."""
    return (
        a[0] * b[0] + a[1] * b[2], a[0] * b[1] + a[1] * b[3], a[2] * b[0] + a[3] * b[2], a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4], a[4] * b[1] + a[5] * b[3] + b[5],
    )  # fmt: skip


class Page:
    """One page: its words and size at once, what is drawn on it when that is asked for."""

    def __init__(self, pdf: Path, index: int, document: pypdfium2.PdfDocument | None = None) -> None:
        self._pdf, self._index = pdf, index
        page = (document or pypdfium2.PdfDocument(pdf))[index]
        self.width, self.height = (float(v) * POINT_MM for v in page.get_mediabox()[2:])
        self.text = page.get_textpage().get_text_range().replace("\r\n", "\n")
        self._outlines: list[Outline] = []
        self._pictures: list[Shown] = []

    @cached_property
    def _drawn(self) -> tuple[list[Outline], list[Shown]]:
        with pikepdf.open(self._pdf) as document:
            page = document.pages[self._index]
            self._read(page, page.Resources, (1, 0, 0, 1, 0, 0))
        return self._outlines, self._pictures

    @property
    def outlines(self) -> list[Outline]:
        """Every subpath, in the order of painting."""
        return self._drawn[0]

    @property
    def pictures(self) -> list[Shown]:
        """Every picture, in the order of painting."""
        return self._drawn[1]

    @property
    def lines(self) -> list[tuple[Point, Point]]:
        """Stroked straight lines of two ends."""
        return [one.points for one in self.outlines if len(one.points) == 2 and not one.closed]  # type: ignore[misc]

    @property
    def boxes(self) -> list[tuple[float, float, float, float]]:
        """Closed rectangles."""
        return [one.box for one in self.outlines if one.is_box]

    def _read(self, where: Any, resources: Any, matrix: Matrix) -> None:
        stack: list[State] = []
        state = State(matrix)
        path: list[tuple[list[Point], bool]] = []
        for operands, operator in pikepdf.parse_content_stream(where):
            name, values = str(operator), list(operands)
            if name == "q":
                stack.append(replace(state))
            elif name == "Q":
                state = stack.pop()
            elif name == "Do":
                self._do(resources.XObject[str(values[0])], resources, state.matrix)
            elif name in ("S", "f", "B"):
                self._outlines += [
                    Outline(tuple(ends), shut, name, state.dashed, state.fill, state.width) for ends, shut in path
                ]
                path = []
            elif not self._state(name, values, state):
                self._path(name, values, state, path)

    def _state(self, name: str, values: list[Any], state: State) -> bool:
        if name == "cm":
            state.matrix = times(tuple(float(v) for v in values), state.matrix)  # type: ignore[arg-type]
        elif name == "d":
            state.dashed = bool(len(values[0]))
        elif name == "g":
            state.fill = float(values[0])
        elif name == "w":
            state.width = float(values[0]) * POINT_MM
        return name in ("cm", "d", "g", "w")

    def _path(self, name: str, values: list[Any], state: State, path: list[tuple[list[Point], bool]]) -> None:
        if name == "m":
            path.append(([self._at(values, state)], False))
        elif name in ("l", "c"):
            path[-1][0].append(self._at(values[-2:], state))
        elif name == "h":
            path[-1] = (path[-1][0], True)

    def _do(self, thing: Any, resources: Any, matrix: Matrix) -> None:
        if thing.Subtype == "/Form":
            self._read(thing, thing.get("/Resources", resources), matrix)
        else:
            ends = [((1, 0, 0, 1, x, y)) for x, y in ((0, 0), (1, 0), (0, 1))]
            self._pictures.append(Shown(tuple(self._at((), State(times(one, matrix))) for one in ends)))  # type: ignore[arg-type]

    def _at(self, values: Any, state: State) -> Point:
        x, y = (float(v) for v in values) if values else (0.0, 0.0)
        a, b, c, d, e, f = state.matrix
        return (a * x + c * y + e) * POINT_MM, self.height - (b * x + d * y + f) * POINT_MM


def pages(pdf: Path) -> Iterator[Page]:
    """Every page."""
    document = pypdfium2.PdfDocument(pdf)
    for index in range(len(document)):
        yield Page(pdf, index, document)


@dataclass(frozen=True)
class Run:
    """Words that stand on one line without a gap: their origin on the baseline, their em, and the box of their ink."""

    text: str
    x: float
    y: float
    size: float
    ink: tuple[float, float, float, float]

    @property
    def right(self) -> float:
        """Where their ink ends."""
        return self.ink[2]


def runs(pdf: Path) -> Iterator[list[Run]]:
    """Of every page its level lines of words, in the order in which they are drawn."""
    for page in pypdfium2.PdfDocument(pdf):
        text, high = page.get_textpage(), page.get_height() * POINT_MM
        x, y = ctypes.c_double(), ctypes.c_double()
        found: list[list[tuple[str, float, float, float, tuple[float, ...]]]] = [[]]
        for at in range(text.count_chars()):
            if pypdfium2.raw.FPDFText_IsGenerated(text, at):
                continue
            pypdfium2.raw.FPDFText_GetCharOrigin(text, at, x, y)
            left, low, right, top = (value * POINT_MM for value in text.get_charbox(at))
            place = x.value * POINT_MM, high - y.value * POINT_MM
            size = pypdfium2.raw.FPDFText_GetFontSize(text, at) * POINT_MM
            letter = chr(pypdfium2.raw.FPDFText_GetUnicode(text, at))
            if found[-1] and not _goes_on(found[-1][-1], place, size):
                found.append([])
            found[-1].append((letter, *place, size, (left, high - top, right, high - low)))
        yield [_join_letters(held) for held in found if any(letter.strip() for letter, *_ in held)]


def _goes_on(before: tuple[Any, ...], place: Point, size: float) -> bool:
    """Whether a letter belongs to the one before it; those of a ligature share one ink."""
    _, x, y, em, ink = before
    return abs(y - place[1]) < 0.05 and abs(em - size) < 0.01 and -em < place[0] - max(x, ink[2]) < 0.6 * em


def _join_letters(held: list[tuple[Any, ...]]) -> Run:
    inked = [ink for letter, _, _, _, ink in held if letter.strip()]
    left, top = (min(ink[k] for ink in inked) for k in (0, 1))
    right, low = (max(ink[k] for ink in inked) for k in (2, 3))
    text, (_, x, y, size, _) = held[0][0], held[0]
    for (_, _, _, em, before), (letter, at, *_) in itertools.pairwise(held):
        # A space may be a move alone.
        text += " " * (at - before[2] > 0.15 * em and not text.endswith(" ") and letter != " ") + letter
    return Run(text, x, y, size, (left, top, right, low))


def letters(pdf: Path) -> Iterator[list[tuple[str, tuple[float, float, float, float]]]]:
    """Of every page each visible character and the box of its ink: left, top, right, bottom, from the top left."""
    for page in pypdfium2.PdfDocument(pdf):
        text, high = page.get_textpage(), page.get_height() * POINT_MM
        words = text.get_text_range()
        found = []
        for at in range(text.count_chars()):
            left, low, right, top = (value * POINT_MM for value in text.get_charbox(at))
            if right > left and top > low:
                found.append((words[at : at + 1], (left, high - top, right, high - low)))
        yield found


def find_crossed(found: list[tuple[str, tuple[float, float, float, float]]], least_mm: float = 0.25) -> list[str]:
    """Characters that lie on others, with those around them; of neighbours none, since ligatures are one glyph."""
    boxes = np.array([box for _, box in found]).reshape(-1, 4)
    right, low = (np.minimum(boxes[:, None, k], boxes[None, :, k]) for k in (2, 3))
    left, top = (np.maximum(boxes[:, None, k], boxes[None, :, k]) for k in (0, 1))
    pairs = np.argwhere(np.triu((right - left > least_mm) & (low - top > least_mm), 3))
    words = "".join(letter for letter, _ in found)
    return [f"{words[max(0, a - 8) : a + 8]} / {words[max(0, b - 8) : b + 8]}" for a, b in pairs]
