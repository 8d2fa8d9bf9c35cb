"""What a customer may rely on in the PDFs for approval and for an offer, measured as other libraries read them."""

from __future__ import annotations

import itertools
import re
from pathlib import Path
from typing import NamedTuple

import pytest

import drawn
from conftest import draw
from impose.run import Options, plan, produce
from impose.run.offers import write_offers
from impose.run.price import price_record

MARGIN_MM, FOOT_MM = 16.0, 14.0
PRICES = """
press_rate = 18
power_kw = 1.9
power_cost = 0.3
markup = 0.5
tax = 0.23
round_to = 0.05
shop = "Low Bridge Prints"
terms = "Half of it is paid with the order, the rest when it is fetched."
[blanks]
"t-shirt" = 4
"hoodie" = 15
[steps]
30 = 0.05
50 = 0.10
"""
CREW = "".join(
    f"Crew,W{n:02},owl.png,,left-chest,T-shirt adult M,80 mm\nCrew,W{n:02},,NAME{n},upper-back,T-shirt adult M,180 mm\n"
    for n in range(24)
)
FEW = """Few,Ada,owl.png,,left-chest,T-shirt adult M,80 mm
Few,Bo,wide.png,,full-front,T-shirt adult L,200 mm
Few,Bo,owl.png,,right-long-sleeve,T-shirt adult L,60 mm
Few,Cy,wide.png,,full-back,hoodie adult M,240 mm
Few,Di,owl.png,,centre-chest,T-shirt adult S,90 mm
Few,Ed,wide.png,,centre-chest,T-shirt adult S,90 mm
"""


class Paper(NamedTuple):
    """A document: the outlines and the words of every page."""

    pages: list[tuple[drawn.Page, list[drawn.Run]]]


