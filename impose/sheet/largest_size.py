"""The largest size that a paper takes, told twice: with the tight margin all round, and with sides as thin as allowed.

The first leaves paper to tear on every side; the second saves nothing but width, and its hard paper edge can mark the
cloth. So the first is what a print is shrunk to, and both are said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from impose.profiles.placement import TIGHT, split_tear
from impose.sheet.margins import PrintArea, SizeRequest, find_largest_size
from impose.units import show_at_most

_SAME_MM = 0.5  # less difference is not worth a sentence


def find_largest_with_tight(wanted: SizeRequest, area: PrintArea, slack_mm: float = math.inf) -> tuple[float, float]:
    """The largest ink size, in proportion, that the paper takes with the tight margin all round; (0, 0) if none."""
    tight = split_tear(min(wanted.tear.total_mm, TIGHT.total_mm))
    room = area.grow_by_slack(min(slack_mm, tight.slack_mm))
    ways = [(room.w, room.h), (room.h, room.w)] if wanted.may_turn else [(room.w, room.h)]
    margins = 2 * tight.total_mm
    scale = max(min((across - margins) / wanted.ink_w_mm, (down - margins) / wanted.ink_h_mm) for across, down in ways)
    return wanted.ink_w_mm * max(0.0, scale), wanted.ink_h_mm * max(0.0, scale)


def find_shrunk_width(wanted: SizeRequest, areas: Sequence[PrintArea]) -> float:
    """The width that a print too large for every paper is shrunk to: the largest with the tight margin, where any."""
    with_tight = max((find_largest_with_tight(wanted, area)[0] for area in areas), default=0.0)
    return with_tight if with_tight > 0 else max((find_largest_size(wanted, area)[0] for area in areas), default=0.0)


def describe_largest(
    wanted: SizeRequest, area: PrintArea, units: Literal["mm", "in"], slack_mm: float = math.inf
) -> str:
    """What the paper takes, in words: 'a4 takes 186 mm × 124 mm with the tight margin, up to 204 mm with bare sides'.

    As it is ordered, so the cloth's allowance is off; rounded down, so that what is said is taken when it is typed.
    `slack_mm` is what the other prints of the batch let hang over an edge.
    """
    tight, bare = find_largest_with_tight(wanted, area, slack_mm), find_largest_size(wanted, area, slack_mm)
    name, thin = area.paper.alias, "bare sides" if wanted.least_side_mm < 1.0 else "thin sides"
    most = _round_size(wanted, bare, units)
    if not most:
        return f"{name} takes nothing"
    usual = _round_size(wanted, tight, units)
    if not usual:
        return f"{name} takes {most} with {thin}"
    more = f", up to {most} with {thin}" if bare[0] - tight[0] >= _SAME_MM else ""
    return f"{name} takes {usual} with the tight margin{more}"


def _round_size(wanted: SizeRequest, size: tuple[float, float], units: Literal["mm", "in"]) -> str:
    """A size as ordered, rounded down; nothing where nothing is left of it."""
    width, height = (show_at_most(mm, units) for mm in wanted.convert_to_worn(*size))
    return "" if f"0 {units}" in (width, height) else f"{width} × {height}"
