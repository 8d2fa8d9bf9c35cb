"""What is bought, counted in and packed: garments counted by hand from the rows, pages read by another library."""

from __future__ import annotations

import csv
import ctypes
import io
import json
import re
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
import pytest

import drawn
from conftest import draw
from impose.run import Options, plan, produce, quote
from impose.run.record_file import read_record
from impose.run.reprint import plan_reprint
from impose.run.selection import ReprintRequest
from impose.sheet.blanks import share_out
from pages.proof.test_marks_drawn import read_characters

HEADING = "order,wearer,art,placement,garment,copies,width,cloth,cloth_colour"
ROWS = (
    "=cmd|'x'!A,Ada,owl.png,left-chest,hoodie adult M,1,60 mm,,",
    "=cmd|'x'!A,Ada,owl.png,full-back,hoodie adult M,1,150 mm,,",
    "=cmd|'x'!A,Бо,owl.png,left-chest,adult M hoodie,1,60 mm,polyester,white",
    "Team,,owl.png,left-chest,hoodie adult L,7,60 mm,,",
    "Team,Cy,owl.png,left-chest,hoodie,1,60 mm,,",
    "Team,مريم,owl.png,left-chest,T-shirt youth S,1,60 mm,polyester,sky blue",
    ",,owl.png,,,2,60 mm,,",
)


def make(folder: Path, rows=ROWS, own: str = "", texts: str = "", **settings) -> tuple[Path, Path, Options]:
    draw("ellipse", 500, 500).save(folder / "owl.png", compress_level=1)
    source = folder / "evening.csv"
    source.write_text("\n".join([HEADING, *rows]) + "\n", "utf-8")
    mine = folder / "own"
    mine.mkdir()
    (mine / "settings.toml").write_text(own or 'units = "mm"\n', "utf-8")
    if texts:
        (mine / "texts.toml").write_text(texts, "utf-8")
    options = Options({"papers": ["13x19"], **settings}, profiles_dir=mine, steps=50, workers=1, cache=False)
    return produce(plan([source], options), folder / "out"), source, options


@pytest.fixture(scope="module")
def evening(tmp_path_factory) -> tuple[Path, Path, Options]:
    """The rows above, delivered as a shop that has set nothing delivers them."""
    return make(tmp_path_factory.mktemp("evening"))


def counted(out: Path) -> dict[tuple[str, str, str, str, str], tuple[int, int, int]]:
    content = (out / "blanks.csv").read_bytes()
    assert content.startswith(b"\xef\xbb\xbf")
    rows = csv.DictReader(io.StringIO(content.decode("utf-8-sig")))
    return {
        (row["kind"], row["cut"], row["size"], row["colour"], row["named"]): (
            int(row["needed"]), int(row["spares"]), int(row["buy"])
        )
        for row in rows
    }  # fmt: skip


def test_blanks_are_the_garments_of_the_rows_by_kind_size_and_colour(evening) -> None:
    """By hand: Ada and Бо wear an M, whatever the order of the words and with white said or not; a size not said is a
    line of its own, and so is what no row names. One spare for each run goes to the size most needed."""
    out, source, options = evening
    assert counted(out) == {
        ("hoodie", "adult", "M", "white", "yes"): (2, 0, 2),
        ("hoodie", "adult", "L", "white", "yes"): (7, 1, 8),
        ("hoodie", "adult", "", "white", "yes"): (1, 0, 1),
        ("T-shirt", "adult", "", "white", "no"): (2, 1, 3),
        ("T-shirt", "youth", "S", "sky blue", "yes"): (1, 1, 2),
    }
    # No spreadsheet runs an order's name (OWASP, "CSV Injection").
    text = (out / "blanks.csv").read_text("utf-8-sig")
    assert not any(cell.startswith("=") for row in csv.reader(io.StringIO(text)) for cell in row)
    page = " ".join(list(drawn.pages(out / "tickets.pdf"))[1].text.split())
    assert "13 needed and 3 spare: 16 to buy" in page
    assert "SIZE NOT SAID" in page
    assert "no garment named" in page
    squares = list(drawn.pages(out / "tickets.pdf"))[1].boxes
    boxes = [box for box in squares if box[2] == pytest.approx(box[3], abs=0.01)]
    assert len(boxes) == 2 * 5  # bought, and counted in
    # Before anything is printed the quote says the same.
    told = quote([source], options).json_values()
    assert [(line["needed"], line["spares"]) for line in told["blanks"]] == [
        (a, b) for a, b, _ in counted(out).values()
    ]
    record = json.loads((out / "batch.json").read_text("utf-8"))
    assert told["pressing"] == record["pressing"]


