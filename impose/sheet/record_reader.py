"""What a record says was printed, read back: each transfer with size, margin and place, each sheet with its marks.

A record may have been edited, cut short or made by another version, so nothing in it is trusted: what does not fit is
refused with its place in the record. Its keys are those of `impose.sheet.record`; keys that are not known are passed
over.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeVar, cast

from impose.errors import Exit, Finding, Trouble
from impose.orders.batch import BatchRow
from impose.profiles.placement import TearMargin
from impose.sheet.margins import Level, TearMargins
from impose.sheet.panels import Panel
from impose.sheet.record_schema import find_fault
from impose.sheet.row_record import EntryError, read_row
from impose.sheet.transfer import Edge
from impose.units import Box
from impose.values import FrozenStruct

_VERSION = 1
"""A record of a higher one has keys that mean something else; within one keys are only added."""
MOST_BYTES = 512 << 20
LEAST_MM = 1e-5  # nothing is printed that small; a record holds six decimals

T = TypeVar("T")


class RecordedPlace(FrozenStruct):
    """Where a print was measured to as it was made, in the words of the columns of a batch; "" where it was not."""

    drop: str
    across: str


class PrintedTransfer(FrozenStruct):
    """One transfer of a record, upright: sizes and margins before turning, `cell` and `sheet` as it lay.

    `ordered` is its row, artwork and garment not yet read. Of a reprint `again` is the id it had, and why it is made
    again. `place` is where on the garment it was measured to, None where the record does not say.
    """

    id: str
    ordered: BatchRow
    art_sha256: str
    copy: int
    ink_px: tuple[int, int, int, int] | None
    ink_w_mm: float
    ink_h_mm: float
    sides: TearMargins
    level: Level
    crease_mm: tuple[float, float]
    up: Edge
    up_word: str
    may_turn: bool
    sheet: int
    cell: Box
    cloth: tuple[float, float] = (1.0, 1.0)
    panel: Panel | None = None
    again: tuple[str, str] | None = None
    place: RecordedPlace | None = None

    @property
    def key(self) -> tuple[int, int]:
        """The row of the batch, and of the kit (0 without one)."""
        return self.ordered.key

    @property
    def row(self) -> int:
        """The number of its row."""
        return self.ordered.row


class PrintedSheet(FrozenStruct):
    """One sheet of a record: its paper by name, its size, where the printer reaches, and what else is printed on it.

    `marks` are slug and rulers, and whatever an earlier printing of the same sheet left; None if the record does not
    say. `first` says that it is printed, pressed and looked at before the rest.
    """

    number: int
    paper: str
    width_mm: float
    height_mm: float
    area: Box
    marks: tuple[Box, ...] | None
    first: bool = False


class RecordContent(FrozenStruct):
    """A record as values; of a reprint `origin` says which record it comes from."""

    code: str
    batch: str
    art_root: str
    options: Mapping[str, Any]
    transfers: tuple[PrintedTransfer, ...]
    sheets: tuple[PrintedSheet, ...]
    origin: Mapping[str, Any] | None = None

    def find_sheet(self, number: int) -> PrintedSheet:
        """A sheet by its number; KeyError if there is none."""
        return {sheet.number: sheet for sheet in self.sheets}[number]


def read_record_content(content: bytes, name: str) -> RecordContent:
    """The record in a file's content, called `name` in findings. Raises `Trouble` (wrong use) if it is none of ours."""
    try:
        values = json.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise _make_no_record(name, "is no whole JSON file") from None
    _check_version(values, name)
    try:
        found = _read_content(values)
    except _RecordFault as fault:
        raise _make_no_record(name, f"is damaged at {fault}") from None
    if (place := find_fault(values)) is not None:
        raise _make_no_record(name, f"is damaged: {place}")
    return found


def _check_version(values: object, name: str) -> None:
    written = str(values.get("format")) if isinstance(values, dict) else ""
    version = re.fullmatch(r"impose-record/([0-9]{1,9})", written)
    if version is None:
        raise _make_no_record(name, "is not a record of this program")
    if int(version[1]) > _VERSION:
        what = f"this record is of version {version[1]}, and this program reads version {_VERSION}"
        remedy = "Use the version of the program that made it, or a newer one."
        raise Trouble(Finding(what, remedy, kind="record", file=name, exit=Exit.USAGE))
    if int(version[1]) < _VERSION:
        raise _make_no_record(name, "is not a record of this program")


class _RecordFault(Exception):
    """The place in the record where something does not fit."""


def _make_no_record(name: str, why: str) -> Trouble:
    return Trouble(
        Finding(
            f"this {why}",
            "Give the batch.json of an output folder, or the folder.",
            kind="record",
            file=name,
            exit=Exit.USAGE,
        )
    )


