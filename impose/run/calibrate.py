"""`calibrate`: the page that measures a printer, and the arithmetic that turns its readings into a profile."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from impose import files
from impose.errors import Exit, Finding, Severity, Trouble
from impose.run.job import load
from impose.run.options import Options
from impose.sheet.chart import LEAST_SIDE_MM, READ_TO_MM, SIDES, Chart, Reading, askew, chart_of, grid_side, turned
from impose.sheet.lettering import Lettering
from impose.shop.paper import Paper, Printer
from impose.shop.profiles import Profiles, load_profiles
from impose.shop.tables import parse_toml
from impose.units import LengthError, parse_length

LEAST, MOST = 0.95, 1.06
"""Scales that a printer profile takes; beyond, the print was fitted to the page or another paper."""

MOST_EDGE_MM = 50.0
"""Twice what the longest stairs show: more is a slip, and would leave small papers no room (our own choice)."""

FAR = 0.1
"""The share by which a reading of the grid may be off before it is a slip: 10 % is 6 degrees (our own choice)."""

NAMES = ("across", "along", *SIDES, "rising", "falling", "upper", "lower")
"""What may be read off the page: both rulers, the four edges, and for skew the grid's diagonals and distances."""

OURS = ("left", "top", "right", "bottom", "scale_x", "scale_y", "note")


@dataclass(frozen=True, slots=True)
class Readings:
    """What was read off a page, in mm; rulers with the length they were read over."""

    across: tuple[float, float]
    along: tuple[float, float]
    edges: Mapping[str, float]
    skew: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Calibrated:
    """A printer as measured: its profile, its TOML table, where that was written, and what to know about it."""

    printer: Printer
    table: str
    file: Path | None
    findings: tuple[Finding, ...]


def write_page(
    paper_name: str | None, printer_name: str, out: Path | None, options: Options, replace_it: bool = False
) -> Path:
    """Write the calibration page for a paper and printer. Raises `Trouble`; an existing file is left alone.

    Without `out` it is named after both, in the current folder. Returns the file.
    """
    from impose.pages.calibration import write_calibration

    _named(printer_name)
    profiles = load(options)
    paper = _paper(paper_name, profiles)
    chart = _chart(paper, _known(printer_name, profiles))
    out = out or Path(f"calibration-{paper.alias}-{printer_name}.pdf")
    if out.is_dir() or (out.exists() and not replace_it):
        raise _usage(f"{out} exists already and is left alone", "Choose another name with -o, or pass --replace.")
    with files.new_file(out) as part:
        write_calibration(part, chart, paper, printer_name, _lettering())
    return out


def read_page(
    paper_name: str | None, printer_name: str, text: str, options: Options, read_to: str | None = None
) -> Calibrated:
    """The printer profile from readings such as "across=199.6 along=199.2 left=3.2", in mm unless they say a unit.

    With a folder of own profiles in `options` the printer is written into its printers.toml, other keys and tables
    left as they are. `read_to` is how well the rule was read, 0.4 mm if left out. Raises `Trouble`.
    """
    _named(printer_name)
    error = READ_TO_MM if read_to is None else _read_to(read_to, options)
    folder = options.profiles_dir
    new = folder is not None and not folder.exists()
    profiles = load(replace(options, profiles_dir=None) if new else options)
    paper = _paper(paper_name, profiles)
    known = _known(printer_name, profiles)
    chart = _chart(paper, known)
    readings = parse_readings(text, chart, options.bare or "mm")
    if printer_name not in profiles.printers:
        _all_edges(readings, printer_name)
    across, along = (Reading(asked, read, error) for read, asked in (readings.across, readings.along))
    printer = _measured(known, printer_name, across, along, readings)
    findings = [*_scale_findings("across", across), *_scale_findings("along", along)]
    findings += _skew_findings(readings, _grid(chart, paper, printer_name))
    file = _write(printer, folder) if folder is not None else None
    return Calibrated(printer, table_of(printer), file, tuple(findings))


def _named(name: str) -> None:
    if not re.fullmatch(r"[a-z0-9][a-z0-9.+-]*", name):
        raise _usage("not a name for a printer", "Use small letters, digits and hyphens, such as “studio”.", name)


def _read_to(text: str, options: Options) -> float:
    try:
        error = parse_length(text, options.bare)
    except LengthError as fault:
        raise _usage(f"--read-to: {fault.what}", fault.remedy, text) from None
    if error > 5:
        raise _usage("--read-to: a rule is read better than to 5 mm", "Give a length such as 0.4 mm.", text)
    return error


def _lettering() -> Lettering:
    from impose.pages.pdf.fonts import ShippedFonts

    return Lettering(ShippedFonts())


