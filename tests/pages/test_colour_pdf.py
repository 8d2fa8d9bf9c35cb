"""Colours in the delivered PDF as other programs see them: the tags, the bytes of profiles, and what is drawn."""

from __future__ import annotations

import hashlib
import json
import shutil
import struct
import subprocess
import zlib
from pathlib import Path

import numpy as np
import pikepdf
import pymupdf
import pypdfium2
import pytest
from PIL import Image, features

from art import lcms
from art.iccbytes import model_profile
from art.pngbytes import chunk, png
from impose.art.colour_proof import make_soft_proof
from impose.art.icc import SRGB_CURVE, make_grey_profile, make_rgb_profile
from impose.art.output_profile import OutputProfile
from impose.art.prepare import PreparationOptions, prepare_picture
from impose.run import Options, plan, produce

TILE = np.full((60, 80, 3), 255, np.int64)
TILE[:, :40] = (170, 60, 50)
TILE[:, 60:] = (30, 90, 140)
WIDE = make_rgb_profile("own", (1.8,), ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06)))
FILES = {
    "plain": png(TILE),
    "icc": png(TILE, before=chunk(b"iCCP", b"own\0\0" + zlib.compress(WIDE))),
    "again": png(TILE[:, ::-1], before=chunk(b"iCCP", b"own\0\0" + zlib.compress(WIDE))),
    "broken": png(TILE + (TILE < 255), before=chunk(b"iCCP", b"own\0\0" + zlib.compress(WIDE[:-4]))),
    "srgb": png(TILE, before=chunk(b"sRGB", b"\0")),
    "p3": png(TILE, before=chunk(b"cICP", bytes((12, 13, 0, 1)))),
    "grey": png(TILE[:, :, 0], before=chunk(b"gAMA", struct.pack(">I", 55555))),
}


def write_batch(folder: Path) -> Path:
    rows = []
    for name, content in FILES.items():
        (folder / f"{name}.png").write_bytes(content)
        rows.append(f"R,{name}.png,40 mm")
    path = folder / "b.csv"
    path.write_text("order,art,width\n" + "\n".join(rows) + "\n", "utf-8")
    return path


@pytest.fixture
def batch(tmp_path: Path) -> Path:
    return write_batch(tmp_path)


@pytest.fixture(scope="module")
def untouched(tmp_path_factory) -> Path:
    """Every file, delivered without a printer's profile."""
    return delivered(write_batch(tmp_path_factory.mktemp("untouched")))


@pytest.fixture(scope="module", params=["RGB", "CMYK"])
def turned(request, tmp_path_factory) -> tuple[str, Path]:
    """Every file, delivered in the colours of a model printer; the space of its profile."""
    batch = write_batch(tmp_path_factory.mktemp("turned"))
    (batch.parent / "cloth.icc").write_bytes(model_profile(request.param))
    settings = {"output_profile": str(batch.parent / "cloth.icc"), "intent": "perceptual"}
    return request.param, delivered(batch, **settings)


@pytest.fixture(scope="module", params=["RGB", "CMYK"])
def tile(request, tmp_path_factory) -> tuple[str, Path]:
    """A print of the tile alone, delivered in the colours of a model printer; the space of its profile."""
    folder = tmp_path_factory.mktemp("tile")
    (folder / "tile.png").write_bytes(FILES["srgb"])
    (folder / "cloth.icc").write_bytes(model_profile(request.param))
    (folder / "b.csv").write_text("order,art,width\nR,tile.png,80 mm\n", "utf-8")
    return request.param, delivered(folder / "b.csv", output_profile=str(folder / "cloth.icc"))


def delivered(batch: Path, **settings: object) -> Path:
    return produce(plan([batch], Options(settings=settings, steps=5)), batch.parent / f"out-{len(settings)}")


def spaces_of(out: Path) -> list[tuple[object, ...]]:
    """The colour space of each picture: its name, or object number, components, stand-in and profile."""
    found: list[tuple[object, ...]] = []
    with pikepdf.open(out / "sheets-a4.pdf") as document:
        for image in document.objects:
            if not isinstance(image, pikepdf.Stream) or image.get("/Subtype") != "/Image":
                continue
            space = image.ColorSpace
            if isinstance(space, pikepdf.Name):
                found.append((str(space),))
                continue
            assert space[0] == "/ICCBased"
            found.append((space[1].objgen, int(space[1].N), str(space[1].Alternate), space[1].read_bytes()))
    return found