def _read_content(values: Mapping[str, Any]) -> RecordContent:
    sheets: list[PrintedSheet] = []
    transfers: list[PrintedTransfer] = []
    for at, entry in _read_entries(values, "sheets", ""):
        sheet = _read_sheet(entry, at)
        sheets.append(sheet)
        transfers += [
            _read_transfer(transfer_values, place, sheet.number)
            for place, transfer_values in _read_entries(entry, "transfers", at)
        ]
    _check_distinct([transfer.id for transfer in transfers], "id")
    _check_distinct([sheet.number for sheet in sheets], "sheet")
    return RecordContent(
        _read_text(values, "code", ""),
        _read_text(values, "batch", ""),
        _read_text(values, "art_root", ""),
        _read_value(dict, values, "options", ""),
        tuple(sorted(transfers, key=lambda transfer: transfer.id)),
        tuple(sheets),
        values.get("reprint_of"),
    )


def _read_sheet(entry: Mapping[str, Any], at: str) -> PrintedSheet:
    marks = None
    if "marks_mm" in entry:
        marks = tuple(_parse_box(values, place) for place, values in _read_entries(entry, "marks_mm", at))
    # A sheet that was printed on again has a name of its own; the paper is that of the first time.
    again = _read_value(dict, entry, "onto", at) if "onto" in entry else entry
    return PrintedSheet(
        _read_whole(entry, "sheet", at),
        _read_text(again, "paper", at if again is entry else f"{at}onto."),
        _read_length(entry, "width_mm", at),
        _read_length(entry, "height_mm", at),
        _read_box(entry, "printable_mm", at),
        marks,
        _read_flag(entry, "first", at, False),
    )


def _read_transfer(entry: Mapping[str, Any], at: str, sheet: int) -> PrintedTransfer:
    ink, cell, turned = (
        _read_box(entry, "ink_mm", at),
        _read_box(entry, "cell_mm", at),
        _read_whole(entry, "turned", at) == 90,
    )
    if min(ink.w, ink.h) < LEAST_MM:
        raise _RecordFault(f"{at}ink_mm")
    up = _read_value(dict, entry, "up", at)
    return PrintedTransfer(
        id=_read_text(entry, "id", at),
        ordered=_read_ordered(entry, at),
        art_sha256=_read_text(entry, "art_sha256", at),
        copy=_read_whole(entry, "copy", at),
        ink_px=_read_pixels(entry, at),
        ink_w_mm=ink.h if turned else ink.w,
        ink_h_mm=ink.w if turned else ink.h,
        sides=_read_sides(entry, at),
        level=_read_choice(entry.get("level", "full"), ("full", "tight", "thin"), f"{at}level"),
        crease_mm=_read_crease(entry, at, ink, turned),
        up=_read_choice(up.get("edge"), ("top", "right", "left"), f"{at}up"),
        up_word=_read_text(up, "word", at),
        may_turn=_read_flag(entry, "may_turn", at, True),
        sheet=sheet,
        cell=cell,
        cloth=_read_cloth(entry, at),
        panel=_read_panel(entry, at),
        again=_read_again(entry, at),
        place=_read_place(entry, at),
    )


def _read_again(entry: Mapping[str, Any], at: str) -> tuple[str, str] | None:
    if entry.get("reprint_of") is None:
        return None
    origin = _read_value(dict, entry, "reprint_of", at)
    return _read_text(origin, "id", f"{at}reprint_of."), _read_text(origin, "because", f"{at}reprint_of.")


def _read_place(entry: Mapping[str, Any], at: str) -> RecordedPlace | None:
    """Where the print was measured to, in the words that a batch takes."""
    if entry.get("measured") is None:
        return None
    place = _read_value(dict, entry, "measured", at)
    return RecordedPlace(*(_read_text(place, key, f"{at}measured.") for key in ("drop", "across")))


def _read_ordered(entry: Mapping[str, Any], at: str) -> BatchRow:
    try:
        return read_row(entry)
    except EntryError as error:
        raise _RecordFault(f"{at}{error}") from None


def _read_pixels(entry: Mapping[str, Any], at: str) -> tuple[int, int, int, int] | None:
    """The ink in pixels of the artwork; None of words, which are drawn as outlines and have no pixels."""
    if entry.get("words") and entry.get("ink_px") is None:
        return None
    return cast("tuple[int, int, int, int]", tuple(_read_numbers(entry, "ink_px", at, 4, int)))


def _read_cloth(entry: Mapping[str, Any], at: str) -> tuple[float, float]:
    if entry.get("cloth") is None:
        return 1.0, 1.0
    x, y = _read_numbers(entry, "cloth", at, 2, float)
    if not (0.5 < x < 2 and 0.5 < y < 2):
        raise _RecordFault(f"{at}cloth")
    return x, y


