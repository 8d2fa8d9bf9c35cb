"""Marks, words and name tags of the proof's drawings: the printed ones where pdfium reads them in the PDF."""

from __future__ import annotations

import ctypes
import math
import re

import pypdfium2
import pypdfium2.raw as pdfium
import pytest

from pages.proof.reading import Made, Node, parsed
from pages.proof.test_drawings import box, drawings, mm

MM = 25.4 / 72


def printed(made: Made, sheet: dict) -> tuple[pypdfium2.PdfDocument, pypdfium2.PdfPage]:
    document = pypdfium2.PdfDocument(made.folder / sheet["file"])
    return document, document[sheet["page"] - 1]


def read_characters(page: pypdfium2.PdfPage, high: float) -> list[tuple[str, float, float, float]]:
    """Each character with the place of its origin, y down, and its angle clockwise in degrees."""
    text = page.get_textpage()
    found = []
    for at in range(text.count_chars()):
        x, y = ctypes.c_double(), ctypes.c_double()
        if pdfium.FPDFText_GetCharOrigin(text, at, x, y):
            turned = math.degrees(pdfium.FPDFText_GetCharAngle(text, at))
            found.append((chr(pdfium.FPDFText_GetUnicode(text, at)), x.value * MM, high - y.value * MM, turned % 360))
    return found


def read_strokes(page: pypdfium2.PdfPage, high: float) -> set[tuple[float, ...]]:
    """Every straight stroke of the page, from and to, y down, to a tenth of a millimetre."""
    found = set()
    for thing in page.get_objects([pdfium.FPDF_PAGEOBJ_PATH]):
        a, b, c, d, e, f = thing.get_matrix().get()
        last = (0.0, 0.0)
        for at in range(pdfium.FPDFPath_CountSegments(thing)):
            segment = pdfium.FPDFPath_GetPathSegment(thing, at)
            x, y = ctypes.c_float(), ctypes.c_float()
            pdfium.FPDFPathSegment_GetPoint(segment, x, y)
            here = (a * x.value + c * y.value + e) * MM, high - (b * x.value + d * y.value + f) * MM
            if pdfium.FPDFPathSegment_GetType(segment) == pdfium.FPDF_SEGMENT_LINETO:
                found.add(tuple(round(value, 1) + 0 for value in (*last, *here)))
            last = here
    return found


def drawn_strokes(node: Node) -> list[tuple[float, ...]]:
    found = re.findall(r"M([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)", node.attributes["d"])
    return [tuple(float(value) for value in stroke) for stroke in found]


def test_ticks_and_rulers_are_drawn_where_they_are_printed(made: Made):
    counted = 0
    for drawing, sheet in zip(drawings(parsed(made.proof)), made.record["sheets"], strict=True):
        document, page = printed(made, sheet)
        strokes = read_strokes(page, sheet["height_mm"])
        ticks, rulers = drawing.all("path", class_="ticks")
        assert drawn_strokes(ticks)
        assert drawn_strokes(rulers)
        for stroke in drawn_strokes(ticks) + drawn_strokes(rulers):
            near = [s for s in strokes if all(abs(a - b) <= 0.11 for a, b in zip(s, stroke, strict=True))]
            assert near, (sheet["number"], stroke)
            counted += 1
        document.close()
    assert counted > 4 * made.planned.transfer_count


def test_words_are_drawn_where_and_as_they_are_printed(made: Made):
    """Labels and slug: each line begins where the PDF has its first letter, and runs the same way."""
    counted = 0
    for drawing, sheet in zip(drawings(parsed(made.proof)), made.record["sheets"], strict=True):
        document, page = printed(made, sheet)
        characters = read_characters(page, sheet["height_mm"])
        lines = [node for kind in ("labels", "slug") for g in drawing.all("g", class_=kind) for node in g.all("text")]
        for node in lines:
            x, y = (float(node.attributes[name]) for name in ("x", "y"))
            turned = 0.0
            if "transform" in node.attributes:
                turned, *around = map(float, re.findall(r"[-\d.]+", node.attributes["transform"]))
                assert around == pytest.approx([x, y], abs=1e-3)
            assert any(
                sign == node.text[0] and abs(x - left) < 0.1 and abs(y - down) < 0.1 and abs(angle - turned % 360) < 1
                for sign, left, down, angle in characters
            ), (sheet["number"], node.text, x, y, turned)
            counted += 1
        document.close()
    assert counted >= made.planned.transfer_count + len(made.record["sheets"])


def test_each_print_has_a_name_tag_that_lies_on_it_and_reads(made: Made):
    """Whose print it is, on its own transfer, in its order's colour, in letters of 2 mm at least."""
    for drawing, sheet in zip(drawings(parsed(made.proof)), made.record["sheets"], strict=True):
        (tags,) = drawing.all("g", class_="tags")
        groups = drawing.all("g", class_="one")
        assert len(tags.children) == len(groups) == len(sheet["transfers"])
        for tag, group, transfer in zip(tags.children, groups, sheet["transfers"], strict=True):
            assert isinstance(tag, Node)
            (chip,), (text,) = tag.all("rect", class_="chip"), tag.all("text")
            left, top, wide, high = box(chip)
            cell, ink = mm(transfer["cell_mm"]), mm(transfer["ink_mm"])
            assert cell[0] <= left < left + wide <= cell[0] + cell[2] + 0.01
            assert cell[1] <= top < top + high <= cell[1] + cell[3]
            assert top < ink[1] + ink[3] / 2, "along the upper edge"
            x, y, size = (float(text.attributes[name]) for name in ("x", "y", "font-size"))
            assert size >= 1.5
            assert left < x < x + float(text.attributes["textlength"]) < left + wide, "the words are within"
            assert top < y - 0.7 * size < y < top + high
            assert y - 0.35 * size == pytest.approx(top + high / 2, abs=0.01), "and in the middle"
            wearer = transfer["wearer"] or transfer["order"]
            assert text.text
            assert wearer.startswith(text.text.rstrip("…"))
            assert tag.attributes["class"].split()[-1] == group.attributes["class"].split()[-1]
