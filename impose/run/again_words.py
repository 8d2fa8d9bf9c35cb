"""Words of a garment made again for somebody else: the name and the number that were printed become the new ones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from impose.orders.again_roster import AgainLine
from impose.type.sanitise import fold_text
from impose.values import FrozenStruct, replace

if TYPE_CHECKING:
    from impose.run.again import AgainRow


class NoteFault(Protocol):
    """Notes a fault of a line."""

    def __call__(self, line: AgainLine, column: str, what: str, remedy: str, read: str | None = None) -> None:
        """Note it."""


class OldNames(FrozenStruct):
    """What a garment's words were made of: the name and the number printed, and whose it was."""

    name: str
    number: str
    wearer: str

    def find_part(self, words: str) -> str:
        """Which column some words were made of: name, number, or neither."""
        folded = fold_text(words)
        if self.number and folded == self.number.casefold():
            return "number"
        names = {self.name.casefold(), self.wearer.casefold(), *self.wearer.casefold().split()} - {""}
        if folded in names:
            return "name"
        return "number" if not self.number and folded.isdecimal() else ""


def replace_words(
    rows: Sequence[AgainRow], old: Sequence[AgainRow], line: AgainLine, new: bool, note_fault: NoteFault
) -> list[AgainRow]:
    """The rows with the line's name and number in the place of the old ones; other words stay.

    A new garment needs whatever of the two the old one had printed. Other words are as large as the row
    asked for, or as the shop's figures of today make them.
    """
    first = old[0].row
    extra = {heading.casefold(): text for heading, text in first.extra}
    names = OldNames(
        next((row.row.name for row in old if row.row.name), extra.get("name", "")),
        next((row.row.number for row in old if row.row.number), extra.get("number", "")),
        first.wearer,
    )
    made = []
    missing: dict[str, str] = {}
    for row in rows:
        words = row.row.words
        part = names.find_part(words) if words else ""
        text = line.read_cell(part) if part else ""
        if part and not text and new:
            missing.setdefault(part, words)
        made.append(_set_words(row, text) if part and text else row)
    for part, words in missing.items():
        what = f"the garment it is like has “{words}” printed, which is its {part}, and the line gives no {part}"
        note_fault(line, part, what, f"Write the {part} that is to be printed.", None)
    return made


def _set_words(row: AgainRow, text: str) -> AgainRow:
    """The row with other words, in the capitals of the old ones."""
    words = row.row.words
    text = text.upper() if words.isupper() and not words.isdecimal() else text
    # What fitted the old words would make longer ones small: what the row itself asked for holds, or the placement.
    asked = (None, None) if row.row.letters_mm is not None else (row.row.width_mm, row.row.height_mm)
    return replace(row, row=replace(row.row, words=text), width_mm=asked[0], height_mm=asked[1])
