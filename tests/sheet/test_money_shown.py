"""Money for people: cents, and columns that add up as they stand (arithmetic; largest remainder, H. Hamilton 1792)."""

from __future__ import annotations

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
