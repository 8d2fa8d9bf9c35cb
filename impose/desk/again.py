"""A list of spoiled prints that was dropped: known by its headings, its record found by the code on the labels.

The list is the `reprint.csv` of a delivery, in which somebody has ticked what is to be made again. The record is
looked for among the desk's own deliveries, since whoever can drop a file may name no path with it.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from impose.errors import Finding, Trouble, raise_stops, typed
from impose.files import RECORD_NAME
from impose.run import Options
from impose.run.reprint import Reprint, plan_reprint, returning_of
from impose.run.selection import Reason, Wish, select, ticked
from impose.run.source import Source, read_record
from impose.run.stock import Returning
from impose.shop.grid import AGAIN, lists_again, read_grid

_LABEL = re.compile(r"\s*'?([0-9A-Za-z]{4})-[0-9A-Za-z.-]+\s*")
_CODE = re.compile(rb'^"code": "([0-9A-Z]{4})"', re.MULTILINE)
_HEAD = 1 << 16  # bytes of a record in which its code stands, unless very many orders stand before it

# Decided by the record of the first printing, and not by options of a watch, which speak of new work.
_THEIRS = ("tint", "straight_cuts", "orientation", "keep_specks", "clean_haze", "drop_specks", "papers", "printer")


@dataclass(frozen=True, slots=True)
class Shelves:
    """Where a desk keeps its deliveries and the artwork they were made of."""

    sheets: Path
    done: Path


def list_code(path: Path, mapped: bool) -> str | None:
    """The batch code of a list of spoiled prints, "" if it names none; None if the file is no such list.

    A list has the columns `id` and `spoiled`. One with `id` alone, which names all, is taken for a list unless a
    column map says what headings mean (`mapped`). Raises `Trouble` if it cannot be read.
    """
    rows, _ = read_grid(path, AGAIN)
    heading = [cell.strip().casefold() for cell in rows[0].cells] if rows else []
    if not lists_again(heading, sure=mapped):
        return None
    place = heading.index("id")
    found = (_LABEL.fullmatch(row.cells[place]) for row in rows[1:] if len(row.cells) > place)
    return next((match[1].upper() for match in found if match), "")


def plan_again(listed: Path, shelves: Shelves, options: Options, own: Mapping[str, object]) -> Reprint:
    """Plan what a list ticks as the record of its batch says, on `own` papers and printer if the folder names any.

    Raises `Trouble` with why not: nothing ticked, no such record, artwork that has changed.
    """
    source = find_source(listed, shelves.sheets)
    settings = {key: value for key, value in options.settings.items() if key not in _THEIRS} | dict(own)
    options = replace(options, settings=settings, art_root=_moved(source, shelves.done))
    try:
        return plan_reprint(source, Wish(listed=listed), options)
    except Trouble as trouble:
        raise Trouble([_ours(finding, source) for finding in trouble.findings]) from None


def coming_back(listed: Path, shelves: Shelves) -> list[Returning]:
    """The sheets whose paper comes back with what a list ticks, because they were never printed."""
    source = find_source(listed, shelves.sheets)
    return returning_of(source, select(source.printed, Wish(listed=listed)))[0]


def find_source(listed: Path, sheets: Path) -> Source:
    """The record of the batch whose transfers a list ticks. Raises `Trouble` where there is none, or no telling."""
    findings: list[Finding] = []
    names = [name for name, _ in ticked(listed, "spoiled", findings)]
    raise_stops([replace(finding, file=listed.name) for finding in findings])
    if not names:
        raise _trouble("nothing is ticked", "Put an x into the column spoiled, save it and drop it again.", listed)
    codes = sorted({match[1].upper() for match in map(_LABEL.fullmatch, names) if match})
    if len(codes) > 1:
        raise _trouble(f"it ticks prints of several batches: {', '.join(codes)}", "Drop a list for each.", listed)
    if not codes:
        remedy = f"Write the batch's code in front, as on the label: CODE-{names[0]}."
        raise _trouble("its ids do not say of which batch they are", remedy, listed)
    found = [read_record(folder) for folder in _folders(sheets, codes[0])]
    if not found:
        remedy = (
            "Put the folder of that batch back into the desk's folder sheets, or, where the folder is now: "
            "impose reprint FOLDER --list FILE."
        )
        raise _trouble(f"none of the desk's deliveries is batch {codes[0]}", remedy, listed)
    return _newest(found, names, listed)


def _newest(found: Sequence[Source], names: Sequence[str], listed: Path) -> Source:
    """The newest of several deliveries of one batch; two batches may also share a code, which has four letters."""
    if len(found) > 1 and len({_prints(source, names) for source in found}) > 1:
        folders = ", ".join(source.path.parent.name for source in found)
        remedy = "Say which one at the command line: impose reprint FOLDER --list FILE."
        raise _trouble(f"several different batches have this code: {folders}", remedy, listed)
    return max(found, key=lambda source: source.path.stat().st_mtime_ns)


def _prints(source: Source, names: Sequence[str]) -> frozenset[tuple[object, ...]]:
    """What of a record a list would print."""
    chosen: Mapping[str, Reason] = {}
    with contextlib.suppress(Trouble):
        chosen = select(source.printed, Wish(only=tuple(names)))
    return frozenset(
        (one.id, one.ordered.order, one.ordered.wearer, one.art_sha256, one.ordered.words, one.ink_w_mm, one.ink_h_mm)
        for one in source.printed.transfers
        if one.id in chosen
    )


def _folders(sheets: Path, code: str) -> Iterator[Path]:
    """The deliveries of a batch, by what their records say of themselves."""
    for folder in sorted(sheets.iterdir()):
        try:
            with (folder / RECORD_NAME).open("rb") as file:
                head = file.read(_HEAD)
                match = _CODE.search(head) or _CODE.search(head + file.read())
        except OSError:
            continue  # not a delivery, or taken away this instant
        if match and match[1].decode("ascii") == code:
            yield folder


def _moved(source: Source, done: Path) -> Path | None:
    """Where the artwork lies now, if not where the record says, because the whole desk was moved."""
    named = Path(source.printed.art_root)
    here = done / named.name
    return here if not named.exists() and here.is_dir() else None


def _ours(finding: Finding, source: Source) -> Finding:
    """A finding in the words of a desk, which has no options to pass."""
    told = replace(finding, file="" if finding.file == str(source.path) else finding.file)
    if finding.kind not in ("art-changed", "art-missing"):
        return told
    back = f"Put the old file back below {source.printed.art_root}"
    if finding.kind == "art-changed" and finding.column == "font":
        back = "Bring back the style that the words were set in"
    remedy = (
        f"{back}, or print what you have at the command line: "
        f"impose reprint {typed(str(source.path.parent))} --list FILE, with --take-new-art or --art DIR."
    )
    return replace(told, remedy=remedy)


def _trouble(what: str, remedy: str, listed: Path) -> Trouble:
    return Trouble(Finding(what, remedy, kind="reprint", file=listed.name))
