"""What is read again later: whose paper comes back, what a record hands down, what is newer, what is fresh."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from each_case import try_each
from impose.ledger import stock
from impose.ledger.stock import STOCK, PaperTake, StockDelivery
from impose.ledger.store import open_ledger
from impose.run import Options
from impose.run.artwork import add_drawn_size
from impose.run.format_versions import is_newer
from impose.run.load_batch import load_profiles_in_force, read_sources
from impose.run.made_work import _is_fresh
from impose.run.paper_stock import ReturnedSheets, group_returned_by_delivery
from impose.run.reprint import restore_options
from impose.values import replace

PAPER = "iso_a4_210x297mm"


@try_each(
    "written, newer",
    [
        ("impose-press/2", False), ("impose-press/3", True), ("impose-press/10", True), ("impose-press/1", False),
        ("impose-press/999999999", True), ("impose-press/1000000000", False), ("impose-other/3", False),
        ("impose-press/x", False), ("impose-press/3.5", False), ("impose-press/\u0663", False), (3, False),
        (None, False),
    ],
)  # fmt: skip
def test_a_newer_file_has_our_name_and_a_higher_number_in_plain_digits(written, newer):
    assert is_newer(written, "impose-press/2") is newer


@pytest.mark.parametrize(
    ("kept", "printer"), [({"name": "wide"}, "wide"), ({"name": 5}, None), ({}, None), ("wide", None), (None, None)]
)
def test_a_record_hands_down_its_printer_only_by_name_and_what_is_said_now_wins(kept, printer):
    record: Any = SimpleNamespace(options={"printer": kept} if kept is not None else {})
    assert restore_options(record, Options()).settings.get("printer") == printer
    assert restore_options(record, Options(settings={"printer": "own"})).settings["printer"] == "own"
    assert restore_options(record, Options()).settings["swatches"] is False


@pytest.mark.parametrize(("age_s", "fresh"), [(100, True), (140, False), (-5, True)])
def test_what_was_begun_two_minutes_ago_may_still_be_under_way(age_s, fresh):
    made: Any = SimpleNamespace(at=(datetime.now(UTC) - timedelta(seconds=age_s)).isoformat())
    assert _is_fresh(made) is fresh
    assert not any(_is_fresh(SimpleNamespace(at=at)) for at in ("", "2026", "yesterday", None))  # type: ignore[arg-type]


def test_paper_comes_back_to_the_newest_delivery_at_its_place_and_to_another_only_where_that_may_be(tmp_path):
    """The same record may lie at two places, and each has drawn paper of its own."""
    with open_ledger(tmp_path / "l.db", [STOCK]) as ledger, ledger.begin_change() as db:
        stock.set_count(db, PAPER, 20, "now", "opened")
        numbers = []
        for place in ("here", "there", "here"):
            entry = StockDelivery(place, "", "", "sha", "AB12")
            takes = [PaperTake(sheet, PAPER, 1) for sheet in (1, 2)]
            numbers.append(stock.begin_delivery(db, entry, takes, {}, "now"))
            stock.finish_delivery(db, numbers[-1])
        older, there, newer = numbers

        def find(place: str, sheets: frozenset[int] | None, elsewhere: bool) -> Any:
            return group_returned_by_delivery(db, [ReturnedSheets("sha", place, sheets, elsewhere=elsewhere)])

        for elsewhere in (False, True):
            assert find("here", frozenset({2}), elsewhere) == {newer: [2]}
            assert find("there", None, elsewhere) == {there: [1, 2]}
            assert find("there", frozenset({3}), elsewhere) == {}
        assert find("moved", frozenset({1}), False) == {}
        assert find("moved", frozenset({1}), True) == {newer: [1]}
        back = StockDelivery("again", "", "", "other", "AB13")
        stock.begin_delivery(db, back, [], find("here", frozenset({1, 2}), False), "later")
        assert find("here", frozenset({1}), False) == {older: [1]}, "the newest has nothing left to give back"


def test_a_drawing_is_rendered_for_its_size_on_paper_once(tmp_path):
    (tmp_path / "owl.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 2 1"><path d="M0 0h2v1z"/></svg>'
    )
    (tmp_path / "a.csv").write_text("art,width\nowl.svg,80mm\n")
    options = Options(cache=False)
    profiles = load_profiles_in_force(options)
    (row,) = read_sources([tmp_path / "a.csv"], profiles, options).rows
    assert row.drawn_mm is None
    drawn = add_drawn_size(row, profiles)
    assert drawn.drawn_mm is not None
    assert drawn.drawn_mm[1] is None, "no height is asked for"
    # The cloth's scale is 1 unless the shop says otherwise.
    assert drawn.drawn_mm[0] == pytest.approx(80.0, rel=0.05)
    recorded = replace(row, drawn_mm=(33.0, None))
    assert add_drawn_size(recorded, profiles) is recorded, "what a record says is what it was rendered for"
