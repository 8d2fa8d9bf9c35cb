"""Every limit of what a size may be, at the limit and just beyond it; and sheets, bags and answers told apart.

Limits are those of the page of findings and of the settings (120, 150 and 100 pixels an inch, 0.5 mm, 10 mm; common
practice, no source).
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from impose import files
from impose.errors import Finding, Severity
from impose.profiles.profiles import load_profiles
from impose.sheet.agreement import Agreement, compare_with_agreement, describe_shown, group_shown_by_order
from impose.sheet.alike_sheets import AlikeSheets, group_alike_sheets
from impose.sheet.margins import TearMargins
from impose.sheet.packing import list_packed_orders
from impose.sheet.panels import Panel
from impose.sheet.size_findings import find_size_findings, place_findings, place_on_print
from impose.units import Box
from impose.values import replace
from sheet.test_bill import picture
from sheet.test_job_label import make_piece

PROFILES = load_profiles(files.find_shipped_profiles())
WARN, NOTE = Severity.WARN, Severity.NOTE
INCH = 25.4


def make_print(w: float = 100.0, h: float = 50.0, *, px: tuple[int, int, int, int] | None = None, facts: Any = None,
               **row: Any) -> Any:  # fmt: skip
    piece = make_piece(w, h)
    made = replace(picture(1.0), ink=px or (0, 0, 2000, 1000))
    if facts:
        made = replace(made, facts=replace(made.facts, **facts))
    return replace(piece, picture=made, row=replace(piece.row, garment=GARMENT, **{"width_mm": w, **row}))


GARMENT = PROFILES.wardrobe.read_garment("T-shirt adult M").garment


def told(kind: str, *pieces: Any, profiles: Any = PROFILES) -> list[Finding]:
    return [finding for finding in find_size_findings(pieces, profiles) if finding.kind.endswith(kind)]


@pytest.mark.parametrize(
    ("pixels", "kind", "severity", "limit"),
    [
        # 1 inch of print: pixels are pixels an inch.
        (150, None, None, 0), (149, "low-resolution", NOTE, 150), (120, "low-resolution", NOTE, 150),
        (119, "low-resolution", WARN, 120), (100, "low-resolution", WARN, 120), (99, "very-low-resolution", WARN, 100),
    ],
)  # fmt: skip
def test_pixels_an_inch_at_each_limit(pixels: int, kind: str | None, severity: Any, limit: int) -> None:
    found = told("low-resolution", make_print(INCH, INCH, px=(5, 5, 5 + pixels, 5 + pixels)))
    assert [(f.kind, f.severity) for f in found] == ([] if kind is None else [(kind, severity)])
    if found:
        assert f"{pixels} pixels an inch at 25 mm wide, under {limit}" in found[0].what
        assert ("single pixels will show" in found[0].what) == (limit == 100)
        # Enough for a note in place of a warning: 120 an inch, rounded up to tens; 150 for no note.
        assert f"its ink {max(limit, 120)} pixels wide or more" in found[0].remedy
        largest = INCH * pixels / max(limit, 120)
        assert f"at most {int(largest * 10) / 10:g} mm wide" in found[0].remedy


def thin(*parts: tuple[float, float]) -> tuple[Any, ...]:
    """Parts by their width and length in mm, at 20 pixels a mm."""
    return tuple(
        SimpleNamespace(width=width * 20, length=length * 20, box=(100, 100, 300, 200)) for width, length in parts
    )


@pytest.mark.parametrize(
    ("parts", "severity"),
    [
        ([(0.3, 3.9)], None), ([(0.3, 4.0)], NOTE), ([(0.29, 20.0)], WARN), ([(0.3, 20.0)], NOTE),
        ([(0.29, 19.9)], NOTE),
        ([(0.48, 50.0)], NOTE), ([(0.49, 50.0)], None), ([(0.5, 50.0)], None), ([], None),
        # A little that is very thin, then more that is less thin: the narrowest of which there is enough.
        ([(0.1, 1.0), (0.4, 30.0)], NOTE), ([(0.1, 1.0), (0.5, 30.0)], None),
    ],
)  # fmt: skip
@pytest.mark.parametrize(("kind", "fact"), [("thin-stroke", "strokes"), ("thin-gap", "gaps")])
def test_strokes_and_gaps_at_each_limit(parts: Any, severity: Any, kind: str, fact: str) -> None:
    found = told(kind, make_print(facts={fact: thin(*parts)}))
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])
    for finding in found:
        assert finding.mm == (5.0, 5.0, 15.0, 10.0), "20 pixels are a millimetre"
        assert finding.what.startswith("strokes of") == (fact == "strokes")


@pytest.mark.parametrize(("kept", "severity"), [(5.0, NOTE), (4.9, WARN)])
def test_straight_edges_are_worse_with_less_paper_on_their_own_side(kept: float, severity: Any) -> None:
    """What is left on the artwork is right on the mirrored paper."""
    normal = TearMargins.make_even(make_piece(10, 10).sides.top)
    short = replace(normal.left, kept_mm=kept)
    for side, sides in (("left", replace(normal, right=short)), ("right", replace(normal, left=short)),
                        ("top", replace(normal, top=short)), ("bottom", replace(normal, bottom=short))):  # fmt: skip
        piece = replace(make_print(facts={"straight": (side,)}), sides=sides)
        assert [finding.severity for finding in told("straight-edge", piece)] == [severity], side
        for other in {"left", "right", "top", "bottom"} - {side}:
            piece = replace(make_print(facts={"straight": (other,)}), sides=sides)
            assert [finding.severity for finding in told("straight-edge", piece)] == [NOTE]
    words = make_print(facts={"straight": ("left",)}, words="ADA")
    assert told("straight-edge", words) == []


def test_a_size_far_from_what_a_placement_takes_is_asked_about() -> None:
    found = PROFILES.require_placement("left-chest").find_size(GARMENT, PROFILES.wardrobe)
    assert found is not None
    least, most = found[0].least_mm, found[0].most_mm
    assert least is not None
    assert most is not None
    for width, height, column, words in (
        (most * 1.25 - 0.01, 20.0, "width", ""), (most * 1.25 + 0.01, 20.0, "width", "wide, far over the"),
        (least / 1.5 + 0.01, 20.0, "width", ""), (least / 1.5 - 0.01, 20.0, "width", "at its longest, far under the"),
        # Tall and narrow: the longer side counts.
        (20.0, least / 1.5 + 0.01, "height", ""), (20.0, least / 1.5 - 0.01, "height", "at its longest, far under"),
    ):  # fmt: skip
        given = {"width_mm": width, "height_mm": None} if column == "width" else {"width_mm": None, "height_mm": height}
        pieces = told("size-unusual", make_print(width, height, placement="left-chest", **given))
        assert [(f.column, words in f.what) for f in pieces] == ([(column, True)] if words else [])
    assert told("size-unusual", make_print(9, 9, placement="left-chest", width_mm=None)) == [], "the placement's own"
    for longer, is_told in ((10.0, False), (9.99, True)):
        assert bool(told("size-unusual", make_print(longer, 5.0))) == is_told
        assert bool(told("size-unusual", make_print(5.0, longer))) == is_told


def test_a_print_is_held_against_the_platen_and_its_border() -> None:
    """16 × 20 in with a border of 1 in: 14 × 18 in are within, to the hair of a rounded inch."""
    for w, h, severity, words in (
        (14.0, 18.0, None, ""), (18.0, 14.0, None, ""), (14.1, 18.0, NOTE, "within the 25.4 mm border of"),
        (16.0, 20.0, NOTE, "within the 25.4 mm border of"), (16.1, 20.0, WARN, "over the edge of"),
    ):  # fmt: skip
        found = told("platen", make_print(w * INCH, h * INCH))
        assert [finding.severity for finding in found] == ([] if severity is None else [severity])
        assert all(words in finding.what for finding in found)


def test_one_artwork_at_two_sizes_is_said_once_and_worse_on_like_garments() -> None:
    """A hundredth apart is one size; of one order and garment before all others; of many the first pair."""

    def lay(row: int, wide: float, order: str = "A", text: str = "T-shirt adult M") -> Any:
        garment = PROFILES.wardrobe.read_garment(text).garment
        piece = make_print(wide, 50.0, order=order)
        return replace(piece, row=replace(piece.row, row=row, garment=garment, placement="left-chest"))

    def pairs(*pieces: Any) -> list[tuple[Severity, int | None]]:
        return [(finding.severity, finding.row) for finding in told("two-sizes", *pieces)]

    assert pairs(lay(2, 100.0), lay(3, 100.0)) == []
    assert pairs(lay(2, 100.0), lay(3, 99.0)) == []
    assert pairs(lay(2, 100.0), lay(3, 98.9)) == [(WARN, 3)]
    assert pairs(lay(2, 100.0), lay(3, 90.0, "B")) == [(NOTE, 3)]
    assert pairs(lay(2, 100.0), lay(3, 90.0, text="hoodie adult M")) == [(NOTE, 3)]
    assert pairs(lay(2, 100.0), lay(3, 90.0, text="T-shirt youth M")) == [], "another group has another size"
    assert pairs(lay(2, 100.0, "B"), lay(3, 90.0), lay(4, 80.0)) == [(WARN, 4)]
    (said,) = told("two-sizes", lay(2, 100.0), lay(3, 90.0))
    assert said.what == "the same artwork is 100 mm and 90 mm wide in rows 2 and 3"
    # Of a print in panels the whole counts, and of one made larger for its cloth what is worn.
    half = replace(lay(3, 60.0), panel=Panel(1, 2, 1, Box(0, 0, 60, 50), (100.0, 50.0), 3.0, ()))
    assert pairs(lay(2, 100.0), half) == []
    (said,) = told("two-sizes", lay(2, 90.0), half)
    assert said.what == "the same artwork is 90 mm and 100 mm wide in rows 2 and 3"
    assert pairs(lay(2, 100.0), replace(lay(3, 103.0), cloth_x=1.03)) == []


def test_a_place_on_the_artwork_becomes_one_on_the_print_as_far_as_it_lies_on_it() -> None:
    piece = make_print(100.0, 50.0, px=(100, 200, 2100, 1200))
    for px, mm in (
        ((100, 200, 2100, 1200), (0.0, 0.0, 100.0, 50.0)), ((600, 700, 1100, 900), (25.0, 25.0, 50.0, 35.0)),
        ((0, 0, 300, 400), (0.0, 0.0, 10.0, 10.0)), ((2000, 1100, 9999, 9999), (95.0, 45.0, 100.0, 50.0)),
        ((0, 0, 100, 400), None), ((2100, 300, 2200, 400), None), ((300, 0, 400, 200), None), (None, None),
    ):  # fmt: skip
        assert place_on_print(Finding("x", px=px), piece).mm == mm
    kept = Finding("x", px=(0, 0, 5, 5), mm=(1, 1, 2, 2))
    assert place_on_print(kept, piece) is kept
    # Of a kit's prints it is the one of its row there, else the one whose artwork it names, else the last.
    prints = [replace(make_print(w, 50.0), row=replace(piece.row, row=4, kit_row=kit, art=art))
              for w, kit, art in ((100.0, 2, "owl"), (200.0, 3, "fox"), (300.0, 4, "owl"))]  # fmt: skip
    for finding, wide in (
        (Finding("x", row=4, kit_row=3, px=(0, 0, 2000, 1000)), 200.0),
        (Finding("x", row=4, read="fox", px=(0, 0, 2000, 1000)), 200.0),
        (Finding("x", row=4, read="owl", px=(0, 0, 2000, 1000)), 300.0),
        (Finding("x", row=4, px=(0, 0, 2000, 1000)), 300.0),
    ):  # fmt: skip
        (placed,) = place_findings([finding], prints)
        assert placed.mm == (0.0, 0.0, wide, 50.0)
    assert place_findings([Finding("x", row=9, px=(0, 0, 5, 5))], prints)[0].mm is None


def lay_sheet(paper: str, *boxes: Box, size: tuple[float, float] = (210.0, 297.0)) -> Any:
    placed = tuple(SimpleNamespace(cell=box, transfer=SimpleNamespace(id=f"T{n}")) for n, box in enumerate(boxes))
    return SimpleNamespace(paper=SimpleNamespace(name=paper), width_mm=size[0], height_mm=size[1], placed=placed)


def test_sheets_cut_alike_are_told_together_and_their_cells_by_letters() -> None:
    a, b, c = Box(10, 10, 50, 60), Box(70, 10, 50, 60), Box(10, 80, 110, 60)
    first, same, moved = lay_sheet("a4", a, b, c), lay_sheet("a4", c, a, b), lay_sheet("a4", a, b.move_by(0.02, 0), c)
    near, other = lay_sheet("a4", a, b.move_by(0.004, 0), c), lay_sheet("a3", a, b, c)
    longer = lay_sheet("a4", a, b, c, size=(210.0, 400.0))
    groups = group_alike_sheets([first, moved, same, near, other, longer])
    assert [group.sheets for group in groups] == [(first, same, near), (moved,), (other,), (longer,)]
    assert groups[0].names == {"T0": "A", "T1": "B", "T2": "C"}
    assert groups[1].names == {}
    assert [(name, placed.transfer.id) for name, placed in groups[0].list_cells(same)] == [
        ("A", "T1"), ("B", "T2"), ("C", "T0")
    ]  # fmt: skip
    many = lay_sheet("a4", *(Box(0, n, 1, 1) for n in range(730)))
    names = [name for name, _ in AlikeSheets((many, many)).list_cells(many)]
    assert [names[n] for n in (0, 25, 26, 27, 51, 52, 701, 702)] == ["A", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA"]
    assert len(set(names)) == 730


def test_a_bag_holds_what_is_one_persons_and_like_garments_are_counted() -> None:
    def wear(order: str, wearer: str, row: int, text: str = "") -> Any:
        key = (order, 0 if order else row)
        return SimpleNamespace(order=order, wearer=wearer, garment=replace(GARMENT, text=text),
                               prints=((SimpleNamespace(row=row, order_key=key), 1),))  # fmt: skip

    def ticket(worn: Any, *places: str) -> Any:
        steps = [SimpleNamespace(placement=SimpleNamespace(name=place) if place else None) for place in places]
        return SimpleNamespace(worn=worn, steps=steps)

    ada, again, bo, alone = (
        wear("B", "Ada", 5, "hoodie"),
        wear("B", "Ada", 5, "hoodie"),
        wear("A", "Bo", 2),
        wear("", "", 9),
    )
    orders = list_packed_orders([
        ticket(ada, "left-chest"), ticket(bo, "full-back"), ticket(again, "left-chest"), ticket(ada, "full-back"),
        ticket(again, "full-back", "full-back"), ticket(alone, ""), ticket(wear("B", "Ada", 6, "hoodie"), "full-back"),
    ])  # fmt: skip
    assert [(order.name, order.row, order.count) for order in orders] == [("B", 5, 3), ("A", 2, 1), ("", 9, 1)]
    assert [(g.wearer, g.garment, g.placements, g.count) for g in orders[0].garments] == [
        ("Ada", "hoodie", ("left-chest", "full-back"), 2), ("Ada", "hoodie", ("full-back",), 1)
    ]  # fmt: skip
    assert orders[1].garments[0].garment == "adult t-shirt"
    assert orders[2].garments[0].placements == (None,)


SHOWN = {"wearer": "Ada", "garment": "T-shirt adult M", "placement": "left-chest", "copies": 2, "words": "", "font": "",
         "cloth": "white polyester", "place": "", "art": "owl.png", "sha256": "1", "size_mm": [80.0, 60.0]}  # fmt: skip


def compare(shows: list[Any], *now: tuple[int, Any]) -> list[tuple[str, int | None]]:
    agreement = Agreement("Crew", 0, "Ines", "Monday", tuple(shows))
    return [(finding.what, finding.row) for finding in compare_with_agreement(agreement, now, "mm")]


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"copies": 3}, "copies were 2, now 3"), ({"words": "ADA"}, "the words were “”, now “ADA”"),
        ({"size_mm": [80.3, 60.0]}, "the size was 80 mm × 60 mm, now 80.3 mm × 60 mm"),
        ({"size_mm": [80.0, 59.7]}, "the size was 80 mm × 60 mm, now 80 mm × 59.7 mm"),
        ({"sha256": "2"}, "the picture owl.png has changed"), ({"cloth": "navy polyester"}, "the cloth was"),
        ({"recolour": "#C81E28 > #12A05B"}, "the colours were as drawn, now “#C81E28 > #12A05B”"),
        ({"place": "90 mm from collar"}, "the place was “”, now “90 mm from collar”"),
        ({"copies": 3, "cloth": "x"}, "copies were 2, now 3, the cloth was “white polyester”, now “x”"),
    ],
)  # fmt: skip
def test_each_difference_from_what_was_agreed_is_told_in_words(changes: Any, what: str) -> None:
    ((told_of, row),) = compare([SHOWN], (4, SHOWN | changes))
    assert what in told_of
    assert told_of.endswith("(agreed by Ines on Monday)")
    assert row == 4


def test_what_looks_the_same_is_the_same_and_what_came_or_went_is_named() -> None:
    ok = [("the order was agreed by Ines on Monday, as it stands", 2)]
    assert compare([SHOWN], (2, SHOWN)) == ok
    assert compare([SHOWN], (2, SHOWN | {"size_mm": [80.1, 59.9]})) == ok
    # An answer of an earlier version says nothing of lettering, cloth and place.
    bare = {key: value for key, value in SHOWN.items() if key not in ("font", "cloth", "place")}
    assert compare([bare], (2, SHOWN | {"cloth": "x", "font": "y", "place": "z"})) == ok
    assert "the size was" in compare([SHOWN | {"size_mm": "large"}], (2, SHOWN))[0][0]
    other = SHOWN | {"wearer": "Bo", "art": "fox.png"}
    assert compare([SHOWN], (2, SHOWN), (3, other)) == [
        ("not what was agreed: “fox.png” on left chest for Bo was not among it (agreed by Ines on Monday)", 3)
    ]  # fmt: skip
    assert compare([SHOWN, other], (2, SHOWN)) == [
        ("not what was agreed: “fox.png” on left chest for Bo is no longer there (agreed by Ines on Monday)", 2)
    ]  # fmt: skip
    # Two alike were agreed and one has changed: the other stands for itself.
    assert len(compare([SHOWN, SHOWN], (2, SHOWN | {"copies": 9}), (3, SHOWN))) == 1
    assert compare([SHOWN, SHOWN], (2, SHOWN | {"copies": 9}), (3, SHOWN))[0][1] == 2


def test_what_a_page_showed_is_noted_of_artwork_by_its_file_and_of_words_by_themselves() -> None:
    """A picture by its name and fingerprint; words by what they say and in what, as no file is theirs."""
    lot = {"wearer": "Ada", "placement": "left-chest", "copies": 2, "order": "Crew", "font": "block", "row": 3}
    art = make_print(80.04, 40.0, art="crest/owl.png", words="", **lot)
    words = make_print(60.0, 30.06, art="drawn", words="ADA\n07", **lot)
    both = {"wearer": "Ada", "garment": "T-shirt adult M", "placement": "left-chest", "copies": 2}
    shown = describe_shown(art, PROFILES)
    own = {"words": "", "font": "", "art": "owl.png", "sha256": art.picture.sha256, "size_mm": [80.0, 40.0]}
    assert {key: shown[key] for key in (*both, *own)} == both | own
    assert "recolour" not in shown
    shown = describe_shown(words, PROFILES)
    own = {"words": "ADA\n07", "font": "block", "art": "", "sha256": "", "size_mm": [60.0, 30.1]}
    assert {key: shown[key] for key in (*both, *own)} == both | own
    painted = replace(art, row=replace(art.row, recolour=(("#111111", "#222222", None), ("#333333", "#444444", None))))
    assert describe_shown(painted, PROFILES)["recolour"] == "#111111 > #222222; #333333 > #444444"
    alone = make_print(art="a.png", order="", row=7)
    found = group_shown_by_order([art, alone, words], PROFILES)
    assert [(key, [row for row, _ in entries]) for key, entries in found.items()] == [
        (("Crew", 0), [3, 3]), (("", 7), [7]),
    ]  # fmt: skip
