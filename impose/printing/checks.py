"""Everything that is refused before a byte is sent: each fault with what it would have cost, and the remedy. Pure.

A printer accepts a wrong scaling or media type and then does as it likes, so its own lists are compared here, not left
to it. What may be agreed to is a warning by its kind; `refuse` turns those nobody agreed to into stops.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from impose.errors import Exit, Finding, Severity, raise_stops
from impose.printing.job_ticket import NEVER, RASTER, JobTicket
from impose.printing.printer_attributes import MediaSize, PrinterEdges, PrinterReport
from impose.printing.sheet_runs import PrintBatch, SheetRun
from impose.profiles.paper import Printer
from impose.remedies import Remedy
from impose.units import Box
from impose.values import FrozenStruct, replace

SIDES = ("left", "top", "right", "bottom")
NEARLY_MM = 0.05


class PrintPath(FrozenStruct):
    """How a printer is reached and what it was last tested with: as a test page went and as this job goes."""

    path: str  # straight, queue
    media_type: str
    tested_path: str = ""
    tested_type: str = ""


def find_batch_faults(batch: PrintBatch, profile: Printer | None) -> list[Finding]:
    """What the record itself says against printing: its warnings, and another printer's scale."""
    found = [
        Finding(
            f"a warning of this batch that nobody has agreed to: {words}",
            Remedy("accept-kind", kind=kind),
            severity=Severity.WARN,
            kind=kind,
            exit=Exit.REFUSED,
        )
        for kind, words in batch.warnings
    ]
    if profile is not None and (profile.scale_x, profile.scale_y) != batch.scale:
        found.append(
            Finding(
                f"the sheets were made for a printer of scale {batch.scale[0]:g} and {batch.scale[1]:g}, and "
                f"{profile.name} is measured at {profile.scale_x:g} and {profile.scale_y:g}",
                Remedy("make-for-printer", printer=profile.name),
                severity=Severity.WARN,
                kind="printer-scale",
                why="Every print would come out at another size.",
            )
        )
    return found


def find_printer_faults(report: PrinterReport, run: SheetRun, ticket: JobTicket, how: PrintPath) -> list[Finding]:
    """What the printer says against a run: size, scaling, edges, format, type, ink. Loaded paper is asked apart."""
    if not report.knows_size(run.width_mm, run.height_mm):
        return [_make_unknown_size(run)]
    found = [
        *_check_format(ticket),
        *_check_scaling(report),
        *_check_edges(report, run),
        *_check_media_type(report, how),
        *_check_path(how),
    ]
    if not report.accepting:
        what = "the printer takes no jobs at present"
        found.append(Finding(what, Remedy("look-at-panel"), kind="printer", exit=Exit.SYSTEM))
    for ink in report.ink:
        if ink.low:
            what = f"{ink.name} is low: {ink.percent} %"
            found.append(
                Finding(what, "Fill it before a long run.", severity=Severity.NOTE, kind="ink-low", exit=Exit.REFUSED)
            )
    return found


def find_loaded_fault(report: PrinterReport, run: SheetRun) -> Finding | None:
    """The stop where another paper lies in the printer; None where the right one does or nobody can know."""
    if report.loaded is None or report.loaded_entry(run.width_mm, run.height_mm) is not None:
        return None
    there = ", ".join(_describe_loaded(entry.size) for entry in report.loaded) or "nothing"
    return Finding(
        f"{describe_size(run.width_mm, run.height_mm)} is not loaded; the printer says that {there} is",
        Remedy("load-paper", paper=describe_size(run.width_mm, run.height_mm)),
        kind="paper-loaded",
        exit=Exit.NO_ROOM,
    )


def refuse_findings(findings: Iterable[Finding], accepted: Collection[str]) -> list[Finding]:
    """The notes worth saying; raises `Trouble` with every stop, and every warning that nobody agreed to."""
    judged = []
    for finding in findings:
        if finding.severity is not Severity.WARN:
            judged.append(finding)
        elif not is_accepted(finding, accepted):
            judged.append(replace(finding, severity=Severity.STOP))
    raise_stops(judged)
    return judged


def is_accepted(finding: Finding, accepted: Collection[str]) -> bool:
    """Whether a warning was agreed to by its kind; who agrees to a low resolution agrees to a very low one here."""
    fine = "low-resolution" if finding.kind == "very-low-resolution" else finding.kind
    return finding.severity is Severity.WARN and (finding.kind in accepted or fine in accepted)


def describe_size(width_mm: float, height_mm: float) -> str:
    """A paper's size, in inches too where those are what it is known by."""
    inches = (width_mm / 25.4, height_mm / 25.4)
    whole = all(abs(inch * 2 - round(inch * 2)) < 0.01 for inch in inches)
    metric = f"{width_mm:g} x {height_mm:g} mm"
    return f"{inches[0]:g} x {inches[1]:g} in ({metric})" if whole else metric


