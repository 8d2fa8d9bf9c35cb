"""The tear margin of each transfer: how wide on each side, and when less than the full one may be taken.

The margin is a stack of three frames around the ink bounds, from the inside: kept paper, tear zone, marks band (see
`impose.shop.profiles.Tear`). Each side of a transfer has a stack of its own, because an oversized print may lose the
band on its sides while the top and bottom keep theirs: they carry the fold.

Lengths are millimetres. Everything here is seen upright: sides are those of the artwork before nesting turns it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from impose.shop.placement import MARKS_MM, NAMED_TEARS, Tear, tear_of
from impose.shop.profiles import Paper, Printer
from impose.units import Box, to_um_down, to_um_up

TIGHT = NAMED_TEARS["tight"]

Level = Literal["full", "tight", "thin"]


@dataclass(frozen=True, slots=True)
class Sides:
    """The tear margin of the four sides of one transfer."""

    top: Tear
    right: Tear
    bottom: Tear
    left: Tear

    @classmethod
    def even(cls, tear: Tear) -> Sides:
        """The same margin all round."""
        return cls(tear, tear, tear, tear)

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
        return min(side.slack_mm for side in (self.top, self.right, self.bottom, self.left))


def has_marks(side: Tear) -> bool:
    """Whether the side's band has room for ticks and label; a thinned side may have none."""
    return side.band_mm >= MARKS_MM - 1e-9


@dataclass(frozen=True, slots=True)
class PrintArea:
    """Where a printer can put ink on a paper, in millimetres of real paper from its top left corner.

    For a roll `box.h` and `edges` are those of the longest piece. Of a shorter one less is lost at the end where the
    printer prints short: `bottom_mm` is what cannot be printed there, `scale_y` the length printed over that asked for.
    """

    paper: Paper
    box: Box
    edges: tuple[float, float, float, float]  # left, top, right, bottom
    bottom_mm: float = 0.0
    scale_y: float = 1.0

    def grown(self, slack_mm: float) -> Box:
        """The area on which cells nest: blank slack may hang over the unprintable edges."""
        left, top, right, bottom = (min(edge, slack_mm) for edge in self.edges)
        return Box(self.box.x - left, self.box.y - top, self.box.w + left + right, self.box.h + top + bottom)

    def lost_um(self, slack_mm: float) -> tuple[int, int, int]:
        """Paper of a roll's piece beyond the room of its cells, both ends together, in whole micrometres, rounded up.

        It is the greater of the first, and of the second (below 0 where blank slack hangs over the end) and the third
        for each metre of cells: the last printed line, at y on paper, is asked for at y / `scale_y`, which has to be
        on the piece.
        """
        before, slack_mm = self.grown(slack_mm).y, to_um_down(slack_mm) / 1000
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


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the margin of a transfer is chosen by: its ink size, the margin asked for, and how far it may give way."""

    ink_w_mm: float
    ink_h_mm: float
    tear: Tear
    least_side_mm: float
    may_turn: bool


def fits(wanted: Wanted, sides: Sides, area: PrintArea, slack_mm: float) -> bool:
    """Whether the cell lies on the paper, turned or not; `slack_mm` is the most that may hang over an edge."""
    room = area.grown(min(slack_mm, sides.slack_mm))
    w, h = wanted.ink_w_mm + sides.across_mm, wanted.ink_h_mm + sides.down_mm
    return _inside(w, h, room) or (wanted.may_turn and _inside(h, w, room))


def choose(wanted: Wanted, areas: Sequence[PrintArea], slack_mm: float = math.inf) -> tuple[Sides, Level] | None:
    """The widest margin that some offered paper takes, or None if even the thinnest fits nowhere.

    First the margin asked for, then the tight one all round, then the sides alone give way, down to the least side.
    """
    tight = tear_of(min(wanted.tear.total_mm, TIGHT.total_mm))
    ladder: list[tuple[Sides, Level]] = [(Sides.even(wanted.tear), "full"), (Sides.even(tight), "tight")]
    for sides, level in ladder:
        if any(fits(wanted, sides, area, slack_mm) for area in areas):
            return sides, level
    side_mm = _thinnest_side(wanted, tight, areas)
    if side_mm is None:
        return None
    thin = thin_side(min(side_mm, tight.total_mm))
    return Sides(tight, thin, tight, thin), "thin"


def thin_side(total_mm: float) -> Tear:
    """A side too thin for the tight margin: paper is kept first, then tear zone; marks only where 9 mm allow them."""
    least_marked = 3.0 + 3.0 + MARKS_MM
    if total_mm >= least_marked:
        return Tear(3.0, 3.0, total_mm - 6.0)
    kept = min(3.0, total_mm)
    return Tear(kept, total_mm - kept, 0.0)


def largest_that_fits(wanted: Wanted, area: PrintArea) -> tuple[float, float]:
    """The largest ink size, in proportion, that the paper takes at the thinnest margin allowed; (0, 0) if none."""
    tight = tear_of(min(wanted.tear.total_mm, TIGHT.total_mm))
    thinnest = min(wanted.least_side_mm, tight.total_mm)
    rooms = [  # only the even cell has slack that may hang over an unprintable edge
        (area.box, 2 * thinnest),
        (area.grown(tight.slack_mm), 2 * tight.total_mm),
    ]
    best = 0.0
    for room, sides_mm in rooms:
        for across, down in _orientations(room, wanted.may_turn):
            scale = min((across - sides_mm) / wanted.ink_w_mm, (down - 2 * tight.total_mm) / wanted.ink_h_mm)
            best = max(best, scale)
    return wanted.ink_w_mm * best, wanted.ink_h_mm * best


def common_slack(chosen: Iterable[Sides]) -> float:
    """The least slack among the cells of a batch: what a paper's nesting area may grow by."""
    return min((sides.slack_mm for sides in chosen), default=0.0)


