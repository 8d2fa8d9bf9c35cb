"""Rows of words: how large they come out, what is said of it, and that they are printed again as they were.

Sizes are measured on the delivered page by pdfium; the printer's colours are held to Little CMS at one pixel.
"""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image, ImageCms

from art.iccbytes import model_profile
from impose.pages.pdf.font_book import ShippedFonts
from impose.run.typeset_words import Typesetter
from impose.type.lettering import TextShaper
from impose.type.shaping import FontFace
from impose.type.truetype_writer import GlyphOutline, build_font

pytestmark = pytest.mark.usefixtures("sheets_alone")

SLEEVE = "left-long-sleeve,long-sleeve youth M"


@pytest.fixture
def made(run, tmp_path):
    """Makes sheets of rows of words; returns the record's transfers and what was said."""

    def make(*rows: str, heading: str = "words,font,placement,garment,width,letters", **more: Any):
        (tmp_path / "b.csv").write_text("\n".join([heading, *rows]) + "\n", "utf-8")
        options = [part for name, value in more.items() for part in (f"--{name.replace('_', '-')}", value)]
        code, _, err = run("sheets", tmp_path / "b.csv", "-p", "a3", *options, "-o", tmp_path / "out", "--replace")
        if code:
            return code, err
        record = json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))
        return [one for sheet in record["sheets"] for one in sheet["transfers"]], err

    return make


def read_size(one: dict[str, Any]) -> tuple[float, float]:
    """Width and height of a transfer as it reads."""
    ink = one["ink_mm"]
    return (ink["h"], ink["w"]) if one["turned"] else (ink["w"], ink["h"])


def drawn_mm(pdf: Path) -> float:
    """The longer side of what lies in the middle of the page, by pdfium, at 200 pixels an inch."""
    with pikepdf.open(pdf) as document:
        content = document.pages[0].Contents.read_bytes()
        document.pages[0].Contents.write(re.search(rb"(?s)/OC /L0 BDC.*?EMC", content)[0])
        held = io.BytesIO()
        document.save(held)
    ink = np.asarray(pypdfium2.PdfDocument(held)[0].render(scale=200 / 72).to_pil().convert("L")) < 128
    return max(np.ptp(axis) + 1 for axis in np.nonzero(ink)) / 200 * 25.4


@pytest.mark.parametrize("letters", [("bold", "38 mm"), ('"bold, letters 38 mm"', "")])
def test_a_width_beside_a_height_of_letters_limits_and_does_not_fill(made, tmp_path, letters):
    """A name of three letters came out 240 mm wide, its letters 97 mm high."""
    font, cell = letters
    (mia,), said = made(f"MIA,{font},{SLEEVE},240 mm,{cell}")
    wide, high = read_size(mia)
    assert high == pytest.approx(38, abs=0.01)  # no letter of it is round
    assert wide < 110
    assert "letters" not in said
    assert (mia["asked_mm"], mia["letters_mm"]) == ([240.0, None], 38.0)
    assert drawn_mm(tmp_path / "out" / "sheets-a3.pdf") == pytest.approx(wide, abs=0.2)


def test_a_long_name_is_limited_and_its_lower_letters_are_said(made):
    (long,), said = made(f"MAXIMILIANE,bold,{SLEEVE},240 mm,38 mm")
    wide, high = read_size(long)
    assert wide == pytest.approx(240, abs=1e-3)
    assert high < 30
    assert re.search(rf"letters come out {high:.1f}\d* mm high, not 38 mm", said)


def test_a_width_alone_is_filled(made):
    (mia,), _ = made(f"MIA,bold,{SLEEVE},240 mm,")
    assert read_size(mia)[0] == pytest.approx(240, abs=1e-3)


def test_letters_alone_are_size_enough(made):
    (mia,), _ = made("HIM,block,30 mm", heading="words,font,letters")
    assert read_size(mia)[1] == pytest.approx(30, abs=0.01)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (f'MIA,"bold, letters 38 mm",{SLEEVE},,40 mm', "letters: the height of the letters is given here and in font"),
        (f",,{SLEEVE},,40 mm", "a height of letters, but no words"),
        (f"MIA,bold,{SLEEVE},,high", "column letters"),
    ],
)
def test_letters_twice_or_without_words_are_refused(made, row, words):
    code, said = made(row)
    assert code == 3
    assert words in said


