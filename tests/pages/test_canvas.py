"""The canvas of plain pages: what is drawn in millimetres lies there, as pikepdf and pdfium read it.

ISO 32000-1: 8.3.2.3 (a unit is 1/72 in), 8.4.3 (line width, dash), 8.5.3 (painting), 8.9.5 (a picture is the unit
square), 12.4.2 (page labels), 14.11.2 (boxes of a page).
"""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image

import drawn
from impose.pages.own_page import is_own_page
from impose.pages.pdf.canvas import PdfPages
from impose.pages.pdf.font_book import ShippedFonts
from impose.pages.pdf.pdf_file import PdfFile, encode_number, encode_text
from impose.pages.proof.gallery import pack_image
from impose.pages.tickets.text_blocks import draw_paragraph, draw_tick_box, fit_parts, measure_height, wrap_text
from impose.type.lettering import TextShaper
from impose.units import Box

SHAPER = TextShaper(ShippedFonts())
MM = 72 / 25.4


def save(folder: Path, draw: Any, width: float = 100.0, height: float = 80.0, count: int = 1) -> Path:
    path = folder / "page.pdf"
    with PdfFile() as document:
        pages = PdfPages(document, SHAPER)
        for _ in range(count):
            canvas = pages.new_page(width, height)
            draw(canvas)
            pages.add_page(canvas)
        pages.save_document(path, "A title", "proof")
    return path


def test_strokes_fills_and_dashes_are_where_and_as_they_were_asked_for(tmp_path: Path) -> None:
    def draw(canvas: Any) -> None:
        canvas.draw_line(10, 20, 30, 60, 0.5, 0.25)
        canvas.draw_line(0, 0, 100, 80, dash=(3, 1))
        canvas.draw_box(Box(10, 15, 20, 25), 0.3)
        canvas.draw_box(Box(50, 15, 20, 25), None, fill=0.75)
        canvas.draw_polygon([(1, 1), (5, 1), (3, 4)], 0.2, fill=1.0)

    (page,) = drawn.pages(save(tmp_path, draw))
    assert (page.width, page.height) == pytest.approx((100, 80))
    line, dashed, box, filled, triangle = page.outlines
    assert np.ravel(line.points) == pytest.approx([10, 20, 30, 60], abs=1e-3)
    assert (line.width, line.dashed, line.paint, line.closed) == (pytest.approx(0.5), False, "S", False)
    assert dashed.dashed
    assert dashed.width == pytest.approx(0.2)
    assert box.is_box
    assert box.box == pytest.approx((10, 15, 20, 25), abs=1e-3)
    assert (box.paint, filled.paint, triangle.paint) == ("S", "f", "B")
    assert (filled.fill, triangle.fill, len(triangle.points), triangle.closed) == (0.75, 1.0, 3, True)
    with pikepdf.open(tmp_path / "page.pdf") as document:
        content = document.pages[0].Contents.read_bytes().decode()
    assert "0.25 G" in content
    assert f"[{encode_number(3 * MM)} {encode_number(1 * MM)}] 0 d" in content


