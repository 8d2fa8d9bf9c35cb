"""What is worth saying, or refused, about the size, the margin and the folds of a print."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal

from impose.errors import Exit, Finding, Severity
from impose.orders.batch import BatchRow
from impose.remedies import Remedy
from impose.sheet.largest_size import describe_largest
from impose.sheet.margins import PrintArea, SizeRequest, choose_margins, has_marks
from impose.sheet.panels import MOST, PanelSplit
from impose.sheet.piece import Piece
from impose.units import format_length, show_at_most

Units = Literal["mm", "in"]

TALL = 1.5
"""Times as tall as wide: a word or a line of them never is (common practice, no source)."""


_PANELS_TOO = f", nor do {MOST} × {MOST} panels of it, which is the most"
_OTHERWISE = {"refuse": "smaller-or-parted", "shrink": "smaller-or-larger-paper", "panels": "smaller-or-shrink"}


def _format_size(wanted: SizeRequest, units: Units) -> str:
    """As it was ordered, which on cloth that shrinks in the press is not its size on paper."""
    width, height = wanted.convert_to_worn(wanted.ink_w_mm, wanted.ink_h_mm)
    return f"{format_length(width, units)} × {format_length(height, units)}"


def report_shrunk(row: BatchRow, small: SizeRequest, wanted: SizeRequest, units: Units) -> Finding:
    """A print made smaller than it was ordered."""
    return Finding(
        f"printed at {_format_size(small, units)} instead of the {_format_size(wanted, units)} ordered, "
        "because no offered paper "
        "takes more",
        "Offer a larger paper to print it at the size ordered.",
        Severity.WARN,
        kind="shrunk",
        row=row.row,
        kit_row=row.kit_row,
    )


def report_seam(row: BatchRow, wanted: SizeRequest, parted: Sequence[PanelSplit], units: Units) -> Finding:
    """A print in panels: how many, which is first, and that a seam shows."""
    first = min(parted, key=lambda piece: piece.panel.press).panel
    meet = f"overlap by at least {show_at_most(first.overlap_mm, units)}" if first.overlap_mm else "meet edge to edge"
    twice = (
        "overlap the cloth is heated and dyed twice" if first.overlap_mm else "meet the cloth shows white or dyed twice"
    )
    return Finding(
        f"a print of {_format_size(wanted, units)} fits no offered paper and is parted into "
        f"{len(parted)} panels that {meet}; panel {first.number} is pressed first",
        "Offer a larger paper or a roll to print it whole; lay the join lines together with care, and test on scrap.",
        Severity.WARN,
        kind="panels",
        why=f"A seam shows: where panels {twice}.",
        row=row.row,
        kit_row=row.kit_row,
    )


def report_no_room(
    row: BatchRow,
    wanted: SizeRequest,
    areas: Sequence[PrintArea],
    units: Units,
    oversize: str = "refuse",
    slack_mm: float = math.inf,
) -> Finding:
    """A print that fits no offered paper, with the largest size that each would take.

    `oversize` is what was asked for, `slack_mm` what the other prints of the batch let hang over an edge.
    """
    fits = [describe_largest(wanted, area, units, slack_mm) for area in areas]
    return Finding(
        f"a print of {_format_size(wanted, units)} fits no offered paper"
        f"{_PANELS_TOO if oversize == 'panels' else ''}: {'; '.join(fits)}",
        Remedy(_OTHERWISE[oversize]),
        kind="no-room",
        row=row.row,
        kit_row=row.kit_row,
        exit=Exit.NO_ROOM,
    )


def find_margin_findings(
    piece: Piece, wanted: SizeRequest, areas: Sequence[PrintArea], units: Units
) -> Iterator[Finding]:
    """What is worth saying of a piece: its margin, its folds, the way its artwork stands; of panels, the first's."""
    if piece.level != "full" and (piece.panel is None or piece.panel.number == 1):
        alone = choose_margins(wanted, areas)
        no_more = "no offered paper takes more at this size"
        if alone is not None and alone != (piece.sides, piece.level):
            no_more += " beside prints of the batch that have less"
        yield _report_margin(piece, wanted, units, no_more)
    yield from _report_creases(piece)
    yield from _report_turned(piece)


def _report_margin(piece: Piece, wanted: SizeRequest, units: Units, no_more: str) -> Finding:
    sides, full = piece.sides, format_length(wanted.tear.total_mm, units)
    if piece.level == "tight":
        return Finding(
            f"tear margin {show_at_most(sides.top.total_mm, units)} instead of {full}: {no_more}",
            "Tear with care, or offer a larger paper.",
            Severity.WARN,
            kind="tight-margin",
            row=piece.row.row,
            kit_row=piece.row.kit_row,
        )
    ticks = "" if has_marks(sides.left) else ", and no tick on those sides"
    return Finding(
        f"tear margin left and right only {show_at_most(sides.left.total_mm, units)}{ticks}: {no_more}",
        "Pad the press under the print and test on scrap first, or offer a larger paper.",
        Severity.WARN,
        kind="thin-margin",
        why="A hard paper edge left and right can mark the cloth.",
        row=piece.row.row,
        kit_row=piece.row.kit_row,
    )


def _report_turned(piece: Piece) -> Iterator[Finding]:
    """Artwork that runs along an arm is supplied as read; standing tall, it was most likely turned already."""
    if piece.up == "top" or piece.ink_h_mm <= TALL * piece.ink_w_mm or piece.panel is not None:
        return
    yield Finding(
        "the artwork stands taller than wide, though it is read along the arm: it seems to be turned already",
        "Supply it as it is read, lying; it is turned on the sleeve. Accept turned-art if it is meant so.",
        Severity.WARN,
        kind="turned-art",
        why="Its length would run across the arm, and its size is held to the sleeve's width.",
        row=piece.row.row,
        kit_row=piece.row.kit_row,
        column="art",
        read=piece.row.art,
    )


def _report_creases(piece: Piece) -> Iterator[Finding]:
    """A fold line outside the ink could not be ticked on the band without misleading the hand."""
    if not (0 <= piece.crease_x_mm <= piece.ink_w_mm and 0 <= piece.crease_y_mm <= piece.ink_h_mm):
        yield Finding(
            f"the centre of the {piece.row.centre} lies outside the ink, so no fold can mark it",
            "Write ink or mass in the column centre, or crop the picture's empty canvas.",
            kind="centre-outside",
            row=piece.row.row,
            kit_row=piece.row.kit_row,
            column="centre",
            read=piece.row.centre,
        )
