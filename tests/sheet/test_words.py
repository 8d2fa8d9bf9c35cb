"""Words set by us, against FreeType's rendering (through Pillow) and the geometry of the arc."""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageChops, ImageDraw, ImageFont

from impose.pages.pdf.fonts import ShippedFonts
from impose.sheet.lettering import Lettering
from impose.sheet.words import Size, set_words
from impose.shop.styles import Style, StyleError, parse_style

faces = pytest.importorskip("font_source_sans_pro")
BOLD = faces.SourceSansProBold


@pytest.fixture(scope="module")
def bold() -> Lettering:
    return Lettering(ShippedFonts([Path(BOLD)], own_first=True))


@pytest.fixture(scope="module")
def shipped() -> Lettering:
    return Lettering(ShippedFonts())


ROOMY = Size(None, 2000, fill=False)


def _picture(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png)).convert("RGB")


def _ink(image: Image.Image) -> Image.Image:
    """How dark each pixel is, cut to what is dark."""
    dark = ImageChops.invert(image.convert("L"))
    return dark.crop(dark.getbbox())


def test_letters_are_those_of_freetype(bold: Lettering) -> None:
    """Another rasteriser and another shaper (Pillow's basic layout) draw the same line."""
    text = "HUM MINIMUM HUH"  # no pair of these letters is kerned
    png, width, height = set_words([text], Style("s", colour="#000000"), Size(200, None, True), bold)
    ours = _ink(_picture(png))
    font = ImageFont.truetype(BOLD, 600, layout_engine=ImageFont.Layout.BASIC)
    canvas = Image.new("L", (8000, 1200))
    ImageDraw.Draw(canvas).text((200, 200), text, 255, font=font, features=None)
    theirs = canvas.crop(canvas.getbbox())
    assert width / height == pytest.approx(theirs.width / theirs.height, rel=0.005)
    theirs = theirs.resize(ours.size, Image.Resampling.LANCZOS)
    mine, other = np.asarray(ours) > 127, np.asarray(theirs) > 127
    assert (mine & other).sum() / (mine | other).sum() > 0.98


def test_capitals_have_the_height_that_the_style_says(bold: Lettering) -> None:
    png, width, height = set_words(["H"], Style("s", letter_height_mm=50), Size(300, 300, False), bold)
    assert height == pytest.approx(50, abs=0.1)
    image = _picture(png)
    assert image.height / height * 25.4 == pytest.approx(450, rel=0.01)
    assert width / height == pytest.approx(image.width / image.height)


def test_a_short_name_keeps_its_letters_and_a_long_one_shrinks(bold: Lettering) -> None:
    style, room = Style("s", letter_height_mm=40), Size(280, 80, False)
    small = set_words(["HAL"], style, room, bold)
    long = set_words(["HALHALHALHALHALHAL"], style, room, bold)
    assert small[2] == pytest.approx(40, abs=1)
    assert small[1] < 150
    assert long[1] == pytest.approx(280, abs=0.1)
    assert long[2] < 25


@pytest.mark.parametrize(("width", "height"), [(120.0, None), (None, 33.0), (120.0, 12.0)])
def test_an_explicit_size_is_filled(bold: Lettering, width: float | None, height: float | None) -> None:
    _, w, h = set_words(["Inge"], Style("s"), Size(width, height, True), bold)
    assert min(limit - got for limit, got in ((width, w), (height, h)) if limit is not None) == pytest.approx(
        0, abs=1e-6
    )


def test_an_outline_is_as_wide_as_it_says(bold: Lettering) -> None:
    """The outline of a share of the capitals' height grows the ink by so much on every side."""
    plain = set_words(["H"], Style("s", letter_height_mm=50), Size(None, 300, False), bold)
    edged = set_words(
        ["H"], Style("s", letter_height_mm=50, outline="#FF0000", outline_width=0.1), Size(None, 300, False), bold
    )
    assert edged[1] - plain[1] == pytest.approx(10, abs=0.2)
    assert edged[2] - plain[2] == pytest.approx(10, abs=0.2)
    colours = {colour for _, colour in _picture(edged[0]).getcolors(1 << 24)}
    assert {(255, 0, 0), (0x1A, 0x1A, 0x1A)} <= colours
    assert _picture(edged[0]).getpixel((2, 400)) == (255, 0, 0)


