"""The shop's memory: what was made for whom is found again, whatever dies in between; what was spoiled is counted."""

from __future__ import annotations

import json
import shutil
import sqlite3
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from impose.ledger import made_records
from impose.ledger.made_records import MADE_RECORDS, MadeAgain, MadePrint, MadeRecord
from impose.ledger.stock import STOCK
from impose.ledger.store import open_ledger
from impose.run.made_content import MadeContent, fold_words
from impose.run.made_work import MadeWork
from impose.run.paper_stock import record_hash

pytestmark = pytest.mark.usefixtures("sheets_alone")

PICTURES = {"owl.png": ("ellipse", 200, 200), "fox.png": ("noise", 200, 200)}
HEADING = "order,wearer,art,placement,garment,copies,width"
ROWS = [
    "Rowers,Łukasz Wróbel,owl.png,left-chest,hoodie adult L,,60mm",
    "Rowers,Łukasz Wróbel,fox.png,full-back,hoodie adult L,,90mm",
    "Rowers,Дарина,owl.png,left-chest,hoodie adult M,,60mm",
    "Mill,Zoë (cox),owl.png,left-chest,T-shirt adult M,,60mm",
]


@pytest.fixture
def ledger(tmp_path, monkeypatch) -> Path:
    """A shop that keeps its memory."""
    monkeypatch.setenv("IMPOSE_KEEP_INDEX", "yes")
    monkeypatch.setenv("IMPOSE_LEDGER", str(tmp_path / "ledger.db"))
    return tmp_path / "ledger.db"


@pytest.fixture
def made(batch, run, tmp_path, ledger):
    def make(rows: list[str] = ROWS, name: str = "out", *more: Any) -> Path:
        source = batch(rows, PICTURES, HEADING)
        code, _, err = run("sheets", source, "-o", tmp_path / name, "--steps", 20, *more)
        assert code == 0, err
        assert "not entered" not in err
        return tmp_path / name

    return make


def found(run, *words: Any) -> list[dict[str, Any]]:
    code, out, err = run("find", *words, "--json")
    assert code == 0, err
    return json.loads(out)


@pytest.mark.parametrize(
    ("words", "wearers"),
    [
        (["lukasz"], {"Łukasz Wróbel"}),
        (["WROBEL", "chest"], {"Łukasz Wróbel"}),
        (["дарина"], {"Дарина"}),
        (["zoe"], {"Zoë (cox)"}),
        (["rowers"], {"Łukasz Wróbel", "Дарина"}),
        (["fox"], {"Łukasz Wróbel"}),
        (["T-shirt"], {"Zoë (cox)"}),
        (["nobody"], set()),
        (["%"], set()),
    ],
)
def test_words_are_found_whatever_their_capitals_and_accents(made, run, words, wearers):
    made()
    assert {entry["wearer"] for entry in found(run, *words)} == wearers


def test_an_id_as_on_the_label_finds_its_transfer(made, run):
    folder = made()
    record = json.loads((folder / "batch.json").read_text())
    for sheet in record["sheets"]:
        for transfer in sheet["transfers"]:
            (entry,) = found(run, f"{record['code']}-{transfer['id']}")
            assert (entry["wearer"], entry["placement"]) == (transfer["wearer"], transfer["placement"])
            assert transfer["id"] in entry["transfers"]
            assert entry["folder"] == str(folder)
            assert entry["width_mm"] == pytest.approx(min(transfer["ink_mm"]["w"], transfer["ink_mm"]["h"]), abs=0.01)
    assert found(run, "XXXX-T001") == []


def test_what_was_moved_or_made_elsewhere_is_entered_by_hand(made, run, tmp_path, ledger):
    folder = made()
    (tmp_path / "old").mkdir()
    moved = tmp_path / "old" / "last year"
    shutil.move(folder, moved)
    (entry,) = found(run, "zoe")
    assert entry["folder"] is None
    assert "not found any more" in run("find", "zoe")[1]
    code, _, err = run("find", "--add", tmp_path / "old")
    assert code == 0
    assert "entered" in err
    (entry,) = found(run, "zoe")
    assert entry["folder"] == str(moved)
    assert "known already" in run("find", "--add", moved)[2]
    ledger.unlink()
    assert found(run, "zoe") == []
    assert run("find", "--add", tmp_path)[0] == 0
    assert len(found(run, "zoe")) == 1


def test_a_damaged_record_among_others_is_said_and_passed_over(made, run, tmp_path):
    made()
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "batch.json").write_text('{"format": "impose-record/1"')
    code, _, err = run("find", "--add", tmp_path)
    assert code == 2
    assert "no whole JSON" in err
    assert "known already" in err


def test_sheets_that_were_replaced_unprinted_are_not_found(made, run, tmp_path):
    made()
    made([ROWS[3]], "out", "--replace")
    assert [entry["wearer"] for entry in found(run, "owl")] == ["Zoë (cox)"]


