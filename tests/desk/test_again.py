"""A list of spoiled prints dropped into the desk: made again once, as it was, or refused with the reason."""

from __future__ import annotations

import gc
import hashlib
import json
import shutil
from pathlib import Path

import pytest

import papercheck
from conftest import draw
from desk.fake import InlineMaker, png
from impose.ledger import stock
from impose.run import Options
from impose.run.paper_stock import PaperStock
from impose.type.lettering import TextShaper
from impose.values import replace

pytestmark = pytest.mark.usefixtures("sheets_alone")

A4 = "iso_a4_210x297mm"


@pytest.fixture
def shop(bed):
    """A desk that has delivered five owls and two foxes."""
    bed.maker = InlineMaker()
    bed.habits = replace(bed.habits, options=Options(steps=20, cache=False, settings={"papers": ["a4"]}))
    for name, kind in (("owl (5 copies, 70 mm)", "ellipse"), ("fox (2 copies, 60 mm)", "gradient")):
        path = bed.places.inbox / f".{name}.png"
        draw(kind, 180, 180).save(path, compress_level=1)
        path.rename(bed.places.inbox / f"{name}.png")
    bed.start()
    bed.turns(6)
    assert bed.sheets == ["prints"]
    return bed


def record_of(bed, name: str) -> dict:
    return json.loads((bed.places.sheets / name / "batch.json").read_text("utf-8"))


def ticked(bed, *ids: str, because: str = "", name: str = "prints") -> str:
    """The delivery's own list, with crosses, as a spreadsheet would save it: semicolons, UTF-8 with a mark."""
    lines = (bed.places.sheets / name / "reprint.csv").read_text("utf-8-sig").splitlines()
    rows = [line.split(",") for line in lines]
    for row in rows[1:]:
        if row[0][5:] in ids:
            row[1:3] = ["x", because]
    return "\ufeff" + "\n".join(";".join(row) for row in rows) + "\n"


def transfers(record: dict) -> list[dict]:
    return [one for sheet in record["sheets"] for one in sheet["transfers"]]


def test_ticked_prints_are_made_again_once_as_they_were(shop):
    before = record_of(shop, "prints")
    shop.drop("reprint.csv", ticked(shop, "T002", "T007", because="lost"))
    shop.turns(6)
    name = f"reprint {before['code']}"
    assert shop.sheets == ["prints", name]
    assert shop.inbox == []
    again = record_of(shop, name)
    assert again["reprint_of"]["code"] == before["code"]
    assert {one["id"]: one["reprint_of"]["because"] for one in transfers(again)} == {"T002": "lost", "T007": "lost"}
    old = {one["id"]: one for one in transfers(before)}
    for one in transfers(again):
        assert one["art_sha256"] == old[one["id"]]["art_sha256"]
        assert sorted([one["ink_mm"]["w"], one["ink_mm"]["h"]]) == sorted(
            [old[one["id"]]["ink_mm"]["w"], old[one["id"]]["ink_mm"]["h"]]
        )
        art = Path(again["art_root"]) / one["art"]
        assert hashlib.sha256(art.read_bytes()).hexdigest() == one["art_sha256"]
    assert again["desk"]["drops"][0]["name"] == "reprint.csv"
    assert papercheck.faults(shop.places.sheets / name, Path(again["art_root"])) == []
    assert (shop.places.done / name / "reprint.csv").is_file()
    shop.turns(10)
    assert len(shop.sheets) == 2


def test_the_list_may_be_a_spreadsheets_own_file(shop):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for line in ticked(shop, "T003").lstrip("\ufeff").splitlines():
        book.active.append(line.split(";"))
    book.save(shop.places.root / "work" / "reprint.xlsx")
    (shop.places.root / "work" / "reprint.xlsx").rename(shop.places.inbox / "reprint.xlsx")
    shop.turns(6)
    name = f"reprint {record_of(shop, 'prints')['code']}"
    assert shop.sheets == ["prints", name]
    assert [one["id"] for one in transfers(record_of(shop, name))] == ["T003"]


def test_a_reprint_can_itself_be_spoiled(shop):
    code = record_of(shop, "prints")["code"]
    shop.drop("reprint.csv", ticked(shop, "T002"))
    shop.turns(6)
    second = record_of(shop, f"reprint {code}")
    shop.drop("friday.csv", ticked(shop, "T002", name=f"reprint {code}"))
    shop.turns(6)
    third = record_of(shop, f"friday {second['code']}")
    assert third["reprint_of"]["code"] == second["code"]
    assert [one["art_sha256"] for one in transfers(third)] == [one["art_sha256"] for one in transfers(second)]


def test_it_waits_for_no_company_and_no_fill(shop):
    shop.start(hold_s=3600.0)
    shop.drop("reprint.csv", ticked(shop, "T001"))
    shop.turns(6)
    assert len(shop.sheets) == 2


