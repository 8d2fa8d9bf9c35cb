"""A list of what differs when an order is made again: a line for each garment that is more, fewer, other or new.

Columns: `wearer` (who), `like` (whose garment it is made like: a wearer of the old order, or an id on it), `order`,
`copies` (5 is five, +4 four more, -1 one less, 0 none), `name` and `number` (what is printed of them), `garment`,
`note`. A line without `like` whose wearer is in the old order speaks of that garment; any other is a new one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from impose.errors import Exit, Finding, Severity, quote_text
from impose.orders.batch import MOST_COPIES
from impose.orders.headings import fold_heading
from impose.orders.table_file import read_table_file
from impose.profiles.toml_tables import find_near_word
from impose.values import FrozenStruct

COLUMNS = ("wearer", "like", "order", "copies", "name", "number", "garment", "cloth_colour", "note")
_SAME = {"who": "wearer", "qty": "copies", "quantity": "copies", "as": "like", "size": "garment",
         "cloth colour": "cloth_colour"}  # fmt: skip


class CopiesChange(FrozenStruct):
    """How many: `count` in all, or so many more or fewer than there were."""

    count: int
    relative: bool = False

    def apply_to(self, before: int) -> int:
        """How many there are then; below 0 where more are taken away than there were."""
        return before + self.count if self.relative else self.count


class AgainLine(FrozenStruct):
    """A line of the list by column, all cells as text but the copies."""

    line: int
    cells: Mapping[str, str]
    copies: CopiesChange | None

    def read_cell(self, name: str) -> str:
        """A cell, empty where it is not there."""
        return self.cells.get(name, "")


def read_again_roster(path: Path, findings: list[Finding]) -> list[AgainLine]:
    """The lines of a list; what is wrong with one goes into `findings`. Raises `Trouble` where it cannot be read."""
    records, found = read_table_file(path, COLUMNS)
    findings += [finding for finding in found if finding.severity is Severity.STOP]
    if not records:
        findings.append(_make_fault(path, None, "", "the list is empty", "Write headings and a line for each change."))
        return []
    names = [_name_column(cell) for cell in records[0].cells]
    for name, heading in zip(names, records[0].cells, strict=True):
        if not name and heading.strip():
            like = find_near_word(fold_heading(heading), COLUMNS)
            remedy = f"Did you mean {like}?" if like else f"Known are {', '.join(COLUMNS)}."
            findings.append(_make_fault(path, records[0].line, heading, "not a column of this list", remedy))
    if len({name for name in names if name}) < len([name for name in names if name]):
        findings.append(_make_fault(path, records[0].line, "", "a column stands there twice", "Take one out."))
    if not {"wearer", "like"} & set(names):
        what = "there is neither a column wearer nor a column like"
        findings.append(_make_fault(path, records[0].line, "", what, "Say whose garments the lines are of."))
        return []
    lines = []
    for record in records[1:]:
        if record.fault:
            findings.append(_make_fault(path, record.line, "", record.fault, record.remedy))
            continue
        cells = {name: " ".join(cell.split()) for name, cell in zip(names, record.cells, strict=False) if name}
        if any(cells.values()):
            lines.append(AgainLine(record.line, cells, _read_copies(path, record.line, cells, findings)))
    return lines


def _name_column(heading: str) -> str:
    folded = fold_heading(heading)
    name = _SAME.get(folded, folded.replace(" ", "_"))
    return name if name in COLUMNS else ""


def _read_copies(path: Path, line: int, cells: Mapping[str, str], findings: list[Finding]) -> CopiesChange | None:
    text = cells.get("copies", "").removeprefix("'")
    if not text:
        return None
    match = re.fullmatch(r"([+\u2212-]?)\s*([0-9]{1,6})(?:\s+more)?", text)
    if match is None or int(match[2]) > MOST_COPIES:
        what, remedy = "not a number of garments", "Write 5 for five, +4 for four more, -1 for one less, 0 for none."
        findings.append(_make_fault(path, line, "copies", f"{what} ({quote_text(text)})", remedy))
        return None
    sign = -1 if match[1] in ("-", "\u2212") else 1
    return CopiesChange(sign * int(match[2]), relative=bool(match[1]) or text.endswith("more"))


def _make_fault(path: Path, line: int | None, column: str, what: str, remedy: str) -> Finding:
    return Finding(what, remedy, kind="again", file=str(path), row=line, column=column, exit=Exit.REFUSED)
