"""What a PDF draws, a line a thing, as pdfium reads it: to be kept, looked at and compared. Nothing of the program.

Lengths are millimetres from the page's top left corner, to 0.01. Outlines of many corners are told by their box, the
number of their corners and the middle of these; a form that was drawn before, by where it lies now.

This is the reader for approved pages: all that is drawn, in the order of painting, as text. A test that measures a
stroke or looks for a word asks `drawn`, which reads the content stream itself and so is a second opinion.
"""

from __future__ import annotations

import ctypes
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium

from drawn import POINT_MM, Matrix

UPRIGHT: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
_MOST_CORNERS = 8
_MOST_LINES = 24


@dataclass(frozen=True)
class Words:
    """Words on one baseline: how they look, where they begin, how long they are in their direction, and how large."""

    look: str
    angle: int
    x: float
    y: float
    long: float
    em: float
    text: str

    def join_next(self, after: Words) -> Words | None:
        """Both as one, where the other goes on as a word after a space does."""
        dx, dy = after.x - self.x, after.y - self.y
        along = {0: dx, 90: -dy, 180: -dx, 270: dy}.get(self.angle, -1.0)
        aside = abs(dx if self.angle % 180 else dy)
        gap = (along - self.long) / self.em
        alike = (self.look, self.angle) == (after.look, after.angle) and abs(self.em - after.em) < 0.001
        if not alike or aside > 0.005 or not 0.1 < gap < 0.6:
            return None
        return replace(self, long=along + after.long, text=f"{self.text} {after.text}")

    def describe_thing(self) -> str:
        turned = f" turned {self.angle}" if self.angle else ""
        return f'{self.look}{turned} {_join_numbers(self.em, self.x, self.y, self.long)} "{self.text}'


def describe_pdf(path: Path) -> Iterator[list[str]]:
    """The lines of every page."""
    document = pypdfium2.PdfDocument(path)
    drawn: dict[tuple[str, ...], int] = {}
    for index in range(len(document)):
        yield _PageReader(document[index], drawn).read_page(index + 1)
    document.close()


def format_number(value: float) -> str:
    """A number to 0.01, without zeros at its end."""
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def _join_numbers(*values: float) -> str:
    return " ".join(format_number(value) for value in values)


def chain(first: Matrix, then: Matrix) -> Matrix:
    """First one, then the other (ISO 32000-1, 8.3.4)."""
    a, b, c, d, e, f = first
    p, q, r, s, t, u = then
    return a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u


@dataclass(frozen=True)
class StraightLine:
    """A straight line of two ends, and how it is painted."""

    paint: str
    ends: tuple[float, float, float, float]

    def describe_thing(self) -> str:
        return f"{self.paint}line {_join_numbers(*self.ends)}"


def _describe_many(lines: list[StraightLine]) -> str:
    """Of a ruler or a grid the number of its lines, their box, and sums in which the place of each counts."""
    columns = list(zip(*(line.ends for line in lines), strict=True))
    xs, ys = columns[0] + columns[2], columns[1] + columns[3]
    box = _join_numbers(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))
    sums = [sum(column) for column in columns]
    placed = [sum(at * value for at, value in enumerate(column)) / len(column) for column in columns]
    return f"{lines[0].paint}{len(lines)} lines {box} sums {_join_numbers(*sums, *placed)}"


Drawn = str | Words | StraightLine


