"""A JPEG or opaque PNG of which less than the canvas prints lies in the PDF as it was, under a clip of its ink.

Judged by four renderers, which know nothing of how it was made, against Pillow's decoding of the same file.
"""

from __future__ import annotations

import functools
import io
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pymupdf
import pytest
from PIL import Image, ImageDraw, ImageOps

from formats.shown import RENDERERS, show_page
from impose.art.prepare import PreparationOptions
from impose.cli import main
from impose.errors import Exit
from impose.formats.prepare_file import prepare_file
from impose.pages.pdf import sheet_pages

pytestmark = pytest.mark.usefixtures("sheets_alone")

SIZE = (240, 160)
INK = (64, 40, 184, 120)
"""In whole squares of 8 pixels, so that no colour swings beyond them (ITU-T T.81, A.3)."""
SPECK = (6, 140, 9, 143)


def drawn() -> Image.Image:
    """Four fields on white, unlike however they are turned, and dirt far from them."""
    image = Image.new("RGB", SIZE, "white")
    pen = ImageDraw.Draw(image)
    left, top, right, bottom = INK
    middle, half = (left + right) // 2, (top + bottom) // 2
    for box, colour in (
        ((left, top, middle, half), "#b02020"),
        ((middle, top, right, half), "#20a040"),
        ((left, half, middle, bottom), "#2040b0"),
        ((middle, half, right, bottom), "#303030"),
    ):
        pen.rectangle((box[0], box[1], box[2] - 1, box[3] - 1), fill=colour)
    pen.rectangle((SPECK[0], SPECK[1], SPECK[2] - 1, SPECK[3] - 1), fill="black")
    return image


def saved(turn: int = 1, form: str = "JPEG") -> bytes:
    exif = Image.Exif()
    exif[0x0112] = turn
    exif[0x010E] = "SECRET-NOTE"
    file = io.BytesIO()
    how = {"quality": 98, "subsampling": 0, "comment": b"SECRET"} if form == "JPEG" else {}
    drawn().save(file, form, exif=exif.tobytes(), **how)
    return file.getvalue()


KINDS = [(1, 90, "JPEG"), (1, 230, "PNG"), (6, 60, "JPEG"), (8, 150, "PNG"), (1, 90, "PNG"), (1, 230, "JPEG")]
"""How it is stored turned, how wide it prints, and as what: those of 230 mm are turned on their sheets as well."""
QUICK = [(("pdfium", "mupdf")[n % 2], kind) for n, kind in enumerate(KINDS)] + [
    ("gs", KINDS[0]),
    ("pdftoppm", KINDS[2]),
    ("gs", KINDS[3]),
    ("pdftoppm", KINDS[4]),
]


@pytest.fixture(scope="module")
def deliveries(tmp_path_factory) -> Callable[[int, int, str], Path]:
    """The folder of a delivery, each made once."""

    @functools.cache
    def deliver(turn: int, width: int, form: str) -> Path:
        folder = tmp_path_factory.mktemp("clip")
        (folder / "a.jpg").write_bytes(saved(turn, form))
        more = ["--width", f"{width}mm", "--orientation", "apply", "-p", "a4", "-o", str(folder / "out"), "-q"]
        with pytest.raises(SystemExit) as left:
            main(["sheets", str(folder / "a.jpg"), *more])
        assert not left.value.code
        return folder / "out"

    return deliver


