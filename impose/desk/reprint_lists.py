"""A list of spoiled prints that was dropped: known by its headings, its record found by the code on the labels.

The list is the `reprint.csv` of a delivery, in which somebody has ticked what is to be made again. The record is
looked for among the desk's own deliveries, since whoever can drop a file may name no path with it.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from impose.errors import Finding, Trouble, list_texts, quote_for_shell, raise_stops
from impose.files import RECORD_NAME
from impose.orders.table_file import AGAIN, is_reprint_list, read_table_file
from impose.profiles.settings import INHERITED
from impose.remedies import Remedy
from impose.run import Options
from impose.run.paper_stock import ReturnedSheets
from impose.run.record_file import RecordFile, read_record
from impose.run.reprint import ReprintPlan, list_returning, plan_reprint
from impose.run.selection import Reason, ReprintRequest, read_ticked, select_transfers
from impose.values import FrozenStruct, replace

_LABEL = re.compile(r"\s*'?([0-9A-Za-z]{4})-[0-9A-Za-z.-]+\s*")
_CODE = re.compile(rb'^"code": "([0-9A-Z]{4})"', re.MULTILINE)
_HEAD = 1 << 16  # bytes of a record in which its code stands, unless very many orders stand before it

# Decided by the record of the first printing, and not by options of a watch, which are for new work.
_THEIRS = (*INHERITED, "printer")


class ReprintFolders(FrozenStruct):
    """Where a desk keeps its deliveries and the artwork they were made of."""

    sheets: Path
    done: Path


def read_list_code(path: Path, mapped: bool) -> str | None:
    """The batch code of a list of spoiled prints, "" if it names none; None if the file is no such list.

    A list has the columns `id` and `spoiled`. One with `id` alone, which names all, is taken for a list unless a
    column map says what headings mean (`mapped`). Raises `Trouble` if it cannot be read.
    """
    rows, _ = read_table_file(path, AGAIN)
    heading = [cell.strip().casefold() for cell in rows[0].cells] if rows else []
    if not is_reprint_list(heading, sure=mapped):
        return None
    place = heading.index("id")
    found = (_LABEL.fullmatch(row.cells[place]) for row in rows[1:] if len(row.cells) > place)
    return next((match[1].upper() for match in found if match), "")


def plan_listed_reprint(
    listed: Path, shelves: ReprintFolders, options: Options, own: Mapping[str, object]
) -> ReprintPlan:
    """Plan what a list ticks as the record of its batch says, on `own` papers and printer if the folder names any.

    Raises `Trouble` with why not: nothing ticked, no such record, artwork that has changed.
    """
    source = find_record(listed, shelves.sheets)
    settings = {key: value for key, value in options.settings.items() if key not in _THEIRS} | dict(own)
    options = replace(options, settings=settings, art_root=_find_moved_art(source, shelves.done))
    try:
        return plan_reprint(source, ReprintRequest(listed=listed), options)
    except Trouble as trouble:
        raise Trouble([_word_for_desk(finding, source) for finding in trouble.findings]) from None


def list_returning_of_list(listed: Path, shelves: ReprintFolders) -> list[ReturnedSheets]:
    """The sheets whose paper comes back with what a list ticks, because they were never printed."""
    source = find_record(listed, shelves.sheets)
    return list_returning(source, select_transfers(source.printed, ReprintRequest(listed=listed)))[0]


def find_record(listed: Path, sheets: Path) -> RecordFile:
    """The record of the batch whose transfers a list ticks. Raises `Trouble` where there is none, or no telling."""
    findings: list[Finding] = []
    names = [name for name, _ in read_ticked(listed, "spoiled", findings)]
    raise_stops([replace(finding, file=listed.name) for finding in findings])
    if not names:
        raise _make_trouble("nothing is ticked", "Put an x into the column spoiled, save it and drop it again.", listed)
    codes = sorted({match[1].upper() for match in map(_LABEL.fullmatch, names) if match})
    if len(codes) > 1:
        raise _make_trouble(
            f"it ticks prints of several batches: {list_texts(codes, 12)}", "Drop a list for each.", listed
        )
    if not codes:
        remedy = f"Write the batch's code in front, as on the label: CODE-{names[0]}."
        raise _make_trouble("its ids do not say of which batch they are", remedy, listed)
    found = [read_record(folder) for folder in _list_delivery_folders(sheets, codes[0])]
    if not found:
        remedy = Remedy("reprint-from-folder")
        raise _make_trouble(f"none of the desk's deliveries is batch {codes[0]}", remedy, listed)
    return _choose_newest(found, names, listed)


def _choose_newest(found: Sequence[RecordFile], names: Sequence[str], listed: Path) -> RecordFile:
    """The newest of several deliveries of one batch; two batches may also share a code, which has four letters."""
    if len(found) > 1 and len({_list_prints(source, names) for source in found}) > 1:
        folders = list_texts([source.path.parent.name for source in found], 12)
        remedy = Remedy("say-which-batch")
        raise _make_trouble(f"several different batches have this code: {folders}", remedy, listed)
    return max(found, key=lambda source: source.path.stat().st_mtime_ns)


def _list_prints(source: RecordFile, names: Sequence[str]) -> frozenset[tuple[object, ...]]:
    """What of a record a list would print."""
    chosen: Mapping[str, Reason] = {}
    with contextlib.suppress(Trouble):
        chosen = select_transfers(source.printed, ReprintRequest(only=tuple(names)))
    return frozenset(
        (
            transfer.id,
            transfer.ordered.order,
            transfer.ordered.wearer,
            transfer.art_sha256,
            transfer.ordered.words,
            transfer.ink_w_mm,
            transfer.ink_h_mm,
        )
        for transfer in source.printed.transfers
        if transfer.id in chosen
    )


def _list_delivery_folders(sheets: Path, code: str) -> Iterator[Path]:
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


def _find_moved_art(source: RecordFile, done: Path) -> Path | None:
    """Where the artwork lies now, if not where the record says, because the whole desk was moved."""
    named = Path(source.printed.art_root)
    here = done / named.name
    return here if not named.exists() and here.is_dir() else None


def _word_for_desk(finding: Finding, source: RecordFile) -> Finding:
    """A finding in the words of a desk, which has no options to pass."""
    told = replace(finding, file="" if finding.file == str(source.path) else finding.file)
    if finding.kind not in ("art-changed", "art-missing"):
        return told
    back = f"Put the old file back below {source.printed.art_root}"
    if finding.kind == "art-changed" and finding.column == "font":
        back = "Bring back the style that the words were set in"
    remedy = Remedy("reprint-what-is-there", back=back, folder=quote_for_shell(str(source.path.parent)))
    return replace(told, remedy=remedy)


def _make_trouble(what: str, remedy: str, listed: Path) -> Trouble:
    return Trouble(Finding(what, remedy, kind="reprint", file=listed.name))
