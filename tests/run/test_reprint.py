"""Reprints: the very same transfers, however they are named; and sheets printed twice, looked at from outside."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1]))
import papercheck
from impose.run.selection import read_ticked

pytestmark = pytest.mark.usefixtures("sheets_alone")

ROWS = [
    "Ferry,Ann,one.png,left-chest,hoodie youth M,3,,,,,",
    "Ferry,Bo,two.png,,,1,,150mm,tight,canvas,no",
    "Mill,Cy,three.png,left-long-sleeve,,2,200mm,,,mass,",
    ",,one.png,,adult L,1,60mm,,,,",
]
PICTURES = {"one.png": ("ellipse", 400, 500), "two.png": ("noise", 300, 400), "three.png": ("words", 900, 200)}
# What a second printing may change: where it lies, and so what its share of the paper costs.
PLACE = {"cell_mm", "ink_mm", "crease_mm", "turned", "cost", "cost_used", "ink_cost", "reprint_of"}


def record_of(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "batch.json").read_text("utf-8"))


def transfers(folder: Path) -> dict[str, dict[str, Any]]:
    return {one["id"]: one for sheet in record_of(folder)["sheets"] for one in sheet["transfers"]}


def upright(one: dict[str, Any], box: str) -> tuple[float, float]:
    size = one[box]["w"], one[box]["h"]
    return size[::-1] if one["turned"] else size


@pytest.fixture(scope="module")
def once(tmp_path_factory) -> dict[str, Path]:
    """Where the batch was made for the first test that asked for it."""
    return {"kept": tmp_path_factory.mktemp("kept")}


@pytest.fixture
def made(batch, run, tmp_path, once):
    """An output folder of three orders, on A4: made once, and moved with its artwork to every test's own folder."""
    out = tmp_path / "first"
    source = batch(ROWS, PICTURES)
    kept = once["kept"] / "first"
    if not kept.exists():
        code, _, err = run("sheets", source, "-p", "a4", "-o", kept, "--no-cache")
        assert code == 0, err
        once["root"] = tmp_path
    shutil.copytree(kept, out)
    record = (out / "batch.json").read_text("utf-8")
    (out / "batch.json").write_text(record.replace(str(once["root"]), str(tmp_path)), "utf-8")
    return out


def same_but_for_its_place(old: Path, new: Path, wanted: set[str]) -> None:
    before, after = transfers(old), transfers(new)
    assert set(after) == wanted
    for name, one in after.items():
        assert one["reprint_of"]["id"] == name
        assert one["reprint_of"]["code"] == record_of(old)["code"]
        for key in before[name].keys() - PLACE:
            # Of a whole that is rounded once, a transfer's part may be a microlitre more or less.
            expected = pytest.approx(before[name][key], abs=0.0011) if key == "ink_ml" else before[name][key]
            assert one[key] == expected, (name, key)
        for box in ("ink_mm", "cell_mm"):
            assert upright(one, box) == pytest.approx(upright(before[name], box), abs=1e-5)


def test_reprints_are_the_same_transfers_and_true_on_paper(made, run, tmp_path):
    code = record_of(made)["code"]
    assert run("reprint", made, "--only", f"t2, {code}-T005,T006", "-o", tmp_path / "again", "--no-cache")[0] == 0
    same_but_for_its_place(made, tmp_path / "again", {"T002", "T005", "T006"})
    for renderer in ("pdfium", "poppler"):
        assert papercheck.faults(tmp_path / "again", tmp_path, renderer) == []
    pages = pypdfium2.PdfDocument(tmp_path / "again" / "sheets-a4.pdf")
    labels = "".join(page.get_textpage().get_text_bounded() for page in pages)
    again = record_of(tmp_path / "again")
    assert again["code"] != code
    assert f"{again['code']}-T002" in labels
    assert "2/3" in labels


@pytest.mark.parametrize(
    ("named", "wanted"),
    [
        (["--order", "Ferry"], {"T001", "T002", "T003", "T004"}),
        (["--order", "Mill", "--only", "7"], {"T005", "T006", "T007"}),
    ],
)
def test_by_order(made, run, tmp_path, named, wanted):
    assert run("reprint", made / "batch.json", *named, "-o", tmp_path / "again")[0] == 0
    same_but_for_its_place(made, tmp_path / "again", wanted)


