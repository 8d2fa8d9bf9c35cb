"""Delivered sheets measured by renderers that did not write them, and proof that the measuring would see a fault."""

from __future__ import annotations

import json
import zlib
from pathlib import Path

import pikepdf
import pytest

import papercheck
from impose.run import Options, Plan, plan, produce
from impose.sheet.layout import BatchLayout, SheetLayout
from impose.sheet.marks import MarkStroke
from impose.values import replace

pytestmark = pytest.mark.usefixtures("sheets_alone")

PICTURES = {
    "owl.png": ("ellipse", 120, 90),
    "words.png": ("words", 330, 40),
    "glow.png": ("gradient", 75, 75),
    "sky.png": ("noise", 200, 260),
}
LINES = [
    "R-1,Ilka,owl.png,left-chest,youth M,3,,,,,",
    "R-1,Bo,sky.png,,hoodie adult L,1,200 mm,,,,",
    "R-2,Żaneta Ðurić,words.png,,Adult S,4,240 mm,,,,",
    "R-3,Γιώργος,glow.png,,Adult M,5,61.3 mm,,tight,mass,",
    "R-3,Оля,owl.png,,Adult M,2,70 mm,,,canvas,no",
    "R-4,Wide,sky.png,,Adult M,1,203.7 mm,,,,",
]


def options(**more: object) -> Options:
    settings = {"papers": ["a4", "13x19"], **more}
    return Options(settings=settings, steps=200)


@pytest.fixture(scope="module")
def delivered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Plan]:
    from conftest import draw

    folder = tmp_path_factory.mktemp("truth")
    for seed, (name, (kind, width, height)) in enumerate(PICTURES.items()):
        draw(kind, width, height, seed).save(folder / name)
    source = folder / "evening.csv"
    heading = "order,wearer,art,placement,garment,copies,width,height,tear,centre,may_turn"
    source.write_text("\n".join([heading, *LINES]) + "\n", "utf-8")
    planned = plan([source], options())
    return produce(planned, folder / "out"), folder, planned


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan]:
    """Two prints on one sheet: enough for a fault to be seen."""
    from conftest import draw

    folder = tmp_path_factory.mktemp("small")
    for name in ("owl.png", "glow.png"):
        kind, width, height = PICTURES[name]
        draw(kind, width, height, 1).save(folder / name)
    source = folder / "few.csv"
    rows = ["R-1,Ilka,owl.png,left-chest,youth M,1,60 mm", "R-3,Bo,glow.png,,Adult M,1,40 mm"]
    source.write_text("\n".join(["order,wearer,art,placement,garment,copies,width", *rows]) + "\n", "utf-8")
    planned = plan([source], options(papers=["a4"]))
    assert papercheck.faults(produce(planned, folder / "true"), folder) == []
    return folder, planned


@pytest.mark.parametrize("renderer", ["pdfium", pytest.param("poppler", marks=pytest.mark.long)])
def test_every_transfer_prints_true(delivered, renderer):
    """Pixel for pixel at its own resolution, ticks on their lines, nothing in kept paper or tear zone."""
    out, art, _ = delivered
    measured = papercheck.Measured()
    assert papercheck.faults(out, art, renderer, measured) == []
    assert measured.pixel == 0 or measured.pixel == 1  # flattening may round a soft edge by one level
    assert measured.size_mm < 0.05
    assert measured.tick_mm < 0.1


def test_both_ways_round_were_looked_at(delivered):
    record = json.loads((delivered[0] / "batch.json").read_text("utf-8"))
    transfers = [transfer for sheet in record["sheets"] for transfer in sheet["transfers"]]
    assert {transfer["turned"] for transfer in transfers} == {0, 90}
    assert len(transfers) == 16


def test_a_back_print_of_8_25_in_on_letter_paper_prints_true(batch, tmp_path):
    """209.55 mm of ink in 209.9 mm of printable width (common practice, no source): sides of 0.175 mm, no tick."""
    source = batch(["R-1,Bo,sky.png,,adult L,1,8.25 in,,,,"], {"sky.png": ("noise", 330, 370)})
    planned = plan([source], options(papers=["letter"]))
    out = produce(planned, tmp_path / "out")
    record = json.loads((out / "batch.json").read_text("utf-8"))
    (transfer,) = record["sheets"][0]["transfers"]
    assert transfer["ink_mm"]["w"] == pytest.approx(209.55)
    assert transfer["ink_mm"]["x"] == pytest.approx(3 + 0.175, abs=0.002)
    assert sum(transfer["tear_mm"]["left"]) == pytest.approx(0.175, abs=0.002)
    assert sum(transfer["tear_mm"]["top"]) == 10
    assert any(finding["kind"] == "thin-margin" for finding in record["findings"])
    for renderer in ("pdfium", "poppler"):
        assert papercheck.faults(out, tmp_path, renderer) == []