def test_each_picture_carries_what_its_file_says(untouched):
    """ISO 32000-1, 8.6.5.5: ICCBased with N components; the profile's bytes are the file's own."""
    spaces = spaces_of(untouched)
    for _, components, device, content in (space for space in spaces if len(space) > 1):
        kind = content[16:20]
        assert (components, device) == {b"RGB ": (3, "/DeviceRGB"), b"GRAY": (1, "/DeviceGray")}[kind]
    contents = [space[-1] for space in spaces]
    assert contents.count("/DeviceRGB") == 2  # untagged, and the broken profile left out
    assert contents.count(WIDE) == 2
    assert contents.count(make_grey_profile("gamma 1.8", (1.8,))) == 1
    assert len({space[0] for space in spaces if len(space) > 1}) == 4  # the two that share one, sRGB, P3, grey
    assert len(spaces) == len(FILES)


def test_the_broken_profile_is_said_in_the_record(untouched):
    record = json.loads((untouched / "batch.json").read_text("utf-8"))
    assert record["options"]["output"] is None
    (warning,) = [str(w) for w in record["warnings"] if "colour profile" in str(w)]
    assert f"row {2 + list(FILES).index('broken')}" in warning


def test_an_output_profile_is_carried_once_and_named_by_its_content(turned):
    space, out = turned
    profile = model_profile(space)
    ((_, components, device, content),) = set(spaces_of(out))
    assert content == profile
    assert (components, device) == {"RGB": (3, "/DeviceRGB"), "CMYK": (4, "/DeviceCMYK")}[space]
    options = json.loads((out / "batch.json").read_text("utf-8"))["options"]
    assert options["output"] == {
        "profile": "cloth.icc",
        "sha256": hashlib.sha256(profile).hexdigest(),
        "intent": "perceptual",
        "black_point": False,
        "engine": f"Little CMS {features.version('littlecms2')}",
    }
    assert str(out.parent) not in json.dumps(options)


def colours_drawn(image: Image.Image) -> list[tuple[int, ...]]:
    """Every colour that covers more than a thousand pixels of a page."""
    return [colour for count, colour in image.convert("RGB").getcolors(1 << 24) or [] if count > 1000]


@pytest.mark.skipif(lcms.library() is None, reason="no liblcms2 on this machine")
def test_renderers_draw_the_colours_and_blank_paper_between_them(tile):
    """MuPDF follows the profile with black point compensation, pdfium in its own way; none inverts or tints white."""
    space, out = tile
    picture = prepare_picture(FILES["srgb"], PreparationOptions(output=OutputProfile(model_profile(space))))
    pixels = np.asarray(_pixels(picture))[30, [5, 50, 70]]
    forms = {"RGB": lcms.RGB_8, "CMYK": lcms.CMYK_8}
    screen = make_rgb_profile("sRGB", SRGB_CURVE)
    want = lcms.transformed(pixels, picture.icc, forms[space], screen, lcms.RGB_8, 1, lcms.BLACK_POINT)
    with pymupdf.open(out / "sheets-a4.pdf") as document:
        page = document[0].get_pixmap(dpi=72)
    assert _farthest(want, Image.frombytes("RGB", (page.width, page.height), page.samples)) <= 6
    drawn = pypdfium2.PdfDocument(out / "sheets-a4.pdf")[0].render(scale=1).to_pil()
    if space == "CMYK":
        want = np.asarray(make_soft_proof(_pixels(picture), picture))[30, [5, 50, 70]]
    assert _farthest(want, drawn) <= (4 if space == "CMYK" else 20)


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler is not installed")
def test_what_is_blank_is_not_painted_by_any_reader(tile, tmp_path):
    """Poppler was seen to make 254 253 253 of this white; a colour key mask leaves it out (ISO 32000-1, 8.9.6.4)."""
    space, out = tile
    subprocess.run(
        ["pdftoppm", "-r", "72", "-png", "-singlefile", out / "sheets-a4.pdf", tmp_path / "page"], check=True
    )
    with Image.open(tmp_path / "page.png") as page:
        drawn = colours_drawn(page)
    assert len(drawn) == 3
    assert (255, 255, 255) in drawn
    with pikepdf.open(out / "sheets-a4.pdf") as document:
        (image,) = [o for o in document.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Image"]
        assert [int(v) for v in image.Mask] == ([0] * 8 if space == "CMYK" else [255] * 6)


def _farthest(want: np.ndarray, page: Image.Image) -> int:
    """How far the wanted colours are from the nearest that are drawn; blank paper has to be among three of them."""
    drawn = colours_drawn(page)
    assert len(drawn) == 3
    assert (255, 255, 255) in drawn
    return max(min(max(abs(int(a) - b) for a, b in zip(w, d, strict=True)) for d in drawn) for w in want)


def _pixels(picture) -> Image.Image:
    from art.rebuilt import printed

    pixels = printed(picture)
    mode = {3: "RGB", 4: "CMYK"}[picture.components]
    return Image.frombytes(mode, (pixels.shape[1], pixels.shape[0]), pixels.tobytes())


def test_the_printer_brings_its_own_profile_and_an_option_wins(tmp_path):
    (tmp_path / "tile.png").write_bytes(FILES["plain"])
    (tmp_path / "b.csv").write_text("order,art,width\nR,tile.png,80 mm\n", "utf-8")
    own = tmp_path / "own"
    own.mkdir()
    (own / "cloth.icc").write_bytes(model_profile())
    (own / "printers.toml").write_text(
        '[careful]\noutput_profile = "cloth.icc"\nintent = "saturation"\n', encoding="utf-8"
    )

    def chosen(**settings: object) -> dict[str, object] | None:
        return plan([tmp_path / "b.csv"], Options(settings=settings, profiles_dir=own, steps=1)).record["options"][
            "output"
        ]

    assert chosen()["profile"] == "cloth.icc"
    assert chosen()["intent"] == "saturation"
    assert chosen(intent="absolute")["intent"] == "absolute"
    assert chosen(output_profile="none") is None
    assert chosen(printer="measured") is None
    (tmp_path / "other.icc").write_bytes(model_profile("CMYK"))
    assert chosen(output_profile=str(tmp_path / "other.icc"))["profile"] == "other.icc"
    (own / "settings.toml").write_text('output_profile = "cloth.icc"\n', encoding="utf-8")
    assert chosen(printer="measured")["intent"] == "relative"


def test_the_same_input_gives_the_same_bytes(batch):
    (batch.parent / "cloth.icc").write_bytes(model_profile())
    settings = {"output_profile": str(batch.parent / "cloth.icc"), "intent": "relative"}
    digests = set()
    for number, (workers, cache) in enumerate(((1, False), (2, True), (1, True))):
        options = Options(settings=settings, steps=5, workers=workers, cache=cache)
        out = produce(plan([batch], options), batch.parent / f"same-{number}")
        digests.add(hashlib.sha256((out / "sheets-a4.pdf").read_bytes()).hexdigest())
    assert len(digests) == 1


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--output-profile", "missing.icc"], 2, "cannot be read"),
        (["--output-profile", "b.csv"], 2, "damaged"),
        (["--intent", "perceptual"], 2, "no output profile"),
        (["--output-profile", "bright.icc", "--intent", "absolute"], 2, "--intent relative"),
        (["--output-profile", "cloth.icc", "--intent", "vivid"], 2, "vivid"),
        (["--output-profile", "cloth.icc", "--no-black-point"], 0, ""),
    ],
)
def test_the_command_says_what_is_wrong_with_a_profile(batch, run, monkeypatch, arguments, code, said):
    monkeypatch.chdir(batch.parent)
    (batch.parent / "cloth.icc").write_bytes(model_profile())
    (batch.parent / "bright.icc").write_bytes(model_profile(paper=(0.86, 0.89, 0.90)))
    got, _, talk = run("sheets", "b.csv", "-o", "out", *arguments)
    assert got == code
    assert said in talk
    assert (batch.parent / "out").exists() == (code == 0)
    if code == 0:
        record = json.loads((batch.parent / "out" / "batch.json").read_text("utf-8"))
        assert record["options"]["output"]["black_point"] is False