def _read_panel(entry: Mapping[str, Any], at: str) -> Panel | None:
    """Which panel it is of a print that was parted."""
    if entry.get("panel") is None:
        return None
    panel, at = _read_value(dict, entry, "panel", at), f"{at}panel."
    whole = _read_value(dict, panel, "whole_mm", at)
    joins = _read_value(list, panel, "joins_mm", at)
    if not all(isinstance(join, list) and len(join) == 2 for join in joins):
        raise _RecordFault(f"{at}joins_mm")
    return Panel(
        number=_read_whole(panel, "panel", at),
        of=_read_whole(panel, "panels", at),
        press=_read_whole(panel, "pressed", at),
        box=_read_box(panel, "worn_mm", at),
        whole=(_read_length(whole, "w", f"{at}whole_mm."), _read_length(whole, "h", f"{at}whole_mm.")),
        overlap_mm=_read_number(panel.get("overlap_mm"), f"{at}overlap_mm"),
        joins=tuple(
            (_read_choice(axis, ("x", "y"), f"{at}joins_mm"), _read_number(where, f"{at}joins_mm"))
            for axis, where in joins
        ),
    )


def _read_crease(entry: Mapping[str, Any], at: str, ink: Box, turned: bool) -> tuple[float, float]:
    """From the ink's top left corner as it stands upright: what turned clockwise is turned back."""
    point = _read_value(dict, entry, "crease_mm", at)
    x, y = _read_number(point.get("x"), f"{at}crease_mm"), _read_number(point.get("y"), f"{at}crease_mm")
    if not ink.contains_box(Box(x, y, 0, 0), 0.01):
        raise _RecordFault(f"{at}crease_mm")
    return (y - ink.y, ink.right - x) if turned else (x - ink.x, y - ink.y)


def _read_sides(entry: Mapping[str, Any], at: str) -> TearMargins:
    tear = _read_value(dict, entry, "tear_mm", at)
    found = {side: _read_numbers(tear, side, f"{at}tear_mm.", 3, float) for side in ("top", "right", "bottom", "left")}
    if min(min(lengths) for lengths in found.values()) < 0:
        raise _RecordFault(f"{at}tear_mm")
    return TearMargins(*(TearMargin(*lengths) for lengths in found.values()))


def _read_entries(values: Mapping[str, Any], key: str, at: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for index, entry in enumerate(_read_value(list, values, key, at)):
        if not isinstance(entry, dict):
            raise _RecordFault(f"{at}{key}[{index}]")
        yield f"{at}{key}[{index}].", entry


def _read_value(kind: type[T], values: Mapping[str, Any], key: str, at: str) -> T:
    value = values.get(key)
    if not isinstance(value, kind):
        raise _RecordFault(f"{at}{key}")
    return value


def _read_text(values: Mapping[str, Any], key: str, at: str) -> str:
    return _read_value(str, values, key, at)


def _read_flag(values: Mapping[str, Any], key: str, at: str, missing: bool) -> bool:
    return _read_value(bool, values, key, at) if key in values else missing


def _read_whole(values: Mapping[str, Any], key: str, at: str, most: int = 10**9) -> int:
    value = values.get(key)
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= most:
        raise _RecordFault(f"{at}{key}")
    return value


def _read_number(value: object, at: str) -> float:
    # Compared before it becomes a float, which the digits of a whole number may be too many for.
    if not isinstance(value, (int, float)) or isinstance(value, bool) or not -1e6 <= value <= 1e6:
        raise _RecordFault(at)
    return float(value)


def _read_length(values: Mapping[str, Any], key: str, at: str) -> float:
    value = _read_number(values.get(key), f"{at}{key}")
    if value <= 0:
        raise _RecordFault(f"{at}{key}")
    return value


def _read_numbers(values: Mapping[str, Any], key: str, at: str, count: int, kind: Callable[[float], T]) -> list[T]:
    found = _read_value(list, values, key, at)
    if len(found) != count:
        raise _RecordFault(f"{at}{key}")
    return [kind(_read_number(value, f"{at}{key}")) for value in found]


def _read_box(values: Mapping[str, Any], key: str, at: str) -> Box:
    return _parse_box(_read_value(dict, values, key, at), f"{at}{key}.")


def _parse_box(entry: Mapping[str, Any], at: str) -> Box:
    x, y, w, h = (_read_number(entry.get(name), f"{at}{name}") for name in "xywh")
    if w <= 0 or h <= 0:
        raise _RecordFault(f"{at}w")
    return Box(x, y, w, h)


def _read_choice(value: object, choices: Sequence[str], at: str) -> Any:
    if not isinstance(value, str) or value not in choices:
        raise _RecordFault(at)
    return value


def _check_distinct(names: Sequence[object], what: str) -> None:
    seen: set[object] = set()
    for name in names:
        if name in seen:
            raise _RecordFault(f"{what} {name}, which stands there twice")
        seen.add(name)
