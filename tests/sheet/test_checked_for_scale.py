"""A printer run can be checked for scale: by a ruler of 100 mm on each axis, else by two ticks that its slug names.

What is named is measured here between the strokes that are drawn.
"""

from __future__ import annotations

import re

import pytest

import drawn
from impose.run import Options, plan, produce


def lay(folder, size: str, *rows: str):
    return plan_on(folder, size, *rows).layout.sheets


def plan_on(folder, size: str, *rows: str):
    own = folder / "own"
    own.mkdir()
    (own / "papers.toml").write_text(f'[narrow]\nname = "custom_narrow_{size}mm"\ncost = 1\n', "utf-8")
    (folder / "b.csv").write_text("\n".join(["words,font,width,garment,placement", *rows]) + "\n", "utf-8")
    options = Options(profiles_dir=own, settings={"papers": ["narrow"]}, steps=5, workers=1, cache=False)
    return plan([folder / "b.csv"], options)


def read_slug(sheet) -> str:
    return "   ".join(field for words in sheet.slug for field in words.line.fields)


def measure_ticks(sheet, name: str) -> tuple[float, float]:
    """From outer end to outer end of the ticks on the two centre lines of a print as it lies: across and down."""
    (cell,) = [placed.cell for placed in sheet.placed if placed.transfer.id == name]
    inside = [
        s
        for s in sheet.ticks
        if cell.x <= min(s.x1, s.x2) and max(s.x1, s.x2) <= cell.right
        and cell.y <= min(s.y1, s.y2) and max(s.y1, s.y2) <= cell.bottom
    ]  # fmt: skip
    middle, centre = cell.x + cell.w / 2, cell.y + cell.h / 2
    across = [x for s in inside if s.y1 == s.y2 and abs(s.y1 - centre) < 1.5 for x in (s.x1, s.x2)]
    down = [y for s in inside if s.x1 == s.x2 and abs(s.x1 - middle) < 1.5 for y in (s.y1, s.y2)]
    return max(across) - min(across), max(down) - min(down)


@pytest.mark.parametrize(
    ("size", "words", "ends"),
    [
        ("95x300", "LANTERN,block,40 mm,,", False),
        ("95x300", "I,block,12 mm,,", True),
        ("104x300", "LANTERN,block,140 mm,,", False),
    ],
)
def test_where_a_ruler_has_no_room_two_ticks_are_named_and_lie_so_far_apart(tmp_path, size, words, ends):
    (sheet,) = lay(tmp_path, size, words)
    match = re.search(
        r"no room for rulers: (T\d+) measures ([\d.]+) mm from its (\w+) to its (\w+) tick", read_slug(sheet)
    )
    assert match, read_slug(sheet)
    across, down = measure_ticks(sheet, match[1])
    turned = sheet.placed[0].turned
    named_across = (match[3], match[4]) == ("left", "right")
    assert named_across != ends
    assert named_across or (match[3], match[4]) == ("top", "bottom")
    assert float(match[2]) == pytest.approx(across if named_across != bool(turned) else down, abs=0.051)
    assert float(match[2]) == pytest.approx(max(across, down), abs=0.051), "the longest that there is"


def test_of_several_prints_the_longest_is_named(tmp_path):
    (sheet,) = lay(tmp_path, "95x300", "LANTERN,block,20 mm,,", "LANTERN,block,50 mm,,", "LANTERN,block,30 mm,,")
    name, told = re.search(r"rulers: (T\d+) measures ([\d.]+) mm", read_slug(sheet)).groups()
    spans = {placed.transfer.id: max(measure_ticks(sheet, placed.transfer.id)) for placed in sheet.placed}
    assert name == max(spans, key=spans.get)
    assert float(told) == pytest.approx(spans[name], abs=0.051)


def test_with_room_there_is_a_ruler_on_each_axis_and_no_ticks_are_named(tmp_path):
    (sheet,) = lay(tmp_path, "200x300", "LANTERN,block,40 mm,,")
    assert "no room" not in read_slug(sheet)
    along = {axis: max(abs(getattr(s, f"{axis}2") - getattr(s, f"{axis}1")) for s in sheet.rulers) for axis in "xy"}
    assert along == pytest.approx({"x": 100, "y": 100})


@pytest.mark.parametrize(("size", "words"), [("60x90", "LANTERN,block,28 mm,,"), ("50x100", "I,block,10 mm,,")])
def test_a_small_paper_names_the_ticks_in_fewer_words(tmp_path, size, words):
    (sheet,) = lay(tmp_path, size, words)
    name, ends, told = re.search(r"(T\d+) (left to right|top to bottom) tick: ([\d.]+) mm", read_slug(sheet)).groups()
    assert name == "T001"
    across, down = measure_ticks(sheet, name)
    turned = sheet.placed[0].turned
    assert float(told) == pytest.approx(across if (ends == "left to right") != bool(turned) else down, abs=0.051)


def test_where_no_word_fits_finding_and_cutting_list_name_the_ticks(tmp_path):
    """What the sheet has no room for is on the ticket (DESIGN.md, anatomy of a sheet) and among the findings."""
    made = plan_on(tmp_path, "60x60", "HH,block,28 mm,,")
    (sheet,) = made.layout.sheets
    assert "tick" not in read_slug(sheet)
    across, down = measure_ticks(sheet, "T001")
    (told,) = [finding for finding in made.findings if "true to size" in str(finding.remedy)]
    assert (told.kind, told.severity.name) == ("no-slug", "NOTE")
    out = produce(made, tmp_path / "out")
    listed = " ".join(" ".join(page.text for page in drawn.pages(out / "tickets.pdf")).split())
    for text in (str(told.remedy), listed):
        length, ends = re.search(r"T001 measures ([\d.]+) mm from its (left|top) to", text).groups()
        assert float(length) == pytest.approx(across if ends == "left" else down, abs=0.051)
    assert "Is it true to size? T001 measures" in listed
