"""Raster formats against pixels that are known, and against decoders that are not Pillow's."""

from __future__ import annotations

import io
import json
import random
import shutil
import subprocess

import numpy as np
import pymupdf
import pytest
from PIL import Image, ImageOps

from art import lcms
from art.iccbytes import model_profile
from each_case import try_each
from formats import hostile, samples
from impose import file_types
from impose.art.ink import composite_over_white
from impose.art.png import read_png
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.errors import Trouble
from impose.file_types import TAKEN, FileType, identify_file, parse_page_name
from impose.formats.completeness import find_missing_end
from impose.formats.prepare_file import convert_file, prepare_file
from waiting import LONGEST_S

PLAIN = PreparationOptions(orientation="apply", drawn_mm=(50.0, None))


def pixels(content: bytes, options: PreparationOptions = PLAIN) -> np.ndarray:
    """What of a file prints: over white, three channels."""
    made = convert_file(content, identify_file(content), options, "art")
    frame = made.make_frame()
    flat = composite_over_white(frame, (0, 0, *frame.image.size)).convert("RGB")
    return np.asarray(flat).astype(int)


def kinds(content: bytes, options: PreparationOptions = PLAIN) -> set[str]:
    return {finding.kind for finding in prepare_file(content, options).findings}


def refused(content: bytes, options: PreparationOptions = PLAIN, name: str = "art") -> str:
    with pytest.raises(Trouble) as caught:
        prepare_file(content, options, name)
    (stop,) = [finding for finding in caught.value.findings if finding.severity == "stop"]
    assert stop.remedy
    return stop.kind


WHITE = np.asarray(samples.flat(samples.drawn())).astype(int)


@pytest.mark.parametrize(
    "content",
    [
        samples.saved(samples.drawn(), "WEBP", lossless=True),
        samples.saved(samples.drawn(), "TIFF", compression="tiff_lzw"),
        samples.psd(samples.drawn()),
        samples.saved(samples.flat(samples.drawn()), "TIFF", compression="packbits"),
    ],
    ids=["webp", "tiff", "psd", "packbits"],
)
def test_formats_that_lose_nothing_print_every_pixel(content):
    """The truth is the array that the file was made of; over white it may be rounded by one level."""
    assert np.abs(pixels(content) - WHITE).max() <= 1


def test_a_jpeg_is_what_another_decoder_makes_of_it():
    """MuPDF's decoder widens halved colour otherwise: up to 16 levels at edges, half a level on average."""
    for content in samples.of("JPEG")[:2]:
        other = pymupdf.Pixmap(content)
        want = np.frombuffer(other.samples, np.uint8).reshape(other.h, other.w, 3).astype(int)
        off = np.abs(pixels(content) - want)
        assert off.max() <= 16
        assert off.mean() <= 0.6


def test_an_avif_is_near_to_what_it_was_made_of():
    """Lossy, alpha too: 1 % of pixels may be further off than 24 levels at quality 90."""
    content = samples.saved(samples.drawn(256, 192), "AVIF", quality=90)
    want = np.asarray(samples.flat(samples.drawn(256, 192))).astype(int)
    assert (np.abs(pixels(content) - want).max(axis=2) > 24).mean() < 0.01
    assert "lossy-alpha" in kinds(content)


@pytest.mark.parametrize("kind", ["JPEG", "TIFF"])
def test_process_inks_come_to_srgb_by_their_profile(kind):
    """Little CMS called directly, by the same intent and black-point compensation: within 2 levels."""
    profile = model_profile("CMYK")
    rng = np.random.default_rng(3)
    inks = np.kron(rng.integers(0, 256, (3, 4, 4), dtype=np.uint8), np.ones((16, 16, 1), np.uint8))
    image = Image.frombytes("CMYK", (64, 48), inks.tobytes())
    how = {"quality": 100, "subsampling": 0} if kind == "JPEG" else {}
    content = samples.saved(image, kind, icc_profile=profile, **how)
    seen = np.asarray(Image.open(io.BytesIO(content)))
    from impose.art.icc import SRGB_CURVE, make_rgb_profile

    want = lcms.transformed(seen, profile, lcms.CMYK_8, make_rgb_profile("sRGB", SRGB_CURVE), lcms.RGB_8, 1, 0x2000)
    assert np.abs(pixels(content) - np.asarray(want).reshape(48, 64, 3).astype(int)).max() <= 2
    assert "from-cmyk" in kinds(content)
    assert refused(samples.saved(image, kind)) == "cmyk-unknown"


