"""Made again a year later: old artwork, sizes and places, whatever the shop has changed; and what differs this time."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from conftest import draw

pytestmark = pytest.mark.usefixtures("sheets_alone")

PICTURES = {"owl.png": ("ellipse", 300, 200), "fox.png": ("noise", 200, 260)}
HEADING = "order,wearer,art,words,font,placement,garment,copies,width,number"
ROWS = [
    "Rowers,Ann Lee,owl.png,,,left-chest,hoodie adult M,,,",
    'Rowers,Ann Lee,,ANN,"plain, letters 20 mm",upper-back,hoodie adult M,,,',
    "Rowers,Ann Lee,,7,number,left-long-sleeve,hoodie adult M,,80mm,7",
    "Rowers,Bo,owl.png,,,left-chest,hoodie youth M,,,",
    'Rowers,Bo,,BO,"plain, letters 20 mm",upper-back,hoodie youth M,,,',
    "Rowers,Bo,,12,number,left-long-sleeve,hoodie youth M,,80mm,12",
    "Mill,crew,fox.png,,,full-front,T-shirt adult L,5,120mm,",
]
# Another size and another place for the same placement, as a shop might enter them a year later.
CHANGED = """
[left-chest.sizes."hoodie adult"]
width = "60 mm"
least = "50 mm"
[left-chest.offsets."hoodie adult"]
from = "collar"
to = "centre of print"
usual = "111 mm"
least = "100 mm"
most = "120 mm"
source = "our own card"
"""


@pytest.fixture(scope="module")
def once(tmp_path_factory) -> dict[str, Path]:
    """Where last year's folder was made for the first test that asked for it."""
    return {"kept": tmp_path_factory.mktemp("kept") / "old"}


@pytest.fixture
def made(batch, run, tmp_path, once) -> Path:
    """Last year's folder: made once, and moved with its artwork to every test's own folder."""
    source = batch(ROWS, PICTURES, HEADING)
    if "root" not in once:
        code, _, err = run("sheets", source, "-o", once["kept"], "--steps", 20)
        assert code == 0, err
        once["root"] = tmp_path
    shutil.copytree(once["kept"], tmp_path / "old")
    record = tmp_path / "old" / "batch.json"
    record.write_text(record.read_text("utf-8").replace(str(once["root"]), str(tmp_path)), "utf-8")
    return tmp_path / "old"


@pytest.fixture
def roster(tmp_path):
    def write(text: str) -> Path:
        path = tmp_path / "changes.csv"
        path.write_text(text, "utf-8")
        return path

    return write


def rows_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "orders.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def transfers(folder: Path) -> dict[tuple[str, ...], dict[str, Any]]:
    record = json.loads((folder / "batch.json").read_text("utf-8"))
    return {
        (t["wearer"], t["placement"], t["garment"], str(t["copy"])): t
        for sheet in record["sheets"]
        for t in sheet["transfers"]
    }


def upright(transfer: dict[str, Any]) -> tuple[float, float]:
    box = transfer["ink_mm"]
    return (box["h"], box["w"]) if transfer["turned"] else (box["w"], box["h"])


def test_sizes_and_places_are_the_old_ones_though_the_figures_have_changed(made, run, tmp_path):
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "placements.toml").write_text(CHANGED)
    code, out, err = run("again", made, "-o", tmp_path / "new", "--profiles", mine)
    assert code == 0, err
    assert "impose sheets" in out
    code, _, err = run("sheets", tmp_path / "new", "-o", tmp_path / "now", "--profiles", mine, "--steps", 20)
    assert code == 0, err
    then, now = transfers(made), transfers(tmp_path / "now")
    assert set(then) == set(now)
    for key, old in then.items():
        assert upright(now[key]) == pytest.approx(upright(old), abs=0.001), key
        assert now[key]["measured"] == old["measured"], key
        assert now[key]["art_sha256"] == old["art_sha256"], key
        assert now[key]["tear_mm"] == old["tear_mm"], key
    # And a batch of today has the new figures, so that the test would see them.
    code, _, err = run("sheets", tmp_path / "evening.csv", "-o", tmp_path / "today", "--profiles", mine, "--steps", 20)
    assert code == 0, err
    chest = transfers(tmp_path / "today")["Ann Lee", "left-chest", "hoodie adult M", "1"]
    assert upright(chest)[0] == pytest.approx(60, abs=0.01)
    assert chest["measured"]["drop"] == "111 mm from collar to centre of print"