def test_words_over_the_edge_of_the_drawn_garment_are_said(made):
    """A youth M of the shipped garments has sleeves of 470 mm; a body is narrower than 600 mm."""
    _, said = made(f"MIA,bold,{SLEEVE},600 mm,", oversize="panels")
    assert "words are 600 mm" in said
    assert "470 mm there" in said
    _, said = made(f"MIA,bold,{SLEEVE},240 mm,38 mm")
    assert "edge" not in said


def test_the_printers_profile_turns_the_colours_of_words(made, tmp_path):
    """The fill is what Little CMS makes of a pixel of the colour, in the profile's space; no picture is in the file."""
    profile = model_profile("CMYK")
    (tmp_path / "cloth.icc").write_bytes(profile)
    made('O,"block, colour #C1121F",,,60 mm,', output_profile=tmp_path / "cloth.icc", intent="perceptual")
    pixel = Image.new("RGB", (1, 1), "#C1121F")
    srgb, cloth = ImageCms.createProfile("sRGB"), io.BytesIO(profile)
    turned = ImageCms.profileToProfile(pixel, srgb, cloth, ImageCms.Intent.PERCEPTUAL, "CMYK").getpixel((0, 0))
    with pikepdf.open(tmp_path / "out" / "sheets-a3.pdf") as document:
        form = document.pages[0].Resources.XObject.P1
        assert bytes(form.Resources.ColorSpace.C[1].read_bytes()) == profile
        found = re.match(rb"/C cs ([\d. ]+) sc", form.read_bytes())
    levels = [float(value) * 255 for value in found[1].split()]
    assert levels == pytest.approx(turned, abs=2)


def test_without_a_profile_words_are_untagged(made, tmp_path):
    made('O,"block, colour #C1121F",,,60 mm,')
    with pikepdf.open(tmp_path / "out" / "sheets-a3.pdf") as document:
        content = document.pages[0].Resources.XObject.P1.read_bytes()
    values = [float(value) for value in re.match(rb"([\d. ]+) rg", content)[1].split()]
    assert values == pytest.approx([0xC1 / 255, 0x12 / 255, 0x1F / 255], abs=1e-5)


def again(run, tmp_path: Path, *more: object) -> tuple[int, str]:
    code, _, err = run("reprint", tmp_path / "out", "--sheet", "1", *more, "-o", tmp_path / "again", "--replace")
    return code, err


def form(pdf: Path) -> bytes:
    with pikepdf.open(pdf) as document:
        return document.pages[0].Resources.XObject.P1.read_bytes()


def test_words_with_letters_and_no_placement_are_printed_again(made, run, tmp_path):
    (first,), _ = made("MIA,bold,240 mm,38 mm", heading="words,font,width,letters")
    code, err = again(run, tmp_path)
    assert code == 0, err
    record = json.loads((tmp_path / "again" / "batch.json").read_text("utf-8"))
    second = record["sheets"][0]["transfers"][0]
    for name in ("ink_mm", "asked_mm", "letters_mm", "art_sha256", "words", "font"):
        assert second[name] == first[name]
    assert form(tmp_path / "again" / "sheets-a3.pdf") == form(tmp_path / "out" / "sheets-a3.pdf")


def test_words_that_were_printed_as_a_picture_are_not_called_the_same(made, run, tmp_path):
    """Records of earlier versions have pixels for words."""
    made("MIA,bold,,,60 mm,")
    path = tmp_path / "out" / "batch.json"
    record = json.loads(path.read_text("utf-8"))
    record["sheets"][0]["transfers"][0] |= {"ink_px": [0, 0, 1000, 300], "art_sha256": "00" * 32}
    path.write_text(json.dumps(record), "utf-8")
    code, err = again(run, tmp_path)
    assert code == 3
    assert "printed as a picture by an earlier version" in err
    assert again(run, tmp_path, "--take-new-art")[0] == 0


def test_panels_of_words_are_printed_again(made, run, tmp_path):
    first, _ = made("LANTERN,block,,,500 mm,", oversize="panels")
    assert len(first) == 2
    before = (tmp_path / "out" / "sheets-a3.pdf").read_bytes()
    names = [part for one in first for part in ("--only", one["id"])]
    code, _, err = run("reprint", tmp_path / "out", *names, "-o", tmp_path / "again")
    assert code == 0, err
    with pikepdf.open(io.BytesIO(before)) as old, pikepdf.open(tmp_path / "again" / "sheets-a3.pdf") as new:
        contents = [
            sorted(
                (thing.read_bytes(), str(thing.BBox)) for page in one.pages for thing in page.Resources.XObject.values()
            )
            for one in (old, new)
        ]
    assert contents[0] == contents[1]