def test_only_pixels_profile_and_turning_go_on():
    profile = model_profile()
    exif = Image.Exif()
    exif[0x112], exif[0x10E] = 6, "SECRET-NOTE"
    exif.get_ifd(0x8825)[29] = "SECRET-DATE"
    white = samples.flat(samples.drawn())
    content = samples.saved(white, "JPEG", exif=exif.tobytes(), comment=b"SECRET", icc_profile=profile)
    assert b"SECRET" in content
    made = convert_file(content, identify_file(content), PLAIN, "a").png
    assert b"SECRET" not in made
    assert {chunk.name for chunk in read_png(made).chunks} == {b"IHDR", b"iCCP", b"eXIf", b"IDAT", b"IEND"}
    picture = prepare_file(content, PLAIN)
    assert picture.icc == profile
    assert (picture.width, picture.height) == (48, 64)
    assert refused(content, PreparationOptions()) == "orientation"


def test_the_first_of_several_is_said():
    assert "animated" in kinds(samples.of("WebP")[3])
    assert "several-pages" in kinds(samples.of("TIFF")[2])
    assert "flattened" in kinds(samples.psd(samples.drawn()))


def test_pages_of_a_pdf():
    assert refused(samples.pdf(2), name="poster.pdf") == "which-page"
    assert refused(samples.pdf(locked=True)) == "locked-file"
    second = PreparationOptions(drawn_mm=(50.0, None), page=2)
    assert refused(samples.pdf(), second) == "which-page"
    assert prepare_file(samples.pdf(2), second).data != prepare_file(samples.pdf(), PLAIN).data
    assert parse_page_name("a/poster.pdf#2") == ("a/poster.pdf", 2)
    assert parse_page_name("owl.png#2") is None


@pytest.mark.parametrize("content", [samples.pdf(), samples.svg(samples.SVGS["shapes"])], ids=["pdf", "svg"])
@pytest.mark.parametrize("width", [20.0, 90.0])
def test_drawings_have_400_pixels_an_inch_of_ink(content, width):
    picture = prepare_file(content, PreparationOptions(drawn_mm=(width, None), rows=False))
    assert (picture.ink[2] - picture.ink[0]) / width * 25.4 == pytest.approx(400, rel=0.01)
    corner = pixels(content)[0, 0]
    assert corner.tolist() == [255, 255, 255]


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler is not installed")
def test_a_page_is_what_poppler_makes_of_it(tmp_path):
    """Two rasterisers smooth edges differently: 4 % of pixels may be off by more than 32 levels."""
    (tmp_path / "a.pdf").write_bytes(samples.pdf())
    subprocess.run(["pdftoppm", "-r", "100", "-png", "-singlefile", "a.pdf", "a"], cwd=tmp_path, check=True)
    want = Image.open(tmp_path / "a.png").convert("RGB")
    got = Image.fromarray(pixels(samples.pdf(), PreparationOptions(drawn_mm=(75.0, None))).astype(np.uint8))
    got, want = (image.crop(ImageOps.invert(image).getbbox()).resize((240, 150)) for image in (got, want))
    off = np.abs(np.asarray(got).astype(int) - np.asarray(want).astype(int)).max(axis=2)
    assert (off > 32).mean() < 0.04


@pytest.mark.parametrize("size", ["80mm", "8cm", "3in", "90pt", "6pc", "300px", "300"])
def test_an_svg_may_say_its_size_in_any_unit(size):
    """Drawing programs write mm by custom; units of SVG 1.1, section 4.2. A disc fills pi/4 of its square."""
    drawing = f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}" viewBox="0 0 80 80">'
    seen = pixels(f'{drawing}<circle cx="40" cy="40" r="40" fill="#123a7a"/></svg>'.encode())
    assert seen.shape[0] == seen.shape[1]
    assert (seen[..., 0] < 128).mean() == pytest.approx(np.pi / 4, abs=0.01)


BROWSER = shutil.which("chromium")


