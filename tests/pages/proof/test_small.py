"""Small pictures: right pixels from the deflated rows, in bounded pieces, shown by their profile."""

from __future__ import annotations

import io
import sys

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms

from art.iccbytes import model_profile
from impose.art.output_profile import OutputProfile
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.pages.pdf.canvas import PdfPages
from impose.pages.pdf.font_book import open_reading_faces
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.proof import gallery as small
from impose.units import Box


def prepared(image: Image.Image, **options) -> small.PreparedPicture:
    file = io.BytesIO()
    image.save(file, "PNG", **options)
    return prepare_picture(file.getvalue())


def noise(mode: str, width: int, height: int, seed: int = 1) -> Image.Image:
    bands = {"L": (), "RGB": (3,), "RGBA": (4,)}[mode]
    rng = np.random.default_rng(seed)
    return Image.fromarray(rng.integers(0, 200, (height, width, *bands), dtype=np.uint8), mode)


def pattern(mode: str) -> Image.Image:
    """Flat artwork of a few colours, with rows that each filter of PNG suits."""
    rows = np.add.outer(np.arange(31) // 3, np.arange(47) // 5) % 6 * 40
    return Image.fromarray(rows.astype(np.uint8), "L").convert(mode)


@given(st.sampled_from(["L", "RGB", "RGBA"]), st.integers(1, 90), st.integers(1, 90), st.integers(1, 400))
def test_the_rows_are_the_pixels(mode, width, height, band):
    """At full size: Pillow's own compositing over white and mirroring, to the last pixel, whatever the bands."""
    image = noise(mode, width, height, width * 100 + height)
    if mode == "RGBA":
        image.putalpha(Image.fromarray(np.full((height, width), 255, np.uint8)))
    picture = prepared(image)
    before, small._BAND_BYTES = small._BAND_BYTES, band
    try:
        made = small.reduce_picture(picture, 200)
    finally:
        small._BAND_BYTES = before
    flat = image.convert("L" if mode == "L" else "RGB").crop(picture.ink)
    want = flat.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    if made.mode != want.mode:  # artwork that is grey throughout is kept as grey
        want = want.convert(made.mode)
    assert np.array_equal(np.asarray(made), np.asarray(want))


@pytest.mark.parametrize("size", [(1000, 700), (601, 1999), (3000, 300), (7, 2500)])
def test_reduced_as_pillow_reduces(size):
    rng = np.random.default_rng(3)
    coarse = Image.fromarray(rng.integers(0, 220, (9, 9, 3), dtype=np.uint8))
    image = coarse.resize(size, Image.Resampling.BICUBIC)
    made = small.reduce_picture(prepared(image), 150)
    assert 100 <= max(made.size) <= 150
    want = image.transpose(Image.Transpose.FLIP_LEFT_RIGHT).resize(made.size, Image.Resampling.BOX)
    assert np.abs(np.asarray(made, np.int16) - np.asarray(want, np.int16)).mean() < 3


@pytest.mark.parametrize("size", [(1280, 900), (2700, 2400), (2117, 1859), (1203, 40), (1170, 660), (901, 30)])
def test_copies_keep_shape_and_sharpness(size):
    """Whatever is averaged or resampled: two to four thirds of the pixels that are aimed at, none out of shape by
    more than one of them, the same picture as Pillow's own average of the whole at that size."""
    rng = np.random.default_rng(4)
    coarse = Image.fromarray(rng.integers(0, 200, (2, 3, 3), dtype=np.uint8))
    image = coarse.resize(size, Image.Resampling.BICUBIC)
    copies = prepared(image).small
    for copy, side in ((copies.worn, 900), (copies.ticket, 300)):
        assert min(max(size), side * 2 / 3) - 1 <= max(copy.width, copy.height) <= side * 4 / 3
        assert abs(copy.width - copy.height * size[0] / size[1]) <= 1.0 + size[0] / size[1]
        shown = Image.open(io.BytesIO(copy.content)).convert("RGB")
        want = image.resize(shown.size, Image.Resampling.BOX)
        assert np.abs(np.asarray(shown, np.int16) - np.asarray(want, np.int16)).mean() < 4


def test_a_profile_is_shown_by(tmp_path):
    """Against LittleCMS through Pillow, asked the other way: picture bytes to sRGB by the very profile embedded."""
    space = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    image = noise("RGB", 60, 60)
    plain = small.reduce_picture(prepared(image), 60)
    tagged = small.reduce_picture(prepared(image, icc_profile=space.tobytes()), 60)
    assert np.abs(np.asarray(plain, np.int16) - np.asarray(tagged, np.int16)).max() <= 2


@pytest.mark.parametrize("space", ["RGB", "CMYK"])
def test_artwork_for_a_printer_is_a_soft_proof(space):
    """Colours that the printer can make come back as they were; a green that it cannot is shown duller."""
    image = Image.new("RGB", (90, 30), (150, 120, 110))
    image.paste((0, 255, 0), (60, 0, 90, 30))
    file = io.BytesIO()
    image.save(file, "PNG")
    picture = prepare_picture(
        file.getvalue(), PreparationOptions(output=OutputProfile(model_profile(space), black_point=False))
    )
    assert picture.components == (4 if space == "CMYK" else 3)
    shown = small.reduce_picture(picture, 90)
    assert shown.mode == "RGB"
    able, unable = shown.getpixel((75, 15)), shown.getpixel((15, 15))  # mirrored, as it lies
    assert np.abs(np.subtract(able, (150, 120, 110))).max() <= 6
    assert unable[1] < 250
    assert unable[0] + unable[2] > 20


def test_files_are_as_their_kind_says():
    flat = small.pack_image(Image.new("RGB", (50, 30), (200, 0, 0)))
    photo = small.pack_image(noise("RGB", 200, 200))
    assert (flat.media, photo.media) == ("image/png", "image/jpeg")
    for one in (flat, photo):
        with Image.open(io.BytesIO(one.content)) as image:
            assert (image.width, image.height) == (one.width, one.height)
            assert f"image/{image.format.lower()}" == one.media
            assert not image.info.keys() & {"exif", "date:create", "Software"}


@pytest.mark.parametrize("image", [pattern("L"), pattern("RGB"), noise("L", 40, 30), noise("RGB", 70, 50)])
def test_a_page_shows_the_file_as_it_is(tmp_path, monkeypatch, image):
    """By pdfium, a reader of its own: the pixels that Pillow reads from the file. To write it, Pillow is not loaded."""
    file = small.pack_image(image)
    monkeypatch.setitem(sys.modules, "PIL.Image", None)
    with PdfFile() as document:
        pages = PdfPages(document, *open_reading_faces())
        canvas = pages.new_page(50, 50)
        canvas.draw_picture(pages.add_picture("a", file), Box(0, 0, 50, 50))
        pages.add_page(canvas)
        pages.save_document(tmp_path / "page.pdf", "a page")
    monkeypatch.undo()
    with pypdfium2.PdfDocument(tmp_path / "page.pdf") as written:
        (seen,) = written[0].get_objects()
        shown = np.asarray(seen.get_bitmap().to_pil().convert(image.mode), int)
    with Image.open(io.BytesIO(file.content)) as packed:
        # JPEG (ITU T.81) leaves the last level to each decoder; PNG leaves nothing.
        assert np.abs(shown - np.asarray(packed, int)).max() <= (3 if file.media == "image/jpeg" else 0)


def test_more_pictures_are_smaller_pictures():
    sides = [small.choose_side(count, 640, 96, 10_000_000) for count in (1, 20, 200, 2000, 100_000)]
    assert sides == sorted(sides, reverse=True)
    assert (sides[0], sides[-1]) == (640, 96)
    assert 200 * sides[2] ** 2 <= 10_000_000


def test_a_picture_is_made_once():
    one, other = prepared(noise("RGB", 80, 60, 1)), prepared(noise("RGB", 80, 60, 2))
    gallery = small.PictureGallery([one, other, one])
    assert len(gallery) == 2
    assert gallery.picture_name(one) != gallery.picture_name(other)
    assert gallery.draw_for_proof(one) is gallery.draw_for_proof(one)
    assert gallery.draw_for_proof(one).content != gallery.draw_for_proof(other).content
