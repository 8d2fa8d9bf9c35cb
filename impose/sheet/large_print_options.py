"""One large print and the papers: each way to print it, with the margin it leaves and what it costs.

Margins are those of `impose.sheet.margins`: the one asked for, the widest down to the tight one, then thinner sides;
upright or turned; on the papers offered, then on others on file, a sheet and a roll; in panels where no offered paper
takes it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from impose.art.ink import PixelBox
from impose.profiles.paper import Paper
from impose.sheet.largest_size import describe_largest, find_shrunk_width
from impose.sheet.margins import Level, PrintArea, SizeRequest, TearMargins, find_widest_margin, list_ways_round
from impose.sheet.money import compute_sheet_cost
from impose.sheet.panels import split_into_panels
from impose.units import Box, to_um_up
from impose.values import FrozenStruct

LEVELS: tuple[Level, ...] = ("full", "tight", "thin")


class PrintOption(FrozenStruct):
    """One way to print it: on which paper, turned or not, with which margin, in how many panels, for how much.

    `side_mm` is the margin left and right of the upright print, `cost` whole millionths for one print on paper of its
    own. `taken` is the way that a run takes; `parts` are the panels' places in the whole print, mm.
    """

    paper: Paper
    turned: bool
    level: Level
    side_mm: float
    cost: int
    offered: bool
    panels: int = 1
    taken: bool = False
    parts: tuple[Box, ...] = ()


class LargestSize(NamedTuple):
    """The largest that a paper takes of a print, as ordered, and the same `told`, with what bare sides would allow."""

    paper: Paper
    width_mm: float
    height_mm: float
    told: str


class LargePrint(FrozenStruct):
    """A print that some offered paper does not take with its full margin, and what can be done about it.

    Its size is that ordered; `most` is the largest size that can be ordered of each paper which does not take it whole.
    It is the one that shrinking takes: with the tight margin all round, where any is left so.
    """

    row: int
    placement: str
    width_mm: float
    height_mm: float
    ways: tuple[PrintOption, ...]
    most: tuple[LargestSize, ...]


def is_large(wanted: SizeRequest, areas: Sequence[PrintArea]) -> bool:
    """Whether some offered paper does not take the print with the margin asked for."""
    return any(
        min((LEVELS.index(way.level) for way in _options_on_paper(wanted, area, True)), default=9) > 0 for area in areas
    )


def list_print_options(
    wanted: SizeRequest, ink: PixelBox, offered: Sequence[PrintArea], on_file: Sequence[PrintArea], overlap_mm: float
) -> tuple[PrintOption, ...]:
    """Every way on the papers offered, the one taken marked, then the cheapest sheet and roll on file that do it."""
    found = [way for area in offered for way in _options_on_paper(wanted, area, True)]
    best = min(found, key=lambda way: (way.level == "thin", -way.side_mm, way.cost), default=None)
    found = [_mark_taken(way) if way is best else way for way in found]
    if best is None:
        found += _panel_options(wanted, ink, offered, overlap_mm)
    if best is None or best.level != "full":
        others = [way for area in on_file for way in _options_on_paper(wanted, area, False) if way.level == "full"]
        for roll in (False, True):
            kind = [way for way in others if way.paper.is_roll == roll]
            found += sorted(kind, key=lambda way: way.cost)[:1]
    return tuple(found)


def list_large_prints(
    prints: Sequence[tuple[int, str, SizeRequest, PixelBox]],
    offered: Sequence[PrintArea],
    on_file: Sequence[PrintArea],
    overlap_mm: float,
    units: Literal["mm", "in"] = "mm",
) -> tuple[LargePrint, ...]:
    """The large prints of a batch, each size once, largest first; `prints` are row, placement, size and pixels."""
    seen: dict[tuple[float, ...], LargePrint] = {}
    for row, placement, wanted, ink in prints:
        width, height = wanted.convert_to_worn(wanted.ink_w_mm, wanted.ink_h_mm)
        key = (round(width, 2), round(height, 2), *wanted.cloth)
        if key not in seen and is_large(wanted, offered):
            most = tuple(_list_largest(wanted, offered, units))
            found = list_print_options(wanted, ink, offered, on_file, overlap_mm)
            seen[key] = LargePrint(row, placement, width, height, found, most)
    return tuple(sorted(seen.values(), key=lambda large: (-large.width_mm * large.height_mm, large.row)))


def _mark_taken(way: PrintOption) -> PrintOption:
    return PrintOption(way.paper, way.turned, way.level, way.side_mm, way.cost, way.offered, way.panels, True)


def _list_largest(wanted: SizeRequest, areas: Sequence[PrintArea], units: Literal["mm", "in"]) -> Iterator[LargestSize]:
    for area in areas:
        if not any(True for _ in _options_on_paper(wanted, area, True)):
            width = find_shrunk_width(wanted, [area])
            size = wanted.convert_to_worn(width, wanted.ink_h_mm * width / wanted.ink_w_mm)
            yield LargestSize(area.paper, *size, describe_largest(wanted, area, units))


def _options_on_paper(wanted: SizeRequest, area: PrintArea, offered: bool) -> Iterator[PrintOption]:
    """The widest margin that a paper takes, upright and turned."""
    for turned in list_ways_round(wanted):
        found = find_widest_margin(wanted, area, turned)
        if found is not None:
            sides, level = found
            cost = _compute_option_cost(wanted, area, sides, turned)
            yield PrintOption(area.paper, turned, level, sides.left.total_mm, cost, offered)


def _compute_option_cost(wanted: SizeRequest, area: PrintArea, sides: TearMargins, turned: bool) -> int:
    """A sheet, or the length of roll that the cell and the edges take."""
    down = wanted.ink_w_mm + sides.across_mm if turned else wanted.ink_h_mm + sides.down_mm
    return compute_sheet_cost(area.paper, area.piece_mm(to_um_up(down), sides.slack_mm))


def _panel_options(
    wanted: SizeRequest, ink: PixelBox, areas: Sequence[PrintArea], overlap_mm: float
) -> Iterator[PrintOption]:
    """What panels cost on each paper alone, a sheet for each."""
    for area in areas:
        parted = split_into_panels(wanted, ink, [area], overlap_mm)
        if parted is None:
            continue
        costs = [min(_options_on_paper(panel.wanted, area, True), key=lambda way: way.cost) for panel in parted]
        cost = sum(way.cost for way in costs)
        parts = tuple(panel.panel.box for panel in parted)
        level, side_mm = costs[0].level, costs[0].side_mm
        yield PrintOption(area.paper, costs[0].turned, level, side_mm, cost, True, len(parted), parts=parts)
