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
        draw(kind, width, height, seed).save(folder / file)
    source = folder / f"{name}.csv"
    heading = "order,wearer,art,placement,garment,copies,width,height,tear,centre,may_turn"
    source.write_text("\n".join([heading, *lines]) + "\n", "utf-8")
    values = {"papers": ["a4", "13x19"], **settings}
    out = produce(plan([source], Options(settings=values, steps=50, workers=1)), folder / name)
    pages = list(drawn.pages(out / "tickets.pdf"))
    return Made(out, json.loads((out / "batch.json").read_text("utf-8")), pages, [page.text for page in pages])


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("tickets"), LINES)


def half(made: Made, wearer: str) -> tuple[drawn.Page, float, float, str]:
    """The half page that names a wearer: its page, its upper and lower edge in mm, its words."""
    for index, page in enumerate(made.pages):
        text = pypdfium2.PdfDocument(made.folder / "tickets.pdf")[index].get_textpage()
        for top in (0.0, page.height / 2):
            bottom = page.height - top
            points = (
                0,
                (bottom - page.height / 2) / drawn.POINT_MM,
                page.width / drawn.POINT_MM,
                bottom / drawn.POINT_MM,
            )
            words = text.get_text_bounded(*points)
            if wearer in words and "ticket" in words:
                return page, top, top + page.height / 2, words
    raise AssertionError(f"no ticket for {wearer}")


def scale_of(words: str) -> float:
    return float(re.search(r"1 : ([0-9.]+)", words)[1])


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


def uprights(page: drawn.Page, x: float, near: float = 0.01) -> list[tuple[float, float]]:
    """Upright strokes at x: their upper and lower ends."""
    return [(min(a[1], b[1]), max(a[1], b[1])) for a, b in page.lines if a[0] == b[0] and abs(a[0] - x) < near]


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
    scale = scale_of(words)
    ink = transfer(made, wearer, placement)["ink_mm"]
    w, h = (ink["h"], ink["w"]) if transfer(made, wearer, placement)["turned"] else (ink["w"], ink["h"])
    boxes = outlines(page, top, bottom, w / scale, h / scale)
    assert boxes, "the print's outline is not drawn to the stated scale"
    drop = drop_in * INCH / scale
    found = []
    for x, y, wide, high in boxes:
        edge = y if measured == "top" else y + high
        for side in (x + wide + 1.8, x - 1.8):
            for upper, lower in uprights(page, side):
                near = lower if measured == "top" else upper
                if abs(near - edge) < 0.002:
                    found.append(abs((lower - upper) - drop) * scale)
    assert found
    assert min(found) < TRUE_MM
    assert f"{drop_in * INCH:g} mm" in words


def test_a_left_chest_print_is_on_the_viewers_right_and_3_5_in_from_the_centre_line(made: Made) -> None:
    """Trade pages: 3 to 4 in from the centre line, usually 3.5 (common practice, no standard)."""
    page, top, bottom, words = half(made, "Ilka")
    scale = scale_of(words)
    ink = transfer(made, "Ilka", "left-chest")["ink_mm"]
    (x, y, w, h), *_ = outlines(page, top, bottom, ink["w"] / scale, ink["h"] / scale)
    across = [
        (min(a[0], b[0]), max(a[0], b[0]))
        for a, b in page.lines
        if a[1] == b[1] and abs(a[1] - (y + h + 2.4)) < 0.002 and abs(max(a[0], b[0]) - (x + w / 2)) < 0.002
    ]
    assert [(end - start) * scale for start, end in across] == [pytest.approx(3.5 * INCH, abs=TRUE_MM)]
    assert "WEARER'S RIGHT" in words
    assert "WEARER'S LEFT" in words


