"""From a row and its artwork to the printable piece: final size, tear margin, crease lines, which edge goes up.

All geometry here is of the *printed side*: the artwork is already mirrored, so what was its left edge is on the
right. Nothing is turned yet; nesting may turn a whole cell, and layout turns ink and marks with it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from impose.art.prepare import Picture
from impose.errors import Exit, Finding, Severity
from impose.sheet.margins import Level, PrintArea, Sides, Wanted, choose_all, has_marks, largest_that_fits
from impose.shop.orders import Row
from impose.shop.placement import Placement, Tear
from impose.shop.profiles import Profiles
from impose.units import MM_PER_INCH, Box, show_length

Edge = Literal["top", "right", "left"]

# The reading direction says which edge of the artwork, as read, lies towards the shoulder; mirroring swaps the sides.
_UP_AS_PRINTED: dict[str, Edge] = {"upright": "top", "shoulder-down": "right", "cuff-up": "left"}


@dataclass(frozen=True, slots=True)
class Piece:
    """What one row prints, any number of times: a picture at its final size with its tear margin.

    `crease_x_mm` and `crease_y_mm` are measured from the ink's top left corner, as printed.
    """

    row: Row
    picture: Picture
    ink_w_mm: float
    ink_h_mm: float
    sides: Sides
    level: Level
    crease_x_mm: float
    crease_y_mm: float
    up: Edge
    up_word: str
    may_turn: bool

    @property
    def ppi(self) -> float:
        """Pixels per inch at the final size."""
        return (self.picture.ink[2] - self.picture.ink[0]) / self.ink_w_mm * MM_PER_INCH

    @property
    def cell_w_mm(self) -> float:
        """Ink and margin across."""
        return self.ink_w_mm + self.sides.across_mm

    @property
    def cell_h_mm(self) -> float:
        """Ink and margin down."""
        return self.ink_h_mm + self.sides.down_mm

    @property
    def ink(self) -> Box:
        """The ink bounds within the cell."""
        return Box(self.sides.left.total_mm, self.sides.top.total_mm, self.ink_w_mm, self.ink_h_mm)


@dataclass(frozen=True, slots=True)
class Transfer:
    """One copy of a piece: what is pressed once."""

    id: str
    piece: Piece
    copy: int


def garment_words(row: Row) -> str:
    """The garment as the label says it: in the customer's words, or what a blank stands for."""
    return row.garment.text.strip() or f"{row.garment.group} {row.garment.kind}"


@dataclass(frozen=True, slots=True)
class Sizing:
    """What sizes and margins are decided by, beside the row itself."""

    profiles: Profiles
    areas: tuple[PrintArea, ...]
    tear: Tear | None = None  # an option that wins over row, placement and setting
    keep_upright: bool = False
    shrink: bool = False  # make what fits no paper as large as it can be


def ink_size(row: Row, picture: Picture, profiles: Profiles) -> tuple[float, float]:
    """Width and height of the ink in millimetres, proportions kept.

    An explicit width or height wins over the placement; both together are a box to fit inside.
    """
    if row.width_mm is not None or row.height_mm is not None:
        return _fit_inside(picture, row.width_mm, row.height_mm)
    assert row.placement is not None  # the reader refuses a row without any of the three
    found = profiles.placement(row.placement).size_for(row.garment, profiles.wardrobe)
    assert found is not None  # the reader refuses a placement whose size for the garment is not known
    rule, _ = found
    return _fit_inside(picture, rule.width_mm, rule.height_mm)


def _fit_inside(picture: Picture, width_mm: float | None, height_mm: float | None) -> tuple[float, float]:
    left, top, right, bottom = picture.ink
    wide, high = right - left, bottom - top
    scale = min(mm / px for mm, px in ((width_mm, wide), (height_mm, high)) if mm is not None)
    return wide * scale, high * scale


def make_pieces(
    rows: Sequence[Row], pictures: Sequence[Picture], sizing: Sizing
) -> tuple[list[Piece], list[Finding], float]:
    """A piece for every row, the findings on size and margin, and the slack common to all cells.

    A row that fits no offered paper has no piece but a stop among the findings (`Exit.NO_ROOM`), naming for each
    paper the largest size that would fit.
    """
    findings: list[Finding] = []
    wanted = [_wanted(row, picture, sizing) for row, picture in zip(rows, pictures, strict=True)]
    if sizing.shrink:
        wanted = [_shrunk(row, one, sizing, findings) for row, one in zip(rows, wanted, strict=True)]
    chosen, slack = choose_all(wanted, sizing.areas)
    pieces: list[Piece] = []
    for row, picture, one, pair in zip(rows, pictures, wanted, chosen, strict=True):
        if pair is None:
            findings.append(_no_room(row, one, sizing))
            continue
        piece = _piece(row, picture, one, pair, sizing.profiles)
        findings.extend(_margin_findings(piece, one))
        findings.extend(_crease_findings(piece))
        pieces.append(piece)
    return pieces, findings, slack


def number_transfers(pieces: Sequence[Piece]) -> Iterator[Transfer]:
    """T001, T002, …: every copy of every row in the order of the batch."""
    total = sum(piece.row.copies for piece in pieces)
    digits = max(3, len(str(total)))
    number = 0
    for piece in pieces:
        for copy in range(1, piece.row.copies + 1):
            number += 1
            yield Transfer(f"T{number:0{digits}}", piece, copy)


