"""Feeding a printed sheet once more: only one that a person says is whole, flat and dry."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from impose.page.made_folders import find_made
from impose.page.refusal import Refusal
from impose.run.offcuts import CLEAR_MM
from impose.run.options import Options
from impose.run.reuse_sheets import OntoRequest
from impose.units import LengthError, parse_length

ASKED = ("whole", "flat", "dry")


def read_onto(folder: Path, asked: Mapping[str, Any], options: Options) -> OntoRequest:
    """Which printed sheets are offered again. Raises `Refusal`."""
    lacking = [word for word in ASKED if asked.get(word) is not True]
    if lacking:
        what = f"The sheet is not said to be {' and '.join(lacking)}."
        raise Refusal(422, "not-fit", what, "A sheet is fed again only if it is whole, flat and dry: it may jam else.")
    sheets = asked.get("sheets", [asked["sheet"]] if "sheet" in asked else [])
    if not isinstance(sheets, list) or not all(isinstance(sheet, int) and sheet > 0 for sheet in sheets):
        raise Refusal(400, "malformed", "The page sent something that cannot be read: the sheets.", "Reload the page.")
    made = find_made(folder, str(asked.get("made", "")))
    try:
        clear = parse_length(str(asked["clear"]), options.bare, zero=True) if asked.get("clear") else CLEAR_MM
    except LengthError as error:
        raise Refusal(422, "length", f"The distance from old prints: {error.what}.", error.remedy) from None
    return OntoRequest(made.path, tuple(sheets), clear)
