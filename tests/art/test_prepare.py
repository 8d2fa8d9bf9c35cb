"""Artwork in: valid pictures right to one level, damaged ones refused whole, ink bounds by their definition."""

from __future__ import annotations

import io
import zlib
from pathlib import Path

import numpy as np
import pymupdf
import pytest
from PIL import Image

from conftest import draw
from impose.art.prepare import Picture, Recipe, prepare
from impose.errors import Trouble

CORPUS = Path(__file__).parent / "corpus"
# Odd, valid by the standard, printed by us; MuPDF refuses them, so there is nothing to compare with.
MUPDF_REFUSES = {"idat-of-no-bytes", "idat-with-bytes-after-stream", "odd-trns-beside-alpha"}
VALID = sorted((CORPUS / "valid").glob("*.png"))
DAMAGED = sorted((CORPUS / "damaged").glob("*"))


def png(image: Image.Image, **more) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG", **more)
    return out.getvalue()


def printed(picture: Picture) -> np.ndarray:
    """The prepared rows undone by hand (zlib; PNG 9.2, filter type 2) and mirrored back, as RGB."""
    left, top, right, bottom = picture.ink
    width, height, parts = right - left, bottom - top, picture.components
    rows = np.frombuffer(zlib.decompress(picture.data), np.uint8).reshape(height, 1 + width * parts)
    assert set(rows[:, 0]) <= {2}
    pixels = np.cumsum(rows[:, 1:], axis=0, dtype=np.uint64).astype(np.uint8).reshape(height, width, parts)
    return np.repeat(pixels, 3 // parts, axis=2)[:, ::-1]


def by_mupdf(content: bytes) -> np.ndarray:
    """The picture over white, decoded by MuPDF: another decoder than the one under test."""
    pixmap = pymupdf.Pixmap(content)
    if pixmap.colorspace is None or pixmap.colorspace.n != 3:
        pixmap = pymupdf.Pixmap(pymupdf.csRGB, pixmap)
    samples = np.frombuffer(pixmap.samples, np.uint8).reshape(pixmap.height, pixmap.width, pixmap.n).astype(int)
    if pixmap.alpha:  # its samples are premultiplied
        return samples[..., :3] + 255 - samples[..., 3:]
    return samples


def test_the_corpus_is_there():
    assert len(VALID) > 50
    assert len(DAMAGED) > 50


@pytest.mark.parametrize("path", VALID, ids=lambda path: path.stem)
def test_a_valid_picture_prints_as_another_decoder_sees_it(path):
    content = path.read_bytes()
    recipe = Recipe(orientation="ignore", keep_specks=True)
    if path.stem in MUPDF_REFUSES:
        assert prepare(content, recipe).data
        return
    other = by_mupdf(content)
    if other.min() > 250:
        with pytest.raises(Trouble, match="nothing to print"):
            prepare(content, recipe)
        return
    picture = prepare(content, recipe)
    left, top, right, bottom = picture.ink
    other = other[top:bottom, left:right]
    # Two decoders and two ways of rounding soft edges: MuPDF's own alpha product costs it up to two levels.
    assert np.abs(printed(picture).astype(int) - other).max() <= 3


@pytest.mark.parametrize("path", DAMAGED, ids=lambda path: path.name)
def test_a_damaged_picture_is_refused_with_a_reason(path):
    with pytest.raises(Trouble) as caught:
        prepare(path.read_bytes(), Recipe(), path.name)
    for finding in caught.value.findings:
        assert finding.what
        assert finding.remedy
        assert finding.file == path.name


@pytest.mark.parametrize("cut", range(1, 40))
def test_a_cut_off_picture_is_refused_wherever_it_ends(cut):
    content = png(draw("noise", 30, 20))
    with pytest.raises(Trouble):
        prepare(content[: len(content) * cut // 40])


def test_bounds_are_those_of_the_ink_not_of_the_canvas():
    image = Image.new("RGBA", (300, 200), (255, 255, 255, 255))
    image.paste((0, 0, 255, 255), (40, 30, 140, 90))
    assert prepare(png(image)).ink == (40, 30, 140, 90)


@pytest.mark.parametrize(("alpha", "is_ink"), [(4, False), (5, True), (9, True)])
def test_ink_begins_at_a_tint_of_two_per_cent(alpha, is_ink):
    """2 % of 255 is 5 levels: black of alpha 5 over white prints 250, alpha 4 prints 251 (computed)."""
    image = Image.new("RGBA", (60, 60), (0, 0, 0, 0))
    image.paste((0, 0, 0, 255), (20, 20, 40, 40))
    image.paste((0, 0, 0, alpha), (0, 20, 20, 40))
    assert prepare(png(image)).ink == ((0 if is_ink else 20), 20, 40, 40)


def test_a_far_speck_is_cut_off_and_said():
    image = Image.new("RGBA", (1000, 1000), (0, 0, 0, 0))
    image.paste((200, 0, 0, 255), (300, 300, 700, 700))
    image.paste((0, 0, 0, 255), (2, 2, 4, 4))
    picture = prepare(png(image))
    assert picture.ink == (300, 300, 700, 700)
    assert any("peck" in finding.what for finding in picture.findings)
    assert prepare(png(image), Recipe(keep_specks=True)).ink == (2, 2, 700, 700)


def test_nothing_to_print_is_refused():
    with pytest.raises(Trouble, match="nothing to print"):
        prepare(png(Image.new("RGBA", (50, 50), (255, 255, 255, 255))))


@pytest.mark.parametrize("kind", ["ellipse", "words", "gradient", "noise"])
def test_mirrored_once_and_over_white(kind):
    image = draw(kind, 61, 47)
    picture = prepare(png(image))
    rgba = np.asarray(image.crop(picture.ink)).astype(float)
    white = rgba[..., :3] * rgba[..., 3:] / 255 + 255 - rgba[..., 3:]
    assert np.abs(printed(picture) - white).max() <= 1


def test_the_profile_is_kept_byte_for_byte():
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert prepare(png(draw("noise", 20, 20), icc_profile=profile)).icc == profile
    assert prepare(png(draw("noise", 20, 20))).icc is None


def test_the_pixel_limit_is_checked_from_the_header():
    with pytest.raises(Trouble, match=r"(?i)pixel"):
        prepare(png(draw("noise", 200, 100)), Recipe(pixel_limit=10_000))