def test_the_garment_is_drawn_by_the_profiles_measures(made: Made) -> None:
    """An adult's T-shirt of 530 mm from armpit to armpit and 720 mm long (profile; common practice, no source)."""
    page, top, bottom, words = half(made, "Ilka")
    scale = scale_of(words)
    hems = [
        abs(b[0] - a[0]) * scale
        for a, b in page.lines
        if a[1] == b[1] and top < a[1] < bottom and abs(abs(b[0] - a[0]) * scale - 530) < 0.5
    ]
    assert hems
    edges = [one.box for one in page.outlines if one.closed and one.paint == "B" and top < one.box[1] < bottom]
    assert max(box[3] * scale for box in edges) == pytest.approx(720, abs=TRUE_MM)


def test_paper_lies_face_down_on_the_same_side_with_its_folds_and_the_garments_crease(made: Made) -> None:
    page, top, bottom, words = half(made, "Borys")
    scale = scale_of(words)
    ink = transfer(made, "Borys", "left-chest")["ink_mm"]
    wide, high = ink["w"] / scale, ink["h"] / scale
    solid = outlines(page, top, bottom, wide, high)
    dashed = [
        one.box for one in page.outlines
        if one.is_box and one.dashed and top < one.box[1] < bottom and one.box[2] == pytest.approx(wide, abs=0.002)
    ]  # fmt: skip
    assert len(solid) == len(dashed) == 1
    assert solid[0][1] == pytest.approx(dashed[0][1], abs=0.002)
    creases = [one for one in page.outlines if one.dashed and len(one.points) == 2 and top < one.box[1] < bottom]
    x, y = dashed[0][0] + wide / 2, dashed[0][1] + high / 2
    assert any(abs(one.box[0] - x) < 0.002 and one.box[2] == 0 for one in creases), "no upright fold"
    assert any(abs(one.box[1] - y) < 0.002 and one.box[3] == 0 for one in creases), "no level fold"
    centre = [one.box[0] for one in creases if one.box[2] == 0 and one.box[3] * scale > 600]
    assert any(c < dashed[0][0] for c in centre), "the garment's centre crease is not left of the wearer's left chest"
    assert "paper face down" in words
    assert "as worn" in words


def test_the_small_picture_is_as_worn_not_mirrored(made: Made) -> None:
    """The picture's matrix keeps left on the left: its lower right corner lies right of its lower left."""
    for page in made.pages[1:]:
        for shown in page.pictures:
            (x0, y0), (x1, y1), (x2, y2) = shown.corners
            # Upright or turned, never mirrored: going right and then up turns anticlockwise (y runs down here).
            assert (x1 - x0) * (y2 - y0) - (y1 - y0) * (x2 - x0) < 0


def test_every_garment_has_its_ticket_and_every_transfer_its_entry(made: Made) -> None:
    """Ilka, Borys, Cy, two of R-3, and one for each copy of the row that names nobody: seven."""
    text = "\n".join(made.texts)
    assert re.search(r"ticket 7 of 7", text)
    assert "garment 1 of 2" in text
    assert "garment 2 of 2" in text
    code = made.record["code"]
    ids = {t["id"] for s in made.record["sheets"] for t in s["transfers"]}
    assert set(re.findall(rf"{code}-(T[0-9]+)", text)) == ids
    assert text.count("not named") == 2


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
    text = "\n".join(made.texts[1:])
    setups = re.findall(r"set-up: (\w+)", text)
    assert setups == sorted(setups, key=["back", "chest", "sleeve"].index)
    assert setups.count("back") == 2


def test_the_settings_are_said_on_both_scales_as_starting_points(made: Made) -> None:
    """195 °C is 383 °F: 195 x 9/5 + 32 (SI Brochure, 9th edition, 2.3.1; NIST SP 811, B.8)."""
    _, _, _, words = half(made, "Ilka")
    flat = " ".join(words.split())
    assert "195 °C (383 °F), 45 s, medium pressure" in flat
    assert "STARTING POINTS" in flat
    assert "test on scrap" in flat
    assert "layers beneath are heated too" in flat
    assert "Let the ink dry." in flat
    assert "burns at a touch" in flat


def test_every_half_page_is_headed_plain_paper_and_so_is_the_cutting_list(made: Made) -> None:
    assert "Cutting list" in made.texts[0]
    assert all("PLAIN PAPER" in text for text in made.texts)


