"""One large print and the papers: each way to print it, with the margin it leaves and what it costs.

The ladder is that of `impose.sheet.margins`: the margin asked for, the tight one, then thinner sides; upright or
turned; on the papers offered, then on others on file, a sheet and a roll; in panels where no offered paper takes it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from impose.art.ink import PixelBox
from impose.sheet.margins import TIGHT, Level, PrintArea, Sides, Wanted, largest_that_fits, thin_side
from impose.sheet.money import sheet_cost
from impose.sheet.panels import part
from impose.shop.paper import Paper
from impose.shop.placement import tear_of
from impose.units import to_um_up

LEVELS: tuple[Level, ...] = ("full", "tight", "thin")


@dataclass(frozen=True, slots=True)
class Way:
    """One way to print it: on which paper, turned or not, with which margin, in how many panels, for how much.

    `side_mm` is the margin left and right of the upright print, `cost` whole millionths for one print on paper of its
    own. `taken` is the way that a run takes.
    """

    paper: Paper
    turned: bool
    level: Level
    side_mm: float
    cost: int
    offered: bool
    panels: int = 1
    taken: bool = False


@dataclass(frozen=True, slots=True)
class Large:
    """A print that some offered paper does not take with its full margin, and what can be done about it.

    `most` is the largest size that each paper would take which does not take it whole.
    """

    row: int
    placement: str
    width_mm: float
    height_mm: float
    ways: tuple[Way, ...]
    most: tuple[tuple[Paper, float, float], ...]


def is_large(wanted: Wanted, areas: Sequence[PrintArea]) -> bool:
    """Whether some offered paper does not take the print with the margin asked for."""
    return any(min((LEVELS.index(way.level) for way in _on(wanted, area, True)), default=9) > 0 for area in areas)


def ways(
    wanted: Wanted, ink: PixelBox, offered: Sequence[PrintArea], on_file: Sequence[PrintArea], overlap_mm: float
) -> tuple[Way, ...]:
    """Every way on the papers offered, the one taken marked, then the cheapest sheet and roll on file that do it."""
    found = [way for area in offered for way in _on(wanted, area, True)]
    best = min(found, key=lambda way: (LEVELS.index(way.level), -way.side_mm, way.cost), default=None)
    found = [_marked(way) if way is best else way for way in found]
    if best is None:
        found += _in_panels(wanted, ink, offered, overlap_mm)
    if best is None or best.level != "full":
        others = [way for area in on_file for way in _on(wanted, area, False) if way.level == "full"]
        for roll in (False, True):
            kind = [way for way in others if way.paper.is_roll == roll]
            found += sorted(kind, key=lambda way: way.cost)[:1]
    return tuple(found)


def large_prints(
    prints: Sequence[tuple[int, str, Wanted, PixelBox]],
    offered: Sequence[PrintArea],
    on_file: Sequence[PrintArea],
    overlap_mm: float,
) -> tuple[Large, ...]:
    """The large prints of a batch, each size once, largest first; `prints` are row, placement, size and pixels."""
    seen: dict[tuple[float, float], Large] = {}
    for row, placement, wanted, ink in prints:
        key = (round(wanted.ink_w_mm, 2), round(wanted.ink_h_mm, 2))
        if key not in seen and is_large(wanted, offered):
            most = tuple(_most(wanted, offered))
            found = ways(wanted, ink, offered, on_file, overlap_mm)
            seen[key] = Large(row, placement, wanted.ink_w_mm, wanted.ink_h_mm, found, most)
    return tuple(sorted(seen.values(), key=lambda one: (-one.width_mm * one.height_mm, one.row)))


def _marked(way: Way) -> Way:
    return Way(way.paper, way.turned, way.level, way.side_mm, way.cost, way.offered, way.panels, True)


def _most(wanted: Wanted, areas: Sequence[PrintArea]) -> Iterator[tuple[Paper, float, float]]:
    for area in areas:
        if not any(True for _ in _on(wanted, area, True)):
            yield area.paper, *largest_that_fits(wanted, area)


def _on(wanted: Wanted, area: PrintArea, offered: bool) -> Iterator[Way]:
    """The widest margin that a paper takes, upright and turned."""
    for turned in (False, True) if wanted.may_turn else (False,):
        for level in LEVELS:
            sides = _sides(wanted, area, level, turned)
            if sides is not None:
                cost = _cost(wanted, area, sides, turned)
                yield Way(area.paper, turned, level, sides.left.total_mm, cost, offered)
                break


def _sides(wanted: Wanted, area: PrintArea, level: Level, turned: bool) -> Sides | None:
    """The margin of a level in one orientation, or None where the paper does not take it."""
    tight = tear_of(min(wanted.tear.total_mm, TIGHT.total_mm))
    if level != "thin":
        sides = Sides.even(wanted.tear if level == "full" else tight)
        return sides if _inside(wanted, area, sides, turned) else None
    across = area.box.h if turned else area.box.w
    side = min(tight.total_mm, math.floor((across - wanted.ink_w_mm) / 2 * 1000 + 1e-6) / 1000)
    if side < max(0.0, wanted.least_side_mm):
        return None
    sides = Sides(tight, thin_side(side), tight, thin_side(side))
    return sides if _inside(wanted, area, sides, turned) else None


def _inside(wanted: Wanted, area: PrintArea, sides: Sides, turned: bool) -> bool:
    room = area.grown(sides.slack_mm)
    w, h = wanted.ink_w_mm + sides.across_mm, wanted.ink_h_mm + sides.down_mm
    w, h = (h, w) if turned else (w, h)
    return w <= room.w + 1e-6 and h <= room.h + 1e-6


def _cost(wanted: Wanted, area: PrintArea, sides: Sides, turned: bool) -> int:
    """A sheet, or the length of roll that the cell and the edges take."""
    down = wanted.ink_w_mm + sides.across_mm if turned else wanted.ink_h_mm + sides.down_mm
    return sheet_cost(area.paper, area.piece_mm(to_um_up(down), sides.slack_mm))


def _in_panels(wanted: Wanted, ink: PixelBox, areas: Sequence[PrintArea], overlap_mm: float) -> Iterator[Way]:
    """What panels cost on each paper alone, a sheet for each."""
    for area in areas:
        parted = part(wanted, ink, [area], overlap_mm)
        if parted is None:
            continue
        costs = [min(_on(one.wanted, area, True), key=lambda way: way.cost) for one in parted]
        cost = sum(way.cost for way in costs)
        yield Way(area.paper, costs[0].turned, costs[0].level, costs[0].side_mm, cost, True, len(parted))
