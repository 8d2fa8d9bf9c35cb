"""What a press ticket says, case by case, in the words that a presser has to be able to follow.

Each case changes one thing of a print and tells what has to be said of it: by the pages on printing and pressing.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from impose import files
from impose.pages.tickets import sentences
from impose.profiles.placement import NAMED_TEARS, PlacementOffset, TearMargin
from impose.profiles.press import PressSetting
from impose.profiles.profiles import load_profiles
from impose.sheet.garment_faces import FaceShape, PrintSpot
from impose.units import Box
from impose.values import replace

PROFILES = load_profiles(files.find_shipped_profiles())
PRESS = PROFILES.find_press("16x20")
INCH = 25.4
FRONT = FaceShape("t-shirt", "front", 520.0, 700.0, 460.0, 90.0, 80.0, False)
DROP = PlacementOffset("collar", "top of print", 3 * INCH, source="common practice")
SPOT = PrintSpot(Box(-40, 156.2, 80, 60), 0, None, None, False, 80.0)


def make_step(**changes: Any) -> Any:
    """A print of 80 × 60 mm on the front of a T-shirt, with whatever is changed of it, its piece and its row."""
    row = {"note": "", "extra": (), "words": "", "centre": "ink"}
    piece = {
        "panel": None, "crease_x_mm": 40.0, "cloth_x": 1.0, "cloth_y": 1.0, "ink_w_mm": 80.0, "ink_h_mm": 60.0,
        "up_word": "UP", "level": "full",
        "sides": SimpleNamespace(left=NAMED_TEARS["normal"], top=NAMED_TEARS["normal"]),
    }  # fmt: skip
    step = {
        "shape": FRONT, "spot": SPOT, "placement": PROFILES.require_placement("full-front"), "fit": "straight",
        "pressings": 1, "again": (), "avoidable": False, "together": False, "butted": False, "paper": "A4",
        "setting": None, "pad": None, "shields": (),
    }  # fmt: skip
    for key, value in changes.items():
        for held in (row, piece, step):
            if key in held:
                held[key] = value
    transfer = SimpleNamespace(id="T001", piece=SimpleNamespace(row=SimpleNamespace(**row), **piece))
    return SimpleNamespace(transfer=transfer, **step)


def told(step: Any, units: Any = "mm", press: Any = PRESS, like: Any = (), steps: Any = ()) -> list[str]:
    return [line.text for line in sentences.describe_steps(steps or [step], press, PRESS, units, {"T001": 1}, like)]


def heavy(step: Any, press: Any = PRESS, steps: Any = ()) -> list[str]:
    lines = sentences.describe_steps(steps or [step], press, PRESS, "mm", {"T000": 4, "T001": 1, "T009": 2}, ())
    return [line.text for line in lines if line.heavy]


def face(name: Any, kind: str = "t-shirt", **more: Any) -> FaceShape:
    return replace(FRONT, face=name, kind=kind, **more)


PLACES: tuple[tuple[dict[str, Any], list[str]], ...] = (
    # No drop is known: every face says how its place is found.
    ({}, ["no drop is known: measure", "measured: _______ mm", "middle on the centre line"]),
    ({"shape": face("back")}, ["no drop is known: measure", "measured: _______ mm", "middle on the centre line"]),
    ({"shape": face("back", "hoodie")},
     ["no drop is known: measure", "measure how far the hood hangs, and press below it", "measured: _______ mm",
      "middle on the centre line"]),
    ({"shape": face("front", "hoodie")},
     ["no drop is known: measure", "measured: _______ mm", "middle on the centre line"]),
    ({"shape": face("left sleeve")}, ["no distance is known: measure, off cuff and seam", "measured: _______ mm"]),
    ({"shape": face("hood")}, ["no distance is known: measure", "measured: _______ mm"]),
    ({"shape": face("front", pocket=Box(0, 0, 90, 90))}, ["centred on the pocket"]),
    # A drop that is known, and its span; the shop's own figure is called so.
    ({"spot": replace(SPOT, drop=DROP)}, ["top 76 mm below the collar", "middle on the centre line"]),
    ({"spot": replace(SPOT, drop=replace(DROP, least_mm=2.5 * INCH, most_mm=3.5 * INCH))},
     ["top 76 mm below the collar", "(usual 64 mm to 89 mm)", "middle on the centre line"]),
    ({"spot": replace(SPOT, drop=replace(DROP, least_mm=76.2, most_mm=76.2))},
     ["top 76 mm below the collar", "middle on the centre line"]),
    ({"spot": replace(SPOT, drop=replace(DROP, own=True, measured_to="centre of print"))},
     ["middle 76 mm below the collar", "(your own figure)", "middle on the centre line"]),
    ({"spot": replace(SPOT, drop=replace(DROP, measured_from="neck seam", measured_to="bottom of print")),
      "shape": face("hood")}, ["bottom edge 76 mm above the hood's neck seam"]),
    ({"spot": replace(SPOT, drop=replace(DROP, measured_from="neck seam"))},
     ["top 76 mm below the neck seam", "middle on the centre line"]),
    # Sideways: from what, towards which side of the wearer.
    ({"spot": replace(SPOT, drop=DROP, across=PlacementOffset("centre line", "centre of print", 4 * INCH, source="x")),
      "placement": PROFILES.require_placement("left-chest")},
     ["top 76 mm below the collar", "middle 102 mm from the centre line towards the wearer's left"]),
    ({"spot": replace(SPOT, drop=DROP, across=PlacementOffset("centre line", "centre of print", 4 * INCH, source="x")),
      "placement": replace(PROFILES.require_placement("left-chest"), side="right"), "shape": replace(FRONT, zip=True)},
     ["top 76 mm below the collar", "middle 102 mm from the zip towards the wearer's right"]),
    ({"spot": replace(SPOT, drop=DROP, across=PlacementOffset("sleeve seam", "centre of print", 2 * INCH, source="x")),
      "placement": PROFILES.require_placement("left-chest")},
     ["top 76 mm below the collar", "middle 51 mm in from the sleeve seam on the wearer's left"]),
    ({"spot": replace(SPOT, drop=DROP, across=PlacementOffset("hood edge", "centre of print", 2 * INCH, source="x"))},
     ["top 76 mm below the collar", "middle 51 mm from the hood's edge"]),
    ({"spot": replace(SPOT, drop=DROP, midway=True), "placement": PROFILES.require_placement("left-chest")},
     ["top 76 mm below the collar", "midway from centre line to sleeve seam, wearer's left: measure"]),
    ({"placement": None}, ["The order does not say where it goes: ask before pressing."]),
)  # fmt: skip


def test_each_place_is_told_from_what_it_is_measured() -> None:
    for changes, wanted in PLACES:
        assert list(sentences.describe_place(make_step(**changes), "mm")) == wanted


def test_a_panel_after_the_first_is_placed_by_its_folds() -> None:
    placement = PROFILES.require_placement("full-back")
    assert list(sentences.describe_offsets(placement, SPOT, face("back"), "mm", panel=True)) == ["placed by its folds"]
    known = replace(SPOT, drop=DROP)
    assert list(sentences.describe_offsets(placement, known, face("back"), "in", panel=True)) == [
        "top 3 in below the collar"
    ]


FOLDS: tuple[tuple[dict[str, Any], list[str]], ...] = (
    ({}, ["fold on the centre front crease", "UP edge to the collar"]),
    ({"shape": face("back")}, ["fold on the centre back crease", "UP edge to the collar"]),
    ({"shape": face("right sleeve"), "up_word": "SHOULDER"},
     ["long fold on the sleeve's fold line", "SHOULDER edge to the shoulder"]),
    ({"shape": face("left sleeve")}, ["long fold on the sleeve's fold line", "UP edge to the collar"]),
    ({"shape": face("hood")}, ["fold square to the hood's edge", "UP edge to the crown"]),
    ({"shape": face("other")}, ["folds on creases pressed into the cloth", "UP edge up"]),
    ({"placement": None}, ["folds on creases pressed into the cloth", "UP edge up"]),
    ({"placement": PROFILES.require_placement("left-chest")},
     ["fold on a crease of its own, parallel to the centre", "UP edge to the collar"]),
    ({"placement": PROFILES.require_placement("left-chest"), "shape": replace(FRONT, zip=True)},
     ["fold on a crease of its own, parallel to the zip", "UP edge to the collar"]),
    ({"centre": "mass"},
     ["fold on the centre front crease", "UP edge to the collar", "folds are at the ink's centre of weight"]),
    ({"centre": "canvas"},
     ["fold on the centre front crease", "UP edge to the collar", "folds are at the picture's middle, not the ink's"]),
    ({"sides": SimpleNamespace(left=TearMargin(2.0, 0.0, 0.0), top=NAMED_TEARS["normal"])},
     ["fold on the centre front crease", "UP edge to the collar", "no tick left and right: fold up and down only"]),
)  # fmt: skip


def test_each_fold_is_told_by_the_crease_that_it_lies_on() -> None:
    for changes, wanted in FOLDS:
        assert list(sentences.describe_folds(make_step(**changes))) == wanted, changes


def test_a_panel_that_does_not_hold_the_middle_folds_beside_it() -> None:
    """A panel of 160 mm from 180 mm on of a whole of 340 mm, whose fold is on its join line 2 mm in: 12 mm beside."""
    for start, crease, beside in ((180.0, 158.0, "12 mm"), (0.0, 6.0, "16 mm")):
        panel = SimpleNamespace(box=Box(start, 0, 160.0, 200.0), whole=(340.0, 200.0), of=2, number=1)
        step = make_step(panel=panel, ink_w_mm=160.0, crease_x_mm=crease, shape=face("back"))
        (fold, _) = sentences.describe_folds(step)
        assert fold == f"fold on the join line, {beside} beside the centre back crease: see the drawing"
    panel = SimpleNamespace(box=Box(100.0, 0, 160.0, 200.0), whole=(340.0, 200.0), of=2, number=1)
    step = make_step(panel=panel, ink_w_mm=160.0, crease_x_mm=90.0, shape=face("back"))
    assert next(iter(sentences.describe_folds(step))) == "fold on the centre back crease"


EXCEPTIONS: tuple[tuple[dict[str, Any], list[str]], ...] = (
    ({}, []),
    ({"fit": "turned"}, ["Lay the garment CROSSWISE on the platen."]),
    ({"fit": "several", "pressings": 2},
     [f"LARGER THAN THE {PRESS.title} PLATEN: 2 heats, the paper not lifted between them.",
      "Join the heats at the dashed line, where ink is least: dye heated twice may ghost."]),
    ({"again": ("T009", "T000"), "together": True},
     ["HEATS 2 and 4 AGAIN, pressed before on this side. Both lie on one platen: tape and press them together."]),
    ({"again": ("T009",), "avoidable": True},
     ["HEATS 2 AGAIN, pressed before on this side. Lay the garment so that the platen's edge runs between them."]),
    ({"again": ("T009",)},
     ["HEATS 2 AGAIN, pressed before on this side. It cannot be kept off this platen: use a smaller one, or cover it "
      "and expect it to change."]),
    ({"level": "thin"},
     ["Hardly any paper left and right: a hard edge can mark the cloth. Pad it, test on scrap."]),
    ({"level": "tight", "sides": SimpleNamespace(left=NAMED_TEARS["tight"], top=NAMED_TEARS["tight"])},
     ["Tear margin only 10 mm: tear with care."]),
    ({"note": "ask Ada", "extra": (("SKU", "7"), ("bin", "B"))}, ["Note: ask Ada; SKU: 7; bin: B"]),
    ({"extra": (("SKU", "7"),)}, ["Note: SKU: 7"]),
    ({"setting": PressSetting(temperature_c=180), "paper": "TexPrint"},
     ["PAPER TexPrint: 180 °C (356 °F), 40 s, medium pressure; cover off, rest 10 s or more, lift in one move"]),
    ({"setting": PressSetting(rest_seconds=0), "paper": "Hot"},
     ["PAPER Hot: 196 °C (385 °F), 40 s, medium pressure; cover off, lift at once, hot, in one move"]),
    ({"setting": PressSetting(temperature_c=196)}, []),
    # No pad of the shop's does: how large it would have to be, or that no pad could.
    ({"pad": SimpleNamespace(pad=None, least=(150.4, 90.2), crowded=False)},
     ["No pad of yours fits; it takes 150 mm × 90 mm."]),
    ({"pad": SimpleNamespace(pad=None, least=(150.4, 90.2), crowded=True)},
     ["No pad of yours fits; the print with its margin reaches a seam: press clear of it."]),
    ({"shields": (SimpleNamespace(title="left chest", beneath=True), SimpleNamespace(title="hood", beneath=False),
                  SimpleNamespace(title="pocket", beneath=True), SimpleNamespace(title="pocket", beneath=True))},
     ["left chest and pocket beneath (hatched): pad or card between the layers"]),
)  # fmt: skip


def test_whatever_is_not_as_usual_is_told_in_heavy_type() -> None:
    """The setting of the press is that of presses.toml: 196 °C (385 °F), 40 s, medium, 10 s of rest."""
    for changes, wanted in EXCEPTIONS:
        assert heavy(make_step(**changes)) == wanted, changes


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"cool_down": "peel warm"}, "peel warm"),
        ({"rest_seconds": 15}, "cover off, rest 15 s or more, lift in one move"),
        ({"rest_seconds": 0}, "cover off, lift at once, hot, in one move"),
    ],
)  # fmt: skip
def test_how_a_transfer_is_lifted_is_in_the_shops_words_or_after_its_rest(changes: Any, words: str) -> None:
    press = replace(PRESS, **changes)
    assert sentences.describe_lifting(press) == words
    assert sentences.setting_words(press) == f"196 °C (385 °F), 40 s, medium pressure; {words}"
    # A paper with a rest of its own is not lifted as the press is.
    assert "rest 20 s" in sentences.describe_lifting(press.set_for(PressSetting(rest_seconds=20)))
    assert sentences.describe_lifting(press.set_for(PressSetting(seconds=20))) == words


def test_sizes_are_of_the_paper_and_say_what_is_allowed_for_the_cloth() -> None:
    assert sentences.size_line(make_step(), "mm") == "80 mm × 60 mm"
    assert sentences.size_line(make_step(ink_w_mm=3.5 * INCH), "in") == "3 1/2 in × 2 3/8 in"
    allowed = make_step(cloth_x=1.004, cloth_y=1.01)
    assert sentences.size_line(allowed, "mm") == "80 mm × 60 mm on paper, with 1.004 × 1.01 for the cloth"
    assert sentences.size_line(make_step(cloth_y=1.01), "mm").endswith("with 1 × 1.01 for the cloth")
    like = [make_step(), make_step(ink_w_mm=120.0), make_step(ink_w_mm=100.0)]
    assert sentences.size_line(make_step(), "mm", like) == "80 mm to 120 mm × 60 mm"
    panel = SimpleNamespace(of=3, whole=(400.0, 300.0), number=1)
    assert sentences.size_line(make_step(panel=panel), "mm") == "400 mm × 300 mm"
    panels = [make_step(panel=SimpleNamespace(of=3, whole=(400.0, 300.0), number=number)) for number in (3, 1, 2)]
    assert sentences.describe_print_step(panels) == "Full front, 3 panels"
    assert sentences.describe_print_step(panels[:1]) == "Full front, panel 3 of 3"
    assert sentences.describe_print_step(panels[:2]) == "Full front, panels 1 and 3 of 3"
    assert sentences.describe_print_step([make_step(placement=None)]) == "Print without a placement"


def test_the_largest_pad_of_garments_alike_is_named_behind_the_size() -> None:
    def padded(least: float, title: str, **how: bool) -> Any:
        choice = {"pad": SimpleNamespace(title=title), "least": (least, 50.0), "folded": False, "cut": False, **how}
        return make_step(pad=SimpleNamespace(**choice))

    small, large = padded(90, "5 × 5 in"), padded(200, "10 × 10 in")
    assert told(small)[0] == "80 mm × 60 mm; pad 5 × 5 in"
    assert told(small, like=[small, large, make_step()])[0] == "80 mm × 60 mm; pad 10 × 10 in"
    assert told(padded(9, "card", folded=True, cut=True))[0] == "80 mm × 60 mm; pad card, folded once, cut to fit"
    words = [make_step(words="ADA"), make_step(words="BO")]
    assert told(words[0], like=words)[0] == "Each its own: see the names below"
    assert told(words[0], like=[words[0], make_step(words="ADA")])[0] == "80 mm × 60 mm"


def test_what_is_measured_has_a_line_to_write_it_on() -> None:
    across = PlacementOffset("centre line", "centre of print", 4 * INCH, source="x")
    gap = "\N{NO-BREAK SPACE}________"
    assert sentences.make_measuring_line(make_step()) == ""
    both = make_step(spot=replace(SPOT, drop=DROP, across=across))
    assert sentences.make_measuring_line(both) == f"measured: top{gap}, middle{gap}"
    low = make_step(spot=replace(SPOT, drop=replace(DROP, measured_to="bottom of print")))
    assert sentences.make_measuring_line(low) == f"measured: lower edge{gap}"


def test_panels_are_told_in_the_order_of_pressing() -> None:
    steps = [
        make_step(panel=SimpleNamespace(of=3, whole=(400.0, 300.0), number=number, box=Box(0, 0, 80, 60)), butted=False)
        for number in (2, 1, 3)
    ]
    assert heavy(steps[0], steps=steps) == [
        "Joining edges: cut with knife and rule between the double ticks. Outer edges: torn.",
        "Too large to press at once. One by one: panel 2, 1, 3, cut edge to cut edge.",
        "Each heats its neighbours again: cover what is pressed; it may ghost there.",
        "A SEAM SHOWS where panels meet.",
    ]
    steps[0].butted = True
    assert heavy(steps[0], steps=steps)[1] == "Butt all 3 edge to edge, tape them, press at once."
    again = heavy(steps[1], steps=steps[1:])
    assert again[1:3] == [
        "Only panels 1 and 3 of 3: lay them cut edge to cut edge with the rest of the print.",
        "Is the rest pressed already? Then it is heated again: cover it; it may ghost there.",
    ]
    assert heavy(steps[1], steps=steps[1:2])[1].startswith("Only panel 1 of 3: lay it cut edge")


def test_whose_garment_it_is() -> None:
    def ticket(order: str, wearer: str) -> Any:
        return SimpleNamespace(worn=SimpleNamespace(order=order, wearer=wearer))

    for tickets, heading in (
        ([ticket("A-1", "Ada")], "Ada"),
        ([ticket("A-1", "Ada"), ticket("A-1", "Bo")], "A-1"),
        ([ticket("", "Ada"), ticket("", "Bo")], "Ada"),
        ([ticket("A-1", "")], "A-1"),
        ([ticket("", "")], "no name"),
    ):
        assert sentences.make_heading(tickets) == heading
