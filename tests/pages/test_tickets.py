"""Press tickets as other libraries read them: what is drawn where, against the profile and the record.

Drawings are read from the PDF's own numbers, so that a dimension is compared on the garment to 0.1 mm, whatever the
scale it is drawn to. The scale is read off the ticket as a presser would.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest

import drawn
from conftest import draw
from impose.run import Options, plan, produce

INCH = 25.4
TRUE_MM = 0.1  # on the garment

PICTURES = {"crest.png": ("ellipse", 300, 300), "words.png": ("words", 900, 80), "sky.png": ("noise", 220, 260)}
LINES = [
    "R-1,Ilka,sky.png,full-back,T-shirt adult M,1,10 in,,,,",
    "R-1,Ilka,crest.png,left-chest,T-shirt adult M,1,,,,,",
    "R-1,Ilka,crest.png,right-short-sleeve,T-shirt adult M,1,2.5 in,,,,",
    "R-2,Borys,crest.png,left-chest,polo adult L,1,90 mm,,,,",
    "R-2,Cy,words.png,left-long-sleeve,hoodie adult L,1,240 mm,,,,",
    "R-2,Cy,sky.png,full-back,hoodie adult L,1,11 in,,,,",
    "R-3,,crest.png,left-chest,T-shirt adult S,2,,,,,",
    ",,crest.png,,,2,60 mm,,,,",
]


@dataclass
class Made:
    folder: Path
    record: dict[str, Any]
    pages: list[drawn.Page]
    texts: list[str]


def make(folder: Path, lines: list[str], name: str = "out", **settings: object) -> Made:
    for seed, (file, (kind, width, height)) in enumerate(PICTURES.items()):
        draw(kind, width, height, seed).save(folder / file, compress_level=1)
    source = folder / f"{name}.csv"
    heading = "order,wearer,art,placement,garment,copies,width,height,tear,centre,may_turn,accept"
    full = [line + "," * (heading.count(",") - line.count(",")) for line in lines]
    source.write_text("\n".join([heading, *full]) + "\n", "utf-8")
    values = {"papers": ["a4", "13x19"], **settings}
    out = produce(plan([source], Options(settings=values, steps=50, workers=1)), folder / name)
    pages = list(drawn.pages(out / "tickets.pdf"))
    return Made(out, json.loads((out / "batch.json").read_text("utf-8")), pages, [page.text for page in pages])


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("tickets"), LINES)


def half(made: Made, wearer: str) -> tuple[drawn.Page, float, float, str]:
    """The half page that names a wearer: its page, its upper and lower edge in mm, its words."""
    return halves(made, wearer)[0]


def halves(made: Made, wearer: str) -> list[tuple[drawn.Page, float, float, str]]:
    """All half pages headed by a name."""
    found = []
    document = pypdfium2.PdfDocument(made.folder / "tickets.pdf")
    for index, page in enumerate(made.pages):
        text = document[index].get_textpage()
        for top in (0.0, page.height / 2):
            bottom = page.height - top
            points = (
                0,
                (bottom - page.height / 2) / drawn.POINT_MM,
                page.width / drawn.POINT_MM,
                bottom / drawn.POINT_MM,
            )
            words = text.get_text_bounded(*points)
            if wearer in words and re.search(r"ticket \d+ of", words):
                found.append((page, top, top + page.height / 2, words))
    assert found, f"no ticket for {wearer}"
    return found


def scale_of(words: str, face: str) -> float:
    return float(re.search(rf"{face}\s+1 : ([0-9.]+)", words)[1])


def face_of(placement: str) -> str:
    sides = {"left": "WEARER'S LEFT SLEEVE", "right": "WEARER'S RIGHT SLEEVE"}
    if "sleeve" in placement:
        return sides[placement.split("-")[0]]
    return "BACK" if "back" in placement else "FRONT"


def transfer(made: Made, wearer: str, placement: str) -> dict[str, Any]:
    found = [t for s in made.record["sheets"] for t in s["transfers"]]
    return next(t for t in found if t["wearer"] == wearer and t["placement"] == placement)


def outlines(
    page: drawn.Page, top: float, bottom: float, w: float, h: float
) -> list[tuple[float, float, float, float]]:
    """Undashed rectangles of a size on a half page."""
    return [
        one.box
        for one in page.outlines
        if one.is_box and not one.dashed and one.paint == "S" and top <= one.box[1] < bottom
        and one.box[2] == pytest.approx(w, abs=0.002) and one.box[3] == pytest.approx(h, abs=0.002)
    ]  # fmt: skip


def uprights(page: drawn.Page) -> list[tuple[float, float, float]]:
    """Upright strokes: x, their upper and lower ends."""
    return [(a[0], min(a[1], b[1]), max(a[1], b[1])) for a, b in page.lines if a[0] == b[0]]


@pytest.mark.parametrize(
    ("wearer", "placement", "drop_in", "measured"),
    [  # trade pages compared in 2026, with how many agree; there is no standard for placing a print
        ("Ilka", "left-chest", 3.0, "top"),  # 2.5 to 4 in below the collar, 4 pages
        ("Ilka", "full-back", 4.0, "top"),  # 2 to 3 or 4 to 6 in: two pages, which disagree
        ("Ilka", "right-short-sleeve", 1.0, "bottom"),  # 1 in above the hem seam, 1 page
        ("Borys", "left-chest", 8.0, "top"),  # 7 to 9 in below the shoulder seam on a polo, 1 page
    ],
)
def test_outline_and_drop_are_drawn_to_scale(
    made: Made, wearer: str, placement: str, drop_in: float, measured: str
) -> None:
    page, top, bottom, words = half(made, wearer)
    scale = scale_of(words, face_of(placement))
    ink = transfer(made, wearer, placement)["ink_mm"]
    w, h = (ink["h"], ink["w"]) if transfer(made, wearer, placement)["turned"] else (ink["w"], ink["h"])
    boxes = outlines(page, top, bottom, w / scale, h / scale)
    assert boxes, "the print's outline is not drawn to the stated scale"
    drop = drop_in * INCH / scale
    found = []
    for x, y, wide, high in boxes:
        edge = y if measured == "top" else y + high
        for at, upper, lower in uprights(page):
            near = lower if measured == "top" else upper
            if abs(near - edge) < 0.002 and x - 8 < at < x + wide + 8:
                found.append(abs((lower - upper) - drop) * scale)
    assert found
    assert min(found) < TRUE_MM
    assert f"{round(drop_in * INCH)} mm" in words


def test_a_left_chest_print_is_on_the_viewers_right_and_3_5_in_from_the_centre_line(made: Made) -> None:
    """Trade pages: 3 to 4 in from the centre line, usually 3.5 (common practice, no standard)."""
    page, top, bottom, words = half(made, "Ilka")
    scale = scale_of(words, "FRONT")
    ink = transfer(made, "Ilka", "left-chest")["ink_mm"]
    (x, y, w, h), *_ = outlines(page, top, bottom, ink["w"] / scale, ink["h"] / scale)
    across = [
        (min(a[0], b[0]), max(a[0], b[0]))
        for a, b in page.lines
        if a[1] == b[1] and y + h < a[1] < y + h + 12 and abs(max(a[0], b[0]) - (x + w / 2)) < 0.002
    ]
    assert any((end - start) * scale == pytest.approx(3.5 * INCH, abs=TRUE_MM) for start, end in across)
    assert "wearer's right" in words
    assert "wearer's left" in words


def test_the_garment_is_drawn_by_the_profiles_measures(made: Made) -> None:
    """An adult's T-shirt of 530 mm from armpit to armpit (profile; common practice, no source)."""
    page, _, _, words = half(made, "Ilka")
    scale = scale_of(words, "FRONT")
    hems = [
        abs(b[0] - a[0]) * scale for a, b in page.lines if a[1] == b[1] and abs(abs(b[0] - a[0]) * scale - 530) < 0.5
    ]
    assert hems, "the hem's seam is drawn, whether or not the window shows it"


