"""Flat colours exchanged in a picture, judged by the same picture drawn in the new colours to begin with."""

from __future__ import annotations

import io
from functools import cache

import numpy as np
import pytest
from PIL import Image, ImageCms, ImageDraw

from impose.art import blended_edges
from impose.art.cache import PictureCache
from impose.art.crop import read_picture_rows
from impose.art.icc import SRGB_CURVE, make_rgb_profile
from impose.art.prepare import PreparationOptions, PreparedPicture, prepare_picture
from impose.errors import Severity, Trouble
from impose.file_types import ColourChange
from impose.formats.prepare_file import prepare_file

RED, GREEN, BLUE, YELLOW = (200, 30, 40), (18, 160, 91), (20, 60, 160), (255, 220, 0)
CHANGE = (ColourChange("#C81E28", "#12A05B"),)
FINER = 6
SIDE = 160


@cache
def draw(colour: tuple[int, int, int], clear: bool, blue: tuple[int, int, int] = BLUE) -> Image.Image:
    """A scene whose edges are mixed as a renderer mixes them: drawn eight times as fine, averaged, alpha multiplied."""
    image = Image.new("RGBA", (SIDE * FINER, SIDE * FINER), (0, 0, 0, 0) if clear else (255, 255, 255, 255))
    pen, k = ImageDraw.Draw(image), FINER
    pen.ellipse((10 * k, 10 * k, 120 * k, 120 * k), fill=(*colour, 255))
    pen.ellipse((40 * k, 40 * k, 80 * k, 83 * k), fill=(*blue, 255))
    pen.polygon([(100 * k, 5 * k), (155 * k, 50 * k), (105 * k, 150 * k)], fill=(*blue, 255))
    pen.line((60 * k, 20 * k, 70 * k, 110 * k), fill=(*YELLOW, 255), width=2 * k)
    pen.rectangle((5 * k, 130 * k, 60 * k, 155 * k), fill=(*colour, 255))
    pixels = np.asarray(image).astype(float)
    pixels[..., :3] *= pixels[..., 3:] / 255
    mixed = pixels.reshape(SIDE, FINER, SIDE, FINER, 4).mean(axis=(1, 3))
    alpha = mixed[..., 3:]
    mixed[..., :3] = np.where(alpha > 0, mixed[..., :3] * 255 / np.maximum(alpha, 1e-9), 0)
    made = Image.fromarray(np.rint(mixed).astype(np.uint8), "RGBA")
    return made if clear else made.convert("RGB")


def encode(image: Image.Image, form: str = "PNG", **more: object) -> bytes:
    file = io.BytesIO()
    image.save(file, form, **more)
    return file.getvalue()


def over_white(image: Image.Image) -> np.ndarray:
    flat = Image.new("RGBA", image.size, "white")
    flat.alpha_composite(image.convert("RGBA"))
    return np.asarray(flat.convert("RGB")).astype(int)


def prepare(content: bytes, changes: tuple[ColourChange, ...] = CHANGE) -> PreparedPicture:
    return prepare_file(content, PreparationOptions(recolour=changes), "a.png")


def printed(picture: PreparedPicture) -> np.ndarray:
    """The rows of the ink bounds as worn."""
    rows = np.concatenate(list(read_picture_rows(picture)))
    return rows.reshape(len(rows), -1, picture.components)[:, ::-1].astype(int)


def misses(picture: PreparedPicture, wanted: Image.Image) -> np.ndarray:
    """For each pixel the largest difference from the picture drawn in the new colours, levels of 255."""
    return np.abs(printed(picture) - over_white(wanted.crop(picture.ink))).max(axis=2)


@pytest.mark.parametrize("clear", [True, False])
def test_the_picture_is_as_if_it_had_been_drawn_so(clear):
    """Mixed edges too: with clear ground, with white, with other colours, and where three meet."""
    off = misses(prepare(encode(draw(RED, clear))), draw(GREEN, clear))
    was = np.abs(over_white(draw(RED, clear)) - over_white(draw(GREEN, clear))).max(axis=2)
    assert was.max() > 150  # what there was to do
    assert (off > 3).sum() <= 0.002 * (was > 0).sum()
    assert off.mean() < 0.05


def test_two_colours_change_places():
    """All changes are those of the picture as it was."""
    both = (ColourChange("#143CA0", "#C81E28"), ColourChange("#C81E28", "#143CA0"))
    off = misses(prepare(encode(draw(RED, True)), both), draw(BLUE, True, blue=RED))
    assert (off > 4).sum() <= 12
    assert off.mean() < 0.1


def test_bands_leave_no_trace(monkeypatch):
    art = encode(draw(RED, True))
    whole = prepare(art)
    monkeypatch.setattr(blended_edges, "BAND", 7)
    assert bytes(prepare(art).data) == bytes(whole.data)


