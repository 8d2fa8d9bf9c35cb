"""Costs that add up exactly: paper by the sheet, shared among the transfers that lie on it.

Inside, money is whole millionths of the currency unit, as the packer counts it; outside it is `Decimal`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from impose.profiles.profiles import Paper

MILLIONTHS = 1_000_000
CENT = 10_000  # millionths


def to_millionths(amount: Decimal) -> int:
    """Whole millionths of a price; a finer price is rounded up, so that a cost is never understated."""
    scaled = amount * MILLIONTHS
    return int(scaled.to_integral_value(rounding="ROUND_CEILING"))


def to_decimal(millionths: int) -> Decimal:
    """The exact amount, with two decimals or as many as it needs."""
    amount = Decimal(millionths) / MILLIONTHS
    cents = amount.quantize(Decimal("0.01"))
    return cents if cents == amount else amount.normalize()


def show_money(millionths: int) -> str:
    """An amount for people, in cents, halves away from zero; exact amounts stand in the record."""
    cents = (Decimal(millionths) / MILLIONTHS).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return f"{cents:f}" if cents or not millionths else "under 0.01"


def show_column(parts: Sequence[int], total: int) -> list[str]:
    """Amounts in cents that add up to the total in cents, for people who add them up; then the total."""
    cents = int((Decimal(total) / CENT).quantize(Decimal(1), ROUND_HALF_UP)) * CENT
    return [f"{Decimal(part) / MILLIONTHS:.2f}" for part in (*split_by_weight(cents, parts, CENT), cents)]


def compute_sheet_cost(paper: Paper, length_mm: float) -> int:
    """What one sheet costs, or one piece cut from a roll at its price a metre, rounded up; whole millionths."""
    price = to_millionths(paper.cost)
    if not paper.is_roll:
        return price
    return math.ceil(round(price * length_mm / 1000, 6))


def split_by_weight(total: int, weights: Sequence[float], step: int | None = None) -> list[int]:
    """Split a whole amount by weight so that the parts add up exactly (method of the largest remainder).

    Parts are whole multiples of `step`, which must divide the total; by default cents, or millionths where the total
    is not in whole cents. Equal remainders go to the earlier part. Without any weight the parts are even.
    """
    if not weights:
        return []
    step = step or (CENT if total % CENT == 0 else 1)
    units, odd = divmod(total, step)
    if odd:
        raise ValueError(f"{total} is no multiple of {step}")
    # Whole weights, so that no rounding of a quotient can hand out a part too many.
    whole = [round(weight * 1_000_000) for weight in weights]
    if sum(whole) <= 0:
        whole = [1] * len(weights)
    everything = sum(whole)
    parts, rests = zip(*(divmod(units * weight, everything) for weight in whole), strict=True)
    more = sorted(range(len(whole)), key=lambda i: (-rests[i], i))[: units - sum(parts)]
    late = set(more)
    return [(part + (i in late)) * step for i, part in enumerate(parts)]
