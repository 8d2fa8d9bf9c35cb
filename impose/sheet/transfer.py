"""From a row and its artwork to the printable piece: final size, tear margin, crease lines, which edge goes up.

All geometry here is of the *printed side*: the artwork is already mirrored, so what was its left edge is on the
right. Nothing is turned yet; nesting may turn a whole cell, and layout turns ink and marks with it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal

from impose.art.crop import crop_picture
from impose.art.prepare import PreparedPicture
from impose.errors import Finding
from impose.orders.batch import BatchRow
from impose.profiles.placement import PlacementRule, TearMargin
from impose.profiles.profiles import Profiles
from impose.sheet.largest_size import find_shrunk_width
from impose.sheet.margin_findings import find_margin_findings, report_no_room, report_seam, report_shrunk
from impose.sheet.margins import Level, PrintArea, SizeRequest, TearMargins, choose_all_margins
from impose.sheet.panels import Panel, split_into_panels
from impose.sheet.piece import Edge, Piece, Transfer, describe_ordered_garment
from impose.sheet.sizing import PrintSize, compute_sizes
from impose.values import FrozenStruct, replace

__all__ = [
    "Edge",
    "Piece",
    "SizingRules",
    "Transfer",
    "describe_ordered_garment",
    "make_pieces",
    "number_transfers",
    "request_sizes",
]

# The reading direction says which edge of the artwork, as read, lies towards the shoulder; mirroring swaps the sides.
_UP_AS_PRINTED: dict[str, Edge] = {"upright": "top", "shoulder-down": "right", "cuff-up": "left"}


class SizingRules(FrozenStruct):
    """What sizes and margins are decided by, beside the row itself."""

    profiles: Profiles
    areas: tuple[PrintArea, ...]
    tear: TearMargin | None = None  # an option that wins over row, placement and setting
    keep_upright: bool = False
    oversize: Literal["refuse", "shrink", "panels"] = "refuse"  # what becomes of what fits no paper


def make_pieces(
    rows: Sequence[BatchRow], pictures: Sequence[PreparedPicture], sizing: SizingRules
) -> tuple[list[Piece], list[Finding], float]:
    """A piece for every row, the findings on size and margin, and the slack common to all cells.

    A row that fits no offered paper has no piece but a stop among the findings (`Exit.NO_ROOM`), naming for each
    paper the largest size that would fit.
    """
    sizes, findings = compute_sizes(rows, pictures, sizing.profiles)
    asked = [
        piece
        for row, picture, size in zip(rows, pictures, sizes, strict=True)
        for piece in _request_prints(row, picture, size, sizing, findings)
    ]
    chosen, slack = choose_all_margins([request.wanted for request in asked], sizing.areas)
    # Of several that fit nowhere each may come to need thin sides, which leave nothing to hang over an edge.
    fitting = [pair[0] for pair in chosen if pair is not None]
    spare = 0.0 if chosen.count(None) > 1 else slack if fitting else math.inf
    pieces: list[Piece] = []
    for request, pair in zip(asked, chosen, strict=True):
        if pair is None:
            units = sizing.profiles.settings.units
            findings.append(report_no_room(request.row, request.wanted, sizing.areas, units, sizing.oversize, spare))
            continue
        piece = _make_piece(request, pair, sizing.profiles)
        findings.extend(find_margin_findings(piece, request.wanted, sizing.areas, sizing.profiles.settings.units))
        pieces.append(piece)
    return pieces, findings, slack


def request_sizes(
    rows: Sequence[BatchRow], pictures: Sequence[PreparedPicture], sizing: SizingRules
) -> list[SizeRequest]:
    """What every row's print asks for, whole: its size on paper and its margin."""
    sizes, _ = compute_sizes(rows, pictures, sizing.profiles)
    return [_request_size(row, size, sizing) for row, size in zip(rows, sizes, strict=True)]


class _PrintRequest(FrozenStruct):
    """What has to be made of a row: the whole print, or one of its panels."""

    row: BatchRow
    picture: PreparedPicture
    wanted: SizeRequest
    size: PrintSize
    panel: Panel | None = None


def _request_prints(
    row: BatchRow, picture: PreparedPicture, size: PrintSize, sizing: SizingRules, findings: list[Finding]
) -> Iterator[_PrintRequest]:
    wanted = _request_size(row, size, sizing)
    if sizing.oversize == "refuse" or choose_all_margins([wanted], sizing.areas)[0][0] is not None:
        yield _PrintRequest(row, picture, wanted, size)
    elif sizing.oversize == "shrink":
        yield _PrintRequest(row, picture, _shrink_size(row, wanted, sizing, findings), size)
    else:
        yield from _request_panels(row, picture, wanted, size, sizing, findings)