class _PageReader:
    """Reads the things of one page in the order in which they are painted."""

    def __init__(self, page: pypdfium2.PdfPage, drawn: dict[tuple[str, ...], int]) -> None:
        self._page, self._drawn = page, drawn
        self._width, self._height = (size * POINT_MM for size in page.get_size())
        self._letters = _read_letters(page.get_textpage())
        self._layer = ""
        self._kinds: dict[int, Callable[[Any, Matrix], Iterator[Drawn]]] = {
            pdfium.FPDF_PAGEOBJ_TEXT: self._read_words,
            pdfium.FPDF_PAGEOBJ_PATH: self._read_outline,
            pdfium.FPDF_PAGEOBJ_IMAGE: self._read_picture,
            pdfium.FPDF_PAGEOBJ_FORM: self._read_form,
        }

    def read_page(self, number: int) -> list[str]:
        things = (
            pdfium.FPDFPage_GetObject(self._page, index) for index in range(pdfium.FPDFPage_CountObjects(self._page))
        )
        lines = _list_lines(line for thing in things for line in self._read_thing(thing, UPRIGHT))
        return [f"page {number} {_join_numbers(self._width, self._height)}", *lines]

    def _read_thing(self, thing: Any, place: Matrix) -> Iterator[Drawn]:
        layer = _read_layer(thing)
        if place is UPRIGHT and layer != self._layer:
            self._layer = layer
            yield f'layer "{layer}'
        yield from self._kinds[pdfium.FPDFPageObj_GetType(thing)](thing, place)

    def _read_words(self, thing: Any, place: Matrix) -> Iterator[Words]:
        size, matrix = ctypes.c_float(), chain(_read_matrix(thing), place)
        pdfium.FPDFTextObj_GetFontSize(thing, size)
        words = self._letters.get(_find_address(thing), "")
        heavy = "bold" if self._is_heavy(thing) else "plain"
        angle = math.degrees(math.atan2(matrix[1], matrix[0]))
        em = size.value * POINT_MM * math.hypot(matrix[2], matrix[3])
        x, y = self._place((0.0, 0.0), matrix)
        colour = _read_colour(pdfium.FPDFPageObj_GetFillColor, thing)
        ends = [ctypes.c_float() for _ in range(4)]
        pdfium.FPDFPageObj_GetBounds(thing, *ends)
        left, low, right, top = (end.value for end in ends)
        long = (top - low if round(angle) % 180 else right - left) * POINT_MM * math.hypot(*place[:2])
        look = f"{heavy} {colour}".strip()
        if matrix[0] * matrix[3] - matrix[1] * matrix[2] < 0:
            look += " mirrored"
        if words.strip():
            yield Words(look, round(angle) % 360, x, y, long, em, words.strip())

    def _is_heavy(self, thing: Any) -> bool:
        room = ctypes.create_string_buffer(200)
        pdfium.FPDFFont_GetBaseFontName(pdfium.FPDFTextObj_GetFont(thing), room, 200)
        stroked = pdfium.FPDFTextObj_GetTextRenderMode(thing) == pdfium.FPDF_TEXTRENDERMODE_FILL_STROKE
        return stroked or b"Bold" in room.value

    def _read_outline(self, thing: Any, place: Matrix) -> Iterator[Drawn]:
        matrix = chain(_read_matrix(thing), place)
        fill, stroke = ctypes.c_int(), ctypes.c_int()
        pdfium.FPDFPath_GetDrawMode(thing, fill, stroke)
        paint = f"fill {_read_colour(pdfium.FPDFPageObj_GetFillColor, thing) or 'grey0'} " if fill.value else ""
        if stroke.value:
            width = ctypes.c_float()
            pdfium.FPDFPageObj_GetStrokeWidth(thing, width)
            wide = width.value * POINT_MM * math.sqrt(abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]))
            colour = _read_colour(pdfium.FPDFPageObj_GetStrokeColor, thing)
            paint += f"stroke {colour}{' ' if colour else ''}{format_number(wide)} "
            count = pdfium.FPDFPageObj_GetDashCount(thing)
            if count > 0:
                dashes = (ctypes.c_float * count)()
                pdfium.FPDFPageObj_GetDashArray(thing, dashes, count)
                paint += f"dashed {_join_numbers(*(dash * POINT_MM for dash in dashes))} "
        for corners, closed, curved in self._list_subpaths(thing, matrix):
            if len(corners) == 2 and not closed:
                yield StraightLine(paint, (*corners[0], *corners[1]))
            else:
                yield paint + _describe_corners(corners, closed, curved)

    def _list_subpaths(self, thing: Any, matrix: Matrix) -> Iterator[tuple[list[tuple[float, float]], bool, bool]]:
        x, y = ctypes.c_float(), ctypes.c_float()
        corners: list[tuple[float, float]] = []
        closed = curved = False
        for index in range(pdfium.FPDFPath_CountSegments(thing)):
            segment = pdfium.FPDFPath_GetPathSegment(thing, index)
            kind = pdfium.FPDFPathSegment_GetType(segment)
            if kind == pdfium.FPDF_SEGMENT_MOVETO and corners:
                yield corners, closed, curved
                corners, closed, curved = [], False, False
            pdfium.FPDFPathSegment_GetPoint(segment, x, y)
            corners.append(self._place((x.value, y.value), matrix))
            curved |= kind == pdfium.FPDF_SEGMENT_BEZIERTO
            closed |= bool(pdfium.FPDFPathSegment_GetClose(segment))
        if len(corners) > 1:
            yield corners, closed, curved

    def _read_picture(self, thing: Any, place: Matrix) -> Iterator[str]:
        matrix = chain(_read_matrix(thing), place)
        corners = [value for point in ((0, 0), (1, 0), (0, 1)) for value in self._place(point, matrix)]
        wide, high = ctypes.c_uint(), ctypes.c_uint()
        pdfium.FPDFImageObj_GetImagePixelSize(thing, wide, high)
        told = f"picture {wide.value}x{high.value} {_join_numbers(*corners)}"
        yield f'{told} "{_describe_encoding(thing, self._page)}{self._describe_clip(thing, place)}'

    def _describe_clip(self, thing: Any, place: Matrix) -> str:
        """The box that a thing is clipped to, where it is."""
        clip = pdfium.FPDFPageObj_GetClipPath(thing)
        corners = []
        x, y = ctypes.c_float(), ctypes.c_float()
        for path in range(max(0, pdfium.FPDFClipPath_CountPaths(clip))):
            for index in range(pdfium.FPDFClipPath_CountPathSegments(clip, path)):
                pdfium.FPDFPathSegment_GetPoint(pdfium.FPDFClipPath_GetPathSegment(clip, path, index), x, y)
                corners.append(self._place((x.value, y.value), place))
        return f" clipped to {_describe_corners(corners, True, False)}" if corners else ""

    def _read_form(self, thing: Any, place: Matrix) -> Iterator[str]:
        matrix = chain(_read_matrix(thing), place)
        parts = [pdfium.FPDFFormObj_GetObject(thing, index) for index in range(pdfium.FPDFFormObj_CountObjects(thing))]
        # Told as if it lay on the page as it is drawn, so that one drawing is told once, wherever it lies.
        drawn = (line for part in parts for line in self._read_thing(part, (*UPRIGHT[:4], 0.0, 0.0)))
        lines = tuple(_list_lines(drawn))
        x, y = self._place((0.0, 0.0), matrix)
        known = self._drawn.setdefault(lines, len(self._drawn) + 1)
        turn = "" if matrix[:4] == UPRIGHT[:4] else f" by {' '.join(f'{value:.4f}' for value in matrix[:4])}"
        yield f"form {known} at {_join_numbers(x, y)}{turn}"
        if known == len(self._drawn):
            yield from (f" {line}" for line in lines)

    def _place(self, point: tuple[float, float], matrix: Matrix) -> tuple[float, float]:
        a, b, c, d, e, f = matrix
        x, y = point
        return (a * x + c * y + e) * POINT_MM, self._height - (b * x + d * y + f) * POINT_MM


