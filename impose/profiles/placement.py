"""Placements: where on a garment a print goes, how large it is there, and how much paper stays around it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Literal

from impose.profiles.garment import Garment, GarmentCatalogue
from impose.units import Bare, LengthError, parse_length
from impose.values import FrozenStruct, field, replace

MARKS_MM = 3.0
"""Ticks and label lie in this inner part of the marks band; what is left of the band is blank slack."""

Reading = Literal["upright", "shoulder-down", "cuff-up"]
Face = Literal["front", "back", "left sleeve", "right sleeve", "hood", "other"]
Side = Literal["centre", "left", "right"]


class TearMargin(FrozenStruct):
    """A tear margin in mm, from the ink outwards: kept paper, tear zone, marks band."""

    kept_mm: float
    zone_mm: float
    band_mm: float

    @property
    def total_mm(self) -> float:
        """Ink bounds to the edge of the cell."""
        return round(self.kept_mm + self.zone_mm + self.band_mm, 6)

    @property
    def slack_mm(self) -> float:
        """The blank outer rest of the marks band, which may hang over a printer's unprintable edge."""
        return round(max(0.0, self.band_mm - MARKS_MM), 6)


NORMAL, TIGHT = TearMargin(5.0, 4.0, 5.0), TearMargin(3.0, 3.0, 4.0)
"""The normal and the tight margin: all that is known of how margins are divided (common practice, no source)."""

NORMAL_MM, TIGHT_MM, LEAST_MM = NORMAL.total_mm, TIGHT.total_mm, 5.0
"""Their totals, and the thinnest that still carries marks (1, 1, 3)."""

_TIGHT_BLANK_MM = TIGHT.kept_mm + TIGHT.zone_mm


def split_tear(total_mm: float) -> TearMargin:
    """The tear margin of a total: 14 is 5, 4, 5 and 10 is 3, 3, 4, between them in proportion.

    Above 14 the extra goes to kept paper and tear zone as 5 to 4, since a wider band serves nobody. Below
    10 the slack of the band goes first, down to the 3 mm of marks; then kept paper and tear zone shrink
    alike. The split is the shop's own (common practice, no source). Raises `ValueError` below 5 mm.
    """
    if not total_mm >= LEAST_MM:
        raise ValueError(f"a tear margin is at least {LEAST_MM:g} mm")
    if total_mm > NORMAL_MM:
        band = NORMAL.band_mm
        kept = NORMAL.kept_mm + (total_mm - NORMAL_MM) * NORMAL.kept_mm / (NORMAL.kept_mm + NORMAL.zone_mm)
    elif total_mm >= TIGHT_MM:
        share = (total_mm - TIGHT_MM) / (NORMAL_MM - TIGHT_MM)
        kept = TIGHT.kept_mm + (NORMAL.kept_mm - TIGHT.kept_mm) * share
        band = TIGHT.band_mm + (NORMAL.band_mm - TIGHT.band_mm) * share
    else:
        band = max(MARKS_MM, total_mm - _TIGHT_BLANK_MM)
        kept = (total_mm - band) / 2
    return TearMargin(round(kept, 6), round(total_mm - kept - band, 6), round(band, 6))


def make_thin_side(total_mm: float) -> TearMargin:
    """A side too thin for the tight margin: paper is kept first, then tear zone; marks only where 9 mm allow them."""
    if total_mm >= _TIGHT_BLANK_MM + MARKS_MM:
        return TearMargin(TIGHT.kept_mm, TIGHT.zone_mm, total_mm - _TIGHT_BLANK_MM)
    kept = min(TIGHT.kept_mm, total_mm)
    return TearMargin(kept, total_mm - kept, 0.0)


NAMED_TEARS = {"normal": split_tear(NORMAL_MM), "tight": split_tear(TIGHT_MM)}


class SizeRule(FrozenStruct):
    """How large a print is: it fits inside `width_mm` x `height_mm`, proportions kept; either may be open.

    Measured on the ink as supplied, so the width of a sleeve's line of words runs along the arm.
    `least_mm` and `most_mm` are the range of widths that the trade uses; outside it is worth a finding,
    not a refusal. `limit` says what on the garment keeps the print from being larger.
    """

    width_mm: float | None
    height_mm: float | None
    least_mm: float | None = None
    most_mm: float | None = None
    source: str = ""
    limit: str = ""


class PlacementOffset(FrozenStruct):
    """Where the presser measures from: `usual_mm` from a seam or collar to an edge of the print.

    `own` says that the shop itself has entered it.
    """

    measured_from: str
    measured_to: str
    usual_mm: float
    least_mm: float | None = None
    most_mm: float | None = None
    source: str = ""
    own: bool = False


FROM = (
    "collar",
    "neck seam",
    "shoulder seam",
    "sleeve seam",
    "hem seam",
    "centre line",
    "pocket top",
    "hood edge",
    "cuff",
)
TO = ("top of print", "centre of print", "bottom of print")
"""What a print is measured from, and to which part of it."""


@lru_cache(maxsize=1024)
def spell_offset(offset: PlacementOffset | None) -> str:
    """An offset in the words of a cell: 127 mm from neck seam to top of print; nothing where there is none."""
    if offset is None:
        return ""
    length = f"{offset.usual_mm:.4f}".rstrip("0").rstrip(".")
    return f"{length} mm from {offset.measured_from} to {offset.measured_to}"


