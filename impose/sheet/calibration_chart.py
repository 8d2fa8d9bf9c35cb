"""The calibration page in numbers: where rulers, edge scales and the grid lie on a paper, and what readings of it mean.

A printer is measured as it is: nothing on this page is corrected. Coordinates are millimetres from the sheet's top left
corner. A scale is the length printed over the length asked for.
"""

from __future__ import annotations

import math
from typing import Literal

from impose.profiles.paper import Paper, Printer
from impose.units import Box
from impose.values import FrozenStruct

Side = Literal["left", "top", "right", "bottom"]
SIDES: tuple[Side, ...] = ("left", "top", "right", "bottom")

LONGEST_MM = 200.0
"""On 200 mm a reading error of 0.4 mm is 0.2 %; a longer ruler is seldom at hand (common practice, no source)."""

READ_TO_MM = 0.4
"""How well a printed line is read against a steel rule: a published guide to measuring prints gives 0.4 mm."""

STEP_MM = 0.5
"""From one step of an edge scale to the next."""

LEAST_SIDE_MM = 100.0
_REACH = {"left": 15.0, "top": 20.0, "right": 15.0, "bottom": 25.0}
_DEEP_MM = 31.0  # an edge scale with its figures
_ROLL_CUT_MM = 300.0
_CLEAR_MM = 0.5  # between a ruler's end and where the printer is said to stop


class EdgeScale(FrozenStruct):
    """An edge scale: steps `STEP_MM` apart, from the paper's edge inwards, each beside the one before.

    `start` is where the first step begins along the edge, `tread` how long each step is.
    """

    side: Side
    start: float
    tread: float
    steps: int


class CalibrationChart(FrozenStruct):
    """Everything on the page: rulers by their first point and length, edge scales, the square grid, room for words."""

    width: float
    height: float
    across_x: float
    across_y: float
    across_mm: float
    along_x: float
    along_y: float
    along_mm: float
    stairs: tuple[EdgeScale, ...]
    room: Box


def make_chart(paper: Paper, printer: Printer) -> CalibrationChart | None:
    """The page for a paper, its rulers within what the printer is said to print; None where the paper is too small."""
    width, height = paper.width_mm, paper.height_mm or min(_ROLL_CUT_MM, paper.max_length_mm or _ROLL_CUT_MM)
    if min(width, height) < LEAST_SIDE_MM:
        return None
    left, right = printer.left_mm + _CLEAR_MM, width - printer.right_mm - _CLEAR_MM
    top, bottom = printer.top_mm + _CLEAR_MM, height - printer.bottom_mm - _CLEAR_MM
    across, along = _longest_ruler(right - left), _longest_ruler(bottom - top)
    if across <= 0 or along <= 0:
        return None
    stairs = tuple(_make_edge_scale(side, height if side in ("left", "right") else width) for side in SIDES)
    upper = _DEEP_MM + 6
    beside = _DEEP_MM - 5
    room = Box(beside + 14, upper + 12, width - 2 * beside - 14, height - upper - 12 - _DEEP_MM)
    across_x, along_y = (left + right - across) / 2, (top + bottom - along) / 2
    return CalibrationChart(width, height, across_x, upper, across, beside + 4, along_y, along, stairs, room)


def _longest_ruler(room: float) -> float:
    """Whole tens of millimetres, at most 200."""
    return min(LONGEST_MM, math.floor((room + 1e-6) / 10) * 10.0)


def _make_edge_scale(side: Side, edge: float) -> EdgeScale:
    steps = round(_REACH[side] / STEP_MM) + 1
    tread = min(2.0, (edge - 2 * _DEEP_MM) / steps)
    start = (edge - steps * tread) / 2
    if side in ("left", "right"):  # below the ruler that runs across
        start = max(start, _DEEP_MM + 16)
        tread = min(tread, (edge - _DEEP_MM - start) / steps)
    return EdgeScale(side, start, tread, steps)


class ScaleReading(FrozenStruct):
    """One scale read off: the length that was printed for `asked` mm, how sure it is, and what it does to a print."""

    asked: float
    read: float
    error: float = READ_TO_MM

    @property
    def scale(self) -> float:
        """What the printer makes of a length, rounded to what the reading can tell and one figure more."""
        return round(self.read / self.asked, 4)

    @property
    def uncertainty(self) -> float:
        """How far the scale may be off, as a share."""
        return self.error / self.asked

    @property
    def is_significant(self) -> bool:
        """Whether the reading differs from true by more than it may be off."""
        return abs(self.read / self.asked - 1) > self.uncertainty


def measure_skew(rising: float, falling: float, side: float) -> float:
    """Degrees by which the axes of a printed square are not square, from its two diagonals.

    The diagonals of a parallelogram of sides a, b that lean by δ satisfy d₁² − d₂² = 4ab sin δ.
    """
    return math.degrees(math.asin(max(-1.0, min(1.0, (rising**2 - falling**2) / (4 * side**2)))))


def measure_turn(upper: float, lower: float, side: float) -> float:
    """Degrees by which the sheet was fed turned, from how far the grid's left side is from the paper's edge."""
    return math.degrees(math.atan2(lower - upper, side))


def choose_grid_side(chart: CalibrationChart, words_mm: float) -> float:
    """The side of the square grid beside `words_mm` of words: whole tens, at most 120; 0 where there is no room."""
    side = math.floor(min(chart.room.w, chart.room.h - words_mm, 120.0) / 10) * 10.0
    return side if side >= 30 else 0.0