@pytest.mark.parametrize("arc", [40, 120, 180, -60])
def test_the_heads_of_the_letters_lie_on_the_arc(bold: Lettering, arc: int) -> None:
    """A line of length L bent over an angle has the radius L / angle at its feet, and a letter more at its heads.

    With the ends up the heads lie on the inside, a letter less. A circle is fitted to the heads of a row of I's.
    """
    text, tall = "I" * 21, 20.0
    line = bold.line((text,))
    em_mm = tall / bold.primary.shape("H", False, "Latn").top
    feet = line.width * em_mm / abs(math.radians(arc))
    png, width, _ = set_words([text], Style("s", colour="#000000", arc=arc, letter_height_mm=tall), ROOMY, bold)
    image = _picture(png)
    dark = np.asarray(ImageChops.invert(image.convert("L"))) > 127
    mm = width / image.width
    tops = [(x, int(np.argmax(column))) for x, column in enumerate(dark.T) if column.any()]
    # The flanks of leaning letters are no heads: of neighbouring columns keep those that the letters' tops make.
    middle = [point for point in tops if abs(point[0] - image.width / 2) < image.width * 0.4]
    xs, ys = (np.array(values, float) for values in zip(*middle, strict=True))
    hull = ys <= np.array([np.quantile(ys[max(0, i - 60) : i + 60], 0.35) + 3 for i in range(len(ys))])
    fit = np.c_[2 * xs, 2 * ys, np.ones(len(xs))][hull]
    cx, cy, c = np.linalg.lstsq(fit, (xs**2 + ys**2)[hull], rcond=None)[0]
    radius = math.sqrt(c + cx**2 + cy**2) * mm
    assert radius == pytest.approx(feet + tall if arc > 0 else feet - tall, rel=0.03)


NAMES = ["Łukasz", "Дарина", "Ελένη", "مريم", "דנה", "राम", "ภัทร", "李小龍", "さくら", "민수"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("arc", [0, 70])
def test_names_in_ten_scripts_are_set_whole(shipped: Lettering, name: str, arc: int) -> None:
    """Nothing is missing, and bending loses no ink: areas before and after agree (an arc keeps lengths at the feet)."""
    assert shipped.line((name,)).missing == ()
    flat = np.asarray(
        _ink(_picture(set_words([name], Style("s", colour="#000000"), Size(60, None, False), shipped)[0]))
    )
    png, width, _ = set_words([name], Style("s", colour="#000000", arc=arc), Size(None, 300, False), shipped)
    assert (flat > 127).mean() > 0.05
    assert (np.asarray(_ink(_picture(png))) > 127).mean() > 0.03
    assert width > 0


def test_words_that_show_nothing_are_an_error(shipped: Lettering) -> None:
    with pytest.raises(ValueError, match="no ink"):
        set_words(["\u3000"], Style("s"), Size(50, None, True), shipped)


STYLES = {"plain": Style("plain"), "outlined": Style("outlined", outline="#000000")}


def test_a_cell_names_a_style_and_changes_parts_of_it() -> None:
    style = parse_style("Outlined, colour #a00, arc -30°, letters 2 in", STYLES)
    assert (style.colour, style.arc, style.letter_height_mm, style.outline) == ("#AA0000", -30, 50.8, "#000000")
    assert parse_style("outlined, outline none", STYLES).outline == ""
    assert parse_style("fonts/Mine.TTF, color #010203", STYLES).colour == "#010203"


@pytest.mark.parametrize(
    "text",
    [
        "outlinde",
        "plain, colour red",
        "plain, arc",
        "plain, arc 500",
        "plain, arc 1.5",
        "plain, letters 5",
        "plain, bold",
        ",",
    ],
)
def test_a_cell_that_names_nothing_known_says_what_would_do(text: str) -> None:
    with pytest.raises(StyleError) as caught:
        parse_style(text, STYLES)
    assert caught.value.what
    assert caught.value.remedy