def read_paper(path: Path) -> Paper:
    return Paper(list(zip(drawn.pages(path), drawn.runs(path), strict=True)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("customers")
    draw("ellipse", 200, 200).save(folder / "owl.png")
    draw("noise", 240, 120).save(folder / "wide.png")
    (folder / "b.csv").write_text("order,wearer,art,words,placement,garment,width\n" + CREW + FEW, "utf-8")
    (folder / "own").mkdir()
    (folder / "own" / "prices.toml").write_text(PRICES, "utf-8")
    options = Options(settings={"papers": ["a3"]}, steps=20, workers=1, cache=False, profiles_dir=folder / "own")
    out = produce(plan([folder / "b.csv"], options), folder / "out")
    write_offers(price_record(out / "batch.json", options, folder / "ledger.db"), options)
    return out


DOCUMENTS = ("approval/crew.pdf", "approval/few.pdf", "offers/crew.pdf", "offers/few.pdf")


@pytest.fixture(scope="module")
def papers(folder: Path) -> dict[str, Paper]:
    return {name: read_paper(folder / name) for name in DOCUMENTS}


def rules(page: drawn.Page) -> list[drawn.Outline]:
    """Level strokes."""
    return [line for line in page.outlines if line.paint == "S" and len(line.points) == 2 and line.box[3] == 0]


def ticks(page: drawn.Page) -> list[tuple[float, float, float, float]]:
    return [box for box in page.boxes if box[2] == pytest.approx(box[3], abs=0.01) and box[2] < 5]


def pitches(values: list[float]) -> list[float]:
    return [after - before for before, after in itertools.pairwise(values)]


@pytest.mark.parametrize("name", DOCUMENTS)
def test_words_keep_the_margins_and_clear_of_each_other(papers: dict[str, Paper], name: str) -> None:
    """16 mm at the sides, the foot below everything; 6 points (2.1 mm) are common practice for the least."""
    for number, (page, words) in enumerate(papers[name].pages, 1):
        for run in words:
            assert run.ink[0] > MARGIN_MM - 0.3, run
            assert run.right < page.width - MARGIN_MM + 0.3, run
            assert run.size > 2.1
        *body, foot = sorted(words, key=lambda run: run.y)
        assert foot.text.endswith(f"page {number}")
        assert foot.y == pytest.approx(page.height - FOOT_MM / 2, abs=0.1)
        assert foot.x == pytest.approx(MARGIN_MM, abs=0.5)
        assert max(run.ink[3] for run in body) < page.height - FOOT_MM + 0.1
        for run, other in itertools.combinations(words, 2):
            apart = (other.ink[0] - run.right, run.ink[0] - other.right, other.ink[1] - run.ink[3],
                     run.ink[1] - other.ink[3])  # fmt: skip
            assert max(apart) > 0.2, (run, other)
        for line in rules(page):
            x, y, w, _ = line.box
            through = [run for run in words if run.ink[1] < y < run.ink[3] and run.right > x and run.ink[0] < x + w]
            assert not through, (line, through)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_heading_is_larger_than_what_follows(papers: dict[str, Paper], name: str) -> None:
    words = papers[name].pages[0][1]
    sizes = {run.text: run.size for run in words}
    title = next(run for run in words if run.text in ("Crew", "Few"))
    assert title.size == max(sizes.values())
    assert all(run.size < 0.75 * title.size for run in words if run is not title)


def test_a_roster_has_a_row_of_its_own_for_each_garment(papers: dict[str, Paper]) -> None:
    """A rule above it, cells on one line in the columns of the heads, and at its end a box between it and the next."""
    names: list[str] = []
    for page, words in papers["approval/crew.pdf"].pages:
        rows = [run for run in words if re.fullmatch(r"W\d\d", run.text)]
        names += [run.text for run in rows]
        lines = [line.box for line in rules(page) if line.box[2] == pytest.approx(page.width - 2 * MARGIN_MM, abs=0.1)]
        above = [max(box[1] for box in lines if box[1] < run.y) for run in rows]
        boxes = [box for box in ticks(page) if box[0] > page.width / 2]
        assert len(boxes) == len(rows)
        assert all(box[0] == pytest.approx(MARGIN_MM, abs=0.01) for box in lines)
        for run, top, box, high in zip(rows, above, boxes, [*pitches(above), pitches(above)[0]], strict=True):
            assert high == pytest.approx(pitches(above)[0], abs=0.01)
            line = [other for other in words if abs(other.y - run.y) < 0.05]
            assert [other.text for other in line] == [run.text, "T-shirt adult M", f"NAME{int(run.text[1:])}"]
            # The letters and the box stand in the middle of the row, as near as a letter's height lets them.
            assert (run.ink[1] + run.ink[3]) / 2 == pytest.approx(top + high / 2, abs=0.7)
            assert box[1] + box[3] / 2 == pytest.approx(top + high / 2, abs=0.2)
            assert box[2] == pytest.approx(4, abs=0.01)
            assert box[0] + box[2] == pytest.approx(page.width - MARGIN_MM - 1, abs=0.01)
        for column in range(3):
            cells = [sorted((w for w in words if abs(w.y - run.y) < 0.05), key=lambda w: w.x)[column] for run in rows]
            heads = [w for w in words if w.text == ("For", "Garment", "upper back")[column] and w.y < rows[0].y]
            assert {round(cell.x, 1) for cell in (*cells, *heads)} == {round(cells[0].x, 1)}
    assert names == [f"W{number:02}" for number in range(24)]


def test_a_page_is_filled_before_the_next_begins(papers: dict[str, Paper]) -> None:
    """A roster goes on as long as one more row has room above the foot."""
    (page, words), *_ = papers["approval/crew.pdf"].pages
    rows = [run.y for run in words if re.fullmatch(r"W\d\d", run.text)]
    assert rows[-1] + pitches(rows)[0] + 2.4 > page.height - FOOT_MM


def test_what_is_signed_has_a_line_above_its_word_each_as_long(papers: dict[str, Paper]) -> None:
    page, words = papers["approval/crew.pdf"].pages[-1]
    named = [run for run in words if run.text in ("Name", "Signature", "Date")]
    assert [run.text for run in named] == ["Name", "Signature", "Date"]
    lines = [line.box for line in rules(page) if line.box[2] < page.width / 2]
    assert len(lines) == 3
    # Room to write: what is signed by hand is about 10 mm high, common practice, no source.
    above = max(line.box[1] for line in rules(page) if line.box[1] < lines[0][1])
    agreed = next(run for run in words if run.text.startswith("I agree"))
    assert lines[0][1] - above >= 10
    assert above - agreed.y >= 8
    for run, (x, y, w, _) in zip(named, lines, strict=True):
        assert run.x == pytest.approx(x, abs=0.6)
        assert 0 < run.ink[1] - y < 3
        assert w == pytest.approx(lines[0][2], abs=0.01)
    assert lines[0][0] == pytest.approx(MARGIN_MM, abs=0.01)
    assert len({round(gap, 2) for gap in pitches([box[0] for box in lines])}) == 1
    assert lines[2][0] + lines[2][2] == pytest.approx(page.width - MARGIN_MM - 5, abs=0.01)


def test_a_check_has_its_box_on_its_first_line(papers: dict[str, Paper]) -> None:
    page, words = papers["approval/crew.pdf"].pages[-1]
    heading = next(run for run in words if run.text == "Please check and sign")
    boxes = [box for box in ticks(page) if box[1] > heading.y]
    assert len(boxes) == 4
    for x, y, w, h in boxes:
        assert (x, w) == pytest.approx((MARGIN_MM, 4), abs=0.01)
        beside = min((run for run in words if run.x > x + w), key=lambda run: abs(run.y - y - h))
        assert y < beside.y <= y + h
        assert beside.x == pytest.approx(MARGIN_MM + 7, abs=0.6)
    assert len({round(gap, 1) for gap in pitches([box[1] for box in boxes])}) == 1


# --- drawings ---


def cloths(page: drawn.Page) -> list[tuple[float, float, float, float]]:
    """The outlines of garments, white within: x, y, width and height; a hood and what it touches are one garment."""
    found: list[list[float]] = []
    for outline in page.outlines:
        if outline.paint == "B" and outline.fill == 1:
            x, y, w, h = outline.box
            for box in found:
                if x < box[2] and x + w > box[0] and y <= box[3] + 0.01 and y + h >= box[1] - 0.01:
                    box[:] = [min(x, box[0]), min(y, box[1]), max(x + w, box[2]), max(y + h, box[3])]
                    break
            else:
                found.append([x, y, x + w, y + h])
    return [(x, y, right - x, low - y) for x, y, right, low in found]


def pictures(page: drawn.Page) -> list[tuple[float, float, float, float]]:
    """The boxes of pictures: x, y, width and height."""
    boxes = []
    for shown in page.pictures:
        lower_left, lower_right, upper_left = shown.corners
        xs = [lower_left[0], lower_right[0], lower_right[0] + upper_left[0] - lower_left[0]]
        ys = [lower_left[1], upper_left[1], upper_left[1] + lower_right[1] - lower_left[1]]
        boxes.append((min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)))
    return boxes


@pytest.mark.parametrize(
    ("name", "at", "chest_mm", "width_mm"),
    [("approval/crew.pdf", 0, 508, 80), ("offers/crew.pdf", 0, 508, 80)],
)
def test_prints_and_cloth_are_drawn_to_one_scale(
    papers: dict[str, Paper], name: str, at: int, chest_mm: float, width_mm: float
) -> None:
    page, words = papers[name].pages[at]
    front, back = cloths(page)
    chest, nape = pictures(page)
    scale = chest[2] / width_mm
    assert chest[3] == pytest.approx(chest[2], rel=0.02)
    assert front[3] == pytest.approx(back[3], rel=0.15)
    assert front[2] == pytest.approx(back[2], rel=0.02)
    # The left chest is on the viewer's right; words of 180 mm are to the same scale, in the middle of the back.
    assert chest[0] > front[0] + front[2] / 2
    assert nape[0] + nape[2] / 2 == pytest.approx(back[0] + back[2] / 2, abs=0.3)
    assert front[2] / scale > chest_mm
    for number, (x, y, *_) in (("1", chest), ("2", nape)):
        run = next(run for run in words if run.text == number and abs(run.right - x) < 3)
        assert 0.3 < x - run.right < 1.5
        assert y - 0.5 < run.ink[1] < y + 2
    for face, (x, y, w, h) in (("Front", front), ("Back", back)):
        caption = next(run for run in words if run.text == face)
        assert (caption.ink[0] + caption.right) / 2 == pytest.approx(x + w / 2, abs=0.4)
        assert y + h < caption.ink[1] < y + h + 6


@pytest.mark.parametrize("name", DOCUMENTS)
def test_drawings_lie_within_the_margins_and_clear_of_words(papers: dict[str, Paper], name: str) -> None:
    for page, words in papers[name].pages:
        for x, y, w, h in cloths(page):
            assert x > MARGIN_MM - 0.1
            assert x + w < page.width - MARGIN_MM + 0.1
            for run in words:
                if len(run.text) > 2:
                    apart = run.ink[0] - x - w, x - run.right, run.ink[1] - y - h, y - run.ink[3]
                    assert max(apart) > 0, (run, (x, y, w, h))
        for box, other in itertools.combinations(cloths(page), 2):
            across, down = (max(box[k], other[k]) - min(box[k] + box[k + 2], other[k] + other[k + 2]) for k in (0, 1))
            assert max(across, down) > 1


def test_looks_of_an_offer_stand_in_rows_and_columns(papers: dict[str, Paper]) -> None:
    """Five looks: three beside each other, each with its number and places below, at the left of its drawing."""
    ((page, words),) = papers["offers/few.pdf"].pages
    captions = [run for run in words if re.match(r"\d\. ", run.text)]
    assert [run.text[0] for run in captions] == ["1", "2", "3", "4", "5"]
    columns = [run.x for run in captions]
    assert columns[3:] == pytest.approx(columns[:2], abs=0.3)
    assert len({round(gap) for gap in pitches(columns[:3])}) == 1
    assert columns[0] == pytest.approx(MARGIN_MM, abs=0.6)
    garments = cloths(page)
    assert len(garments) >= 6
    for run, right in zip(captions, [*columns[1:3], page.width - MARGIN_MM, columns[4], columns[2]], strict=True):
        above = [box for box in garments if run.x - 1 < box[0] < right and 0 < run.y - box[1] - box[3] < 18]
        assert above, run
        assert all(box[0] + box[2] < right for box in above)


def test_the_table_of_an_offer_has_its_figures_below_their_heads(papers: dict[str, Paper]) -> None:
    """Figures end where their head ends; a rule above each row, a heavier one above the sums, the last sum larger."""
    ((page, words),) = papers["offers/few.pdf"].pages
    head = {run.text: run for run in words if run.text in ("Garments", "Number", "Each", "Amount in EUR")}
    rows = [run for run in words if re.fullmatch(r"\d+", run.text) and abs(run.right - head["Number"].right) < 1]
    assert [run.text for run in rows] == ["1"] * 5
    lines = [line for line in rules(page) if line.box[1] > head["Number"].y]
    assert len(lines) == 6
    for line in lines:
        assert (line.box[0], line.box[2]) == pytest.approx((MARGIN_MM, page.width - 2 * MARGIN_MM), abs=0.01)
    assert lines[-1].width > 1.5 * lines[0].width
    amounts = []
    for run, line, after in zip(rows, lines, lines[1:], strict=False):
        cells = sorted((w for w in words if abs(w.y - run.y) < 0.05 and w.x > page.width / 2), key=lambda w: w.x)
        each, amount = cells[-2:]
        assert each.right == pytest.approx(head["Each"].right, abs=0.4)
        assert amount.right == pytest.approx(head["Amount in EUR"].right, abs=0.4)
        amounts.append(float(amount.text))
        name = next(w for w in words if abs(w.y - run.y) < 1 and w.x < page.width / 2)
        assert line.box[1] < min(w.ink[1] for w in (name, *cells))
        low = max(w.ink[3] for w in words if w.y < after.box[1])
        assert 0.5 < after.box[1] - low < 4
    sums = [w for w in words if w.y > lines[-1].box[1] and abs(w.right - page.width + MARGIN_MM) < 0.5][:3]
    assert float(sums[0].text) == pytest.approx(sum(amounts), abs=0.001)
    assert pitches([run.y for run in sums])[0] == pytest.approx(pitches([run.y for run in sums])[1], abs=0.01)
    assert sums[0].size == sums[1].size < sums[2].size
    for run, told in zip(sums, ("Price", "Tax 23 %", "To pay"), strict=True):
        beside = next(w for w in words if abs(w.y - run.y) < 0.05 and w is not run)
        assert beside.text == told
        assert beside.right == pytest.approx(head["Each"].right, abs=0.4)
    below = sorted((run for run in words if run.y > sums[-1].y + 1), key=lambda run: run.y)
    assert [run.text.split()[0] for run in below[:2]] == ["Half", "Amounts"]
    assert below[0].ink[1] - sums[-1].y > 3
