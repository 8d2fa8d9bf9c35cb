"""Lettering in the PDF: drawn as HarfBuzz draws it, read back by others, valid, small, the same every time.

The twin of a page is made here from HarfBuzz alone: text shaped straight by it, its own outlines filled as paths. Both
are rendered by PDFium, and by Poppler where it is installed, and compared as pictures.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import shutil
import struct
import subprocess
import sys
import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
import pikepdf
import pymupdf
import pypdfium2
import pytest
import uharfbuzz as hb

from each_case import try_each
from impose.errors import Exit, Trouble
from impose.pages.pdf import font_book
from impose.pages.pdf.font_book import FontBook, ShippedFonts
from impose.pages.pdf.pdf_file import PdfFile
from impose.type.lettering import ShapedGlyph, ShapedLine, TextShaper

# Ordinary names, one script each (two words in Latin); in ten scripts.
LEFT_TO_RIGHT = {
    "Latin": "Żółć Nguyễn-Ștefan",
    "Greek": "Παπαδοπούλου",
    "Cyrillic": "Ґалаґан-Щербакова",
    "Devanagari": "क्षितिजश्रीनिवास",
    "Thai": "กำธรศรีสุวรรณน้ำ",
    "Chinese": "欧阳小明",
    "Japanese": "さくらヤマダ",
    "Korean": "김민수",
}
RIGHT_TO_LEFT = {"Arabic": "محمد عبدالله فاطمة", "Hebrew": "שרה לוי"}
NAMES = LEFT_TO_RIGHT | RIGHT_TO_LEFT
SIZE = 28.0
PAGE = 400.0
AT = (30.0, 180.0)
PDFTOPPM, PDFTOTEXT, QPDF = (shutil.which(tool) for tool in ("pdftoppm", "pdftotext", "qpdf"))
SOURCE = ShippedFonts(newer_emoji=False)  # the same with and without the optional package
LETTERING = TextShaper(SOURCE)
RENDERERS = ["pdfium", pytest.param("poppler", marks=pytest.mark.skipif(not PDFTOPPM, reason="no poppler-utils"))]


def write(pages: Sequence[Sequence[tuple[ShapedLine, float, float, int]]], size: float = SIZE) -> bytes:
    """A document of square pages, each with lines at places and angles."""
    file = io.BytesIO()
    document = PdfFile()
    book = FontBook(document, LETTERING)
    fonts = document.reserve_object()
    for lines in pages:
        content = b"".join(book.text_operators(line, x, y, size, angle) for line, x, y, angle in lines)
        contents = document.add_stream("", content)
        keys = f"/Contents {contents} 0 R/Resources<</Font {fonts} 0 R>>"
        document.add_page(f"/MediaBox[0 0 {PAGE:g} {PAGE:g}]{keys}")
    document.put_object(fonts, f"<<{book.embed_fonts()}>>")
    document.save_document(file, "", "lines", "00" * 16)
    document.close_document()
    return file.getvalue()


def put(document: Any, content: bytes, resources: str) -> None:
    page = document.new_page(width=PAGE, height=PAGE).xref
    contents = document.get_new_xref()
    document.update_object(contents, "<<>>")
    document.update_stream(contents, content, compress=1)
    document.xref_set_key(page, "Contents", f"{contents} 0 R")
    document.xref_set_key(page, "Resources", resources)


def picture(pdf: bytes, folder: Path, renderer: str = "pdfium", page: int = 0) -> np.ndarray:
    """A page in grey; finer by Poppler, which sets glyphs to the quarter of a pixel but paths where they are."""
    if renderer == "pdfium":
        return np.asarray(pypdfium2.PdfDocument(pdf)[page].render(scale=2).to_pil().convert("L"), dtype=np.int16)
    source = folder / "page.pdf"
    source.write_bytes(pdf)
    number = str(page + 1)
    done = subprocess.run(
        [str(PDFTOPPM), "-r", "432", "-gray", "-f", number, "-l", number, str(source)],
        capture_output=True,
        check=True,
    )
    width, height = map(int, done.stdout.split(b"\n", 3)[1].split())
    return np.frombuffer(done.stdout[-width * height :], dtype=np.uint8).reshape(height, width).astype(np.int16)


def difference(one: np.ndarray, other: np.ndarray) -> float:
    """The share of the ink that lies elsewhere: 0 for the same picture, about 2 for strangers."""
    return float(np.abs(one - other).sum() / (255 - one).sum())


# Found: 0.0024 and 0.10, the latter from Poppler's quarter pixels.
TOLERANCE = {"pdfium": 0.005, "poppler": 0.12}


class PathPen:
    """Writes outlines as PDF path operators, at a place."""

    def __init__(self, x: float, y: float, scale: float) -> None:
        self.x, self.y, self.scale = x, y, scale
        self.parts: list[str] = []
        self.last = (0.0, 0.0)

    def _add(self, operator: str, *points: tuple[float, float]) -> None:
        numbers = [f"{self.x + x * self.scale:.4f} {self.y + y * self.scale:.4f}" for x, y in points]
        self.parts.append(f"{' '.join(numbers)} {operator}")
        self.last = points[-1]

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802  (the pen protocol's names)
        self._add("m", point)

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        self._add("l", point)

    def curveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        self._add("c", *points)

    def qCurveTo(self, control: tuple[float, float], end: tuple[float, float]) -> None:  # noqa: N802
        (x0, y0), (x1, y1), (x2, y2) = self.last, control, end
        one = (x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3)
        two = (x2 + (x1 - x2) * 2 / 3, y2 + (y1 - y2) * 2 / 3)
        self._add("c", one, two, end)

    def closePath(self) -> None:  # noqa: N802
        self.parts.append("h")


def shaped_straight(text: str, face: hb.Face, join: bool = True) -> Iterator[tuple[int, float, float, float]]:
    """Glyph, x, y, advance in em by HarfBuzz alone; without `join`, one character at a time as a naive writer does."""
    pen = 0.0
    for piece in [text] if join else text:
        buffer = hb.Buffer()
        buffer.add_str(piece)
        buffer.guess_segment_properties()
        hb.shape(hb.Font(face), buffer)
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            yield info.codepoint, (pen + place.x_offset) / face.upem, place.y_offset / face.upem, 0.0
            pen += place.x_advance


def main_face(name: str) -> hb.Face:
    """The face of the name's letters."""
    (run,) = {run.face for run in LETTERING.shape_line([name]).runs if run.text.strip(" -")}
    return hb.Face(SOURCE.font_data(run))


