"""The main path as a new person walks it, from an empty batch to a print made again; one walk for all tests here."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from page.views.conftest import EXAMPLE, WIDE, drop, enter, faults, paste, pictures
from waiting import wait_until

# A browser on a busy machine: run by .ci/long. What the server does of it is in tests/page.
pytestmark = pytest.mark.long

ROSTER = """Inge 7 M
Łukasz 12 L
Bronagh 3 S
Zoë 21 M
Ada 9 L
Bilal 10 XL
Chidi 4 M
Дарина 5 S
Ελένη 8 M
Ágota 11 L
Wren 1 S
Juno 2 XL"""
PLACED = {"full-back": "heron-back.png", "left-chest": "lantern-crest.png", "left-long-sleeve": "light-the-water.png"}


class Walk:
    """The page, and how often a person had to click, type or drop to come this far."""

    def __init__(self, program, page):
        self.program, self.page, self.acts = program, page, 0

    def click(self, selector):
        self.acts += 1
        self.page.click(selector)

    def see(self, selector, **wishes):
        return self.page.wait_for_selector(selector, **wishes)

    def drop(self, place, name):
        self.acts += 1
        drop(self.page, f".spot[data-placement={place}]", pictures(name))
        self.see(f".spot.taken[data-placement={place}]")

    def rows(self, name="orders.csv"):
        path = self.program.folder / name
        return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig")))) if path.exists() else []


def read_team(walk):
    """Three pictures on a drawn hoodie, then twelve names."""
    walk.acts += 1
    walk.page.select_option("select[name=kind]", "hoodie")
    walk.see(".spot[data-placement=left-long-sleeve]")
    for place, name in PLACED.items():
        walk.drop(place, name)
    walk.click("text=For a team: paste names")
    walk.acts += 1
    paste(walk.page, "textarea[name=roster]", ROSTER)
    walk.see(".roster tbody tr:nth-child(12)")
    assert walk.rows("kits.csv") == []  # nothing is taken before it is confirmed
    walk.click("dialog fieldset button:has-text('Adult')")  # an M may be a youth's: that is asked
    walk.see("dialog .main-act:not([aria-disabled])")
    walk.click("dialog .main-act")
    walk.see("dialog", state="detached")


@pytest.fixture(scope="module")
def walk(start, chromium):
    program = start()
    context = chromium.new_context(viewport=WIDE, reduced_motion="reduce", accept_downloads=True)
    said: list[str] = []
    walk = Walk(program, enter(context, program, said))
    read_team(walk)
    walk.click("text=See the sheets")
    yield walk
    context.close()
    assert faults(said) == []


@pytest.fixture(scope="module")
def planned(walk):
    """The back is larger than A4: a larger paper mends it."""
    walk.see(".said[data-kind=no-room]")
    walk.click("text=Other papers")
    walk.click("[name=paper][value='13x19']")
    walk.see(".sheet svg")
    walk.page.wait_for_function("() => !document.querySelector('.said[data-kind=no-room]')")
    return walk


@pytest.fixture(scope="module")
def made(planned):
    planned.click("#make")
    planned.see(".made-now")
    return planned


@pytest.fixture(scope="module")
def pressed(made):
    made.click("text=Press them")
    made.see(".to-press-one")
    made.click(".to-press-one:first-child [name=pressed]")
    made.page.wait_for_function("() => /^1 of/.test(document.querySelector('.counter p').textContent)")
    return made


def delivered(walk) -> Path:
    return next(path.parent for path in walk.program.folder.rglob("batch.json") if "again" not in path.parent.name)


def test_a_team_of_twelve_with_three_pictures_is_saved_as_plain_files(walk):
    rows = wait_until(lambda: len(found := walk.rows()) == 12 and found, "twelve rows on the disk")
    assert [row["name"] for row in rows] == [line.split()[0] for line in ROSTER.splitlines()]
    assert [row["number"] for row in rows] == [line.split()[1] for line in ROSTER.splitlines()]
    kits = walk.rows("kits.csv")
    assert {row["placement"]: Path(row["art"]).name for row in kits} == PLACED
    for name in PLACED.values():
        assert (walk.program.folder / "art" / name).read_bytes() == (EXAMPLE / "art" / name).read_bytes()


def test_every_print_lies_on_a_sheet_once_the_finding_is_mended(planned):
    planned.page.wait_for_function("() => /all are on a sheet/.test(document.querySelector('.facts').textContent)")
    facts = planned.page.inner_text(".facts")
    assert "36" in facts
    assert "Must be mended" not in planned.page.inner_text(".look")


def test_the_saved_pdf_holds_the_artwork_mirrored_and_true_to_size(made, tmp_path):
    """Rendered by pdfium, which did not write it, and compared with the artwork's own pixels."""
    folder = delivered(made)
    record = json.loads((folder / "batch.json").read_text("utf-8"))
    assert sum(len(sheet["transfers"]) for sheet in record["sheets"]) == 36
    sheet = record["sheets"][0]
    with made.page.expect_download() as coming:
        made.page.click(f".made-now a[download*='{sheet['file'].removeprefix('sheets-').removesuffix('.pdf')}']")
    saved = tmp_path / "sheets.pdf"
    coming.value.save_as(saved)
    assert saved.read_bytes() == (folder / sheet["file"]).read_bytes()
    document = pypdfium2.PdfDocument(saved)
    page = document[sheet["page"] - 1]
    # ISO 216 A4, or 13 x 19 in.
    assert [round(points * 25.4 / 72, 1) for points in page.get_size()] in ([210.0, 297.0], [330.2, 482.6])
    printed = page.render(scale=150 / 72).to_pil().convert("RGB")
    page.close()
    document.close()
    for one in sheet["transfers"]:
        assert difference(printed, one) < 12, one["id"]