def test_the_cutting_list_names_each_sheet_its_paper_and_its_ids(made: Made) -> None:
    text = "\n".join(made.texts)
    for sheet in made.record["sheets"]:
        assert f"Sheet {sheet['sheet']} of {len(made.record['sheets'])}" in text
        assert f"{len(sheet['transfers'])} to cut apart" in text


def test_straight_cuts_are_told_in_their_order(tmp_path: Path) -> None:
    made = make(tmp_path, LINES[:6], straight_cuts="yes")
    text = " ".join(" ".join(made.texts).split())
    assert "Straight cuts, in this order" in text
    first = re.search(r"1: (down|across), ([0-9.]+) mm from the (left|top)", text)
    assert first
    sheet = next(s for s in made.record["sheets"] if len(s["transfers"]) > 1)
    start, size = ("x", "w") if first[1] == "down" else ("y", "h")
    cells = [t["cell_mm"] for t in sheet["transfers"]]
    edges = [round(cell[start], 1) for cell in cells] + [round(cell[start] + cell[size], 1) for cell in cells]
    assert float(first[2]) in edges, "a cut runs along the edge of a cell"


def test_a_hoodies_back_lies_below_its_hood_with_a_line_for_the_measured_one(made: Made) -> None:
    """5 in below the neck seam, 6 in where the hood would still cover it (common practice, no source)."""
    flat = " ".join(half(made, "Cy")[3].split())
    assert "Top 127 mm below the neck seam (usual 127 mm to 152.4 mm)" in flat
    assert "Measured: top below the neck seam ____" in flat
    assert "cloth: assumed white polyester" in flat


def test_a_drop_that_nobody_knows_is_said_to_be_measured(tmp_path: Path) -> None:
    made = make(tmp_path, ["R-1,Ilka,crest.png,full-back,polo toddler 2T,1,60 mm,,,,"])
    assert "? measure" in " ".join(half(made, "Ilka")[3].split())


def test_beside_a_zip_the_crease_is_the_prints_own_and_a_pad_is_drawn(tmp_path: Path) -> None:
    made = make(tmp_path, ["R-1,Ilka,crest.png,left-chest,zip hoodie adult M,1,60 mm,,,,"])
    flat = " ".join(half(made, "Ilka")[3].split())
    assert "parallel to the zip" in flat
    assert "middle 88.9 mm from the zip towards the wearer's left" in flat
    assert " pad " in flat


def test_a_print_that_heats_another_again_is_warned_of(tmp_path: Path) -> None:
    lines = [
        "R-1,Ilka,sky.png,full-front,T-shirt adult M,1,4 in,,,,",
        "R-1,Ilka,crest.png,left-chest,T-shirt adult M,1,60 mm,,,,",
    ]
    made = make(tmp_path, lines)
    flat = " ".join(half(made, "Ilka")[3].split())
    assert "HEATS T00" in flat


def test_larger_than_the_platen_takes_several_presses(tmp_path: Path) -> None:
    """9 x 12 in with 0.5 in clear holds 8 x 11 in: a back of 10 x 11.8 in takes two, the garment laid crosswise."""
    made = make(tmp_path, LINES[:1], press="9x12")
    flat = " ".join(half(made, "Ilka")[3].split())
    assert "LARGER THAN THE 9 x 12 in PLATEN" in flat
    assert "2 presses" in flat


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
    assert "90.9 mm × 90 mm on paper, with 1.01 × 1" in flat  # 90 x 1.01 across


def test_letter_paper_and_inches(tmp_path: Path) -> None:
    made = make(tmp_path, LINES[:3], ticket_paper="letter", units="in")
    assert (made.pages[0].width, made.pages[0].height) == pytest.approx((215.9, 279.4), abs=1e-3)
    flat = " ".join(half(made, "Ilka")[3].split())
    assert "Top 4 in below the collar (usual 2 in to 6 in)" in flat


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
