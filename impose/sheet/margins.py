"""The tear margin of each transfer: how wide on each side, and when less than the full one may be taken.

The margin is a stack of three frames around the ink bounds, from the inside: kept paper, tear zone, marks band (see
`impose.profiles.profiles.TearMargin`). Each side of a transfer has a stack of its own, because an oversized print may
lose the band on its sides while the top and bottom keep theirs: they carry the fold.

Lengths are millimetres. Everything here is seen upright: sides are those of the artwork before nesting turns it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from typing import Literal

from impose.profiles.placement import MARKS_MM, TIGHT, TearMargin, make_thin_side, split_tear
from impose.profiles.profiles import Paper, Printer
from impose.units import Box, to_um_down, to_um_up
from impose.values import FrozenStruct

Level = Literal["full", "tight", "thin"]


class TearMargins(FrozenStruct):
    """The tear margin of the four sides of one transfer."""

    top: TearMargin
    right: TearMargin
    bottom: TearMargin
    left: TearMargin

    @classmethod
    def make_even(cls, tear: TearMargin) -> TearMargins:
        """The same margin all round."""
        return cls(tear, tear, tear, tear)

    @property
    def every(self) -> tuple[TearMargin, ...]:
        """The four sides, clockwise from the top."""
        return self.top, self.right, self.bottom, self.left

    @property
    def across_mm(self) -> float:
        """Left and right together."""
        return self.left.total_mm + self.right.total_mm

    @property
    def down_mm(self) -> float:
        """Top and bottom together."""
        return self.top.total_mm + self.bottom.total_mm

    @property
    def slack_mm(self) -> float:
        """The blank paper that every side can spare beyond its marks."""
        return min(side.slack_mm for side in self.every)


def has_marks(side: TearMargin) -> bool:
    """Whether the side's band has room for ticks and label; a thinned side may have none."""
    return side.band_mm >= MARKS_MM - 1e-9