@pytest.mark.parametrize("align", ["left", "centre", "right"])
@pytest.mark.parametrize("angle", [0, 90, 180, 270])
def test_words_begin_end_or_have_their_middle_at_their_point_whichever_way_they_are_turned(
    tmp_path: Path, align: Any, angle: int
) -> None:
    """H has ink nearly as wide as it is set; turned anticlockwise about the point."""
    lengths = []
    path = save(tmp_path, lambda canvas: lengths.append(canvas.draw_words("HH", 50, 40, 5, align=align, angle=angle)))
    text = pypdfium2.PdfDocument(path)[0].get_textpage()
    boxes = np.array([text.get_charbox(at) for at in range(2)]) / MM
    left, right = boxes[:, 0].min(), boxes[:, 2].max()
    top, bottom = 80 - boxes[:, 3].max(), 80 - boxes[:, 1].min()
    back = {"left": 0.0, "centre": 0.5, "right": 1.0}[align] * lengths[0]
    start, end = -back, lengths[0] - back
    along = {0: (50 + start, 50 + end), 180: (50 - end, 50 - start), 90: (40 - end, 40 - start),
             270: (40 + start, 40 + end)}[angle]  # fmt: skip
    found = (left, right) if angle in (0, 180) else (top, bottom)
    assert found == pytest.approx(along, abs=0.45)
    # On the baseline, and up from it as far as a capital reaches (0.6 to 0.8 of the em).
    base, high = {0: (bottom, -top), 180: (top, bottom), 90: (right, -left), 270: (left, right)}[angle]
    assert base == pytest.approx(40 if angle in (0, 180) else 50, abs=0.1)
    assert 2.9 < abs(abs(high) - base) < 4.1


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turned", [0, 90, 270])
def test_a_picture_fills_its_box_mirrored_first_and_turned_then(tmp_path: Path, turned: int, mirrored: bool) -> None:
    """Three corners of different greys, by numpy and as pdfium renders them."""
    pixels = np.full((20, 30), 255, np.uint8)
    pixels[:10, :15], pixels[:10, 15:], pixels[10:, :15] = 0, 80, 160
    wanted = np.rot90(np.fliplr(pixels) if mirrored else pixels, -turned // 90)
    high, wide = wanted.shape

    def draw(canvas: Any) -> None:
        name = canvas.pages.add_picture("p", pack_image(Image.fromarray(pixels)))
        canvas.draw_picture(name, Box(10, 20, wide, high), turned, mirrored)

    shown = pypdfium2.PdfDocument(save(tmp_path, draw))[0].render(scale=4 / MM, grayscale=True).to_numpy().squeeze()
    for y in (high // 4, 3 * high // 4):
        for x in (wide // 4, 3 * wide // 4):
            assert abs(int(shown[(20 + y) * 4, (10 + x) * 4]) - int(wanted[y, x])) <= 2
    assert shown[(20 + high // 2) * 4, 8 * 4] == 255
    assert shown[18 * 4, (10 + wide // 2) * 4] == 255


def test_a_mirrored_part_of_a_page_is_mirrored_about_the_middle_and_the_rest_is_not(tmp_path: Path) -> None:
    def draw(canvas: Any) -> None:
        with canvas.mirror_page():
            canvas.draw_line(10, 20, 30, 20)
        canvas.draw_line(10, 40, 30, 40)

    (page,) = drawn.pages(save(tmp_path, draw))
    first, second = page.lines
    assert np.ravel(first) == pytest.approx([90, 20, 70, 20], abs=1e-3)
    assert np.ravel(second) == pytest.approx([10, 40, 30, 40], abs=1e-3)


def test_a_form_is_drawn_once_and_stamped_at_its_top_left_corner(tmp_path: Path) -> None:
    asked = []

    def draw(canvas: Any) -> None:
        for x, y in ((10, 20), (50, 30)):
            form = canvas.pages.add_form("f", 20, 15, lambda made: asked.append(1) or made.draw_line(1, 2, 5, 9))
            canvas.draw_form(form, x, y, 15)

    path = save(tmp_path, draw, count=2)
    assert asked == [1]
    for page in drawn.pages(path):
        found = [np.ravel(line).tolist() for line in page.lines]
        assert found == [pytest.approx([11, 22, 15, 29], abs=1e-3), pytest.approx([51, 32, 55, 39], abs=1e-3)]


def test_pages_say_their_title_their_labels_and_their_size(tmp_path: Path) -> None:
    path = save(tmp_path, lambda canvas: canvas.draw_line(1, 1, 2, 2), 210, 297, count=70)
    with pikepdf.open(path) as document:
        assert len(document.pages) == 70
        assert str(document.docinfo["/Title"]) == "A title"
        for name in ("MediaBox", "CropBox", "BleedBox", "TrimBox"):
            assert [float(v) for v in document.pages[69][f"/{name}"]] == pytest.approx([0, 0, 210 * MM, 297 * MM])
        assert [document.pages[n].label for n in (0, 69)] == ["proof1", "proof70"]
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
    idents = []
    for end in (2, 3, 2):
        with pikepdf.open(save(tmp_path, lambda canvas, end=end: canvas.draw_line(1, 1, 2, end))) as document:
            idents.append(bytes(document.trailer.ID[0]))
    assert idents[0] == idents[2] != idents[1], "by what is drawn, and by no clock"


def test_texts_and_numbers_as_the_format_has_them() -> None:
    """7.3.3: no exponent; 7.9.2.2: UTF-16 with its mark where ASCII does not do; brackets would end a string."""
    assert [encode_number(v) for v in (0.0, -0.0000001, 1.5, 100.0, 1e-7, -2.25, 1234567.0)] == [
        "0", "0", "1.5", "100", "0", "-2.25", "1234567"
    ]  # fmt: skip
    assert encode_text("plain words") == "(plain words)"
    for words in ("a(b", "a)b", "a\\b", "größe", "a\nb"):
        assert encode_text(words) == f"<feff{words.encode('utf-16-be').hex()}>"


def test_a_page_of_ours_is_known_and_nobodys_work_is_taken_for_one(tmp_path: Path) -> None:
    """By the title and the labels that it begins with; not after somebody has added to it, nor a title like it."""
    path = save(tmp_path, lambda canvas: canvas.draw_line(1, 1, 2, 2))
    assert is_own_page(path, "A", "proof")
    assert not is_own_page(path, "A title of", "proof")
    assert not is_own_page(path, "A", "other ")
    content = path.read_bytes()
    for changed in (content + b"\n%%EOF\n", b" " + content, content.replace(b"%%EOF", b"")):
        path.write_bytes(changed)
        assert not is_own_page(path, "A", "proof")
    assert not is_own_page(tmp_path / "none.pdf", "A", "proof")
    assert not is_own_page(tmp_path, "A", "proof")


def test_paragraphs_are_wrapped_within_their_width_and_as_high_as_was_said(tmp_path: Path) -> None:
    words = "Press every print where its folds lie on the creases of the garment and not a moment longer than needed"
    for width in (18.0, 30.0, 60.0, 90.0):
        lines = wrap_text(SHAPER, words, 3.0, width)
        assert " ".join(lines) == words
        assert all(SHAPER.shape_line([line]).width * 3 <= width + 1e-6 for line in lines)
        for line, after in itertools.pairwise(lines):
            longer = f"{line} {after.split()[0]}"
            assert SHAPER.shape_sentence(longer).width * 3 > width - 0.2, "a line is filled"
        ends: list[float] = []
        path = save(tmp_path, lambda canvas, width=width, ends=ends: ends.append(
            draw_paragraph(canvas, words, 5, 10, width, 3.0)))  # fmt: skip
        assert (
            ends[0] - 10
            == pytest.approx(measure_height(SHAPER, words, width, 3.0))
            == pytest.approx(len(lines) * 3 * 1.22)
        )
        (found,) = drawn.runs(path)
        assert [run.text for run in found] == lines
        assert all(run.x == pytest.approx(5, abs=0.05) and 10 < run.y < ends[0] for run in found)
    assert wrap_text(SHAPER, "", 3.0, 50.0) == []
    (cut,) = wrap_text(SHAPER, "Donaudampfschifffahrtsgesellschaft", 3.0, 20.0)
    assert cut.endswith("…")
    assert SHAPER.shape_line([cut]).width * 3 <= 20


def test_a_long_line_is_set_smaller_and_then_cut_short(tmp_path: Path) -> None:
    whole = SHAPER.shape_line(["Bogumila Olsen"]).width
    for width, size, cut in ((60.0, 4.0, False), (whole * 4, 4.0, False), (whole * 3.4, 3.4, False),
                             (whole * 3, 3.0, False), (whole * 2.5, 3.0, True)):  # fmt: skip
        ends: list[float] = []
        path = save(tmp_path, lambda canvas, width=width, ends=ends: ends.append(
            fit_parts(canvas, "Bogumila Olsen", 5, 20, width, 4.0)))  # fmt: skip
        ((run, *_),) = drawn.runs(path)
        assert run.size == pytest.approx(size, abs=0.01)
        assert run.text.endswith("…") == cut
        assert ends[0] <= width + 1e-6


def test_a_box_to_tick_stands_before_its_word(tmp_path: Path) -> None:
    ends: list[float] = []
    path = save(tmp_path, lambda canvas: ends.append(draw_tick_box(canvas, 10, 20, "spoiled", 3.0)))
    (page,) = drawn.pages(path)
    ((x, y, w, h),) = page.boxes
    ((run,),) = drawn.runs(path)
    assert (x, w, h) == pytest.approx((10, 3.45, 3.45), abs=1e-2)
    assert y < 20 < y + h, "the baseline runs through it"
    assert x + w < run.x < x + w + 1.5
    assert run.right <= ends[0] + 0.1
    bare: list[float] = []
    save(tmp_path, lambda canvas: bare.append(draw_tick_box(canvas, 10, 20, "", 3.0)))
    assert x + w < bare[0] < run.x + 0.1
