"""Ticks of the press: what is said of a print is kept, taken back and read again; what follows is made again."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from impose.errors import Trouble
from impose.run.press_ticks import FILE, PressTicks, PrintTicks, list_again, read_ticks


def test_what_is_ticked_is_read_again_by_record_and_print(tmp_path: Path) -> None:
    ticks = read_ticks(tmp_path)
    assert ticks.list_ticks_of("3F7K") == {}
    ticks.set_tick("3F7K", "A001", True, None, "20:15")
    ticks.set_tick("3F7K", "A002", None, "garment", "20:16")
    ticks.set_tick("3F7K", "A003", None, "paper", "20:17")
    ticks.set_tick("9QQQ", "A001", True, "paper", "20:18")
    ticks.set_grouping("3F7K", "place")
    ticks.write_file()
    again = read_ticks(tmp_path)
    assert again.list_ticks_of("3F7K") == {
        "A001": PrintTicks(True, None, "20:15"),
        "A002": PrintTicks(False, "garment", "20:16"),
        "A003": PrintTicks(False, "paper", "20:17"),
    }
    assert again.list_ticks_of("9QQQ") == {"A001": PrintTicks(True, "paper", "20:18")}
    assert [again.find_grouping(code) for code in ("3F7K", "9QQQ", "0000")] == ["place", "garment", "garment"]
    before = (tmp_path / FILE).read_bytes()
    again.write_file()
    assert (tmp_path / FILE).read_bytes() == before


def test_one_thing_is_taken_back_and_the_other_stays(tmp_path: Path) -> None:
    ticks = PressTicks(tmp_path / FILE)
    ticks.set_tick("3F7K", "A001", True, "paper", "1")
    ticks.set_tick("3F7K", "A001", None, "", "2")
    assert ticks.list_ticks_of("3F7K") == {"A001": PrintTicks(True, None, "2")}
    ticks.set_tick("3F7K", "A001", None, "garment", "3")
    ticks.set_tick("3F7K", "A001", False, None, "4")
    assert ticks.list_ticks_of("3F7K") == {"A001": PrintTicks(False, "garment", "4")}
    ticks.set_tick("3F7K", "A001", None, "fire", "5")
    ticks.set_tick("3F7K", "A002", False, None, "6")
    assert ticks.list_ticks_of("3F7K") == {}, "nothing is left of what nobody says any more"
    ticks.set_tick("3F7K", "A003", False, "", "7")
    assert ticks.list_ticks_of("3F7K") == {}


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"{", "cannot be read"), (b"[]", "cannot be read"), (b"{}", "cannot be read"), (b"\xff", "cannot be read"),
        (b'{"format": "impose-press/1", "batches": []}', "cannot be read"),
        (b'{"format": "other/1", "batches": {}}', "cannot be read"),
        (b'{"format": "impose-press/2", "batches": {}}', "newer version"),
    ],
)  # fmt: skip
def test_a_file_that_is_none_of_ours_is_refused_and_left(tmp_path: Path, content: bytes, says: str) -> None:
    (tmp_path / FILE).write_bytes(content)
    with pytest.raises(Trouble, match=says):
        read_ticks(tmp_path)
    assert (tmp_path / FILE).read_bytes() == content


def test_strange_values_in_a_file_of_ours_tick_nothing(tmp_path: Path) -> None:
    batches: dict[str, Any] = {
        "3F7K": {"by": 5, "ticks": {
            "A001": {"pressed": "yes", "spoiled": "fire"}, "A002": 5, "A003": {"pressed": True},
        }},
        "9QQQ": [],
    }  # fmt: skip
    (tmp_path / FILE).write_text(json.dumps({"format": "impose-press/1", "batches": batches}), "utf-8")
    ticks = read_ticks(tmp_path)
    assert ticks.list_ticks_of("3F7K") == {"A001": PrintTicks(), "A003": PrintTicks(True)}
    assert ticks.list_ticks_of("9QQQ") == {}
    assert ticks.find_grouping("3F7K") == "garment"


def make_ticket(*names: str) -> Any:
    return SimpleNamespace(steps=[SimpleNamespace(transfer=SimpleNamespace(id=name)) for name in names])


def test_a_spoiled_garment_takes_all_its_prints_with_it_and_spoiled_paper_itself_alone() -> None:
    """What was pressed went with the cloth; a print on two steps (platens) is made once."""
    tickets = [make_ticket("A001", "A002", "A001"), make_ticket("A003", "A004"), make_ticket("A005"), make_ticket()]
    ticks = {
        "A001": PrintTicks(True), "A002": PrintTicks(False, "garment"), "A003": PrintTicks(True, "paper"),
        "A004": PrintTicks(True), "A009": PrintTicks(False, "garment"),
    }  # fmt: skip
    made = list_again(tickets, ticks)
    assert made.reasons == {"A001": "garment", "A002": "garment", "A003": "paper"}
    assert [(garment.ticket, garment.names) for garment in made.garments] == [(tickets[0], ("A001", "A002"))]
    both = list_again(tickets, ticks | {"A001": PrintTicks(True, "paper")})
    assert both.reasons == made.reasons, "a garment that is spoiled needs the print whatever became of the paper"
    assert list_again(tickets, {}).reasons == {}