def test_the_example_prints_true(tmp_path):
    """Its A4 sheets; the larger ones hold the same pictures and take a minute to look at."""
    example = Path(__file__).resolve().parent.parent / "examples" / "lantern-night"
    planned = plan([example / "orders.csv"], Options(settings={"papers": ["a4", "13x19"]}, steps=100))
    assert planned.transfer_count >= 40
    out = produce(planned, tmp_path / "out")
    assert papercheck.faults(out, example, only="sheets-a4") == []


def spoiled(planned: Plan, change) -> Plan:
    sheets = tuple(change(sheet) for sheet in planned.layout.sheets)
    layout = planned.layout
    return replace(planned, layout=BatchLayout(layout.code, layout.name, sheets, layout.findings))


def mirrored_again(sheet: SheetLayout) -> SheetLayout:
    """The pictures flipped once more, as a second mirroring would."""

    def flip(placed):
        picture = placed.transfer.piece.picture
        left, top, right, bottom = picture.ink
        width, rows = right - left, bottom - top
        size = width * picture.components + 1
        raw = zlib.decompress(picture.data)
        decoded, above = bytearray(), bytes(size - 1)
        for index in range(rows):
            row = bytes((a + b) & 255 for a, b in zip(raw[index * size + 1 : (index + 1) * size], above, strict=True))
            above = row
            pixels = [row[i : i + picture.components] for i in range(0, len(row), picture.components)]
            decoded += b"\0" + b"".join(reversed(pixels))
        wrong = replace(picture, data=zlib.compress(bytes(decoded)))
        piece = replace(placed.transfer.piece, picture=wrong)
        return replace(placed, transfer=replace(placed.transfer, piece=piece))

    return replace(sheet, placed=tuple(flip(placed) for placed in sheet.placed))


def tick_shifted(sheet: SheetLayout) -> SheetLayout:
    first, *rest = sheet.ticks
    return replace(sheet, ticks=(MarkStroke(first.x1 + 0.3, first.y1, first.x2 + 0.3, first.y2), *rest))


def dot_in_tear_zone(sheet: SheetLayout) -> SheetLayout:
    ink = sheet.placed[0].ink
    dot = MarkStroke(ink.x - 6.5, ink.y + 10, ink.x - 6.3, ink.y + 10)
    return replace(sheet, ticks=(*sheet.ticks, dot))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (mirrored_again, "pixels differ"),
        (tick_shifted, "tick is 0.30 mm off"),
        (dot_in_tear_zone, "printed in kept paper or tear zone"),
    ],
)
def test_the_loupe_sees_what_is_wrong(small, tmp_path, change, words):
    art, planned = small
    out = produce(spoiled(planned, change), tmp_path / "out")
    found = papercheck.faults(out, art)
    assert any(words in fault for fault in found), found


def test_a_printer_that_prints_short_is_corrected_about_the_top_left_corner(batch, tmp_path):
    """A ruler of 100 mm asked of a printer that makes 99.8 of 100 (its scale) measures 100 after printing."""
    source = batch(["R-1,Ilka,owl.png,,,1,80 mm,,,,"], {"owl.png": ("ellipse", 120, 90)})
    measured = {}
    for printer in ("careful", "measured"):
        planned = plan([source], options(papers=["a4"], printer=printer))
        out = produce(planned, tmp_path / printer)
        transfer = json.loads((out / "batch.json").read_text("utf-8"))["sheets"][0]["transfers"][0]
        with pikepdf.open(out / "sheets-a4.pdf") as document:
            matrix = [float(x) for x in _matrix(document.pages[0], b"Do")]
        scale = planned.printer.scale_x, planned.printer.scale_y
        width = matrix[0] * scale[0] * 25.4 / 72
        left = matrix[4] * scale[0] * 25.4 / 72
        measured[printer] = (width, left)
        assert width == pytest.approx(transfer["ink_mm"]["w"], abs=0.001)
        assert left == pytest.approx(transfer["ink_mm"]["x"], abs=0.001)
        top = (297 * 72 / 25.4 - matrix[5] - matrix[3]) * scale[1] * 25.4 / 72
        assert top == pytest.approx(transfer["ink_mm"]["y"], abs=0.001)
    assert measured["careful"][0] == pytest.approx(measured["measured"][0], abs=0.001)


def _matrix(page: pikepdf.Page, operator: bytes) -> list[float]:
    """The current transformation at the first use of an operator: the product of the matrices before it."""
    current = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0]
    for instruction in pikepdf.parse_content_stream(page):
        if str(instruction.operator) == "cm":
            a, b, c, d, e, f = (float(x) for x in instruction.operands)
            x = current
            current = [
                a * x[0] + b * x[2],
                a * x[1] + b * x[3],
                c * x[0] + d * x[2],
                c * x[1] + d * x[3],
                e * x[0] + f * x[2] + x[4],
                e * x[1] + f * x[3] + x[5],
            ]
        if str(instruction.operator) == operator.decode():
            return current
    raise AssertionError("the operator is not used")
