"""A garment before anything is on it: its faces, on each the places a print may go, with the usual print of each."""

from __future__ import annotations

from collections.abc import Iterator

from impose.pages.tickets.sentences import describe_offsets
from impose.profiles.garment import Garment
from impose.profiles.placement import Face, PlacementRule, SizeRule
from impose.profiles.profiles import Profiles
from impose.sheet.garment_faces import FaceShape, PrintSpot, locate_print, make_face_shape
from impose.sheet.missing_places import has_place
from impose.units import Box, format_length
from impose.values import FrozenStruct

FACES: tuple[Face, ...] = ("front", "back", "left sleeve", "right sleeve", "hood", "other")
_SQUARE_MM = 90.0
_HIGHER = 1.15  # of its width: a print of unknown height is drawn a little higher than wide


class GarmentPlace(FrozenStruct):
    """A place on a face: where its usual print would lie, and what is known of it.

    `known` says that there is a size for this garment; `own` that the shop measured it.
    """

    placement: PlacementRule
    spot: PrintSpot
    size: str
    offset: str
    why: str
    own: bool
    known: bool


class GarmentFace(FrozenStruct):
    """One face with its places; `shape` is what is drawn."""

    face: Face
    shape: FaceShape
    places: tuple[GarmentPlace, ...]


def list_faces(garment: Garment, profiles: Profiles) -> list[GarmentFace]:
    """The faces of a garment on which something may go, in the order in which people name them."""
    found = []
    for face in FACES:
        placements = [placement for placement in profiles.placements.values() if placement.face == face]
        places = tuple(
            _make_place(placement, garment, profiles)
            for placement in placements
            if has_place(placement, garment.kind, profiles.wardrobe)
        )
        if not places:
            continue
        around = Box(0, 0, _SQUARE_MM, _SQUARE_MM)
        shape = make_face_shape(face, garment, places[0].placement, profiles.wardrobe, around)
        found.append(GarmentFace(face, shape, places))
    return found


def _make_place(placement: PlacementRule, garment: Garment, profiles: Profiles) -> GarmentPlace:
    rule = placement.find_size(garment, profiles.wardrobe)
    width, height = _choose_usual(None if rule is None else rule[0])
    around = Box(0, 0, height, width) if placement.reading != "upright" else Box(0, 0, width, height)
    shape = make_face_shape(placement.face, garment, placement, profiles.wardrobe, around)
    spot = locate_print(placement, garment, profiles.wardrobe, shape, width, height)
    own = any(entry.own for entry in spot.measured)
    why = "your own figure" if own else next((entry.source for entry in spot.measured if entry.source), "")
    units = profiles.settings.units
    size = "" if rule is None else _size_words(rule[0], units)
    offset = "; ".join(describe_offsets(placement, spot, shape, units))
    return GarmentPlace(placement, spot, size, offset, why, own, rule is not None)


def _choose_usual(rule: SizeRule | None) -> tuple[float, float]:
    """A usual print of a place, as the artwork reads."""
    if rule is None:
        return _SQUARE_MM, _SQUARE_MM
    if rule.width_mm is None:
        height = rule.height_mm or _SQUARE_MM
        return height / _HIGHER, height
    high = rule.width_mm * _HIGHER
    return rule.width_mm, min(high, rule.height_mm) if rule.height_mm else high


def _size_words(rule: SizeRule, units: str) -> str:
    parts = list(_describe_sides(rule, units))
    return ", ".join(parts)


def _describe_sides(rule: SizeRule, units: str) -> Iterator[str]:
    if rule.width_mm is not None:
        yield f"{format_length(rule.width_mm, units)} wide"  # type: ignore[arg-type]
        if rule.height_mm is not None:
            yield f"at most {format_length(rule.height_mm, units)} high"  # type: ignore[arg-type]
    elif rule.height_mm is not None:
        yield f"{format_length(rule.height_mm, units)} high"  # type: ignore[arg-type]
