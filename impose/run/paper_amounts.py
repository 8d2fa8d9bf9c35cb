"""Amounts of paper in words."""

from __future__ import annotations

from impose.profiles.paper import PaperNameError, parse_media_name
from impose.units import format_length


def is_roll_name(name: str) -> bool:
    """Whether a paper is a roll, by its name of PWG 5101.1."""
    try:
        return parse_media_name(name).height_mm is None
    except PaperNameError:  # a name that an older or newer grammar took
        return False


def format_paper_amount(amount: int, name: str, units: str = "mm") -> str:
    """So much of a paper: sheets, or a roll's length given in micrometres."""
    if not is_roll_name(name):
        return f"{amount} {'sheet' if abs(amount) == 1 else 'sheets'}"
    if units == "in":
        return format_length(amount / 1000, "in")
    return f"{amount / 1_000_000:.3f}".rstrip("0").rstrip(".") + " m"
