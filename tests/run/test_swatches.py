"""Swatches: true pieces of every picture in clean waste, by pdfium and poppler; they cost and touch nothing."""

from __future__ import annotations

import io
import json
import shutil
from pathlib import Path

import numpy as np
import pymupdf
import pytest
from PIL import Image, ImageDraw

import papercheck
from art.iccbytes import model_profile
from conftest import draw
from impose.art import busiest_part
from impose.art.busiest_part import find_busiest_part
from impose.art.crop import read_picture_rows
from impose.art.prepare import prepare_picture
from impose.run import Options, plan, produce, quote
from impose.run.record_file import read_record
from impose.run.reprint import plan_reprint
from impose.run.reuse_sheets import OntoRequest
from impose.run.selection import ReprintRequest
from impose.sheet.cutting_plan import plan_cutting
from papercheck import Measured, faults

pytestmark = pytest.mark.usefixtures("sheets_alone")

ROWS = """order,wearer,art,words,width,copies,recolour
A,Ann,disc.png,,60mm,1,
A,Bo,disc.png,,60mm,1,#C81E3C > #12A05B
A,Cy,noise.png,,40mm,1,
B,Di,,DIANA,80mm,1,
B,Ed,,EDGAR,90mm,1,
B,Fy,small.png,,20mm,1,
"""


