"""What a record says was printed, read back: each transfer with size, margin and place, each sheet with its marks.

A record may have been edited, cut short or made by another version, so nothing in it is trusted: what does not fit is
refused with its place in the record. Its keys are those of `impose.sheet.record`; keys that are not known are passed
over.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from impose.errors import Exit, Finding, Trouble
from impose.sheet.margins import Level, Sides
from impose.sheet.ordered import EntryError, read_row
from impose.sheet.panels import Panel
from impose.sheet.transfer import Edge
from impose.shop.orders import Row
from impose.shop.placement import Tear
from impose.units import Box

FORMAT_BEGINS = "impose-record/1"
MOST_BYTES = 512 << 20
LEAST_MM = 1e-5  # nothing is printed that small; a record holds six decimals

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class PrintedTransfer:
    """One transfer of a record, upright: sizes and margins before turning, `cell` and `sheet` as it lay.

    `ordered` is its row, artwork and garment not yet read.
    """

    id: str
    ordered: Row
    art_sha256: str
    copy: int
    ink_px: tuple[int, int, int, int] | None
    ink_w_mm: float
    ink_h_mm: float
    sides: Sides
    level: Level
    crease_mm: tuple[float, float]
    up: Edge
    up_word: str
    may_turn: bool
    sheet: int
    cell: Box
    cloth: tuple[float, float] = (1.0, 1.0)
    panel: Panel | None = None

    @property
    def key(self) -> tuple[int, int]:
        """The row of the batch, and of the kit (0 without one)."""
        return self.ordered.key

    @property
    def row(self) -> int:
        """The number of its row."""
        return self.ordered.row


@dataclass(frozen=True, slots=True)
class PrintedSheet:
    """One sheet of a record: its paper by name, its size, where the printer reaches, and what else is printed on it.

    `marks` are slug and rulers, and whatever an earlier printing of the same sheet left; None if the record does not
    say.
    """

    number: int
    paper: str
    width_mm: float
    height_mm: float
    area: Box
    marks: tuple[Box, ...] | None


@dataclass(frozen=True, slots=True)
class Printed:
    """A record as values."""

    code: str
    batch: str
    art_root: str
    options: Mapping[str, Any]
    transfers: tuple[PrintedTransfer, ...]
    sheets: tuple[PrintedSheet, ...]

    def sheet(self, number: int) -> PrintedSheet:
        """A sheet by its number; KeyError if there is none."""
        return {sheet.number: sheet for sheet in self.sheets}[number]


def read_printed(content: bytes, name: str) -> Printed:
    """The record in a file's content, called `name` in findings. Raises `Trouble` (wrong use) if it is none of ours."""
    try:
        values = json.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise _no_record(name, "is no whole JSON file") from None
    if not isinstance(values, dict) or values.get("format") != FORMAT_BEGINS:
        raise _no_record(name, "is not a record of this program, or one of a newer version")
    try:
        return _printed(values)
    except _Fault as fault:
        raise _no_record(name, f"is damaged at {fault}") from None


class _Fault(Exception):
    """The place in the record where something does not fit."""


def _no_record(name: str, why: str) -> Trouble:
    return Trouble(
        Finding(
            f"this {why}",
            "Give the batch.json of an output folder, or the folder.",
            kind="record",
            file=name,
            exit=Exit.USAGE,
        )
    )


def _printed(values: Mapping[str, Any]) -> Printed:
    sheets: list[PrintedSheet] = []
    transfers: list[PrintedTransfer] = []
    for at, entry in _entries(values, "sheets", ""):
        sheet = _sheet(entry, at)
        sheets.append(sheet)
        transfers += [_transfer(one, place, sheet.number) for place, one in _entries(entry, "transfers", at)]
    _distinct([one.id for one in transfers], "id")
    _distinct([sheet.number for sheet in sheets], "sheet")
    return Printed(
        _text(values, "code", ""),
        _text(values, "batch", ""),
        _text(values, "art_root", ""),
        _of(dict, values, "options", ""),
        tuple(sorted(transfers, key=lambda one: one.id)),
        tuple(sheets),
    )


def _sheet(entry: Mapping[str, Any], at: str) -> PrintedSheet:
    marks = None
    if "marks_mm" in entry:
        marks = tuple(_as_box(one, place) for place, one in _entries(entry, "marks_mm", at))
    return PrintedSheet(
        _whole(entry, "sheet", at),
        _text(entry, "paper", at),
        _length(entry, "width_mm", at),
        _length(entry, "height_mm", at),
        _box(entry, "printable_mm", at),
        marks,
    )


def _transfer(entry: Mapping[str, Any], at: str, sheet: int) -> PrintedTransfer:
    ink, cell, turned = _box(entry, "ink_mm", at), _box(entry, "cell_mm", at), _whole(entry, "turned", at) == 90
    if min(ink.w, ink.h) < LEAST_MM:
        raise _Fault(f"{at}ink_mm")
    up = _of(dict, entry, "up", at)
    return PrintedTransfer(
        id=_text(entry, "id", at),
        ordered=_ordered(entry, at),
        art_sha256=_text(entry, "art_sha256", at),
        copy=_whole(entry, "copy", at),
        ink_px=_pixels(entry, at),
        ink_w_mm=ink.h if turned else ink.w,
        ink_h_mm=ink.w if turned else ink.h,
        sides=_sides(entry, at),
        level=_choice(entry.get("level", "full"), ("full", "tight", "thin"), f"{at}level"),
        crease_mm=_crease(entry, at, ink, turned),
        up=_choice(up.get("edge"), ("top", "right", "left"), f"{at}up"),
        up_word=_text(up, "word", at),
        may_turn=_flag(entry, "may_turn", at, True),
        sheet=sheet,
        cell=cell,
        cloth=_cloth(entry, at),
        panel=_panel(entry, at),
    )


