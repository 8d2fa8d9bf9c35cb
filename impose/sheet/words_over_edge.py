"""Words that reach over the edge of the garment as it is drawn: a usual garment of its group, which nobody measured."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from impose.errors import Finding, Severity
from impose.profiles.profiles import Profiles
from impose.sheet.garment_faces import FaceShape, PrintSpot, locate_print, make_face_shape
from impose.sheet.piece import Piece, describe_ordered_garment
from impose.units import Box, show_size

_LEAST_MM = 1.0  # less is within what a drawn garment can be trusted to


def find_words_over_edge(piece: Piece, profiles: Profiles) -> Iterator[Finding]:
    """A warning for words wider or taller than the place that the drawn garment has for them."""
    row = piece.row
    if not row.words or row.placement is None:
        return
    placement, wardrobe = profiles.require_placement(row.placement), profiles.wardrobe
    wide, high = piece.finished_size
    shape = make_face_shape(placement.face, row.garment, placement, wardrobe, Box(0, 0, wide, high))
    if shape.face == "other":
        return
    spot = locate_print(placement, row.garment, wardrobe, shape, wide, high)
    beyond, is_high = _measure_beyond(shape, spot)
    if beyond < _LEAST_MM:
        return
    yield Finding(
        _describe_excess(piece, shape, spot, beyond, is_high, profiles.settings.units),
        "Measure the garment; give a smaller size or lower letters if it is as drawn.",
        Severity.WARN,
        "words-over-edge",
        "What lies over a seam or an edge does not press.",
        row=row.row,
        kit_row=row.kit_row,
        column="words",
        read=row.words,
    )


def _measure_beyond(shape: FaceShape, spot: PrintSpot) -> tuple[float, bool]:
    """How far the words reach over the edge that they reach over most, in mm; whether it is above or below."""
    across = max(-shape.width / 2 - spot.box.x, spot.box.right - shape.width / 2)
    down = max(-spot.box.y, spot.box.bottom - shape.length)
    return max(across, down), down > across


def _describe_excess(
    piece: Piece, shape: FaceShape, spot: PrintSpot, beyond: float, is_high: bool, units: Literal["mm", "in"]
) -> str:
    """What is too large for what: along a sleeve words run as the garment is high."""
    size, room = (spot.box.h, shape.length) if is_high else (spot.box.w, shape.width)
    as_read = "high" if is_high != bool(spot.turned) else "wide"
    where = f"a usual one has {show_size(room, units)} there"
    if size <= room:
        where = f"laid as usual, they reach {show_size(beyond, units)} over its edge"
    return f"the words are {show_size(size, units)} {as_read} on {describe_ordered_garment(piece.row)}; {where}"