def test_the_print_is_seen_through_the_paper_with_its_folds_and_the_garments_crease(made: Made) -> None:
    page, top, bottom, words = half(made, "Borys")
    scale = scale_of(words, "FRONT")
    ink = transfer(made, "Borys", "left-chest")["ink_mm"]
    ((x, y, w, h),) = outlines(page, top, bottom, ink["w"] / scale, ink["h"] / scale)
    papers = [
        one.box for one in page.outlines
        if one.closed and one.fill is not None and len(one.points) > 20 and one.box[0] < x and one.box[1] < y
        and one.box[0] + one.box[2] > x + w and one.box[1] + one.box[3] > y + h
    ]  # fmt: skip
    assert papers, "the torn paper lies all round the print"
    creases = [one for one in page.outlines if one.dashed and len(one.points) == 2 and top < one.box[1] < bottom]
    assert any(abs(one.box[0] - (x + w / 2)) < 0.002 and one.box[2] == 0 for one in creases), "no upright fold"
    assert any(abs(one.box[1] - (y + h / 2)) < 0.002 and one.box[3] == 0 for one in creases), "no level fold"
    centre = [one.box[0] for one in creases if one.box[2] == 0 and one.box[3] * scale > 250]
    assert any(c < x for c in centre), "the garment's centre crease is not left of the wearer's left chest"
    shown = [one for one in page.pictures if abs(one.corners[0][0] - x) < 0.01]
    assert shown, "the picture is at its place"


