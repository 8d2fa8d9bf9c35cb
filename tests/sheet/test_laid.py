"""Prints that cannot be on one garment: judged by boxes worked out here from the trade's own figures, in inches."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from impose import files
from impose.errors import Finding, Severity
from impose.profiles.profiles import load_profiles
from impose.remedies import Remedy
from impose.run import Options, check, plan
from impose.sheet.press_steps import make_tickets

HEADING = "order,wearer,art,placement,garment,copies,width,height,accept"
PICTURES = {"a.png": ("ellipse", 400, 400), "b.png": ("gradient", 400, 400), "wide.png": ("noise", 800, 100)}
Found = dict[str, list[Finding]]


@pytest.fixture
def said(batch: Callable[..., Path]) -> Callable[..., Found]:
    def run(*lines: str, heading: str = HEADING, **settings: object) -> Found:
        path = batch(list(lines), PICTURES, heading)
        options = Options(settings={"papers": ["roll-24in"], "printer": "borderless"} | settings, cache=False)
        found: Found = {}
        for finding in check([path], options).findings:
            found.setdefault(finding.kind, []).append(finding)
        return found

    return run


def left_chest(width: float, height: float, drop: float = 3.0, across: float = 3.5) -> tuple[float, ...]:
    """Left, top, right, bottom in inches from centre line and collar (trade pages: 3 in drop, 3.5 in across)."""
    return across - width / 2, drop, across + width / 2, drop + height


def centred(width: float, height: float, drop: float) -> tuple[float, ...]:
    return -width / 2, drop, width / 2, drop + height


def common(one: tuple[float, ...], other: tuple[float, ...]) -> tuple[float, float]:
    return min(one[2], other[2]) - max(one[0], other[0]), min(one[3], other[3]) - max(one[1], other[1])


@pytest.mark.parametrize("front", [2.0, 3.0, 3.4, 3.7, 4.5, 6.0, 9.0])
def test_front_and_chest_stop_where_their_boxes_meet(said, front: float) -> None:
    """A square of so many inches at full front (2.5 in below the collar), 3.5 in square at the left chest."""
    found = said(
        f"A,,a.png,full-front,T-shirt adult M,1,{front} in,,size-unusual",
        "A,,b.png,left-chest,T-shirt adult M,1,3.5 in,,",
    )
    wide, high = common(centred(front, front, 2.5), left_chest(3.5, 3.5))
    assert ("prints-overlap" in found) == (wide > 1 / 25.4 and high > 1 / 25.4)
    if "prints-overlap" in found:
        (one,) = found["prints-overlap"]
        assert one.severity is Severity.STOP
        assert (one.row, one.column) == (3, "wearer")
        assert "full front (row 2)" in one.what
        assert f"{round(wide * 25.4)} mm × {round(high * 25.4)} mm" in one.what


@pytest.mark.parametrize("garment", ["T-shirt adult M", "hoodie adult M", "polo youth M"])
def test_a_full_back_begins_below_the_name_above_it(batch: Callable[..., Path], garment: str) -> None:
    """Name over number is the commonest back of a team (common practice): an inch between them, nothing stops."""
    lines = [f"A,Ada,wide.png,upper-back,{garment},1,8 in,,", f"A,Ada,a.png,full-back,{garment},1,8 in,,"]
    made = plan([batch(lines, PICTURES, HEADING)], Options(settings={"papers": ["a3"]}, cache=False))
    (ticket,) = make_tickets(made.batch.rows, made.layout, made.profiles)
    name, number = sorted((step.spot for step in ticket.steps), key=lambda spot: spot.box.y)
    assert name.box.h == pytest.approx(25.4)  # 8 in wide, eight times as wide as high
    assert number.box.y - name.box.bottom == pytest.approx(25.4)
    assert number.drop.usual_mm - name.drop.usual_mm == pytest.approx(50.8)


def test_different_sides_never_meet(said) -> None:
    found = said("A,,a.png,full-front,T-shirt,1,9 in,,", "A,,b.png,full-back,T-shirt,1,11 in,,")
    assert "prints-overlap" not in found


def test_two_wearers_have_a_garment_each(said) -> None:
    found = said("A,Ada,a.png,full-front,T-shirt,1,9 in,,", "A,Ben,b.png,left-chest,T-shirt,1,,,")
    assert "prints-overlap" not in found
    assert "like-garments" not in found


def test_what_is_meant_within_another_print_is_accepted(said) -> None:
    lines = ["A,Ada,a.png,full-front,T-shirt,1,9 in,,", "A,Ada,b.png,left-chest,T-shirt,1,,,prints-overlap"]
    assert said(*lines)["prints-overlap"][0].severity is Severity.WARN


def test_equal_copies_without_a_wearer_make_like_garments(said) -> None:
    found = said("A,,a.png,full-back,hoodie adult M,4,11 in,,", "A,,b.png,left-chest,hoodie adult M,4,,,")
    assert "prints-overlap" not in found
    assert "4 like garments" in found["like-garments"][0].what
    assert found["like-garments"][0].rows == (2, 3)


def test_unequal_copies_without_a_wearer_ask_which_garments_are_meant(said) -> None:
    found = said("A,,a.png,full-back,hoodie adult M,4,11 in,,", "A,,b.png,left-chest,hoodie adult M,3,,,")
    (one,) = found["which-garment"]
    assert "column wearer" in one.remedy
    assert "4 × full back, 3 × left chest" in one.what


def test_the_smallest_garment_of_the_group_decides(said, tmp_path: Path) -> None:
    """In from the sleeve seam a chest print drifts to the middle on small sizes (common practice): 5.5 in of shoulders
    15.35 in wide (390 mm) leave its middle 2.18 in from the centre line, of 460 mm 3.56 in."""
    smallest, usual = 390 / 25.4 / 2 - 5.5, 460 / 25.4 / 2 - 5.5
    chest = 4.0
    front = 2 * (usual - chest / 2) - 0.2
    assert smallest - chest / 2 < front / 2 < usual - chest / 2
    own = tmp_path / "own"
    own.mkdir()
    (own / "placements.toml").write_text('[left-chest]\nway = "sleeve-seam"\n', "utf-8")
    lines = [
        f"A,Ada,a.png,centre-chest,hoodie adult XL,1,{front} in,,size-unusual",
        f"A,Ada,b.png,left-chest,hoodie adult XL,1,{chest} in,,",
    ]
    assert "prints-overlap" not in said(*lines)
    found = check([tmp_path / "evening.csv"], Options(profiles_dir=own, cache=False)).findings
    assert "prints-overlap" in {finding.kind for finding in found}


@pytest.mark.parametrize("text", ["zip hoodie adult M", "hoodie adult M, zip", "zip-up hoodie youth M"])
@pytest.mark.parametrize(
    ("placement", "across"), [("full-front", True), ("centre-chest", True), ("left-chest", False), ("full-back", False)]
)
def test_nothing_is_printed_across_a_zip(said, text: str, placement: str, across: bool) -> None:
    """Common practice, no source: nothing is printed across the zip; chest and back are."""
    found = said(f'A,Ada,a.png,{placement},"{text}",1,2.75 in,,size-unusual')
    assert ("across-zip" in found) == across
    assert load_profiles(files.find_shipped_profiles()).wardrobe.read_garment(text).garment.kind == "zip-hoodie"


def test_a_chest_print_that_reaches_the_zip_stops(said) -> None:
    """Its middle 3.5 in from the zip: from 6.22 in on it reaches the zip's tape, 10 mm from the middle."""
    assert "across-zip" not in said("A,Ada,a.png,left-chest,zip hoodie adult M,1,6.1 in,,size-unusual")
    assert "across-zip" in said("A,Ada,a.png,left-chest,zip hoodie adult M,1,6.3 in,,size-unusual")


