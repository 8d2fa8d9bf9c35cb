"""Slug and rulers lie in waste paper, wholly: never on a cell, on one another or off the paper (geometry by hand)."""

from __future__ import annotations

import numpy as np
import pytest

from impose.pages.pdf.font_book import ShippedFonts
from impose.sheet.marks import CLEAR_MM
from impose.sheet.slug_and_rulers import RULER_MM, SLUG_SIZE_MM, WastePaper, find_free_rectangles
from impose.type.lettering import TextShaper
from impose.units import Box

SHAPER = TextShaper(ShippedFonts())
AREA = Box(3, 3, 204, 280)
ACROSS, DOWN = Box(3, 3, 204, 270), Box(3, 3, 195, 280)  # what leaves a strip below, and one on the right
TEXTS = ("AB12  Lantern night  sheet 1 of 3  tear along the ticks", "AB12  sheet 1 of 3", "AB12")


def words_box(placed) -> Box:
    """The room of a line's letters, turned as it reads: upwards at 270 degrees."""
    long = placed.line.width * placed.size_mm
    up, down = placed.line.ascent * placed.size_mm, placed.line.descent * placed.size_mm
    if placed.angle == 270:
        return Box(placed.x - up, placed.y - long, up + down, long)
    return Box(placed.x, placed.y - up, long, up + down)


def strokes_box(strokes) -> Box:
    xs = [x for stroke in strokes for x in (stroke.x1, stroke.x2)]
    ys = [y for stroke in strokes for y in (stroke.y1, stroke.y2)]
    return Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def lay(taken: list[Box]) -> WastePaper:
    waste = WastePaper(AREA, list(taken))
    waste.add_slug(TEXTS, SHAPER)
    waste.add_ruler_across(SHAPER)
    waste.add_ruler_down(SHAPER)
    return waste


@pytest.mark.parametrize(
    "taken", [[], [ACROSS], [DOWN], [Box(3, 3, 195, 270)], [Box(50, 60, 80, 120), Box(3, 200, 90, 40)]]
)
def test_what_is_laid_touches_no_cell_and_stays_on_the_paper(taken: list[Box]) -> None:
    waste = lay(taken)
    assert waste.words
    for box in [words_box(placed) for placed in waste.words] + ([strokes_box(waste.strokes)] if waste.strokes else []):
        assert AREA.inset_by(*(-1e-6,) * 4).contains_box(box)
    for cell in taken:
        for placed in waste.words:
            assert not cell.overlaps_box(words_box(placed))
        for stroke in waste.strokes:
            assert not cell.inset_by(*(1e-6,) * 4).overlaps_box(strokes_box([stroke]).inset_by(*(-1e-9,) * 4))
    slug = words_box(waste.words[0])
    assert not any(slug.overlaps_box(words_box(placed)) for placed in waste.words[1:])


@pytest.mark.parametrize(("taken", "angle"), [(ACROSS, 0), (DOWN, 270)])
def test_the_slug_lies_along_the_strip_that_is_left(taken: Box, angle: int) -> None:
    """The longest text that fits, at the outer edge, clear of the ends."""
    waste = WastePaper(AREA, [taken])
    assert waste.add_slug(TEXTS, SHAPER)
    (placed,) = waste.words
    assert (placed.angle, placed.size_mm) == (angle, SLUG_SIZE_MM)
    assert "tear along" in " ".join(placed.line.fields)
    box = words_box(placed)
    if angle:
        assert box.bottom == pytest.approx(AREA.bottom - CLEAR_MM, abs=0.01)
        assert box.x > taken.right
    else:
        assert box.x == pytest.approx(AREA.x + CLEAR_MM, abs=0.01)
        assert box.y > taken.bottom


def test_a_shorter_text_is_taken_where_the_longest_has_no_room() -> None:
    waste = WastePaper(Box(0, 0, 40, 4), [])
    assert waste.add_slug(TEXTS, SHAPER)
    told = " ".join(waste.words[0].line.fields)
    assert told.startswith("AB12")
    assert "tear" not in told
    assert not WastePaper(Box(0, 0, 4, 4), []).add_slug(TEXTS, SHAPER)


@pytest.mark.parametrize("down", [False, True])
def test_a_ruler_is_100_mm_with_eleven_marks(down: bool) -> None:
    waste = WastePaper(AREA, [])
    assert (waste.add_ruler_down if down else waste.add_ruler_across)(SHAPER)
    line, *marks = waste.strokes
    assert np.hypot(line.x2 - line.x1, line.y2 - line.y1) == pytest.approx(RULER_MM)
    at = [(stroke.y2 if down else stroke.x2) for stroke in marks]
    start = line.y1 if down else line.x1
    assert [round(where - start, 6) for where in at] == [10.0 * step for step in range(11)]
    high = [abs(stroke.x2 - stroke.x1) if down else abs(stroke.y2 - stroke.y1) for stroke in marks]
    assert {step for step, tall in enumerate(high) if tall == max(high)} == {0, 5, 10}, "ends and middle stand taller"
    assert not WastePaper(Box(0, 0, 90, 90), []).add_ruler_across(SHAPER)
    assert not WastePaper(Box(0, 0, 90, 90), []).add_ruler_down(SHAPER)


def test_free_rectangles_are_all_the_largest_and_empty() -> None:
    """Around one obstacle there are four, by hand."""
    found = find_free_rectangles(Box(0, 0, 100, 80), [Box(40, 30, 20, 10)])
    assert set(found) == {Box(0, 0, 40, 80), Box(60, 0, 40, 80), Box(0, 0, 100, 30), Box(0, 40, 100, 40)}
    assert found[0] == Box(0, 40, 100, 40)