def twin(name: str, join: bool = True) -> bytes:
    """The same page drawn with HarfBuzz's outlines."""
    words = name.split(" ")
    if name in RIGHT_TO_LEFT.values():
        words.reverse()
    space = hb.Font(hb.Face(SOURCE.font_data(SOURCE.primary))).get_glyph_h_advance(3) / 1000
    face, parts, left = main_face(name), [], 0.0
    font = hb.Font(face)
    for word in words:
        for gid, x, y, _ in shaped_straight(word, face, join):
            pen = PathPen(AT[0] + (left + x) * SIZE, AT[1] + y * SIZE, SIZE / face.upem)
            font.draw_glyph_with_pen(gid, pen)
            parts += [*pen.parts, "f"] if pen.parts else []
        left += LETTERING.shape_line([word]).width + space
    document = pymupdf.open()
    put(document, "\n".join(parts).encode(), "<<>>")
    return bytes(document.tobytes())


def test_the_space_measured_above_is_the_space() -> None:
    font = hb.Font(hb.Face(SOURCE.font_data(SOURCE.primary)))
    assert font.get_nominal_glyph(ord(" ")) == 3
    assert font.face.upem == 1000


@pytest.mark.parametrize("renderer", RENDERERS)
@pytest.mark.parametrize("script", NAMES)
def test_it_looks_as_harfbuzz_draws_it(script: str, renderer: str, tmp_path: Path) -> None:
    name = NAMES[script]
    ours = picture(write([[(LETTERING.shape_line([name]), *AT, 0)]]), tmp_path, renderer)
    theirs = picture(twin(name), tmp_path, renderer)
    assert (255 - theirs).sum() > 255 * 800  # there is something to see
    assert difference(theirs, ours) < TOLERANCE[renderer]


@pytest.mark.parametrize("script", ["Arabic", "Devanagari", "Thai"])
def test_unshaped_text_would_be_noticed(script: str, tmp_path: Path) -> None:
    """The comparison above can fail: letters set one by one are far from the shaped word."""
    right, wrong = picture(twin(NAMES[script]), tmp_path), picture(twin(NAMES[script], join=False), tmp_path)
    assert difference(right, wrong) > 0.1