def test_by_sheet_and_on_another_paper(made, run, tmp_path):
    wanted = {one["id"] for one in record_of(made)["sheets"][0]["transfers"]}
    assert run("reprint", made, "--sheet", "1", "-p", "13x19", "-o", tmp_path / "again")[0] == 0
    same_but_for_its_place(made, tmp_path / "again", wanted)
    assert {paper["name"] for paper in record_of(tmp_path / "again")["paper"]} == {"na_super-b_13x19in"}


def test_by_the_ticked_list_as_spreadsheets_save_it(made, run, tmp_path):
    listed = list(csv.reader(io.StringIO((made / "reprint.csv").read_text("utf-8-sig"), newline="")))
    assert listed[0][:3] == ["id", "spoiled", "because"]
    assert len(listed) == 8
    for row in listed[1:]:
        if row[0].endswith(("T003", "T007")):
            row[1] = "x"
    listed[3][2] = "lost"
    for name, encoding, separator in (("a.csv", "utf-8", ","), ("b.csv", "utf-8-sig", ";"), ("c.csv", "utf-16", "\t")):
        text = io.StringIO()
        csv.writer(text, delimiter=separator).writerows(listed)
        (tmp_path / name).write_text(text.getvalue(), encoding)
        out = tmp_path / f"again-{name}"
        code, _, err = run("reprint", made, "--list", tmp_path / name, "-o", out)
        assert code == 0, err
        same_but_for_its_place(made, out, {"T003", "T007"})
        assert transfers(out)["T003"]["reprint_of"]["because"] == "lost"
        assert transfers(out)["T007"]["reprint_of"]["because"] == "spoiled"


@pytest.mark.documents
def test_a_reprint_of_a_reprint_and_the_same_bytes_again(made, run, tmp_path):
    for name in ("again", "twice"):
        assert run("reprint", made, "--only", "T001,T004", "-o", tmp_path / name)[0] == 0
    for path in (tmp_path / "again").rglob("*.*"):
        assert path.read_bytes() == (tmp_path / "twice" / path.relative_to(tmp_path / "again")).read_bytes()
    assert run("reprint", tmp_path / "again", "--only", "T004", "-o", tmp_path / "third")[0] == 0
    same_but_for_its_place(tmp_path / "again", tmp_path / "third", {"T004"})


def test_a_reprint_has_the_same_code_wherever_its_batch_was_made(made, run, tmp_path):
    """A code comes of a batch's content (DESIGN.md, anatomy of a sheet), not of where its folders lie."""
    away = tmp_path / "moved" / "far"
    away.mkdir(parents=True)
    for path in [*tmp_path.glob("*.png"), *tmp_path.glob("*.csv")]:
        (away / path.name).write_bytes(path.read_bytes())
    record = json.loads((made / "batch.json").read_text("utf-8"))
    record["art_root"], record["source"] = str(away), str(away / Path(record["source"]).name)
    (away / "first").mkdir()
    (away / "first" / "batch.json").write_text(json.dumps(record), "utf-8")
    codes = []
    for folder, name, more in (
        (made, "a", ()), (away / "first", "b", ()), (made, "c", ("--because", "lost")), (made, "d", ("--art", away)),
    ):  # fmt: skip
        assert run("reprint", folder, "--only", "T003,T007", "-o", tmp_path / name, *more)[0] == 0
        codes.append(json.loads((tmp_path / name / "batch.json").read_text("utf-8"))["code"])
    assert codes[0] == codes[1] == codes[3]
    assert len({record["code"], *codes}) == 3, "another reason is another reprint"


