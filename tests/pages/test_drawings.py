"""Words drawn as outlines on delivered sheets, measured by pdfium and poppler, against FreeType and the fonts' units.

OpenType 1.9.1: coordinates of outlines are in units of which head.unitsPerEm make an em.
"""

from __future__ import annotations

import json
import re
import struct
from pathlib import Path

import font_source_sans_pro as source_sans
import numpy as np
import pikepdf
import pypdfium2
import pytest

from impose.errors import Trouble
from impose.pages.pdf.font_book import ShippedFonts
from impose.pages.pdf.readback import check_sheets
from impose.run import Options, Plan, plan, produce
from papercheck import Crops, Measured, darkest_channel, faults

pytestmark = pytest.mark.usefixtures("sheets_alone")

TRUETYPE = Path(source_sans.SourceSansProBold).with_suffix(".ttf")
CFF = TRUETYPE.with_suffix(".otf")
SCRIPTS = {"arabic": "مريم", "hebrew": "דנה", "devanagari": "क्षितिज", "thai": "กำธร"}


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Path, dict[str, Path]]:
    """Names in both kinds of outlines and four scripts, a number, an outline, an arc; one of them twice."""
    folder = tmp_path_factory.mktemp("team")
    shipped = ShippedFonts()
    faces = {"latin.ttf": "BODEGA 8%", "latin.otf": "Ångström & Qo"}
    (folder / "latin.ttf").write_bytes(TRUETYPE.read_bytes())
    (folder / "latin.otf").write_bytes(CFF.read_bytes())
    for script, name in SCRIPTS.items():
        face = shipped.face_for(name[0])
        assert face is not None
        (folder / f"{script}.ttf").write_bytes(shipped.font_data(face))
        faces[f"{script}.ttf"] = name
    rows = [f"{name},{font},40 mm,1" for font, name in faces.items()]
    rows += ["10,number,30 mm,2", "B8,number-outlined,30 mm,1", "Inge,arched,40 mm,1"]
    (folder / "b.csv").write_text("words,font,width,copies\n" + "\n".join(rows), "utf-8")
    made = plan([folder / "b.csv"], Options(settings={"papers": ["a3"]}, steps=20))
    produce(made, folder / "out")
    return made, folder / "out", {font: folder / font for font in faces}


# Both renderers see every kind of sheet in tests/test_truth_on_paper.py.
@pytest.mark.parametrize("renderer", ["pdfium", pytest.param("poppler", marks=pytest.mark.long)])
def test_the_loupe_finds_every_letter_where_freetype_has_it(team, renderer):
    _, out, faces = team
    measured = Measured()
    assert faults(out, out.parent, renderer, measured, faces=faces) == []
    assert measured.edge_mm <= 0.015
    assert measured.overlap > 0.99


def test_the_record_has_no_pixels(team):
    _, out, _ = team
    record = json.loads((out / "batch.json").read_text("utf-8"))
    for sheet in record["sheets"]:
        for one in sheet["transfers"]:
            assert (one["ink_px"], one["ppi"], one["mirrored"]) == (None, None, True)


def test_no_picture_is_in_the_file_and_every_drawing_once(team):
    _, out, _ = team
    with pikepdf.open(out / "sheets-a3.pdf") as document:
        kinds = [str(thing.get("/Subtype", "")) for thing in document.objects if isinstance(thing, pikepdf.Stream)]
    assert "/Image" not in kinds
    assert kinds.count("/Form") == 9  # ten transfers, one of them a copy


def test_the_same_bytes_again(team, tmp_path):
    _, out, _ = team
    produce(plan([out.parent / "b.csv"], Options(settings={"papers": ["a3"]}, steps=20)), tmp_path / "again")
    assert (tmp_path / "again" / "sheets-a3.pdf").read_bytes() == (out / "sheets-a3.pdf").read_bytes()


def _glyph_box(font: bytes, gid: int) -> tuple[int, int, int, int]:
    """xMin, yMin, xMax, yMax of a glyph, as its own header says (OpenType 1.9.1, glyf)."""
    tables = {}
    for index in range(struct.unpack(">H", font[4:6])[0]):
        tag, _, offset, _ = struct.unpack(">4sIII", font[12 + 16 * index : 28 + 16 * index])
        tables[tag] = offset
    long = struct.unpack(">h", font[tables[b"head"] + 50 : tables[b"head"] + 52])[0]
    size, kind = (4, "I") if long else (2, "H")
    at = tables[b"loca"] + gid * size
    offset = struct.unpack(f">{kind}", font[at : at + size])[0] * (1 if long else 2)
    box = font[tables[b"glyf"] + offset + 2 : tables[b"glyf"] + offset + 10]
    found: tuple[int, int, int, int] = struct.unpack(">4h", box)
    return found


