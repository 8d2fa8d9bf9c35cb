"""Words set by us, against the fonts' own units and the geometry of the arc. Their print is measured in
tests/pages/test_drawings.py.
"""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from each_case import try_each
from impose.art.rasterise import rasterise_picture
from impose.art.vector_drawing import Drawing, list_end_points
from impose.pages.pdf.font_book import ShippedFonts
from impose.profiles.word_styles import StyleError, WordStyle, parse_style
from impose.sheet.word_art import UNITS, FittedWords, NoOutline, WordSize, draw_words, fit_words
from impose.type import block_letters as block
from impose.type.lettering import TextShaper
from impose.type.shaping import FontFace
from impose.type.truetype_writer import GlyphOutline, build_font

faces = pytest.importorskip("font_source_sans_pro")
BOLD = faces.SourceSansProBold


@pytest.fixture(scope="module")
def bold() -> TextShaper:
    return TextShaper(ShippedFonts([Path(BOLD)], own_first=True))


@pytest.fixture(scope="module")
def shipped() -> TextShaper:
    return TextShaper(ShippedFonts())


ROOMY = WordSize(None, 2000, fill=False)


def fitted(text: str, style: WordStyle, size: WordSize, lettering: TextShaper) -> FittedWords:
    return fit_words(draw_words([text], style, lettering), style, size, lettering)


def dark(drawing: Drawing, side: int) -> np.ndarray:
    return 255 - np.asarray(rasterise_picture(drawing, side).convert("L"))[:, ::-1]


