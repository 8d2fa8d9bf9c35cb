"""The map of a sheet on the cutting list, cell by cell on a canvas that remembers: names that can be read, on white,
within their cells; numbers on their cuts; parts of a long sheet that leave nothing out.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose.pages.tickets import cutting_maps
from impose.pages.tickets.cutting_maps import make_slices, map_scale
from impose.units import Box
from pages.remembered import Remembered

SHAPER = cast(Any, Remembered().pages.choose_weight(True))


def lay(name: str, cell: Box, turned: int = 0) -> Any:
    ink = cell.inset_by(*(min(cell.w, cell.h) / 4,) * 4)
    return SimpleNamespace(transfer=SimpleNamespace(id=name), cell=cell, ink=ink, turned=turned)


def make_sheet(width: float, height: float, *placed: Any) -> Any:
    return SimpleNamespace(number=1, width_mm=width, height_mm=height, placed=placed, swatches=())


def make_cut(x1: float, y1: float, x2: float, y2: float, number: int = 1, whole: bool = True) -> Any:
    stroke = SimpleNamespace(x1=x1, y1=y1, x2=x2, y2=y2)
    return SimpleNamespace(number=number, stroke=stroke, whole=whole, axis="across" if y1 == y2 else "down")


@pytest.mark.parametrize("numbered", [False, True])
@pytest.mark.parametrize(("w", "h"), [(180, 60), (60, 180), (100, 100), (60, 59), (16, 200), (200, 16)])
def test_a_name_stands_in_the_middle_of_its_cell_on_white_along_the_longer_way(
    w: float, h: float, numbered: bool
) -> None:
    canvas, scale = Remembered(), 0.4
    placed = lay("T001", Box(20, 30, w, h), 90)
    cutting_maps._draw_cell(cast(Any, canvas), placed, "X1", (10.0, 15.0, scale), "T001", numbered)
    cell, back = canvas.boxes
    assert (cell.x, cell.y, cell.w, cell.h) == pytest.approx((18, 27, w * scale, h * scale))
    (words,) = canvas.spans
    assert back.contains_box(words), "no stroke of the picture runs through it"
    assert words.centre == pytest.approx(cell.centre, abs=0.2)
    size, upright = cutting_maps._id_size(placed, scale, SHAPER, "T001", numbered)
    assert size > 0
    assert upright == (words.h > words.w)
    assert not upright or h > w
    assert upright or w >= 30, "in a narrow cell it stands upright"
    assert cell.contains_box(words) or min(w, h) * scale < 7
    ((image, drawn_at, turned, mirrored),) = canvas.pictures
    assert (image, turned, mirrored) == ("X1", 90, ("mirrored", True))
    assert (drawn_at.w, drawn_at.h) == pytest.approx((placed.ink.w * scale, placed.ink.h * scale))


def test_names_are_as_large_as_their_cells_allow_and_no_larger_than_usual() -> None:
    """Letters are half an em wide here: four are two ems. Beside them is the room that numbers or edges take."""
    for numbered in (False, True):
        beside, above = ((cutting_maps._MOST_NUMBER_MM, cutting_maps._NUMBER_BOX_MM) if numbered
                         else (cutting_maps._EDGE_MM,) * 2)  # fmt: skip
        for w, h in ((40.0, 30.0), (16.0, 40.0), (12.0, 12.0), (300.0, 300.0)):
            size, upright = cutting_maps._size_between_numbers(
                lay("T001", Box(0, 0, w, h)), 1.0, SHAPER, "T001", numbered
            )
            room_w, room_h = w - 2 * beside, h - 2 * above
            level, tall = min(room_w / 2, room_h), min(room_h / 2, room_w)
            assert size == pytest.approx(min(max(level, tall), cutting_maps._ID_MM))
            assert upright == (min(tall, cutting_maps._ID_MM) > min(level, cutting_maps._ID_MM))


@pytest.mark.parametrize("narrow", [3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 12.0])
@pytest.mark.parametrize("across", [False, True])
def test_in_a_narrow_cell_a_name_is_read_rather_than_clear_of_the_numbers(narrow: float, across: bool) -> None:
    """As large as the cell alone allows where the room for numbers would leave less than can be read."""
    placed = lay("T001", Box(0, 0, 60.0, narrow) if across else Box(0, 0, narrow, 60.0))
    size, upright = cutting_maps._id_size(placed, 1.0, SHAPER, "T001", True)
    alone = min(narrow - 2 * cutting_maps._EDGE_MM, cutting_maps._ID_MM)
    clear = min(narrow - 2 * (cutting_maps._NUMBER_BOX_MM if across else cutting_maps._MOST_NUMBER_MM),
                cutting_maps._ID_MM)  # fmt: skip
    assert size == pytest.approx(clear if clear >= cutting_maps._LEAST_ID_MM else alone)
    assert upright == (not across)
    assert size >= min(cutting_maps._LEAST_ID_MM, alone) - 1e-9


@pytest.mark.parametrize("cut", [(0, 100, 200, 100), (50, 0, 50, 300), (0, 100, 3, 100)])
def test_the_number_of_a_cut_stands_on_it_towards_its_start(cut: tuple[float, float, float, float]) -> None:
    for number in (1, 12, 345):
        canvas = Remembered()
        cutting_maps._cut_number(cast(Any, canvas), number, cast(Any, SimpleNamespace(**dict(zip(
            ("x1", "y1", "x2", "y2"), cut, strict=True)))), 10.0, 20.0, 0.5)  # fmt: skip
        (back,) = canvas.boxes
        (words,) = canvas.spans
        assert back.contains_box(words)
        x1, y1, x2, y2 = 10 + cut[0] / 2, 20 + cut[1] / 2, 10 + cut[2] / 2, 20 + cut[3] / 2
        assert words.centre == pytest.approx(back.centre, abs=0.5)
        assert min(x1, x2) - 1e-6 <= back.centre[0] <= max(x1, x2) + 1e-6
        assert min(y1, y2) - 1e-6 <= back.centre[1] <= max(y1, y2) + 1e-6
        from_start = abs(back.centre[0] - x1) + abs(back.centre[1] - y1)
        from_end = abs(back.centre[0] - x2) + abs(back.centre[1] - y2)
        assert from_start <= from_end + 1e-6


def test_a_sheet_is_drawn_in_one_and_a_long_one_in_parts_that_leave_nothing_out() -> None:
    cells = [lay(f"T{n:03}", Box(10, 20 + n * 190.0, 250, 160)) for n in range(30)]
    short = make_sheet(210, 297, lay("T001", Box(10, 10, 150, 200)))
    (one,) = make_slices(short, [], SHAPER, 220.0)
    assert (one.top, one.bottom) == (0, 297)
    assert one.scale == map_scale(short, SHAPER, 220.0, False)
    for cuts in ([], [make_cut(0, 15 + n * 190.0, 610, 15 + n * 190.0) for n in range(1, 30)],
                 [make_cut(0, 15 + n * 190.0, 610, 15 + n * 190.0, whole=False) for n in range(1, 30)]):  # fmt: skip
        long = make_sheet(610, 5700, *cells)
        parts = list(make_slices(long, cuts, SHAPER, 220.0))
        assert len(parts) > 1
        assert parts[0].top == 0
        assert parts[-1].bottom == pytest.approx(5700)
        assert [part.bottom for part in parts[:-1]] == [part.top for part in parts[1:]]
        assert all(part.high <= 220 + 1e-6 for part in parts)
        ends = {cut.stroke.y1 for cut in cuts if cut.whole}
        assert all(part.bottom in ends for part in parts[:-1]) or not ends
        assert all(part.wide == pytest.approx(610 * part.scale) for part in parts)


@pytest.mark.parametrize("step", [0, 40, 97])
def test_no_part_of_a_long_sheet_is_a_sliver(step: int) -> None:
    """Parts share the length evenly, to the next cut, on as few pages as hold it (common practice, no source)."""
    room, wide = 220.0, 600.0
    most = (room - 10.5) / (49.0 / wide)  # at the smallest scale that is drawn: cells are large here
    for pages in (1, 2, 4):
        for over in (3.0, most / 2, most - 3):
            high = pages * most + over
            cells = [lay("T001", Box(0, 0, wide, 400))]
            cuts = [make_cut(0, float(y), wide, float(y)) for y in range(step, int(high), step)] if step else []
            parts = list(make_slices(make_sheet(wide, high, *cells), cast(Any, cuts), SHAPER, room))
            assert (parts[0].top, parts[-1].bottom) == (0, pytest.approx(high))
            assert [part.bottom for part in parts[:-1]] == [part.top for part in parts[1:]]
            assert all(part.high <= room - 10.5 + 1e-6 for part in parts)
            assert len(parts) <= pages + 1 + (step > 0)
            least = min(part.bottom - part.top for part in parts)
            assert least >= high / len(parts) - 2 * step - 1e-6, (pages, over)


def test_only_what_lies_in_a_part_is_drawn_in_it() -> None:
    cells = [lay("A", Box(0, 0, 100, 100)), lay("B", Box(0, 100, 100, 100)), lay("C", Box(0, 200, 100, 100))]
    cuts = [make_cut(0, 100, 100, 100, 1), make_cut(0, 200, 100, 200, 2), make_cut(50, 0, 50, 100, 3)]
    swatch = SimpleNamespace(place=Box(60, 110, 30, 30), name="S01")
    sheet = SimpleNamespace(number=1, width_mm=100.0, height_mm=300.0, placed=cells, swatches=(swatch,))
    for top, bottom, names, numbers in ((0.0, 100.0, "A", ["1", "3"]), (100.0, 200.0, "B", ["1", "2"]),
                                        (0.0, 300.0, "ABC", ["1", "2", "3"])):  # fmt: skip
        canvas = Remembered()
        piece = cutting_maps.SheetSlice(top, bottom, 100.0, 0.5)
        cutting_maps._draw_map(
            cast(Any, canvas), cast(Any, sheet), piece, cuts, lambda placed: "X", 5.0, 7.0, {"C": "Z"}
        )
        told = [text for text, *_ in canvas.words]
        assert [text for text in told if text in "ABCZ"] == list(names.replace("C", "Z"))
        assert sorted(text for text in told if text.isdecimal()) == numbers
        assert ("S01" in told) == (top < 140 and bottom > 110)
        # The sheet's own edge, moved so that the part begins at the corner.
        assert canvas.boxes[0] == Box(5.0, 7.0 - top * 0.5, piece.wide, 150.0)
