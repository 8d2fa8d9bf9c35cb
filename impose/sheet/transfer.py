"""From a row and its artwork to the printable piece: final size, tear margin, crease lines, which edge goes up.

All geometry here is of the *printed side*: the artwork is already mirrored, so what was its left edge is on the
right. Nothing is turned yet; nesting may turn a whole cell, and layout turns ink and marks with it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from impose.art.crop import cropped
from impose.art.prepare import Picture
from impose.errors import Exit, Finding, Severity
from impose.sheet.margins import Level, PrintArea, Sides, Wanted, choose_all, has_marks, largest_that_fits
from impose.sheet.panels import Panel, Parted, part
from impose.sheet.sizing import Sized, sized
from impose.shop.orders import Row
from impose.shop.placement import Placement, Tear
from impose.shop.profiles import Profiles
from impose.units import MM_PER_INCH, Box, show_length

Edge = Literal["top", "right", "left"]

TALL = 1.5
"""Times as tall as wide: a word or a line of them never is (common practice, no source)."""

# The reading direction says which edge of the artwork, as read, lies towards the shoulder; mirroring swaps the sides.
_UP_AS_PRINTED: dict[str, Edge] = {"upright": "top", "shoulder-down": "right", "cuff-up": "left"}


@dataclass(frozen=True, slots=True)
class Piece:
    """What one row prints, any number of times: a picture at its final size with its tear margin.

    `crease_x_mm` and `crease_y_mm` are measured from the ink's top left corner, as printed. `cloth_x` and `cloth_y` are
    what the ink is larger by than the finished print, along the artwork's width and height. A print in several panels
    is a piece for each, and `panel` says which.
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
    cloth_x: float = 1.0
    cloth_y: float = 1.0
    panel: Panel | None = None

    @property
    def worn(self) -> tuple[float, float]:
        """Width and height of the finished print, the whole of it, the cloth's allowance taken off."""
        width, height = self.panel.whole if self.panel else (self.ink_w_mm, self.ink_h_mm)
        return width / self.cloth_x, height / self.cloth_y

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
    oversize: Literal["refuse", "shrink", "panels"] = "refuse"  # what becomes of what fits no paper


def make_pieces(
    rows: Sequence[Row], pictures: Sequence[Picture], sizing: Sizing
) -> tuple[list[Piece], list[Finding], float]:
    """A piece for every row, the findings on size and margin, and the slack common to all cells.

    A row that fits no offered paper has no piece but a stop among the findings (`Exit.NO_ROOM`), naming for each
    paper the largest size that would fit.
    """
    sizes, findings = sized(rows, pictures, sizing.profiles)
    asked = [
        piece
        for row, picture, size in zip(rows, pictures, sizes, strict=True)
        for piece in _asked(row, picture, size, sizing, findings)
    ]
    chosen, slack = choose_all([one.wanted for one in asked], sizing.areas)
    pieces: list[Piece] = []
    for one, pair in zip(asked, chosen, strict=True):
        if pair is None:
            findings.append(_no_room(one.row, one.wanted, sizing))
            continue
        piece = _piece(one, pair, sizing.profiles)
        findings.extend(_margin_findings(piece, one.wanted))
        findings.extend(_crease_findings(piece))
        findings.extend(_turned_findings(piece))
        pieces.append(piece)
    return pieces, findings, slack


