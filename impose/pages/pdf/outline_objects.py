"""Drawings in a PDF: each a form of filled and stroked curves, written once however often it is drawn.

A form is a content stream of its own (ISO 32000-2, 8.10). Its unit is a thousandth of the drawing's em, y up, its
origin the lower left corner of what is shown, mirrored already: it is placed as a picture is, by one matrix.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from impose.art.vector_drawing import Contour, Drawing, DrawingLayer, is_blank
from impose.pages.pdf.pdf_file import encode_number
from impose.units import POINTS_PER_MM, Box

_UNIT = 1000  # units of a drawing in one of the form: three decimals hold them all
_ROOM = 1  # around a whole drawing, so that no reader's rounding cuts its edge
_DEVICE = {1: "g", 3: "rg", 4: "k"}
_DEVICE_STROKE = {1: "G", 3: "RG", 4: "K"}

Matrix = tuple[float, float, float, float, float, float]


def write_form_keys(drawing: Drawing, space: str | None) -> str:
    """The dictionary of a drawing's form; `space` is the colour space of its numbers, None for the device's own.

    A whole drawing lies within its own bounds; of a panel the box cuts off what is another panel's.
    """
    left, top, right, bottom = drawing.ink
    room = _ROOM if drawing.ink == drawing.canvas else 0
    edges = (-room, -room, (right - left) / _UNIT + room, (bottom - top) / _UNIT + room)
    resources = "" if space is None else f"/ColorSpace<</C{space}>>"
    box = " ".join(encode_number(edge) for edge in edges)
    return f"/Type/XObject/Subtype/Form/BBox[{box}]/Resources<<{resources}>>"


def write_form_content(drawing: Drawing) -> bytes:
    """The curves of a drawing, layer by layer. Joins are round, so that a stroke reaches as far on every side."""
    _, _, right, bottom = drawing.ink

    def place(values: Sequence[int]) -> str:
        pairs = zip(values[0::2], values[1::2], strict=True)
        return " ".join(f"{_format_units(right - x)} {_format_units(bottom - y)}" for x, y in pairs)

    return "\n".join(line for layer in drawing.layers for line in _write_layer(layer, drawing, place)).encode("ascii")


def _write_layer(layer: DrawingLayer, drawing: Drawing, place: Callable[[Sequence[int]], str]) -> Iterator[str]:
    yield _write_colour(layer.colour, drawing.icc is not None, stroked=bool(layer.stroke))
    if layer.stroke:
        yield f"{_format_units(layer.stroke)} w 1 j 1 J"
    for part in layer.parts:
        yield from (_write_path(contour, place) for contour in part)
        yield "B" if layer.stroke else "f"


def _write_path(contour: Contour, place: Callable[[Sequence[int]], str]) -> str:
    start, *rest = contour
    parts = [f"{place(start)} m", *(f"{place(segment)} {'l' if len(segment) == 2 else 'c'}" for segment in rest), "h"]
    return " ".join(parts)


def _write_colour(colour: Sequence[int], profiled: bool, stroked: bool) -> str:
    """The operators that choose a colour, for strokes too where there are any.

    Paper left blank is said in the device's own numbers: through a profile's tables a reader can miss white by a level.
    """
    values = " ".join(encode_number(level / 255) for level in colour)
    if profiled and not is_blank(colour):
        return f"/C cs {values} sc" + (f" /C CS {values} SC" if stroked else "")
    count = len(colour)
    return f"{values} {_DEVICE[count]}" + (f" {values} {_DEVICE_STROKE[count]}" if stroked else "")


def _format_units(units: int) -> str:
    """Thousandths, written as short as they are."""
    whole, part = divmod(abs(units), _UNIT)
    text = f"{whole}.{part:03}".rstrip("0").rstrip(".")
    return f"-{text}" if units < 0 and text != "0" else text


def compute_form_matrix(drawing: Drawing, box: Box, page_height_mm: float, turned: int) -> Matrix:
    """The matrix that draws a form so that its ink fills `box` (millimetres, origin top left), turned by 0 or 90."""
    wide, high = ((drawing.ink[i + 2] - drawing.ink[i]) / _UNIT for i in (0, 1))
    left, bottom = box.x * POINTS_PER_MM, (page_height_mm - box.bottom) * POINTS_PER_MM
    w, h = box.w * POINTS_PER_MM, box.h * POINTS_PER_MM
    if turned:
        return 0.0, -h / wide, w / high, 0.0, left, bottom + h
    return w / wide, 0.0, 0.0, h / high, left, bottom


def fill_box(drawing: Drawing, box: Box, turned: int) -> Box:
    """Where a reader finds all of a drawing's fills, in millimetres: by the box of every point of its curves.

    What a panel cuts off counts as well.
    """
    left, top, right, bottom = drawing.ink
    across, down = (box.h, box.w) if turned else (box.w, box.h)
    sx, sy = across / (right - left), down / (bottom - top)
    a, b, c, d = drawing.hull
    x, y, w, h = (right - c) * sx, (b - top) * sy, (c - a) * sx, (d - b) * sy  # as printed, upright
    return Box(box.x + box.w - y - h, box.y + x, h, w) if turned else Box(box.x + x, box.y + y, w, h)
