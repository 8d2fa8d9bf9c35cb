"""The page of colours as other programs see it: patches and their numbers, mirrored; and what a number comes to."""

from __future__ import annotations

import io
import json
import subprocess
from pathlib import Path

import numpy as np
import pymupdf
import pypdfium2
import pytest
from PIL import Image, ImageCms, ImageDraw, ImageOps

from art.iccbytes import model_profile
from impose.art.cielab import parse_hex
from impose.art.icc import SRGB_CURVE, make_rgb_profile

DPI = 100
MM = DPI / 25.4


@pytest.fixture(scope="module")
def art(tmp_path_factory) -> Path:
    image = Image.new("RGB", (300, 200), "white")
    pen = ImageDraw.Draw(image)
    pen.rectangle((10, 10, 290, 190), fill=(200, 30, 40))
    pen.ellipse((60, 40, 160, 140), fill=(20, 60, 160))
    path = tmp_path_factory.mktemp("art") / "flag.png"
    image.save(path)
    return path


def by_pdfium(page: Path, number: int = 1) -> np.ndarray:
    image = pypdfium2.PdfDocument(page)[number - 1].render(scale=DPI / 72, rev_byteorder=True).to_pil()
    return np.asarray(image.convert("RGB")).astype(np.int16)


def by_poppler(page: Path, number: int = 1) -> np.ndarray:
    made = subprocess.run(
        ["pdftoppm", "-r", str(DPI), "-f", str(number), "-l", str(number), str(page)], check=True, capture_output=True
    )
    return np.asarray(Image.open(io.BytesIO(made.stdout)).convert("RGB")).astype(np.int16)


def find_patch(pixels: np.ndarray, colour: tuple[int, ...]) -> tuple[float, float, float, float]:
    """The box of a colour on the page, millimetres: left, top, right, bottom."""
    there = (np.abs(pixels - np.array(colour, np.int16)) <= 1).all(axis=2)
    rows, columns = np.flatnonzero(there.sum(axis=1) > 20), np.flatnonzero(there.sum(axis=0) > 20)
    assert len(rows), colour
    return columns[0] / MM, rows[0] / MM, (columns[-1] + 1) / MM, (rows[-1] + 1) / MM


@pytest.mark.parametrize("render", [by_pdfium, pytest.param(by_poppler, marks=pytest.mark.long)])
def test_every_number_lies_below_its_colour_once_pressed(art, tmp_path, run, render):
    page = tmp_path / "c.pdf"
    code, out, _ = run("colours", art, "--colour", "#7BA4D9", "-o", page, "--json")
    assert code == 0
    (told,) = json.loads(out)["colours"]
    assert told["colour"] == "#7BA4D9"
    assert len(told["patches"]) == 45
    pixels = render(page)
    high, wide = pixels.shape[0] / MM, pixels.shape[1] / MM
    assert (wide, high) == pytest.approx((210, 297), abs=0.3)
    # The words of the page by their middle; mirrored ones come letter by letter, so by MuPDF's characters.
    spots: dict[str, list[tuple[float, float]]] = {}
    with pymupdf.open(page) as document:
        for x0, y0, x1, y1, word, *_ in document[0].get_text("words"):
            spots.setdefault(word, []).append(((x0 + x1) / 2 * 25.4 / 72, (y0 + y1) / 2 * 25.4 / 72))
    boxes = {int(number): find_patch(pixels, parse_hex(colour)) for number, colour in told["patches"].items()}
    for number, (left, top, right, bottom) in boxes.items():
        assert (right - left, bottom - top) == pytest.approx((11.4, 11.4), abs=0.5)
        # A number of two digits is read from either end by a program that knows no mirrors.
        names = {str(number), str(number)[::-1]}
        assert any(left < x < right and bottom < y < bottom + 4.5 for name in names for x, y in spots.get(name, [])), (
            number
        )
    # As pressed, rows of nine from left to right, which on the paper is from right to left; rows from top to bottom.
    for number in range(2, 46):
        if (number - 1) % 9:
            assert boxes[number][2] < boxes[number - 1][0], number
            assert boxes[number][1] == pytest.approx(boxes[number - 1][1], abs=0.3)
        else:
            assert boxes[number][1] > boxes[number - 1][3] + 3


