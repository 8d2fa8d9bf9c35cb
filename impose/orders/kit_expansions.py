"""What kits made of a roster, garment by garment, to be looked over before anything is printed."""

from __future__ import annotations

from collections.abc import Iterable

from impose.orders.batch import BatchRow
from impose.values import FrozenStruct


class ExpandedLine(FrozenStruct):
    """A line of a roster: its row, for whom, on what, how many, and what is printed, one text for each of `places`."""

    row: int
    wearer: str
    garment: str
    prints: tuple[str, ...]


class KitExpansion(FrozenStruct):
    """A kit with the places it prints at, and every line of the roster that names it."""

    kit: str
    places: tuple[str, ...]
    lines: tuple[ExpandedLine, ...]

    @property
    def heads(self) -> tuple[str, ...]:
        """The headings of its table."""
        return ("Row", "For", "Garment", *self.places)

    def list_cells(self) -> list[tuple[str, ...]]:
        """The cells of its table, one line a garment."""
        return [(str(line.row), line.wearer, line.garment, *line.prints) for line in self.lines]


def list_kit_expansions(rows: Iterable[BatchRow]) -> list[KitExpansion]:
    """The kits of a batch in the order in which rows name them."""
    found: dict[str, dict[int, list[BatchRow]]] = {}
    for row in rows:
        if row.kit:
            found.setdefault(row.kit, {}).setdefault(row.row, []).append(row)
    return [_expand_kit(kit, by_row) for kit, by_row in found.items()]


def _expand_kit(kit: str, by_row: dict[int, list[BatchRow]]) -> KitExpansion:
    places = {row.kit_row: _name_place(row) for rows in by_row.values() for row in rows}
    order = sorted(places)
    lines = []
    for number, rows in by_row.items():
        said = {row.kit_row: _name_content(row) for row in rows}
        prints = tuple(said.get(kit_row, "") for kit_row in order)
        lines.append(ExpandedLine(number, rows[0].wearer, rows[0].garment.text, prints))
    return KitExpansion(kit, tuple(places[kit_row] for kit_row in order), tuple(lines))


def _name_place(row: BatchRow) -> str:
    place = (row.placement or "print").replace("-", " ")
    return f"{place[:1].upper()}{place[1:]}"


def _name_content(row: BatchRow) -> str:
    """The words, or the picture's file; and how many, if several."""
    what = row.words.replace("\n", " / ") or row.art_name
    return f"{row.copies} × {what}" if row.copies > 1 else what