class PrintArea(FrozenStruct):
    """Where a printer can put ink on a paper, in millimetres of real paper from its top left corner.

    For a roll `box.h` and `edges` are those of the longest piece. Of a shorter one less is lost at the end where the
    printer prints short: `bottom_mm` is what cannot be printed there, `scale_y` the length printed over that asked for.
    """

    paper: Paper
    box: Box
    edges: tuple[float, float, float, float]  # left, top, right, bottom
    bottom_mm: float = 0.0
    scale_y: float = 1.0

    def grow_by_slack(self, slack_mm: float) -> Box:
        """The area on which cells nest: blank slack may hang over the unprintable edges, by whole micrometres."""
        left, top, right, bottom = (to_um_down(min(edge, slack_mm)) / 1000 for edge in self.edges)
        return Box(self.box.x - left, self.box.y - top, self.box.w + left + right, self.box.h + top + bottom)

    def lost_um(self, slack_mm: float) -> tuple[int, int, int]:
        """Paper of a roll's piece beyond the room of its cells, both ends together, in whole micrometres, rounded up.

        It is the greater of the first, and of the second (below 0 where blank slack hangs over the end) and the third
        for each metre of cells: the last printed line, at y on paper, is asked for at y / `scale_y`, which has to be
        on the piece.
        """
        before, slack_mm = self.grow_by_slack(slack_mm).y, to_um_down(slack_mm) / 1000
        share = 1 / self.scale_y - 1
        margin = before + max(0.0, self.bottom_mm - slack_mm)
        if share <= 0:
            return to_um_up(margin), 0, 0
        base = (before - slack_mm) / self.scale_y
        return to_um_up(margin), math.ceil(base * 1000 - 1e-3), math.ceil(share * 1_000_000 - 1e-3)

    def piece_mm(self, cells_um: int, slack_mm: float) -> float:
        """The length of a piece of roll whose cells reach `cells_um` down; it is paid for, cut and printed as this."""
        margin, base, share = self.lost_um(slack_mm)
        return (cells_um + max(margin, base - (-cells_um * share // 1_000_000))) / 1000

    def printable_mm(self, length_mm: float) -> float:
        """How far down a piece of roll of that length the printer reaches, from its printable top."""
        return min(length_mm - self.bottom_mm, length_mm * self.scale_y) - self.box.y


def print_area(paper: Paper, printer: Printer) -> PrintArea:
    """The printable area of a paper, less what the printer's scale correction would push off the page.

    A printer that prints short is corrected by asking for more, so a point near the far edge could be asked for
    beyond the page: no such point is offered.
    """
    length = paper.height_mm if paper.height_mm is not None else (paper.max_length_mm or 0.0)
    right = min(paper.width_mm - printer.right_mm, paper.width_mm * printer.scale_x)
    bottom = min(length - printer.bottom_mm, length * printer.scale_y)
    if paper.is_roll and printer.scale_y < 1:  # what `lost_um` rounds up: a micrometre a metre, and two
        bottom -= length / 1_000_000 + 0.002
    # Whole micrometres, as the packer counts: what fits here fits there.
    wide, high = (to_um_down(max(0.0, mm)) / 1000 for mm in (right - printer.left_mm, bottom - printer.top_mm))
    box = Box(printer.left_mm, printer.top_mm, wide, high)
    edges = (printer.left_mm, printer.top_mm, paper.width_mm - right, length - bottom)
    return PrintArea(paper, box, edges, printer.bottom_mm, printer.scale_y)


class SizeRequest(FrozenStruct):
    """What the margin of a transfer is chosen by: its ink size, the margin asked for, and how far it may give way.

    `cloth` is what the ink is larger by on paper than as worn, which is what was ordered.
    """

    ink_w_mm: float
    ink_h_mm: float
    tear: TearMargin
    least_side_mm: float
    may_turn: bool
    cloth: tuple[float, float] = (1.0, 1.0)

    def convert_to_worn(self, width_mm: float, height_mm: float) -> tuple[float, float]:
        """A size on paper as it is worn, and ordered."""
        return width_mm / self.cloth[0], height_mm / self.cloth[1]


def fits_paper(wanted: SizeRequest, sides: TearMargins, area: PrintArea, slack_mm: float) -> bool:
    """Whether the cell lies on the paper, turned or not; `slack_mm` is the most that may hang over an edge."""
    return any(_lies_on_area(wanted, sides, area, turned, slack_mm) for turned in list_ways_round(wanted))


def list_ways_round(wanted: SizeRequest) -> tuple[bool, ...]:
    """Upright, and turned where it may be."""
    return (False, True) if wanted.may_turn else (False,)


def choose_margins(
    wanted: SizeRequest, areas: Sequence[PrintArea], slack_mm: float = math.inf
) -> tuple[TearMargins, Level] | None:
    """The widest margin that some offered paper takes, or None if even the thinnest fits nowhere."""
    ways = [(area, turned) for area in areas for turned in list_ways_round(wanted)]
    asked = TearMargins.make_even(wanted.tear)
    if any(_lies_on_area(wanted, asked, area, turned, slack_mm) for area, turned in ways):
        return asked, "full"  # no paper takes more than was asked for
    found = (find_widest_margin(wanted, area, turned, slack_mm) for area, turned in ways)
    return min((candidate for candidate in found if candidate is not None), key=_rank_narrowness, default=None)


_choose = lru_cache(maxsize=4096)(choose_margins)
"""A table that is planned again after every change asks the same of most of its rows."""


def find_widest_margin(
    wanted: SizeRequest, area: PrintArea, turned: bool, slack_mm: float = math.inf
) -> tuple[TearMargins, Level] | None:
    """The widest margin that one paper takes, upright or turned.

    First the margin asked for, then the widest between it and the tight one, all round, then the tight one with the
    sides alone giving way, down to the least side. A margin that grows gains less room over the edges than it takes,
    so the widest is found by halving, to the micrometre.
    """
    asked = TearMargins.make_even(wanted.tear)
    if _lies_on_area(wanted, asked, area, turned, slack_mm):
        return asked, "full"
    tight = split_tear(min(wanted.tear.total_mm, TIGHT.total_mm))
    um = _find_widest(
        to_um_up(tight.total_mm),
        to_um_down(wanted.tear.total_mm),
        lambda total: _lies_on_area(wanted, TearMargins.make_even(split_tear(total / 1000)), area, turned, slack_mm),
    )
    if um is not None:
        return TearMargins.make_even(split_tear(um / 1000)), "tight"
    um = _find_widest(
        max(0, to_um_up(wanted.least_side_mm)),
        to_um_down(tight.total_mm),
        lambda total: _lies_across(wanted, _list_thinned(tight, total), area, turned, slack_mm),
    )
    if um is None or not _lies_on_area(wanted, _list_thinned(tight, um), area, turned, slack_mm):
        return None
    return _list_thinned(tight, um), "thin"


def _rank_narrowness(found: tuple[TearMargins, Level]) -> tuple[bool, float]:
    """The least is the widest margin: even all round before thinned, then by its sides."""
    sides, level = found
    return level == "thin", -sides.left.total_mm


def _list_thinned(tight: TearMargin, side_um: int) -> TearMargins:
    side = make_thin_side(side_um / 1000)
    return TearMargins(tight, side, tight, side)


def _find_widest(least: int, most: int, takes: Callable[[int], bool]) -> int | None:
    """The largest whole number from `least` to `most` that is taken, where all below a taken one are taken too."""
    if least > most or not takes(least):
        return None
    while least < most:
        middle = (least + most + 1) // 2
        least, most = (middle, most) if takes(middle) else (least, middle - 1)
    return least


def find_largest_size(wanted: SizeRequest, area: PrintArea, slack_mm: float = math.inf) -> tuple[float, float]:
    """The largest ink size, in proportion, that the paper takes at the thinnest margin allowed; (0, 0) if none.

    `slack_mm` is the most that the other prints of the batch let hang over an edge.
    """
    tight = split_tear(min(wanted.tear.total_mm, TIGHT.total_mm))
    thinnest = min(wanted.least_side_mm, tight.total_mm)
    rooms = [  # only the even cell is sure to have slack that may hang over an unprintable edge
        (area.box, 2 * thinnest),
        (area.grow_by_slack(min(slack_mm, tight.slack_mm)), 2 * tight.total_mm),
    ]
    best = 0.0
    for room, sides_mm in rooms:
        for turned in list_ways_round(wanted):
            across, down = _turn_room(room, turned)
            scale = min((across - sides_mm) / wanted.ink_w_mm, (down - 2 * tight.total_mm) / wanted.ink_h_mm)
            best = max(best, scale)
    return wanted.ink_w_mm * best, wanted.ink_h_mm * best


def find_common_slack(chosen: Iterable[TearMargins]) -> float:
    """The least slack among the cells of a batch: what a paper's nesting area may grow by."""
    return min((sides.slack_mm for sides in chosen), default=0.0)


def choose_all_margins(
    wanted: Sequence[SizeRequest], areas: Sequence[PrintArea]
) -> tuple[list[tuple[TearMargins, Level] | None], float]:
    """Margins for a whole batch, and the slack common to all its cells.

    One cell with little slack lessens what every paper grows by, which may in turn cost another cell its fit; the
    margins are therefore chosen again under the lesser slack until nothing changes. Slack only ever falls, so this
    ends. What is alike is chosen once.
    """
    slack = math.inf
    alike = list(dict.fromkeys(wanted))
    while True:
        chosen = {request: _choose(request, tuple(areas), slack) for request in alike}
        least = min(slack, find_common_slack(pair[0] for pair in chosen.values() if pair is not None))
        if least == slack or all(
            pair is None or any(fits_paper(request, pair[0], area, least) for area in areas)
            for request, pair in chosen.items()
        ):
            return [chosen[request] for request in wanted], least
        slack = least


_TOLERANCE = 1e-6  # a nanometre: sums of decimal millimetres in binary must not decide what fits


def _turn_room(room: Box, turned: bool) -> tuple[float, float]:
    """(across, down) of the room, in the directions of the upright transfer."""
    return (room.h, room.w) if turned else (room.w, room.h)


def _lies_across(wanted: SizeRequest, sides: TearMargins, area: PrintArea, turned: bool, slack_mm: float) -> bool:
    across, _ = _turn_room(area.grow_by_slack(min(slack_mm, sides.slack_mm)), turned)
    return wanted.ink_w_mm + sides.across_mm <= across + _TOLERANCE


def _lies_on_area(wanted: SizeRequest, sides: TearMargins, area: PrintArea, turned: bool, slack_mm: float) -> bool:
    """Whether the cell lies on the paper, upright or turned."""
    across, down = _turn_room(area.grow_by_slack(min(slack_mm, sides.slack_mm)), turned)
    w, h = wanted.ink_w_mm + sides.across_mm, wanted.ink_h_mm + sides.down_mm
    return w <= across + _TOLERANCE and h <= down + _TOLERANCE
