"""The desk as the page shows it: in words of its own, with an answer to every question, and noticed at once."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from each_case import try_each
from impose.desk.folders import DeskFolders
from impose.desk.monitor import read_status
from impose.desk.new_desk import make_desk
from impose.ledger.drops import DROPS, DropLedger
from impose.ledger.stock import STOCK
from impose.ledger.store import open_ledger
from impose.page.desk_page import list_desk_values, read_desk_mark, say_of_drop
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from page.conftest import ASLEEP, Bed


@try_each(
    "told, shown",
    [
        (
            "left-chest/hazy owl.png, row 1, column art: haze: faint alpha (12 of 255) lies on 3% of the picture "
            "(read: “drop-2/hazy owl.png”). It prints as a film.",
            "hazy owl.png, in left-chest: haze: faint alpha (12 of 255) lies on 3% of the picture. It prints "
            "as a film.",
        ),
        ("moth, small.png: thin lines", "moth, small.png: thin lines."),
        (
            "friday/team.csv, row 7, column width: “wide” is no width. Write 90 mm.",
            "team.csv, in friday, row 7, column width: “wide” is no width. Write 90 mm.",
        ),
        ("prints, row 1: a print fits no paper: a4 takes 186 mm.", "A print fits no paper: A4 takes 186 mm."),
        ("the file is cut off: its end mark is missing.", "The file is cut off: its end mark is missing."),
        (
            "haze: faint. Erase it in the artwork, or start the desk with --clean-haze; the view shows it stronger.",
            "Haze: faint. Erase it in the artwork; the view shows it stronger.",
        ),
        ("its turn comes", "Its turn comes."),
        ("it is missing. (It was waited for 60 s.)", "It is missing. (It was waited for 60 s.)"),
    ],
)  # fmt: skip
def test_what_the_desk_wrote_for_its_log_is_told_without_lines_and_working_copies(told, shown):
    assert say_of_drop(told) == shown


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A desk that asks about one delivery and has made another."""
    places, _ = make_desk(tmp_path / "desk", load_profiles_in_force(Options()))
    with open_ledger(places.ledger, [DROPS, STOCK]) as opened:
        DropLedger(opened)
    return places.root


def test_the_page_notices_what_the_desk_does_and_forgets_no_answer(tmp_path, desk):
    before = read_desk_mark(desk)
    places = DeskFolders(desk)
    places.requests.mkdir(exist_ok=True)
    (places.requests / "stop-0").write_bytes(b"")
    assert list_desk_values(desk, 0.0)["stopping"]
    os.utime(places.ledger, (1, 1))
    assert read_desk_mark(desk) != before
    bed = Bed(tmp_path / "page", ASLEEP, desk=desk)
    try:
        tab = bed.tab()
        assert tab.get("/api/desk")["says"].startswith("Not started")
        assert tab.post("/api/desk", {"ask": "make-now"})["says"] == "It is done once the desk is started."
        assert tab.post("/api/desk", {"ask": "accept", "number": 7}, 409)["error"]["code"] == "gone"
        assert tab.post("/api/desk", {"ask": "rm -rf"}, 400)["error"]["code"] == "malformed"
        assert (places.requests / "make-now-0").exists()
    finally:
        bed.close()


def test_a_delivery_whose_counts_are_not_known_is_told_without_them(tmp_path, desk):
    """What an older ledger or a broken record does not say is left out; “None prints” is no number of prints."""
    places = DeskFolders(desk)
    with open_ledger(places.ledger, [DROPS, STOCK]) as opened, opened.begin_change() as db:
        for facts in ({}, {"code": "ABCD", "transfers": 1, "sheets": 2}, {"transfers": 3}):
            db.execute(
                "INSERT INTO deliveries (name, done, state, begun_at, made) VALUES ('owl', '', 'delivered', 0, ?)",
                (json.dumps(facts),),
            )
    shown = [entry["says"] for entry in list_desk_values(desk, 0.0)["delivered"]]
    assert sorted(shown) == ["", "1 print on 2 sheets, batch ABCD", "3 prints"]
    lines = [line for line in read_status(places, None, 0.0).list_lines() if line.startswith("delivered")]
    assert not any("None" in line for line in lines)
    assert sum("transfers 1, sheets 2" in line for line in lines) == 1
