"""What a finding is of, before and after: at the edge of what lies over all, what is faint made seen."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from impose.art.prepare import PreparationOptions, prepare_picture
from impose.errors import Severity
from impose.page.drawings import crop_png
from impose.page.finding_values import leave_rows_out
from impose.run.finding_mends import list_mends
from impose.values import replace

HAZE, INK = 12, 255


@pytest.fixture
def hazy() -> bytes:
    """A dark square of 60 px in a faint film of 100 px: alpha 12 of 255 over white is 5 % of the colour."""
    pixels = np.zeros((120, 120, 4), np.uint8)
    pixels[10:110, 10:110] = (20, 20, 20, HAZE)
    pixels[30:90, 30:90, 3] = INK
    file = io.BytesIO()
    Image.fromarray(pixels, "RGBA").save(file, "PNG", dpi=(300, 300))
    return file.getvalue()


def crop(content: bytes, box: tuple[int, int, int, int], strong: bool, **wish: bool) -> Image.Image:
    picture = prepare_picture(content, PreparationOptions(**wish))
    return Image.open(io.BytesIO(crop_png(picture, box, strong))).convert("RGB")


def test_what_is_hardly_there_is_seen_and_gone_afterwards(hazy):
    before = crop(hazy, (0, 0, 40, 40), strong=True)
    # 255 - (255 - 20) * 12 / 255 = 244 on paper; twelve times as far from white is 123.
    assert crop(hazy, (0, 0, 40, 40), strong=False).getpixel((2, 2))[0] == pytest.approx(244, abs=2)
    assert before.getpixel((2, 2))[0] == pytest.approx(123, abs=25)
    # Mended, the ink begins 20 px further in: the same place of the canvas is white there, and of the same size.
    after = crop(hazy, (-20, -20, 20, 20), strong=True, clean_haze=True)
    assert after.size == before.size == (40, 40)
    assert after.getpixel((2, 2)) == (255, 255, 255)
    assert max(after.getpixel((38, 38))) < 60


def test_a_crop_that_reaches_over_the_picture_is_white_there_to_the_pixel():
    pixels = np.zeros((60, 80, 3), np.uint8)
    pixels[:, :40] = (200, 0, 0)
    pixels[:, 40:] = (0, 0, 200)
    file = io.BytesIO()
    Image.fromarray(pixels, "RGB").save(file, "PNG")
    want = np.full((100, 120, 3), 255, np.uint8)
    want[20:80, 20:100] = pixels
    for box in (
        (-20, -20, 100, 80),
        (-20, 5, 30, 30),
        (60, 40, 95, 75),
        (-20, -20, -5, -5),
        (0, 0, 80, 60),
        (79, 59, 81, 61),
    ):
        seen = np.asarray(crop(file.getvalue(), box, strong=False))
        left, top, right, bottom = (edge + 20 for edge in box)
        assert np.array_equal(seen, want[top:bottom, left:right]), box


def test_a_light_ground_has_the_mend_that_its_remedy_names():
    pixels = np.full((200, 200, 3), (222, 218, 205), np.uint8)
    pixels[60:140, 60:140] = (30, 40, 120)
    file = io.BytesIO()
    Image.fromarray(pixels, "RGB").save(file, "PNG", dpi=(300, 300))
    picture = prepare_picture(file.getvalue(), PreparationOptions())
    (found,) = [finding for finding in picture.findings if finding.kind == "ground"]
    assert found.severity is Severity.WARN
    (mend,) = [mend for mend in list_mends(replace(found, row=2), None, None) if mend.name == "ground"]  # type: ignore[arg-type]
    assert (mend.cells, mend.shown) == ({"mend": "ground"}, True)
    made = prepare_picture(file.getvalue(), PreparationOptions(ground=True))
    noted = [replace(finding, row=2) for finding in made.findings if finding.kind == "ground"]
    assert noted
    assert [m for finding in noted for m in list_mends(finding, None, None) if m.name == "ground"] == []  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("told", "shown"),
    [
        (
            "left chest (row 4) would be pressed over centre chest (row 2) by 24 mm × 89 mm: rows 2, 4 are without a "
            "wearer",
            "left chest would be pressed over centre chest by 24 mm × 89 mm: these prints are without a wearer",
        ),
        ("row 12 is for Ada", "this print is for Ada"),
        ("rows 2–5 and 9 name no wearer", "these prints name no wearer"),
        ("10 rows of stitches (3 of 4)", "10 rows of stitches (3 of 4)"),
    ],
)
def test_lines_of_a_file_are_not_told_where_the_prints_are_shown(told: str, shown: str):
    assert leave_rows_out(told) == shown