def test_the_small_picture_is_as_worn_not_mirrored(made: Made) -> None:
    """The picture's matrix keeps left on the left: its lower right corner lies right of its lower left."""
    for page in (page for page in made.pages if "ticket" in page.text and "Cutting list" not in page.text):
        for shown in page.pictures:
            (x0, y0), (x1, y1), (x2, y2) = shown.corners
            # Upright or turned, never mirrored: going right and then up turns anticlockwise (y runs down here).
            assert (x1 - x0) * (y2 - y0) - (y1 - y0) * (x2 - x0) < 0


def test_every_different_garment_has_one_ticket_and_every_transfer_two_boxes(made: Made) -> None:
    """Ilka, Borys, Cy, two of R-3 that are alike, and two copies of the row that names nobody: five tickets."""
    text = "\n".join(text for text in made.texts if "Cutting list" not in text)
    assert set(re.findall(r"ticket (\d) of 5", text)) == set("12345")
    assert "7 garments · 5 tickets · 10 prints" in text
    assert "2 × T-shirt adult S" in text
    ids = sorted(t["id"] for s in made.record["sheets"] for t in s["transfers"])
    assert sorted(re.findall(r"T[0-9]{3}", text)) == ids, "each id stands once on the tickets"
    squares = [
        box for page in made.pages if re.search(r"ticket \d of", page.text) for box in page.boxes
        if box[2] == pytest.approx(3.6, abs=0.01) and box[3] == pytest.approx(3.6, abs=0.01)
    ]  # fmt: skip
    assert len(squares) == 2 * len(ids)
    assert "not named" in text


def test_thirty_alike_take_one_ticket_with_a_row_for_each_wearer(tmp_path: Path) -> None:
    lines = [f"R-1,W{n:02},crest.png,left-chest,T-shirt adult M,1,60 mm,,,," for n in range(30)]
    made = make(tmp_path, lines)
    text = " ".join(" ".join(t for t in made.texts if "Cutting list" not in t).split())
    assert "30 × T-shirt adult M" in text
    assert "ticket 1 of 1" in text
    for number in range(30):
        assert re.search(rf"\b{number + 1} W{number:02} T\d\d\d", text)


def test_no_text_touches_a_box(made: Made) -> None:
    """Every character's box, as pdfium has it, lies wholly inside or wholly outside every rectangle in sight."""
    document = pypdfium2.PdfDocument(made.folder / "tickets.pdf")
    checked = 0
    for index, page in enumerate(made.pages):
        boxes = [(one.box, one.paint, one.fill) for one in page.outlines if one.is_box and one.box[2] > 0.5]
        text = document[index].get_textpage()
        for at in range(text.count_chars()):
            left, low, right, high = (value * drawn.POINT_MM for value in text.get_charbox(at))
            if right <= left or not text.get_text_range(at, 1).strip():
                continue
            place = left, page.height - high, right, page.height - low
            # What is drawn before a white ground below the character is not seen there.
            grounds = [
                n for n, (box, paint, fill) in enumerate(boxes) if paint != "S" and fill == 1 and within(place, box)
            ]
            for box, paint, _ in boxes[max(grounds, default=0) :]:
                if paint != "f":
                    checked += 1
                    assert apart(place, box) or within(place, box), (
                        index,
                        text.get_text_range(max(0, at - 10), 20),
                        box,
                    )
    assert checked > 1000


