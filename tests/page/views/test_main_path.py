"""The main path as a new person walks it, from an empty batch to a print made again."""

from __future__ import annotations

import csv
import io
import re

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from page.views.conftest import EXAMPLE, drop, paste, pictures, wait_until

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


def place(face: str, title: str) -> str:
    return f".face .spot[data-placement={title}]"


@pytest.fixture(scope="module")
def walked(start, chromium):
    """The path as far as the sheets are made, once for all tests below; the clicks are counted."""
    from page.views.conftest import WIDE, enter

    program = start()
    context = chromium.new_context(viewport=WIDE, reduced_motion="reduce", accept_downloads=True)
    said: list[str] = []
    page = enter(context, program, said)
    page.select_option("select[name=kind]", "hoodie")
    page.wait_for_selector(place("back", "full-back"))
    for name, where in (("heron-back.png", "full-back"), ("lantern-crest.png", "left-chest"), ("light-the-water.png", "left-long-sleeve")):
        drop(page, f".spot[data-placement={where}]", pictures(name))
        page.wait_for_selector(f".spot.taken[data-placement={where}]")
    page.click("text=For a team: paste names")
    paste(page, "textarea[name=roster]", ROSTER)
    page.wait_for_selector(".roster tbody tr:nth-child(12)")
    if page.locator("dialog fieldset button", has_text="Adult").count():
        page.click("dialog fieldset button:has-text('Adult')")
    page.wait_for_selector("dialog .main-act:not([aria-disabled])")
    page.click("dialog .main-act")
    page.wait_for_selector("dialog", state="detached")
    page.click("text=See the sheets")
    page.wait_for_selector(".sheet svg")
    yield program, page
    assert said == []
    context.close()


def rows_of(program) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((program.folder / "orders.csv").read_text("utf-8-sig"))))


def test_a_team_of_twelve_with_three_pictures_is_saved_as_plain_files(walked):
    program, _ = walked
    rows = wait_until(lambda: len(found := rows_of(program)) == 12 and found, "twelve rows on the disk")
    assert {row["name"] for row in rows} == {line.split()[0] for line in ROSTER.splitlines()}
    kits = list(csv.DictReader(io.StringIO((program.folder / "kits.csv").read_text("utf-8-sig"))))
    assert sorted(row["placement"] for row in kits) == ["full-back", "left-chest", "left-long-sleeve"]


def test_thirty_six_prints_lie_on_the_sheets(walked):
    _, page = walked
    page.wait_for_function("() => [...document.querySelectorAll('.facts div')].some(one => /Prints/.test(one.textContent) && /36/.test(one.textContent))")
