"""Costs that add up exactly: paper by the sheet, shared among the transfers that lie on it.

Inside, money is whole millionths of the currency unit, as the packer counts it; outside it is `Decimal`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal

from impose.shop.profiles import Paper

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


def sheet_cost(paper: Paper, length_mm: float) -> int:
    """What one sheet costs, or one piece cut from a roll at its price a metre, rounded up; whole millionths."""
    price = to_millionths(paper.cost)
    if not paper.is_roll:
        return price
    return math.ceil(round(price * length_mm / 1000, 6))


def shares(total: int, weights: Sequence[float]) -> list[int]:
    """Split a whole amount by weight so that the parts add up exactly (method of the largest remainder).

    Amounts in whole cents are split in cents, others in millionths. Equal remainders go to the earlier part.
    """
    step = CENT if total % CENT == 0 else 1
    units = total // step
    whole = sum(weights)
    if whole <= 0:
        weights, whole = [1.0] * len(weights), float(len(weights))
    exact = [units * weight / whole for weight in weights]
    parts = [int(value) for value in exact]
    order = sorted(range(len(weights)), key=lambda i: (parts[i] - exact[i], i))
    for i in order[: units - sum(parts)]:
        parts[i] += 1
    return [part * step for part in parts]