def test_no_word_lies_on_another_and_none_leaves_the_page(made: Made) -> None:
    checked = 0
    for page, found in zip(made.pages, drawn.letters(made.folder / "tickets.pdf"), strict=True):
        assert drawn.find_crossed(found) == []
        checked += len(found)
        for letter, (left, top, right, bottom) in found:
            assert left >= 5, letter
            assert top >= 3, letter
            assert right <= page.width - 5, letter
            assert bottom <= page.height - 3, letter
    assert checked > 2000


def within(place: tuple[float, ...], box: tuple[float, float, float, float]) -> bool:
    x, y, w, h = box
    return place[0] > x and place[2] < x + w and place[1] > y and place[3] < y + h


def apart(place: tuple[float, ...], box: tuple[float, float, float, float]) -> bool:
    x, y, w, h = box
    return place[0] >= x + w or place[2] <= x or place[1] >= y + h or place[3] <= y


def test_bold_words_are_of_a_bold_face_not_stroked(made: Made) -> None:
    """ISO 32000-2, 9.3.6: text rendering mode 2 fills and strokes; a true bold face needs none of it."""
    with pikepdf.open(made.folder / "tickets.pdf") as document:
        fonts = {str(one.BaseFont) for page in document.pages for one in page.Resources.Font.values()}
        assert any("Bold" in name for name in fonts)
        for page in document.pages:
            assert not any(
                str(operator) == "Tr" and int(operands[0]) == 2
                for operands, operator in pikepdf.parse_content_stream(page)
            )


def test_the_second_half_shows_what_is_pressed_already_on_that_side(tmp_path: Path) -> None:
    """Seven prints on one face do not fit one half page; those of the first half are struck through on the second."""
    where = ["left-chest", "centre-chest", "full-front", "pocket"]
    lines = [f"R-1,Ilka,crest.png,{place},T-shirt adult M,1,60 mm,,,,,prints-overlap" for place in where]
    found = halves(make(tmp_path, lines), "Ilka")
    assert len(found) > 1
    assert "pressed" in re.sub(r"pressed\s+spoiled", "", found[-1][3])


def test_pressing_order_is_back_chest_sleeve(made: Made) -> None:
    _, _, _, words = half(made, "Ilka")
    at = [words.index(name) for name in ("Full back", "Left chest", "Right short sleeve")]
    assert at == sorted(at)


def test_the_order_is_a_setting(tmp_path: Path) -> None:
    made = make(tmp_path, LINES[:3], press_order="sleeve, chest, back")
    _, _, _, words = half(made, "Ilka")
    at = [words.index(name) for name in ("Right short sleeve", "Left chest", "Full back")]
    assert at == sorted(at)


def test_grouped_by_platen_all_backs_come_first(tmp_path: Path) -> None:
    made = make(tmp_path, LINES[:6], ticket_grouping="platen")
    text = "\n".join(text for text in made.texts if "Cutting list" not in text)
    setups = re.findall(r"set-up: (\w+)", text)
    assert setups == sorted(setups, key=["back", "chest", "sleeve"].index)
    assert setups.count("back") == 2


def test_the_first_page_says_the_setting_once_on_both_scales(made: Made) -> None:
    """196 °C is 385 °F: 196 x 9/5 + 32 (SI Brochure, 9th edition, 2.3.1; NIST SP 811, B.8)."""
    flat = " ".join(made.texts[0].split())
    assert "196 °C (385 °F), 40 s, medium pressure" in flat
    assert "rest 10 s or more, lift in one move" in flat
    assert "the paper's maker decides" in flat
    assert "STARTING POINTS" in flat
    assert "test on scrap" in flat
    assert sum("196 °C" in text for text in made.texts) == 1
    assert "while still hot" not in " ".join(made.texts)


def test_order_of_work_and_cautions_stand_once_clean_sheet_before_pressing(made: Made) -> None:
    flat = " ".join(made.texts[0].split())
    assert flat.index("clean sheet inside, between the layers") < flat.index("and press.")
    for word in ("gloves", "steam", "scorch", "cool before stacking", "fumes", "heavy current", "licensed practice"):
        assert word in flat, word
    assert sum("ORDER OF WORK" in text for text in made.texts) == 1