@pytest.fixture(scope="module")
def orders(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("swatches")
    for name, kind, size in (
        ("disc", "ellipse", (360, 330)),
        ("noise", "noise", (300, 240)),
        ("small", "noise", (90, 90)),
    ):
        draw(kind, *size, seed=len(name)).save(folder / f"{name}.png")
    (folder / "orders.csv").write_text(ROWS)
    (folder / "many.csv").write_text(ROWS.replace("disc.png,,60mm,1,\n", "disc.png,,60mm,6,\n"))
    return folder / "orders.csv"


def make(source: Path, out: Path, swatches: bool = True, **more: object) -> dict:
    settings = {"papers": ["a4"], "swatches": swatches} | more.pop("settings", {})
    produce(plan([source], Options(settings, steps=20, workers=1, **more)), out)
    return json.loads((out / "batch.json").read_bytes())


@pytest.fixture(scope="module")
def made(orders, tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("made") / "out"
    make(orders, out)
    return out


def record(out: Path) -> dict:
    return json.loads((out / "batch.json").read_bytes())


@pytest.mark.parametrize("renderer", ["pdfium", "poppler"])
def test_each_is_the_artworks_own_pixels_where_the_record_says(made, orders, renderer):
    measured = Measured()
    assert faults(made, orders.parent, renderer, measured) == []
    assert measured.pixel <= 1
    swatches = record(made)["swatches"]
    # One for each picture, the recoloured one of its own; one for all words of a style.
    assert [(s["id"], s["art"].split(" ")[0], "recolour" in s) for s in swatches] == [
        ("S01", "disc.png", False), ("S02", "disc.png", True), ("S03", "noise.png", False), ("S04", "words", False),
        ("S05", "small.png", False),
    ]  # fmt: skip
    for swatch in swatches[:3]:
        assert 25 <= min(swatch["ink_mm"]["w"], swatch["ink_mm"]["h"]) < 25.3
    assert swatches[4]["ink_mm"]["w"] == pytest.approx(20)  # the whole of a picture that is smaller


def test_the_recoloured_one_is_in_its_new_colours(made):
    (swatch,) = [s for s in record(made)["swatches"] if "recolour" in s]
    crops = papercheck.Crops(made / swatch["file"], made.parent)
    number = crops.add(swatch["page"], swatch["ink_mm"])
    crops.save()
    seen = crops.pdfium(number, 150).reshape(-1, 3).astype(int)
    assert (np.abs(seen - (0x12, 0xA0, 0x5B)).max(axis=1) <= 1).mean() > 0.3
    assert not (np.abs(seen - (0xC8, 0x1E, 0x3C)).max(axis=1) <= 9).any()


def test_the_loupe_would_see_one_that_touches_a_cell_or_shows_another_part(made, orders, tmp_path):
    said = record(made)
    swatch, sheet = said["swatches"][0], said["sheets"][said["swatches"][0]["sheet"] - 1]
    assert list(papercheck._swatch_place_faults(swatch, sheet)) == []
    cell = sheet["transfers"][0]["cell_mm"]
    moved = {**swatch, "place_mm": {**swatch["place_mm"], "x": cell["x"] + cell["w"] - 1, "y": cell["y"]}}
    assert any("over the cell" in fault for fault in papercheck._swatch_place_faults(moved, sheet))
    left, top, right, bottom = swatch["ink_px"]
    swatch["ink_px"] = [left - 1, top, right - 1, bottom]
    shutil.copytree(made, tmp_path / "wrong")
    (tmp_path / "wrong" / "batch.json").write_text(json.dumps(said))
    assert any("pixels differ" in fault for fault in faults(tmp_path / "wrong", orders.parent))


def test_they_cost_nothing_and_move_nothing(made, orders, tmp_path):
    with_them, without = record(made), make(orders, tmp_path / "plain", swatches=False)
    assert "swatches" not in without
    assert "swatches" not in without["options"]
    for name in ("cost", "paper", "fewest", "money"):
        assert with_them[name] == without[name], name
    assert [s["transfers"] for s in with_them["sheets"]] == [s["transfers"] for s in without["sheets"]]
    assert (made / "reprint.csv").read_text().count("\n") == (tmp_path / "plain" / "reprint.csv").read_text().count(
        "\n"
    )
    assert "S01" not in (made / "reprint.csv").read_text()
    # Slug and rulers are where they were, the first marks of each sheet; the slug's code is another one.
    for one, other in zip(with_them["sheets"], without["sheets"], strict=True):
        slug, *rulers = one["marks_mm"][: len(other["marks_mm"])]
        assert rulers == other["marks_mm"][1:]
        assert (slug["x"], slug["y"]) == (other["marks_mm"][0]["x"], other["marks_mm"][0]["y"])


@pytest.mark.documents
def test_the_same_input_gives_the_same_bytes(made, orders, tmp_path):
    make(orders, tmp_path / "again")
    for name in ("batch.json", "sheets-a4.pdf", "proof.html"):
        assert (made / name).read_bytes() == (tmp_path / "again" / name).read_bytes(), name


def test_nothing_is_looked_at_when_they_are_off(orders, monkeypatch):
    def never(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr(busiest_part, "read_picture_rows", never)
    assert all(not sheet.swatches for sheet in plan([orders], Options(steps=5)).layout.sheets)


@pytest.mark.parametrize(
    ("name", "settings", "more"),
    [
        ("roll", {"papers": ["roll-13in"]}, {}),
        ("straight", {"straight_cuts": True}, {}),
        ("parts", {}, {"part_sheets": 1}),
        pytest.param("letter", {"papers": ["letter", "a4"]}, {}, marks=pytest.mark.long),
    ],
)
def test_rolls_straight_cuts_and_parts_have_them_too(orders, tmp_path, name, settings, more):
    source = orders.with_name("many.csv") if name in ("roll", "parts") else orders
    said = make(source, tmp_path / name, settings=settings, **more)
    assert len(said["swatches"]) >= 3
    assert len({sheet["file"] for sheet in said["sheets"]}) == (2 if name == "parts" else 1)
    # The PDF may round a number of a long page: see the loupe.
    assert faults(tmp_path / name, orders.parent, finer=5 if name == "roll" else 1) == []


def test_a_printers_profile_is_theirs_as_well(orders, tmp_path):
    (tmp_path / "cloth.icc").write_bytes(model_profile())
    settings = {"papers": ["a4"], "swatches": True, "output_profile": str(tmp_path / "cloth.icc")}
    layout = plan([orders], Options(settings, steps=5)).layout
    swatches = [swatch for sheet in layout.sheets for swatch in sheet.swatches]
    assert {s.picture.components for s in swatches} == {3}
    for swatch in swatches:
        whole, part = swatch.piece.picture, swatch.picture
        if swatch.piece.ppi is None:
            continue
        rows = np.concatenate(list(read_picture_rows(whole))).reshape(-1, whole.ink[2] - whole.ink[0], 3)[:, ::-1]
        left, top = (a - b for a, b in zip(part.ink[:2], whole.ink[:2], strict=True))
        cut = np.concatenate(list(read_picture_rows(part))).reshape(-1, part.ink[2] - part.ink[0], 3)[:, ::-1]
        assert np.array_equal(cut, rows[top : top + cut.shape[0], left : left + cut.shape[1]])


@pytest.mark.documents
def test_no_cut_of_the_cutting_list_runs_through_them(orders, tmp_path):
    made = plan([orders.with_name("many.csv")], Options({"papers": ["a4"], "swatches": True}, steps=20, workers=1))
    ways = 0
    for sheet in made.layout.sheets:
        for cut in plan_cutting(sheet, "mm").cuts:
            x1, y1, x2, y2 = cut.stroke
            for swatch in sheet.swatches:
                ways += 1
                line = {"x": x1, "y": y1, "w": x2 - x1, "h": y2 - y1}
                place = {"x": swatch.place.x, "y": swatch.place.y, "w": swatch.place.w, "h": swatch.place.h}
                assert not papercheck._overlap(place, line)
    assert ways > 5
    produce(made, tmp_path / "out")
    with pymupdf.open(tmp_path / "out" / "tickets.pdf") as document:
        words = "".join(page.get_text() for page in document)
    assert "press them on scrap: S" in " ".join(words.split())


def test_what_finds_no_room_is_said(tmp_path):
    """A picture that fills its sheet to the printer's edges leaves no waste."""
    draw("noise", 300, 414, 3).save(tmp_path / "full.png")
    (tmp_path / "orders.csv").write_text("art,width\nfull.png,178mm\n")
    planned = plan([tmp_path / "orders.csv"], Options({"papers": ["a4"], "swatches": True}, steps=5))
    (note,) = [f for f in planned.findings if f.kind == "no-swatch"]
    assert "full.png" in note.what
    assert planned.record["swatches"] == []


def test_a_reprint_has_none_unless_asked(made, orders, tmp_path):
    source = read_record(made)
    wish = ReprintRequest(only=("T001",))
    folder = tmp_path / "own"
    folder.mkdir()
    (folder / "settings.toml").write_text("swatches = true\n")
    plain = plan_reprint(source, wish, Options(steps=5, profiles_dir=folder)).plan
    assert "swatches" not in plain.record
    asked = plan_reprint(source, wish, Options({"swatches": True}, steps=5)).plan
    assert [s["art"] for s in asked.record["swatches"]] == ["disc.png"]
    produce(asked, tmp_path / "again")
    assert faults(tmp_path / "again", orders.parent) == []


def test_a_quote_tells_how_many(orders, run):
    told = quote([orders], Options({"papers": ["a4"], "swatches": True}, steps=5))
    assert (told.swatches.placed, told.swatches.pictures) == (5, 5)
    assert quote([orders], Options(steps=5)).swatches is None
    code, out, _ = run("quote", orders, "-p", "a4", "--swatches", "--steps", 5)
    assert code == 0
    assert "swatches in waste: 5 of 5 pictures" in out


def test_the_part_with_most_colours_is_taken():
    """A large disc of one colour with a small bunch of four in its lower left, which the window holds."""
    image = Image.new("RGB", (800, 700), "white")
    pen = ImageDraw.Draw(image)
    pen.ellipse((10, 10, 790, 690), fill=(200, 30, 40))
    for number, colour in enumerate([(20, 60, 160), (255, 210, 0), (20, 150, 90), (90, 20, 120)]):
        pen.rectangle((200 + 40 * number, 450, 239 + 40 * number, 520), fill=colour)
    file = io.BytesIO()
    image.save(file, "PNG")
    picture = prepare_picture(file.getvalue())
    left, top, right, bottom = find_busiest_part(picture, 200, 180)
    assert (right - left, bottom - top) == (200, 180)
    assert left <= 210
    assert right >= 350
    assert top <= 450
    assert bottom >= 515


def test_on_a_printed_sheet_they_keep_clear_of_what_is_there(orders, tmp_path):
    """Paper that is printed a second time: old cells, slug, rulers and swatches are obstacles like any."""
    first = make(orders, tmp_path / "first")
    onto = OntoRequest(tmp_path / "first")
    (orders.parent / "late.csv").write_text("art,width\nsmall.png,20mm\n")
    second = make(orders.with_name("late.csv"), tmp_path / "second", onto=onto)
    (swatch,) = second["swatches"]
    sheet = next(s for s in second["sheets"] if s["sheet"] == swatch["sheet"])
    assert "onto" in sheet
    old = first["sheets"][0]
    for box in [*(t["cell_mm"] for t in old["transfers"]), *old["marks_mm"]]:
        assert not papercheck._overlap(swatch["place_mm"], box)
    assert faults(tmp_path / "second", orders.parent) == []