def _describe_corners(corners: list[tuple[float, float]], closed: bool, curved: bool) -> str:
    if closed and len(corners) > 1 and math.dist(corners[0], corners[-1]) < 0.001:
        corners = corners[:-1]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    left, top = min(xs), min(ys)
    size = max(xs) - left, max(ys) - top
    if closed and len(corners) == 4 and _is_box(corners, left, top, *size):
        return f"box {_join_numbers(left, top, *size)}"
    if len(corners) <= _MOST_CORNERS and not curved:
        return f"{'shape' if closed else 'line'} {_join_numbers(*(value for corner in corners for value in corner))}"
    middle = sum(xs) / len(xs), sum(ys) / len(ys)
    kind = f"{'shape' if closed else 'line'}{' curved' if curved else ''}"
    # The place of each corner counts: the same corners in another order, or waves the other way, are another outline.
    placed = [sum(at * value for at, value in enumerate(values)) / len(values) for values in (xs, ys)]
    return f"{kind} {_join_numbers(left, top, *size)} of {len(corners)} middle {_join_numbers(*middle, *placed)}"


def _is_box(corners: list[tuple[float, float]], left: float, top: float, wide: float, high: float) -> bool:
    return all(min(x - left, left + wide - x) < 0.001 and min(y - top, top + high - y) < 0.001 for x, y in corners)