def test_minutes_are_the_sum_of_what_the_evening_holds(made: Made) -> None:
    """By hand: 10 prints of 40 s and 10 s of rest, 60 s of taping each; 5 s of touch and 30 s of turning for each face.

    Ilka has 3 faces (back, front, right sleeve), Borys 1, Cy 2 (back, sleeve), R-3 1 each, and the unplaced 1 each. The
    set-up changes twice within Ilka, to Borys's chest, to Cy's back and sleeve, to the chests of R-3 and to the
    unplaced: seven times 30 s; set-up by set-up it is back, chest, sleeve and the unplaced, three times.
    """
    work = 10 * (40 + 10 + 60) + (5 + 30) * (3 + 1 + 2 + 2 + 2)
    seconds = work + 7 * 30
    pressing = made.record["pressing"]
    assert (pressing["seconds"], pressing["minutes"], pressing["by"]) == (seconds, -(-seconds // 60), "garment")
    assert pressing["minutes_other"] == -(-(work + 3 * 30) // 60)
    parts = [value for name, value in pressing.items() if name.endswith("_s")]
    assert sum(parts) == seconds
    assert (pressing["garments"], pressing["prints"], pressing["presses"]) == (7, 10, 10)
    shown = re.search(r"about (\d+) min", made.texts[0])
    assert shown
    assert int(shown[1]) == -(-seconds // 60)


def test_a_paper_with_a_setting_of_its_own_is_said_on_the_tickets_it_is_for(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "papers.toml").write_text("[a4]\ntemperature_c = 200\nseconds = 55\nrest_seconds = 0\n", "utf-8")
    for seed, (file, (kind, width, height)) in enumerate(PICTURES.items()):
        draw(kind, width, height, seed).save(tmp_path / file, compress_level=1)
    heading = "order,wearer,art,placement,garment,copies,width"
    rows = ["R-1,A,sky.png,full-back,T-shirt adult M,1,11 in", "R-1,B,crest.png,left-chest,polo adult M,12,90 mm"]
    (tmp_path / "one.csv").write_text("\n".join([heading, *rows]) + "\n", "utf-8")
    paper_alone = {"sheet_handling": "0", "paper_change": "0"}  # so that both papers are used
    options = Options(settings={"papers": ["13x19", "a4"], **paper_alone}, profiles_dir=own, steps=50, workers=1)
    out = produce(plan([tmp_path / "one.csv"], options), tmp_path / "out")
    record = json.loads((out / "batch.json").read_text("utf-8"))
    assert "a4" in str([sheet["paper"] for sheet in record["sheets"]])
    pages = [" ".join(page.text.split()) for page in drawn.pages(out / "tickets.pdf")]
    assert "200 °C (392 °F), 55 s, medium pressure; cover off, lift at once, hot, in one move" in pages[0]


def test_every_half_page_is_headed_plain_paper_and_so_is_the_cutting_list(made: Made) -> None:
    assert "The press evening" in made.texts[0]
    assert "Blank garments" in made.texts[1]
    assert "Cutting list" in made.texts[2]
    assert all("PLAIN PAPER" in text for text in made.texts)


def test_the_cutting_list_names_each_sheet_its_paper_and_its_ids(made: Made) -> None:
    text = "\n".join(made.texts)
    for sheet in made.record["sheets"]:
        assert f"Sheet {sheet['sheet']} of {len(made.record['sheets'])}" in text
        assert f"{len(sheet['transfers'])} to cut apart" in text


def test_a_hoodies_back_lies_below_its_hood_with_a_line_for_the_measured_one(made: Made) -> None:
    """5 in below the neck seam, 6 in where the hood would still cover it (common practice, no source)."""
    flat = " ".join(half(made, "Cy")[3].split())
    assert "top 127 mm below the neck seam (usual 127 mm to 152 mm)" in flat
    assert "measured: top ____" in flat
    assert "cloth: assumed white polyester" in flat


def test_a_drop_that_nobody_knows_is_said_to_be_measured(tmp_path: Path) -> None:
    made = make(tmp_path, ["R-1,Ilka,crest.png,full-back,polo toddler 2T,1,60 mm,,,,"])
    assert "no drop is known: measure" in " ".join(half(made, "Ilka")[3].split())


def test_beside_a_zip_the_crease_is_the_prints_own_and_a_pad_is_drawn(tmp_path: Path) -> None:
    made = make(tmp_path, ["R-1,Ilka,crest.png,left-chest,zip hoodie adult M,1,60 mm,,,,"])
    flat = " ".join(half(made, "Ilka")[3].split())
    assert "parallel to the zip" in flat
    assert "middle 89 mm from the zip towards the wearer's left" in flat
    assert " pad " in flat


def test_a_print_that_heats_another_again_is_warned_of(tmp_path: Path) -> None:
    lines = [
        "R-1,Ilka,sky.png,full-front,T-shirt adult M,1,4 in,,,,",
        "R-1,Ilka,crest.png,left-chest,T-shirt adult M,1,60 mm,,,,",
    ]
    made = make(tmp_path, lines)
    flat = " ".join(half(made, "Ilka")[3].split())
    assert "HEATS 1 AGAIN, pressed before on this side." in flat


def test_larger_than_the_platen_takes_several_presses(tmp_path: Path) -> None:
    """9 x 12 in with 0.5 in clear holds 8 x 11 in: a back of 10 x 11.8 in takes two, the garment laid crosswise."""
    made = make(tmp_path, LINES[:1], press="9x12")
    flat = " ".join(half(made, "Ilka")[3].split())
    assert "LARGER THAN THE 9 x 12 in PLATEN" in flat
    assert "2 heats, the paper not lifted" in flat


def test_notes_columns_of_the_shops_own_and_the_cloths_allowance_are_on_the_ticket(tmp_path: Path) -> None:
    draw("ellipse", 300, 300).save(tmp_path / "crest.png")
    heading = "order,wearer,art,placement,garment,width,note,shelf"
    (tmp_path / "one.csv").write_text(
        f"{heading}\nR-1,Ilka,crest.png,left-chest,hoodie M,90 mm,cords out,B 7\n", "utf-8"
    )
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "garments.toml").write_text("[kinds.hoodie]\nscale_x = 1.01\n", "utf-8")
    options = Options(settings={"papers": ["a4"]}, profiles_dir=tmp_path / "own", steps=10, workers=1)
    out = produce(plan([tmp_path / "one.csv"], options), tmp_path / "out")
    flat = " ".join(" ".join(page.text for page in drawn.pages(out / "tickets.pdf")).split())
    assert "Note: cords out; shelf: B 7" in flat
    assert "91 mm × 90 mm on paper, with 1.01 × 1" in flat  # 90 x 1.01 across, in whole millimetres


def test_letter_paper_and_inches(tmp_path: Path) -> None:
    made = make(tmp_path, LINES[:3], ticket_paper="letter", units="in")
    assert (made.pages[0].width, made.pages[0].height) == pytest.approx((215.9, 279.4), abs=1e-3)
    flat = " ".join(half(made, "Ilka")[3].split())
    assert "top 4 in below the collar (usual 2 in to 6 in)" in flat


def test_the_same_batch_twice_gives_the_same_bytes(tmp_path: Path, made: Made) -> None:
    again = make(tmp_path, LINES)
    assert (again.folder / "tickets.pdf").read_bytes() == (made.folder / "tickets.pdf").read_bytes()


def test_boxes_nest_and_printing_is_at_actual_size(made: Made) -> None:
    """ISO 32000-2, 14.11.2 (boxes) and 12.2 (viewer preferences)."""
    with pikepdf.open(made.folder / "tickets.pdf") as document:
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
        for page in document.pages:
            assert [float(v) for v in page.MediaBox] == [float(v) for v in page.TrimBox]
        assert str(document.Root.PageLabels.Nums[1].P) == "T-"


def test_four_faces_of_a_hoodie_are_on_one_half_page(tmp_path: Path) -> None:
    """Back, chest and both sleeves of an adult's hoodie, the back as wide as 13 x 19 in paper takes: one ticket."""
    places = ("full-back", "left-chest", "left-long-sleeve", "right-long-sleeve")
    made = make(tmp_path, [f"R-1,Ada,crest.png,{place},hoodie adult L,1" for place in places])
    text = "\n".join(made.texts)
    assert "ticket 1 of 1" in text
    assert "part 1 of 2" not in text
    page, top, bottom, words = half(made, "Ada")
    assert [words.count(face) for face in ("BACK", "FRONT", "LEFT SLEEVE", "RIGHT SLEEVE")] == [1, 1, 1, 1]
    assert max(int(scale) for scale in re.findall(r"1 : (\d+)", words)) <= 15
    assert bottom - top < page.height / 2 + 1
