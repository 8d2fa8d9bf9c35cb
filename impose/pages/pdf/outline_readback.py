"""The outlines of a written file read again: where the library finds them, and whether they are the ones meant."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, cast

from impose.art.vector_drawing import Drawing
from impose.pages.pdf.outline_objects import compute_form_matrix, fill_box, write_form_content
from impose.profiles.profiles import Printer
from impose.sheet.layout import PlacedSwatch, PlacedTransfer, SheetLayout
from impose.units import POINTS_PER_MM

TOLERANCE_PT = 0.01  # 3.5 micrometres
LAYER = "Artwork"


class PathsRead:
    """What a page fills in its layer of artwork, in order, as the library renders it; nothing of no page."""

    def __init__(self, page: Any) -> None:
        every = [] if page is None else page.get_cdrawings()
        self._left = [path for path in every if path.get("layer") == LAYER and "f" in path["type"]]
        self._left.reverse()

    def take_paths(self, count: int) -> list[dict[str, Any]]:
        """The next `count` paths, or as many as there are."""
        return [self._left.pop() for _ in range(min(count, len(self._left)))]

    @property
    def all_read(self) -> bool:
        """Whether every path has been taken."""
        return not self._left


def find_drawing_faults(
    document: Any,
    xref: int,
    paths: PathsRead,
    placed: PlacedTransfer | PlacedSwatch,
    sheet: SheetLayout,
    printer: Printer,
    same: dict[tuple[int, int], bool],
) -> Iterator[str]:
    """Whatever of a drawing on a page is not as laid out: its curves, their place, mirroring and turn."""
    name, drawing = placed.name, cast("Drawing", placed.picture)
    # A drawing is drawn as often as it is ordered, and its curves need comparing once.
    key = (xref, id(drawing))
    if key not in same:
        same[key] = xref > 0 and document.xref_stream(xref) == write_form_content(drawing)
    if not same[key]:
        yield f"{name} on sheet {sheet.number} shows another picture"
        return
    parts = [part for layer in drawing.layers for part in layer.parts]
    found = paths.take_paths(len(parts))
    if len(found) != len(parts):
        yield f"{name} on sheet {sheet.number} shows {len(found)} outlines instead of {len(parts)}"
        return
    yield from _find_misplaced(found, placed, sheet, printer)
    starts = [path["items"][0][1] for path in found]
    matrix = compute_form_matrix(drawing, placed.ink, sheet.height_mm, placed.turned)
    for start, part in zip(starts, parts, strict=True):
        if _lie_apart(start, _convert_to_page(part[0][0], drawing, matrix, sheet, printer)):
            yield f"{name} on sheet {sheet.number} is not turned by {placed.turned} degrees"
            return


def _find_misplaced(
    found: list[dict[str, Any]], placed: PlacedTransfer | PlacedSwatch, sheet: SheetLayout, printer: Printer
) -> Iterator[str]:
    rects = list(zip(*(path["rect"] for path in found), strict=True))
    got = (min(rects[0]), min(rects[1]), max(rects[2]), max(rects[3]))
    box = fill_box(cast("Drawing", placed.picture), placed.ink, placed.turned)
    scales = (printer.scale_x, printer.scale_y) * 2
    want = tuple(
        value * POINTS_PER_MM / scale
        for value, scale in zip((box.x, box.y, box.right, box.bottom), scales, strict=True)
    )
    if _lie_apart(got, want):
        yield f"{placed.name} on sheet {sheet.number} lies at {got} pt instead of {want}"


def _convert_to_page(
    point: tuple[int, ...], drawing: Drawing, matrix: tuple[float, ...], sheet: SheetLayout, printer: Printer
) -> tuple[float, float]:
    """A point of a drawing in points from the page's top left corner, the printer's scale undone."""
    a, b, c, d, e, f = matrix
    x, y = (drawing.ink[2] - point[0]) / 1000, (drawing.ink[3] - point[1]) / 1000
    right, up = a * x + c * y + e, b * x + d * y + f
    return right / printer.scale_x, (sheet.height_mm * POINTS_PER_MM - up) / printer.scale_y


def _lie_apart(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return any(abs(coordinate - other) > TOLERANCE_PT for coordinate, other in zip(a, b, strict=True))
