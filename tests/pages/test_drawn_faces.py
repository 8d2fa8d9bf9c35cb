"""A face as a ticket draws it, stroke by stroke on a canvas that only remembers: judged by turning pictures, by what a
presser measures from what, and by what has to be seen.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from impose import files
from impose.pages.tickets import views
from impose.pages.tickets.views import ViewFrame, choose_window
from impose.profiles.placement import NAMED_TEARS, PlacementOffset, TearMargin
from impose.profiles.profiles import load_profiles
from impose.sheet.garment_faces import FaceShape, PrintSpot
from impose.units import Box
from impose.values import replace
from pages.remembered import Remembered

PROFILES = load_profiles(files.find_shipped_profiles())
FRONT = FaceShape("t-shirt", "front", 520.0, 700.0, 460.0, 90.0, 80.0, False)
FRAME = ViewFrame(200.0, 50.0, 10.0)


def make_step(spot: PrintSpot, shape: FaceShape = FRONT, **piece: Any) -> Any:
    normal = NAMED_TEARS["normal"]
    held = {
        "panel": None, "ink_w_mm": 80.0, "ink_h_mm": 60.0, "crease_x_mm": 40.0, "crease_y_mm": 30.0, "cloth_x": 1.0,
        "cloth_y": 1.0, "sides": SimpleNamespace(top=normal, right=normal, bottom=normal, left=normal), **piece,
    }  # fmt: skip
    return SimpleNamespace(transfer=SimpleNamespace(piece=SimpleNamespace(**held)), spot=spot, shape=shape, shields=())


def kept(mm: float, zone: float) -> TearMargin:
    return TearMargin(mm, zone, 0.0)


@pytest.mark.parametrize("degrees", [0, 90, 270])
def test_the_paper_that_stays_on_turns_with_its_print_and_is_seen_from_behind(degrees: int) -> None:
    """Kept paper and half of the tear zone, a pixel a millimetre, mirrored and turned by numpy."""
    margins = {"top": (3, 4), "right": (6, 2), "bottom": (8, 2), "left": (2, 6)}
    wide = {side: mm + zone // 2 for side, (mm, zone) in margins.items()}
    paper = np.ones((wide["top"] + 20 + wide["bottom"], wide["left"] + 40 + wide["right"]), int)
    paper[wide["top"] : wide["top"] + 20, wide["left"] : wide["left"] + 40] = 2
    seen = np.rot90(np.fliplr(paper), -degrees // 90)
    ys, xs = np.nonzero(seen == 2)
    ink = Box(100, 200, float(np.ptp(xs) + 1), float(np.ptp(ys) + 1))
    sides = SimpleNamespace(**{side: kept(*values) for side, values in margins.items()})
    box = views._measure_kept(make_step(PrintSpot(ink, degrees, None, None, False, 0.0), sides=sides))
    assert (ink.x - box.x, ink.y - box.y) == (xs.min(), ys.min())
    assert (box.w, box.h) == (seen.shape[1], seen.shape[0])


def spot_at(x: float, y: float, **more: Any) -> PrintSpot:
    """A print of 80 × 60 mm with its top left corner there, from the collar at 80."""
    return replace(PrintSpot(Box(x, y, 80, 60), 0, None, None, False, 80.0), **more)


DROP = PlacementOffset("collar", "top of print", 76.2, source="x")
ACROSS = PlacementOffset("centre line", "centre of print", 88.9, source="x")


@pytest.mark.parametrize(
    "spots",
    [
        [spot_at(-40, 156)], [spot_at(60, 156)], [spot_at(-200, 300)], [spot_at(-40, 156), spot_at(100, 400)],
        [spot_at(-40, 560, anchor_y=700.0)], [spot_at(-40, 20)], [spot_at(60, 156, pad=Box(30, 100, 200, 200))],
    ],
)  # fmt: skip
def test_a_window_shows_each_print_with_its_paper_and_what_it_is_measured_from(spots: list[PrintSpot]) -> None:
    steps = [make_step(spot) for spot in spots]
    for face in ("front", "back"):
        view = choose_window(replace(FRONT, face=cast(Any, face)), steps)
        for step in steps:
            assert view.contains_box(views._measure_kept(step))
            assert view.y <= step.spot.anchor_y <= view.bottom
            assert step.spot.pad is None or view.contains_box(step.spot.pad)
        assert view.x < 0 < view.right, "the centre line is seen"
        assert view.x >= -260 - 30
        assert view.right <= 260 + 30
    sleeve = FaceShape("t-shirt", "left sleeve", 190.0, 220.0, 460.0, 0.0, 0.0, False)
    known = [
        make_step(replace(spot, box=Box(-40, 50, 80, 60), drop=DROP, anchor_y=0.0, pad=None), sleeve) for spot in spots
    ]
    unknown = [make_step(replace(spot, box=Box(-40, 50, 80, 60), anchor_y=0.0, pad=None), sleeve) for spot in spots]
    near, whole = choose_window(sleeve, known), choose_window(sleeve, unknown)
    assert whole.bottom >= 220, "down to its end, from which somebody may have to measure"
    assert near.bottom < whole.bottom
    assert near.x <= -95
    assert near.right >= 95


def levels(canvas: Remembered) -> list[tuple[float, float, float]]:
    """Upright strokes: x, from, to."""
    return [(a[0], a[1], a[3]) for a, _ in canvas.lines if a[0] == a[2]]


@pytest.mark.parametrize(
    ("edge", "y"), [("top of print", 156.2), ("centre of print", 186.2), ("bottom of print", 216.2)]
)
@pytest.mark.parametrize("x", [-40.0, 60.0, -140.0])
def test_a_drop_is_drawn_from_where_it_is_measured_to_the_edge_that_is_meant(edge: str, y: float, x: float) -> None:
    drop = replace(DROP, measured_to=edge)
    canvas = Remembered()
    step = make_step(spot_at(x, 156.2, drop=drop))
    views._draw_dimensions(cast(Any, canvas), step, FRAME, "mm")
    anchor, end = FRAME.map_point(0, 80.0)[1], FRAME.map_point(0, y)[1]
    ((at, *ends),) = levels(canvas)
    assert ends == pytest.approx([anchor, end])
    paper = FRAME.map_box(views._measure_kept(step))
    assert at > paper.right if x > -100 else at < paper.x, "beside the paper, away from the centre line"
    # A thin line leads to either end: from the print's edge, and from above it, at the anchor.
    box = FRAME.map_box(step.spot.box)
    level = sorted((min(a[0], a[2]), max(a[0], a[2]), a[1]) for a, _ in canvas.lines if a[1] == a[3])
    assert sorted(line[2] for line in level) == pytest.approx(sorted([anchor, end]))
    for left, right, _ in level:
        assert left < at < right
        assert left <= box.right
        assert right >= box.x
    assert [text for text, *_ in canvas.words] == ["76"]


def test_a_distance_sideways_is_drawn_from_the_line_or_seam_that_it_is_measured_from() -> None:
    hood = FaceShape("hoodie", "hood", 240.0, 330.0, 240.0, 0.0, 0.0, True)
    for measured_from, shape, x, start in (
        ("centre line", FRONT, 50.0, 0.0), ("centre line", FRONT, -130.0, 0.0), ("sleeve seam", FRONT, 50.0, 230.0),
        ("sleeve seam", FRONT, -130.0, -230.0), ("hood edge", hood, -40.0, -120.0),
    ):  # fmt: skip
        canvas = Remembered()
        spot = spot_at(x, 156.2, drop=DROP, across=replace(ACROSS, measured_from=measured_from))
        views._draw_dimensions(cast(Any, canvas), make_step(spot, shape), FRAME, "in")
        paper = FRAME.map_box(views._measure_kept(make_step(spot)))
        (line,) = [a for a, _ in canvas.lines if a[1] == a[3] and a[1] > paper.bottom]
        assert (line[0], line[2]) == pytest.approx((FRAME.map_point(start, 0)[0], FRAME.map_point(x + 40, 0)[0]))
        assert "3 1/2" in [text for text, *_ in canvas.words]


def test_what_is_not_known_is_marked_and_midway_is_drawn_as_two_like_parts() -> None:
    for spot, shape, panel, marked in (
        (spot_at(-40, 156), FRONT, None, True), (spot_at(-40, 156), replace(FRONT, face="back"), None, True),
        (spot_at(-40, 156, drop=DROP), FRONT, None, False), (spot_at(-40, 156), FRONT, object(), False),
        (spot_at(-40, 156), replace(FRONT, pocket=Box(0, 0, 9, 9)), None, False),
        (spot_at(-40, 156), replace(FRONT, face="left sleeve"), None, False),
    ):  # fmt: skip
        canvas = Remembered()
        views._draw_dimensions(cast(Any, canvas), make_step(spot, shape, panel=panel), FRAME, "mm")
        assert (views.UNKNOWN in [text for text, *_ in canvas.words]) == marked
    for x, seam in ((75.0, 230.0), (-155.0, -230.0)):
        canvas = Remembered()
        views._draw_dimensions(cast(Any, canvas), make_step(spot_at(x, 156, drop=DROP, midway=True)), FRAME, "mm")
        assert [text for text, *_ in canvas.words].count("=") == 2
        ends = [FRAME.map_point(mm, 0)[0] for mm in (0.0, x + 40, seam)]
        low = max(a[1] for a, _ in canvas.lines if a[1] == a[3])
        parts = [(a[0], a[2]) for a, _ in canvas.lines if a[1] == a[3] == low]
        assert np.ravel(sorted(parts)) == pytest.approx(np.ravel(sorted([(ends[0], ends[1]), (ends[1], ends[2])])))


def test_folds_go_beyond_the_paper_on_all_four_sides_at_the_crease() -> None:
    step = make_step(spot_at(20, 156), crease_x_mm=30.0, crease_y_mm=20.0)
    canvas = Remembered()
    views._draw_folds(cast(Any, canvas), [step], FRAME)
    paper = FRAME.map_box(views._measure_kept(step))
    # Seen from behind, 30 mm from the printed left are 50 from the left.
    x, y = FRAME.map_point(20 + 50, 156 + 20)
    assert all(dash for _, dash in canvas.lines)
    ends = sorted((a[0], a[1]) for a, _ in canvas.lines)
    wanted = sorted([(paper.x, y), (paper.right, y), (x, paper.y), (x, paper.bottom)])
    assert np.ravel(ends) == pytest.approx(np.ravel(wanted))
    for (x1, y1, x2, y2), _ in canvas.lines:
        assert not paper.contains_box(Box((x1 + x2) / 2, (y1 + y2) / 2, 0, 0))
    panels = [make_step(spot_at(20, 156), panel=object()), make_step(spot_at(100, 156), panel=object())]
    canvas = Remembered()
    views._draw_folds(cast(Any, canvas), panels, FRAME)
    whole = FRAME.map_box(views._measure_paper(panels))
    assert {(a[0] == a[2], a[0] if a[0] == a[2] else a[1]) for a, _ in canvas.lines} == {
        (True, whole.centre[0]), (False, whole.centre[1])
    }  # fmt: skip
    assert whole.w > FRAME.map_box(views._measure_paper(panels[:1])).w


def test_heats_are_joined_across_the_paper_at_their_place_on_the_print() -> None:
    step = make_step(spot_at(20, 156))
    canvas = Remembered()
    views._draw_heats(cast(Any, canvas), step, [("x", 30.0), ("y", 45.0)], FRAME)
    paper, (x, y) = FRAME.map_box(views._measure_kept(step)), FRAME.map_point(50, 201)
    dashed = [a for a, dash in canvas.lines if dash]
    assert dashed == [(x, paper.y - 2, x, paper.bottom + 2), (paper.x - 2, y, paper.right + 2, y)]
    assert [a for a, dash in canvas.lines if not dash] == dashed, "on white, so that they are seen on ink"


def test_what_lies_beneath_is_hatched_within_what_is_drawn() -> None:
    view = Box(-100, 0, 200, 300)
    for box, seen in (
        (Box(-50, 50, 60, 40), Box(-50, 50, 60, 40)), (Box(-150, -50, 90, 80), Box(-100, 0, 40, 30)),
        (Box(60, 280, 80, 90), Box(60, 280, 40, 20)), (Box(100, 50, 10, 10), None), (Box(0, 300, 10, 10), None),
    ):  # fmt: skip
        canvas = Remembered()
        views._draw_shield(cast(Any, canvas), cast(Any, SimpleNamespace(box=box)), view, FRAME)
        assert canvas.boxes == ([] if seen is None else [FRAME.map_box(seen)])
        if seen is not None:
            drawn = FRAME.map_box(seen)
            for (x1, y1, x2, y2), _ in canvas.lines:
                assert drawn.contains_box(Box(x1, y1, 0, 0), 1e-6)
                assert drawn.contains_box(Box(x2, y2, 0, 0), 1e-6)
                assert x1 - x2 == pytest.approx(y2 - y1), "at 45 degrees"
            assert len(canvas.lines) == int((drawn.w + drawn.h) / 2.4)


def test_an_arrowhead_points_to_the_end_that_it_stands_at() -> None:
    for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        canvas = Remembered()
        views._draw_arrowhead(cast(Any, canvas), 5.0, 7.0, 30.0 * dx, 30.0 * dy, 2.0)
        ((tip, one, other),) = canvas.polygons
        assert tip == (5.0, 7.0)
        middle = ((one[0] + other[0]) / 2, (one[1] + other[1]) / 2)
        assert middle == pytest.approx((5.0 + 2.0 * dx, 7.0 + 2.0 * dy))
        assert np.hypot(one[0] - other[0], one[1] - other[1]) == pytest.approx(2 * 2.0 * 0.28)
    canvas = Remembered()
    views._draw_arrowhead(cast(Any, canvas), 5.0, 7.0, 0.0, 0.0, 2.0)
    assert canvas.polygons == []


def test_the_centre_line_is_the_garments_own_crease() -> None:
    for shape, drawn in (
        (FRONT, True), (replace(FRONT, face="back"), True), (replace(FRONT, face="left sleeve"), True),
        (replace(FRONT, face="hood"), False), (replace(FRONT, face="other"), False), (replace(FRONT, zip=True), False),
    ):  # fmt: skip
        canvas = Remembered()
        views._centre_line(cast(Any, canvas), shape, Box(-100, -30, 200, 300), FRAME)
        assert len(canvas.lines) == drawn
        for (x1, y1, x2, y2), dash in canvas.lines:
            assert dash
            assert x1 == x2 == FRAME.x
            assert (y1, y2) == pytest.approx((FRAME.map_point(0, 0)[1] - 1, FRAME.map_point(0, 270)[1] + 1))