@pytest.mark.skipif(BROWSER is None, reason="chromium is not installed")
def test_svgs_are_what_a_browser_makes_of_them(tmp_path):
    """Edges are smoothed differently, so 2 % of pixels may be off by more than 32 levels; the rest is the same."""
    images = "".join(samples.SVG % inner for inner in samples.SVGS.values())
    page = tmp_path / "page.html"
    page.write_text(f"<style>body{{margin:0;background:#fff}}svg{{display:block}}</style>{_own_ids(images)}")
    shot, height = tmp_path / "shot.png", 300 * len(samples.SVGS)
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--disable-background-networking"]
    size = [f"--window-size=300,{height}", f"--screenshot={shot}", f"--user-data-dir={tmp_path / 'browser'}"]
    # Into nothing: a helper process that outlives the browser would hold a pipe open.
    nothing = subprocess.DEVNULL
    subprocess.run(
        [BROWSER, *flags, *size, page.as_uri()], check=True, stdout=nothing, stderr=nothing, timeout=LONGEST_S
    )
    seen = np.asarray(Image.open(shot).convert("RGB")).astype(int)
    for number, (name, inner) in enumerate(samples.SVGS.items()):
        if name == "css":  # its style would hold for the whole page
            continue
        from impose.formats.renderer import RENDERER

        _, made = RENDERER.ask("svg", name, samples.svg(inner), side=300, lettered=False)
        got = np.asarray(samples.flat(Image.open(io.BytesIO(made)).convert("RGBA"))).astype(int)
        off = np.abs(got - seen[300 * number : 300 * number + 300]).max(axis=2)
        assert (off > 32).mean() < 0.02, name


def _own_ids(text: str) -> str:
    """Drawings of one page must not share names."""
    parts = text.split("<svg ")
    return parts[0] + "".join(
        "<svg " + part.replace('id="', f'id="d{n}').replace("url(#", f"url(#d{n}").replace('href="#', f'href="#d{n}')
        for n, part in enumerate(parts[1:])
    )


@pytest.mark.parametrize(
    ("inner", "kind"),
    [
        ('<image href="file:///etc/hostname" width="9" height="9"/>', "unsafe-drawing"),
        ('<image xlink:href="http://127.0.0.1:9/x.png" width="9" height="9"/>', "unsafe-drawing"),
        ("<style>@import 'x.css';</style>", "unsafe-drawing"),
        ('<rect width="9" height="9" style="fill:u\\72l(http://x/y)"/>', "unsafe-drawing"),
        ("<g>" * 300 + "</g>" * 300, "too-complex"),
        ("<rect", "damaged"),
    ],
)
def test_a_drawing_may_refer_to_nothing_outside(inner, kind):
    assert refused(samples.svg(inner)) == kind


def test_a_list_of_entities_is_refused_and_a_bare_document_type_is_not():
    head = b'<?xml version="1.0"?><!DOCTYPE svg %s>'
    drawing = samples.svg(samples.SVGS["shapes"])
    assert refused(head % b'[<!ENTITY a "b">]' + drawing) == "unsafe-drawing"
    assert "unsafe-drawing" not in kinds(head % b'PUBLIC "-//W3C//DTD SVG 1.1//EN" "svg11.dtd"' + drawing)
    inner = samples.svg('<image href="/etc/x"/>').decode().replace('"', "%22").replace("<", "%3C")
    nested = f"data:image/svg+xml,{inner}"
    assert refused(samples.svg(f'<image href="{nested}" width="9" height="9"/>')) == "unsafe-drawing"


def test_a_typeface_outside_the_file_is_said_and_not_read():
    """The W3C's SVG 1.1 suite has it in nearly every file; the renderer has no SVG fonts."""
    face = (
        '<font-face><font-face-src><font-face-uri xlink:href="../SVGFreeSans.svg#ascii"/></font-face-src></font-face>'
    )
    assert "not-drawn" in kinds(samples.svg(f"<defs>{face}</defs>{samples.SVGS['shapes']}"))
    note = '<metadata><d:test xmlns:d="urn:d" href="http://127.0.0.1:9/x"/></metadata>'
    assert "unsafe-drawing" not in kinds(samples.svg(note + samples.SVGS["shapes"]))


def test_a_missing_typeface_is_said():
    text = '<text x="9" y="200" font-size="90" font-family="Nosuch Face">Ada</text><rect width="90" height="90"/>'
    assert "missing-font" in kinds(samples.svg(text))


def test_every_format_that_is_taken_has_sound_files():
    """PNG has a corpus of its own, and HEIC tests that need its reader."""
    taken = {value.name for value in vars(file_types).values() if isinstance(value, FileType) and value.taken}
    assert {kind.name for kind in TAKEN} == taken, "name it in TAKEN too"
    assert {*samples.KINDS, "PNG", "HEIC"} == taken, "make sound files of the new format in samples.of"


@pytest.mark.parametrize("kind", samples.KINDS)
def test_every_sound_file_becomes_a_picture(kind):
    options = PreparationOptions(drawn_mm=(20.0, None), orientation="apply", page=1 if kind == "PDF" else None)
    for content in samples.of(kind):
        assert identify_file(content).name == kind
        assert prepare_file(content, options).width > 0


