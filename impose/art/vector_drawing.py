"""A picture made of outlines: closed curves, exact at any size. It goes where a prepared picture goes.

Its unit stands in for the pixel: coordinates are whole numbers, and the ink bounds are measured in the same unit, so
that sizes, folds and panels are worked out as they are for pixels. A unit is no pixel, though: a drawing has no
resolution.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence

from impose.art.codec import best_codec
from impose.art.ink import PixelBox
from impose.art.output_profile import OutputProfile, make_conversion
from impose.art.prepare import PreparedPicture
from impose.values import FrozenStruct, replace

Contour = tuple[tuple[int, ...], ...]
"""A closed curve: its start (x, y), then lines to (x, y) and Bézier curves (two control points and the end)."""


class DrawingLayer(FrozenStruct):
    """What is painted at once, each part filled by the nonzero rule (ISO 32000-2, 8.5.3.3.2).

    `colour` is 8 bits a component, in the drawing's colour space. With `stroke` the outline is painted as well, that
    wide, its middle on the curve, its joins round. Contours of one part run the same way round; other parts may not.
    """

    parts: tuple[tuple[Contour, ...], ...]
    colour: tuple[int, ...]
    stroke: int = 0


class Drawing(PreparedPicture):
    """A picture of `layers`, one painted over the other: x to the right, y down, as worn, not mirrored.

    `ink` is what is shown of them and `canvas` what all of them take; a panel shows a part. `hull` holds every point of
    their curves, control points too, as readers of PDFs bound a path. `data` is empty.
    """

    layers: tuple[DrawingLayer, ...] = ()
    canvas: PixelBox = (0, 0, 0, 0)
    hull: PixelBox = (0, 0, 0, 0)


def make_drawing(
    layers: Sequence[DrawingLayer],
    bounds: PixelBox,
    mass: tuple[float, float],
    coverage: float,
    output: OutputProfile | None = None,
) -> Drawing:
    """A drawing of layers in sRGB numbers, untagged as they are, or brought into the output's profile."""
    content = json.dumps([[layer.colour, layer.stroke, layer.parts] for layer in layers], separators=(",", ":"))
    painted = tuple(layers) if output is None else tuple(_convert_layers(layers, output))
    return Drawing(
        sha256=hashlib.sha256(content.encode()).hexdigest(),
        width=bounds[2],
        height=bounds[3],
        ink=bounds,
        mass=mass,
        components=3 if output is None else output.components,
        icc=None if output is None else output.icc,
        data=b"",
        codec=best_codec().name,
        coverage=coverage,
        layers=painted,
        canvas=bounds,
        hull=_bound_layers(layers),
    )


def _bound_layers(layers: Iterable[DrawingLayer]) -> PixelBox:
    segments = [curve for layer in layers for part in layer.parts for contour in part for curve in contour]
    xs = [x for segment in segments for x in segment[0::2]]
    ys = [y for segment in segments for y in segment[1::2]]
    return min(xs), min(ys), max(xs), max(ys)


def _convert_layers(layers: Iterable[DrawingLayer], output: OutputProfile) -> Iterator[DrawingLayer]:
    """The layers in the printer's own colours, by the conversion that untagged pictures go through."""
    from PIL import Image

    conversion = make_conversion(None, False, output)
    for layer in layers:
        pixel = conversion(Image.new("RGB", (1, 1), layer.colour))
        yield replace(layer, colour=tuple(pixel.tobytes()))


def list_end_points(layers: Iterable[DrawingLayer]) -> Iterator[tuple[int, int]]:
    """The end points of all curves; where curves were cut at their extremes these hold the whole fill."""
    for layer in layers:
        for part in layer.parts:
            for contour in part:
                for segment in contour:
                    yield segment[-2], segment[-1]


def compute_drawing_bounds(layers: Iterable[DrawingLayer]) -> PixelBox | None:
    """The smallest box that holds all ink: the fills' ends and half a stroke around; None where there is nothing."""
    boxes = []
    for layer in layers:
        points = list(list_end_points([layer]))
        if points:
            xs, ys = [x for x, _ in points], [y for _, y in points]
            reach = -(-layer.stroke // 2)
            boxes.append((min(xs) - reach, min(ys) - reach, max(xs) + reach, max(ys) + reach))
    if not boxes:
        return None
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def is_blank(colour: Sequence[int]) -> bool:
    """Whether a colour is paper left as it is: white, and no ink of CMYK."""
    return all(level == (0 if len(colour) == 4 else 255) for level in colour)
