"""Lists for spreadsheets run nothing and a customer's page names no folder: judged by OWASP and the order's text."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from conftest import draw
from each_case import try_each
from impose.pages.csv_list import make_csv, make_reprint_list
from impose.run import Options, plan, produce

# OWASP, "CSV Injection": a cell that begins with one of these may be run; the full-width forms in some settings.
STARTS = ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"]


@try_each("start", STARTS)
def test_no_cell_of_a_list_begins_like_a_formula(start: str) -> None:
    cell = f"{start}SUM(1+1)*cmd|' /C calc'!A0"
    text = make_csv(("a", "b"), [("harmless", cell)])
    (_, (_, read)) = csv.reader(io.StringIO(text, newline=""))
    assert read == f"'{cell}"


@pytest.mark.parametrize("cell", ["-3", "-0.25", "Ana", "5 @ 3", "a=b", ""])
def test_numbers_and_plain_words_are_left_as_they_are(cell: str) -> None:
    assert list(csv.reader(io.StringIO(make_csv(("a",), [(cell, "x")]), newline="")))[1][0] == cell


@try_each("start", STARTS)
def test_the_reprint_list_is_safe_in_every_column_that_a_customer_fills(start: str) -> None:
    said = {"order": f"{start}one", "wearer": f"{start}two", "garment": f"{start}three"}
    one = {"id": "T001", "placement": "left-chest", "copy": 1, "copies": 1, **said}
    record = {"code": "K7", "sheets": [{"sheet": 1, "transfers": [one]}]}
    read = list(csv.DictReader(io.StringIO(make_reprint_list(record).decode("utf-8-sig"), newline="")))
    assert [read[0][name] for name in ("order", "wearer", "garment")] == [
        f"'{start}{n}" for n in ("one", "two", "three")
    ]


def test_a_customers_page_names_the_file_and_no_folder(tmp_path: Path) -> None:
    """A folder may be named for another customer."""
    (tmp_path / "Rival Ltd" / "late payers").mkdir(parents=True)
    draw("ellipse", 200, 200).save(tmp_path / "Rival Ltd" / "late payers" / "owl.png")
    art = "Rival Ltd/late payers/owl.png"
    (tmp_path / "b.csv").write_text(f"order,wearer,art,garment,width\nCrew,Ines,{art},adult M,90 mm\n", "utf-8")
    options = Options(settings={"papers": ["a4"]}, steps=5, workers=1, cache=False)
    out = produce(plan([tmp_path / "b.csv"], options), tmp_path / "out")
    page = (out / "approval" / "crew.html").read_text("utf-8")
    assert "owl.png" in page
    pdf = _pdf_text(out / "approval" / "crew.pdf")
    for word in ("Rival", "late payers", str(tmp_path), tmp_path.name):
        assert word not in page
        assert word not in pdf


def _pdf_text(path: Path) -> str:
    import pypdfium2

    return " ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(path))