def choose_all(wanted: Sequence[Wanted], areas: Sequence[PrintArea]) -> tuple[list[tuple[Sides, Level] | None], float]:
    """Margins for a whole batch, and the slack common to all its cells.

    One cell with little slack lessens what every paper grows by, which may in turn cost another cell its fit; the
    margins are therefore chosen again under the lesser slack until nothing changes. Slack only ever falls, so this
    ends.
    """
    slack = math.inf
    while True:
        chosen = [choose(one, areas, slack) for one in wanted]
        least = min(slack, common_slack(pair[0] for pair in chosen if pair is not None))
        if least == slack or all(
            pair is None or any(fits(one, pair[0], area, least) for area in areas)
            for one, pair in zip(wanted, chosen, strict=True)
        ):
            return chosen, least
        slack = least


def _inside(w: float, h: float, room: Box) -> bool:
    tolerance = 1e-6  # a nanometre: sums of decimal millimetres in binary must not decide what fits
    return w <= room.w + tolerance and h <= room.h + tolerance


def _orientations(room: Box, may_turn: bool) -> list[tuple[float, float]]:
    """(across, down) as the upright transfer sees the room."""
    return [(room.w, room.h), (room.h, room.w)] if may_turn else [(room.w, room.h)]


def _thinnest_side(wanted: Wanted, tight: Tear, areas: Sequence[PrintArea]) -> float | None:
    """The widest equal side margin that fits some paper with no slack over the edge; None if below the least."""
    best: float | None = None
    for area in areas:
        for across, down in _orientations(area.box, wanted.may_turn):
            side = math.floor((across - wanted.ink_w_mm) / 2 * 1000 + 1e-6) / 1000
            tall_enough = wanted.ink_h_mm + 2 * tight.total_mm <= down + 1e-6
            if tall_enough and side >= max(0.0, wanted.least_side_mm) and (best is None or side > best):
                best = side
    return best
