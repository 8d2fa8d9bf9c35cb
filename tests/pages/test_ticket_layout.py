"""How half pages are shared out: scales, columns, rows of boxes, and what the evening page says of the time."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose import files
from impose.pages.tickets import evening_page, ticket, ticket_layout
from impose.pages.tickets.ticket_layout import CheckGrid, FaceCard, PrintBlock
from impose.pages.tickets.views import SCALES
from impose.profiles.profiles import load_profiles
from impose.sheet.press_times import PressEvening, PressTimes
from impose.units import Box, format_minutes
from impose.values import replace
from pages.remembered import Remembered

PRESS = load_profiles(files.find_shipped_profiles()).find_press("16x20")
SHAPER = Remembered().pages.choose_weight(True)
A4_HALF: Any = SimpleNamespace(inner=190.0, height=148.5, regular=SHAPER, bold=SHAPER)


def make_card(w: float, h: float, told: float = 20.0) -> FaceCard:
    return FaceCard("front", (PrintBlock(1, (), (), told),), (), Box(0, 0, w, h))


@pytest.mark.parametrize(("w", "h"), [(300, 400), (520, 700), (100, 60), (620, 190)])
@pytest.mark.parametrize(("wide", "high"), [(190.0, 110.0), (60.0, 110.0), (40.0, 30.0)])
def test_a_drawing_is_at_the_largest_scale_that_goes_into_its_room(
    w: float, h: float, wide: float, high: float
) -> None:
    found = make_card(w, h).choose_scale(wide, high)
    fitting = [n for n in SCALES if w / n + 9.0 <= wide and h / n + 13.0 <= high]
    assert (found.scale if found else None) == (min(fitting) if fitting else None)
    if found is not None:
        assert (found.wide, found.high) == (w / found.scale + 9.0, h / found.scale + 13.0)


@pytest.mark.parametrize("widths", [(300, 300, 300), (620, 100, 100), (620, 620, 620), (100, 100, 100, 100),
                                    (900, 620, 300, 100)])  # fmt: skip
def test_what_stands_below_shares_the_whole_width_and_the_wide_have_more(widths: tuple[float, ...]) -> None:
    cards = ticket_layout._share_width([make_card(w, 300) for w in widths], A4_HALF)
    assert sum(card.column for card in cards) + 3.0 * (len(cards) - 1) == pytest.approx(190.0)
    least = ticket_layout.measure_text_width(len(cards), A4_HALF)
    for card, other in itertools.pairwise(cards):
        assert card.column >= other.column - 1e-9, "they are from the widest to the narrowest here"
    assert all(card.column >= least for card in cards), "what is told has its width in any case"
    if len(set(widths)) == 1:
        assert len({round(card.column, 6) for card in cards}) == 1


@pytest.mark.parametrize(("faces", "below"), [(1, False), (2, False), (3, True), (4, True)])
def test_what_is_told_stands_beside_one_or_two_faces_and_below_more(faces: int, below: bool) -> None:
    assert ticket_layout.list_told_below(faces) == below
    assert 0 < ticket_layout.measure_text_width(faces, A4_HALF) * faces < 190.0


def make_group(count: int, prints: int = 1, wearer: str = "W{n}") -> Any:
    def make_step(words: str = "") -> Any:
        row = SimpleNamespace(words=words)
        return SimpleNamespace(transfer=SimpleNamespace(piece=SimpleNamespace(row=row, panel=None)), butted=False)

    tickets = [
        SimpleNamespace(worn=SimpleNamespace(wearer=wearer.format(n=n)), steps=[make_step() for _ in range(prints)])
        for n in range(count)
    ]
    return SimpleNamespace(tickets=tickets, first=tickets[0], list_like=lambda step: [step])


@pytest.mark.parametrize("count", [1, 2, 13, 14, 30, 31, 200])
@pytest.mark.parametrize("prints", [1, 3, 6])
def test_every_garment_has_one_row_of_boxes_and_none_runs_off_its_half_page(count: int, prints: int) -> None:
    grids = list(ticket_layout._make_grids(make_group(count), prints, A4_HALF))
    assert [grid.start for grid in grids[1:]] == [grid.stop for grid in grids[:-1]]
    assert (grids[0].start, grids[-1].stop) == (0, count)
    room = 148.5 - 2 * 6.0 - 15.0 - 3.0
    for number, grid in enumerate(grids):
        assert grid.high <= room - (62.0 if number == 0 else 0.0) + 1e-6, "the first leaves room for the drawings"
        assert grid.columns * (grid.name_mm + prints * 30.0) + (grid.columns - 1) * 3.0 <= 190.0 or grid.columns == 1
        rows = -(-(grid.stop - grid.start) // grid.columns)
        assert grid.high == pytest.approx(8.6 + rows * 5.4)
    assert grids[0].name_mm == (0.0 if count == 1 else pytest.approx(grids[0].name_mm))


def test_each_row_of_boxes_is_drawn_once_in_its_column(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[tuple[int, float, float]] = []
    monkeypatch.setattr(ticket, "_draw_row", lambda canvas, half, grid, name, index, x, y: drawn.append((index, x, y)))
    monkeypatch.setattr(ticket, "_grid_head", lambda *_: None)
    for start, stop, columns in ((0, 7, 3), (4, 5, 2), (0, 12, 2), (3, 11, 4)):
        drawn.clear()
        group = make_group(20)
        block = SimpleNamespace(cells=[("step",)])
        half = SimpleNamespace(grid=CheckGrid(start, stop, columns, 20.0), alike=group, blocks=[block])
        ticket._draw_grid(cast(Any, Remembered()), cast(Any, half), A4_HALF, 100.0)
        assert sorted(index for index, *_ in drawn) == list(range(start, stop))
        assert len({(x, y) for _, x, y in drawn}) == stop - start, "no two on each other"
        rows = -(-(stop - start) // columns)
        assert len({y for *_, y in drawn}) == rows
        assert max(y for *_, y in drawn) <= 100.0 + half.grid.high
        assert sorted({x for _, x, _ in drawn})[:2] in ([10.0, 10.0 + 20 + 30 + 3], [10.0])


def test_garments_are_told_apart_by_wearer_and_words_or_by_a_number() -> None:
    assert ticket_layout.list_garment_labels(make_group(3, wearer="Ada")) == ["1", "2", "3"]
    assert ticket_layout.list_garment_labels(make_group(2)) == ["1 W0", "2 W1"]
    group = make_group(2, wearer="Ada")
    group.tickets[0].steps[0].transfer.piece.row.words = "ADA"
    group.tickets[1].steps[0].transfer.piece.row.words = "A\nB"
    group.list_like = lambda step: [found.steps[0] for found in group.tickets]
    assert ticket_layout.list_garment_labels(group) == ["1 Ada", "2 Ada “A / B”"]
    assert ticket_layout.label_width(make_group(1), A4_HALF) == 0
    assert ticket_layout.label_width(make_group(3, wearer="x" * 200), A4_HALF) <= 45.0


def test_the_evening_is_told_in_minutes_by_what_they_go_into() -> None:
    times = PressTimes(prepress=65, pressing=400, resting=100, taping=600, turning=0, changing=30)
    evening = PressEvening(10, 12, 14, "garment", times, replace(times, changing=630))
    told = evening_page.describe_times(evening, PRESS)
    assert told.startswith("Minutes garment by garment go into press closed 7, resting 2, light touch 2, taping and "
                           "lifting 10, changing the set-up 1. Set-up by set-up it would be about 30 min.")  # fmt: skip
    assert "60 s of taping and lifting a print, 30 s of turning a face, 30 s a change" in told
    assert "turning 0" not in told
    other = evening_page.describe_times(replace(evening, by="platen", other=times), PRESS)
    assert other.startswith("Minutes set-up by set-up go into")
    assert "it would be" not in other, "the other order takes no longer"
    assert [format_minutes(n) for n in (0, 59, 60, 61, 125)] == [
        "0 min", "59 min", "1 h 00 min", "1 h 01 min", "2 h 05 min"
    ]  # fmt: skip
    assert [evening_page._format_count(n, "press", "presses") for n in (0, 1, 2)] == [
        "0 presses",
        "1 press",
        "2 presses",
    ]
    assert evening_page._format_count(2, "ticket") == "2 tickets"


@pytest.mark.parametrize(("face", "sides"), [
    ("front", ("wearer's right", "wearer's left")), ("back", ("wearer's left", "wearer's right")),
    ("left sleeve", ("front", "back")), ("right sleeve", ("back", "front")), ("hood", ("opening", "back")),
])  # fmt: skip
def test_whose_left_and_right_stands_below_a_drawing_and_the_two_do_not_meet(face: str, sides: tuple[str, str]) -> None:
    for left, right in ((10.0, 90.0), (10.0, 26.0)):
        canvas = Remembered()
        ticket._write_sides(cast(Any, canvas), face, left, right, 50.0)
        assert tuple(text for text, *_ in canvas.words) == sides
        near, far = canvas.spans
        assert near.right < far.x
        assert (near.x + far.right) / 2 == pytest.approx((left + right) / 2)
        if right - left > 60:
            assert (near.x, far.right) == pytest.approx((left, right))
