"""The job label by its promises: in the marks band, across no tick, what may never be left out always there."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from impose.errors import Finding
from impose.orders.batch import BatchRow
from impose.pages.pdf.font_book import ShippedFonts
from impose.profiles.garment import Garment
from impose.profiles.placement import MARKS_MM, split_tear
from impose.sheet.label import SIZES_MM, SMALLEST_MM, LabelFields, PlacedLabel, make_job_label, place_label
from impose.sheet.margins import TearMargins
from impose.sheet.transfer import Piece, Transfer
from impose.type.lettering import TextShaper
from impose.values import replace
from sheet.test_bill import picture

SHAPER = TextShaper(ShippedFonts())
FIELDS = LabelFields("3F7K-A001", "North Bank", "Bogumila Olsen", "hoodie adult XL", "left chest", "1/12", "UP")
SPARE = ("copy", "placement", "garment", "wearer")
TEAR_MM = 14.0
BAND_MM = split_tear(TEAR_MM).band_mm
SIZES = [(w, h) for w in (4, 8, 14, 22, 40, 75, 120, 200, 320) for h in (4, 12, 30, 90, 240)] + [
    (w, 4) for w in range(40, 160, 3)
]


def make_piece(w: float, h: float, up: str = "top") -> Piece:
    row = BatchRow(2, "North Bank", "", "a.png", Path("a.png"), None, Garment("t-shirt", "adult", "", ""), 1, w, None)
    even = TearMargins.make_even(split_tear(TEAR_MM))
    return Piece(row, picture(1.0), w, h, even, "full", w / 2, h / 2, up, "UP", True)  # type: ignore[arg-type]


def list_boxes(made: PlacedLabel) -> list[tuple[float, float, float, float, str]]:
    """What each line of words takes: left, top, right, bottom in mm of the cell, and its text."""
    boxes = []
    for words in made.words:
        long, up, down = (value * words.size_mm for value in (words.line.width, words.line.ascent, words.line.descent))
        told = " ".join(words.line.fields)
        if words.angle == 0:
            boxes.append((words.x, words.y - up, words.x + long, words.y + down, told))
        else:
            boxes.append((words.x - up, words.y - long, words.x + down, words.y, told))
    return boxes


@pytest.mark.parametrize("up", ["top", "left", "right"])
def test_words_lie_in_the_band_and_across_no_tick_and_not_on_each_other(up: str) -> None:
    """The marks area is the inner 3 mm of the band; corner marks take its first 2 mm, ticks stand on the folds."""
    for w, h in SIZES:
        piece = make_piece(w, h, up)
        made = place_label(piece, FIELDS, SHAPER)
        wide, high = piece.cell_w_mm, piece.cell_h_mm
        start, end = BAND_MM - MARKS_MM, BAND_MM
        for left, top, right, bottom, told in list_boxes(made):
            level = (top >= start - 1e-6 and bottom <= end + 1e-6) or (
                top >= high - end - 1e-6 and bottom <= high - start + 1e-6
            )
            upright = (left >= start - 1e-6 and right <= end + 1e-6) or (
                left >= wide - end - 1e-6 and right <= wide - start + 1e-6
            )
            assert level or upright, (w, h, told)
            if level:
                assert start + 2 < left < right < wide - start - 2, (w, h, told)
                assert right < wide / 2 - 0.5 or left > wide / 2 + 0.5, (w, h, told)
            else:
                assert start + 2 < top < bottom < high - start - 2, (w, h, told)
                assert bottom < high / 2 - 0.5 or top > high / 2 + 0.5, (w, h, told)
        for one, other in itertools.combinations(list_boxes(made), 2):
            apart = one[0] - other[2], other[0] - one[2], one[1] - other[3], other[1] - one[3]
            assert max(apart) > 0.3, (w, h, one, other)


def test_id_order_and_up_are_never_left_out_and_the_rest_gives_way_in_its_order() -> None:
    """Copy, placement, garment, wearer; what is shortened is said to be, and a reader sees how it begins."""
    counts = set()
    for w, h in SIZES:
        made = place_label(make_piece(w, h), FIELDS, SHAPER)
        told = [" ".join(words.line.fields) for words in made.words]
        spared = [name for name in made.left_out if name in SPARE]
        assert spared == list(SPARE[: len(spared)]), (w, h)
        counts.add(len(spared))
        for name in ("ident", "order", "wearer", "garment", "placement", "copy"):
            text = getattr(FIELDS, name)
            if name not in made.left_out:
                assert text in told, (w, h, name)
            elif name in ("ident", "order"):
                assert any(part.rstrip("…") and text.startswith(part.rstrip("…")) for part in told), (w, h, name)
            else:
                assert text not in told, (w, h, name)
        assert ("UP" in told) is ("up word" not in made.left_out), (w, h)
        assert made.arrow is not None, (w, h)
        assert all(words.size_mm >= (SMALLEST_MM if len(spared) == len(SPARE) else SIZES_MM[-1]) - 1e-9
                   for words in made.words)  # fmt: skip
    assert counts >= {0, 3, 4}


def test_everything_has_room_on_a_large_print_at_the_largest_size() -> None:
    made = place_label(make_piece(320, 240), FIELDS, SHAPER)
    assert made.left_out == ()
    assert {words.size_mm for words in made.words} == {SIZES_MM[0]}
    assert {words.angle for words in made.words} == {0}, "along the longest side"
    assert {words.angle for words in place_label(make_piece(240, 320), FIELDS, SHAPER).words} == {270}
    order = [" ".join(words.line.fields) for words in sorted(made.words, key=lambda words: words.x)]
    assert [text for text in order if text != "UP"] == FIELDS.list_texts()


def test_wider_prints_leave_out_no_more_than_narrow_ones() -> None:
    told = [len(place_label(make_piece(w, 4), FIELDS, SHAPER).left_out) for w in range(10, 200, 5)]
    assert told == sorted(told, reverse=True)
    assert told[-1] == 0


def test_the_arrow_points_to_the_edge_that_is_up() -> None:
    """An isosceles triangle: its tip is alone on that side of its middle."""
    for (w, h), (up, axis, sign) in itertools.product(
        [(200, 60), (60, 200), (8, 4)], [("top", 1, -1), ("left", 0, -1), ("right", 0, 1)]
    ):
        arrow = place_label(make_piece(w, h, up), FIELDS, SHAPER).arrow
        assert arrow is not None
        middle = sum(point[axis] for point in arrow.points) / 3
        ahead = [point for point in arrow.points if (point[axis] - middle) * sign > 0]
        assert len(ahead) == 1, (w, h, up)
        other = 1 - axis
        rest = [point for point in arrow.points if point is not ahead[0]]
        assert ahead[0][other] == pytest.approx(sum(point[other] for point in rest) / 2)
        assert rest[0][axis] == pytest.approx(rest[1][axis])


def test_a_field_that_is_empty_takes_no_room_and_is_not_said_to_be_left_out() -> None:
    bare = replace(FIELDS, order="", wearer="", garment="", placement="", copy="")
    for w, h in SIZES:
        made = place_label(make_piece(w, h), bare, SHAPER)
        told = [" ".join(words.line.fields) for words in made.words]
        assert set(told) <= {"UP", bare.ident} or "ident" in made.left_out, (w, h)
        assert set(made.left_out) <= {"ident", "up word"}, (w, h)


def test_what_a_label_cannot_hold_or_write_is_told_once_for_a_row() -> None:
    """The order cut short on a tiny print; a letter of no script (U+E000, private use) and a control character."""

    def find_kinds(order: str, w: float, copy: int = 1) -> list[str]:
        piece = make_piece(w, 4)
        piece = replace(piece, row=replace(piece.row, order=order, copies=2))
        findings: list[Finding] = []
        make_job_label(Transfer("A001", piece, copy), "3F7K", SHAPER, findings)
        assert all(finding.row == 2 for finding in findings)
        return [finding.kind for finding in findings]

    assert find_kinds("North Bank Rowing Club of Old Harbour", 10) == ["short-label"]
    assert find_kinds("North Bank", 200) == []
    assert find_kinds("North \ue000 Bank", 200) == ["unwritable"]
    assert find_kinds("North \x07 Bank", 200) == ["not-text"]
    assert find_kinds("North \ue000\x07 Bank Rowing Club of Old Harbour", 10, copy=2) == []
