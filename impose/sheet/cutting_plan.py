"""How a sheet is cut apart: straight cuts in their order, each across the whole piece in hand, told from its edge.

Found for every layout, whatever it was nested by: as long as a straight line parts the piece in hand without entering
what a transfer needs, it is cut there. That is ink, kept paper, tear zone and marks, not the blank rest of its band.
Strips come off first, each measured from the near edge of what is left, so that a trimmer's stop can be set and no
distance is longer than a strip. What no straight line parts stays together for knife or scissors.

Distances are those a person sets: whole millimetres or eighths of an inch wherever the blank paper between transfers
holds one that a knife may miss by half a millimetre, else the finest that a ruler shows. Every later piece begins where
the cut really was, so roundings do not add up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Literal

from impose.sheet.layout import SheetLayout
from impose.sheet.marks import MarkStroke
from impose.units import MM_PER_INCH, Box, show_on_ruler
from impose.values import FrozenStruct, replace

Units = Literal["mm", "in"]
Axis = Literal["across", "down"]

OFFCUT_MM = 40.0
"""Bare paper as wide as this beside the cells is cut off, to be kept or binned (common practice, no source)."""

_FINEST = {"mm": (1, 2, 10), "in": (1, 2, 4, 8)}  # parts of a millimetre or of an eighth, coarsest first
_STEP = {"mm": 1.0, "in": MM_PER_INCH / 8}
_TOUCH_MM = 1e-3
_ASTRAY_MM = 0.5  # by which a knife along a rule, or a trimmer, goes astray (common practice, no source)
_BESIDE_MM = 2.0  # from what lies beside bare paper to where that is cut off


class HeldPiece(FrozenStruct):
    """A piece in hand: where it lies on the sheet, and what lies on it: ids, each with what no cut may enter."""

    box: Box
    cells: tuple[tuple[str, Box], ...]

    @property
    def ids(self) -> tuple[str, ...]:
        """The transfers on it, in the order they lie."""
        return tuple(name for name, _ in self.cells)


class CutLine(FrozenStruct):
    """One cut: across or down the piece in hand, `distance_mm` from its top or left edge.

    `told` is the distance in words. `off` comes off on that side, `left` is what is left in hand. `first` says that the
    piece is taken up for it, `sole` that it is put down again after it, `whole` that it crosses the whole sheet.
    """

    number: int
    axis: Axis
    distance_mm: float
    told: str
    hand: HeldPiece
    off: HeldPiece
    left: HeldPiece
    first: bool
    whole: bool
    sole: bool = False

    @property
    def stroke(self) -> MarkStroke:
        """The cut on the sheet."""
        box = self.hand.box
        if self.axis == "across":
            y = box.y + self.distance_mm
            return MarkStroke(box.x, y, box.right, y)
        x = box.x + self.distance_mm
        return MarkStroke(x, box.y, x, box.bottom)


class CuttingPlan(FrozenStruct):
    """All straight cuts of a sheet in their order, and the pieces that no straight cut parts."""

    cuts: tuple[CutLine, ...]
    joined: tuple[HeldPiece, ...]


def plan_cutting(sheet: SheetLayout, units: Units, names: Mapping[str, str] | None = None) -> CuttingPlan:
    """How a sheet is cut apart; `names` are what its cells are called where that is not their ids."""
    names = names or {}
    cells = tuple((names.get(placed.transfer.id, placed.transfer.id), placed.marks_area) for placed in sheet.placed)
    return plan_cuts(HeldPiece(Box(0.0, 0.0, sheet.width_mm, sheet.height_mm), cells), units)


def plan_cuts(sheet: HeldPiece, units: Units) -> CuttingPlan:
    """How a piece of paper with cells on it is cut apart: cuts across all of it first, then each strip."""
    cuts: list[CutLine] = []
    joined: list[HeldPiece] = []
    waiting = [sheet]
    while waiting:
        hand = waiting.pop(0)
        strips = list(_peel_cuts(hand, sheet, units))
        sole = len(strips) == 1
        cuts += [replace(cut, number=len(cuts) + number, sole=sole) for number, cut in enumerate(strips, 1)]
        if strips:
            parts = [*(cut.off for cut in strips), strips[-1].left]
            waiting += [part for part in parts if part.cells]
        elif len(hand.cells) > 1:
            joined.append(hand)
    return CuttingPlan(tuple(cuts), tuple(joined))


def _peel_cuts(hand: HeldPiece, sheet: HeldPiece, units: Units) -> Iterator[CutLine]:
    """The cuts of one direction through a piece, from its near edge to its far one: each takes a strip off."""
    axis = _choose_direction(hand)
    if axis is None:
        return
    left, first = hand, True
    for low, high in _list_gaps(hand, axis):
        start = left.box.y if axis == "across" else left.box.x
        distance, told = _choose_distance(low - start, high - start, units)
        off, rest = _part_held(left, axis, distance)
        yield CutLine(0, axis, distance, told, left, off, rest, first, hand is sheet)
        left, first = rest, False


def _choose_direction(hand: HeldPiece) -> Axis | None:
    """The way of more strips; across, where both are equal: cuts that part cells before such that trim paper off."""
    counts = {axis: (_find_parting(hand, axis), len(list(_list_gaps(hand, axis)))) for axis in ("across", "down")}
    if counts["across"][1] == counts["down"][1] == 0:
        return None
    return "down" if counts["down"] > counts["across"] else "across"


def _find_parting(hand: HeldPiece, axis: Axis) -> int:
    return len(_list_runs(hand, axis)) - 1


def _list_runs(hand: HeldPiece, axis: Axis) -> list[tuple[float, float]]:
    """The stretches along an axis that cells cover, none touching the next."""
    spans = sorted((box.y, box.bottom) if axis == "across" else (box.x, box.right) for _, box in hand.cells)
    runs: list[tuple[float, float]] = []
    for start, end in spans:
        if runs and start < runs[-1][1] - _TOUCH_MM:
            runs[-1] = (runs[-1][0], max(runs[-1][1], end))
        else:
            runs.append((start, end))
    return runs


def _list_gaps(hand: HeldPiece, axis: Axis) -> Iterator[tuple[float, float]]:
    """Where cuts may run: between the stretches of cells, and where wide bare paper begins on either side."""
    runs = _list_runs(hand, axis)
    start, end = (hand.box.y, hand.box.bottom) if axis == "across" else (hand.box.x, hand.box.right)
    if not runs:
        return
    if runs[0][0] - start >= OFFCUT_MM:
        yield runs[0][0] - _BESIDE_MM, runs[0][0]
    for (_, low), (high, _) in pairwise(runs):
        yield low, max(low, high)
    if end - runs[-1][1] >= OFFCUT_MM:
        yield runs[-1][1], runs[-1][1] + _BESIDE_MM


def _choose_distance(low: float, high: float, units: Units) -> tuple[float, str]:
    """The roundest distance well within a gap, and its words; where it holds none, the finest nearest to its middle."""
    middle, clear = (low + high) / 2, min(_ASTRAY_MM, (high - low) / 4)
    for finest in _FINEST[units]:
        step = _STEP[units] / finest
        at = round(middle / step) * step
        if low + clear - _TOUCH_MM <= at <= high - clear + _TOUCH_MM:
            return at, show_on_ruler(at, units, finest)
    finest = _FINEST[units][-1]
    step = _STEP[units] / finest
    at = round(middle / step) * step
    return at, show_on_ruler(at, units, finest)


def _part_held(hand: HeldPiece, axis: Axis, distance: float) -> tuple[HeldPiece, HeldPiece]:
    """What comes off on the near side of a cut, and what is left."""
    box = hand.box
    if axis == "across":
        near, far = Box(box.x, box.y, box.w, distance), Box(box.x, box.y + distance, box.w, box.h - distance)
        off = tuple(cell for cell in hand.cells if cell[1].centre[1] < far.y)
    else:
        near, far = Box(box.x, box.y, distance, box.h), Box(box.x + distance, box.y, box.w - distance, box.h)
        off = tuple(cell for cell in hand.cells if cell[1].centre[0] < far.x)
    return HeldPiece(near, off), HeldPiece(far, tuple(cell for cell in hand.cells if cell not in off))