def in_face(monkeypatch, tables: frozenset[str] = frozenset()) -> None:
    """Every style is set in a face that has an A as an outline and a grinning face as nothing, and these tables."""
    glyphs = [GlyphOutline(500), GlyphOutline(500, (((0, 0), (0, 700), (400, 700)),)), GlyphOutline(500)]
    face = FontFace("pictures", build_font(1000, glyphs, {"A": 1, "\U0001f600": 2}))
    face.tables |= tables
    lettering = TextShaper(ShippedFonts([face], own_first=True))
    lettering._faces[face.name] = face
    monkeypatch.setattr(Typesetter, "_find_lettering", lambda self, style: lettering)


def test_an_emoji_that_is_a_picture_is_refused_with_a_way_out(made, monkeypatch):
    in_face(monkeypatch)
    code, said = made("A\U0001f600,bold,,,60 mm,")
    assert code == 3
    assert "draws \U0001f600 as a coloured picture" in said
    assert "set it as an artwork" in said


@pytest.mark.parametrize("table", ["COLR", "SVG ", "CBDT", "sbix"])
def test_a_typeface_with_colours_of_its_own_is_said(made, monkeypatch, table):
    """OpenType 1.9.1 has four tables of coloured glyphs."""
    in_face(monkeypatch, frozenset({table}))
    _, said = made("A,bold,,,60 mm,")
    assert "letters in colours of its own" in said


def test_only_letters_that_the_typeface_lacks_are_named(made):
    """Block letters are A to Z and the numerals alone; BRÍD is set in one face, since two look like a mistake."""
    _, said = made("BRÍD,block,,,60 mm,")
    assert "has no Í, so that another one sets the whole word" in said
    _, said = made("Ελ,block,,,60 mm,")
    assert "has no Ε λ, so that another one sets them" in said


def test_words_that_cannot_be_set_as_they_stand_are_told_by_row_with_a_way_out(run, tmp_path):
    """A letter of no script (U+E000, private use), a control character, blanks alone, typefaces that are not there."""
    rows = [
        "A\ue000B,bold,",
        "A\x01B,bold,",
        "\u200b,bold,",
        "ADA,Nosuch Sans,",
        "ADA,lost.ttf,",
        "ADA,bold,#123456 > #654321",
    ]
    (tmp_path / "broken.ttf").write_bytes(b"no font at all")
    rows.append("ADA,broken.ttf,")
    text = "\n".join(["words,font,recolour,width", *(f"{row},60 mm" for row in rows)])
    (tmp_path / "b.csv").write_text(text + "\n", "utf-8")
    code, out, _ = run("check", tmp_path / "b.csv", "-p", "a3", "--json")
    assert code == 3
    found = {finding["row"]: finding for finding in json.loads(out)["findings"] if finding["severity"] == "stop"}
    told = {
        2: ("words", "words", "no font at hand can write U+E000"), 3: ("words", "damaged-cell", "control character"),
        4: ("words", "words", "the words show nothing"), 5: ("font", "bad-font", "not a style of lettering"),
        6: ("font", "bad-font", "there is no such file"), 8: ("font", "bad-font", "not a TrueType or OpenType font"),
        7: ("recolour", "recolour-absent", "#123456 is no colour of the words"),
    }  # fmt: skip
    assert {row: (finding["column"], finding["kind"]) for row, finding in found.items()} == {
        row: (column, kind) for row, (column, kind, _) in told.items()
    }
    assert all(told[row][2] in finding["what"] and finding["remedy"] for row, finding in found.items())


def test_colours_of_words_are_exchanged_and_shown_before_and_after(run, tmp_path):
    """The shipped style `bold` is #1A1A1A; its letters come out in the colour asked for, by pdfium."""
    (tmp_path / "b.csv").write_text("words,font,recolour,width\nADA,bold,#1A1A1A > #C81E28,60 mm\n", "utf-8")
    code, _, err = run("sheets", tmp_path / "b.csv", "-v", "-p", "a4", "-o", tmp_path / "out", "--steps", 20)
    assert code == 0, err
    assert "#1A1A1A became #C81E28 in the words" in err
    shown = np.asarray(pypdfium2.PdfDocument(tmp_path / "out" / "sheets-a4.pdf")[0].render(scale=2).to_pil())
    red = (np.abs(shown.astype(int) - (0xC8, 0x1E, 0x28)).max(axis=2) < 12).sum()
    assert red > 500