def difference(printed: Image.Image, one: dict) -> float:
    """The mean difference of what is printed and the artwork, in steps of 255."""
    art = Image.open(EXAMPLE / "art" / Path(one["art"]).name).convert("RGBA").crop(tuple(one["ink_px"]))
    white = Image.new("RGBA", art.size, "white")
    wanted = Image.alpha_composite(white, art).convert("RGB").transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    if one["turned"]:
        wanted = wanted.transpose(Image.Transpose.ROTATE_270)
    box = one["ink_mm"]
    left, top, wide, high = (round(box[name] * 150 / 25.4) for name in ("x", "y", "w", "h"))
    seen = printed.crop((left, top, left + wide, top + high))
    return float(np.abs(np.asarray(seen, float) - np.asarray(wanted.resize(seen.size), float)).mean())


def test_what_is_ticked_lies_in_the_batch_folder(pressed):
    text = wait_until(lambda: (path := pressed.program.folder / "press.json").exists() and path.read_text(), "ticks")
    assert "T001" in text
    assert pressed.page.is_checked(".to-press-one:first-child [name=pressed]")


def test_a_spoiled_print_is_made_again_on_one_sheet(pressed):
    page = pressed.page
    pressed.click(".to-press-one:nth-child(2) [name=spoiled]")
    pressed.see("text=What is spoiled?")
    pressed.click("text=Only the paper")
    pressed.see(".again")
    assert "1 print" in page.inner_text(".again h2")
    pressed.click("text=Make them again")
    pressed.click("dialog .main-act")
    page.wait_for_function("() => document.querySelector('.counter p')?.textContent.startsWith('0 of 1')")
    again = [path for path in pressed.program.folder.rglob("batch.json") if "again" in path.parent.name]
    assert len(again) == 1
    record = json.loads(again[0].read_text("utf-8"))
    assert [one["placement"] for sheet in record["sheets"] for one in sheet["transfers"]] == ["left-chest"]
    # Every click, choice, drop and paste from the empty batch to the print made again.
    assert pressed.acts <= 20, pressed.acts