def test_a_pullover_has_no_zip(said) -> None:
    assert "across-zip" not in said("A,Ada,a.png,full-front,hoodie adult M,1,8 in,,size-unusual")


def test_a_fitted_hoodie_warns_of_the_adult_figure_and_asks_for_the_shops_own(said) -> None:
    (one,) = said("A,Ada,wide.png,full-front,hoodie women M,1,,,")["size-borrowed"]
    assert one.severity is Severity.WARN
    assert one.remedy == Remedy("enter-figure", placement="full-front", garment="hoodie women")
    (other,) = said("A,Ada,wide.png,full-front,hoodie 3XL,1,,,")["size-borrowed"]
    assert other.severity is Severity.NOTE  # print shops commonly print one size on all adult sizes


def test_no_garment_is_said_to_be_made_of_rows_that_are_refused(said) -> None:
    """The note on like garments of the last order stays; of the first, whose prints overlap, only the stop is told."""
    found = said(
        "A,,a.png,full-front,T-shirt,1,9 in,,", "A,,b.png,left-chest,T-shirt,1,,,",
        "B,,a.png,full-back,T-shirt,1,9 in,,", "B,,b.png,left-chest,T-shirt,1,,,",
    )  # fmt: skip
    (stop,) = found["prints-overlap"]
    assert stop.row == 3
    assert [note.row for note in found["like-garments"]] == [4]


@pytest.mark.parametrize(
    ("garment", "placement", "severity"),
    [
        ("T-shirt adult L", "hood", Severity.STOP),
        ("zip hoodie adult L", "hood", None),
        ("T-shirt adult L", "left-long-sleeve", Severity.NOTE),
        ("long-sleeved T-shirt adult L", "left-long-sleeve", None),
        ("hoodie adult L", "right-short-sleeve", Severity.NOTE),
        ("adult L", "left-long-sleeve", None),
    ],
)
def test_a_place_that_the_garment_has_not_is_told(said, garment: str, placement: str, severity) -> None:
    """A hood is on a hoodie alone; sleeves of T-shirts are short, those of hoodies long, as their names say."""
    line = f"A,Ada,a.png,{placement},{garment},1,60 mm,,"
    assert [one.severity for one in said(line).get("missing-place", [])] == ([severity] if severity else [])
    if severity is Severity.STOP:
        assert said(f"{line}missing-place")["missing-place"][0].severity is Severity.WARN