def _usage(what: str, remedy: str, read: str | None = None) -> Trouble:
    return Trouble(Finding(what, remedy, kind="calibration", read=read, exit=Exit.USAGE))


def _paper(name: str | None, profiles: Profiles) -> Paper:
    return profiles.paper(name or profiles.settings.papers[0])


def _known(name: str, profiles: Profiles) -> Printer:
    """The printer on file, or for a new one what the page is laid out by: the usual edges."""
    return profiles.printers.get(name) or replace(profiles.printer(profiles.settings.printer), name=name)


def _chart(paper: Paper, printer: Printer) -> Chart:
    chart = chart_of(paper, printer)
    if chart is None:
        what = f"{paper.alias} is too small to measure a printer on: both sides have to be {LEAST_SIDE_MM:g} mm or more"
        raise _usage(what, "Name a larger paper with -p.", paper.alias)
    return chart


def _grid(chart: Chart, paper: Paper, printer_name: str) -> float:
    """The side of the grid that was printed: what the words left for it."""
    from impose.pages.calibration import words_height

    return grid_side(chart, words_height(chart, paper, printer_name, _lettering()))


def parse_readings(text: str, chart: Chart, bare: str = "mm") -> Readings:
    """Readings written as name=length, parted by spaces, commas or semicolons; every fault in one `Trouble`."""
    faults: list[Finding] = []

    def fault(what: str, remedy: str, read: str) -> None:
        faults.append(Finding(f"--read: {what}", remedy, kind="calibration", read=read, exit=Exit.USAGE))

    found = _pairs(text, fault)
    values: dict[str, tuple[float, float | None]] = {}
    for name, value in found.items():
        length = _length(name, value, bare, fault)
        if length is not None:
            values[name] = length
    rulers = []
    for name, asked in (("across", chart.across_mm), ("along", chart.along_mm)):
        if name not in found:
            fault(f"{name} is missing", f"Measure the ruler {name} and add {name}={asked:g} (what you read).", text)
        read, said = values.get(name, (asked, None))
        rulers.append((read, said or asked))
        _plausible(name, read, said or asked, asked, fault)
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
    return Readings(rulers[0], rulers[1], edges, skew)


Fault = Callable[[str, str, str], None]


def _pairs(text: str, fault: Fault) -> dict[str, str]:
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
    if rest.strip(" ,;"):
        fault("something is not a reading", "Write name=length, such as across=199.6 along=199.2.", rest.strip(" ,;"))
    return found


def _length(name: str, value: str, bare: str, fault: Fault) -> tuple[float, float | None] | None:
    """A length in mm, and the length it was read over where "179.6/180" says so."""
    first, slash, second = value.partition("/") if name in ("across", "along") else (value, "", "")
    try:
        unit: Literal["mm", "in"] = "in" if bare == "in" else "mm"
        read = parse_length(first, unit, zero=True)
        return read, (parse_length(second, unit) if slash else None)
    except LengthError as error:
        fault(f"{name}: {error.what}", error.remedy, value)
        return None


def _plausible(name: str, read: float, over: float, ruler: float, fault: Fault) -> None:
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


def _all_edges(readings: Readings, name: str) -> None:
    missing = [side for side in SIDES if side not in readings.edges]
    if missing:
        remedy = "Read the missing edges off the page as well; a printer on file keeps those that are not given."
        raise _usage(f"{name} is not on file, and nothing is known of its edges: {', '.join(missing)}", remedy)


def _measured(known: Printer, name: str, across: Reading, along: Reading, readings: Readings) -> Printer:
    edges = {side: readings.edges.get(side, getattr(known, f"{side}_mm")) for side in SIDES}
    note = (
        f"Measured: {across.read:g} mm for {across.asked:g} across and {along.read:g} mm for {along.asked:g} along, "
        f"read to {across.error:g} mm."
    )
    return replace(
        known,
        name=name,
        left_mm=edges["left"],
        top_mm=edges["top"],
        right_mm=edges["right"],
        bottom_mm=edges["bottom"],
        scale_x=across.scale,
        scale_y=along.scale,
        note=note,
    )


def _scale_findings(name: str, reading: Reading) -> list[Finding]:
    """How far the result can be trusted, and what that makes of a large print."""
    off = reading.unsure * 300
    what = (
        f"{name}: {reading.read:g} mm for {reading.asked:g} is a scale of {reading.scale:.4f}, give or take "
        f"{reading.unsure:.2%}, since a rule is read to about {reading.error:g} mm: {off:.1f} mm on a print of 300 mm"
    )
    if not reading.tells:
        remedy = "That is within the error of reading: the printer may well be true. Read it again, or leave it at 1."
        return [Finding(what, remedy, Severity.NOTE, kind="calibration")]
    return [Finding(what, "", Severity.NOTE, kind="calibration")]


