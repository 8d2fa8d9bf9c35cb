"""Words set by us: shaped text to a drawing, straight or bent along an arc, with or without an outline.

HarfBuzz shapes the text and reads the font's outlines, which are taken as they are: a drawing of words is exact at any
size. It is made once for the same words in the same style; how large it prints is worked out beside it.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence

from impose.art.cielab import parse_hex
from impose.art.faults.inspect import PictureFacts
from impose.art.faults.thin import ThinPart, find_thin_parts
from impose.art.ink import count_tint_levels
from impose.art.output_profile import OutputProfile
from impose.art.rasterise import find_pixel_grid, measure_weight
from impose.art.vector_drawing import Contour, Drawing, DrawingLayer, compute_drawing_bounds, make_drawing
from impose.profiles.word_styles import WordStyle
from impose.type import outlines
from impose.type.lettering import GlyphRun, ShapedLine, TextShaper
from impose.type.shaping import INVISIBLE
from impose.type.shaping import Contour as Curves
from impose.values import FrozenStruct, replace

UNITS = 1_000_000
"""Units of a drawing of words in one em: a third of a micrometre where capitals are 200 mm high."""

COLOURED = frozenset({"COLR", "SVG ", "CBDT", "sbix"})
"""Tables of fonts that bring colours of their own (OpenType 1.9.1)."""

_LEADING = 1.2
_LOOK_PX = 256  # pixels to the em to look at: a stroke of 0.5 mm is two in capitals of 38 mm, and nine in 9 mm
_MOST_PIXELS = 150_000  # of a long line or a wide arc: it prints so large that it is looked at less closely
_STRIDE = 8


class NoOutline(ValueError):
    """Characters that the typeface has, but as pictures: `text`."""

    def __init__(self, text: str) -> None:
        self.text = text
        super().__init__(f"no outline for {text}")


class WordSize(FrozenStruct):
    """The room for the words: greatest ink width and height in mm, None where there is no limit.

    With `fill` they are made as large as that; else the letters have the style's height, and the room only limits it.
    """

    width_mm: float | None
    height_mm: float | None
    fill: bool


class FittedWords(FrozenStruct):
    """How large words come out, in mm: their ink, and their letters, measured as the style's height is."""

    width_mm: float
    height_mm: float
    letters_mm: float


def draw_words(
    lines: Sequence[str],
    style: WordStyle,
    lettering: TextShaper,
    tint: float = 0.02,
    output: OutputProfile | None = None,
) -> Drawing:
    """The words in outlines, trimmed to what shows of them; `tint` is the least share of colour that counts as ink.

    `lines` are set one below the other, centred. Raises `NoOutline`, and `ValueError` where nothing can be seen.
    """
    parts = list(_make_parts([lettering.shape_line((line,)) for line in lines], style, lettering))
    stroke = 2 * round(style.outline_width * measure_capitals(lettering) * UNITS)
    layers = [DrawingLayer(_round_parts(parts, 0, 0), parse_hex(style.colour))]
    if style.outline:
        layers.insert(0, DrawingLayer(layers[0].parts, parse_hex(style.outline), stroke))
    shown = _list_visible(layers, tint)
    bounds = compute_drawing_bounds([layer for layer in shown if _is_printed(layer, tint)])
    if bounds is None:
        raise ValueError("no ink in these words")
    left, top, right, bottom = bounds
    home = _round_parts(parts, -left, -top)
    shown = [replace(layer, parts=home) for layer in shown]
    box = (0, 0, right - left, bottom - top)
    mass, dark, facts = _inspect_layers(shown, box)
    return replace(make_drawing(shown, box, mass, dark / (box[2] * box[3]), output), facts=facts)


def fit_words(drawing: Drawing, style: WordStyle, size: WordSize, lettering: TextShaper) -> FittedWords:
    """How large a drawing of words prints in its room."""
    wide, high = (drawing.ink[2] - drawing.ink[0]) / UNITS, (drawing.ink[3] - drawing.ink[1]) / UNITS
    limits = [mm / em for mm, em in ((size.width_mm, wide), (size.height_mm, high)) if mm is not None]
    capital = measure_capitals(lettering)
    em_mm = min(limits) if size.fill else min([style.letter_height_mm / capital, *limits])
    return FittedWords(wide * em_mm, high * em_mm, capital * em_mm)


def measure_capitals(lettering: TextShaper) -> float:
    """The height of the typeface's capitals in em; of its tallest letters where it has no Latin ones."""
    return lettering.primary.shape_run("H", False, "Latn").top or lettering.primary.ascent or 0.7