def test_the_memory_is_kept_only_where_the_shop_wants_it(made, run, ledger, monkeypatch):
    monkeypatch.setenv("IMPOSE_KEEP_INDEX", "no")
    made()
    assert not ledger.exists()
    assert found(run, "owl") == []


def test_a_ledger_that_cannot_be_used_keeps_no_sheets_from_being_made(batch, run, tmp_path, ledger):
    ledger.write_bytes(b"no database" * 500)
    code, _, err = run("sheets", batch([ROWS[3]], PICTURES, HEADING), "-o", tmp_path / "out", "--steps", 20)
    # The count of paper lives there too, so that this is a fault of the system as before.
    assert code == 5
    assert "not a ledger" in err
    ledger.unlink()
    ledger.mkdir()
    work = MadeWork(ledger)
    step = work.make_deliver_step(MadeContent("AB34", "b", "", (), 0), tmp_path / "x", lambda part, put: put())
    done: list[str] = []
    step(tmp_path, lambda: done.append("put"))
    assert done == ["put"]
    assert work.troubles[0].severity == "warn"
    assert "impose" not in str(work.troubles[0].remedy)


def test_a_folder_that_never_took_its_place_was_not_made(tmp_path, ledger):
    work = MadeWork(ledger)
    content = MadeContent("AB34", "b", "", (), 1)

    def fail(part: Path, put: Any) -> None:
        raise OSError("the disk is full")

    with pytest.raises(OSError, match="full"):
        work.make_deliver_step(content, tmp_path / "x", fail)(tmp_path, lambda: None)
    with open_ledger(ledger, [MADE_RECORDS]) as opened, opened.begin_read() as db:
        assert made_records.list_records(db) == []


def test_the_same_sheets_made_again_in_vain_are_still_known(made, run, tmp_path, ledger):
    folder = made([ROWS[3]])
    content = MadeContent("AB34", "b", "", (), 1)

    def fail(part: Path, put: Any) -> None:
        raise OSError("the disk is full")

    with pytest.raises(OSError, match="full"):
        MadeWork(ledger).make_deliver_step(content, folder, fail)(folder, lambda: None)
    assert [entry["wearer"] for entry in found(run, "owl")] == ["Zoë (cox)"]


def test_what_a_killed_process_left_open_is_settled_by_where_the_folder_is(made, run, tmp_path, ledger, monkeypatch):
    """Killed after the folder took its place, and killed before: the file system says which."""
    monkeypatch.setenv("IMPOSE_KEEP_INDEX", "no")  # it is entered here, as the killed process would have
    folder = made()
    entry = MadeRecord(record_hash(folder), str(folder), "AB34", "b", "", "", 1, 1, at="2020-01-01T00:00:00+00:00")
    ghost = MadeRecord("0" * 64, str(tmp_path / "never"), "AB35", "b", "", "", 1, 1, at="2020-01-01T00:00:00+00:00")
    print_ = MadePrint(2, 0, "", "Ghost", "", "", "", 1.0, 1.0, "", ("T001",), "ghost")
    with open_ledger(ledger, [MADE_RECORDS]) as opened, opened.begin_change() as db:
        made_records.begin_record(db, entry, [print_])
        made_records.begin_record(db, ghost, [print_])
    (settled,) = found(run, "ghost")
    assert settled["folder"] == str(folder)
    with open_ledger(ledger, [MADE_RECORDS]) as opened, opened.begin_read() as db:
        assert [made.state for made in made_records.list_records(db)] == ["made"]


def test_a_ledger_of_an_earlier_version_is_brought_up_to_date_whole_or_not_at_all(tmp_path):
    path = tmp_path / "ledger.db"
    with open_ledger(path, [STOCK]) as opened, opened.begin_change() as db:
        db.execute("INSERT INTO stock_paper VALUES ('iso_a4_210x297mm', 40)")
    before = path.read_bytes()

    class Killed(BaseException):
        pass

    broken = type(MADE_RECORDS)("made", ((*MADE_RECORDS.steps[0], "CREATE TABLE made_record (x)"),))
    with pytest.raises(sqlite3.OperationalError):
        open_ledger(path, [STOCK, broken])
    assert path.read_bytes() == before
    with open_ledger(path, [STOCK, MADE_RECORDS]) as opened, opened.begin_read() as db:
        assert db.execute("SELECT left FROM stock_paper").fetchone()["left"] == 40
        assert made_records.list_records(db) == []


def test_a_whole_garment_is_made_again_with_all_its_prints(made, run, tmp_path):
    folder = made()
    record = json.loads((folder / "batch.json").read_text())
    ids = {t["id"] for s in record["sheets"] for t in s["transfers"] if t["wearer"] == "Łukasz Wróbel"}
    for number, who in enumerate(("Łukasz Wróbel", min(ids)[1:], f"{record['code']}-{max(ids)}")):
        out = tmp_path / f"again{number}"
        code, said, err = run("reprint", folder, "--garment", who, "-o", out, "--steps", 20)
        assert code == 0, err
        assert "new blank, at no charge: hoodie adult L, for Łukasz Wróbel" in said
        again = json.loads((out / "batch.json").read_text())
        assert {t["id"] for s in again["sheets"] for t in s["transfers"]} == ids
        (garment,) = again["reprint_of"]["garments"]
        assert set(garment["transfers"]) == ids
        assert garment["because"] == "spoiled"
    both = tmp_path / "both"
    more = ("--only", "T004", "--garment", "Łukasz Wróbel")
    assert run("reprint", folder, *more, "-o", both, "--steps", 20)[0] == 0
    bought = (both / "blanks.csv").read_text("utf-8-sig")
    assert "Rowers" in bought
    assert "Mill" not in bought