@pytest.mark.parametrize("kind", samples.KINDS)
def test_a_file_still_arriving_is_not_whole(kind):
    """Of each format every sound file passes, and cut anywhere in its last half it does not."""
    for content in samples.of(kind):
        assert end_of(content) == ""
        assert end_of(content[: len(content) * 3 // 4]) != ""


def end_of(content: bytes) -> str:
    steps = find_missing_end(io.BytesIO(content), len(content), identify_file(content))
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value


@pytest.mark.parametrize("kind", samples.KINDS)
def test_changed_files_become_pictures_or_refusals(kind):
    """A seeded sample of what the benchmark formats_fuzz does with thousands."""
    chance = random.Random(7)
    change = hostile.CHANGES.get(kind, hostile.changed)
    options = PreparationOptions(drawn_mm=(20.0, None), pixel_limit=1_000_000, orientation="apply")
    for _ in range(6 if kind in ("SVG", "PDF") else 40):
        content = change(chance, chance.choice(samples.of(kind)))
        outcome = outcome_of(content, options)
        if isinstance(outcome, Trouble):
            assert all(finding.remedy for finding in outcome.findings if finding.severity == "stop")
        else:
            assert outcome.width * outcome.height <= 1_000_000


def outcome_of(content: bytes, options: PreparationOptions) -> PreparedPicture | Trouble:
    try:
        return prepare_file(content, options)
    except Trouble as trouble:
        return trouble


def test_an_evening_of_formats_is_made_and_printed_again(tmp_path, run):
    art = samples.drawn(300, 240)
    (tmp_path / "a.jpg").write_bytes(samples.saved(samples.flat(art), "JPEG", quality=90))
    (tmp_path / "b.svg").write_bytes(samples.svg(samples.SVGS["shapes"]))
    (tmp_path / "c.pdf").write_bytes(samples.pdf(2))
    (tmp_path / "d.jpg").write_bytes(samples.saved(samples.flat(art, "#e6e4e0"), "JPEG", quality=90))
    rows = ["a.jpg,", "b.svg,", "c.pdf#2,", "d.jpg,ground"]
    (tmp_path / "orders.csv").write_text("art,mend,width\n" + "\n".join(f"{row},40mm" for row in rows) + "\n")
    out = tmp_path / "out"
    assert run("sheets", str(tmp_path / "orders.csv"), "-o", str(out))[0] == 0
    record = json.loads((out / "batch.json").read_text())
    placed = {one["art"]: one for sheet in record["sheets"] for one in sheet["transfers"]}
    assert placed["c.pdf#2"]["page"] == 2
    assert placed["b.svg"]["drawn_mm"] == [40.0, None]
    assert placed["d.jpg"]["mend"] == ["ground"]
    assert placed["d.jpg"]["ink_px"] == pytest.approx(placed["a.jpg"]["ink_px"], abs=8)
    ids = ",".join(one["id"] for one in placed.values())
    again = tmp_path / "again"
    assert run("reprint", str(out), "--only", ids, "--because", "spoiled", "-o", str(again))[0] == 0
    second = json.loads((again / "batch.json").read_text())
    for sheet in second["sheets"]:
        for one in sheet["transfers"]:
            assert one["ink_px"] == placed[one["art"]]["ink_px"]


@try_each(
    "major, compatible, name",
    [
        (b"avif", (b"mif1",), "AVIF"),
        (b"mif1", (b"avif",), "AVIF"),
        (b"mif1", (b"mif1", b"miaf", b"avif"), "AVIF"),
        (b"mif1", (b"heic",), "HEIC"),
        (b"miaf", (b"mif1", b"avif"), "AVIF"),
        (b"msf1", (b"hevc",), "HEIC"),
        (b"heic", (b"mif1", b"avif"), "HEIC"),
        (b"mif1", (), "HEIC"),
        (b"isom", (b"avif",), "film"),
    ],
)
def test_a_photograph_is_known_by_its_brands(major: bytes, compatible: tuple[bytes, ...], name: str) -> None:
    """ISO/IEC 14496-12, 4.3: size, `ftyp`, major brand, minor version, compatible brands to the end of the box.

    What follows the box is none of it: here the brand of another format.
    """
    box = b"ftyp" + major + bytes(4) + b"".join(compatible)
    content = (len(box) + 4).to_bytes(4, "big") + box + b"heic" * 2 + b"avif" * 2
    assert identify_file(content).name == name