def _request_panels(
    row: BatchRow,
    picture: PreparedPicture,
    wanted: SizeRequest,
    size: PrintSize,
    sizing: SizingRules,
    findings: list[Finding],
) -> Iterator[_PrintRequest]:
    """The panels of a print that no paper takes whole; the whole, to be refused, where no paper takes panels either."""
    overlap = sizing.profiles.settings.panel_overlap
    parted = split_into_panels(wanted, picture.ink, sizing.areas, overlap)
    if parted is None:
        yield _PrintRequest(row, picture, wanted, size)
        return
    findings.append(report_seam(row, wanted, parted, sizing.profiles.settings.units))
    for request in parted:
        yield _PrintRequest(row, crop_picture(picture, request.ink), request.wanted, size, request.panel)


def number_transfers(pieces: Sequence[Piece]) -> Iterator[Transfer]:
    """T001, T002, …: every copy of every row in the order of the batch."""
    total = sum(piece.row.copies for piece in pieces)
    digits = max(3, len(str(total)))
    number = 0
    for piece in pieces:
        for copy in range(1, piece.row.copies + 1):
            number += 1
            yield Transfer(f"T{number:0{digits}}", piece, copy)


def _find_placement(row: BatchRow, profiles: Profiles) -> PlacementRule | None:
    return profiles.require_placement(row.placement) if row.placement is not None else None


def _request_size(row: BatchRow, size: PrintSize, sizing: SizingRules) -> SizeRequest:
    width, height = size.size_on_paper
    placement = _find_placement(row, sizing.profiles)
    asked = sizing.tear or row.tear or (placement.tear if placement else None) or sizing.profiles.settings.tear
    least_side = placement.least_side_mm if placement else 0.0
    may_turn = row.may_turn and not sizing.keep_upright
    return SizeRequest(width, height, asked, least_side, may_turn, (size.cloth_x, size.cloth_y))


def _shrink_size(row: BatchRow, wanted: SizeRequest, sizing: SizingRules, findings: list[Finding]) -> SizeRequest:
    """The largest size that fits with the tight margin, where nothing fits, with a warning from what to what."""
    width = find_shrunk_width(wanted, sizing.areas)
    if width <= 0:
        return wanted
    # A micrometre less, so that rounding up for the packer cannot put it back over the edge.
    small = replace(wanted, ink_w_mm=width - 0.001, ink_h_mm=(width - 0.001) * wanted.ink_h_mm / wanted.ink_w_mm)
    findings.append(report_shrunk(row, small, wanted, sizing.profiles.settings.units))
    return small


def _make_piece(asked: _PrintRequest, pair: tuple[TearMargins, Level], profiles: Profiles) -> Piece:
    placement = _find_placement(asked.row, profiles)
    crease_x, crease_y = _find_creases(asked)
    reading = placement.reading if placement else "upright"
    return Piece(
        asked.row,
        asked.picture,
        asked.wanted.ink_w_mm,
        asked.wanted.ink_h_mm,
        pair[0],
        pair[1],
        crease_x,
        crease_y,
        _UP_AS_PRINTED[reading],
        placement.up if placement else "UP",
        asked.wanted.may_turn,
        asked.size.cloth_x,
        asked.size.cloth_y,
        asked.panel,
    )


def _find_creases(asked: _PrintRequest) -> tuple[float, float]:
    """The fold lines from the ink's top left corner as printed, so measured from the artwork's right edge.

    A panel folds on the whole's lines where they cross it, else on the join line nearest to them.
    """
    picture, wanted = asked.picture, asked.wanted
    left, top, right, bottom = picture.ink
    if asked.panel is not None:
        return _find_panel_creases(asked.panel)
    centres = {
        "ink": ((left + right) / 2, (top + bottom) / 2),
        "canvas": (picture.width / 2, picture.height / 2),
        "mass": picture.mass,
    }
    x_px, y_px = centres[asked.row.centre]
    return (right - x_px) * wanted.ink_w_mm / (right - left), (y_px - top) * wanted.ink_h_mm / (bottom - top)


def _find_panel_creases(panel: Panel) -> tuple[float, float]:
    """The whole's middle within the panel, or its join line on the way there; from the top left as printed."""
    found = []
    for axis, start, size, whole in (
        ("x", panel.box.x, panel.box.w, panel.whole[0]),
        ("y", panel.box.y, panel.box.h, panel.whole[1]),
    ):
        middle = whole / 2 - start
        joins = [at for name, at in panel.joins if name == axis]
        if not 0 <= middle <= size and joins:
            middle = min(joins, key=lambda at: abs(at - middle))
        found.append(min(max(middle, 0.0), size))
    return panel.box.w - found[0], found[1]