def test_a_printers_profile_is_the_documents_output_intent(turned):
    """ISO 32000-2, table 401: Type, S, OutputConditionIdentifier, Info where that is no registered name, and the
    profile, the very object that the pictures are in; ISO 15930-7, 6.2.2: the profile's class is prtr."""
    space, out = turned
    profile = model_profile(space)
    assert profile[12:16] == b"prtr"
    with pikepdf.open(out / "sheets-a4.pdf") as document:
        (intent,) = document.Root.OutputIntents
        assert (intent.Type, intent.S) == ("/OutputIntent", "/GTS_PDFX")
        assert (str(intent.OutputConditionIdentifier), str(intent.Info)) == ("Custom", "cloth.icc")
        assert intent.DestOutputProfile.read_bytes() == profile
        assert int(intent.DestOutputProfile.N) == {"RGB": 3, "CMYK": 4}[space]
        assert {found[0] for found in spaces_of(out)} == {intent.DestOutputProfile.objgen}


def test_a_screens_profile_is_no_output_intent(batch, untouched):
    (batch.parent / "srgb.icc").write_bytes(make_rgb_profile("sRGB", SRGB_CURVE))
    for out in (untouched, delivered(batch, output_profile=str(batch.parent / "srgb.icc"))):
        with pikepdf.open(out / "sheets-a4.pdf") as document:
            assert "/OutputIntents" not in document.Root


@pytest.mark.parametrize("name", ["none-such.icc", ".", "b.csv/x.icc", "b.csv", "a" * 300 + ".icc"])
def test_an_output_profile_that_cannot_be_used_is_wrong_use_and_says_what_to_give(batch, run, name):
    code, _, err = run("check", batch, "-p", "a4", "--output-profile", batch.parent / name)
    assert code == 2
    assert "output profile" in err
    assert "ICC profile" in err
    assert "disk" not in err
