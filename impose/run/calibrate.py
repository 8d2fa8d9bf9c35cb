"""`calibrate`: the page that measures a printer, and the arithmetic that turns its readings into a profile."""

from __future__ import annotations

import json
import re
from pathlib import Path

from impose import files
from impose.errors import Finding, Trouble
from impose.profiles.paper import Paper, Printer
from impose.profiles.profiles import Profiles, load_profiles
from impose.profiles.toml_limits import parse_toml
from impose.remedies import Remedy
from impose.run.calibration_readings import (
    CalibrationReadings,
    find_scale_findings,
    find_skew_findings,
    make_usage_trouble,
    parse_readings,
)
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.sheet.calibration_chart import (
    LEAST_SIDE_MM,
    READ_TO_MM,
    SIDES,
    CalibrationChart,
    ScaleReading,
    choose_grid_side,
    make_chart,
)
from impose.type.lettering import TextShaper
from impose.units import LengthError, parse_length
from impose.values import FrozenStruct, replace

OURS = ("left", "top", "right", "bottom", "scale_x", "scale_y", "media_type", "path", "note")


class MeasuredPath(FrozenStruct):
    """How a calibration page went to the paper: straight, queue or dialog, and with which media type."""

    path: str
    media_type: str = ""


class CalibratedPrinter(FrozenStruct):
    """A printer as measured: its profile, its TOML table, where that was written, and what to know about it."""

    printer: Printer
    table: str
    file: Path | None
    findings: tuple[Finding, ...]


def write_calibration_page(
    paper_name: str | None, printer_name: str, out: Path | None, options: Options, replace_it: bool = False
) -> Path:
    """Write the calibration page for a paper and printer. Raises `Trouble`; an existing file is left alone.

    Without `out` it is named after both, in the current folder. Returns the file.
    """
    from impose.pages.calibration import is_calibration, write_calibration

    _check_name(printer_name)
    profiles = load_profiles_in_force(options)
    paper = _find_paper(paper_name, profiles)
    chart = _make_chart(paper, _find_known_printer(printer_name, profiles))
    out = out or Path(f"calibration-{paper.alias}-{printer_name}.pdf")
    if out.is_dir() or (_is_there(out) and not replace_it):
        raise make_usage_trouble(f"{out} exists already and is left alone", Remedy("other-page"))
    if _is_there(out) and not is_calibration(out):
        raise make_usage_trouble(
            f"{out} is not a calibration page of this program, so it is left alone", "Choose another name."
        )
    with files.write_new_file(out) as part:
        write_calibration(part, chart, paper, printer_name, _open_lettering())
    return out


def read_calibration(
    paper_name: str | None,
    printer_name: str,
    text: str,
    options: Options,
    read_to: str | None = None,
    measured: MeasuredPath | None = None,
) -> CalibratedPrinter:
    """The printer profile from readings such as "across=199.6 along=199.2 left=3.2", in mm unless they say a unit.

    With a folder of own profiles in `options` the printer is written into its printers.toml, other keys and tables
    left as they are. `read_to` is how well the rule was read, 0.4 mm if left out; `measured` how the page went to the
    paper, kept beside the scale that is true for it. Raises `Trouble`.
    """
    _check_name(printer_name)
    error = READ_TO_MM if read_to is None else _read_precision(read_to, options)
    folder = options.profiles_dir
    new = folder is not None and not folder.exists()
    profiles = load_profiles_in_force(replace(options, profiles_dir=None) if new else options)
    paper = _find_paper(paper_name, profiles)
    known = _find_known_printer(printer_name, profiles)
    chart = _make_chart(paper, known)
    readings = parse_readings(text, chart, options.bare or "mm")
    if printer_name not in profiles.printers:
        _check_all_edges(readings, printer_name)
    across, along = (ScaleReading(asked, read, error) for read, asked in (readings.across, readings.along))
    printer = _apply_readings(known, printer_name, across, along, readings)
    if measured is not None:
        printer = replace(printer, path=measured.path, media_type=measured.media_type or printer.media_type)
    findings = [*find_scale_findings("across", across), *find_scale_findings("along", along)]
    findings += find_skew_findings(readings, _find_grid_side(chart, paper, printer_name))
    file = _write_printer_table(printer, folder) if folder is not None else None
    return CalibratedPrinter(printer, make_printer_table(printer), file, tuple(findings))


def _is_there(path: Path) -> bool:
    return path.exists() or path.is_symlink()


def _check_name(name: str) -> None:
    if not re.fullmatch(r"[a-z0-9][a-z0-9.+-]*", name):
        raise make_usage_trouble(
            "not a name for a printer", "Use small letters, digits and hyphens, such as “studio”.", name
        )


