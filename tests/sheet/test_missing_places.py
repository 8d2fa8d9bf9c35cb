"""A hood is on hoodies, a long sleeve on what has long sleeves; a stop, a note or nothing, by what the row says."""

from __future__ import annotations

import pytest

from impose import files
from impose.errors import Severity
from impose.profiles.profiles import load_profiles
from impose.sheet.missing_places import find_missing_places
from impose.values import replace
from sheet.test_job_label import make_piece

PROFILES = load_profiles(files.find_shipped_profiles())
ROW = make_piece(50.0, 50.0).row
STOP, NOTE = Severity.STOP, Severity.NOTE
LONG = ("left-long-sleeve", "right-long-sleeve")
SHORT = ("left-short-sleeve", "right-short-sleeve")


@pytest.mark.parametrize(
    ("garment", "none"),
    [
        # What the garment has not, as anybody knows who wore one; a hood is impossible, sleeves are a habit.
        ("T-shirt adult M", {"hood": STOP} | dict.fromkeys(LONG, NOTE)),
        ("polo adult M", {"hood": STOP} | dict.fromkeys(LONG, NOTE)),
        ("jersey adult M", {"hood": STOP} | dict.fromkeys(LONG, NOTE)),
        ("long-sleeve adult M", {"hood": STOP} | dict.fromkeys(SHORT, NOTE)),
        ("sweatshirt adult M", {"hood": STOP} | dict.fromkeys(SHORT, NOTE)),
        ("hoodie youth M", dict.fromkeys(SHORT, NOTE)),
        ("zip hoodie adult M", dict.fromkeys(SHORT, NOTE)),
        ("adult M", {"hood": STOP}),  # no kind: sleeves are not judged
    ],
)
def test_each_place_a_garment_has_not_is_told(garment: str, none: dict[str, Severity]) -> None:
    worn = PROFILES.wardrobe.read_garment(garment).garment
    for placement in PROFILES.placements:
        row = replace(ROW, placement=placement, garment=worn, row=6, kit_row=2)
        found = list(find_missing_places([row], PROFILES))
        assert [finding.severity for finding in found] == ([none[placement]] if placement in none else []), placement
        for finding in found:
            assert (finding.kind, finding.column, finding.row, finding.kit_row) == ("missing-place", "garment", 6, 2)
            assert finding.read == worn.text
            assert PROFILES.wardrobe.kinds[worn.kind].title in finding.what
            assert ("no hood" in finding.what) == (placement == "hood")
            assert ("other sleeves" in finding.what) == (placement != "hood")


def test_rows_without_a_placement_have_nothing_to_miss_and_each_row_is_told() -> None:
    worn = PROFILES.wardrobe.read_garment("T-shirt adult M").garment
    rows = [
        replace(ROW, placement=placement, garment=worn, row=row)
        for row, placement in ((2, None), (3, "hood"), (4, "left-chest"), (5, "hood"))
    ]
    assert [finding.row for finding in find_missing_places(rows, PROFILES)] == [3, 5]