def _is_printed(layer: DrawingLayer, tint: float) -> bool:
    return 255 - min(layer.colour) >= count_tint_levels(tint)


def _list_visible(layers: Sequence[DrawingLayer], tint: float) -> list[DrawingLayer]:
    """The layers from the first that prints on: paper left white shows only where it covers ink."""
    first = next((index for index, layer in enumerate(layers) if _is_printed(layer, tint)), len(layers))
    return list(layers[first:])


def _make_parts(lines: Sequence[ShapedLine], style: WordStyle, lettering: TextShaper) -> Iterator[tuple[Curves, ...]]:
    """The letters' curves in em, y up, the first baseline at 0, the middle at 0: a part for each typeface.

    Fonts do not agree which way round an outline runs, so that letters of two must not be filled as one.
    """
    leading = _LEADING * max(line.ascent + line.descent for line in lines)
    run = max(line.width for line in lines)
    made: dict[str, list[Curves]] = {}
    for number, line in enumerate(lines):
        x = -line.width / 2
        for shaped in line.runs:
            made.setdefault(shaped.face, []).extend(_place_run(shaped, x, -leading * number, lettering))
            x += sum(glyph.advance for glyph in shaped.glyphs)
    for curves in made.values():
        if style.arc and run > 0:
            angle = math.radians(style.arc)
            curves = list(outlines.bend_contours(curves, outlines.make_arc(angle, run), run / abs(angle)))
        yield tuple(outlines.cut_at_extremes(contour) for contour in curves)


def _place_run(run: GlyphRun, x: float, y: float, lettering: TextShaper) -> Iterator[Curves]:
    face = lettering.open_face(run.face)
    scale = 1 / face.units_per_em
    blank = _list_blank(run, {glyph.gid: face.read_outline(glyph.gid) for glyph in run.glyphs})
    if blank:
        raise NoOutline(blank)
    for glyph in run.glyphs:
        yield from outlines.move_contours(face.read_outline(glyph.gid), scale, x + glyph.dx, y + glyph.dy)
        x += glyph.advance


def _list_blank(run: GlyphRun, drawn: Mapping[int, Sequence[object]]) -> str:
    """What of a run should show and has no outline: coloured pictures of letters are kept elsewhere in a font."""
    found, text, shows = "", "", False
    for glyph in run.glyphs:
        if glyph.text:
            found += "" if shows else _is_seen(text)
            text, shows = glyph.text, False
        shows = shows or bool(drawn[glyph.gid])
    return found + ("" if shows else _is_seen(text))


def _is_seen(text: str) -> str:
    return "".join(c for c in text if unicodedata.category(c)[0] not in "ZC" and c not in INVISIBLE)


def _round_parts(parts: Iterable[Iterable[Curves]], x: int, y: int) -> tuple[tuple[Contour, ...], ...]:
    """The parts in units, y down, moved by `x`, `y`."""
    signs = (UNITS, -UNITS) * 3
    shift = (x, y) * 3
    return tuple(
        tuple(
            tuple(
                [
                    tuple([round(v * sign) + by for v, sign, by in zip(segment, signs, shift, strict=False)])
                    for segment in contour
                ]
            )
            for contour in part
        )
        for part in parts
    )


def _inspect_layers(
    layers: Sequence[DrawingLayer], box: tuple[int, int, int, int]
) -> tuple[tuple[float, float], float, PictureFacts]:
    """Centre of mass and dark area in units, and the strokes and gaps that may be too thin where they print small."""
    import numpy as np

    step = max(UNITS / _LOOK_PX, (box[2] * box[3] / _MOST_PIXELS) ** 0.5)
    mass, area, dark = measure_weight(layers, find_pixel_grid(box, step))
    weights = [weight for layer in layers if (weight := sum(255 - level for level in layer.colour) / 765) > 0]
    solid = dark > min(weights) / 2
    high, wide = solid.shape
    clear = np.zeros((-(-high // _STRIDE), -(-wide // _STRIDE)), np.bool_)
    strokes, gaps = find_thin_parts(solid, clear, 1, _STRIDE, (0, 0, wide, high))
    return mass, area, PictureFacts(_convert_to_units(strokes, step, box), _convert_to_units(gaps, step, box))


def _convert_to_units(parts: Sequence[ThinPart], step: float, box: tuple[int, int, int, int]) -> tuple[ThinPart, ...]:
    return tuple(
        ThinPart(
            round(part.width * step),
            round(part.length * step),
            (
                round(part.box[0] * step),
                round(part.box[1] * step),
                min(round(part.box[2] * step), box[2]),
                min(round(part.box[3] * step), box[3]),
            ),
        )
        for part in parts
    )
