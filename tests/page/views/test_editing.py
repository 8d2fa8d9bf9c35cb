"""Rows as a table, undo, two tabs, many pictures, an export: what happens beside the main path."""

from __future__ import annotations

import base64
import csv
import io

import numpy as np
import pytest
from PIL import Image

from page.views.conftest import drop, enter, faults, paste, pictures
from waiting import wait_until

# A browser on a busy machine: run by .ci/long. What the server does of it is in tests/page.
pytestmark = pytest.mark.long


def rows_of(program, name="orders.csv"):
    path = program.folder / name
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig")))) if path.exists() else []


def draw_small_png(number: int) -> tuple[str, str]:
    """A picture of its own for each number."""
    pixels = np.zeros((24, 24, 4), np.uint8)
    pixels[2:22, 2:22] = (number % 200, number // 200 * 80, 120, 255)
    file = io.BytesIO()
    Image.fromarray(pixels, "RGBA").save(file, "PNG")
    return f"picture-{number:03}.png", base64.b64encode(file.getvalue()).decode()


EMPTY = """async () => {
  const headers = {"X-Impose-Token": localStorage.getItem("impose-token"), "Content-Type": "application/json"};
  const batch = "/api/b/" + (await (await fetch("/api/state", {headers})).json()).current;
  const ids = (await (await fetch(batch, {headers})).json()).rows.map(row => row.id);
  const body = JSON.stringify({ops: [{op: "remove", ids}]});
  if (ids.length) await fetch(batch + "/changes", {method: "POST", headers, body});
}"""


@pytest.fixture(scope="module")
def program(start):
    return start()


@pytest.fixture
def opened(program, visit):
    """The page of a batch without rows; one program serves all tests of this module."""
    page = visit(program)
    page.evaluate(EMPTY)
    page.reload()
    page.wait_for_selector(".spot[data-placement=left-chest]:not(.taken)")
    return program, page


def place_one(page, where="left-chest", name="moth.png"):
    drop(page, f".spot[data-placement={where}]", pictures(name))
    page.wait_for_selector(f".spot.taken[data-placement={where}]")


def test_a_picture_dropped_on_the_drawing_goes_to_the_place_under_it(opened):
    program, page = opened
    drop(page, ".face:first-child .over .place:first-child", pictures("moth.png"))
    page.wait_for_selector(".spot.taken[data-placement=left-chest]")
    assert [row["placement"] for row in wait_until(lambda: rows_of(program), "a row")] == ["left-chest"]


def test_a_place_is_filled_with_the_keyboard_alone(opened):
    program, page = opened
    page.set_input_files(
        "#files",
        files=[{"name": "moth.png", "mimeType": "image/png", "buffer": base64.b64decode(pictures("moth.png")[0][1])}],
    )
    page.wait_for_selector(".tray .picture")
    page.focus(".tray .picture")
    page.keyboard.press("Enter")
    page.wait_for_selector(".tray .picture[aria-pressed=true]")
    page.focus(".spot[data-placement=left-chest]")
    page.keyboard.press("Enter")
    page.wait_for_selector(".spot.taken[data-placement=left-chest]")
    assert wait_until(lambda: rows_of(program), "a row")[0]["placement"] == "left-chest"


def test_what_is_typed_is_saved_undone_and_done_again(opened):
    program, page = opened
    place_one(page)
    page.fill(".print input[name=width]", "77 mm")
    wait_until(lambda: rows_of(program) and rows_of(program)[0]["width"] == "77 mm", "the width on the disk")
    page.click("h1")
    page.keyboard.press("Control+z")
    wait_until(lambda: rows_of(program) and rows_of(program)[0]["width"] == "", "undone on the disk")
    page.wait_for_function("() => document.querySelector('.print input[name=width]').value === ''")
    page.keyboard.press("Control+y")
    wait_until(lambda: rows_of(program) and rows_of(program)[0]["width"] == "77 mm", "done again on the disk")


def test_typing_a_name_that_another_has_does_not_join_them(opened):
    program, page = opened
    place_one(page)
    page.fill(".board input[name=wearer]", "Ana")
    wait_until(lambda: rows_of(program) and rows_of(program)[0]["wearer"] == "Ana", "the first name")
    page.click("text=Same for one more")
    wait_until(lambda: len(rows_of(program)) == 2, "a second garment")
    page.locator(".board input[name=wearer]").fill("")
    page.locator(".board input[name=wearer]").press_sequentially("Anabel")
    wait_until(lambda: {row["wearer"] for row in rows_of(program)} == {"Ana", "Anabel"}, "both names")


def test_cells_of_a_spreadsheet_fill_rows_and_add_new_ones(opened):
    program, page = opened
    place_one(page)
    page.click("text=As a table")
    page.wait_for_selector(".grid tbody tr")
    paste(page, ".grid [data-at='0:0']", "OW-1\tAna\nOW-2\tBo\nOW-3\t=1+1")
    found = wait_until(lambda: len(found := rows_of(program)) == 3 and found, "three rows")
    assert [(row["order"], row["wearer"]) for row in found] == [("OW-1", "Ana"), ("OW-2", "Bo"), ("OW-3", "=1+1")]
    assert found[0]["placement"] == "left-chest"
    page.focus(".grid [data-at='0:0']")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("() => document.activeElement.dataset.at") == "1:0"


def test_two_tabs_show_the_same_and_lose_nothing(opened):
    program, first = opened
    said: list[str] = []
    second = enter(first.context, program, said)
    second.wait_for_selector(".spot[data-placement=left-chest]")
    first.bring_to_front()
    place_one(first)
    second.bring_to_front()
    second.wait_for_selector(".spot.taken[data-placement=left-chest]")
    second.fill(".print input[name=width]", "66 mm")
    first.bring_to_front()
    first.wait_for_function("() => document.querySelector('.print input[name=width]')?.value === '66 mm'")
    first.fill(".board input[name=wearer]", "Ana")
    wait_until(lambda: (row := rows_of(program)[0]) and (row["width"], row["wearer"]) == ("66 mm", "Ana"), "both cells")
    assert faults(said) == []


def test_three_hundred_pictures_dropped_at_once_are_all_taken(opened):
    program, page = opened
    drop(page, ".tray", [draw_small_png(number) for number in range(300)])
    page.wait_for_selector(".tray progress")
    page.wait_for_function(
        "() => !document.querySelector('.tray progress') && document.querySelectorAll('.tray .picture').length >= 60",
        timeout=240_000,
    )
    assert len(list((program.folder / "art").glob("picture-*.png"))) == 300
    assert "Show all 30" in page.inner_text(".tray")


def test_what_is_no_picture_is_refused_in_words_and_the_rest_is_taken(opened):
    program, page = opened
    drop(page, ".tray", [("letter.png", base64.b64encode(b"Dear shop").decode()), *pictures("moth.png")])
    page.wait_for_selector(".notice")
    assert "letter.png" in page.inner_text(".notice")
    page.wait_for_selector(".tray .picture")
    assert not (program.folder / "art" / "letter.png").exists()


def test_an_export_is_taken_by_pointing_at_its_headings(opened):
    program, page = opened
    place_one(page)
    page.click("text=As a table")
    page.click("text=Take in a web shop's export")
    export = "Order no,Item,Where\r\n1001,moth.png,left-chest\r\n1002,moth.png,left-chest\r\n"
    page.set_input_files(
        "dialog input[type=file]", files=[{"name": "export.csv", "mimeType": "text/csv", "buffer": export.encode()}]
    )
    page.wait_for_selector(".pointing select")
    for heading, column in (("Order no", "order"), ("Item", "art"), ("Where", "placement")):
        page.select_option(f".pointing select[aria-label='What is {heading}?']", column)
    page.click("dialog >> text=Try it")
    page.wait_for_selector("dialog .main-act:not([aria-disabled])")
    page.click("dialog .main-act")
    found = wait_until(lambda: len(found := rows_of(program)) == 3 and found, "two rows more")
    assert [row["order"] for row in found[1:]] == ["1001", "1002"]