def freetype_ink(font: str | io.BytesIO, size: int, text: str) -> Image.Image:
    """What FreeType draws, cut to it: how dark each pixel is."""
    face = ImageFont.truetype(font, size)
    canvas = Image.new("L", (size * (len(text) + 1), size * 2))
    ImageDraw.Draw(canvas).text((size // 4, size // 4), text, 255, face)
    return canvas.crop(canvas.getbbox())


def test_capitals_have_the_height_that_the_style_says(bold: TextShaper) -> None:
    assert fitted("H", WordStyle("s", letter_height_mm=50), ROOMY, bold).height_mm == pytest.approx(50, abs=1e-3)


def test_a_short_name_keeps_its_letters_and_a_long_one_shrinks(bold: TextShaper) -> None:
    style, room = WordStyle("s", letter_height_mm=40), WordSize(280, 80, False)
    small, long = (fitted("HAL" * count, style, room, bold) for count in (1, 6))
    assert small.letters_mm == pytest.approx(40)
    assert small.width_mm < 150
    assert long.width_mm == pytest.approx(280)
    assert long.letters_mm == pytest.approx(long.height_mm, abs=1e-3)
    assert long.letters_mm < 25


@pytest.mark.parametrize(("width", "height"), [(120.0, None), (None, 33.0), (120.0, 12.0)])
def test_an_explicit_size_is_filled(bold: TextShaper, width: float | None, height: float | None) -> None:
    got = fitted("Inge", WordStyle("s"), WordSize(width, height, True), bold)
    pairs = ((width, got.width_mm), (height, got.height_mm))
    assert min(limit - mm for limit, mm in pairs if limit is not None) == pytest.approx(0, abs=1e-6)


def test_an_outline_is_as_wide_as_it_says(bold: TextShaper) -> None:
    """The outline of a share of the capitals' height grows the ink by so much on every side."""
    style = WordStyle("s", colour="#000000", letter_height_mm=50)
    edged = WordStyle("s", colour="#000000", letter_height_mm=50, outline="#FF0000", outline_width=0.1)
    plain, wider = (fitted("H", one, ROOMY, bold) for one in (style, edged))
    assert wider.width_mm - plain.width_mm == pytest.approx(10, abs=0.001)
    assert wider.height_mm - plain.height_mm == pytest.approx(10, abs=0.001)
    image = rasterise_picture(draw_words(["H"], edged, bold), 600)
    assert image.getpixel((20, 300)) == (255, 0, 0)
    assert image.getpixel((image.width // 2, 300)) == (0, 0, 0)


def test_trim_is_to_the_ink_and_not_to_control_points(bold: TextShaper) -> None:
    """The letter O of 1,000 units in FreeType: its box is that of its curves."""
    drawing = draw_words(["O"], WordStyle("s"), bold)
    wide, high = freetype_ink(BOLD, 1000, "O").size
    assert drawing.ink[2] / 1000 == pytest.approx(wide, abs=1.01)
    assert drawing.ink[3] / 1000 == pytest.approx(high, abs=1.01)


@pytest.mark.parametrize("arc", [40, 120, 180, -60])
def test_letters_stand_on_the_arc(bold: TextShaper, arc: int) -> None:
    """A line of length L bent over an angle has the radius L / angle at its feet, and a letter more at its heads.

    With the ends up the heads lie on the inside, a letter less. The corners of upright I's are all heads or feet.
    """
    text = "I" * 21
    feet = bold.shape_line((text,)).width / abs(math.radians(arc)) * UNITS
    tall = bold.primary.shape_run("H", False, "Latn").top * UNITS
    heads = feet + tall if arc > 0 else feet - tall
    drawing = draw_words([text], WordStyle("s", arc=arc), bold)
    x = drawing.ink[2] / 2
    y = heads if arc > 0 else drawing.ink[3] - feet
    away = np.array([math.hypot(px - x, py - y) for px, py in list_end_points(drawing.layers)])
    off = np.minimum(abs(away - feet), abs(away - heads))
    assert (off < 5).mean() > 0.6  # the flanks are cut on the way, at neither
    assert away.min() > min(feet, heads) - 5
    assert away.max() < max(feet, heads) + 5


NAMES = ["Łukasz", "Дарина", "Ελένη", "مريم", "דנה", "राम", "ภัทร", "李小龍", "さくら", "민수"]


@pytest.mark.parametrize("name", NAMES)
def test_names_in_ten_scripts_lose_no_ink_when_bent(shipped: TextShaper, name: str) -> None:
    """A slight arc keeps the area of the letters, nearly; both are counted in pixels."""
    assert shipped.shape_line((name,)).missing == ()
    flat, bent = (draw_words([name], WordStyle("s", colour="#000000", arc=arc), shipped) for arc in (0, 20))
    areas = [one.coverage * one.ink[2] * one.ink[3] for one in (flat, bent)]
    assert flat.coverage > 0.05
    assert areas[1] == pytest.approx(areas[0], rel=0.15)


def test_coverage_is_what_freetype_darkens(bold: TextShaper) -> None:
    theirs = float(np.asarray(freetype_ink(BOLD, 1000, "B8")).mean()) / 255
    assert draw_words(["B8"], WordStyle("s", colour="#000000"), bold).coverage == pytest.approx(theirs, abs=0.004)


def test_holes_stay_open_and_overlaps_filled(bold: TextShaper) -> None:
    """The nonzero rule: the counter of an O is blank, and letters that overlap are not."""
    assert dark(draw_words(["O"], WordStyle("s", colour="#000000"), bold), 200)[100, 100] == 0
    square = ((0, 0), (0, 600), (600, 600), (600, 0))
    twice = (square, tuple((x + 300, y + 300) for x, y in square))
    font = build_font(1000, [GlyphOutline(500), GlyphOutline(900, twice)], {"H": 1})
    lettering = TextShaper(ShippedFonts([FontFace("twice", font)], own_first=True))
    image = dark(draw_words(["H"], WordStyle("s", colour="#000000"), lettering), 300)
    assert image[150, 150] == 255
    assert image[20, 20] == 0


def test_words_that_show_nothing_are_an_error(shipped: TextShaper) -> None:
    with pytest.raises(ValueError, match="no ink"):
        draw_words(["\u3000"], WordStyle("s"), shipped)
    with pytest.raises(ValueError, match="no ink"):
        draw_words(["A"], WordStyle("s", colour="#FFFFFF"), shipped)


def test_a_letter_that_is_a_picture_is_refused_by_name() -> None:
    """Fonts with coloured pictures keep an empty outline for them (OpenType 1.9.1, CBDT and sbix)."""
    letter = GlyphOutline(500, (((0, 0), (0, 700), (400, 700)),))
    font = build_font(1000, [GlyphOutline(500), letter, GlyphOutline(500)], {"A": 1, "\U0001f600": 2})
    lettering = TextShaper(ShippedFonts([FontFace("pictures", font)], own_first=True))
    with pytest.raises(NoOutline) as caught:
        draw_words(["A\U0001f600"], WordStyle("s"), lettering)
    assert caught.value.text == "\U0001f600"


CHARS = "0123456789ABCDEFGHIJKLMNPQRSTUVWXYZa"


def test_block_letters_are_read_by_freetype() -> None:
    """Each digit and capital is one piece of FreeType ink of full height; 0 has a hole, and no two are alike."""
    drawn = {char: freetype_ink(io.BytesIO(block.block_font()), 200, char) for char in CHARS}
    for ink in drawn.values():
        assert ink.height >= 139
        assert 25 <= ink.width <= 125
    assert drawn["a"].tobytes() == drawn.pop("A").tobytes()
    assert len({ink.tobytes() for ink in drawn.values()}) == len(drawn) == 35  # the letter O is the numeral 0
    zero = drawn["0"]
    assert zero.getpixel((zero.width // 2, zero.height // 2)) == 0
    assert zero.getpixel((2, 2)) == 0  # the corners are cut off


STYLES = {"plain": WordStyle("plain"), "outlined": WordStyle("outlined", outline="#000000")}


def test_a_cell_names_a_style_and_changes_parts_of_it() -> None:
    style = parse_style("Outlined, colour #a00, arc -30°, letters 2 in", STYLES)
    assert (style.colour, style.arc, style.letter_height_mm, style.outline) == ("#AA0000", -30, 50.8, "#000000")
    assert parse_style("outlined, outline none", STYLES).outline == ""
    alone = parse_style("letters 38 mm, arc 10", STYLES)  # of the style that a blank cell has
    assert (alone.name, alone.letter_height_mm, alone.letters_said, alone.arc) == ("plain", 38.0, True, 10)
    assert parse_style("fonts/Mine.TTF, color #010203", STYLES).colour == "#010203"


@try_each(
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