@pytest.mark.parametrize("name", ["palette", "grey", "grey with alpha", "lossless webp", "tiff"])
def test_pictures_of_every_kind_are_recoloured(name):
    grey = draw(RED, True).convert("LA")
    level = int(grey.getpixel((20, 60))[0])
    dark = f"#{level:02X}{level:02X}{level:02X}"
    if name == "palette":
        art, change = encode(draw(RED, False).quantize(64, dither=Image.Dither.NONE)), CHANGE
        at = Image.open(io.BytesIO(art)).convert("RGB").getpixel((20, 60))
        change = (ColourChange("#{:02X}{:02X}{:02X}".format(*at), "#12A05B"),)
    elif name.startswith("grey"):
        art, change = encode(grey if "alpha" in name else grey.convert("L")), (ColourChange(dark, "#12A05B"),)
    else:
        art = encode(draw(RED, False), "WEBP", lossless=True) if "webp" in name else encode(draw(RED, False), "TIFF")
        change = CHANGE
    picture = prepare(art, change)
    assert picture.components == 3
    left, top = picture.ink[:2]
    assert tuple(printed(picture)[60 - top, 20 - left]) == GREEN


def test_what_a_lossy_format_made_of_a_colour_is_that_colour():
    """JPEG at everyday quality: the whole disc is green, and nothing that was not red is touched far from it."""
    picture = prepare(encode(draw(RED, False), "JPEG", quality=90))
    got, left, top = printed(picture), *picture.ink[:2]
    inside = got[95 - top : 112 - top, 45 - left : 60 - left]
    assert np.abs(inside - np.array(GREEN)).max() <= 12
    wanted = Image.open(io.BytesIO(encode(draw(GREEN, False), "JPEG", quality=90)))
    off = misses(picture, wanted)
    assert off.mean() < 4
    assert (off > 60).sum() < 0.003 * off.size  # where the format smeared the old colour over an edge
    assert not picture.kept
    (finding,) = [f for f in picture.findings if f.kind == "recolour"]
    assert finding.severity is Severity.WARN
    assert "rim" in finding.remedy


def test_a_number_means_srgb_whatever_the_profile_of_the_artwork():
    """Artwork in the primaries of Display P3 (SMPTE EG 432-1): seen through its profile by Little CMS."""
    p3 = make_rgb_profile("P3", SRGB_CURVE, primaries=((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)))
    srgb = make_rgb_profile("sRGB", SRGB_CURVE)

    def convert(image: Image.Image, source: bytes, target: bytes) -> Image.Image:
        intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
        way = ImageCms.buildTransform(io.BytesIO(source), io.BytesIO(target), "RGB", "RGB", intent)
        return ImageCms.applyTransform(image, way)

    art = convert(draw(RED, False), srgb, p3)
    assert art.getpixel((20, 60)) != RED
    picture = prepare(encode(art, icc_profile=p3))
    assert picture.icc == p3
    left, top = picture.ink[:2]
    shown = Image.new("RGB", (1, 1), tuple(int(v) for v in printed(picture)[60 - top, 20 - left]))
    assert np.abs(np.array(convert(shown, p3, srgb).getpixel((0, 0))) - np.array(GREEN)).max() <= 3  # 8 bits twice
    blue = tuple(int(v) for v in printed(picture)[60 - top, 60 - left])
    assert blue == art.getpixel((60, 60))  # what was not asked for keeps its own numbers


def test_a_colour_that_is_not_there_is_refused_with_the_nearest():
    with pytest.raises(Trouble) as caught:
        prepare(encode(draw(RED, True)), (ColourChange("#C81E48", "#12A05B"),))
    (finding,) = caught.value.findings
    assert finding.kind == "recolour-absent"
    assert finding.remedy.startswith("Nearest of those that are: #C81E28")


def test_a_photograph_has_no_flat_colours():
    noise = np.random.default_rng(3).integers(0, 255, (80, 80, 3), np.uint8)
    with pytest.raises(Trouble, match="photograph"):
        prepare(encode(Image.fromarray(noise)), (ColourChange("#808080", "#12A05B"),))


def test_before_and_after_are_shown_and_the_share_is_told():
    picture = prepare(encode(draw(RED, True)))
    (finding,) = [f for f in picture.findings if f.kind == "recolour"]
    assert finding.severity is Severity.NOTE
    assert "#C81E28 became #12A05B" in finding.what
    assert finding.px == (0, 0, SIDE, SIDE)
    view = np.asarray(Image.open(io.BytesIO(finding.view)).convert("RGB")).astype(int)
    reddish, greenish = (np.abs(view - np.array(colour)).max(axis=2) < 24 for colour in (RED, GREEN))
    middle = view.shape[1] // 2
    assert reddish[:, :middle].sum() > 1000 > 10 > reddish[:, middle:].sum()
    assert greenish[:, middle:].sum() > 1000 > 10 > greenish[:, :middle].sum()


def test_the_cache_tells_recoloured_pictures_apart(tmp_path):
    cache, plain = PictureCache(tmp_path), PreparationOptions()
    asked = PreparationOptions(recolour=CHANGE)
    content = encode(draw(RED, True))
    cache.keep_picture(prepare_picture(content, plain), plain)
    picture = prepare_picture(content, asked)
    assert cache.get_picture(picture.sha256, asked) is None
    cache.keep_picture(picture, asked)
    assert cache.get_picture(picture.sha256, asked) == picture
    assert cache.get_picture(picture.sha256, plain).recolour == ()