@pytest.mark.parametrize("renderer", RENDERERS)
@pytest.mark.parametrize("angle", [90, 180, 270])
def test_a_turned_label_is_the_label_turned(angle: int, renderer: str, tmp_path: Path) -> None:
    line = LETTERING.shape_line(["T001", "محمد", "क्षितिज", "น้ำ", "Ắy"])
    x, y = AT
    place = {90: (PAGE - y, x), 180: (PAGE - x, PAGE - y), 270: (y, PAGE - x)}[angle]
    upright = picture(write([[(line, x, y, 0)]]), tmp_path, renderer)
    turned = picture(write([[(line, *place, angle)]]), tmp_path, renderer)
    assert difference(upright, np.rot90(turned, -angle // 90)) < TOLERANCE[renderer]


def drawn(pdf: bytes) -> list[tuple[str, int, float, float]]:
    """Face, glyph, x and y of everything on the first page, by reading its operators as ISO 32000-2, 9.4.4 says."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        page = document.pages[0]
        found: list[tuple[str, int, float, float]] = []
        widths: dict[int, float] = {}
        size = rise = x = y = 0.0
        face = ""
        for operands, operator in pikepdf.parse_content_stream(page):
            match str(operator):
                case "Tm":
                    x, y = float(operands[4]), float(operands[5])
                case "Tf":
                    font, size = page.Resources.Font[str(operands[0])], float(operands[1])
                    face, widths = str(font.BaseFont)[8:], widths_of(font)
                case "Ts":
                    rise = float(operands[0])
                case "TJ":
                    for part in operands[0]:
                        if not isinstance(part, pikepdf.String):
                            x -= float(part) / 1000 * size
                            continue
                        for (gid,) in struct.iter_unpack(">H", bytes(part)):
                            found.append((face, gid, x, y + rise))
                            x += widths[gid] / 1000 * size
        return found


def widths_of(font: Any) -> dict[int, float]:
    found: dict[int, float] = {}
    parts = list(font.DescendantFonts[0].W)
    for first, row in zip(parts[::2], parts[1::2], strict=True):
        found.update({int(first) + i: float(width) for i, width in enumerate(row)})
    return found


@try_each("script", NAMES)
def test_every_glyph_stands_where_harfbuzz_put_it(script: str) -> None:
    """To 0.001 em: 2 micrometres in a label of 2 mm."""
    name = NAMES[script].split(" ")[0]
    face = main_face(name)
    expected = list(shaped_straight(name, face))
    found = drawn(write([[(LETTERING.shape_line([name]), 0, 0, 0)]]))
    # A hyphen between Cyrillic words and the like is of the same face; order and numbers are equal throughout.
    assert [gid for _, gid, _, _ in found] == [gid for gid, *_ in expected]
    for (_, _, x, y), (_, want_x, want_y, _) in zip(found, expected, strict=True):
        assert x / SIZE == pytest.approx(want_x, abs=0.001)
        assert y / SIZE == pytest.approx(want_y, abs=0.001)


def test_widths_are_the_fonts() -> None:
    """The W array against the source font's own advances."""
    with pikepdf.open(io.BytesIO(write([[(LETTERING.shape_line(["AVy 王"]), 0, 0, 0)]]))) as document:
        fonts = document.pages[0].Resources.Font
        faces = [hb.Face(SOURCE.font_data(name)) for name in (SOURCE.primary, str(SOURCE.face_for("王")))]
        for key, face in zip(sorted(fonts), faces, strict=True):
            font = hb.Font(face)
            found = widths_of(fonts[key])
            assert found
            for gid, width in found.items():
                assert width == pytest.approx(font.get_glyph_h_advance(gid) * 1000 / face.upem, abs=0.01)


# --- reading back ---


def plain(text: str) -> str:
    """Without the direction marks that readers add, and with spaces as one."""
    kept = "".join(c for c in unicodedata.normalize("NFC", text) if unicodedata.category(c) not in ("Cf", "Cc"))
    return " ".join(re.sub(r"\s", " ", kept).split())


def read_back(pdf: bytes, reader: str, folder: Path) -> str:
    if reader == "pdfium":
        return pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_bounded()
    (folder / "page.pdf").write_bytes(pdf)
    command = [str(PDFTOTEXT), "-raw", "-enc", "UTF-8", str(folder / "page.pdf"), "-"]
    return subprocess.run(command, capture_output=True, check=True).stdout.decode("utf-8")


READERS = ["pdfium", pytest.param("poppler", marks=pytest.mark.skipif(not PDFTOTEXT, reason="no poppler-utils"))]


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("script", LEFT_TO_RIGHT)
def test_it_reads_back(script: str, reader: str, tmp_path: Path) -> None:
    fields = ["T001", LEFT_TO_RIGHT[script], "Adult 2XL", "3/12"]
    pdf = write([[(LETTERING.shape_line(fields), 20, 200, 0)]], size=12)
    assert plain(read_back(pdf, reader, tmp_path)) == " ".join(fields)


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("script", RIGHT_TO_LEFT)
def test_names_from_right_to_left_read_back_word_by_word(script: str, reader: str, tmp_path: Path) -> None:
    """Both readers give such words whole but in the order seen from the left, whoever wrote the page."""
    fields = ["T001", RIGHT_TO_LEFT[script], "Adult 2XL"]
    pdf = write([[(LETTERING.shape_line(fields), 20, 200, 0)]], size=12)
    words = plain(read_back(pdf, reader, tmp_path)).split()
    assert sorted(words) == sorted(" ".join(fields).split())


@pytest.mark.parametrize("reader", READERS)
def test_what_a_glyph_says_in_one_word_does_not_change_another(reader: str, tmp_path: Path) -> None:
    """The Devanagari vowel sign i is one glyph before any letter; it comes first and is read second."""
    words = ["किरण", "निशा", "मिलन"]
    first = [LETTERING.shape_line([word]).runs[0].glyphs[0] for word in words]
    assert len({glyph.gid for glyph in first}) < len({glyph.text for glyph in first})
    pdf = write([[(LETTERING.shape_line(words), 20, 200, 0)]], size=12)
    assert plain(read_back(pdf, reader, tmp_path)) == " ".join(words)


# --- the file ---

EVERYTHING = [*NAMES.values(), "↑ 👍🏽 ❤️ 🇩🇪 \U0001fae8"]


def test_the_file_is_valid(tmp_path: Path) -> None:
    pdf = write([[(LETTERING.shape_line([name]), 20, 200, angle)] for name in EVERYTHING for angle in (0, 90)])
    with pikepdf.open(io.BytesIO(pdf)) as document:
        assert document.check_pdf_syntax() == []
    if QPDF:
        (tmp_path / "all.pdf").write_bytes(pdf)
        subprocess.run([QPDF, "--check", str(tmp_path / "all.pdf")], check=True, capture_output=True)
    pymupdf.TOOLS.reset_mupdf_warnings()
    with pymupdf.open(stream=pdf) as document:
        for page in document:
            page.get_pixmap()
    assert pymupdf.TOOLS.mupdf_warnings() == ""


def test_one_font_object_a_face_and_none_unused() -> None:
    pdf = write([[(LETTERING.shape_line([name]), 20, 200, 0)] for name in ["Zoë", "שרה", "Ελένη", "שרה לוי"] * 3])
    with pikepdf.open(io.BytesIO(pdf)) as document:
        fonts = [o for o in document.objects if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/Font"]
        names = [str(font.BaseFont) for font in fonts if font.Subtype == "/Type0"]
        assert len(names) == 2  # Latin and Greek are one face
        assert {re.sub(r"^/[A-Z]{6}\+", "", name) for name in names} == {
            "NotoSerifRegular-Identity-H",
            "NotoSerifHebrewRegular-Identity-H",
        }
        assert len(document.pages[0].Resources.Font) == 2


def test_only_the_glyphs_used_are_embedded() -> None:
    sizes = {}
    for name in ("王", "王小明欧阳"):
        with pikepdf.open(io.BytesIO(write([[(LETTERING.shape_line([name]), 20, 200, 0)]]))) as document:
            file = document.pages[0].Resources.Font["/L1"].DescendantFonts[0].FontDescriptor.FontFile2
            sizes[name] = len(file.read_raw_bytes())
    assert sizes["王"] < sizes["王小明欧阳"] < 5_000  # the whole font has 3.5 MB


def test_the_same_bytes_in_another_process() -> None:
    code = (
        "import sys, hashlib; sys.path.insert(0, sys.argv[1]); import test_fonts as t\n"
        "pages = [[(t.LETTERING.shape_line([n]), 20, 200, 0)] for n in t.EVERYTHING]\n"
        "print(hashlib.sha256(t.write(pages)).hexdigest())"
    )
    here = hashlib.sha256(write([[(LETTERING.shape_line([n]), 20, 200, 0)] for n in EVERYTHING])).hexdigest()
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code, str(Path(__file__).parent)],
        env={**os.environ, "PYTHONHASHSEED": "4242", "PYTHONPATH": os.pathsep.join(sys.path)},
        check=True,
        capture_output=True,
        text=True,
    )
    assert done.stdout.strip() == here


def test_what_other_documents_drew_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """What draws a word is kept, also for another size and however often a line comes: it must be what it would be."""
    lines = [LETTERING.shape_line([name]) for name in (*EVERYTHING, "X\u0302\u0304 raised", "AVATAR")]
    pages = [[(line, 20, 200, 0), (line, 20, 90, 90)] for line in [*lines, *lines]]
    write(pages, SIZE)
    after_others = write(pages, 9.0)
    monkeypatch.setattr(font_book, "_PLAIN", WeakKeyDictionary())
    monkeypatch.setattr(font_book, "_KEPT_MOST", 0)
    assert write(pages, 9.0) == after_others


def test_order_of_drawing_is_all_that_names_depend_on() -> None:
    book = FontBook(PdfFile(), LETTERING)
    assert book.text_operators(LETTERING.shape_line([]), 0, 0, 6) == b""
    first = book.text_operators(LETTERING.shape_line(["שרה"]), 0, 0, 6)
    assert b"/L1 6 Tf" in first
    assert book.text_operators(LETTERING.shape_line(["שרה"]), 0, 0, 6) == first
    assert b"/L2 6 Tf" in book.text_operators(LETTERING.shape_line(["Zoë"]), 0, 0, 6)
    with pytest.raises(ValueError, match="0, 90, 180 or 270"):
        book.text_operators(LETTERING.shape_line(["Zoë"]), 0, 0, 6, 45)
    assert re.fullmatch(r"/L1 \d+ 0 R /L2 \d+ 0 R", book.embed_fonts())


def test_a_raised_mark_does_not_raise_what_follows() -> None:
    """Text rise outlives the text object (ISO 32000-2, 9.3.1), so every run puts it back."""
    marked, plain_one = LETTERING.shape_line(["X\u0302\u0304", "T001"]), LETTERING.shape_line(["T001"])
    heights = [y for _, _, _, y in drawn(write([[(marked, 0, 0, 0), (plain_one, 0, 50, 0)]]))]
    assert max(heights[:3]) > 0.3 * SIZE
    assert heights[3:] == [0] * (len(heights) - 7) + [50] * 4


# --- the shop's own fonts ---


def own_font(folder: Path, name: str, fs_type: int = 0) -> Path:
    """A font with a few letters, cut from a shipped one, with the embedding permission asked for."""
    plan = hb.SubsetInput()
    plan.unicode_set.update(map(ord, "Zoe- ab"))
    data = bytearray(hb.subset(hb.Face(SOURCE.font_data(SOURCE.primary)), plan).blob.data)
    for i in range(struct.unpack(">H", data[4:6])[0]):
        tag, _, offset, _ = struct.unpack(">4sIII", data[12 + 16 * i : 28 + 16 * i])
        if tag == b"OS/2":
            data[offset + 8 : offset + 10] = struct.pack(">H", fs_type)
    path = folder / name
    path.write_bytes(bytes(data))
    return path


def emoji_font(path: Path) -> None:
    """A font with one character, U+1FAE8: a mathematical letter of a shipped font, renumbered in its cmap."""
    plan = hb.SubsetInput()
    plan.unicode_set.add(0x1D49C)
    data = bytes(hb.subset(hb.Face(SOURCE.font_data(str(SOURCE.face_for("\U0001d49c")))), plan).blob.data)
    group = struct.pack(">II", 0x1D49C, 0x1D49C)  # a group of a format 12 subtable (OpenType, cmap)
    assert data.count(group) == 1
    path.write_bytes(data.replace(group, struct.pack(">II", 0x1FAE8, 0x1FAE8)))


def test_a_shops_own_font_comes_before_the_shipped_ones(tmp_path: Path) -> None:
    path = own_font(tmp_path, "shop.otf")
    lettering = TextShaper(ShippedFonts([path], own_first=True))
    assert lettering.shape_line(["Zoe"]).faces == ("shop",)
    assert lettering.shape_line(["Zoë"]).faces == (SOURCE.primary,)
    assert TextShaper(ShippedFonts([path])).shape_line(["Zoe"]).faces == (SOURCE.primary,)


def test_the_optional_package_draws_emoji_the_shipped_fonts_lack(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A stand-in for the package: a font that has U+1FAE8 (2022), at the place where the package keeps its own."""
    package = tmp_path / "manimgx_fonts"
    package.mkdir()
    (package / "__init__.py").touch()
    font = package / "NotoEmoji[wght].ttf"
    emoji_font(font)
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.delitem(sys.modules, "manimgx_fonts", raising=False)
    lettering = TextShaper(ShippedFonts())
    assert lettering.shape_line(["Zoë \U0001fae8"]).missing == ()
    assert lettering.shape_line(["😀 Zoe"]).faces == ("Noto Emoji Regular", SOURCE.primary)  # only what is left
    font.write_bytes(b"damaged")
    assert TextShaper(ShippedFonts()).shape_line(["Zoë \U0001fae8"]).missing == ("\U0001fae8",)


def test_emoji_are_opened_when_one_is_lettered(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    monkeypatch.setattr(font_book, "_find_newer_emoji", lambda: (opened.append("emoji"), ())[1])
    lettering = TextShaper(ShippedFonts())
    lettering.shape_line(["Zoë 12 😀"])
    assert not opened
    lettering.shape_line(["\U0001fae8"])
    assert opened


def test_fonts_that_cannot_be_used_are_refused_together(tmp_path: Path) -> None:
    text = tmp_path / "notes.ttf"
    text.write_text("not a font")
    forbidden = own_font(tmp_path, "forbidden.otf", fs_type=2)  # OpenType OS/2: restricted license embedding
    with pytest.raises(Trouble) as caught:
        ShippedFonts([text, tmp_path / "missing.otf", forbidden, own_font(tmp_path, "fine.otf", fs_type=8)])
    findings = caught.value.findings
    assert [Path(f.file).name for f in findings] == ["notes.ttf", "missing.otf", "forbidden.otf"]
    assert all(f.what and f.remedy for f in findings)
    assert caught.value.exit is Exit.USAGE


def test_fonts_live_as_long_as_they_are_used() -> None:
    """PyMuPDF's loader of fallback fonts hands out references it does not count; ours must not be among them."""
    sums = set()
    for _ in range(30):
        source = ShippedFonts()
        hebrew, plain = source.font_data(str(source.face_for("ש"))), source.font_data(source.primary)
        sums.add(hashlib.sha256(hebrew + plain).digest())
    assert len(sums) == 1


@pytest.mark.parametrize("length", [0, 1, 8, 9])
def test_a_font_whose_rights_are_cut_off_is_refused(tmp_path: Path, length: int) -> None:
    """fsType is at bytes 8 and 9 of OS/2 (OpenType 1.9.1): from a table that ends before, nobody knows the rights."""
    data = bytearray(own_font(tmp_path, "short.otf").read_bytes())
    for at in range(12, 12 + 16 * int.from_bytes(data[4:6], "big"), 16):
        if data[at : at + 4] == b"OS/2":
            data[at + 12 : at + 16] = length.to_bytes(4, "big")
    path = tmp_path / "cut.otf"
    path.write_bytes(data)
    with pytest.raises(Trouble, match="OS/2 ends early"):
        ShippedFonts([path])


class PicturesOf:
    """A face in which glyphs picture characters as given; others have no character of their own."""

    def __init__(self, **glyphs: int) -> None:
        self.glyphs = dict(glyphs)

    def glyph_of(self, char: str) -> int:
        return self.glyphs.get(char, 0)

    def char_of(self, gid: int) -> str:
        return next((char for char, known in self.glyphs.items() if known == gid), "")

    def advance_width(self, gid: int) -> float:
        return 0.5


def test_what_a_cluster_says_is_read_once_however_many_glyphs_it_has():
    """ISO 32000-1, 9.10.3: text is what ToUnicode says glyph by glyph, so that glyphs together must say it once."""

    def read(face: PicturesOf, text: str, *gids: int) -> str:
        font = font_book._UsedFace.__new__(font_book._UsedFace)
        font.face, font.texts, font.widths = face, {}, {}  # type: ignore[assignment]
        return font.note_cluster([ShapedGlyph(gid, 0.5, 0.0, 0.0, "" if at else text) for at, gid in enumerate(gids)])

    plain = PicturesOf(a=1, b=2)
    assert read(plain, "a", 1) == "a"
    assert read(plain, "ab", 1, 2) == "ab"
    # A ligature says all of it, and so does a form that stands for a letter.
    assert read(plain, "ab", 9) == "ab"
    assert read(plain, "a", 9) == "a"
    # Two glyphs of which neither pictures a character of the text do not say it twice.
    assert read(plain, "x", 8, 9) == ""
    assert read(plain, "x", 8, 2) == "b"
    # A bracket from right to left pictures its mirror image, and reads as what is seen.
    assert read(PicturesOf(**{"(": 1, ")": 2}), ")", 1) == "("
