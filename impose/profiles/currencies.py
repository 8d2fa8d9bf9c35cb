"""Currencies: how many digits their smallest unit has, and amounts written with as many."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

_DIGITS = {
    0: ("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV", "XAF", "XOF",
        "XPF"),
    3: ("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"),
    4: ("CLF", "UYW"),
}  # fmt: skip
MILLIONTHS = 1_000_000


def count_minor_digits(currency: str) -> int:
    """Digits of the minor unit (ISO 4217:2015, list one): 2 for most, and for a code that is not in the list."""
    return next((digits for digits, codes in _DIGITS.items() if currency in codes), 2)


def find_minor_unit(currency: str) -> int:
    """The smallest amount that can be paid, in whole millionths of the currency unit."""
    return MILLIONTHS // int(10 ** count_minor_digits(currency))


def format_minor(millionths: int, currency: str) -> str:
    """An amount in the minor unit, halves away from zero: 12.50 in EUR, 1250 in JPY, 1.250 in KWD."""
    digits = count_minor_digits(currency)
    amount = (Decimal(millionths) / MILLIONTHS).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
    return f"{amount:f}"