def _skew_findings(readings: Readings, side: float) -> list[Finding]:
    """What the grid says; nothing in the program corrects it."""
    skew, found = readings.skew, []
    _skew_plausible(skew, side)
    if side and {"rising", "falling"} <= set(skew):
        angle = askew(skew["rising"], skew["falling"], side)
        what = f"the axes are {abs(angle):.2f}° from square: {_over_300(angle):.1f} mm over 300 mm"
        found.append(_skew(what, abs(angle), side))
    if {"upper", "lower"} <= set(skew) and side:
        angle = turned(skew["upper"], skew["lower"], side)
        what = f"the sheet was fed turned by {abs(angle):.2f}°: {_over_300(angle):.1f} mm over 300 mm"
        found.append(_skew(what, abs(angle), side))
    return found


def _over_300(angle: float) -> float:
    """What an angle in degrees makes over a large print of 300 mm, in mm."""
    return math.radians(abs(angle)) * 300


def _skew_plausible(skew: Mapping[str, float], side: float) -> None:
    """A slip in reading the grid must not be told as a crooked printer."""
    diagonal = side * math.sqrt(2)
    far = [name for name in ("rising", "falling") if name in skew and abs(skew[name] - diagonal) > FAR * diagonal]
    if side and far:
        what = f"--read: {' and '.join(f'{name}={skew[name]:g}' for name in far)} is no diagonal of the grid"
        raise _usage(what, f"From corner to corner it is about {diagonal:.0f} mm: measure again.")
    if side and {"upper", "lower"} <= set(skew) and abs(skew["upper"] - skew["lower"]) > FAR * side:
        what = f"--read: upper={skew['upper']:g} and lower={skew['lower']:g} differ by more than a sheet can be askew"
        raise _usage(what, "Measure both from the paper's left edge to the grid's left side again.")


def _skew(what: str, angle: float, side: float) -> Finding:
    unsure = math.degrees(READ_TO_MM / side)
    if angle <= unsure:
        return Finding(f"{what}, within the error of reading ({unsure:.2f}°)", "", Severity.NOTE, kind="calibration")
    remedy = "Nothing corrects this in the file: align the head, or set the paper guides, and print the page again."
    return Finding(what, remedy, Severity.WARN, kind="calibration")


def table_of(printer: Printer, kept: str = "") -> str:
    """The printer's table for printers.toml; `kept` are lines that stay as they were."""
    key = printer.name if re.fullmatch(r"[a-z0-9-]+", printer.name) else f'"{printer.name}"'
    edges = "".join(f'{side} = "{getattr(printer, f"{side}_mm"):g} mm"\n' for side in SIDES)
    return (
        f"[{key}]\n{edges}scale_x = {printer.scale_x:.4f}\nscale_y = {printer.scale_y:.4f}\n"
        f'note = "{printer.note}"\n{kept}'
    )


def _write(printer: Printer, folder: Path) -> Path:
    """Put the table into printers.toml of a folder, made if need be, and see that it reads back."""
    path = folder / "printers.toml"
    old = path.read_text("utf-8-sig") if path.exists() else ""
    findings = parse_toml(old.encode(), str(path))[1]
    if findings:
        raise Trouble(findings)
    folder.mkdir(parents=True, exist_ok=True)
    with files.new_file(path) as part:
        part.write_text(with_table(old, printer), "utf-8")
        if parse_toml(part.read_bytes(), str(path))[0].get(printer.name) is None:
            raise _usage(
                f"{path}: the table of {printer.name} could not be put in", f"Put it in by hand:\n{table_of(printer)}"
            )
    back = load_profiles(files.shipped_profiles(), folder).printer(printer.name)
    assert (back.scale_x, back.left_mm) == (printer.scale_x, round(printer.left_mm, 6)), back
    return path


def with_table(text: str, printer: Printer) -> str:
    """A printers.toml with the printer's table in place of its old one, or at the end; its other keys stay."""
    parts = re.split(r"(?m)^(?=[ \t]*\[)", text)
    for index, part in enumerate(parts):
        head, _, body = part.partition("\n")
        if re.fullmatch(rf'\s*\[\s*"?{re.escape(printer.name)}"?\s*\]\s*(#.*)?', head):
            kept = [
                line for line in body.splitlines(keepends=True) if not re.match(rf"\s*({'|'.join(OURS)})\s*=", line)
            ]
            parts[index] = table_of(printer, "".join(kept) or "\n")
            return "".join(parts)
    gap = "" if not text.strip() else "\n" if text.endswith("\n") else "\n\n"
    return f"{text}{gap}{table_of(printer)}"
