"""What a reader of paper may rely on, measured on a whole evening's pages as other libraries read them.

One batch with every kind of print is made once: three faces and four, a zip, a hood, panels, a print without a place,
more prints than half a page holds, names in a grid.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
import drawn
from conftest import draw
from impose.run import Options, plan, produce

MARGIN_MM = 10.0
PICTURES = {
    "crest.png": ("ellipse", 300, 300), "words.png": ("words", 900, 80), "sky.png": ("noise", 220, 260),
    "tall.png": ("gradient", 340, 430),
}  # fmt: skip
ROWS = """order,wearer,art,words,placement,garment,copies,width,cloth,cloth_colour,accept
R-1,Ilka,sky.png,,full-back,T-shirt adult M,1,10 in,,,
R-1,Ilka,crest.png,,left-chest,T-shirt adult M,1,,,,
R-1,Ilka,crest.png,,right-short-sleeve,T-shirt adult M,1,2.5 in,,,
R-2,Borys,crest.png,,left-chest,zip hoodie adult L,1,70 mm,,,
R-2,Borys,sky.png,,full-back,zip hoodie adult L,1,150 mm,,,
R-2,Borys,words.png,,left-long-sleeve,zip hoodie adult L,1,240 mm,,,
R-2,Borys,crest.png,,hood,zip hoodie adult L,1,60 mm,,,
R-3,,crest.png,,left-chest,T-shirt adult S,2,,,,
R-4,Lev,crest.png,,full-back,polo toddler 2T,1,60 mm,polyester,sky blue,
R-4,Mia,crest.png,,pocket,T-shirt adult M,1,60 mm,,,
R-5,Big,tall.png,,full-back,T-shirt adult XL,1,340 mm,,,
R-6,Ned,words.png,,full-front,T-shirt adult XL,1,600 mm,,,
R-7,Oda,crest.png,,left-chest,T-shirt adult M,1,60 mm,,,prints-overlap
R-7,Oda,crest.png,,centre-chest,T-shirt adult M,1,60 mm,,,prints-overlap
R-7,Oda,crest.png,,full-front,T-shirt adult M,1,60 mm,,,prints-overlap
R-7,Oda,crest.png,,pocket,T-shirt adult M,1,60 mm,,,prints-overlap
,,crest.png,,,,2,60 mm,,,
""" + "".join(f"Team,W{n:02},,NAME{n},upper-back,T-shirt adult M,1,200 mm,,,\n" for n in range(5))


class Paper(NamedTuple):
    """Tickets: outlines and words of every page."""

    pages: list[tuple[drawn.Page, list[drawn.Run]]]


@pytest.fixture(scope="module")
def paper(tmp_path_factory: pytest.TempPathFactory) -> Paper:
    folder = tmp_path_factory.mktemp("evening")
    for seed, (file, (kind, width, height)) in enumerate(PICTURES.items()):
        draw(kind, width, height, seed).save(folder / file)
    (folder / "evening.csv").write_text(ROWS, "utf-8")
    options = Options(settings={"papers": ["13x19"]}, steps=5, workers=1, cache=False, oversize="panels")
    out = produce(plan([folder / "evening.csv"], options), folder / "out")
    tickets = out / "tickets.pdf"
    return Paper(list(zip(drawn.pages(tickets), drawn.runs(tickets), strict=True)))


def strokes(page: drawn.Page, width_mm: float) -> list[drawn.Outline]:
    """Straight strokes of a width."""
    return [line for line in page.outlines if len(line.points) == 2 and abs(line.width - width_mm) < 0.01]


def middle(ink: tuple[float, float, float, float]) -> tuple[float, float]:
    return (ink[0] + ink[2]) / 2, (ink[1] + ink[3]) / 2


def test_words_stand_in_the_middle_of_their_own_ground(paper: Paper) -> None:
    """White is cleared behind words on a drawing, black laid behind those of a heading: as much on either side."""
    checked = 0
    for page, words in paper.pages:
        for ground in page.outlines:
            if not (ground.is_box and ground.paint == "f" and ground.fill in (0.0, 1.0) and ground.box[3] < 6):
                continue
            x, y, w, h = ground.box
            for run in words:
                at = middle(run.ink)
                # Anything may have been drawn on it later; a word at its origin is the one that it was made for.
                if not (x - 0.1 < run.x < x + 1.6 and y - 2 < at[1] < y + h + 2 and "=" not in run.text):
                    continue
                sides = run.ink[0] - x, x + w - run.right
                if abs(sides[0] - sides[1]) > 3:
                    continue
                checked += 1
                ends = run.ink[1] - y, y + h - run.ink[3]
                assert min(*sides, *ends) > -0.05, run
                assert abs(ends[0] - ends[1]) < 0.75, run
    assert checked > 40


def test_every_whole_page_is_headed_at_the_same_place(paper: Paper) -> None:
    """PLAIN PAPER, what the page is, and the batch on the right edge: none lower than the black of the first."""
    found = set()
    for page, words in paper.pages[:4]:
        ground = next(box.box for box in page.outlines if box.paint == "f" and box.fill == 0 and box.is_box)
        head = [run for run in words if ground[1] < run.y < ground[1] + ground[3] + 1]
        assert head[0].text == "PLAIN PAPER"
        title, batch = head[1], head[-1]
        assert title.size > 1.5 * batch.size
        assert batch.text.startswith("batch ")
        assert batch.right == pytest.approx(page.width - MARGIN_MM, abs=0.6)
        assert max(title.y, batch.y) <= ground[1] + ground[3]
        found.add((round(title.x, 2), round(title.y, 2), title.size, round(batch.y, 2)))
    assert len(found) == 1


def scale_at(page: drawn.Page, words: list[drawn.Run], x: float, y: float) -> float:
    """What a presser reads above a drawing: 1 : n."""
    half = page.height / 2
    titles = [
        (run.x, float(scale[1])) for run in words
        if (scale := re.search(r"1 : ([\d.]+)$", run.text)) and run.y // half == y // half and run.x < x + 5
    ]  # fmt: skip
    return max(titles)[1]


class Dimension(NamedTuple):
    """A dimension line with an arrowhead at each end: its ends, whether it is level, and its length in mm of paper."""

    start: drawn.Point
    end: drawn.Point
    level: bool
    length: float


def dimensions(page: drawn.Page) -> list[Dimension]:
    tips = [point for head in page.outlines if head.paint == "f" and len(head.points) == 3 for point in head.points]
    found = []
    for line in strokes(page, 0.15):
        if all(any(abs(a - x) + abs(b - y) < 0.01 for a, b in tips) for x, y in line.points):
            (x1, y1), (x2, y2) = line.points
            found.append(Dimension((x1, y1), (x2, y2), y1 == y2, abs(x2 - x1) + abs(y2 - y1)))
    return found


def test_every_dimension_is_as_long_as_it_says(paper: Paper) -> None:
    """By the scale above its drawing; figures are whole millimetres."""
    checked = 0
    for page, words in paper.pages:
        for line in dimensions(page):
            x, y = (line.start[0] + line.end[0]) / 2, (line.start[1] + line.end[1]) / 2
            told = [run for run in words if abs(run.size - 2.7) < 0.01 and re.fullmatch(r"[\d.]+", run.text)]
            near = min(told, key=lambda run: abs(middle(run.ink)[0] - x) + abs(middle(run.ink)[1] - y))
            across, down = abs(middle(near.ink)[0] - x), abs(middle(near.ink)[1] - y)
            assert (across < 0.6 and down < 3) if line.level else (down < 0.6 and across < 5), near
            checked += 1
            assert line.length * scale_at(page, words, x, y) == pytest.approx(float(near.text), abs=0.6), near
    assert checked > 12


def test_a_dimension_ends_at_lines_that_reach_just_past_it(paper: Paper) -> None:
    """Extension lines stand square to the dimension and end beyond it (ISO 129-1: they go a little past it)."""
    checked = 0
    for page, _ in paper.pages:
        thin = strokes(page, 0.1)
        for line in dimensions(page):
            for x, y in (line.start, line.end):
                ends = [
                    [point[1] - y if line.level else point[0] - x for point in other.points] for other in thin
                    if all(abs(point[0] - x if line.level else point[1] - y) < 0.01 for point in other.points)
                ]  # fmt: skip
                past = [min(map(abs, pair)) for pair in ends if pair[0] * pair[1] <= 0]
                assert any(over == pytest.approx(0.8, abs=0.02) for over in past), (line, ends)
                checked += 1
    assert checked > 24


def test_words_keep_the_margins_and_can_be_read(paper: Paper) -> None:
    """10 mm at the sides, which every desk printer prints; 6 points (2.1 mm) are common practice for the least."""
    for page, words in paper.pages:
        for run in words:
            # The figure of a dimension may hang over beside the widest print: still on what any printer prints.
            margin = 5.0 if re.fullmatch(r"[\d.]+", run.text) else MARGIN_MM - 0.5
            assert margin < run.ink[0], run
            assert run.right < page.width - margin, run
            assert run.ink[1] > 5, run
            assert run.ink[3] < page.height - 5, run
            assert run.size > 2.1 or re.fullmatch(r"T\d{3}|\d", run.text), run


def test_no_rule_or_dimension_runs_through_words(paper: Paper) -> None:
    """Rules and dimensions; where white was cleared for the words, what lay there before is gone."""
    checked = 0
    for page, words in paper.pages:
        grounds = [
            (at, ground.box) for at, ground in enumerate(page.outlines)
            if ground.is_box and ground.paint == "f" and ground.fill == 1
        ]  # fmt: skip
        lines = [
            (at, line.box) for at, line in enumerate(page.outlines)
            if len(line.points) == 2 and line.paint == "S" and (line.box[2] == 0 or line.box[3] == 0)
            and (abs(line.width - 0.3) < 0.01 or abs(line.width - 0.15) < 0.01) and not line.dashed
        ]  # fmt: skip
        for run in words:
            left, top, right, low = run.ink
            x, y = middle(run.ink)
            since = max((at for at, (a, b, w, h) in grounds if a < x < a + w and b < y < b + h), default=-1)
            for at, (a, b, w, h) in lines:
                if at > since:
                    checked += 1
                    through = a < right - 0.1 and a + w > left + 0.1 and b < low - 0.1 and b + h > top + 0.1
                    assert not through, (run, (a, b, w, h))
    assert checked > 1000


def test_a_list_of_cuts_begins_beside_the_upper_edge_of_its_map(paper: Paper) -> None:
    checked = 0
    for page, words in paper.pages:
        for head in (run for run in words if re.match(r"Sheet \d+ of \d+", run.text)):
            maps = [box.box for box in page.outlines if box.is_box and abs(box.width - 0.35) < 0.01]
            x, y, w, _ = min((box for box in maps if box[1] > head.y), key=lambda box: box[1])
            first = min((run for run in words if run.x > x + w + 1 and run.y > y), key=lambda run: run.y)
            assert 0 < first.ink[1] - y < 1.5
            checked += 1
    assert checked > 3


def test_a_box_to_tick_stands_on_the_line_of_its_words(paper: Paper) -> None:
    checked = 0
    for page, words in paper.pages:
        for x, y, w, h in page.boxes:
            if not (abs(w - h) < 0.01 and 2 < w < 4.3):
                continue
            beside = [run for run in words if y + h / 2 < run.y <= y + h and abs(run.x - x) < 30]
            assert beside, (x, y)
            checked += 1
    assert checked > 80