def test_paper_is_drawn_once_and_that_of_unprinted_sheets_comes_back_once(shop):
    shelf = PaperStock(shop.places.ledger)
    with shop.watch._desk.ledger.begin_change() as db:
        stock.set_count(db, A4, 10, "", "counted")
    shop.drop("fresh.csv", ticked(shop, "T002"))
    shop.turns(6)
    assert shelf.read_left() == {A4: 9}
    # The paper of a delivery drawn since the count comes back when all of its sheet was never printed.
    fresh = next(name for name in shop.sheets if name.startswith("fresh"))
    with shop.watch._desk.ledger.begin_change() as db:
        stock.change_count(db, A4, -9, "", "waste", "a wet box")
    for _ in range(2):
        shop.drop("never.csv", ticked(shop, "T002", because="unprinted", name=fresh))
        shop.turns(20)
    assert shelf.read_left() == {A4: 0}, "one came back and was printed on; the second list found no paper"
    assert len([name for name in shop.sheets if name.startswith("never")]) == 1
    (waiting,) = shop.look(lambda drops: drops.list_drops("waiting", "making"))
    assert waiting.path == "never.csv"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda text: text.replace("x", ""), "nothing is ticked"),
        (lambda text: text.replace("-T002;x", "-T099;x"), "no transfer of that id in the record"),
        (lambda text: "id,spoiled\nT002,x\n", "do not say of which batch"),
        (lambda text: "id,spoiled\nXXXX-T002,x\n", "none of the desk's deliveries is batch XXXX"),
        (lambda text: text + "XXXX-T001;x\n", "several batches"),
        (lambda text: text.replace(";x;", ";x;torn"), "is no reason"),
    ],
)
def test_a_list_that_cannot_be_used_is_refused_with_the_reason(shop, change, said):
    shop.drop("reprint.csv", change(ticked(shop, "T002")))
    shop.turns(6)
    assert shop.refused == ["reprint.csv"]
    assert said in shop.why("reprint.csv")
    assert str(shop.places.work) not in shop.why("reprint.csv")
    assert shop.sheets == ["prints"]


def test_artwork_that_changed_or_was_thinned_out_is_refused_with_what_to_do(shop):
    owl, *_, fox = sorted(transfers(record_of(shop, "prints")), key=lambda one: one["art"], reverse=True)
    for art in shop.places.done.rglob("owl*.png"):
        draw("words", 180, 180).save(art)
    shop.drop("reprint.csv", ticked(shop, owl["id"]))
    shop.turns(6)
    assert "changed since it was printed" in shop.why("reprint.csv")
    assert "--take-new-art" in shop.why("reprint.csv")
    text = ticked(shop, fox["id"])
    shutil.rmtree(shop.places.done / "prints")
    shop.drop("gone.csv", text)
    shop.turns(6)
    assert "impose reprint" in shop.why("gone.csv")
    assert shop.sheets == ["prints"]


def test_a_desk_that_was_moved_finds_its_artwork(shop):
    text = ticked(shop, "T001")
    record = shop.places.sheets / "prints" / "batch.json"
    record.write_text(record.read_text("utf-8").replace(str(shop.places.done), "/away/done"), "utf-8")
    shop.drop("reprint.csv", text)
    shop.turns(6)
    assert len(shop.sheets) == 2


def test_two_batches_of_one_code_are_not_guessed_between(shop):
    other = shop.places.sheets / "other"
    shutil.copytree(shop.places.sheets / "prints", other)
    text = ticked(shop, "T001")
    shop.drop("same.csv", text)
    shop.turns(6)
    assert len(shop.sheets) == 3, "two deliveries of the same prints: either will do"
    record = (other / "batch.json").read_text("utf-8")
    sha256 = next(one["art_sha256"] for one in transfers(json.loads(record)) if one["id"] == "T001")
    (other / "batch.json").write_text(record.replace(sha256, "0" * 64), "utf-8")
    shop.drop("differ.csv", text)
    shop.turns(6)
    assert "several different batches" in shop.why("differ.csv")


def test_a_folder_may_hold_the_list_alone(shop):
    text = ticked(shop, "T001")
    shop.drop("torn/reprint.csv", text)
    shop.turns(6)
    assert any(name.startswith("torn") for name in shop.sheets)
    shop.drop("mixed/reprint.csv", text)
    draw("ellipse", 90, 90, 1).save(shop.places.inbox / "mixed" / "owl (90 mm).png")
    shop.turns(6)
    assert "drop the list alone" in shop.why("mixed")


def test_the_folder_says_the_paper_and_nothing_else_does(shop):
    shop.start(options=replace(shop.habits.options, settings={"papers": ["a3"], "straight_cuts": True}))
    shop.drop("reprint.csv", ticked(shop, "T001"))
    shop.turns(6)
    shop.drop("big/desk.toml", 'papers = ["a3"]\n')
    shop.drop("big/wide.csv", ticked(shop, "T001"))
    shop.turns(6)
    papers = {name.split()[0]: [p["name"] for p in record_of(shop, name)["paper"]] for name in shop.sheets}
    assert papers == {"prints": [A4], "reprint": [A4], "wide": ["iso_a3_297x420mm"]}


def test_a_warning_names_its_drop_and_nothing_of_a_delivery_stays_in_memory(shop):
    gc.collect()
    before = sum(isinstance(one, TextShaper) for one in gc.get_objects())
    shop.start(ask=True)
    for name in ("hen", "bat"):
        shop.drop(f"left-chest/{name}.png", png(len(name) + ord(name[0])))
    shop.turns(6)
    (asking,) = shop.look(lambda drops: drops.list_deliveries("asking"))
    assert {text.split(":")[0] for text in asking.made["warnings"]} == {"left-chest/hen.png", "left-chest/bat.png"}
    shop.drop("left-chest/owl.png", png(9))
    shop.turns(6)
    alone = next(made for made in shop.look(lambda drops: drops.list_deliveries("asking")) if made.id != asking.id)
    assert {text.split(":")[0] for text in alone.made["warnings"]} == {"left-chest/owl.png"}
    gc.collect()
    # One lettering a delivery of some megabytes, kept by a cache, would fill the maker in a day.
    assert sum(isinstance(one, TextShaper) for one in gc.get_objects()) <= before
