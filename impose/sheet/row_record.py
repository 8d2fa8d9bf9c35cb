"""A row of a batch in a record, and read back: the one place that says which field stands under which key.

What a reprint shall know of a row has to stand here; a test goes through every field of a row and finds it either
here both ways or among those left out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from impose.file_types import MENDS, MOST_PAGE, ColourChange
from impose.orders.batch import MOST_COPIES, BatchRow, Centre
from impose.profiles.cloth import Cloth
from impose.profiles.garment import Garment
from impose.profiles.placement import PlacementOffset, parse_offset, spell_offset
from impose.sheet.piece import describe_ordered_garment
from impose.units import LengthError

LEFT_OUT = {
    "path": "it is found again below the artwork's folder and held to its hash",
    "style": "it is read again from the font",
    "tear": "the margin stands at the transfer as it was made",
    "set_mm": "the words are set again, and come out as wide as they do",
    "may_turn": "it stands at the transfer, where an option may have forbidden it to every row",
}
"""Fields of a row that are not in its entry, and why."""


_COLOUR = re.compile(r"#[0-9A-F]{6}")


class EntryError(ValueError):
    """The key of an entry under which something else stands than belongs there."""


def row_values(row: BatchRow) -> dict[str, Any]:
    """A row as plain values, for the entry of each of its transfers."""
    return {
        "row": row.row,
        "order": row.order,
        "wearer": row.wearer,
        "art": row.art,
        "placement": row.placement,
        "garment": describe_ordered_garment(row),
        # As written: a blank cell stands for a garment of its own for each copy.
        "garment_written": row.garment.text,
        "copies": row.copies,
        "asked_mm": [None if mm is None else round(mm, 6) for mm in (row.width_mm, row.height_mm)],
        "centre": row.centre,
        "note": row.note,
        **(_list_words(row) if row.words else {}),
        **({"accept": sorted(row.accept)} if row.accept else {}),
        **({"extra": [list(pair) for pair in row.extra]} if row.extra else {}),
        **({"fibre": row.cloth.text} if row.cloth.text else {}),
        **({"cloth_colour": row.cloth.colour} if row.cloth.colour else {}),
        **({"page": row.page} if row.page else {}),
        **({"mend": sorted(row.mend)} if row.mend else {}),
        **({"recolour": [_list_change(change) for change in row.recolour]} if row.recolour else {}),
        **({"drawn_mm": [None if mm is None else round(mm, 6) for mm in row.drawn_mm]} if row.drawn_mm else {}),
        **({"drop": spell_offset(row.drop)} if row.drop else {}),
        **({"across": spell_offset(row.across)} if row.across else {}),
        **({"kit": row.kit, "kit_row": row.kit_row, "name": row.name, "number": row.number} if row.kit else {}),
    }


def _list_words(row: BatchRow) -> dict[str, Any]:
    """What is set, in what, whether its letters' height decides its size, and that height where the row gives one."""
    letters = None if row.letters_mm is None else round(row.letters_mm, 6)
    return {"words": row.words, "font": row.font, "fitted": row.fitted, "letters_mm": letters}


def read_row(values: Mapping[str, Any]) -> BatchRow:
    """The row of an entry, its artwork not looked for, its garment's and cloth's texts not read. Raises `EntryError`.

    Keys that an older version did not write are taken as blank.
    """
    width, height = _read_pair(values)
    return BatchRow(
        row=_read_whole_number(values, "row", 10**9),
        order=_read_text(values, "order"),
        wearer=_read_text(values, "wearer"),
        art=_read_text(values, "art"),
        path=Path(),
        placement=None if values.get("placement") is None else _read_text(values, "placement"),
        garment=Garment("", "", "", _read_text(values, "garment_written", _read_text(values, "garment"))),
        copies=_read_whole_number(values, "copies", MOST_COPIES),
        width_mm=width,
        height_mm=height,
        centre=_read_centre(values),
        accept=frozenset(_read_texts(values, "accept")),
        note=_read_text(values, "note", ""),
        extra=_read_extra(values),
        words=_read_text(values, "words", ""),
        font=_read_text(values, "font", ""),
        letters_mm=_read_letters(values),
        cloth=Cloth(_read_text(values, "fibre", ""), _read_text(values, "cloth_colour", "")),
        kit=_read_text(values, "kit", ""),
        kit_row=_read_whole_number({"kit_row": 0, **values}, "kit_row", 10**9),
        name=_read_text(values, "name", ""),
        number=_read_text(values, "number", ""),
        page=_read_whole_number(values, "page", MOST_PAGE) or None if "page" in values else None,
        mend=_read_mends(values),
        drawn_mm=_read_drawn_size(values),
        drop=_read_offset(values, "drop"),
        across=_read_offset(values, "across"),
        recolour=_read_changes(values),
    )


