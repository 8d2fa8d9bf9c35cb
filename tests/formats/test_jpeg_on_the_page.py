"""A photograph that fills its canvas lies in the PDF as the JPEG it was: by poppler, Pillow and its bytes."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from formats import samples
from formats.shown import RENDERERS, show_page
from impose.art.crop import crop_picture, read_picture_rows
from impose.art.icc import SRGB_CURVE, make_rgb_profile
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.formats.jpeg_markers import count_components
from impose.formats.prepare_file import prepare_file

pytestmark = pytest.mark.usefixtures("sheets_alone")

SRGB = make_rgb_profile("sRGB", SRGB_CURVE)


def photograph(width: int = 160, height: int = 120) -> Image.Image:
    """Soft colours without white from edge to edge, unlike when mirrored or turned."""
    y, x = np.mgrid[0:height, 0:width]
    rgb = np.stack([40 + 180 * x / width, 30 + 160 * y / height, 90 + 60 * np.sin(x / 9)], axis=-1)
    return Image.fromarray(rgb.astype(np.uint8))


def saved(**how) -> bytes:
    return samples.saved(photograph(), "JPEG", **({"quality": 92, "subsampling": 0} | how))


def prepared(content: bytes, **how) -> PreparedPicture:
    return prepare_file(content, PreparationOptions(**how))


def hold_same_ink(picture: PreparedPicture, plain: PreparedPicture) -> None:
    """The box to the pixel; coverage to half a level of 255, the centre of mass to a fiftieth of a pixel."""
    assert picture.ink == plain.ink
    assert picture.coverage == pytest.approx(plain.coverage, abs=0.5 / 255)
    assert picture.mass == pytest.approx(plain.mass, abs=0.02)


def test_it_stays_the_jpeg_without_what_it_tells_of_its_owner():
    exif = Image.Exif()
    exif[0x10E] = "SECRET-NOTE"
    content = saved(exif=exif.tobytes(), comment=b"SECRET", icc_profile=SRGB) + b"SECRET film behind it"
    picture = prepared(content)
    assert picture.kept == "jpeg"
    assert b"SECRET" not in picture.data
    assert picture.icc == SRGB
    mine, theirs = (Image.open(io.BytesIO(file)).convert("RGB") for file in (picture.data, content))
    assert mine.tobytes() == theirs.tobytes()


def unfinished() -> bytes:
    """A progressive JPEG without its last scan: every reader fills in what it likes for the bits that are missing."""
    content = saved(progressive=True)
    return content[: content.rindex(b"\xff\xda")] + b"\xff\xd9"


@pytest.mark.parametrize(
    ("content", "how"),
    [
        (unfinished(), {}),
        (saved(keep_rgb=True), {}),
        (saved(), {"rows": False}),
    ],
    ids=["progressive, its last bits missing", "stored as RGB", "only examined"],
)
def test_what_readers_may_decode_otherwise_is_not(content, how):
    assert not prepared(content, **how).kept


@pytest.mark.parametrize("value", range(1, 9))
def test_one_that_is_stored_turned_stays_the_jpeg_and_is_turned_by_the_page(value):
    """Each orientation of Exif 2.32, 4.6.4 A, as Pillow's `exif_transpose` undoes it and poppler draws the page."""
    exif = Image.Exif()
    exif[0x0112] = value
    content = saved(exif=exif.tobytes())
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(content)))
    plain = prepared(samples.saved(upright, "PNG"))
    picture = prepared(content, orientation="apply")
    assert picture.kept == "jpeg"
    assert (picture.width, picture.height) == upright.size
    hold_same_ink(picture, plain)
    rows = [np.concatenate(list(read_picture_rows(made))) for made in (picture, plain)]
    assert np.array_equal(*rows)
    assert crop_picture(picture, (10, 20, 90, 70)).data == crop_picture(plain, (10, 20, 90, 70)).data


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler is not installed")
@pytest.mark.parametrize(
    ("value", "turned"),
    [
        (6, False),
        (8, True),
        (5, True),
        *(
            pytest.param(*how, marks=pytest.mark.long)
            for how in ((3, False), (3, True), (5, False), (6, True), (8, False))
        ),
    ],
)
def test_poppler_shows_one_that_is_stored_turned_upright_and_mirrored(tmp_path: Path, run, value, turned):
    exif = Image.Exif()
    exif[0x0112] = value
    size = (120, 600) if turned == (value < 5) else (600, 120)
    source = photograph(*size)
    source.save(tmp_path / "a.jpg", quality=95, subsampling=0, exif=exif.tobytes())
    upright = ImageOps.exif_transpose(Image.open(tmp_path / "a.jpg"))
    side, length = ("height", "260mm") if turned else ("width", "150mm")
    out = tmp_path / "out"
    more = ("--orientation", "apply", "-p", "a4", "-o", out)
    assert run("sheets", tmp_path / "a.jpg", f"--{side}", length, *more)[0] == 0
    record = json.loads((out / "batch.json").read_text())
    (placed,) = record["sheets"][0]["transfers"]
    pdf = next(out.glob("sheets-*.pdf"))
    assert b"/DCTDecode" in pdf.read_bytes()
    subprocess.run(["pdftoppm", "-r", "127", "-png", "-singlefile", pdf, tmp_path / "page"], check=True)
    page = Image.open(tmp_path / "page.png").convert("RGB")
    x, y, w, h = (round(placed["ink_mm"][name] * 5) for name in ("x", "y", "w", "h"))
    want = upright.convert("RGB").transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    if placed["turned"]:
        want = want.transpose(Image.Transpose.ROTATE_270)
    small = [image.resize((40, 40), Image.Resampling.BOX) for image in (page.crop((x, y, x + w, y + h)), want)]
    a, b = (np.asarray(image).astype(int) for image in small)
    assert np.abs(a - b)[2:-2, 2:-2].max() <= 6