def test_a_garment_that_is_not_clear_is_asked_for(made, run, tmp_path):
    rows = [*ROWS, "Ferry,Дарина,owl.png,left-chest,T-shirt adult S,,60mm"]
    folder = made(rows)
    code, _, err = run("reprint", folder, "--garment", "Дарина", "-o", tmp_path / "x")
    assert code == 2
    assert "2 garments are for that wearer" in err
    assert "Ferry" in err
    code, _, err = run("reprint", folder, "--garment", "Lukasz Wrobel", "-o", tmp_path / "x")
    assert code == 2
    assert "Did you mean" in err
    code, _, err = run("reprint", folder, "--garment", "Zoë (cox)", "--because", "unprinted", "-o", tmp_path / "x")
    assert code == 2
    assert "never printed" in err


def test_what_was_spoiled_is_counted_by_placement_and_cause(made, run, tmp_path):
    folder = made()
    assert run("reprint", folder, "--garment", "Łukasz Wróbel", "-o", tmp_path / "a", "--steps", 20)[0] == 0
    assert run("reprint", folder, "--order", "Mill", "--because", "lost", "-o", tmp_path / "b", "--steps", 20)[0] == 0
    told = json.loads(run("spoilage", "--json")[1])
    assert {(p["placement"], p["because"], p["prints"]) for p in told["prints"]} == {
        ("full-back", "spoiled", 1),
        ("left-chest", "spoiled", 1),
        ("left-chest", "lost", 1),
    }
    assert told["blanks"] == [{"garment": "hoodie adult L", "because": "spoiled", "blanks": 1}]
    assert told["made"] == {"prints": 4, "garments": 3}
    assert "3 prints spoiled or lost of 4 made, 75.0% of all" in run("spoilage")[1]
    assert json.loads(run("spoilage", "--json", "--since", "2999-01-01")[1])["prints"] == []
    assert run("spoilage", "--since", "yesterday")[0] == 2


def test_the_shops_own_share_counts_from_fifty_on_and_leaves_the_unprinted_out(tmp_path):
    work = MadeWork(tmp_path / "ledger.db")
    assert work.read_spoilage(50) is None

    def enter(number: int, again: int, because: str) -> None:
        prints = [MadePrint(n, 0, "", "", "", "", "", 1, 1, "", (f"T{n}",), "") for n in range(number)]
        source = "a" * 64 if again else ""
        made = MadeRecord(
            f"{number}{because}", f"/{number}{because}", "", "", source, "", number, number // 2, at="2026"
        )
        with open_ledger(work.path, [MADE_RECORDS]) as opened, opened.begin_change() as db:
            entries = [MadeAgain(source, f"T{n}", "nape", because) for n in range(again)]
            made_records.finish_record(db, made_records.begin_record(db, made, prints, entries))

    enter(1000, 0, "")
    enter(49, 49, "spoiled")
    enter(30, 30, "unprinted")
    assert work.read_spoilage(50) is None
    enter(1, 1, "lost")
    rates = work.read_spoilage(50)
    assert rates is not None
    assert (rates.prints, rates.blanks) == (Fraction(50, 1000), Fraction(0))
    assert "50 of 1000 prints" in rates.told


def test_letters_are_folded_as_people_type_them():
    assert fold_words("Łukasz Zoë STRASSE Straße ﬁne Ångström") == "lukasz zoe strasse strasse fine angstrom"
    assert fold_words("ΕΛΈΝΗ") == fold_words("ελένη")


def test_two_processes_may_enter_at_once(tmp_path):
    work, other = MadeWork(tmp_path / "ledger.db"), MadeWork(tmp_path / "ledger.db")
    outer: list[str] = []

    def nested(part: Path, put: Any) -> None:
        other.make_deliver_step(MadeContent("BBBB", "b", "", (), 1), tmp_path / "b", lambda p, q: q())(part, put)

    work.make_deliver_step(MadeContent("AAAA", "a", "", (), 1), tmp_path / "a", nested)(
        tmp_path, lambda: outer.append("put")
    )
    assert outer == ["put"]
    assert not work.troubles
    assert not other.troubles
    with open_ledger(work.path, [MADE_RECORDS]) as opened, opened.begin_read() as db:
        assert {(made.code, made.state) for made in made_records.list_records(db)} == {
            ("AAAA", "made"),
            ("BBBB", "made"),
        }