def _read_text(values: Mapping[str, Any], key: str, blank: str | None = None) -> str:
    value = values.get(key, blank)
    if not isinstance(value, str):
        raise EntryError(key)
    return value


def _read_offset(values: Mapping[str, Any], key: str) -> PlacementOffset | None:
    text = _read_text(values, key, "")
    try:
        return parse_offset(text) if text else None
    except LengthError:
        raise EntryError(key) from None


def _read_flag(values: Mapping[str, Any], key: str) -> bool:
    value = values.get(key, False)
    if not isinstance(value, bool):
        raise EntryError(key)
    return value


def _read_letters(values: Mapping[str, Any]) -> float | None:
    value = values.get("letters_mm")
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 < value <= 1e6:
        raise EntryError("letters_mm")
    return float(value)


def _read_whole_number(values: Mapping[str, Any], key: str, most: int) -> int:
    value = values.get(key)
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= most:
        raise EntryError(key)
    return value


def _read_pair(values: Mapping[str, Any]) -> tuple[float | None, float | None]:
    asked = values.get("asked_mm") or [None, None]
    if _read_flag(values, "fitted") and "letters_mm" not in values:
        return None, None  # an earlier version wrote the width that words took
    if not isinstance(asked, list) or len(asked) != 2:
        raise EntryError("asked_mm")
    for mm in asked:
        if mm is not None and (isinstance(mm, bool) or not isinstance(mm, (int, float)) or not abs(mm) <= 1e6):
            raise EntryError("asked_mm")
    width, height = (None if mm is None else float(mm) for mm in asked)
    return width, height


def _read_centre(values: Mapping[str, Any]) -> Centre:
    if values.get("centre") not in ("ink", "canvas", "mass"):
        raise EntryError("centre")
    return cast(Centre, values["centre"])


def _read_mends(values: Mapping[str, Any]) -> frozenset[str]:
    found = frozenset(_read_texts(values, "mend"))
    if not found <= set(MENDS):
        raise EntryError("mend")
    return found


def _list_change(change: ColourChange) -> dict[str, Any]:
    patch = {"patch": change.patch} if change.patch else {}
    return {"from": change.before, "to": change.after, **patch}


def _read_changes(values: Mapping[str, Any]) -> tuple[ColourChange, ...]:
    """The colours that were exchanged: those that a patch stood for, whatever its number means today."""
    found = values.get("recolour", [])
    if not isinstance(found, list):
        raise EntryError("recolour")
    changes = []
    for entry in found:
        if not isinstance(entry, dict):
            raise EntryError("recolour")
        before, after = str(entry.get("from")), str(entry.get("to"))
        if not (_COLOUR.fullmatch(before) and _COLOUR.fullmatch(after)):
            raise EntryError("recolour")
        changes.append(ColourChange(before, after, _read_whole_number({"patch": 0, **entry}, "patch", 9999)))
    return tuple(changes)


def _read_drawn_size(values: Mapping[str, Any]) -> tuple[float | None, float | None] | None:
    """The size for which a drawing was rendered, both sides or one."""
    found = values.get("drawn_mm")
    if found is None:
        return None
    if not isinstance(found, list) or len(found) != 2 or found == [None, None]:
        raise EntryError("drawn_mm")
    for mm in found:
        if mm is not None and (isinstance(mm, bool) or not isinstance(mm, (int, float)) or not 0 < mm <= 1e6):
            raise EntryError("drawn_mm")
    return found[0], found[1]


def _read_texts(values: Mapping[str, Any], key: str) -> list[str]:
    found = values.get(key, [])
    if not isinstance(found, list) or not all(isinstance(text, str) for text in found):
        raise EntryError(key)
    return found


def _read_extra(values: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    found = values.get("extra", [])
    if not isinstance(found, list):
        raise EntryError("extra")
    for pair in found:
        if not (isinstance(pair, list) and len(pair) == 2 and all(isinstance(cell, str) for cell in pair)):
            raise EntryError("extra")
    return tuple((heading, text) for heading, text in found)