@pytest.mark.parametrize("renderer", RENDERERS)
def test_a_progressive_one_is_shown_as_pillow_decodes_it(tmp_path: Path, run, renderer):
    """ISO 32000-1, 7.4.8: a DCT stream may be progressive since PDF 1.3. Each of 1,600 fields to 6 levels."""
    content = samples.saved(photograph(600, 120), "JPEG", quality=92, subsampling=0, progressive=True)
    (tmp_path / "a.jpg").write_bytes(content)
    out = tmp_path / "out"
    assert run("sheets", tmp_path / "a.jpg", "--width", "150mm", "-p", "a4", "-o", out)[0] == 0
    (placed,) = json.loads((out / "batch.json").read_text())["sheets"][0]["transfers"]
    pdf = next(out.glob("sheets-*.pdf"))
    assert b"/DCTDecode" in pdf.read_bytes()
    assert not placed["turned"]
    x, y, w, h = (round(placed["ink_mm"][name] * 5) for name in ("x", "y", "w", "h"))
    page = show_page(renderer, pdf, 127).crop((x, y, x + w, y + h))
    want = Image.open(io.BytesIO(content)).transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    a, b = (np.asarray(image.resize((40, 40), Image.Resampling.BOX)).astype(int) for image in (page, want))
    assert np.abs(a - b)[2:-2, 2:-2].max() <= 6