@pytest.mark.usefixtures("sheets_alone")
@pytest.mark.parametrize(
    ("rule", "spares"),
    [  # ten hoodies of three lines, two T-shirts that nobody names, one of a child
        ("none", [0, 0, 0, 0, 0]),
        ("2 a size", [2, 2, 2, 2, 2]),
        ("5 %", [0, 1, 0, 1, 1]),
        ("30 %", [1, 2, 0, 1, 1]),  # three of ten: 0.6, 2.1 and 0.3 of them, by largest remainder
    ],
)
def test_spares_are_as_the_shop_sets(tmp_path: Path, rule: str, spares: list[int]) -> None:
    out, *_ = make(tmp_path, own=f'blank_spares = "{rule}"\n')
    order = [("M", "yes"), ("L", "yes"), ("", "yes"), ("", "no"), ("S", "yes")]
    found = {(key[2], key[4]): value[1] for key, value in counted(out).items()}
    assert [found[key] for key in order] == spares


def test_a_rule_that_says_nothing_is_refused(tmp_path: Path) -> None:
    from impose.errors import Trouble

    with pytest.raises(Trouble, match=r"1 a run, 1 a size, 5 % or none"):
        make(tmp_path, own='blank_spares = "some"\n')


def test_shares_add_up() -> None:
    for spares in range(9):
        for counts in ([1], [3, 3, 3], [7, 2, 1], [1, 1, 1, 1]):
            assert sum(share_out(spares, counts)) == spares


def test_a_reprint_buys_blanks_for_what_was_spoiled_alone(evening, tmp_path: Path) -> None:
    out, _, options = evening
    for because, needed in (("spoiled", 1), ("lost", 0)):
        record = read_record(out)
        ids = [t["id"] for s in json.loads((out / "batch.json").read_bytes())["sheets"] for t in s["transfers"]
               if t["wearer"] == "Ada"]  # fmt: skip
        wish = ReprintRequest(only=tuple(ids[:1]), because=because)
        again = produce(plan_reprint(record, wish, options).plan, tmp_path / because)
        assert sum(line[0] for line in counted(again).values()) == needed
        slips = " ".join(page.text for page in drawn.pages(again / "slips.pdf"))
        assert "Ada" in slips
        assert "Cy" not in slips


def test_every_order_has_a_slip_with_a_box_for_each_line(evening) -> None:
    out, *_ = evening
    pages = list(drawn.pages(out / "slips.pdf"))
    first = " ".join(pages[0].text.split())
    assert "Order: =cmd|'x'!A" in first
    assert "2 garments" in first
    assert "Ada · hoodie adult M full back, left chest" in first
    assert "7 × hoodie adult L left chest" in first
    assert "Row 8, no order name" in first
    assert "own place" in first
    boxes = [box for page in pages for box in page.boxes if box[2] == pytest.approx(3.6, abs=0.01)]
    assert len(boxes) == 6  # Ada, Бо; seven of the team, Cy, مريم; two that nobody names
    # The care note stands on each of three slips, and on one for each of 13 garments.
    texts = " ".join(" ".join(page.text.split()) for page in pages)
    assert texts.count("Wait a day before the first wash.") == 3 + 13
    assert "Бо" in texts


