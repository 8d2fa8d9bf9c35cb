"""From an output folder to runs for a printer: the sheets of one PDF each, all on one paper, proven against the record.

The record may have been edited and the PDF exchanged, so both are read again: a page that does not measure what the
record says of its sheet is never sent.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Trouble
from impose.pages.pdf.raster import read_page_sizes
from impose.sheet.record_reader import PrintedSheet, PrintedTransfer, read_record_content
from impose.units import Box
from impose.values import FrozenStruct, replace

SAME_MM = 0.1  # a page and its record agree to a tenth of a millimetre


class RunSheet(FrozenStruct):
    """One sheet of a run: its number, its page in the PDF (from 0), and what is printed on it."""

    number: int
    page: int
    drawn: tuple[Box, ...]
    area: Box


class SheetRun(FrozenStruct):
    """Sheets of one PDF, on one paper of one size: one job of a printer."""

    pdf: Path
    paper: str  # its name of PWG 5101.1
    width_mm: float
    height_mm: float
    sheets: tuple[RunSheet, ...]
    whole: bool  # whether these are all pages of the PDF, in order


class PrintBatch(FrozenStruct):
    """What a folder holds to be printed. `warnings` are the record's findings of kind and words."""

    code: str
    record: str  # the SHA-256 of the record's bytes
    runs: tuple[SheetRun, ...]
    warnings: tuple[tuple[str, str], ...]
    printer: str  # the profile that the sheets were made for
    scale: tuple[float, float]
    output: bool  # whether colours were turned into a printer's own
    first: frozenset[int] = frozenset()  # sheets to be printed, pressed and looked at before the rest
    held: bool = False  # whether the rest is held back until they are printed

    def hold_rest(self, printed: Collection[int]) -> PrintBatch:
        """The first ones alone, while they are not all `printed`."""
        if self.first <= set(printed) or not self.first:
            return self
        runs = tuple(run for run in self.runs if {sheet.number for sheet in run.sheets} <= self.first)
        return replace(self, runs=runs, held=len(runs) < len(self.runs)) if runs else self


def read_batch(record: Path, content: bytes, wanted: Collection[int] = ()) -> PrintBatch:
    """The runs of a record, of all its sheets or of those wanted. Raises `Trouble` (refused) for what is not whole."""
    try:
        printed = read_record_content(content, str(record))
    except Trouble as trouble:
        raise Trouble(replace(finding, exit=Exit.REFUSED) for finding in trouble.findings) from None
    values = json.loads(content.decode("utf-8-sig"))
    drawn = _list_drawn(printed.sheets, printed.transfers)
    known = {sheet.number for sheet in printed.sheets}
    missing = sorted(set(wanted) - known)
    if missing:
        raise Trouble(
            Finding(
                f"there is no sheet {', '.join(map(str, missing))} in this batch",
                f"It has sheets {min(known)} to {max(known)}." if known else "It has none.",
                kind="record",
                file=str(record),
                exit=Exit.USAGE,
            )
        )
    options = printed.options
    return PrintBatch(
        code=printed.code,
        record=hashlib.sha256(content).hexdigest(),
        runs=tuple(_make_runs(record, printed.sheets, values["sheets"], drawn, wanted)),
        warnings=tuple(_list_warnings(values)),
        printer=str(_find_printer_values(options).get("name", "")),
        scale=_read_scale(_find_printer_values(options)),
        output=options.get("output") is not None,
        first=frozenset(sheet.number for sheet in printed.sheets if sheet.first),
    )


def _find_printer_values(options: Mapping[str, Any]) -> Mapping[str, Any]:
    found = options.get("printer")
    return found if isinstance(found, dict) else {}


def _read_scale(printer: Mapping[str, Any]) -> tuple[float, float]:
    found = printer.get("scale")
    if isinstance(found, list) and len(found) == 2 and all(isinstance(factor, int | float) for factor in found):
        return float(found[0]), float(found[1])
    return 1.0, 1.0