def _read_precision(text: str, options: Options) -> float:
    try:
        error = parse_length(text, options.bare)
    except LengthError as fault:
        raise make_usage_trouble(f"the accuracy of your reading: {fault.what}", fault.remedy, text) from None
    if error > 5:
        raise make_usage_trouble(
            "the accuracy of your reading: a rule is read better than to 5 mm", "Give a length such as 0.4 mm.", text
        )
    return error


def _open_lettering() -> TextShaper:
    from impose.pages.pdf.font_book import ShippedFonts

    return TextShaper(ShippedFonts())


def _find_paper(name: str | None, profiles: Profiles) -> Paper:
    return profiles.find_paper(name or profiles.settings.papers[0])


def _find_known_printer(name: str, profiles: Profiles) -> Printer:
    """The printer on file, or for a new one what the page is laid out by: the usual edges."""
    usual = profiles.find_printer(profiles.settings.printer)
    return profiles.printers.get(name) or replace(usual, name=name, address="", media_type="", path="")


def _make_chart(paper: Paper, printer: Printer) -> CalibrationChart:
    chart = make_chart(paper, printer)
    if chart is None:
        what = f"{paper.alias} is too small to measure a printer on: both sides have to be {LEAST_SIDE_MM:g} mm or more"
        raise make_usage_trouble(what, Remedy("larger-paper"), paper.alias)
    return chart


def _find_grid_side(chart: CalibrationChart, paper: Paper, printer_name: str) -> float:
    """The side of the grid that was printed: what the words left for it."""
    from impose.pages.calibration import measure_words_height

    return choose_grid_side(chart, measure_words_height(chart, paper, printer_name, _open_lettering()))


def _check_all_edges(readings: CalibrationReadings, name: str) -> None:
    missing = [side for side in SIDES if side not in readings.edges]
    if missing:
        remedy = "Read the missing edges off the page as well; a printer on file keeps those that are not given."
        raise make_usage_trouble(
            f"{name} is not on file, and nothing is known of its edges: {', '.join(missing)}", remedy
        )


def _apply_readings(
    known: Printer, name: str, across: ScaleReading, along: ScaleReading, readings: CalibrationReadings
) -> Printer:
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


def make_printer_table(printer: Printer, kept: str = "") -> str:
    """The printer's table for printers.toml; `kept` are lines that stay as they were."""
    key = printer.name if re.fullmatch(r"[a-z0-9-]+", printer.name) else f'"{printer.name}"'
    edges = "".join(f'{side} = "{getattr(printer, f"{side}_mm"):g} mm"\n' for side in SIDES)
    path = f"media_type = {json.dumps(printer.media_type)}\n" if printer.media_type else ""
    path += f"path = {json.dumps(printer.path)}\n" if printer.path else ""
    return (
        f"[{key}]\n{edges}scale_x = {printer.scale_x:.4f}\nscale_y = {printer.scale_y:.4f}\n"
        f'{path}note = "{printer.note}"\n{kept}'
    )


def _write_printer_table(printer: Printer, folder: Path) -> Path:
    """Put the table into printers.toml of a folder, made if need be, and see that it reads back."""
    path = folder / "printers.toml"
    old = path.read_text("utf-8-sig") if path.exists() else ""
    findings = parse_toml(old.encode(), str(path))[1]
    if findings:
        raise Trouble(findings)
    folder.mkdir(parents=True, exist_ok=True)
    with files.write_new_file(path) as part:
        part.write_text(replace_printer_table(old, printer), "utf-8")
        if parse_toml(part.read_bytes(), str(path))[0].get(printer.name) is None:
            remedy = Remedy("print-table")
            raise make_usage_trouble(
                f"{path}: the table of {printer.name} cannot be put in, as the file is written", remedy
            )
    back = load_profiles(files.find_shipped_profiles(), folder).find_printer(printer.name)
    assert (back.scale_x, back.left_mm) == (printer.scale_x, round(printer.left_mm, 6)), back
    return path


def replace_printer_table(text: str, printer: Printer) -> str:
    """A printers.toml with the printer's table in place of its old one, or at the end; its other keys stay."""
    parts = re.split(r"(?m)^(?=[ \t]*\[)", text)
    for index, part in enumerate(parts):
        head, _, body = part.partition("\n")
        if re.fullmatch(rf'\s*\[\s*"?{re.escape(printer.name)}"?\s*\]\s*(#.*)?', head):
            kept = [
                line for line in body.splitlines(keepends=True) if not re.match(rf"\s*({'|'.join(OURS)})\s*=", line)
            ]
            parts[index] = make_printer_table(printer, "".join(kept) or "\n")
            return "".join(parts)
    gap = "" if not text.strip() else "\n" if text.endswith("\n") else "\n\n"
    return f"{text}{gap}{make_printer_table(printer)}"