def test_care_notes_are_as_the_shop_sets(tmp_path: Path) -> None:
    out, *_ = make(tmp_path, own='care_notes = "none"\n')
    assert "Care" not in " ".join(page.text for page in drawn.pages(out / "slips.pdf"))


def test_another_language_is_written_from_its_own_side(tmp_path: Path) -> None:
    """Right to left: boxes on the right of each slip, the first slip on the right of the page."""
    texts = """
[custom]
language = "ar"
direction = "rtl"
[slip]
order = "طلب: {order}"
[care]
wait = "انتظر يوما قبل الغسلة الأولى."
"""
    out, *_ = make(tmp_path, texts=texts)
    page = next(iter(drawn.pages(out / "slips.pdf")))
    boxes = [box for box in page.boxes if box[2] == pytest.approx(3.6, abs=0.01)]
    edges = {round(box[0] + box[2], 1) for box in boxes}
    assert edges == {round(105 - 7.0, 1), 203.0}
    assert max(box[0] for box in boxes if box[1] < 30) > 105
    assert re.search("[\u0600-\u06ff\ufe70-\ufeff]", page.text)


def test_a_hundred_garments_take_slips_in_parts(tmp_path: Path) -> None:
    rows = [f"Club,W{number:03},owl.png,left-chest,hoodie adult M,1,60 mm,," for number in range(120)]
    out, *_ = make(tmp_path, rows)
    texts = " ".join(" ".join(page.text.split()) for page in drawn.pages(out / "slips.pdf"))
    slips = re.findall(r"Slip (\d+) of (\d+)", texts)
    assert [int(number) for number, _ in slips] == list(range(1, len(slips) + 1))
    assert {int(of) for _, of in slips} == {len(slips)}
    for number in range(120):
        assert texts.count(f"W{number:03}") == 2  # on a slip, and on a care note
    assert counted(out) == {("hoodie", "adult", "M", "white", "yes"): (120, 1, 121)}


@pytest.mark.parametrize("name", ["slips.pdf", "tickets.pdf"])
def test_words_are_dark_enough_to_be_read(evening, name: str) -> None:
    """At least 4.5 : 1 against white paper (WCAG 2.1, 1.4.3, and its relative luminance), as pdfium fills letters."""
    for page in pypdfium2.PdfDocument(evening[0] / name):
        text = page.get_textpage()
        for at in range(text.count_chars()):
            values = [ctypes.c_uint() for _ in range(4)]
            if (
                not pdfium.FPDFText_GetFillColor(text, at, *values)
                or chr(pdfium.FPDFText_GetUnicode(text, at)).isspace()
            ):
                continue
            parts = [value.value / 255 for value in values[:3]]
            red, green, blue = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts)
            luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
            white_on_black = luminance > 0.99 and "PLAIN PAPER" in text.get_text_range(max(0, at - 11), 22)
            assert 1.05 / (luminance + 0.05) >= 4.5 or white_on_black, text.get_text_range(at, 10)


def test_the_box_to_tick_is_level_with_the_words_it_is_for(evening) -> None:
    boxes = 0
    for index, page in enumerate(drawn.pages(evening[0] / "slips.pdf")):
        letters = [one for one in read_characters(pypdfium2.PdfDocument(evening[0] / "slips.pdf")[index], page.height)
                   if one[0].strip()]  # fmt: skip
        for x, y, wide, high in page.boxes:
            if not 2 < wide < 6 or abs(wide - high) > 0.01:
                continue
            beside = [one for one in letters if 0 < one[1] - (x + wide) < 5 and y - 1 < one[2] < y + high + 2]
            first = min(one[2] for one in beside)
            assert y + high / 2 == pytest.approx(first - 1.1, abs=0.6), "the middle of capitals of some 2.2 mm"
            boxes += 1
    assert boxes >= 6