def test_letters_are_mirrored_but_for_one_line(art, tmp_path, run):
    """By pixels: the mirrored page holds the number 1 as an upright rendering of the same font has it."""
    page = tmp_path / "c.pdf"
    assert run("colours", art, "-o", page)[0] == 0
    with pymupdf.open(page) as document:
        directions = {
            tuple(round(v) for v in line["dir"]): "".join(span["text"] for span in line["spans"])
            for block in document[0].get_text("dict")["blocks"]
            for line in block.get("lines", [])
        }
    assert "This line reads" in directions[1, 0]
    assert set(directions) == {(1, 0), (-1, 0)}


def test_the_colours_are_those_that_cover_most(art, tmp_path, run):
    code, out, _ = run("colours", art, "-o", tmp_path / "c.pdf", "--json")
    assert code == 0
    told = json.loads(out)["colours"]
    assert [(entry["colour"], entry["file"]) for entry in told] == [("#C81E28", "flag.png"), ("#143CA0", "flag.png")]
    disc = np.pi * 50.5**2 / (281 * 181)  # of the red rectangle, by the numbers it was drawn with
    assert told[1]["share"] == pytest.approx(disc, abs=0.01)


def test_patches_go_through_the_printers_profile_as_artwork_does(art, tmp_path, run):
    """The numbers in the file against Little CMS, for a model printer in CMYK."""
    (tmp_path / "cloth.icc").write_bytes(model_profile("CMYK"))
    page = tmp_path / "c.pdf"
    code, out, _ = run("colours", art, "-o", page, "--output-profile", tmp_path / "cloth.icc", "--json")
    assert code == 0
    patches = json.loads(out)["colours"][0]["patches"]
    srgb = io.BytesIO(make_rgb_profile("sRGB", SRGB_CURVE))
    flags = ImageCms.Flags.BLACKPOINTCOMPENSATION | ImageCms.Flags.HIGHRESPRECALC
    intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
    way = ImageCms.buildTransform(srgb, io.BytesIO(model_profile("CMYK")), "RGB", "CMYK", intent, flags)
    with pymupdf.open(page) as document:
        (xref, *_), *_ = document[0].get_images()
        inks = np.frombuffer(document.xref_stream(xref), np.uint8).reshape(-1, 4)
        seen = {tuple(int(v) for v in ink) for ink in np.unique(inks, axis=0)}
    for colour in patches.values():
        wanted = ImageCms.applyTransform(Image.new("RGB", (1, 1), parse_hex(colour)), way).getpixel((0, 0))
        assert wanted in seen, colour
    assert b"/OutputIntents" in page.read_bytes()


def test_a_tagged_file_gives_its_profile_to_its_patches(art, tmp_path, run):
    p3 = make_rgb_profile("P3", SRGB_CURVE, primaries=((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)))
    Image.open(art).save(tmp_path / "wide.png", icc_profile=p3)
    code, out, _ = run("colours", tmp_path / "wide.png", "-o", tmp_path / "c.pdf", "--json")
    assert code == 0
    colour = json.loads(out)["colours"][0]["colour"]
    assert colour != "#C81E28"  # told as sRGB, which is not the file's own number
    with pymupdf.open(tmp_path / "c.pdf") as document:
        (xref, *_), *_ = document[0].get_images()
        assert "ICCBased" in document.xref_object(int(xref))
        pixmap = pymupdf.Pixmap(document, xref)
        raw = np.frombuffer(document.xref_stream(xref), np.uint8)
    assert raw.size >= pixmap.width * pixmap.height * 3


def test_the_same_colours_give_the_same_bytes_and_pages_follow(art, tmp_path, run):
    named = [part for n in range(5) for part in ("--colour", f"#C81E{n}8")]
    for name in ("a.pdf", "b.pdf"):
        assert run("colours", *named, "-o", tmp_path / name, "-p", "letter")[0] == 0
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    assert len(pypdfium2.PdfDocument(tmp_path / "a.pdf")) == 3  # two on a page of 279.4 mm


def test_nothing_of_others_is_written_over(art, tmp_path, run):
    page = tmp_path / "c.pdf"
    page.write_bytes(b"%PDF-1.7 mine")
    assert run("colours", art, "-o", page)[0] == 2
    assert run("colours", art, "-o", page, "--replace")[0] == 2
    assert page.read_bytes() == b"%PDF-1.7 mine"
    own = tmp_path / "own.pdf"
    assert run("colours", art, "-o", own)[0] == 0
    assert run("colours", art, "-o", own)[0] == 2
    assert run("colours", art, "-o", own, "--replace")[0] == 0