@pytest.mark.parametrize(
    ("renderer", "kind"),
    [
        pytest.param(
            *renderer.values,
            kind,
            marks=[*renderer.marks, *([] if (renderer.values[0], kind) in QUICK else [pytest.mark.long])],
        )
        for renderer in (pytest.param(one) if isinstance(one, str) else one for one in RENDERERS)
        for kind in KINDS
    ],
)
def test_what_lies_in_its_ink_is_shown_in_its_place_and_nothing_else(deliveries, renderer, kind):
    """Ten pixels a millimetre. Each field to 6 levels, each edge to a pixel; beyond it is paper."""
    out = deliveries(*kind)
    record = json.loads((out / "batch.json").read_text())
    (placed,) = record["sheets"][0]["transfers"]
    pdf = next(out.glob("sheets-*.pdf"))
    assert (b"/DCTDecode" in pdf.read_bytes()) == (kind[2] == "JPEG")
    assert b"SECRET" not in pdf.read_bytes()
    page = np.asarray(show_page(renderer, pdf, 254))
    box = placed["ink_mm"]
    x, y, w, h = (box[name] * 10 for name in ("x", "y", "w", "h"))
    content = saved(kind[0], kind[2])
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(content))).convert("RGB")
    ink = prepare_file(content, PreparationOptions(orientation="apply")).ink
    want = upright.crop(ink).transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    if placed["turned"]:
        want = want.transpose(Image.Transpose.ROTATE_270)
    for across in (0.25, 0.75):
        for down in (0.25, 0.75):
            shown = page[round(y + down * h), round(x + across * w)].astype(int)
            meant = want.getpixel((int(across * want.width), int(down * want.height)))
            assert np.abs(shown - np.array(meant)).max() <= 6
    # The edges of the ink lie on the pixels that they have to, and beyond them is paper.
    rows, columns = page[round(y + h / 4)], page[:, round(x + w / 4)]
    for line, start, end in ((rows, x, x + w), (columns, y, y + h)):
        first = max(0, round(start) - 15)
        near = np.flatnonzero(line[first : round(end) + 15].min(axis=1) < 200) + first
        assert abs(near[0] - start) <= 1
        assert abs(near[-1] + 1 - end) <= 1
    # A hair beyond the edge is paper: the canvas goes on there, the clip does not.
    assert page[round(y) - 3, round(x) : round(x + w)].min() >= 250
    assert page[round(y) : round(y + h), round(x) - 3].min() >= 250


def test_it_is_ready_without_deflating_and_keeps_the_box_of_its_ink():
    picture = prepare_file(saved(), PreparationOptions())
    assert picture.kept == "jpeg"
    assert picture.ink == INK
    assert len(picture.data) < len(saved())
    (speck,) = (finding for finding in picture.findings if finding.kind == "speck")
    assert speck.px is not None
    assert speck.px[0] <= SPECK[0] < SPECK[2] <= speck.px[2]


@pytest.mark.parametrize("renderer", RENDERERS)
def test_what_was_cut_off_is_not_shown(tmp_path: Path, deliveries, renderer):
    """Where the speck would lie is paper, and it would be seen: without the clip it is. Five pixels a millimetre."""
    out = deliveries(1, 90, "JPEG")
    pdf = next(out.glob("sheets-*.pdf"))
    (placed,) = json.loads((out / "batch.json").read_text())["sheets"][0]["transfers"]
    scale = placed["ink_mm"]["w" if not placed["turned"] else "h"] / (INK[2] - INK[0]) * 5
    mirrored = (SIZE[0] - (SPECK[0] + SPECK[2]) / 2, (SPECK[1] + SPECK[3]) / 2)
    assert not placed["turned"]
    x = placed["ink_mm"]["x"] * 5 + (mirrored[0] - (SIZE[0] - INK[2])) * scale
    y = placed["ink_mm"]["y"] * 5 + (mirrored[1] - INK[1]) * scale
    with pymupdf.open(pdf) as document:
        (number,) = document[0].get_contents()
        stream = document.xref_stream(number)
        assert stream.count(b" re W n ") == 1
        document.update_stream(number, stream.replace(b" re W n ", b" re n "))
        document.save(tmp_path / "bare.pdf")
    clipped, bare = (
        np.asarray(show_page(renderer, file, 127))[round(y), round(x)] for file in (pdf, tmp_path / "bare.pdf")
    )
    assert clipped.min() >= 250
    assert bare.max() < 60


def test_a_page_that_lost_the_clip_is_not_delivered(tmp_path: Path, run, monkeypatch):
    (tmp_path / "a.jpg").write_bytes(saved())
    monkeypatch.setattr(sheet_pages, "is_clipped", lambda picture: False)
    code, *_ = run("sheets", tmp_path / "a.jpg", "--width", "90mm", "-p", "a4", "-o", tmp_path / "out")
    assert code == Exit.SELF_CHECK
    assert not list(tmp_path.glob("out*/sheets-*.pdf"))