def test_letters_that_have_changed_since_are_said_before_anything_is_made(made, run, tmp_path, roster):
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "lettering.toml").write_text('[number]\nfont = "SourceSansPro-Black"\nletter_height = "200 mm"\n')
    code, _, err = run("again", made, "-o", tmp_path / "new", "--profiles", mine)
    assert code == 3
    assert "the words are set otherwise than when they were printed (read: “number”)" in err
    assert "“plain" not in err
    assert not (tmp_path / "new").exists()
    code, _, err = run("again", made, "-o", tmp_path / "new", "--profiles", mine, "--take-new-art")
    assert code == 0
    assert "they are set as the style is now" in err
    # Whoever takes only the garments without a number is not asked about it.
    assert run("again", made, "--order", "Mill", "-o", tmp_path / "mill", "--profiles", mine)[0] == 0


def test_as_last_year_four_more_one_new_name(made, run, tmp_path, roster):
    changes = roster("wearer,like,copies,name,number,garment\ncrew,,+4,,,\nBo,,0,,,\nNiamh,Ann Lee,,Niamh,14,\n")
    code, out, err = run("again", made, "--roster", changes, "-o", tmp_path / "new")
    assert code == 0, err
    assert "9 (were 5)" in out
    rows = rows_of(tmp_path / "new")
    assert {(row["wearer"], row["copies"]) for row in rows} == {("Ann Lee", "1"), ("crew", "9"), ("Niamh", "1")}
    new = {row["placement"]: row for row in rows if row["wearer"] == "Niamh"}
    old = {row["placement"]: row for row in rows if row["wearer"] == "Ann Lee"}
    assert new["upper-back"]["words"] == "NIAMH"
    assert new["left-long-sleeve"]["words"] == "14"
    assert new["left-long-sleeve"]["width"] == "80 mm"
    for column in ("art", "width", "drop", "across", "garment", "order"):
        assert new["left-chest"][column] == old["left-chest"][column]
    code, _, err = run("sheets", tmp_path / "new", "-o", tmp_path / "now", "--steps", 20)
    assert code == 0, err
    assert len(transfers(tmp_path / "now")) == 3 + 3 + 9


def test_a_lines_own_note_and_colour_stand_in_its_garment_alone(made, run, tmp_path, roster):
    changes = roster(
        "wearer,like,name,number,note,cloth_colour\nBo,,,,ask about the hood,ash\nNiamh,Ann Lee,Niamh,14,,\n"
    )
    code, _, err = run("again", made, "--roster", changes, "-o", tmp_path / "new")
    assert code == 0, err
    told = {(row["wearer"], row.get("note", ""), row.get("cloth_colour", "")) for row in rows_of(tmp_path / "new")}
    assert told == {("Bo", "ask about the hood", "ash"), ("Niamh", "", ""), ("Ann Lee", "", ""), ("crew", "", "")}


def test_the_list_alone(made, run, tmp_path, roster):
    changes = roster("wearer,copies\ncrew,+4\n")
    code, _, err = run("again", made, "--roster", changes, "--listed-only", "-o", tmp_path / "new")
    assert code == 0, err
    assert [(row["wearer"], row["copies"]) for row in rows_of(tmp_path / "new")] == [("crew", "4")]
    assert run("again", made, "--listed-only", "-o", tmp_path / "x")[0] == 2


def test_who_has_grown_gets_the_sizes_of_a_garment_like_it_in_the_record(made, run, tmp_path, roster):
    changes = roster("wearer,garment\nBo,adult M\n")
    assert run("again", made, "--roster", changes, "-o", tmp_path / "new")[0] == 0
    rows = {(row["wearer"], row["placement"]): row for row in rows_of(tmp_path / "new")}
    assert rows["Bo", "left-chest"]["width"] == rows["Ann Lee", "left-chest"]["width"]
    assert rows["Bo", "left-chest"]["garment"] == "hoodie adult M"
    changes = roster("wearer,garment\ncrew,youth M\n")
    code, _, err = run("again", made, "--roster", changes, "-o", tmp_path / "other")
    assert code == 0
    assert "figures of today" in err
    (row,) = [row for row in rows_of(tmp_path / "other") if row["wearer"] == "crew"]
    assert row["width"] == row["drop"] == ""


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("wearer,like\nNiamh,Anne Lee\n", "Did you mean “Ann Lee”"),
        ("wearer\nNiamh\n", "does not say which this is like"),
        ("wearer,like,number\nNiamh,Ann Lee,14\n", "the line gives no name"),
        ("wearer,copies\ncrew,some\n", "not a number of garments"),
        ("wearer,copies\ncrew,-6\n", "there were 5"),
        ("wearer,copies\ncrew,1\ncrew,2\n", "the same garment as in row 2"),
        ("wearer,copys\ncrew,1\n", "Did you mean copies"),
        ("who knows\nx\n", "neither a column wearer nor a column like"),
        ("wearer,like,copies\nNiamh,crew,0\n", "none of it"),
        ("wearer,garment\nBo,hoodie polo M\n", "two kinds"),
        ("wearer,copies\nAnn Lee,0\nBo,0\ncrew,0\n", "nothing is left"),
        ("", "empty"),
    ],
)
def test_a_list_that_cannot_be_meant_is_refused(made, run, tmp_path, roster, text, says):
    code, _, err = run("again", made, "--roster", roster(text), "-o", tmp_path / "new")
    assert code == 3, err
    assert says in err
    assert not (tmp_path / "new").exists()