def _placement(row: Row, profiles: Profiles) -> Placement | None:
    return profiles.placement(row.placement) if row.placement is not None else None


def _wanted(row: Row, picture: Picture, sizing: Sizing) -> Wanted:
    width, height = ink_size(row, picture, sizing.profiles)
    placement = _placement(row, sizing.profiles)
    asked = sizing.tear or row.tear or (placement.tear if placement else None) or sizing.profiles.settings.tear
    least_side = placement.least_side_mm if placement else 0.0
    return Wanted(width, height, asked, least_side, row.may_turn and not sizing.keep_upright)


def _shrunk(row: Row, wanted: Wanted, sizing: Sizing, findings: list[Finding]) -> Wanted:
    """The largest size that fits, where nothing fits, with a warning that says from what to what."""
    if choose_all([wanted], sizing.areas)[0][0] is not None:
        return wanted
    width, _ = max((largest_that_fits(wanted, area) for area in sizing.areas), default=(0.0, 0.0))
    if width <= 0:
        return wanted
    # A micrometre less, so that rounding up for the packer cannot put it back over the edge.
    small = replace(wanted, ink_w_mm=width - 0.001, ink_h_mm=(width - 0.001) * wanted.ink_h_mm / wanted.ink_w_mm)
    findings.append(
        Finding(
            f"printed at {_size(small.ink_w_mm, small.ink_h_mm, sizing)} instead of the "
            f"{_size(wanted.ink_w_mm, wanted.ink_h_mm, sizing)} ordered, because no offered paper takes more",
            "Offer a larger paper to print it at the size ordered.",
            Severity.WARN,
            kind="shrunk",
            row=row.row,
        )
    )
    return small


def _size(width: float, height: float, sizing: Sizing) -> str:
    units = sizing.profiles.settings.units
    return f"{show_length(width, units)} × {show_length(height, units)}"


def _piece(row: Row, picture: Picture, wanted: Wanted, pair: tuple[Sides, Level], profiles: Profiles) -> Piece:
    placement = _placement(row, profiles)
    crease_x, crease_y = _creases(row, picture, wanted)
    reading = placement.reading if placement else "upright"
    return Piece(
        row,
        picture,
        wanted.ink_w_mm,
        wanted.ink_h_mm,
        pair[0],
        pair[1],
        crease_x,
        crease_y,
        _UP_AS_PRINTED[reading],
        placement.up if placement else "UP",
        wanted.may_turn,
    )


def _creases(row: Row, picture: Picture, wanted: Wanted) -> tuple[float, float]:
    """The fold lines from the ink's top left corner as printed, so measured from the artwork's right edge."""
    left, top, right, bottom = picture.ink
    centres = {
        "ink": ((left + right) / 2, (top + bottom) / 2),
        "canvas": (picture.width / 2, picture.height / 2),
        "mass": picture.mass,
    }
    x_px, y_px = centres[row.centre]
    scale = wanted.ink_w_mm / (right - left)
    return (right - x_px) * scale, (y_px - top) * scale


def _no_room(row: Row, wanted: Wanted, sizing: Sizing) -> Finding:
    fits = []
    for area in sizing.areas:
        width, height = largest_that_fits(wanted, area)
        room = _size(width, height, sizing) if width > 0 else "nothing"
        fits.append(f"{area.paper.alias} takes {room}")
    return Finding(
        f"a print of {_size(wanted.ink_w_mm, wanted.ink_h_mm, sizing)} fits no offered paper: {'; '.join(fits)}",
        "Give a smaller size, offer a larger paper with -p, use a printer with smaller edges, or ask for "
        "--oversize shrink.",
        kind="no-room",
        row=row.row,
        exit=Exit.NO_ROOM,
    )


def _margin_findings(piece: Piece, wanted: Wanted) -> Iterator[Finding]:
    full, sides = wanted.tear.total_mm, piece.sides
    if piece.level == "tight":
        yield Finding(
            f"tear margin {sides.top.total_mm:g} mm instead of {full:g} mm: no offered paper takes more at this size",
            "Tear with care, or offer a larger paper.",
            Severity.WARN,
            kind="tight-margin",
            row=piece.row.row,
        )
    elif piece.level == "thin":
        ticks = "" if has_marks(sides.left) else ", and no tick on those sides"
        yield Finding(
            f"tear margin left and right only {sides.left.total_mm:.1f} mm{ticks}: no offered paper takes more at "
            "this size",
            "Pad the press under the print and test on scrap first, or offer a larger paper.",
            Severity.WARN,
            kind="thin-margin",
            why="A hard paper edge left and right can mark the cloth.",
            row=piece.row.row,
        )


def _crease_findings(piece: Piece) -> Iterator[Finding]:
    """A fold line outside the ink could not be ticked on the band without misleading the hand."""
    if not (0 <= piece.crease_x_mm <= piece.ink_w_mm and 0 <= piece.crease_y_mm <= piece.ink_h_mm):
        yield Finding(
            f"the centre of the {piece.row.centre} lies outside the ink, so no fold can mark it",
            "Write ink or mass in the column centre, or crop the picture's empty canvas.",
            kind="centre-outside",
            row=piece.row.row,
            column="centre",
            read=piece.row.centre,
        )
