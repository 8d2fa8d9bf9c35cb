"""A drawing as pixels, for what is counted or looked at small: ink, centre of mass, strokes and gaps, proofs.

Fills are exact: the share of each pixel that the outline covers is summed up from the edges that cross it, and a hole
takes away what its letter adds. What is printed is never made of these.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from impose.art.vector_drawing import Contour, Drawing, DrawingLayer
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]

_MODES = {1: "L", 3: "RGB", 4: "CMYK"}
_PIECES = 1.0  # straight lines for a curve, times the root of its length in pixels: off a quarter circle a fifth of one
_FINER = 2  # strokes are drawn so many times as large and averaged


class PixelGrid(FrozenStruct):
    """Pixels laid over a drawing: so many, each `step` units wide, the first at `left`, `top`."""

    width: int
    height: int
    step: float
    left: int
    top: int


def find_pixel_grid(box: tuple[int, int, int, int], step: float) -> PixelGrid:
    """The pixels that hold a box."""
    left, top, right, bottom = box
    return PixelGrid(
        max(1, math.ceil((right - left) / step)), max(1, math.ceil((bottom - top) / step)), step, left, top
    )


def rasterise_picture(drawing: Drawing, side: int) -> Image.Image:
    """What is shown of the drawing, mirrored as on paper, `side` pixels long, in its own colours."""
    from PIL import Image
    from PIL.Image import Transpose

    left, top, right, bottom = drawing.ink
    grid = find_pixel_grid(drawing.ink, max(right - left, bottom - top) / side)
    mode = _MODES[drawing.components]
    blank: Any = (0,) * 4 if mode == "CMYK" else (255,) * drawing.components
    image = Image.new(mode, (grid.width, grid.height), blank if len(blank) > 1 else blank[0])
    for layer in drawing.layers:
        colour: Any = layer.colour if len(layer.colour) > 1 else layer.colour[0]
        image.paste(colour, mask=Image.fromarray(measure_coverage(layer, grid)))
    return image.transpose(Transpose.FLIP_LEFT_RIGHT)


def measure_coverage(layer: DrawingLayer, grid: PixelGrid) -> Array:
    """How much of each pixel a layer covers, from 0 to 255."""
    import numpy as np

    if layer.stroke:
        return _widen_fill(layer, grid)
    total = np.zeros((grid.height, grid.width), np.uint8)
    for part in layer.parts:
        share = np.minimum(np.abs(_sum_signed_area(_flatten_curves(part, grid), grid)), 1.0)
        np.maximum(total, np.rint(share * 255).astype(np.uint8), out=total)
    return total


def _widen_fill(layer: DrawingLayer, grid: PixelGrid) -> Array:
    """The fill and a stroke around it: the fill moved round a circle, on a finer grid.

    The inner circles hold what is smaller than the stroke is wide.
    """
    import numpy as np
    from PIL import Image

    radius = layer.stroke / 2 / grid.step * _FINER
    edge = math.ceil(radius)
    # Whole fine pixels are added all round, so that what lies outside the grid widens into it.
    border = math.ceil(edge / _FINER) * _FINER
    step = grid.step / _FINER
    wide, high = grid.width * _FINER, grid.height * _FINER
    left, top = round(grid.left - border * step), round(grid.top - border * step)
    fill = measure_coverage(
        DrawingLayer(layer.parts, layer.colour), PixelGrid(wide + 2 * border, high + 2 * border, step, left, top)
    )
    total = np.zeros((high, wide), np.uint8)
    for dx, dy in _list_offsets(radius):
        x, y = border + dx, border + dy
        np.maximum(total, fill[y : y + high, x : x + wide], out=total)
    return np.asarray(Image.fromarray(total).reduce(_FINER))


def _list_offsets(radius: float) -> list[tuple[int, int]]:
    """Where the fill is drawn to widen it: in place, and on circles so close that nothing falls between."""
    found = {(0, 0)}
    for away in (radius, radius * 2 / 3, radius / 3):
        steps = max(8, math.ceil(2 * math.pi * away / 1.5))
        for step in range(steps):
            angle = 2 * math.pi * step / steps
            found.add((round(away * math.cos(angle)), round(away * math.sin(angle))))
    return sorted(found)


def _flatten_curves(part: Sequence[Contour], grid: PixelGrid) -> list[Array]:
    """The contours of a part as closed rows of points, in pixels."""
    import numpy as np

    curves: list[tuple[int, ...]] = []
    counts: list[int] = []
    for contour in part:
        x, y = contour[0]
        for segment in (*contour[1:], contour[0]):
            curves.append((x, y, *segment) if len(segment) == 6 else (x, y, x, y, *segment, *segment))
            counts.append(len(segment) == 6)
            x, y = segment[-2:]
    points = (np.array(curves, float).reshape(-1, 4, 2) - (grid.left, grid.top)) / grid.step
    long = np.hypot(*np.moveaxis(np.diff(points, axis=1), 2, 0)).sum(axis=1)
    most = np.where(np.array(counts, bool), np.clip(np.ceil(np.sqrt(long) * _PIECES), 2, 64), 1)
    pieces = most.astype(np.intp)
    owner = np.repeat(np.arange(len(pieces)), pieces)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces) + 1
    t = (rank / pieces[owner])[:, None]
    a, b, c, d = np.moveaxis(points[owner], 1, 0)
    along = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
    found, at, first = [], 0, 0
    for contour in part:
        size = int(pieces[first : first + len(contour)].sum())
        found.append(np.concatenate([points[first : first + 1, 0], along[at : at + size]]))
        at, first = at + size, first + len(contour)
    return found


def _sum_signed_area(lines: Iterable[Array], grid: PixelGrid) -> Array:
    """The signed area that closed lines cover of each pixel: their edges' shares, summed along the rows."""
    import numpy as np

    x0, y0, x1, y1 = np.concatenate([np.zeros((4, 0)), *[_split_into_pixels(line, grid) for line in lines]], axis=1)
    across = grid.width + 2
    middle = (x0 + x1) / 2
    row = np.clip(np.floor((y0 + y1) / 2), 0, grid.height - 1)
    column = np.clip(np.floor(middle), 0, grid.width)
    right = np.clip(middle - column, 0.0, 1.0)  # the share of its own pixel that lies left of the edge
    at, size, rise = (row * across + column).astype(np.intp), grid.height * across, y1 - y0
    sums = np.bincount(at, rise * (1 - right), size) + np.bincount(at + 1, rise * right, size)
    total: Array = np.cumsum(sums[:size].reshape(grid.height, across), axis=1)[:, : grid.width]
    return total


