"""A print too large for every paper in several panels: how it is parted, where they join, which is pressed first.

Panels are nearly equal, overlap a little and carry the same folds as the whole where they hold them. They are cut along
the middle of the overlap and butted: a seam shows, however well it is laid, which is why a print is parted only when
asked.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from impose.art.ink import PixelBox
from impose.profiles.placement import TIGHT, split_tear
from impose.sheet.margins import PrintArea, SizeRequest, TearMargins, fits_paper
from impose.units import Box
from impose.values import FrozenStruct, replace

OFF_CENTRE = (0.1, 0.05, 0.0)
"""How far from the middle a seam is laid, as shares of the whole, the first that the papers take: faces and words
stand in the middle (common practice, no source)."""

MOST = 4
"""Panels along one axis: more seams than that are no picture any more (common practice, no source)."""


class Panel(FrozenStruct):
    """One panel of a print: its number as worn, from the left and the top, of how many; `press` is its turn.

    `box` is its place in the whole as worn, in mm from the whole's top left corner; `whole` the whole's size. `joins`
    are the lines it is laid to its neighbours by, in mm from the panel's own top left corner as worn: ("x", 120.0) is
    upright. They run in the middle of the overlaps. `overlap_mm` is what neighbours share, at the least: what was asked
    for, rounded up to whole pixels.
    """

    number: int
    of: int
    press: int
    box: Box
    whole: tuple[float, float]
    overlap_mm: float
    joins: tuple[tuple[str, float], ...]

    @property
    def describe(self) -> str:
        """What the label says after the id."""
        return f"panel {self.number}/{self.of}"


class PanelSplit(FrozenStruct):
    """One panel to be made: its pixels on the canvas, what its margin is chosen by, and what it is of the whole."""

    ink: PixelBox
    wanted: SizeRequest
    panel: Panel


def split_into_panels(
    wanted: SizeRequest, ink: PixelBox, areas: Sequence[PrintArea], overlap_mm: float
) -> list[PanelSplit] | None:
    """The fewest panels that the offered papers take, with the shortest seams; None where `MOST` a side do not do."""
    ways = sorted(
        ((nx, ny) for nx in range(1, MOST + 1) for ny in range(1, MOST + 1) if nx * ny > 1),
        key=lambda way: (way[0] * way[1], (way[0] - 1) * wanted.ink_h_mm + (way[1] - 1) * wanted.ink_w_mm),
    )
    tight = split_tear(min(wanted.tear.total_mm, TIGHT.total_mm))
    for nx, ny in ways:
        for off in OFF_CENTRE:
            panels = _make_panels(wanted, ink, nx, ny, overlap_mm, off)
            if panels and all(
                any(fits_paper(panel.wanted, TearMargins.make_even(tight), area, tight.slack_mm) for area in areas)
                for panel in panels
            ):
                return panels
    return None


def _make_panels(
    wanted: SizeRequest, ink: PixelBox, nx: int, ny: int, overlap_mm: float, off: float
) -> list[PanelSplit]:
    """The panels of one way to part the print; none where they would be thinner than their overlap."""
    left, top, right, bottom = ink
    across, down = wanted.ink_w_mm / (right - left), wanted.ink_h_mm / (bottom - top)
    over_x, over_y = (
        _share_pixels(overlap_mm / across, right - left, nx),
        _share_pixels(overlap_mm / down, bottom - top, ny),
    )
    columns, rows = _choose_cuts(left, right, nx, over_x), _choose_cuts(top, bottom, ny, over_y)
    if not columns or not rows:
        return []
    given = min(mm for mm, count in ((over_x * across, nx), (over_y * down, ny)) if count > 1)
    columns, rows = _move_off_centre(columns, off), _move_off_centre(rows, off)
    boxes = [(a, b, c, d) for b, d in rows for a, c in columns]
    whole = (wanted.ink_w_mm, wanted.ink_h_mm)
    places = [Box((a - left) * across, (b - top) * down, (c - a) * across, (d - b) * down) for a, b, c, d in boxes]
    turns = _pressing_order(places, whole)
    lines_x, lines_y = _find_joins(columns, left, across), _find_joins(rows, top, down)
    made = []
    for number, (pixels, place, turn) in enumerate(zip(boxes, places, turns, strict=True), 1):
        joins = [*_box_within("x", lines_x, place.x, place.w), *_box_within("y", lines_y, place.y, place.h)]
        panel = Panel(number, len(boxes), turn, place, whole, given, tuple(joins))
        made.append(PanelSplit(pixels, replace(wanted, ink_w_mm=place.w, ink_h_mm=place.h), panel))
    return made


def _share_pixels(asked: float, length: int, count: int) -> int:
    """The pixels that neighbours share: those asked for, rounded up, and what makes all panels of one size.

    Unequal ones would join a pixel beside the fold of the whole, and ticks so close together mislead the hand.
    """
    least = math.ceil(asked - 1e-6)
    return least + (length - least) % count if least else 0


def _choose_cuts(start: int, end: int, count: int, overlap: int) -> list[tuple[int, int]]:
    """The pixel spans of panels along one axis, each sharing `overlap` with the next.

    They are of one size but where they share nothing.
    """
    step = (end - start - overlap) / count
    starts = [start + round(i * step) for i in range(count)]
    spans = [*((a, b + overlap) for a, b in pairwise(starts)), (starts[-1], end)]
    return spans if count == 1 or step > overlap + 2 else []


def _move_off_centre(spans: list[tuple[int, int]], share: float) -> list[tuple[int, int]]:
    """The seams moved by a share of the whole, where one runs through its middle; the first panel grows."""
    if len(spans) % 2:
        return spans
    by, last = round((spans[-1][1] - spans[0][0]) * share), len(spans) - 1
    moved = [(a + by * (i > 0), b + by * (i < last)) for i, (a, b) in enumerate(spans)]
    return moved if moved[-1][1] - moved[-1][0] > 2 * by + 2 else spans


def _find_joins(spans: Sequence[tuple[int, int]], start: int, step: float) -> list[float]:
    """The middles of the overlaps, in mm of the whole."""
    return [((before[1] + after[0]) / 2 - start) * step for before, after in pairwise(spans)]


def _box_within(axis: str, lines: Sequence[float], start: float, size: float) -> Iterator[tuple[str, float]]:
    for line in lines:
        if start <= line <= start + size:
            yield axis, line - start


def _pressing_order(places: Sequence[Box], whole: tuple[float, float]) -> list[int]:
    """The turn of each panel: from the middle of the whole outwards, so that errors do not add up across it."""

    def away(index: int) -> tuple[float, int]:
        x, y = places[index].centre
        return round(abs(x - whole[0] / 2) + abs(y - whole[1] / 2), 3), index

    order = sorted(range(len(places)), key=away)
    return [order.index(index) + 1 for index in range(len(places))]