def sizes_of(rows: Sequence[Row], pictures: Sequence[Picture], sizing: Sizing) -> list[Wanted]:
    """What every row's print asks for, whole: its size on paper and its margin."""
    sizes, _ = sized(rows, pictures, sizing.profiles)
    return [_wanted(row, size, sizing) for row, size in zip(rows, sizes, strict=True)]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What has to be made of a row: the whole print, or one of its panels."""

    row: Row
    picture: Picture
    wanted: Wanted
    size: Sized
    panel: Panel | None = None


def _asked(row: Row, picture: Picture, size: Sized, sizing: Sizing, findings: list[Finding]) -> Iterator[_Asked]:
    wanted = _wanted(row, size, sizing)
    if sizing.oversize == "refuse" or choose_all([wanted], sizing.areas)[0][0] is not None:
        yield _Asked(row, picture, wanted, size)
    elif sizing.oversize == "shrink":
        yield _Asked(row, picture, _shrunk(row, wanted, sizing, findings), size)
    else:
        yield from _in_panels(row, picture, wanted, size, sizing, findings)


def _in_panels(
    row: Row, picture: Picture, wanted: Wanted, size: Sized, sizing: Sizing, findings: list[Finding]
) -> Iterator[_Asked]:
    """The panels of a print that no paper takes whole; the whole, to be refused, where no paper takes panels either."""
    overlap = sizing.profiles.settings.panel_overlap
    parted = part(wanted, picture.ink, sizing.areas, overlap)
    if parted is None:
        yield _Asked(row, picture, wanted, size)
        return
    findings.append(_seam(row, wanted, parted, sizing))
    for one in parted:
        yield _Asked(row, cropped(picture, one.ink), one.wanted, size, one.panel)


def _seam(row: Row, wanted: Wanted, parted: Sequence[Parted], sizing: Sizing) -> Finding:
    units = sizing.profiles.settings.units
    first = min(parted, key=lambda one: one.panel.press).panel
    return Finding(
        f"a print of {_size(wanted.ink_w_mm, wanted.ink_h_mm, sizing)} fits no offered paper and is parted into "
        f"{len(parted)} panels that overlap by {show_length(first.overlap_mm, units)}; panel {first.number} is pressed "
        "first",
        "Offer a larger paper or a roll to print it whole; lay the join lines together with care, and test on scrap.",
        Severity.WARN,
        kind="panels",
        why="A seam shows: where panels overlap the cloth is heated and dyed twice.",
        row=row.row,
    )


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


def _wanted(row: Row, size: Sized, sizing: Sizing) -> Wanted:
    width, height = size.paper
    placement = _placement(row, sizing.profiles)
    asked = sizing.tear or row.tear or (placement.tear if placement else None) or sizing.profiles.settings.tear
    least_side = placement.least_side_mm if placement else 0.0
    return Wanted(width, height, asked, least_side, row.may_turn and not sizing.keep_upright)


def _shrunk(row: Row, wanted: Wanted, sizing: Sizing, findings: list[Finding]) -> Wanted:
    """The largest size that fits, where nothing fits, with a warning that says from what to what."""
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


def _piece(asked: _Asked, pair: tuple[Sides, Level], profiles: Profiles) -> Piece:
    placement = _placement(asked.row, profiles)
    crease_x, crease_y = _creases(asked)
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


def _creases(asked: _Asked) -> tuple[float, float]:
    """The fold lines from the ink's top left corner as printed, so measured from the artwork's right edge.

    A panel folds on the whole's lines where they cross it, else on the join line nearest to them.
    """
    picture, wanted = asked.picture, asked.wanted
    left, top, right, bottom = picture.ink
    if asked.panel is not None:
        return _panel_creases(asked.panel)
    centres = {
        "ink": ((left + right) / 2, (top + bottom) / 2),
        "canvas": (picture.width / 2, picture.height / 2),
        "mass": picture.mass,
    }
    x_px, y_px = centres[asked.row.centre]
    return (right - x_px) * wanted.ink_w_mm / (right - left), (y_px - top) * wanted.ink_h_mm / (bottom - top)


def _panel_creases(panel: Panel) -> tuple[float, float]:
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


def _no_room(row: Row, wanted: Wanted, sizing: Sizing) -> Finding:
    fits = []
    for area in sizing.areas:
        width, height = largest_that_fits(wanted, area)
        room = _size(width, height, sizing) if width > 0 else "nothing"
        fits.append(f"{area.paper.alias} takes {room}")
    return Finding(
        f"a print of {_size(wanted.ink_w_mm, wanted.ink_h_mm, sizing)} fits no offered paper: {'; '.join(fits)}",
        "Give a smaller size, offer a larger paper with -p, use a printer with smaller edges, or ask for "
        "--oversize shrink or --oversize panels.",
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


def _turned_findings(piece: Piece) -> Iterator[Finding]:
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
        column="art",
        read=piece.row.art,
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