def test_coverage_and_rows_are_those_of_the_same_picture_as_a_png():
    content = saved()
    decoded = Image.open(io.BytesIO(content)).convert("RGB")
    plain, picture = prepared(samples.saved(decoded.convert("RGBA"), "PNG")), prepared(content)
    assert picture.kept == "jpeg"
    assert not plain.kept
    hold_same_ink(picture, plain)
    for copy in ("worn", "ticket"):
        mine, theirs = getattr(picture.small, copy), getattr(plain.small, copy)
        a, b = (np.asarray(Image.open(io.BytesIO(file.content)).convert("RGB")).astype(int) for file in (mine, theirs))
        assert a.shape == b.shape
        assert np.abs(a - b).mean() <= 1.5
    rows = [np.concatenate(list(read_picture_rows(made))) for made in (picture, plain)]
    assert np.array_equal(*rows)
    parts = [crop_picture(made, (10, 20, 90, 70)) for made in (picture, plain)]
    assert parts[0].data == parts[1].data
    assert not parts[0].kept


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler is not installed")
@pytest.mark.parametrize("size", [(160, 120), (120, 600)], ids=["upright", "turned"])
def test_poppler_shows_it_mirrored_and_in_its_place(tmp_path: Path, run, size):
    """Within 3 levels: decoders round otherwise (ITU-T T.83 allows each sample an error of one before colour)."""
    image = photograph(*size)
    content = samples.saved(image, "JPEG", quality=95, subsampling=0)
    (tmp_path / "a.jpg").write_bytes(content)
    side = "height" if size[0] < size[1] else "width"
    # A long print on a paper that it fits lying only shows the turned one.
    length = "260mm" if size[0] < size[1] else "60mm"
    out = tmp_path / "out"
    assert run("sheets", str(tmp_path / "a.jpg"), f"--{side}", length, "-p", "a4", "-o", str(out))[0] == 0
    record = json.loads((out / "batch.json").read_text())
    (placed,) = record["sheets"][0]["transfers"]
    pdf = next(out.glob("sheets-*.pdf"))
    assert b"/DCTDecode" in pdf.read_bytes()
    where = tmp_path / "page"
    subprocess.run(["pdfimages", "-all", str(pdf), str(where)], check=True)
    (found,) = tmp_path.glob("page-*.jpg")
    assert Image.open(found).convert("RGB").tobytes() == Image.open(tmp_path / "a.jpg").convert("RGB").tobytes()
    subprocess.run(["pdftoppm", "-r", "127", "-png", "-singlefile", str(pdf), str(where)], check=True)
    page = np.asarray(Image.open(f"{where}.png").convert("RGB")).astype(int)
    x, y, w, h = (round(placed["ink_mm"][name] * 5) for name in ("x", "y", "w", "h"))
    shown = Image.fromarray(page[y : y + h, x : x + w].astype(np.uint8))
    want = image.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    if placed["turned"]:
        want = want.transpose(Image.Transpose.ROTATE_270)
    a, b = (np.asarray(picture.resize((40, 40), Image.Resampling.BOX)).astype(int) for picture in (shown, want))
    assert np.abs(a - b)[2:-2, 2:-2].max() <= 6


@pytest.mark.parametrize("mode", ["RGB", "L"])
@pytest.mark.parametrize("value", range(1, 9))
def test_webp_and_tiff_print_the_rows_of_a_png_however_they_are_stored(mode, value):
    """Rows to the bit, against a PNG of the same pixels that Pillow turned."""
    exif = Image.Exif()
    exif[0x0112] = value
    source = photograph().convert(mode)
    how = {"lossless": True} if mode == "RGB" else {}
    stored = samples.saved(source, "WEBP" if mode == "RGB" else "TIFF", exif=exif.tobytes() if how else exif, **how)
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(stored)))
    plain, picture = prepared(samples.saved(upright, "PNG")), prepared(stored, orientation="apply")
    assert upright.mode == mode
    assert not picture.kept
    hold_same_ink(picture, plain)
    assert np.array_equal(*(np.concatenate(list(read_picture_rows(made))) for made in (picture, plain)))


@pytest.mark.parametrize(("mode", "count"), [("L", 1), ("RGB", 3), ("CMYK", 4)])
@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"comment": b"\xff\xc0\x00\x0b\x08" * 9}])
def test_components_are_those_of_the_frame(mode, count, options):
    file = io.BytesIO()
    Image.linear_gradient("L").convert(mode).save(file, "JPEG", **options)
    assert count_components(file.getvalue()) == count


def test_a_jpeg_without_a_frame_has_no_components():
    with pytest.raises(ValueError, match="frame"):
        count_components(b"\xff\xd8\xff\xd9")
