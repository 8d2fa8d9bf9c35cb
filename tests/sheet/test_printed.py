"""Records that were edited, cut short or made up: refused with their place, never a traceback."""

from __future__ import annotations

import copy
import json
import random
from typing import Any

import pytest

from each_case import try_each
from impose.errors import Exit, Trouble
from impose.sheet.record_reader import read_record_content

TRANSFER = {
    "id": "3F7K-001", "row": 2, "order": "R", "wearer": "", "art": "owl.png", "art_sha256": "00", "placement": None,
    "garment": "adult tee", "copy": 1, "copies": 1, "ink_px": [0, 0, 10, 10],
    "ink_mm": {"x": 14, "y": 14, "w": 50, "h": 40},
    "cell_mm": {"x": 0, "y": 0, "w": 78, "h": 68}, "crease_mm": {"x": 39, "y": 34}, "tear_mm": {
        "top": [2, 6, 6], "right": [2, 6, 6], "bottom": [2, 6, 6], "left": [2, 6, 6]}, "level": "full",
    "asked_mm": [50, None], "may_turn": True, "centre": "ink", "up": {"edge": "top", "word": "UP"}, "turned": 0,
    "note": "", "cloth": [1, 1], "words": "ADA", "font": "", "fitted": False, "panel": {
        "panel": 1, "panels": 2, "pressed": 1, "overlap_mm": 3, "worn_mm": {"x": 0, "y": 0, "w": 50, "h": 40},
        "whole_mm": {"w": 100, "h": 40}, "joins_mm": [["x", 50]]},
}  # fmt: skip
RECORD = {
    "format": "impose-record/1", "code": "3F7K", "batch": "evening", "art_root": ".", "options": {}, "sheets": [{
        "sheet": 1, "paper": "iso_a4_210x297mm", "width_mm": 210, "height_mm": 297,
        "printable_mm": {"x": 3, "y": 3, "w": 204, "h": 291}, "marks_mm": [], "transfers": [TRANSFER]}],
}  # fmt: skip
HUGE = 10**400  # beyond the largest float, 1.8e308 (IEEE 754 binary64)
STRANGE: tuple[Any, ...] = (
    None, True, 0, -1, HUGE, -HUGE, 1e308, float("inf"), float("nan"), "", "x", [], [1], [None, None], [1, 2, 3], {},
    {"x": 1}, [[]], [{}], [HUGE, 1], 3.5, 2**63,
)  # fmt: skip


def _said(values: object) -> str:
    with pytest.raises(Trouble) as caught:
        read_record_content(json.dumps(values).encode(), "batch.json")
    (finding,) = caught.value.findings
    assert finding.exit is Exit.USAGE
    assert finding.remedy
    return finding.what


def _changed(key: str, value: object) -> dict[str, Any]:
    record = copy.deepcopy(RECORD)
    record["sheets"][0]["transfers"][0][key] = value  # type: ignore[index]
    return record


def test_the_record_that_is_changed_below_is_whole() -> None:
    (transfer,) = read_record_content(json.dumps(RECORD).encode(), "batch.json").transfers
    assert (transfer.ordered.width_mm, transfer.ordered.height_mm) == (50, None)


@pytest.mark.parametrize("value", [5, "90", [50], [1, 2, 3], [HUGE, None], {"w": 1}, True], ids=str)
def test_a_size_asked_for_is_a_pair(value: object) -> None:
    assert "sheets[0].transfers[0].asked_mm" in _said(_changed("asked_mm", value))


@pytest.mark.parametrize("key", ["note", "words", "font"])
def test_texts_are_texts(key: str) -> None:
    assert key in _said(_changed(key, ["x"]))


@pytest.mark.parametrize("key", ["may_turn", "fitted"])
def test_yes_and_no_are_no_numbers(key: str) -> None:
    assert key in _said(_changed(key, "no"))


@try_each(
    "key, taken, refused",
    [
        ("row", (0, 10**9), (-1, 10**9 + 1, 1.0, True, "2", None)),
        ("copies", (1, 9), (-1, 1.5, None)),
        ("kit_row", (0, 10**9), (-1, 10**9 + 1)),
        ("page", (1, 7), (-1, 0, 0.5, "1")),
        ("letters_mm", (None, 0.1, 1e6), (0, -1, 1e6 + 1, True, "20")),
        ("drawn_mm", ([1, None], [None, 0.5], [1e6, 2]),
         ([None, None], [0, 1], [1, -1], [1], [1, 2, 3], [1e6 + 1, 2], [True, 2], "1")),
        ("asked_mm", ([None, None], [1e6, None]), ([], [1e6 + 1, None], [1, True])),
        ("centre", ("ink", "canvas", "mass"), ("middle", None, 1)),
        ("mend", ([],), (["magic"], "x", [1])),
        ("drop", ("",), ("soon", 5)),
        ("recolour",
         ([{"from": "#C81E28", "to": "#12A05B"}], [{"from": "#C81E28", "to": "#12A05B", "patch": 9999}]),
         ("x", [], ["x"], [{}], [{"from": "red", "to": "#12A05B"}], [{"from": "#C81E28", "to": "12A05B"}],
          [{"from": "#C81E28", "to": "#12A05B", "patch": 10000}],
          [{"from": "#C81E28", "to": "#12A05B", "patch": -1}])),
    ],
)  # fmt: skip
def test_each_value_of_a_record_is_taken_up_to_its_edge_and_not_beyond(
    key: str, taken: tuple[Any, ...], refused: tuple[Any, ...]
) -> None:
    for value in taken:
        read = read_record_content(json.dumps(_changed(key, value)).encode(), "batch.json")
        assert len(read.transfers) == 1, value
    for value in refused:
        said = _said(_changed(key, value))
        assert key in said or (key == "recolour" and "patch" in said), value


def _places(value: Any, above: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    below = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [place for key, one in below for place in [(*above, key), *_places(one, (*above, key))]]


def test_no_change_of_a_record_is_a_traceback() -> None:
    """Every value in turn by every strange one, then several at once by a fixed seed."""
    chance, places = random.Random(20260102), _places(RECORD)
    changes = [[(place, value)] for place in places for value in STRANGE]
    changes += [[(chance.choice(places), chance.choice(STRANGE)) for _ in range(3)] for _ in range(500)]
    refused = 0
    for change in changes:
        record: Any = copy.deepcopy(RECORD)
        for place, value in change:
            holder = record
            try:
                for key in place[:-1]:
                    holder = holder[key]
                holder[place[-1]] = value
            except (KeyError, IndexError, TypeError):
                continue  # an earlier change took it away
        try:
            read_record_content(json.dumps(record).encode(), "batch.json")
        except Trouble:
            refused += 1
    assert refused > len(changes) / 2


@pytest.mark.parametrize("content", [b"[" * 100_000, b'{"format": ' + b"9" * 5000 + b"}", b"\xff", b"", b"null"])
def test_what_is_no_json_is_no_record(content: bytes) -> None:
    with pytest.raises(Trouble):
        read_record_content(content, "batch.json")