@pytest.mark.parametrize("letter", ["O", "g", "W", "J", "&", "7"])
def test_a_letter_has_the_proportions_of_its_glyph(tmp_path, letter):
    """Its width in print over its height is that of the font's own units, to 0.01 mm in 200."""
    import uharfbuzz as hb

    font = TRUETYPE.read_bytes()
    gid = hb.Font(hb.Face(font)).get_nominal_glyph(ord(letter))
    left, bottom, right, top = _glyph_box(font, gid)
    (tmp_path / "f.ttf").write_bytes(font)
    (tmp_path / "b.csv").write_text(f"words,font,height,may_turn\n{letter},f.ttf,200 mm,no\n", "utf-8")
    made = plan([tmp_path / "b.csv"], Options(settings={"papers": ["a3"]}, steps=5))
    ink = made.layout.sheets[0].placed[0].ink
    assert ink.h == pytest.approx(200, abs=1e-6)
    assert ink.w == pytest.approx(200 * (right - left) / (top - bottom), abs=0.01)


def test_words_as_panels_meet_to_the_pixel(tmp_path):
    """What two panels show of their overlap is the same, and all of it together is the whole."""
    (tmp_path / "b.csv").write_text("words,font,width\nLANTERN,block,500 mm\n", "utf-8")
    made = plan([tmp_path / "b.csv"], Options(settings={"papers": ["a4"]}, oversize="panels", steps=5))
    produce(made, tmp_path / "out")
    record = json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))
    crops = Crops(tmp_path / "out" / "sheets-a4.pdf", tmp_path)
    shown = [(one, crops.add(sheet["page"], one["ink_mm"])) for sheet in record["sheets"] for one in sheet["transfers"]]
    crops.save()
    canvas: dict[int, np.ndarray] = {}
    for one, crop in shown:
        raster = darkest_channel(crops.pdfium(crop, 254))
        worn = (np.rot90(raster, 1) if one["turned"] else raster)[:, ::-1]
        at = round(one["panel"]["worn_mm"]["x"] * 10)
        for column in range(2, worn.shape[1] - 2):
            known = canvas.setdefault(at + column, worn[:, column])
            high = min(len(known), worn.shape[0])
            # Panels begin between pixels, so that an upright edge may be half a pixel off.
            assert (np.abs(known[:high].astype(int) - worn[:high, column]) > 200).mean() < 0.9
    assert len(canvas) > 4980
    assert faults(tmp_path / "out", tmp_path) == []


def _rewritten(pattern: bytes, by: bytes):
    def change(document: pikepdf.Pdf) -> None:
        content, found = re.subn(pattern, by, document.pages[0].Contents.read_bytes(), count=1)
        assert found
        document.pages[0].Contents.write(content)

    return change


def _other_curves(document: pikepdf.Pdf) -> None:
    form = document.pages[0].Resources.XObject.P1
    form.write(re.sub(rb" l ", b" 1 add l ", form.read_bytes(), count=1))


def _swapped(document: pikepdf.Pdf) -> None:
    forms = document.pages[0].Resources.XObject
    forms.P1, forms.P2 = forms.P2, forms.P1


CHANGES = {
    "two swapped": (_swapped, "another picture"),
    "other curves": (_other_curves, "another picture"),
    "one less": (_rewritten(rb"/P1 Do", b""), "pictures instead of"),
    "moved by a tenth of a millimetre": (_rewritten(rb"^/OC /L0 BDC\n", b"1 0 0 1 0.28 0 cm /OC /L0 BDC\n"), "lies at"),
    "a hair larger": (_rewritten(rb"^/OC /L0 BDC\n", b"1.0005 0 0 1 0 0 cm /OC /L0 BDC\n"), "lies at"),
    "one more path": (_rewritten(rb"^/OC /L0 BDC\n", b"/OC /L0 BDC\n0 0 9 9 re f\n"), "lies at"),
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_outline_is_noticed(team, tmp_path, name):
    made, out, _ = team
    change, words = CHANGES[name]
    with pikepdf.open(out / "sheets-a3.pdf") as document:
        change(document)
        document.save(tmp_path / "changed.pdf")
    with pytest.raises(Trouble, match=words):
        check_sheets(tmp_path / "changed.pdf", made.layout.sheets, made.printer)


def test_white_letters_leave_the_cloth_alone(tmp_path):
    """White is no ink: inside its outline a letter prints nothing."""
    (tmp_path / "b.csv").write_text('words,font,width\nO,"number-outlined, colour #fff",50 mm\n', "utf-8")
    produce(plan([tmp_path / "b.csv"], Options(settings={"papers": ["a4"]}, steps=5)), tmp_path / "out")
    page = pypdfium2.PdfDocument(tmp_path / "out" / "sheets-a4.pdf")[0]
    colours = page.render(scale=1).to_pil().convert("RGB").getcolors(1 << 20)
    assert max(colours)[1] == (255, 255, 255)
    assert (0x14, 0x21, 0x3D) in {colour for _, colour in colours}
    assert (0xF2, 0xB2, 0x1D) not in {colour for _, colour in colours}
