"""A placement guide, true to size: what is laid on the garment, and how it is parted over sheets of plain paper.

Coordinates are those of the face, in mm of cloth. It is not mirrored: it lies on the garment as that lies up in the
press, and the wearer's left is where the garment has it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from impose.profiles.garment import Garment
from impose.profiles.placement import PlacementOffset, PlacementRule, SizeRule
from impose.profiles.profiles import Profiles
from impose.sheet.garment_faces import FaceShape, PrintSpot, locate_print, make_face_shape
from impose.units import Box
from impose.values import FrozenStruct

EDGE_MM = 10.0
"""What plain printers leave blank on every side, and more (common practice, no source)."""

HEAD_MM, FOOT_MM = 15.0, 17.0  # of each page: what it is, and its ruler
OVERLAP_MM = 12.0
_AROUND_MM = 12.0
_ABOVE_MM = 34.0  # a card's room above the edge that is laid against a seam: for the words on it
_SLEEVE_MM = 45.0


class PlacementGuide(FrozenStruct):
    """A guide: the greatest print of a placement on a garment, in its place; `area` is what the card holds.

    `open_side` names what the greatest size leaves open, "height" or "width": drawn as long as the other.
    """

    placement: PlacementRule
    garment: Garment
    shape: FaceShape
    spot: PrintSpot
    drop: PlacementOffset
    area: Box
    open_side: str = ""

    @property
    def measured_y(self) -> float:
        """Where the drop ends: the print's top, middle or lower edge."""
        box = self.spot.box
        return {"top of print": box.y, "centre of print": box.centre[1]}.get(self.drop.measured_to, box.bottom)


class GuideTile(FrozenStruct):
    """One page: its row and column from 0, and the part of the face on it."""

    row: int
    column: int
    part: Box


class GuideTiles(FrozenStruct):
    """A guide parted over pages of `width` × `height`; `crosses` lie in the overlaps, each with its letter."""

    width: float
    height: float
    rows: int
    columns: int
    tiles: tuple[GuideTile, ...]
    crosses: tuple[tuple[str, float, float], ...]


def make_guide(placement: PlacementRule, garment: Garment, rule: SizeRule, profiles: Profiles) -> PlacementGuide | None:
    """The guide for a placement of a known size; None where nothing says how far from a seam its print lies."""
    wardrobe = profiles.wardrobe
    drop = placement.find_drop(garment, wardrobe)
    width, height, open_side = _greatest_size(rule)
    around = Box(0, 0, height, width) if placement.reading != "upright" else Box(0, 0, width, height)
    shape = make_face_shape(placement.face, garment, placement, wardrobe, around)
    if drop is None or shape.face == "other" or shape.pocket is not None:
        return None
    spot = locate_print(placement, garment, wardrobe, shape, width, height)
    if spot.drop is None:
        return None
    return PlacementGuide(placement, garment, shape, spot, drop, _find_area(shape, spot), open_side)


def _greatest_size(rule: SizeRule) -> tuple[float, float, str]:
    """Width and height as the artwork reads, and the side that is open."""
    if rule.width_mm is None:
        assert rule.height_mm is not None
        return rule.height_mm, rule.height_mm, "width"
    if rule.height_mm is None:
        return rule.width_mm, rule.width_mm, "height"
    return rule.width_mm, rule.height_mm, ""


def _find_area(shape: FaceShape, spot: PrintSpot) -> Box:
    """What the card holds: the print, the centre line, and the seam that it is measured from."""
    box, anchor = spot.box, spot.anchor_y
    left, right = min(box.x, 0.0), max(box.right, 0.0)
    top, bottom = min(box.y, anchor), max(box.bottom, anchor)
    if shape.face in ("front", "back") and 0 < anchor <= shape.collar_y:
        left, right = min(left, -shape.neck), max(right, shape.neck)
        top = min(top, 0.0)
    elif shape.face in ("front", "back"):
        left, right = min(left, -_AROUND_MM), max(right, _AROUND_MM)
    elif shape.face in ("left sleeve", "right sleeve"):
        left, right = min(left, -_SLEEVE_MM), max(right, _SLEEVE_MM)
    elif shape.face == "hood":
        left = -shape.width / 2
    above = _ABOVE_MM if shape.face in ("front", "back") and anchor <= box.y else _AROUND_MM
    area = Box(left, top, right - left, bottom - top)
    return area.inset_by(-_AROUND_MM, -above, -_AROUND_MM, -_AROUND_MM)


def part_guide(area: Box, width: float, height: float) -> GuideTiles:
    """The pages that a guide takes on a paper, which is turned where that takes fewer."""
    upright, turned = (_count_tiles(area, w, h) for w, h in ((width, height), (height, width)))
    if turned[0] * turned[1] < upright[0] * upright[1]:
        width, height, (columns, rows) = height, width, turned
    else:
        columns, rows = upright
    room_w, room_h = _find_page_room(width, height)
    step_x, step_y = room_w - OVERLAP_MM, room_h - OVERLAP_MM
    # What is left over goes to both sides.
    x0 = area.x - (columns * step_x + OVERLAP_MM - area.w) / 2
    y0 = area.y - (rows * step_y + OVERLAP_MM - area.h) / 2
    tiles = tuple(
        GuideTile(row, column, Box(x0 + column * step_x, y0 + row * step_y, room_w, room_h))
        for row in range(rows)
        for column in range(columns)
    )
    return GuideTiles(width, height, rows, columns, tiles, tuple(_list_crosses(tiles, rows, columns)))


def _find_page_room(width: float, height: float) -> tuple[float, float]:
    return width - 2 * EDGE_MM, height - 2 * EDGE_MM - HEAD_MM - FOOT_MM


def _count_tiles(area: Box, width: float, height: float) -> tuple[int, int]:
    """Columns and rows on a page of that size."""
    room_w, room_h = _find_page_room(width, height)
    return (
        max(1, math.ceil((area.w - OVERLAP_MM) / (room_w - OVERLAP_MM) - 1e-9)),
        max(1, math.ceil((area.h - OVERLAP_MM) / (room_h - OVERLAP_MM) - 1e-9)),
    )


def takes_guide(width: float, height: float) -> bool:
    """Whether a page is large enough to be worth printing a part of a guide on."""
    return min(width, height) >= 100.0 and max(width, height) >= 140.0


def _list_crosses(tiles: tuple[GuideTile, ...], rows: int, columns: int) -> Iterator[tuple[str, float, float]]:
    """Two crosses in the middle of each overlap, on both pages that share it."""
    number = 0
    for tile in tiles:
        part, half = tile.part, OVERLAP_MM / 2
        ends = []
        if tile.column < columns - 1:
            ends += [(part.right - half, part.y + part.h * share) for share in (0.25, 0.75)]
        if tile.row < rows - 1:
            ends += [(part.x + part.w * share, part.bottom - half) for share in (0.25, 0.75)]
        for x, y in ends:
            yield _name_cross(number), x, y
            number += 1


def _name_cross(number: int) -> str:
    """A, B, … Z, A2, B2, …"""
    turn, letter = divmod(number, 26)
    return f"{chr(65 + letter)}{turn + 1 if turn else ''}"
