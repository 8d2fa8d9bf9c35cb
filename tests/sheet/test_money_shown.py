"""Money for people: cents, and columns that add up as they stand (arithmetic; largest remainder, H. Hamilton 1792)."""

from __future__ import annotations

import json
import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from impose.sheet.money import show_column, show_money


@pytest.mark.parametrize(
    ("millionths", "shown"),
    [(484_120, "0.48"), (485_000, "0.49"), (1_000_000, "1.00"), (0, "0.00"), (4_000, "under 0.01"), (5_000, "0.01")],
)
def test_money_is_shown_in_cents(millionths: int, shown: str) -> None:
    assert show_money(millionths) == shown


@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=20))
def test_a_column_adds_up_as_it_is_shown(parts: list[int]) -> None:
    *shown, total = (Decimal(text) for text in show_column(parts, sum(parts)))
    assert sum(shown) == total
    assert abs(total - Decimal(sum(parts)) / 1_000_000) <= Decimal("0.005")
    for text, part in zip(shown, parts, strict=True):
        assert abs(text - Decimal(part) / 1_000_000) < Decimal("0.02")


def test_the_summary_is_in_cents_and_the_record_exact(batch, run, tmp_path) -> None:
    """A piece of roll costs its length times the price a metre: a fraction of a cent that nobody pays."""
    source = batch(["A,Ada,owl.png,,tee adult M,1,50mm,,,,"], {"owl.png": ("ellipse", 40, 30)})
    code, out, _ = run("sheets", source, "-p", "roll-13in", "-o", tmp_path / "out", "--steps", 50)
    assert code == 0
    amounts = re.findall(r"(\S+) EUR", out)
    assert len(amounts) == 2
    assert all(re.fullmatch(r"\d+\.\d\d", amount) for amount in amounts)
    record = json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))
    assert len(record["cost"].partition(".")[2]) > 2