def _list_warnings(values: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The warnings nobody has agreed to when the batch was made."""
    findings, options = values.get("findings"), values.get("options")
    agreed = options.get("accept", []) if isinstance(options, dict) else []
    found = []
    for finding in findings if isinstance(findings, list) else []:
        if isinstance(finding, dict) and finding.get("severity") == "warn" and finding.get("kind") not in agreed:
            where = f"row {finding['row']}: " if isinstance(finding.get("row"), int) else ""
            found.append((str(finding.get("kind", "")), f"{where}{finding.get('what', '')}"))
    return found


def _list_drawn(sheets: Sequence[PrintedSheet], transfers: Sequence[PrintedTransfer]) -> dict[int, tuple[Box, ...]]:
    """Per sheet what carries ink: cells with their ticks and labels, less the blank slack around them; slug, rulers."""
    found = {sheet.number: list(sheet.marks or ()) for sheet in sheets}
    for transfer in transfers:
        slack = min(
            side.slack_mm
            for side in (transfer.sides.top, transfer.sides.right, transfer.sides.bottom, transfer.sides.left)
        )
        cell = transfer.cell
        found[transfer.sheet].append(Box(cell.x + slack, cell.y + slack, cell.w - 2 * slack, cell.h - 2 * slack))
    return {number: tuple(boxes) for number, boxes in found.items()}


def _make_runs(
    record: Path,
    sheets: Sequence[PrintedSheet],
    entries: Sequence[Mapping[str, Any]],
    drawn: Mapping[int, tuple[Box, ...]],
    wanted: Collection[int],
) -> list[SheetRun]:
    by_file: dict[str, list[tuple[PrintedSheet, int]]] = {}
    for sheet, entry in zip(sheets, entries, strict=True):
        by_file.setdefault(_file_name(record, entry), []).append((sheet, _read_page(record, entry)))
    found = []
    for name, members in by_file.items():
        chosen = [(sheet, page) for sheet, page in members if not wanted or sheet.number in wanted]
        if chosen:
            found.append(_make_run(record, name, chosen, drawn))
    return found


def _make_run(
    record: Path, name: str, members: Sequence[tuple[PrintedSheet, int]], drawn: Mapping[int, tuple[Box, ...]]
) -> SheetRun:
    pdf = record.parent / name
    try:
        sizes = read_page_sizes(pdf)
    except FileNotFoundError:
        raise _make_refusal(pdf, "the record names this file, and it is not there") from None
    except ValueError as error:
        raise _make_refusal(pdf, str(error)) from None
    first = members[0][0]
    for sheet, page in members:
        if page >= len(sizes):
            raise _make_refusal(pdf, f"it has {len(sizes)} pages, and sheet {sheet.number} should be page {page + 1}")
        wide, high = sizes[page]
        if max(abs(wide - sheet.width_mm), abs(high - sheet.height_mm)) > SAME_MM:
            what = f"page {page + 1} measures {wide:.1f} x {high:.1f} mm"
            raise _make_refusal(pdf, f"{what}, and the record says {sheet.width_mm:g} x {sheet.height_mm:g}")
        if (sheet.width_mm, sheet.paper) != (first.width_mm, first.paper):
            raise _make_refusal(pdf, "its sheets are not all on one paper")
    pages = [page for _, page in members]
    found = tuple(RunSheet(s.number, page, drawn[s.number], s.area) for s, page in members)
    # Pieces of a roll differ in length; the longest is asked for, so that nothing is cut off.
    height = max(sheet.height_mm for sheet, _ in members)
    return SheetRun(pdf, first.paper, first.width_mm, height, found, pages == list(range(len(sizes))))


def _file_name(record: Path, entry: Mapping[str, Any]) -> str:
    """The PDF's name: a name beside the record, never a way out of its folder."""
    name = entry.get("file")
    if not isinstance(name, str) or name != Path(name).name or not name.endswith(".pdf") or "\\" in name:
        raise _make_refusal(record, f"sheet {entry.get('sheet')} names no PDF beside the record")
    return name


def _read_page(record: Path, entry: Mapping[str, Any]) -> int:
    page = entry.get("page")
    if not isinstance(page, int) or isinstance(page, bool) or page < 1:
        raise _make_refusal(record, f"sheet {entry.get('sheet')} names no page")
    return page - 1


def _make_refusal(path: Path, what: str) -> Trouble:
    remedy = "Nothing was sent. Make the sheets again, or give the folder as it was delivered."
    return Trouble(Finding(what, remedy, kind="record", file=str(path), exit=Exit.REFUSED))
