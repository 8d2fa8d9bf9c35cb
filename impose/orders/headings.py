"""The headings of a batch CSV: which column is which, and in what unit."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import cast

from impose.errors import Finding, Severity, quote_text
from impose.profiles.toml_tables import find_near_word
from impose.remedies import Remedy
from impose.units import Bare
from impose.values import FrozenStruct

COLUMNS = (
    "order", "wearer", "art", "words", "font", "letters", "placement", "garment", "copies", "width", "height", "tear",
    "centre", "may_turn", "accept", "note", "cloth", "cloth_colour", "kit", "name", "number", "mend",
    "drop", "across", "recolour",
)  # fmt: skip

_OTHERS = ("colour", "color")
"""Words that are none of ours, though near to one: of a garment, of thread, of a ribbon."""

_SYNONYMS = {
    "order number": "order", "order no": "order", "order id": "order", "artwork": "art", "qty": "copies",
    "quantity": "copies", "center": "centre", "notes": "note", "may turn": "may_turn",
    "recolor": "recolour",
    "cloth colour": "cloth_colour", "cloth color": "cloth_colour", "cloth_color": "cloth_colour", "fabric": "cloth",
}  # fmt: skip
LENGTHS = ("width", "height", "tear", "letters")
_UNITS: dict[str, Bare] = {
    "mm": "mm", "millimetres": "mm", "millimeters": "mm",
    "cm": "cm", "centimetres": "cm", "centimeters": "cm",
    "in": "in", "in.": "in", "inch": "in", "inches": "in", '"': "in", "″": "in",
}  # fmt: skip
_WITH_UNIT = re.compile(
    rf"({'|'.join(LENGTHS)})(?: ?[(\[] ?([^()\[\]]+?) ?[)\]]|[ ,]+({'|'.join(map(re.escape, _UNITS))}))"
)

_HEADINGS_MOST = 12
_MOST_NOTES = 20

SPELLINGS = frozenset(COLUMNS) | frozenset(_SYNONYMS)


class HeadingColumn(FrozenStruct):
    """A column: its place, our name for it (empty if it is not ours), its heading, its unit."""

    index: int
    name: str
    heading: str
    unit: Bare | None = None


def read_headings(
    cells: Iterable[str], file: str, row: int, blanks_give_size: bool
) -> tuple[list[HeadingColumn], list[Finding]]:
    """The columns of a file, with what is wrong with them and what is worth knowing."""
    columns = [_read_column(index, cell) for index, cell in enumerate(cells)]
    findings = (
        _report_duplicates(columns, file, row) + _report_units(columns, file, row) + _report_unknown(columns, file, row)
    )
    names = {column.name for column in columns}
    strange = [column.heading for column in columns if column.heading and not column.name]
    if not names & set(COLUMNS):
        headings = "order, wearer, art, placement, garment, copies, width, height"
        what = f"no heading is known; the first line names the columns, such as {headings}"
        remedy = "Write the headings into the first line."
        return columns, [_make_stop(f"{what}{_list_found(strange)}", _suggest_mapping(strange, remedy), file, row, "")]
    if not names & {"art", "words", "kit"}:
        remedy = _suggest_mapping(strange, "Add it: the path of each artwork.")
        findings.append(_make_stop(f"there is no column art{_list_found(strange)}", remedy, file, row, "art"))
    if not names & {"placement", "width", "height", "letters", "kit"} and not blanks_give_size:
        findings.append(
            _make_stop(
                f"there is neither a placement nor a size: no column placement, width or height{_list_found(strange)}",
                _suggest_mapping(strange, Remedy("add-size-column")),
                file, row, "placement",
            )
        )  # fmt: skip
    return columns, findings


def _list_found(strange: Sequence[str]) -> str:
    """The headings that a file has instead of ours."""
    if not strange:
        return ""
    more = f" and {len(strange) - _HEADINGS_MOST} more" if len(strange) > _HEADINGS_MOST else ""
    return f"; found: {', '.join(quote_text(heading, 40) for heading in strange[:_HEADINGS_MOST])}{more}"


def _suggest_mapping(strange: Sequence[str], remedy: str) -> str:
    """The remedy, and that headings in another language or of an export need no rewriting."""
    if not strange:
        return remedy
    return Remedy("map-columns", first=remedy)


def fold_heading(heading: str) -> str:
    """A heading as headings are compared: capitals, spaces, hyphens and underscores do not matter."""
    return re.sub(r"[\s_-]+", " ", heading).strip().casefold()


def _read_column(index: int, heading: str) -> HeadingColumn:
    folded = fold_heading(heading)
    match = _WITH_UNIT.fullmatch(folded)
    if match:
        unit = (match[2] or match[3]).strip()
        return HeadingColumn(index, match[1], heading.strip(), cast("Bare", _UNITS.get(unit, "?")))
    name = _SYNONYMS.get(folded, folded)
    return HeadingColumn(index, name if name in COLUMNS else "", heading.strip())


def _make_stop(what: str, remedy: str, file: str, row: int, column: str, read: str | None = None) -> Finding:
    return Finding(what, remedy, kind="heading", file=file, row=row, column=column, read=read)


def _report_duplicates(columns: list[HeadingColumn], file: str, row: int) -> list[Finding]:
    seen: dict[str, HeadingColumn] = {}
    faults = []
    for column in columns:
        key = column.name or f"({fold_heading(column.heading)})"
        if not column.heading:
            continue
        if key in seen:
            first = seen[key].heading
            what = (
                "this heading stands twice" if first == column.heading else f"{quote_text(first)} means the same column"
            )
            faults.append(_make_stop(what, "Take one out or rename it.", file, row, column.name, column.heading))
        seen.setdefault(key, column)
    return faults


def _report_units(columns: list[HeadingColumn], file: str, row: int) -> list[Finding]:
    wrong = [column for column in columns if column.unit not in (None, "mm", "cm", "in")]
    return [
        _make_stop("a heading with a unit that is not taken", "Write mm, cm or in.", file, row, c.name, c.heading)
        for c in wrong
    ]


def _report_unknown(columns: list[HeadingColumn], file: str, row: int) -> list[Finding]:
    """A warning for each column that is not ours where one of ours may have been meant; a note for each other one.

    Very many others, as in a whole export, have one note.
    """
    unknown = [column for column in columns if column.heading and not column.name]
    close = {column.heading: _find_meant(column.heading) for column in unknown}
    plain = sum(not near for near in close.values())
    findings: list[Finding] = []
    for column in unknown:
        near = close[column.heading]
        if not near and plain > _MOST_NOTES and any(finding.severity is Severity.NOTE for finding in findings):
            continue
        what = "not a column that is read here; it is kept for the ticket"
        if not near and plain > _MOST_NOTES:
            what = f"this and {plain - 1:,} more are not columns that are read here; they are kept for the ticket"
        findings.append(
            Finding(
                what=what,
                remedy=f"Did you mean {quote_text(near)}? Then rename it." if near else "",
                severity=Severity.WARN if near else Severity.NOTE,
                kind="unknown-column",
                file=file,
                row=row,
                column=column.heading,
            )
        )
    return findings


def _find_meant(heading: str) -> str | None:
    """The column of ours whose name is nearly a heading."""
    folded = fold_heading(heading)
    return None if folded in _OTHERS else find_near_word(folded, SPELLINGS, 0.8)