def test_an_order_that_is_not_in_the_record_is_refused_with_the_one_that_may_be_meant(made, run, tmp_path):
    code, _, err = run("again", made, "--order", "Rower", "--order", "zzz", "-o", tmp_path / "new")
    assert code == 2
    assert err.count("no order of that name in the record") == 2
    assert "Did you mean “Rowers”?" in err
    assert "Write it as on the label." in err
    assert run("again", made, "--order", "rowers", "-o", tmp_path / "new")[0] == 0
    assert {row["order"] for row in rows_of(tmp_path / "new")} == {"Rowers"}


def test_a_name_that_two_garments_have_is_asked_for(made, run, tmp_path, roster, batch):
    source = batch([ROWS[0], ROWS[0].replace("Rowers", "Mill")], PICTURES, HEADING)
    assert run("sheets", source, "-o", tmp_path / "two", "--steps", 20)[0] == 0
    code, _, err = run(
        "again", tmp_path / "two", "--roster", roster("wearer,copies\nAnn Lee,2\n"), "-o", tmp_path / "x"
    )
    assert code == 3
    assert "2 garments" in err
    path = roster("wearer,order,copies\nAnn Lee,Mill,2\n")
    assert run("again", tmp_path / "two", "--roster", path, "-o", tmp_path / "y")[0] == 0
    assert {(row["order"], row["copies"]) for row in rows_of(tmp_path / "y")} == {("Rowers", "1"), ("Mill", "2")}


def test_artwork_that_is_gone_or_another_is_refused(made, run, tmp_path):
    owl = tmp_path / "owl.png"
    kept = owl.read_bytes()
    draw("noise", 300, 200).save(owl)
    code, _, err = run("again", made, "-o", tmp_path / "new")
    assert code == 3
    assert "has changed" in err
    assert run("again", made, "-o", tmp_path / "taken", "--take-new-art")[0] == 0
    owl.unlink()
    code, _, err = run("again", made, "-o", tmp_path / "new")
    assert code == 3
    assert "not found" in err
    (tmp_path / "shelf").mkdir()
    (tmp_path / "shelf" / "owl.png").write_bytes(kept)
    (tmp_path / "shelf" / "fox.png").write_bytes((tmp_path / "fox.png").read_bytes())
    assert run("again", made, "-o", tmp_path / "new", "--art", tmp_path / "shelf")[0] == 0
    assert (tmp_path / "new" / "owl.png").read_bytes() == kept


def test_a_record_of_an_earlier_version_says_what_it_does_not_hold(made, run, tmp_path):
    record = json.loads((made / "batch.json").read_text("utf-8"))
    for sheet in record["sheets"]:
        for transfer in sheet["transfers"]:
            del transfer["measured"]
    (made / "batch.json").write_text(json.dumps(record), "utf-8")
    code, _, err = run("again", made, "-o", tmp_path / "new")
    assert code == 0
    assert "earlier version" in err
    assert "drop" not in rows_of(tmp_path / "new")[0]


def test_prints_made_again_are_no_order(made, run, tmp_path):
    assert run("reprint", made, "--only", "T001", "-o", tmp_path / "one", "--steps", 20)[0] == 0
    code, _, err = run("again", tmp_path / "one", "-o", tmp_path / "x")
    assert code == 2
    assert "only some of an order" in err