def _ordered(entry: Mapping[str, Any], at: str) -> Row:
    try:
        return read_row(entry)
    except EntryError as error:
        raise _Fault(f"{at}{error}") from None


def _pixels(entry: Mapping[str, Any], at: str) -> tuple[int, int, int, int] | None:
    """The ink in pixels of the artwork; None of words, which are drawn as outlines and have no pixels."""
    if entry.get("words") and entry.get("ink_px") is None:
        return None
    return cast("tuple[int, int, int, int]", tuple(_numbers(entry, "ink_px", at, 4, int)))


def _cloth(entry: Mapping[str, Any], at: str) -> tuple[float, float]:
    if entry.get("cloth") is None:
        return 1.0, 1.0
    x, y = _numbers(entry, "cloth", at, 2, float)
    if not (0.5 < x < 2 and 0.5 < y < 2):
        raise _Fault(f"{at}cloth")
    return x, y


def _panel(entry: Mapping[str, Any], at: str) -> Panel | None:
    """Which panel it is of a print that was parted."""
    if entry.get("panel") is None:
        return None
    panel, at = _of(dict, entry, "panel", at), f"{at}panel."
    whole = _of(dict, panel, "whole_mm", at)
    joins = _of(list, panel, "joins_mm", at)
    if not all(isinstance(one, list) and len(one) == 2 for one in joins):
        raise _Fault(f"{at}joins_mm")
    return Panel(
        number=_whole(panel, "panel", at),
        of=_whole(panel, "panels", at),
        press=_whole(panel, "pressed", at),
        box=_box(panel, "worn_mm", at),
        whole=(_length(whole, "w", f"{at}whole_mm."), _length(whole, "h", f"{at}whole_mm.")),
        overlap_mm=_number(panel.get("overlap_mm"), f"{at}overlap_mm"),
        joins=tuple(
            (_choice(axis, ("x", "y"), f"{at}joins_mm"), _number(where, f"{at}joins_mm")) for axis, where in joins
        ),
    )


def _crease(entry: Mapping[str, Any], at: str, ink: Box, turned: bool) -> tuple[float, float]:
    """From the ink's top left corner as it stands upright: what turned clockwise is turned back."""
    point = _of(dict, entry, "crease_mm", at)
    x, y = _number(point.get("x"), f"{at}crease_mm"), _number(point.get("y"), f"{at}crease_mm")
    if not ink.contains(Box(x, y, 0, 0), 0.01):
        raise _Fault(f"{at}crease_mm")
    return (y - ink.y, ink.right - x) if turned else (x - ink.x, y - ink.y)


def _sides(entry: Mapping[str, Any], at: str) -> Sides:
    tear = _of(dict, entry, "tear_mm", at)
    found = {side: _numbers(tear, side, f"{at}tear_mm.", 3, float) for side in ("top", "right", "bottom", "left")}
    if min(min(lengths) for lengths in found.values()) < 0:
        raise _Fault(f"{at}tear_mm")
    return Sides(*(Tear(*lengths) for lengths in found.values()))


def _entries(values: Mapping[str, Any], key: str, at: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for index, entry in enumerate(_of(list, values, key, at)):
        if not isinstance(entry, dict):
            raise _Fault(f"{at}{key}[{index}]")
        yield f"{at}{key}[{index}].", entry


def _of(kind: type[T], values: Mapping[str, Any], key: str, at: str) -> T:
    value = values.get(key)
    if not isinstance(value, kind):
        raise _Fault(f"{at}{key}")
    return value


def _text(values: Mapping[str, Any], key: str, at: str) -> str:
    return _of(str, values, key, at)


def _flag(values: Mapping[str, Any], key: str, at: str, missing: bool) -> bool:
    return _of(bool, values, key, at) if key in values else missing


def _whole(values: Mapping[str, Any], key: str, at: str, most: int = 10**9) -> int:
    value = values.get(key)
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= most:
        raise _Fault(f"{at}{key}")
    return value


def _number(value: object, at: str) -> float:
    # Compared before it becomes a float, which the digits of a whole number may be too many for.
    if not isinstance(value, (int, float)) or isinstance(value, bool) or not -1e6 <= value <= 1e6:
        raise _Fault(at)
    return float(value)


def _length(values: Mapping[str, Any], key: str, at: str) -> float:
    value = _number(values.get(key), f"{at}{key}")
    if value <= 0:
        raise _Fault(f"{at}{key}")
    return value


def _numbers(values: Mapping[str, Any], key: str, at: str, count: int, kind: Callable[[float], T]) -> list[T]:
    found = _of(list, values, key, at)
    if len(found) != count:
        raise _Fault(f"{at}{key}")
    return [kind(_number(value, f"{at}{key}")) for value in found]


def _box(values: Mapping[str, Any], key: str, at: str) -> Box:
    return _as_box(_of(dict, values, key, at), f"{at}{key}.")


def _as_box(entry: Mapping[str, Any], at: str) -> Box:
    x, y, w, h = (_number(entry.get(name), f"{at}{name}") for name in "xywh")
    if w <= 0 or h <= 0:
        raise _Fault(f"{at}w")
    return Box(x, y, w, h)


def _choice(value: object, choices: Sequence[str], at: str) -> Any:
    if not isinstance(value, str) or value not in choices:
        raise _Fault(at)
    return value


def _distinct(names: Sequence[object], what: str) -> None:
    seen: set[object] = set()
    for name in names:
        if name in seen:
            raise _Fault(f"{what} {name}, which stands there twice")
        seen.add(name)
