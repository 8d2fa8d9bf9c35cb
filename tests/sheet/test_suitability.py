"""What only the final size can tell. Limits are common practice, no source, unless one is named beside them."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from impose.errors import Finding, Severity
from impose.run import Options, check

HEADING = "order,art,placement,garment,copies,width,height,tear"


@pytest.fixture
def said(tmp_path):
    """Check rows of art drawn beforehand: the findings by kind."""

    def run(lines: list[str], pictures: dict[str, Image.Image], **settings) -> dict[str, list[Finding]]:
        for name, image in pictures.items():
            image.save(tmp_path / name)
        path: Path = tmp_path / "batch.csv"
        path.write_text("\n".join([HEADING, *lines]) + "\n", "utf-8")
        checked = check([path], Options(settings={"papers": ["a3"], "printer": "borderless"} | settings, cache=False))
        found: dict[str, list[Finding]] = {}
        for finding in checked.findings:
            found.setdefault(finding.kind, []).append(finding)
        return found

    return run


def disc(size: int = 400) -> Image.Image:
    image = Image.new("RGBA", (size, size), (0, 0, 0, 0))
    ImageDraw.Draw(image).ellipse((20, 20, size - 20, size - 20), fill="teal")
    return image


def lined(width: int) -> Image.Image:
    """300 x 300 px of ink: a square frame 40 px thick with a line of `width` px through its middle."""
    image = Image.new("RGBA", (340, 340), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    pen.rectangle((20, 20, 319, 319), outline=(200, 210, 120, 255), width=40)
    pen.rectangle((60, 170, 279, 169 + width), fill="navy")
    return image


# 360 px of ink: 25.4 mm are 360 an inch.
@pytest.mark.parametrize(
    ("ppi", "kind", "severity"),
    [
        (151, None, None),
        (149, "low-resolution", "note"),
        (121, "low-resolution", "note"),
        (119, "low-resolution", "warn"),
        (101, "low-resolution", "warn"),
        (99, "very-low-resolution", "warn"),
    ],
)
def test_resolution_has_three_levels(said, ppi, kind, severity):
    found = said([f"A,d.png,,adult M,1,{361 / ppi * 25.4:.3f} mm,,"], {"d.png": disc()})
    told = [(f.kind, str(f.severity)) for k in ("low-resolution", "very-low-resolution") for f in found.get(k, [])]
    assert told == ([] if kind is None else [(kind, severity)])


def test_resolution_levels_are_settings(said):
    found = said(["A,d.png,,adult M,1,90 mm,,"], {"d.png": disc()}, ppi_serious=50, ppi_warn=60, ppi_note=70)
    assert not {"low-resolution", "very-low-resolution"} & set(found)


@pytest.mark.parametrize(("px", "mm", "told"), [(4, 300 * 0.5 / 4.2, True), (4, 300 * 0.5 / 3.8, False)])
def test_a_stroke_is_too_thin_under_half_a_millimetre(said, px, mm, told):
    """At `mm` wide for 300 px, the line of 4 px measures 0.476 or 0.526 mm."""
    found = said([f"A,l.png,,adult M,1,{mm:.4f} mm,,"], {"l.png": lined(px)})
    assert ("thin-stroke" in found) is told
    if told:
        (finding,) = found["thin-stroke"]
        assert "0.48 mm" in finding.what
        assert finding.severity is Severity.NOTE
        left, top, right, bottom = finding.mm
        assert 0 <= left < right <= mm + 0.01
        assert top < mm / 2 < bottom, "the box should hold the line in the middle"


def test_much_very_thin_line_is_a_warning(said):
    (finding,) = said(["A,l.png,,adult M,1,60 mm,,"], {"l.png": lined(1)})["thin-stroke"]
    assert finding.severity is Severity.WARN  # 0.2 mm over 44 mm


def boxed() -> Image.Image:
    image = Image.new("RGBA", (600, 400), (0, 0, 0, 0))
    ImageDraw.Draw(image).rectangle((50, 50, 549, 349), fill="navy")
    return image


@pytest.mark.parametrize(("tear", "severity"), [("14 mm", "note"), ("tight", "warn"), ("18 mm", "note")])
def test_a_straight_dark_edge_is_worse_the_less_paper_is_kept(said, tear, severity):
    """Kept paper is 5 mm of a margin of 14, 3 of the tight one."""
    (finding,) = said([f"A,b.png,,adult M,1,60 mm,,{tear}"], {"b.png": boxed()})["straight-edge"]
    assert str(finding.severity) == severity
    assert finding.mm == (0, 0, 60, 36)


@pytest.mark.parametrize(
    ("width", "told"), [("90 mm", False), ("4 in", False), ("126 mm", False), ("128 mm", True), ("20 mm", True)]
)
def test_a_size_far_outside_the_placement(said, width, told):
    """A left chest on an adult is 3 to 4 in wide (trade pages): over 127 mm is 1.25 times the most."""
    found = said([f"A,d.png,left-chest,adult M,1,{width},,"], {"d.png": disc()})
    assert ("size-unusual" in found) is told


def test_a_placements_own_size_is_never_unusual(said):
    found = said([f"A,d.png,{p},adult M,1,,," for p in ("left-chest", "full-back", "full-front")], {"d.png": disc()})
    assert "size-unusual" not in found


def test_the_same_artwork_at_two_sizes(said):
    pictures = {"d.png": disc(400), "e.png": disc(402)}
    row = "{},{}.png,left-chest,{},1,{} mm,,"
    same = [row.format("A", "d", "adult M", 90), row.format("A", "d", "adult M", 80)]
    (finding,) = said(same, pictures)["two-sizes"]
    assert (finding.severity, finding.row) == (Severity.WARN, 3)
    other_garment = [row.format("A", "d", "adult M", 90), row.format("A", "d", "adult L", 80)]
    assert [f.severity for f in said(other_garment, pictures)["two-sizes"]] == [Severity.NOTE]
    for lines in (
        [row.format("A", "d", "adult M", 90), row.format("A", "d", "youth M", 80)],
        [row.format("A", "d", "adult M", 90), row.format("B", "d", "adult M", 90)],
        [row.format("A", "d", "adult M", 90), row.format("A", "e", "adult M", 80)],
    ):
        assert "two-sizes" not in said(lines, pictures)


@pytest.mark.parametrize(("mm", "told"), [(200, None), (205, "note"), (235, "warn")])
def test_a_print_wider_than_the_platen(said, mm, told):
    """9 x 12 in is 228.6 x 304.8 mm, less half an inch on each side 203.2 x 279.4."""
    found = said([f"A,d.png,,adult M,1,{mm} mm,,"], {"d.png": disc()}, press="9x12")
    assert [str(f.severity) for f in found.get("platen", [])] == ([] if told is None else [told])


def test_the_place_on_the_print_is_that_on_the_artwork(said):
    """600 px of ink over 60 mm: a tenth of a millimetre for each pixel, from the ink's corner at (20, 20)."""
    image = Image.new("RGBA", (640, 640), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    pen.rectangle((20, 20, 619, 59), fill="teal")
    pen.rectangle((20, 580, 619, 619), fill="teal")
    pen.rectangle((320, 220, 321, 222), fill="black")
    (finding,) = said(["A,s.png,,adult M,1,60 mm,,"], {"s.png": image})["speck-inside"]
    assert finding.px == (320, 220, 322, 223)
    assert finding.mm == (30.0, 20.0, 30.2, 20.3)


def test_words_in_their_styles_letters_are_not_judged_by_the_placement(tmp_path):
    """A short name keeps the letters of its style, so that names look alike: its width is no slip of a unit."""
    path = tmp_path / "names.csv"

    def kinds(font: str, width: str) -> set[str]:
        path.write_text(f"order,words,font,placement,width\nA,Jo,{font},full-back,{width}\n", "utf-8")
        options = Options(settings={"papers": ["a3"], "printer": "borderless"}, cache=False)
        return {finding.kind for finding in check([path], options).findings}

    assert "size-unusual" not in kinds("plain", "")
    assert "size-unusual" in kinds('"plain, letters 1 mm"', "")
    assert "size-unusual" in kinds("plain", "60 mm")


@pytest.mark.parametrize(("width", "told"), [("1 mm", True), ("9.9 mm", True), ("10 mm", False)])
def test_a_print_too_small_for_anything_needs_no_placement_to_be_told(said, width, told):
    assert ("size-unusual" in said([f"A,d.png,,adult M,1,{width},,"], {"d.png": disc()})) is told


def test_the_resolution_of_a_print_in_panels_is_told_of_the_whole(tmp_path):
    """361 px of ink (20 to 380) at 120 an inch are 361 x 25.4 / 120 = 76.41 mm."""
    disc().save(tmp_path / "d.png")
    path = tmp_path / "batch.csv"
    path.write_text("art,width\nd.png,600 mm\n", "utf-8")
    options = Options(settings={"papers": ["a3"], "printer": "borderless"}, oversize="panels", cache=False)
    (finding,) = [one for one in check([path], options).findings if one.kind == "very-low-resolution"]
    assert "at 600 mm wide" in finding.what
    assert "at most 76.4 mm wide" in finding.remedy


def test_whoever_thinks_in_inches_is_told_in_inches(said):
    """The line of 4 px measures 0.476 mm, which is 0.0187 in; the limit of 0.5 mm is 0.0197 in (25.4 mm an inch)."""
    found = said([f"A,l.png,,adult M,1,{300 * 0.5 / 4.2:.4f} mm,,"], {"l.png": lined(4)}, units="in")
    (finding,) = found["thin-stroke"]
    assert finding.what == "strokes of 0.019 in at the final size; under 0.02 in is too thin to trust"
    assert not [text for listed in found.values() for f in listed if " mm" in (text := f"{f.what} {f.remedy}")]
