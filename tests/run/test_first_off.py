"""First one off: one garment of each run on sheets of its own, whatever else is asked of the sheets."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
import papercheck
from impose.printing.sheet_runs import read_batch
from impose.run.first_off import choose_firsts

pytestmark = pytest.mark.usefixtures("sheets_alone")

PICTURES = {"owl.png": ("ellipse", 200, 200), "fox.png": ("noise", 200, 200)}
HEADING = "order,wearer,art,placement,garment,copies,width"
ROWS = [
    "Rowers,crew,owl.png,left-chest,T-shirt adult L,5,90mm",
    "Rowers,crew,fox.png,full-back,T-shirt adult L,5,120mm",
    "Mill,Ann,owl.png,left-chest,T-shirt adult M,,90mm",
    "Mill,Bo,owl.png,left-chest,T-shirt youth M,,70mm",
    "Mill,Cy,fox.png,left-chest,T-shirt adult M,,90mm",
]


def record_of(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "batch.json").read_text("utf-8"))


@pytest.fixture
def made(batch, run, tmp_path):
    def make(*more: Any, rows: list[str] = ROWS, name: str = "out", code: int = 0) -> Path:
        source = batch(rows, PICTURES, HEADING)
        got, _, err = run("sheets", source, "-o", tmp_path / name, "--steps", 20, "-p", "a4", *more)
        assert got == code, err
        return tmp_path / name

    return make


def test_the_first_garment_of_each_run_lies_on_sheets_of_its_own(made, run):
    folder = made("--first")
    record = record_of(folder)
    first = [sheet for sheet in record["sheets"] if sheet.get("first")]
    assert [sheet["sheet"] for sheet in first] == list(range(1, len(first) + 1))
    assert {sheet["file"] for sheet in first} == {"first-a4.pdf"}
    assert {sheet["file"] for sheet in record["sheets"] if sheet not in first} == {"sheets-a4.pdf"}
    on_first = {(t["wearer"], t["placement"], t["copy"]) for sheet in first for t in sheet["transfers"]}
    # The crew is a run of five; Ann and Bo are alike; Cy has nobody like him.
    assert on_first == {("crew", "left-chest", 1), ("crew", "full-back", 1), ("Ann", "left-chest", 1)}
    assert sum(len(sheet["transfers"]) for sheet in record["sheets"]) == 13
    assert record["first"]["garments"] == 2
    assert record["first"]["sheets"] == len(first)
    assert record["options"]["first"] is True
    assert [paper["sheets"] for paper in record["paper"]] == [len(record["sheets"])]


def test_the_files_are_what_the_record_says_by_another_renderer(made, tmp_path):
    assert papercheck.faults(made("--first"), tmp_path, only="") == []


def test_what_it_takes_more_is_told_and_true(made):
    apart, together = record_of(made("--first")), record_of(made(name="plain"))
    more = apart["first"]["more"]
    assert more["sheets"] == len(apart["sheets"]) - len(together["sheets"])
    assert float(more["cost"]) == pytest.approx(float(apart["cost"]) - float(together["cost"]))
    assert any(f["kind"] == "first-off" for f in apart["findings"])
    assert "first" not in together


@pytest.mark.documents
def test_tickets_and_slug_say_that_it_is_looked_at_first(made):
    folder = made("--first")
    with pypdfium2.PdfDocument(folder / "tickets.pdf") as document:
        pages = [page.get_textpage().get_text_bounded() for page in document]
    assert "First ones off: tickets 1 to 2" in pages[0]
    marked = "\n".join(pages)
    assert marked.count("FIRST ONE OFF") == 2
    assert marked.count("look at it before you print the rest") == 2
    for name, count in (("first-a4.pdf", 1), ("sheets-a4.pdf", 0)):
        with pypdfium2.PdfDocument(folder / name) as document:
            text = "".join(page.get_textpage().get_text_bounded() for page in document)
        assert min(1, text.count("first one off")) == count, name


def test_the_first_ones_are_printed_alone_and_then_the_rest(made):
    record = made("--first") / "batch.json"
    whole = read_batch(record, record.read_bytes())
    held = whole.hold_rest([])
    numbers = [sheet.number for run in held.runs for sheet in run.sheets]
    assert held.held
    assert set(numbers) == whole.first
    assert {run.pdf.name for run in held.runs} == {"first-a4.pdf"}
    assert whole.hold_rest(whole.first) == whole
    assert not whole.hold_rest(whole.first).held
    plain = made(name="plain") / "batch.json"
    assert read_batch(plain, plain.read_bytes()).hold_rest([]).held is False


def test_a_batch_without_runs_is_made_as_ever(made):
    folder = made("--first", rows=[ROWS[2], ROWS[4]])
    record = record_of(folder)
    assert "first" not in record
    assert any("no run has two" in f["what"] for f in record["findings"])
    assert {sheet["file"] for sheet in record["sheets"]} == {"sheets-a4.pdf"}


def test_in_parts_the_first_ones_have_files_of_their_own(made):
    folder = made("--first", "--part-sheets", 1)
    record = record_of(folder)
    files = [sheet["file"] for sheet in record["sheets"]]
    first = record["first"]["sheets"]
    assert files[:first] == [f"first-a4-{n:03}.pdf" for n in range(1, first + 1)]
    assert files[first:] == [f"sheets-a4-{n:03}.pdf" for n in range(1, len(files) - first + 1)]
    assert all((folder / name).exists() for name in files)


def test_what_is_left_of_the_paper_is_for_both_together(made, run, tmp_path, monkeypatch):
    monkeypatch.setenv("IMPOSE_LEDGER", str(tmp_path / "ledger.db"))
    needed = len(record_of(made("--first"))["sheets"])
    assert run("stock", "a4", "--set", needed)[0] == 0
    made("--first", name="enough")
    assert json.loads(run("stock", "a4", "--json")[1])[0]["left"] == 0
    assert run("stock", "a4", "--set", needed - 1)[0] == 0
    made("--first", name="short", code=4)


def test_reprints_of_both_kinds_of_sheet_work(made, run, tmp_path):
    folder = made("--first")
    for number in (1, len(record_of(folder)["sheets"])):
        out = tmp_path / f"again{number}"
        code, _, err = run("reprint", folder, "--sheet", number, "-o", out, "--steps", 20)
        assert code == 0, err
        assert "first" not in record_of(out)
        assert not any(sheet.get("first") for sheet in record_of(out)["sheets"])


def test_printed_sheets_and_first_ones_are_not_both_taken(made, run, tmp_path):
    folder = made()
    source = tmp_path / "evening.csv"
    code, _, err = run("sheets", source, "--first", "--onto", folder, "-o", tmp_path / "x")
    assert code == 2
    assert "first ones off and printed sheets" in err


@pytest.mark.documents
def test_the_same_bytes_again(made):
    first, again = made("--first"), made("--first", name="again")
    for name in ("first-a4.pdf", "sheets-a4.pdf", "tickets.pdf"):
        assert (first / name).read_bytes() == (again / name).read_bytes()


@pytest.mark.documents
def test_a_kit_is_a_run_whatever_its_words_and_sizes(batch, run, tmp_path):
    (tmp_path / "kits.csv").write_text(
        "kit,art,words,font,placement,garment\nrowers,owl.png,,,left-chest,hoodie\n"
        'rowers,,{name},"plain, letters 20 mm",upper-back,hoodie\n'
    )
    rows = ["A,rowers,ANN,adult M", "A,rowers,BO,youth M", "A,rowers,CY,adult L", "B,rowers,DI,adult L"]
    source = batch(rows, PICTURES, "order,kit,name,garment")
    code, _, err = run("sheets", source, "--first", "-o", tmp_path / "out", "--steps", 20)
    assert code == 0, err
    record = record_of(tmp_path / "out")
    names = {t["wearer"] for sheet in record["sheets"] if sheet.get("first") for t in sheet["transfers"]}
    assert names == {"ANN"}


def test_nothing_is_chosen_of_nothing():
    assert choose_firsts({}) == (frozenset(), 0)