def _split_into_pixels(line: Array, grid: PixelGrid) -> Array:
    """The edges of a closed line cut where they leave a row or a column, as x0, y0, x1, y1."""
    import numpy as np

    for axis in (1, 0):
        line = _split_at_pixels(line, axis)
    x0, y0, x1, y1 = np.concatenate([line[:-1].T, line[1:].T])
    here = (y0 + y1 > 0) & (y0 + y1 < 2 * grid.height)
    # What lies left of the first pixel covers all of the row, what lies right of the last nothing of it.
    held: Array = np.stack([np.clip(x0, 0.0, grid.width), y0, np.clip(x1, 0.0, grid.width), y1])[:, here]
    return held


def _split_at_pixels(line: Array, axis: int) -> Array:
    """A line with a point added wherever it crosses a whole number along an axis."""
    import numpy as np

    start, end = line[:-1, axis], line[1:, axis]
    low, high = np.minimum(start, end), np.maximum(start, end)
    first = np.floor(low) + 1
    counts = np.maximum(0, np.ceil(high) - first).astype(np.intp)
    owner = np.repeat(np.arange(len(counts)), counts)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (first[owner] + rank - start[owner]) / (end[owner] - start[owner])
    keys = np.concatenate([np.arange(len(line), dtype=float), owner + share])
    added = line[owner] + share[:, None] * (line[owner + 1] - line[owner])
    added[:, axis] = first[owner] + rank
    points: Array = np.concatenate([line, added])[np.argsort(keys, kind="stable")]
    return points


def measure_weight(layers: Sequence[DrawingLayer], grid: PixelGrid) -> tuple[tuple[float, float], float, Array]:
    """Of layers in RGB the centre of mass in units, the dark area in square units, and how dark each pixel is."""
    import numpy as np

    dark = np.zeros((grid.height, grid.width))
    for layer in layers:
        weight = sum(255 - level for level in layer.colour) / 765
        share = measure_coverage(layer, grid) / 255
        dark = dark * (1 - share) + weight * share
    total = float(dark.sum())
    if total <= 0:
        return (0.0, 0.0), 0.0, dark
    x = float((dark.sum(axis=0) * (np.arange(grid.width) + 0.5)).sum()) / total
    y = float((dark.sum(axis=1) * (np.arange(grid.height) + 0.5)).sum()) / total
    return (grid.left + x * grid.step, grid.top + y * grid.step), total * grid.step**2, dark