def _list_lines(things: Iterable[Drawn]) -> Iterator[str]:
    """Every thing as a line; words that go on are one, and so are the many lines of a ruler or a grid."""
    drawn = list(things)
    alike: dict[str, list[StraightLine]] = {}
    for thing in drawn:
        if isinstance(thing, StraightLine):
            alike.setdefault(thing.paint, []).append(thing)
    many = {paint: lines for paint, lines in alike.items() if len(lines) > _MOST_LINES}
    kept = [thing for thing in drawn if not (isinstance(thing, StraightLine) and thing.paint in many)]
    yield from map(_describe_many, many.values())
    held: Words | None = None
    for thing in kept:
        joined = held.join_next(thing) if held and isinstance(thing, Words) else None
        if held and not joined:
            yield held.describe_thing()
        held = joined or (thing if isinstance(thing, Words) else None)
        if not isinstance(thing, Words):
            yield thing if isinstance(thing, str) else thing.describe_thing()
    if held:
        yield held.describe_thing()


def _read_matrix(thing: Any) -> Matrix:
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFPageObj_GetMatrix(thing, matrix)
    return matrix.a, matrix.b, matrix.c, matrix.d, matrix.e, matrix.f


def _read_colour(read: Callable[..., Any], thing: Any) -> str:
    """A colour as three bytes or a grey from 0 to 1; nothing for black."""
    parts = [ctypes.c_uint() for _ in range(4)]
    read(thing, *parts)
    red, green, blue, alpha = (part.value for part in parts)
    colour = f"grey{format_number(red / 255)}" if red == green == blue else f"#{red:02x}{green:02x}{blue:02x}"
    colour = colour if alpha == 255 else f"{colour}/{alpha}"
    return "" if colour == "grey0" else colour


def _read_layer(thing: Any) -> str:
    for index in range(pdfium.FPDFPageObj_CountMarks(thing)):
        mark = pdfium.FPDFPageObj_GetMark(thing, index)
        length = ctypes.c_ulong()
        room = ctypes.create_string_buffer(400)
        if pdfium.FPDFPageObjMark_GetParamStringValue(
            mark, b"Name", ctypes.cast(room, ctypes.POINTER(pdfium.FPDF_WCHAR)), 400, length
        ):
            return room.raw[: max(0, length.value - 2)].decode("utf-16-le")
    return ""


def _describe_encoding(thing: Any, page: Any) -> str:
    """The filter of a picture's bytes, its colours, and the bits of a pixel."""
    room = ctypes.create_string_buffer(60)
    pdfium.FPDFImageObj_GetImageFilter(thing, 0, room, 60)
    facts = pdfium.FPDF_IMAGEOBJ_METADATA()
    pdfium.FPDFImageObj_GetImageMetadata(thing, page, facts)
    names = {value: name for name, value in vars(pdfium).items() if name.startswith("FPDF_COLORSPACE_")}
    space = names[facts.colorspace].removeprefix("FPDF_COLORSPACE_").lower()
    return f"{room.value.decode()} {space} {facts.bits_per_pixel}"


def _find_address(thing: Any) -> int:
    return ctypes.cast(thing, ctypes.c_void_p).value or 0


def _read_letters(text: Any) -> dict[int, str]:
    """The letters of a page by the thing that shows them, without what pdfium adds between words."""
    found: dict[int, list[str]] = {}
    for at in range(pdfium.FPDFText_CountChars(text)):
        if not pdfium.FPDFText_IsGenerated(text, at):
            letter = chr(pdfium.FPDFText_GetUnicode(text, at))
            found.setdefault(_find_address(pdfium.FPDFText_GetTextObject(text, at)), []).append(letter)
    # Letters beyond U+FFFF come in halves, as UTF-16 has them.
    return {
        thing: "".join(letters).encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")
        for thing, letters in found.items()
    }
