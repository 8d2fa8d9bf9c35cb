"""Names in a packed shop, papers that run short, and listings made as they are read: each by what its text says."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from impose.errors import Exit, Trouble
from impose.profiles.blank_spares import parse_spares
from impose.run.packed_names import LONGEST_NAME, find_name_fault
from impose.run.shortage import StockShortage, list_shortages
from impose.sheet.listed_values import choose_listing


@pytest.mark.parametrize(
    "name",
    ["shop.toml", "profiles/own/fonts.toml", "a/b/c.ttf", "Ärzte (2) + alte.toml", "x" * LONGEST_NAME, "09_a-b.toml"],
)
def test_plain_names_at_most_two_folders_down_are_taken(name: str) -> None:
    assert find_name_fault(name) == ""


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("a/b/c/d.toml", "too long or too deep"),
        ("x" * (LONGEST_NAME + 1), "too long or too deep"),
        ("Zoe\u0308.toml", "not composed (NFC)"),
        *[(name, "no plain name below a folder") for name in (
            "", "/a", "a//b", "../a", "a/../b", ".hidden", "a/.hidden", "a.", "a ", "a./b", " a", "a:b", "a\\b", "a\nb",
            "C:/a", "con", "CON.toml", "a/nul.txt", "-a", "(a)", "a*",
        )],
    ],
)  # fmt: skip
def test_other_names_are_refused_as_what_they_are(name: str, fault: str) -> None:
    told = find_name_fault(name)
    assert fault in told
    assert len(told) < LONGEST_NAME + 100, "a long name is cut"


def read_shortages(wanted: dict[str, int], limits: dict[str, int]) -> list[str]:
    found = list_shortages(wanted, limits, {"a4": "A4", "roll": "the roll"})
    assert all((finding.kind, finding.exit) == ("stock", Exit.NO_ROOM) for finding in found)
    return [finding.what for finding in found]


def test_each_paper_that_does_not_last_is_told_and_no_other() -> None:
    assert read_shortages({"a4": 5, "a3": 4}, {"a4": 5, "a3": 9}) == []
    assert read_shortages({"a4": 5, "a3": 4}, {}) == [], "what is not counted does not run short"
    assert read_shortages({"a4": 6, "a3": 2}, {"a4": 5, "a3": 1}) == [
        "the batch takes 6 sheets of A4, but only 5 sheets are left",
        "the batch takes 2 sheets of a3, but only 1 sheet is left",
    ]


def make_orders(*orders: tuple[str, int]) -> dict[str, Any]:
    """A transfer of each order and row."""
    return {
        f"T{n:03}": SimpleNamespace(
            piece=SimpleNamespace(row=SimpleNamespace(order=order, row=row, order_key=(order, 0 if order else row)))
        )
        for n, (order, row) in enumerate(orders, 1)
    }


@pytest.mark.parametrize(
    ("orders", "unplaced", "words"),
    [
        ([("Crew", 2), ("Crew", 3), ("Mill", 4)], ["T002"], "2 of 3 transfers now, whole orders among them: Mill"),
        ([("Crew", 2), ("", 3), ("", 4)], ["T003"], "2 of 3 transfers now, whole orders among them: Crew, row 3"),
        ([("Crew", 2), ("Crew", 3)], ["T001"], "1 of 2 transfers now, no order whole"),
        ([("Crew", 2)], ["T001"], "0 of 1 transfers now, no order whole"),
        ([*[(f"O{n}", n) for n in range(1, 13)], ("X", 20)], ["T013"], ": " + ", ".join(f"O{n}" for n in range(1, 13))),
        ([*[(f"O{n}", n) for n in range(1, 14)], ("X", 20)], ["T014"], "O12 and 1 more"),
    ],
)
def test_what_the_rest_is_enough_for_is_told_by_whole_orders(orders: Any, unplaced: list[str], words: str) -> None:
    within: Any = SimpleNamespace(unplaced=[(name, "no room") for name in unplaced])
    short = StockShortage({"a4": 2}, {"a4": 1}, make_orders(*orders), within, {})
    assert isinstance(short, Trouble)
    first, last = short.findings
    assert "but only 1 sheet is left" in first.what
    assert last.what.endswith(words)
    assert bool(last.remedy) == (len(unplaced) < len(orders)), "with nothing to be made there is nothing to part"
    assert (last.kind, last.exit, short.wanted) == ("stock", Exit.NO_ROOM, {"a4": 2})


def test_a_listing_is_made_as_it_is_read_only_where_there_are_many() -> None:
    made: list[int] = []

    def make(item: int) -> dict[str, int]:
        made.append(item)
        return {"id": item}

    few = choose_listing(False)([1, 2, 3], make)
    assert (type(few), made) == (list, [1, 2, 3])
    made.clear()
    many = choose_listing(True)([1, 2, 3], make)
    assert (len(many), made) == (3, [])
    assert (many[-1], many[1:]) == ({"id": 3}, [{"id": 2}, {"id": 3}])
    assert made == [3, 2, 3]
    assert many == few
    assert many != few[:2]
    assert many != 3


@pytest.mark.parametrize(
    ("text", "needed", "spares"),
    [
        ("none", 40, 0), ("0", 40, 0), ("1 a run", 1, 1), ("2 a run", 40, 2), ("2 a run", 0, 0), ("3 A  Size", 9, 3),
        ("5 %", 20, 1), ("5 %", 21, 2), ("5%", 1, 1), ("5 %", 0, 0), ("12.5 %", 8, 1), ("12.5 %", 9, 2),
        ("100 %", 7, 7), ("0 %", 7, 0), ("999 a run", 1, 999),
    ],
)  # fmt: skip
def test_spares_are_counted_as_the_rule_is_written(text: str, needed: int, spares: int) -> None:
    rule = parse_spares(text)
    assert rule is not None
    assert rule.count_spares(needed) == spares
    assert rule.by_size == ("size" in text.casefold())


@pytest.mark.parametrize(
    "text", ["", "1", "a run", "1 a week", "1000 a run", "101 %", "-1 a run", "5", "100.001 %", "none 1"]
)
def test_a_rule_of_spares_that_says_nothing_known_is_none(text: str) -> None:
    assert parse_spares(text) is None
