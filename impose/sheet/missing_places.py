"""Whether a garment has the place that a print is for: a hood, a sleeve of that length, as its kind has them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from impose.errors import Finding, Severity
from impose.orders.batch import BatchRow
from impose.profiles.garment import GarmentCatalogue
from impose.profiles.placement import PlacementRule
from impose.profiles.profiles import Profiles
from impose.sheet.garment_faces import LONG_SLEEVED

_WHY = "A print made for another garment does not lie where it should, and a spoiled garment needs a new blank."


def has_place(placement: PlacementRule, kind: str, wardrobe: GarmentCatalogue) -> bool:
    """Whether a kind of garment has such a place: a hood only a hoodie, a long sleeve only what has one."""
    lineage = wardrobe.list_kind_lineage(kind)
    if placement.face == "hood":
        return "hoodie" in lineage
    if "long-sleeve" in placement.name:
        return not LONG_SLEEVED.isdisjoint(lineage)
    return "short-sleeve" not in placement.name or LONG_SLEEVED.isdisjoint(lineage)


def find_missing_places(rows: Sequence[BatchRow], profiles: Profiles) -> Iterator[Finding]:
    """A stop for a hood that the garment has not, a note for sleeves of another length than its kind has as a rule.

    Sleeves are judged where the row names a kind of garment: the shorthand of many shops leaves it out.
    """
    for row in rows:
        placement = profiles.placements.get(row.placement or "")
        if placement is None or has_place(placement, row.garment.kind, profiles.wardrobe):
            continue
        title = profiles.wardrobe.kinds[row.garment.kind].title
        if placement.face == "hood":
            what, severity = f"a {title} has no hood to print on", Severity.STOP
        elif profiles.wardrobe.read_garment(row.garment.text).kind_named:
            what, severity = f"{placement.title} on a {title}, which has other sleeves as a rule", Severity.NOTE
        else:
            continue
        remedy = "Name the garment as it is (hoodie, long-sleeved T-shirt), or choose another placement."
        yield Finding(
            what,
            remedy,
            severity,
            "missing-place",
            _WHY,
            row=row.row,
            kit_row=row.kit_row,
            column="garment",
            read=row.garment.text or None,
        )
