"""What a customer was shown and agreed to, held against what is made now: prints as worn, one entry for each row.

Entries are plain values, so that a record keeps them and a later run compares them. What a customer cannot see on the
page (paper, margins, sheets) is not among them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeGuard

from impose.errors import Finding, Severity
from impose.orders.batch import OrderKey
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy
from impose.sheet.piece import Piece, describe_ordered_garment
from impose.sheet.press_steps import describe_place
from impose.units import format_length
from impose.values import FrozenStruct

Entry = Mapping[str, Any]
PageKey = tuple[str, int]
"""The order's name and 0; where it has none, "" and its first row."""

SAME_MM = 0.2  # sizes less than this apart look the same
_LARGEST_MM = 1e6

_NAMES = {
    "copies": "copies",
    "words": "the words",
    "font": "the lettering",
    "cloth": "the cloth",
    "place": "the place",
    "size_mm": "the size",
    "sha256": "the picture",
    "recolour": "the colours",
}
_LATER = ("font", "cloth", "place")  # what answers noted by an earlier version do not say


class Agreement(FrozenStruct):
    """Who agreed to an order, when (a date as written), and to what. `row` is that of an order without a name."""

    order: str
    row: int
    by: str
    on: str
    shows: tuple[Entry, ...]

    @property
    def key(self) -> PageKey:
        """What its page is known by."""
        return self.order, 0 if self.order else self.row


def group_shown_by_order(
    pieces: Iterable[Piece], profiles: Profiles
) -> dict[PageKey, list[tuple[int, dict[str, Any]]]]:
    """What each order's page shows: the number of each row, and its entry."""
    return {
        key: [(piece.row.row, describe_shown(piece, profiles)) for piece in shown]
        for key, shown in group_shown(pieces).items()
    }


def group_shown(pieces: Iterable[Piece]) -> dict[PageKey, list[Piece]]:
    """What each order's page shows, a print in panels once."""
    found: dict[OrderKey, list[Piece]] = {}
    for piece in pieces:
        if piece.panel is None or piece.panel.number == 1:
            found.setdefault(piece.row.order_key, []).append(piece)
    return {(key[0], 0 if key[0] else min(piece.row.row for piece in of)): of for key, of in found.items()}


def describe_shown(piece: Piece, profiles: Profiles) -> dict[str, Any]:
    """What is shown of a piece, as an answer is noted of it."""
    row = piece.row
    place = describe_place(row, profiles) or {}
    return {
        "wearer": row.wearer,
        "garment": describe_ordered_garment(row),
        "placement": row.placement or "",
        "copies": row.copies,
        "words": row.words,
        "font": row.font if row.words else "",
        "cloth": row.cloth.words,
        "place": "; ".join(filter(None, (place.get("drop"), place.get("across")))),
        "art": "" if row.words else row.art_name,
        "sha256": "" if row.words else piece.picture.sha256,
        "size_mm": [round(mm, 1) for mm in piece.finished_size],
        **({"recolour": "; ".join(f"{was} > {now}" for was, now, _ in row.recolour)} if row.recolour else {}),
    }


def compare_with_agreement(agreement: Agreement, now: Sequence[tuple[int, Entry]], units: Any) -> Iterator[Finding]:
    """What differs from what was agreed, each at its row; one note where nothing does."""
    agreed = list(agreement.shows)
    changed = [pair for pair in now if not _take_alike(agreed, pair[1], _are_same)]
    new: list[tuple[int, Entry]] = []
    first = min((row for row, _ in now), default=None)
    told = f"{agreement.by} on {agreement.on}"
    differing = False
    for row, entry in changed:
        match = _take_alike(agreed, entry, _are_alike)
        if match is None:
            new.append((row, entry))
            continue
        differing = True
        yield _make_changed(f"{_list_differences(match, entry, units)}", told, row)
    for row, entry in new:
        yield _make_changed(f"{_name_entry(entry)} was not among it", told, row)
    for entry in agreed:
        yield _make_changed(f"{_name_entry(entry)} is no longer there", told, first)
    if not (differing or new or agreed):
        what = f"the order was agreed by {told}, as it stands"
        yield Finding(what, "", Severity.NOTE, "agreed", row=first)


def _take_alike(agreed: list[Entry], entry: Entry, alike: Any) -> Entry | None:
    """The first of those agreed that is alike, taken out of them."""
    for index, candidate in enumerate(agreed):
        if alike(candidate, entry):
            return agreed.pop(index)
    return None


def _are_alike(entry: Entry, other: Entry) -> bool:
    return all(entry.get(name) == other.get(name) for name in ("wearer", "garment", "placement"))


def _are_same(entry: Entry, other: Entry) -> bool:
    return _are_alike(entry, other) and not list(_list_differing(entry, other))


def _list_differing(entry: Entry, other: Entry) -> Iterator[str]:
    for name in _NAMES:
        if name in _LATER and name not in entry:
            continue
        if name == "size_mm":
            then: Any = entry.get(name)
            now = other[name]
            if not _is_size(then) or any(abs(a - b) > SAME_MM for a, b in zip(then, now, strict=True)):
                yield name
        elif entry.get(name) != other.get(name):
            yield name


def _is_size(value: Any) -> TypeGuard[Sequence[float]]:
    """Whether a value, which may come from a file that anybody changed, is a width and a height."""
    whole = isinstance(value, list) and len(value) == 2
    return whole and all(isinstance(number, int | float) and 0 <= number < _LARGEST_MM for number in value)


def _list_differences(then: Entry, now: Entry, units: Any) -> str:
    parts = []
    for name in _list_differing(then, now):
        if name == "sha256":
            parts.append(f"the picture {now['art'] or 'of the words'} has changed")
        else:
            was, is_ = (_format_value(entry.get(name), units) for entry in (then, now))
            verb = "were" if name in ("copies", "words", "recolour") else "was"
            parts.append(f"{_NAMES[name]} {verb} {was}, now {is_}")
    return ", ".join(parts)


def _format_value(value: Any, units: Any) -> str:
    if _is_size(value):
        return " × ".join(format_length(float(mm), units) for mm in value)
    return f"“{value}”" if isinstance(value, str) else "as drawn" if value is None else str(value)


def _name_entry(entry: Entry) -> str:
    what = str(entry.get("words") or entry.get("art") or "a print").replace("\n", " / ")
    place = str(entry.get("placement") or "").replace("-", " ")
    whose = entry.get("wearer") or entry.get("garment") or ""
    return " ".join(part for part in (f"“{what}”", place and f"on {place}", whose and f"for {whose}") if part)


def _make_changed(what: str, told: str, row: int | None) -> Finding:
    return Finding(
        f"not what was agreed: {what} (agreed by {told})",
        Remedy("ask-again"),
        Severity.WARN,
        kind="not-agreed",
        why="A print that nobody agreed to may have to be pressed again on a new garment.",
        row=row,
    )
