"""`printers`: the printers on file, the spooler's queues, those found in the network, and what one says of itself."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

from impose import files
from impose.errors import Exit, Finding, Trouble
from impose.ledger.print_jobs import PrintLedger
from impose.printing.checks import describe_size
from impose.printing.discovery import can_discover, find_printers
from impose.printing.job_ticket import choose_format, choose_media_type
from impose.printing.printer_access import Ask, OpenPrinter, Say, find_named_printer, open_printer
from impose.printing.printer_attributes import MediaEntry, PrinterEdges, PrinterReport
from impose.printing.queues import hide_secret, list_queues
from impose.printing.state_words import describe_printer_state
from impose.profiles.paper import Paper
from impose.profiles.toml_limits import parse_toml
from impose.remedies import Remedy
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.values import FrozenStruct

SIDES = ("left", "top", "right", "bottom")


class ListedPrinter(FrozenStruct):
    """A printer by name: where it is, and how it was come by: on file, a queue, found."""

    name: str
    address: str
    source: str
    device: str = ""


def list_printers(options: Options) -> tuple[list[ListedPrinter], bool]:
    """Every printer there is to name; none of them is asked anything. And whether the network was listened to."""
    profiles = load_profiles_in_force(options)
    found = [ListedPrinter(p.name, hide_secret(p.address), "on file") for p in profiles.printers.values() if p.address]
    found += [ListedPrinter(q.name, str(q.address), "queue", q.device) for q in list_queues(os.environ)]
    listened = can_discover()
    if listened:
        found += [ListedPrinter(p.name, str(p.address), "found") for p in find_printers()]
    return found, listened


def describe_printer(
    name: str, options: Options, books: PrintLedger, ask: Ask, say: Say, trust_again: bool = False
) -> dict[str, Any]:
    """What a named printer says of itself, as plain values. Raises `Trouble` if it cannot be reached."""
    profiles = load_profiles_in_force(options)
    printer = open_printer(find_named_printer(name, profiles, os.environ), profiles, books, ask, say, trust_again)
    return list_values(printer, options)


def list_values(printer: OpenPrinter, options: Options) -> dict[str, Any]:
    """What a printer that has answered says of itself, as plain values, with the papers on file that it takes."""
    papers = list(load_profiles_in_force(options).papers.values())
    report, known, profile = printer.report, printer.known, printer.named.profile
    marked = known.sublimation or bool(profile and profile.sublimation_ink)
    return {
        "name": printer.named.name,
        "says_name": report.name,
        "address": str(printer.client.address),
        "path": printer.path,
        "model": report.model,
        "state": report.state,
        "reasons": describe_printer_state(report.reasons),
        "accepting": report.accepting,
        "sublimation_ink": marked,
        "prints_as": choose_format(report),
        "actual_size": "none" in report.scalings,
        "loaded": None if report.loaded is None else [_entry_values(entry) for entry in report.loaded],
        "ink": [{"name": ink.name, "percent": ink.percent, "low": ink.low} for ink in report.ink],
        "papers": _paper_values(report, papers),
        "media_types": list(report.media_types),
        "media_type": choose_media_type(report, (profile.media_type if profile else "") or known.media_type),
        "tested": {"path": known.path, "media_type": known.media_type, "day": known.tested} if known.path else None,
    }


def _entry_values(entry: MediaEntry) -> dict[str, Any]:
    return {
        "width_mm": entry.size.across.low / 100,
        "height_mm": entry.size.along.low / 100,
        "media_type": entry.media_type,
        "source": entry.source,
    }


def _paper_values(report: PrinterReport, papers: list[Paper]) -> list[dict[str, Any]]:
    """The papers on file that the printer takes, with its edges."""
    found = []
    for paper in papers:
        height = paper.height_mm
        if height is None or not report.knows_size(paper.width_mm, height):
            continue
        edges = report.find_edges(paper.width_mm, height)
        sides = None if edges is None else {side: getattr(edges, f"{side}_mm") for side in SIDES}
        borderless = report.offers_borderless(paper.width_mm, height)
        found.append({"paper": paper.alias, "name": paper.name, "edges_mm": sides, "borderless": borderless})
    return found


def describe_lines(values: dict[str, Any]) -> list[str]:
    """The same for a person."""
    told = "; ".join(values["reasons"])
    lines = [
        f"{values['name']}: {values['model'] or 'model unknown'}, {values['state']}{f' ({told})' if told else ''}",
        f"  reached {'through a queue' if values['path'] == 'queue' else 'straight'} at {values['address']}",
        f"  holds sublimation ink: {'yes' if values['sublimation_ink'] else 'nobody has said so'}",
        f"  prints from: {values['prints_as'] or 'nothing that can be sent'}; "
        f"actual size: {'yes' if values['actual_size'] else 'not offered'}",
    ]
    if values["loaded"] is None:
        lines.append("  loaded: it does not say; look")
    for paper in values["loaded"] or []:
        more = ", ".join(part for part in (paper["media_type"], paper["source"]) if part)
        lines.append(f"  loaded: {describe_size(paper['width_mm'], paper['height_mm'])}{f' ({more})' if more else ''}")
    for ink in values["ink"]:
        percent = "unknown" if ink["percent"] is None else f"{ink['percent']} %"
        lines.append(f"  {ink['name']}: {percent}{', LOW' if ink['low'] else ''}")
    for paper in values["papers"]:
        edges = paper["edges_mm"]
        words = "edges unknown" if edges is None else ", ".join(f"{side} {mm:g}" for side, mm in edges.items()) + " mm"
        lines.append(
            f"  takes {paper['paper']}: {words}{'; borderless too (it enlarges)' if paper['borderless'] else ''}"
        )
    lines.append(f"  media types: {', '.join(values['media_types']) or 'it names none'}")
    tested = values["tested"]
    lines.append(
        f"  test page: {tested['day']}, {tested['path']}, media type {tested['media_type'] or 'its own'}"
        if tested
        else f"  test page: none yet ({Remedy('print-first-test')})"
    )
    return lines


def copy_printer(values: dict[str, Any], paper: str | None, folder: Path) -> Path:
    """Write a printer's table, with its edges, into printers.toml of a folder; the edges are marked as unmeasured.

    An entry of that name is left alone: `Trouble` (wrong use). The widest edges of the papers it takes are written,
    unless one paper is named, so that they hold for every one of them.
    """
    table = _make_table(values, _table_name(values), paper)
    path = folder / "printers.toml"
    old = path.read_text("utf-8-sig") if path.exists() else ""
    known, faults = parse_toml(old.encode(), str(path))
    if faults:
        raise Trouble(faults)
    added = next(iter(parse_toml(table.encode(), str(path))[0]))
    if added in known:
        what = f"{path} has a printer {added} already, which is left as it is"
        raise Trouble(Finding(what, "Rename or delete its table, then run the same.", kind="printer", exit=Exit.USAGE))
    folder.mkdir(parents=True, exist_ok=True)
    with files.write_new_file(path) as part:
        part.write_text(old + ("" if not old or old.endswith("\n\n") else "\n") + table, "utf-8")
    return path


def _make_table(values: dict[str, Any], name: str, paper: str | None) -> str:
    known = [taken["edges_mm"] for taken in values["papers"] if taken["edges_mm"] and paper in (None, taken["paper"])]
    if not known:
        what = "the printer does not say where its edges are" + (f" on {paper}" if paper else "")
        remedy = "Measure them with the calibration page."
        raise Trouble(Finding(what, remedy, kind="printer", exit=Exit.USAGE))
    edges = PrinterEdges(*(max(edges_mm[side] for edges_mm in known) for side in SIDES))
    lines = [f"[{name}]"]
    lines += [f'{side} = "{getattr(edges, f"{side}_mm"):g} mm"' for side in SIDES]
    lines += ["scale_x = 1.0", "scale_y = 1.0", f"address = {json.dumps(values['address'])}"]
    lines += ["sublimation_ink = false  # write true if it holds sublimation ink: only then is it printed to"]
    lines += [f"media_type = {json.dumps(values['media_type'])}"] if values["media_type"] else []
    lines += ['note = "Edges as the printer says, not measured; the scale is 1 until it is calibrated."']
    return "\n".join(lines) + "\n"


def _table_name(values: dict[str, Any]) -> str:
    """The name it was asked by; where that was an address, the printer's own."""
    name = values["name"] if "://" not in values["name"] else values["says_name"]
    return re.sub(r"[^a-z0-9-]+", "-", name.casefold()).strip("-")[:40] or "printer"