def _describe_loaded(size: MediaSize) -> str:
    """A loaded paper's size; of a roll its width alone, as nobody knows how much of it is left."""
    width_mm = size.across.low / 100
    if size.along.low != size.along.high:
        return f"a roll {width_mm:g} mm wide"
    return describe_size(width_mm, size.along.low / 100)


def _make_unknown_size(run: SheetRun) -> Finding:
    return Finding(
        f"the printer does not know paper of {describe_size(run.width_mm, run.height_mm)}",
        Remedy("make-for-its-papers"),
        kind="paper-size",
        why="It would be scaled, or come out blank.",
        exit=Exit.NO_ROOM,
    )


def _check_format(ticket: JobTicket) -> list[Finding]:
    if not ticket.document_format:
        what = "the printer takes neither PDF nor PWG Raster"
        return [Finding(what, "Print through its queue, by the queue's name.", kind="print-format")]
    if ticket.document_format == RASTER and ticket.resolution is None:
        what = "the printer takes raster, and names no resolution that could be drawn"
        return [Finding(what, "Print through its queue, by the queue's name.", kind="print-format")]
    return []


def _check_scaling(report: PrinterReport) -> list[Finding]:
    if "none" in report.scalings and report.takes_attribute("print-scaling"):
        return []
    return [
        Finding(
            "the printer does not offer to print at actual size (print-scaling none)",
            Remedy("test-its-scaling"),
            severity=Severity.WARN,
            kind="print-scaling",
            why="It may fit the page to its edges, and every print would be too small.",
        )
    ]


def _check_edges(report: PrinterReport, run: SheetRun) -> list[Finding]:
    edges = report.find_edges(run.width_mm, run.height_mm)
    if edges is None or not run.sheets:
        return []
    found = []
    for side in SIDES:
        ours = min(_measure_edge(sheet.area, run, side) for sheet in run.sheets)
        theirs = getattr(edges, f"{side}_mm")
        if theirs > ours + NEARLY_MM:
            found.append(_narrow_edge(side, ours, theirs, _cut_off(run, side, theirs), edges))
    return found


def _narrow_edge(side: str, ours: float, theirs: float, cut: Sequence[int], edges: PrinterEdges) -> Finding:
    """An edge where the sheets reach further than the printer: a stop where that cuts something off."""
    what = f"{side} edge: the sheets reach to {ours:g} mm, and the printer stops at {theirs:g} mm"
    says = ", ".join(f"{name} {getattr(edges, f'{name}_mm'):g} mm" for name in SIDES)
    if cut:
        shown = ", ".join(map(str, cut[:5])) + (" and others" if len(cut) > 5 else "")
        what = f"{what}; something on sheet{'s' if len(cut) > 1 else ''} {shown} would be cut off"
        return Finding(what, Remedy("make-for-its-edges", edges=says), kind="printer-cuts")
    return Finding(
        what,
        Remedy("make-for-its-edges-or-accept", edges=says),
        severity=Severity.WARN,
        kind="printer-edges",
    )


def _measure_edge(area: Box, run: SheetRun, side: str) -> float:
    return {
        "left": area.x,
        "top": area.y,
        "right": run.width_mm - area.right,
        "bottom": run.height_mm - area.bottom,
    }[side]


def _cut_off(run: SheetRun, side: str, edge_mm: float) -> list[int]:
    """The sheets on which a picture, the slug or a ruler lies within an edge."""
    return [
        sheet.number
        for sheet in run.sheets
        if any(_measure_edge(box, run, side) < edge_mm - NEARLY_MM for box in sheet.drawn)
    ]


def _check_media_type(report: PrinterReport, how: PrintPath) -> list[Finding]:
    if how.media_type == NEVER:
        return [
            Finding(
                "the media type “transfer” means iron-on paper to some printers, which then mirror the page",
                Remedy("test-media-type"),
                severity=Severity.WARN,
                kind="media-type",
            )
        ]
    if how.media_type and report.media_types and how.media_type not in report.media_types:
        return [
            Finding(
                f"the printer has no media type {how.media_type}",
                f"It has: {', '.join(report.media_types[:20])}. Write one of them into printers.toml.",
                severity=Severity.WARN,
                kind="media-type",
            )
        ]
    return []


def _check_path(how: PrintPath) -> list[Finding]:
    """A way that was never tested is said; one that has changed since the test asks for a new test page."""
    now, then = (how.path, how.media_type), (how.tested_path, how.tested_type)
    if not how.tested_path:
        what = "no test page has been printed this way yet"
        return [Finding(what, Remedy("print-test-page"), severity=Severity.NOTE, kind="not-tested")]
    if now == then:
        return []
    what = f"the test page went {_word_path(*then)}, and this goes {_word_path(*now)}"
    why = "Scale and colours were measured another way."
    return [Finding(what, Remedy("print-new-test-page"), severity=Severity.WARN, kind="path-changed", why=why)]


def _word_path(path: str, media_type: str) -> str:
    way = {"queue": "through the queue", "dialog": "through a print dialog"}.get(path, path)
    return f"{way} with media type {media_type or 'of the printer'}"