def test_no_cell_of_the_new_table_runs_as_a_formula_and_all_read_back(run, batch, tmp_path):
    source = batch(['=1+1,"@Ann, née -Lee",owl.png,,,left-chest,hoodie adult M,,,'], PICTURES, HEADING)
    assert run("sheets", source, "-o", tmp_path / "old", "--steps", 20)[0] == 0
    assert run("again", tmp_path / "old", "-o", tmp_path / "new")[0] == 0
    (row,) = rows_of(tmp_path / "new")
    assert not any(cell[:1] in ("=", "+", "-", "@") for cell in row.values())
    assert run("sheets", tmp_path / "new", "-o", tmp_path / "now", "--steps", 20)[0] == 0
    record = json.loads((tmp_path / "now" / "batch.json").read_text("utf-8"))
    transfer = record["sheets"][0]["transfers"][0]
    assert (transfer["order"], transfer["wearer"]) == ("=1+1", "@Ann, née -Lee")


def test_an_existing_folder_is_left_alone(made, run, tmp_path):
    (tmp_path / "new").mkdir()
    assert run("again", made, "-o", tmp_path / "new")[0] == 2
    assert list((tmp_path / "new").iterdir()) == []


@pytest.mark.parametrize(
    ("cell", "says"),
    [
        ("127 mm", "not a distance from a seam"),
        ("127 from neck seam to top of print", "no unit"),
        ("12 cm from the moon to top of print", "not a seam"),
    ],
)
def test_a_place_in_a_cell_is_read_or_refused(batch, run, tmp_path, cell, says):
    source = batch([f"A,owl.png,left-chest,hoodie adult M,{cell}"], PICTURES, "order,art,placement,garment,drop")
    code, out, _ = run("check", source)
    assert code == 3
    assert says in out


def test_a_place_in_a_cell_goes_before_the_placements(batch, run, tmp_path):
    cell = "5 1/2 in from the collar to the centre of print"
    source = batch([f'A,owl.png,left-chest,hoodie adult M,"{cell}"'], PICTURES, "order,art,placement,garment,drop")
    assert run("sheets", source, "-o", tmp_path / "out", "--steps", 20)[0] == 0
    record = json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))
    transfer = record["sheets"][0]["transfers"][0]
    assert transfer["measured"]["drop"] == transfer["drop"] == "139.7 mm from collar to centre of print"


def test_every_column_of_a_batch_is_written_again():
    from impose.orders import headings
    from impose.run.again_folder import COLUMNS

    # Kits are written out, a row for each print.
    assert set(COLUMNS) == set(headings.COLUMNS) - {"kit"}, "write the new column in run/again_folder.py"


def test_exchanged_colours_and_mends_are_written_again(batch, run, tmp_path):
    from PIL import Image

    row = 'A,Ann,flat.png,left-chest,T-shirt adult M,60mm,"#C81E28 > #12A05B",drop-specks'
    source = batch([row], {}, "order,wearer,art,placement,garment,width,recolour,mend")
    Image.new("RGB", (300, 300), (200, 30, 40)).save(tmp_path / "flat.png")
    assert run("sheets", source, "-o", tmp_path / "old", "--steps", 20)[0] == 0
    code, _, err = run("again", tmp_path / "old", "-o", tmp_path / "new")
    assert code == 0, err
    (made,) = rows_of(tmp_path / "new")
    assert (made["recolour"], made["mend"]) == ("#C81E28 > #12A05B", "drop-specks")
    assert run("sheets", tmp_path / "new", "-o", tmp_path / "now", "--steps", 20)[0] == 0
    (then,), (now,) = transfers(tmp_path / "old").values(), transfers(tmp_path / "now").values()
    assert (now["recolour"], now["ink_mm"]["w"]) == (then["recolour"], then["ink_mm"]["w"])


def test_garments_of_one_name_that_differ_in_number_are_told_apart(batch, run, tmp_path):
    """Rows of one wearer and place could lie on the garments in several ways once one of them is wanted twice."""
    rows = [f"Rowers,crew,{name}.png,,,full-front,T-shirt adult L,1,120mm," for name in ("owl", "fox")]
    code, _, err = run("sheets", batch(rows, PICTURES, HEADING), "-o", tmp_path / "old", "--steps", 20)
    assert code == 0, err
    for copies, wearers in (("", ["crew", "crew"]), ("2", ["crew", "crew (2)"])):
        folder = tmp_path / f"new{copies}"
        again = ["again", tmp_path / "old", "-o", folder]
        if copies:
            ident = next(t["id"] for t in transfers(tmp_path / "old").values())
            (tmp_path / "list.csv").write_text(f"wearer,copies\n{ident},{copies}\n", "utf-8")
            again += ["--roster", tmp_path / "list.csv"]
        code, _, err = run(*again)
        assert code == 0, err
        assert [row["wearer"] for row in rows_of(folder)] == wearers
        code, _, err = run("check", folder)
        assert code == 0, err