def test_changed_artwork_is_refused_until_the_new_is_wanted(made, run, tmp_path):
    Image.new("RGB", (500, 300), (0, 90, 10)).save(tmp_path / "two.png")
    code, _, err = run("reprint", made, "--only", "T004", "-o", tmp_path / "again")
    assert code == 3
    assert "has changed" in err
    assert "--take-new-art" in err
    assert not (tmp_path / "again").exists()
    assert run("reprint", made, "--only", "T004", "-o", tmp_path / "again", "--take-new-art")[0] == 0
    old, new = transfers(made)["T004"], transfers(tmp_path / "again")["T004"]
    width, height = upright(new, "ink_mm")
    assert width == pytest.approx(upright(old, "ink_mm")[0], abs=1e-5)
    assert width / height == pytest.approx(5 / 3, abs=1e-4)
    assert papercheck.faults(tmp_path / "again", tmp_path) == []
    (tmp_path / "two.png").unlink()
    assert run("reprint", made, "--only", "T004", "-o", tmp_path / "gone")[0] == 3


def test_lost_damaged_and_changed_artwork_are_told_together(made, run, tmp_path):
    """All problems of a batch are reported together (DESIGN.md, commands)."""
    (tmp_path / "one.png").unlink()
    Image.new("RGB", (500, 300), (0, 90, 10)).save(tmp_path / "two.png")
    everything = ",".join(transfers(made))
    code, _, err = run("reprint", made, "--only", everything, "-o", tmp_path / "again")
    assert code == 3
    assert (err.count("is not found"), err.count("has changed")) == (2, 1), err
    whole = (tmp_path / "three.png").read_bytes()
    (tmp_path / "three.png").write_bytes(whole[: len(whole) // 2])
    code, _, err = run("reprint", made, "--only", everything, "-o", tmp_path / "again")
    assert code == 3
    assert (err.count("is not found"), err.count("has changed"), err.count("“three.png”")) == (2, 1, 1), err
    code, _, err = run("again", made, "-o", tmp_path / "new")
    assert code == 3
    assert (err.count("is not found"), err.count("has changed")) == (2, 2), err


def test_moved_artwork_is_found_where_art_says(made, run, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    for name in PICTURES:
        (tmp_path / name).rename(tmp_path / "elsewhere" / name)
    assert run("reprint", made, "--only", "T004", "-o", tmp_path / "again")[0] == 3
    assert run("reprint", made, "--only", "T004", "--art", tmp_path / "elsewhere", "-o", tmp_path / "again")[0] == 0
    same_but_for_its_place(made, tmp_path / "again", {"T004"})


@pytest.mark.parametrize(
    ("named", "said"),
    [
        ([], "nothing is named"),
        (["--only", "T099"], "no transfer of that id"),
        (["--only", "XXXX-T001"], "another batch"),
        (["--only", "owl"], "not a transfer's id"),
        (["--only", "T001-T003"], "a range of ids"),
        (["--only", "1..3"], "a range of ids"),
        (["--order", "Fery"], "Did you mean “Ferry”"),
        (["--sheet", "9"], "no sheet 9"),
        (["--list", "nowhere.csv"], "no such file"),
    ],
)
def test_what_is_not_in_the_record_is_said(made, run, tmp_path, named, said):
    code, _, err = run("reprint", made, *named, "-o", tmp_path / "again")
    assert code in (2, 5)
    assert said in err
    assert "Traceback" not in err


def test_damaged_records_are_refused_with_their_place(made, run, tmp_path):
    whole = (made / "batch.json").read_bytes()
    path = tmp_path / "record.json"
    for content in (b"", b"{", whole[: len(whole) // 2], b"[]", b'{"format": "impose-record/9"}', b"\xff\xfe\0"):
        path.write_bytes(content)
        assert run("reprint", path, "--only", "T001")[0] == 2
    values = json.loads(whole)
    for key in ("ink_mm", "tear_mm", "copy", "up", "id", "ink_px", "crease_mm", "art_sha256", "turned"):
        for wrong in (None, "x", -1, {}, [1e400]):
            broken = json.loads(whole)
            broken["sheets"][0]["transfers"][0][key] = wrong
            path.write_text(json.dumps(broken))
            code, _, err = run("reprint", path, "--only", values["sheets"][0]["transfers"][0]["id"])
            assert code in (2, 3), (key, wrong)
            assert "Traceback" not in err
    # What no print has: it would take no end of time or paper, or tick where there is no ink.
    sides = {side: [-50, 4, 5] for side in ("top", "right", "bottom", "left")}
    tiny, far = {"x": 9, "y": 9, "w": 1e-9, "h": 1e-9}, {"x": 999, "y": -99}
    for key, wrong in (("copies", 10**8), ("tear_mm", sides), ("ink_mm", tiny), ("crease_mm", far)):
        broken = json.loads(whole)
        broken["sheets"][0]["transfers"][0][key] = wrong
        path.write_text(json.dumps(broken))
        code, _, err = run("reprint", path, "--only", values["sheets"][0]["transfers"][0]["id"])
        assert code == 2
        assert f"damaged at sheets[0].transfers[0].{key}" in err
    assert run("reprint", tmp_path / "nowhere", "--only", "T001")[0] == 5


def test_unprinted_sheets_give_their_paper_back_once(batch, run, tmp_path):
    ledger = tmp_path / "l" / "ledger.db"

    def left() -> int:
        return json.loads(run("stock", "a4", "--json", "--ledger", ledger)[1])[0]["left"]

    assert run("stock", "a4", "--set", "20", "--ledger", ledger)[0] == 0
    out = tmp_path / "first"
    assert run("sheets", batch(ROWS, PICTURES), "-p", "a4", "-o", out, "--ledger", ledger)[0] == 0
    assert left() == 20 - len(record_of(out)["sheets"])
    before = left()
    again = ("reprint", out, "--sheet", "1", "--ledger", ledger)
    assert run(*again, "--because", "unprinted", "-o", tmp_path / "a")[0] == 0
    assert left() == before  # one came back, one is taken
    assert run(*again, "--because", "unprinted", "-o", tmp_path / "b")[0] == 0
    assert left() == before - 1  # it cannot come back twice
    assert run(*again, "-o", tmp_path / "c")[0] == 0
    assert left() == before - 2
    some = record_of(out)["sheets"][1]["transfers"][0]["id"]
    if len(record_of(out)["sheets"][1]["transfers"]) > 1:
        _, _, err = run(
            "reprint", out, "--only", some, "--because", "unprinted", "--ledger", ledger, "-o", tmp_path / "d"
        )
        assert "does not come back" in err
        assert left() == before - 3


def test_words_and_panels_are_printed_again(run, tmp_path):
    rows = ["words,font,art,placement,width", "Åse,plain,,full-back,", "No 7,outlined,,,80mm", ",,big.png,,500mm"]
    (tmp_path / "names.csv").write_text("\n".join(rows) + "\n", "utf-8")
    rng = np.random.default_rng(5)
    Image.fromarray(rng.integers(0, 200, (300, 900, 3), dtype=np.uint8)).save(tmp_path / "big.png")
    out = tmp_path / "first"
    code, _, err = run("sheets", tmp_path / "names.csv", "-p", "a4", "--oversize", "panels", "-o", out)
    assert code == 0, err
    assert any(one["panel"] for one in transfers(out).values())
    code, _, err = run(
        "reprint", out, *(part for i in transfers(out) for part in ("--only", i)), "-o", tmp_path / "again"
    )
    assert code == 0, err
    same_but_for_its_place(out, tmp_path / "again", set(transfers(out)))


DPI = 150


@pytest.fixture
def sparse(batch, run, tmp_path):
    """Two sheets with waste to spare."""
    out = tmp_path / "first"
    rows = [",,one.png,,,1,90mm,,,,", ",,three.png,,,1,150mm,,,,"]
    assert run("sheets", batch(rows, PICTURES), "-p", "a4", "-o", out)[0] == 0
    return out


def ink(pdf: Path, page: int) -> np.ndarray:
    """Where a page is not blank, by pdfium."""
    bitmap = pypdfium2.PdfDocument(pdf)[page - 1].render(scale=DPI / 72).to_pil().convert("L")
    return np.asarray(bitmap) < 245


def grown(mask: np.ndarray, mm: float) -> np.ndarray:
    """The mask with every point grown to a square of so many millimetres each way."""
    reach = int(mm / 25.4 * DPI)
    for axis in (0, 1):
        sums = np.cumsum(
            np.pad(mask.astype(np.int32), [(reach + 1, reach) if a == axis else (0, 0) for a in (0, 1)]), axis
        )
        high = np.take(sums, range(2 * reach + 1, sums.shape[axis]), axis)
        low = np.take(sums, range(sums.shape[axis] - 2 * reach - 1), axis)
        mask = high > low
    return mask


@pytest.mark.parametrize(("clear", "least"), [(None, 2.0), ("5mm", 5.0)])
def test_old_and_new_ink_never_meet_on_a_sheet_fed_again(sparse, run, tmp_path, clear, least):
    small = tmp_path / "small"
    small.mkdir()
    for number in range(3):
        Image.new("RGB", (300 + 60 * number, 240), (200, 30 * number, 40)).save(small / f"s{number}.png")
    command = ["sheets", small, "--width", "22mm", "--tear", "tight", "--copies", "1", "-p", "a4", "--onto", sparse]
    out = tmp_path / "onto"
    code, said, err = run(*command, "-o", out, *(["--onto-clear", clear] if clear else []))
    assert code == 0, err
    record = record_of(out)
    again = [sheet for sheet in record["sheets"] if "onto" in sheet]
    assert again, "nothing was printed onto the old sheets"
    old = record_of(sparse)
    for sheet in again:
        first = next(one for one in old["sheets"] if one["sheet"] == sheet["onto"]["sheet"])
        before, after = ink(sparse / first["file"], first["page"]), ink(out / sheet["file"], sheet["page"])
        assert after.any()
        assert not (grown(before, least) & after).any()
        assert sheet["onto"]["feed"] in said
        # Named are the first and the last print along the top edge, which lie beside it within 20 mm of each other.
        told = re.findall(rf"\b{old['code']}-([A-Z]\d+)", sheet["onto"]["feed"].partition("edge beside ")[2])
        cells = {transfer["id"].rpartition("-")[2]: transfer["cell_mm"] for transfer in first["transfers"]}
        top = min(cell["y"] for cell in cells.values())
        row = sorted((n for n, cell in cells.items() if cell["y"] < top + 20), key=lambda n: cells[n]["x"])
        assert told == list(dict.fromkeys([row[0], row[-1]]))
        assert sheet["onto"]["code"] == old["code"]
    assert papercheck.faults(out, small) == []
    assert sum(len(sheet["transfers"]) for sheet in record["sheets"]) == 3


def test_a_sheet_is_printed_three_times_over(sparse, run, tmp_path):
    small = tmp_path / "small"
    small.mkdir()
    Image.new("RGB", (300, 240), (200, 0, 40)).save(small / "s.png")
    command = ["sheets", small, "--width", "20mm", "--tear", "tight", "-p", "a4"]
    assert run(*command, "--onto", sparse, "-o", tmp_path / "second")[0] == 0
    assert run(*command, "--onto", tmp_path / "second", "-o", tmp_path / "third")[0] == 0
    second, third = (record_of(tmp_path / name)["sheets"][0] for name in ("second", "third"))
    assert "onto" in second
    assert "onto" in third
    first = next(one for one in record_of(sparse)["sheets"] if one["sheet"] == second["onto"]["sheet"])
    pages = [(sparse, first), (tmp_path / "second", second), (tmp_path / "third", third)]
    one, two, three = (ink(folder / sheet["file"], sheet["page"]) for folder, sheet in pages)
    assert not (grown(one, 2) & two).any()
    assert not (grown(one | two, 2) & three).any()


def test_reprints_go_onto_printed_sheets_and_take_no_paper(made, run, tmp_path):
    ledger = tmp_path / "l" / "ledger.db"
    assert run("stock", "a4", "--set", "5", "--ledger", ledger)[0] == 0
    code, _, err = run("reprint", made, "--only", "T007", "--onto", made, "-o", tmp_path / "again", "--ledger", ledger)
    assert code == 0, err
    same_but_for_its_place(made, tmp_path / "again", {"T007"})
    onto = "onto" in record_of(tmp_path / "again")["sheets"][0]
    assert json.loads(run("stock", "--json", "--ledger", ledger)[1])[0]["left"] == (5 if onto else 4)


def test_onto_refuses_in_words(made, run, tmp_path):
    art = tmp_path / "one.png"
    for wrong in (
        ["--onto", made, "--onto-sheet", "77"],
        ["--onto-sheet", "1"],
        ["--onto", made, "--onto-clear", "2"],
        ["--onto", made, "--straight-cuts"],
        ["--onto", art],
    ):
        code, _, err = run("sheets", art, "--width", "50mm", "-o", tmp_path / "out", *wrong)
        assert code == 2, (wrong, err)
        assert not (tmp_path / "out").exists()


def test_a_list_without_a_tick_says_where_to_tick(made, run, tmp_path):
    code, _, err = run("reprint", made, "--list", made / "reprint.csv", "-o", tmp_path / "again")
    assert code == 2
    assert "column spoiled" in err


def test_each_line_of_a_list_may_have_its_own_reason_and_a_strange_one_is_told_with_its_line(tmp_path):
    """By the headings of reprint.csv; `=` before an id is how a spreadsheet keeps it a text."""
    path, found = tmp_path / "list.csv", []
    path.write_text("ID , spoiled,because\nA001,x,\nA002, ,\nA003,no,\n'A004,yes,Lost\nA005,1,fire\n,x,\n", "utf-8")
    assert list(read_ticked(path, "spoiled", found)) == [("A001", "spoiled"), ("A004", "lost")]
    assert [(finding.row, finding.column) for finding in found] == [(6, "because")]
    path.write_text("id\nA001\nA002\n", "utf-8")
    assert list(read_ticked(path, "unprinted", found)) == [("A001", "unprinted"), ("A002", "unprinted")]
    path.write_text("name\nA001\n", "utf-8")
    assert list(read_ticked(path, "lost", found)) == []
    assert "no column id" in found[-1].what


def test_onto_sheets_of_which_nothing_can_be_used_says_so(made, run, tmp_path):
    code, _, err = run(
        "sheets", tmp_path / "one.png", "--width", "50mm", "--onto", made, "--onto-clear", "500mm", "-o", tmp_path / "o"
    )
    assert code == 0, err
    assert "printed on sheets of" in err


def test_the_proof_lists_every_transfer_with_a_box_to_tick(made):
    page = (made / "proof.html").read_text("utf-8")
    code = record_of(made)["code"]
    for name in transfers(made):
        assert f'for="tick-{name}"' in page
        assert f"{code}-{name}" in page
    assert page.count('id="tick-') == len(transfers(made))
    assert "reprint.csv" in page


def test_a_relative_folder_of_artwork_is_found_from_the_record(batch, run, tmp_path, monkeypatch):
    batch(ROWS[1:2], PICTURES)
    monkeypatch.chdir(tmp_path)
    assert run("sheets", "evening.csv", "-p", "a4", "-o", tmp_path / "out" / "first")[0] == 0
    (tmp_path / "away").mkdir()
    monkeypatch.chdir(tmp_path / "away")
    assert run("reprint", tmp_path / "out" / "first", "--only", "1", "-o", tmp_path / "again")[0] == 0
    same_but_for_its_place(tmp_path / "out" / "first", tmp_path / "again", {"T001"})
    (tmp_path / "out").rename(tmp_path.parent / f"{tmp_path.name}-moved")
    code, _, err = run("reprint", tmp_path.parent / f"{tmp_path.name}-moved" / "first", "--only", "1")
    assert code in (0, 3)
    assert "Traceback" not in err


def test_a_list_may_be_a_spreadsheets_own_file(made, run, tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in csv.reader(io.StringIO((made / "reprint.csv").read_text("utf-8-sig"), newline="")):
        book.active.append(["", *row[1:]] if not row[0] else row)
        if row[0].endswith(("T002", "T006")):
            book.active.cell(book.active.max_row, 2).value = True  # a ticked box, as spreadsheets have them
    book.save(tmp_path / "ticked.xlsx")
    code, _, err = run("reprint", made, "--list", tmp_path / "ticked.xlsx", "-o", tmp_path / "again")
    assert code == 0, err
    same_but_for_its_place(made, tmp_path / "again", {"T002", "T006"})
    code, _, err = run("sheets", tmp_path / "ticked.xlsx", "-p", "a4")
    assert code == 2
    assert "impose reprint FOLDER --list" in err


def test_what_is_no_list_is_wrong_use(made, run, tmp_path):
    for name, said in (("one.png", "a picture, not a table"), ("first/sheets-a4.pdf", "a PDF"), ("first", "a folder")):
        code, _, err = run("reprint", made, "--list", tmp_path / name, "-o", tmp_path / "again")
        assert code == 2
        assert said in err
        assert "Give its size" not in err, "that is what a batch would need"
    assert not (tmp_path / "again").exists()


def test_a_folder_that_is_no_output_folder_names_those_in_it(made, run, tmp_path):
    code, _, err = run("reprint", tmp_path, "--only", "T001")
    assert code == 2
    assert "not an output folder" in err
    assert str(made) in err
    code, _, err = run("sheets", tmp_path / "one.png", "--width", "5cm", "--onto", tmp_path, "-o", tmp_path / "again")
    assert code == 2
    assert "not an output folder" in err


def test_what_is_refused_says_its_file_and_row(made, run, tmp_path):
    code, _, err = run("reprint", made, "--only", "T005", "-p", "a5", "-o", tmp_path / "again")
    assert code == 4
    assert f"{made}/batch.json, row 4: " in err
    Image.new("RGB", (500, 300), (0, 90, 10)).save(tmp_path / "two.png")
    code, _, err = run("reprint", made, "--only", "T004", "-o", tmp_path / "again")
    assert code == 3
    assert f"{made}/batch.json, row 3, column art: the artwork has changed" in err
    (tmp_path / "two.png").unlink()
    code, _, err = run("reprint", made, "--only", "T004", "-o", tmp_path / "again")
    assert code == 3
    assert f"row 3, column art: the artwork is not found in {tmp_path}" in err
    assert "--art" in err


def test_colours_are_turned_as_they_were_unless_asked_otherwise(batch, run, tmp_path):
    from art.iccbytes import model_profile

    (tmp_path / "cloth.icc").write_bytes(model_profile())
    profile = ("--output-profile", tmp_path / "cloth.icc")
    source = batch(["Mill,Cy,three.png,,,1,60mm,,,,"], {"three.png": ("words", 180, 40)})
    for name, how, other in (
        ("saturated", ["--intent", "saturation"], ["--intent", "perceptual"]),
        ("cut", ["--no-black-point"], ["--intent", "saturation"]),
        ("kept", [], ["--no-black-point"]),
    ):
        out = tmp_path / name
        assert run("sheets", source, *profile, *how, "-p", "a4", "-o", out)[0] == 0
        then = record_of(out)["options"]["output"]
        code, _, err = run("reprint", out, "--only", "T001", *profile, "-o", tmp_path / f"{name}-again")
        assert code == 0, err
        assert "output profile" not in err
        assert record_of(tmp_path / f"{name}-again")["options"]["output"] == then
        code, _, err = run("reprint", out, "--only", "T001", *profile, *other, "-o", tmp_path / f"{name}-other")
        assert code == 0, err
        assert "brought into the output profile" in err
        assert record_of(tmp_path / f"{name}-other")["options"]["output"] != then


def test_a_record_is_never_replaced_by_what_comes_from_it(sparse, run, tmp_path):
    before = (sparse / "batch.json").read_bytes()
    picture = tmp_path / "one.png"
    for command in (
        ("reprint", sparse, "--only", "1"),
        ("reprint", sparse / "batch.json", "--only", "1"),
        ("sheets", picture, "--width", "2cm", "--tear", "tight", "--onto", sparse),
    ):
        code, _, err = run(*command, "-o", sparse, "--replace")
        assert code == 2
        assert "Choose another folder" in err
    assert (sparse / "batch.json").read_bytes() == before


def test_words_whose_style_has_changed_are_not_called_a_file(run, tmp_path):
    (tmp_path / "names.csv").write_text("words,font,width\nÅse,plain,60mm\n", "utf-8")
    assert run("sheets", tmp_path / "names.csv", "-p", "a4", "-o", tmp_path / "first")[0] == 0
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "lettering.toml").write_text('[plain]\ncolour = "#AA0000"\n', "utf-8")
    command = ("reprint", tmp_path / "first", "--only", "1", "--profiles", tmp_path / "own")
    code, _, err = run(*command, "-o", tmp_path / "again")
    assert code == 3
    assert "row 2, column font: the words are set otherwise" in err
    assert "file back, or pass --take-new-art" in err
    code, _, err = run(*command, "--take-new-art", "-o", tmp_path / "again")
    assert code == 0
    assert "the new one is taken" in err


@pytest.mark.documents
def test_a_reprint_keeps_the_columns_that_are_the_shops_own(batch, run, tmp_path):
    source = batch(
        ["Ferry,Ann,one.png,60mm,,twice,no. 40,haze"],
        {"one.png": ("ellipse", 400, 500)},
        "order,wearer,art,width,garment,note,thread,accept",
    )
    assert run("sheets", source, "-p", "a4", "-o", tmp_path / "first")[0] == 0
    assert run("reprint", tmp_path / "first", "--only", "T001", "-o", tmp_path / "again")[0] == 0
    before, after = transfers(tmp_path / "first")["T001"], transfers(tmp_path / "again")["T001"]
    assert after["extra"] == before["extra"] == [["thread", "no. 40"]]
    assert after["accept"] == ["haze"]
    assert after["garment_written"] == ""
    page = pypdfium2.PdfDocument(tmp_path / "again" / "tickets.pdf")
    assert "thread: no. 40" in " ".join(" ".join(one.get_textpage().get_text_bounded().split()) for one in page)


def test_straight_cuts_are_in_the_record_and_meet_no_transfer(batch, run, tmp_path):
    source = batch(["A,Ann,one.png,60mm,5"], {"one.png": ("ellipse", 400, 500)}, "order,wearer,art,width,copies")
    assert run("sheets", source, "-p", "a4", "--straight-cuts", "-o", tmp_path / "cut")[0] == 0
    (sheet,) = record_of(tmp_path / "cut")["sheets"]
    assert sheet["cuts_mm"]
    for x1, y1, x2, y2 in sheet["cuts_mm"]:
        assert x1 == x2 or y1 == y2
        for one in sheet["transfers"]:
            cell = one["cell_mm"]
            across = cell["x"] + 0.01 < x1 < cell["x"] + cell["w"] - 0.01 and x1 == x2
            down = cell["y"] + 0.01 < y1 < cell["y"] + cell["h"] - 0.01 and y1 == y2
            assert not (across and min(y1, y2) < cell["y"] + cell["h"] - 0.01 and max(y1, y2) > cell["y"] + 0.01)
            assert not (down and min(x1, x2) < cell["x"] + cell["w"] - 0.01 and max(x1, x2) > cell["x"] + 0.01)


@pytest.mark.documents
def test_a_paper_taken_into_use_again_keeps_how_the_press_is_set_for_it(batch, run, tmp_path):
    """The same paper wants the same heat, whichever of its sides is printed next: 200 °C is 392 °F."""
    own = tmp_path / "own"
    own.mkdir()
    (own / "papers.toml").write_text("[a4]\ntemperature_c = 200\nseconds = 55\nrest_seconds = 0\n", "utf-8")
    given = ["--profiles", own, "-p", "a4"]
    first = tmp_path / "first"
    rows = [",,one.png,,,1,90mm,,,,"]
    assert run("sheets", batch(rows, PICTURES), *given, "-o", first)[0] == 0
    small = tmp_path / "small"
    small.mkdir()
    Image.new("RGB", (300, 240), (200, 0, 40)).save(small / "s.png")
    again = ["sheets", small, "--width", "20mm", "--tear", "tight", *given]
    assert run(*again, "--onto", first, "-o", tmp_path / "second")[0] == 0
    assert run(*again, "--onto", tmp_path / "second", "-o", tmp_path / "third")[0] == 0
    for name in ("second", "third"):
        (sheet,) = record_of(tmp_path / name)["sheets"]
        assert sheet["onto"]["paper"] == "iso_a4_210x297mm"
        page = pypdfium2.PdfDocument(tmp_path / name / "tickets.pdf")[0].get_textpage().get_text_range()
        assert "200 °C (392 °F), 55 s" in " ".join(page.split())