def test_what_cannot_be_is_told(art, tmp_path, run):
    noise = np.random.default_rng(1).integers(0, 255, (90, 90, 3), np.uint8)
    Image.fromarray(noise).save(tmp_path / "photo.png")
    code, _, err = run("colours", tmp_path / "photo.png", "-o", tmp_path / "c.pdf")
    assert code == 2
    assert "no flat colours" in err
    assert "--colour" in err
    assert run("colours", "-o", tmp_path / "c.pdf")[0] == 2
    code, _, err = run("colours", art, "--colour", "reddish", "-o", tmp_path / "c.pdf")
    assert code == 2
    assert "reddish" in err
    (tmp_path / "bad.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    assert run("colours", tmp_path / "bad.png", "-o", tmp_path / "c.pdf")[0] == 3
    assert not (tmp_path / "c.pdf").exists()


def test_a_chosen_number_becomes_the_print(art, tmp_path, run):
    """From the page to the sheet: what patch 12 shows there is what the row prints."""
    code, out, _ = run("colours", art, "-o", tmp_path / "c.pdf", "--json")
    chosen = json.loads(out)["colours"][0]["patches"]["12"]
    (art.parent / "orders.csv").write_text("art,width,recolour\nflag.png,60mm,#c81e28 > 12\n")
    code, out, _ = run("sheets", art.parent / "orders.csv", "-o", tmp_path / "out", "-p", "a4", "--steps", 5, "--json")
    assert code == 0
    (transfer,) = json.loads(out)["sheets"][0]["transfers"]
    assert transfer["recolour"] == [{"from": "#C81E28", "to": chosen, "patch": 12}]
    for render in (by_pdfium, by_poppler):
        find_patch(render(tmp_path / "out" / "sheets-a4.pdf"), parse_hex(chosen))
    code, out, _ = run("reprint", tmp_path / "out", "--only", "T001", "-o", tmp_path / "again", "--steps", 5, "--json")
    assert code == 0
    (again,) = json.loads(out)["sheets"][0]["transfers"]
    assert again["recolour"] == transfer["recolour"]
    find_patch(by_pdfium(tmp_path / "again" / "sheets-a4.pdf"), parse_hex(chosen))


def test_words_take_a_number_too(tmp_path, run):
    (tmp_path / "orders.csv").write_text(
        'words,font,width,recolour\nANNA,"plain, colour #AA0000",80mm,#AA0000 > #12A05B\n'
        'BO,"plain, colour #AA0000",80mm,#C81E28 > #12A05B\n'
    )
    code, told, _ = run("check", tmp_path / "orders.csv")
    assert code == 3
    assert "#C81E28 is no colour of the words" in told
    (tmp_path / "orders.csv").write_text(
        'words,font,width,recolour\nANNA,"plain, colour #AA0000",80mm,#AA0000 > #12A05B\n'
        'ANNA,"plain, colour #AA0000",80mm,\n'
    )
    code, _, err = run("sheets", tmp_path / "orders.csv", "-o", tmp_path / "out", "-p", "a4", "--steps", 5)
    assert code == 0, err
    pixels = by_pdfium(tmp_path / "out" / "sheets-a4.pdf")
    for colour in ((0x12, 0xA0, 0x5B), (0xAA, 0, 0)):
        assert (np.abs(pixels - np.array(colour)).max(axis=2) <= 1).sum() > 500
    assert ImageOps.mirror(Image.fromarray(pixels.astype(np.uint8))).size == pixels.shape[1::-1]


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("red > blue", "no exchange"),
        ("#C81E28", "no exchange"),
        ("#C81E28 > 46", "no patch 46"),
        ("#C81E28 > 12A05B", "neither a colour nor"),
        ("#C81E28 > #C81E28", "become itself"),
        ("#C81E28 > 1; #C81E28 > 2", "two colours"),
    ],
)
def test_a_cell_that_cannot_be_read_is_refused_with_its_place(art, tmp_path, run, cell, said):
    (art.parent / "bad.csv").write_text(f'art,width,recolour\nflag.png,60mm,"{cell}"\n')
    code, told, _ = run("check", art.parent / "bad.csv")
    assert code == 3
    assert "row 2, column recolour" in told
    assert said in told
