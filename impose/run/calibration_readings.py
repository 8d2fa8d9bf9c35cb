"""What was read off a calibration page: taken from its text, held against slips, and what it tells of a printer."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Literal

from impose.errors import Exit, Finding, Severity, Trouble
from impose.remedies import Remedy
from impose.sheet.calibration_chart import READ_TO_MM, SIDES, CalibrationChart, ScaleReading, measure_skew, measure_turn
from impose.units import LengthError, parse_length
from impose.values import FrozenStruct

LEAST, MOST = 0.95, 1.06
"""Scales that a printer profile takes; beyond, the print was fitted to the page or another paper."""

MOST_EDGE_MM = 50.0
"""Twice what the longest stairs show: more is a slip, and would leave small papers no room (our own choice)."""

FAR = 0.1
"""The share by which a reading of the grid may be off before it is a slip: 10 % is 6 degrees (our own choice)."""

NAMES = ("across", "along", *SIDES, "rising", "falling", "upper", "lower")
"""What may be read off the page: both rulers, the four edges, and for skew the grid's diagonals and distances."""


class CalibrationReadings(FrozenStruct):
    """What was read off a page, in mm; rulers with the length they were read over."""

    across: tuple[float, float]
    along: tuple[float, float]
    edges: Mapping[str, float]
    skew: Mapping[str, float]


def make_usage_trouble(what: str, remedy: str, read: str | None = None) -> Trouble:
    """Wrong use of the page or of what was read off it."""
    return Trouble(Finding(what, remedy, kind="calibration", read=read, exit=Exit.USAGE))


def parse_readings(text: str, chart: CalibrationChart, bare: str = "mm") -> CalibrationReadings:
    """Readings written as name=length, parted by spaces, commas or semicolons; every fault in one `Trouble`."""
    faults: list[Finding] = []

    def fault(what: str, remedy: str, read: str) -> None:
        faults.append(Finding(f"your readings: {what}", remedy, kind="calibration", read=read, exit=Exit.USAGE))

    found, unread = _split_pairs(text, fault)
    values: dict[str, tuple[float, float | None]] = {}
    for name, value in found.items():
        length = _parse_reading_length(name, value, bare, fault)
        if length is not None:
            values[name] = length
    rulers = []
    for name, asked in (("across", chart.across_mm), ("along", chart.along_mm)):
        if name not in found and not re.search(rf"\b{name}\b", unread, re.I):
            fault(f"{name} is missing", Remedy("measure-ruler", name=name, asked=f"{asked:g}"), text)
        read, said = values.get(name, (asked, None))
        rulers.append((read, said or asked))
        _check_plausible(name, read, said or asked, asked, fault)
    for name in SIDES:
        if name in values and values[name][0] > MOST_EDGE_MM:
            what = f"{name}: an edge of over {MOST_EDGE_MM:g} mm that no printer leaves blank"
            fault(what, "Read the step nearest the paper's edge that is there in its whole length.", found[name])
    if faults:
        raise Trouble(faults)
    edges: dict[str, float] = {name: values[name][0] for name in SIDES if name in values}
    skew: dict[str, float] = {
        name: values[name][0] for name in ("rising", "falling", "upper", "lower") if name in values
    }
    return CalibrationReadings(rulers[0], rulers[1], edges, skew)


Fault = Callable[[str, str, str], None]


def _split_pairs(text: str, fault: Fault) -> tuple[dict[str, str], str]:
    """The readings as written, and what is left of the text."""
    found: dict[str, str] = {}
    matches = list(re.finditer(r"([A-Za-z_]+)\s*[=:]\s*([0-9][^=:;]*?)(?=[\s,;]*(?:[A-Za-z_]+\s*[=:]|$))", text))
    rest = text
    for match in matches:
        name, value = match[1].lower(), match[2].strip(" ,;")
        rest = rest.replace(match[0], " ", 1)
        if name not in NAMES:
            fault(f"“{name}” is not read off the page", f"Known are: {', '.join(NAMES)}.", match[0].strip())
        elif name in found:
            fault(f"{name} is given twice", "Give each reading once.", match[0].strip())
        else:
            found[name] = value
    rest = rest.strip(" ,;")
    if rest:
        fault("something is not a reading", Remedy("write-reading"), rest)
    return found, rest