def parse_offset(text: str, bare: Bare | None = None) -> PlacementOffset:
    """An offset from such words. Raises `LengthError`."""
    match = re.fullmatch(r"(.+?) from (?:the )?(.+?) to (?:the )?(.+)", " ".join(text.split()), re.IGNORECASE)
    if match is None:
        raise LengthError("not a distance from a seam to the print", _OFFSET_HELP)
    start, end = match[2].casefold(), match[3].casefold()
    if start not in FROM or end not in TO:
        known = ", ".join(FROM if start not in FROM else TO)
        raise LengthError("not a seam or an edge that is measured from or to", f"Known are {known}.")
    return PlacementOffset(start, end, parse_length(match[1], bare), source="said in the order", own=True)


_OFFSET_HELP = "Write it as: 127 mm from neck seam to top of print."


class MeasuringWay(FrozenStruct):
    """Another way of measuring the same place: the offsets by garment that it has of its own."""

    offsets: Mapping[str, PlacementOffset] = field(default_factory=dict)
    across: Mapping[str, PlacementOffset] = field(default_factory=dict)


class PlacementRule(FrozenStruct):
    """A named place on a garment.

    `up` is the word that marks the edge which goes up, or towards the shoulder. `reading` says which way
    the artwork runs: upright, or along the arm from the shoulder down or from the cuff up. `tear` is the
    placement's own margin, if it has one; at `least_side_mm` the left and right margins stop shrinking. `face` is the
    side of the garment that lies up in the press, `side` the wearer's side of its centre line. `ways` are other ways of
    measuring it, by name, and `way` is the one that the shop uses ("" for none of them).
    `below` are placements of the same face that it lies below where a garment carries both. What is pinned holds for
    every garment: an order has said it.
    """

    name: str
    title: str
    up: str
    reading: Reading
    tear: TearMargin | None
    least_side_mm: float
    sizes: Mapping[str, SizeRule]
    offsets: Mapping[str, PlacementOffset] = field(default_factory=dict)
    across: Mapping[str, PlacementOffset] = field(default_factory=dict)
    aliases: tuple[str, ...] = ()
    note: str = ""
    face: Face = "other"
    side: Side = "centre"
    ways: Mapping[str, MeasuringWay] = field(default_factory=dict)
    way: str = ""
    below: tuple[str, ...] = ()
    pinned_drop: PlacementOffset | None = None
    pinned_across: PlacementOffset | None = None

    def pin_place(self, drop: PlacementOffset | None, across: PlacementOffset | None) -> PlacementRule:
        """The placement measured as an order says, where it says it."""
        return self if drop is None and across is None else replace(self, pinned_drop=drop, pinned_across=across)

    def find_size(self, garment: Garment, wardrobe: GarmentCatalogue) -> tuple[SizeRule, str] | None:
        """The size rule for a garment and the name it stands under, or None where no figure is known.

        A kind without figures of its own takes the T-shirt's of the same group; a group falls back only
        where the profile says that the other group's figures hold for it. Nothing is ever scaled.
        """
        for key in _list_size_keys(garment, wardrobe):
            if key in self.sizes:
                return self.sizes[key], key
        return None

    def find_drop(self, garment: Garment, wardrobe: GarmentCatalogue) -> PlacementOffset | None:
        """The drop for the press ticket, or None: then it has to be measured on the garment.

        Unlike a size, a drop does not carry over from the T-shirt to a garment with another collar or a
        hood.
        """
        if self.pinned_drop is not None:
            return self.pinned_drop
        keys = _list_offset_keys(garment, wardrobe)
        way = self.ways.get(self.way)
        return (_find_first(way.offsets, keys) if way else None) or _find_first(self.offsets, keys)

    def find_across(self, garment: Garment, wardrobe: GarmentCatalogue) -> PlacementOffset | None:
        """The sideways distance, from the centre line or as the shop's way says; None where centred or unknown."""
        if self.pinned_across is not None:
            return self.pinned_across
        keys = _list_offset_keys(garment, wardrobe)
        way = self.ways.get(self.way)
        return (_find_first(way.across, keys) if way else None) or _find_first(self.across, keys)


def is_borrowed(key: str, garment: Garment, wardrobe: GarmentCatalogue) -> bool:
    """Whether the rule that stands under `key` was made for another kind or group than the garment's."""
    kinds = wardrobe.list_kind_lineage(garment.kind)
    own_kind = wardrobe.default_kind in kinds or key.startswith(tuple(f"{kind} " for kind in kinds))
    return not own_kind or garment.group not in key.split(" ")


def _find_first(table: Mapping[str, PlacementOffset], keys: list[str]) -> PlacementOffset | None:
    return next((table[key] for key in keys if key in table), None)


def _group_lineage(name: str, wardrobe: GarmentCatalogue) -> list[str]:
    """A group and the groups whose figures hold for it too, nearest first."""
    names: list[str] = []
    while name and name not in names:
        names.append(name)
        name = wardrobe.groups[name].otherwise if name in wardrobe.groups else ""
    return names


def _list_size_keys(garment: Garment, wardrobe: GarmentCatalogue) -> list[str]:
    """The kind's own figures first, even an adult's for a plus size: a pocket is the tighter limit."""
    groups = _group_lineage(garment.group, wardrobe)
    keys: list[str] = []
    for kind in wardrobe.list_kind_lineage(garment.kind):
        for group in groups:
            keys += [f"{kind} {group} {garment.size}", f"{kind} {group}"]
    for group in groups:
        keys += [f"{group} {garment.size}", group]
    return keys


def _list_offset_keys(garment: Garment, wardrobe: GarmentCatalogue) -> list[str]:
    kinds = wardrobe.list_kind_lineage(garment.kind)
    keys: list[str] = []
    for group in _group_lineage(garment.group, wardrobe):
        keys += [f"{kind} {group}" for kind in kinds]
        if wardrobe.default_kind in kinds:
            keys.append(group)
    return keys