def _parse_reading_length(name: str, value: str, bare: str, fault: Fault) -> tuple[float, float | None] | None:
    """A length in mm, and the length it was read over where "179.6/180" says so."""
    first, slash, second = value.partition("/") if name in ("across", "along") else (value, "", "")
    try:
        unit: Literal["mm", "in"] = "in" if bare == "in" else "mm"
        read = parse_length(first, unit, zero=True)
        return read, (parse_length(second, unit) if slash else None)
    except LengthError as error:
        fault(f"{name}: {error.what}", error.remedy, value)
        return None


def _check_plausible(name: str, read: float, over: float, ruler: float, fault: Fault) -> None:
    """A scale that no printer has is a print that was fitted, or a slip."""
    if over > ruler + 1e-9:
        fault(
            f"{name}: the ruler is {ruler:g} mm long",
            "Name a stroke of the ruler after the slash.",
            f"{read:g}/{over:g}",
        )
        return
    scale = read / over
    if LEAST <= scale <= MOST:
        return
    fitted = "It looks as if the page was fitted to the paper. " if 0.9 <= scale < LEAST else ""
    fault(
        f"{name}: {read:g} mm for {over:g} mm is a scale of {scale:.3f}, outside {LEAST:g} to {MOST:g}",
        f"{fitted}Print again at actual size, on the paper the page is for, and measure again.",
        f"{read:g}",
    )


def find_scale_findings(name: str, reading: ScaleReading) -> list[Finding]:
    """How far the result can be trusted, and what that makes of a large print."""
    off = reading.uncertainty * 300
    what = (
        f"{name}: {reading.read:g} mm for {reading.asked:g} is a scale of {reading.scale:.4f}, give or take "
        f"{reading.uncertainty:.2%}, since a rule is read to about {reading.error:g} mm: "
        f"{off:.1f} mm on a print of 300 mm"
    )
    if not reading.is_significant:
        remedy = "That is within the error of reading: the printer may well be true. Read it again, or leave it at 1."
        return [Finding(what, remedy, Severity.NOTE, kind="calibration")]
    return [Finding(what, "", Severity.NOTE, kind="calibration")]


def find_skew_findings(readings: CalibrationReadings, side: float) -> list[Finding]:
    """What the grid says; nothing in the program corrects it."""
    skew, found = readings.skew, []
    _check_skew_plausible(skew, side)
    if side and {"rising", "falling"} <= set(skew):
        angle = measure_skew(skew["rising"], skew["falling"], side)
        what = f"the axes are {abs(angle):.2f}° from square: {_offset_over_300_mm(angle):.1f} mm over 300 mm"
        found.append(_make_skew_finding(what, abs(angle), side))
    if {"upper", "lower"} <= set(skew) and side:
        angle = measure_turn(skew["upper"], skew["lower"], side)
        what = f"the sheet was fed turned by {abs(angle):.2f}°: {_offset_over_300_mm(angle):.1f} mm over 300 mm"
        found.append(_make_skew_finding(what, abs(angle), side))
    return found


def _offset_over_300_mm(angle: float) -> float:
    """What an angle in degrees makes over a large print of 300 mm, in mm."""
    return math.radians(abs(angle)) * 300


def _check_skew_plausible(skew: Mapping[str, float], side: float) -> None:
    """A slip in reading the grid must not be told as a crooked printer."""
    diagonal = side * math.sqrt(2)
    far = [name for name in ("rising", "falling") if name in skew and abs(skew[name] - diagonal) > FAR * diagonal]
    if side and far:
        what = f"your readings: {' and '.join(f'{name}={skew[name]:g}' for name in far)} is no diagonal of the grid"
        raise make_usage_trouble(what, f"From corner to corner it is about {diagonal:.0f} mm: measure again.")
    if side and {"upper", "lower"} <= set(skew) and abs(skew["upper"] - skew["lower"]) > FAR * side:
        read = f"upper={skew['upper']:g} and lower={skew['lower']:g}"
        what = f"your readings: {read} differ by more than a sheet can be askew"
        raise make_usage_trouble(what, "Measure both from the paper's left edge to the grid's left side again.")


def _make_skew_finding(what: str, angle: float, side: float) -> Finding:
    unsure = math.degrees(READ_TO_MM / side)
    if angle <= unsure:
        return Finding(f"{what}, within the error of reading ({unsure:.2f}°)", "", Severity.NOTE, kind="calibration")
    remedy = "Nothing corrects this in the file: align the head, or set the paper guides, and print the page again."
    return Finding(what, remedy, Severity.WARN, kind="calibration")
