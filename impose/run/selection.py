"""Which transfers of a record are made again: by id as on the label, by order, by sheet, or from a ticked list."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Literal, get_args

from impose.errors import Exit, Finding, Severity, Trouble, quote_text
from impose.orders.csv_text import TableRecord
from impose.orders.findings_log import format_spans
from impose.orders.table_file import AGAIN, read_table_file
from impose.profiles.toml_tables import find_near_word
from impose.remedies import Remedy
from impose.sheet.record import CODE_LETTERS
from impose.sheet.record_garments import RecordedGarment, list_garments
from impose.sheet.record_reader import RecordContent
from impose.type.sanitise import fold_text
from impose.values import FrozenStruct, replace

Reason = Literal["spoiled", "lost", "unprinted"]
REASONS: tuple[Reason, ...] = get_args(Reason)

_RANGE = re.compile(r"T?[0-9]+\s*(?:-|–|\.\.+|:|to)\s*T?[0-9]+", re.IGNORECASE)
_ID = re.compile(r"([A-Za-z]*)0*([0-9]+)(.*)")
_UNTICKED = {"", "0", "no", "n", "false", "-", "☐"}


class ReprintRequest(FrozenStruct):
    """What is to be made again; several ways of naming add up. `because` holds where a list names no reason.

    `garments` are whole garments, by an id on them or their wearer: all their prints, and a new blank.
    """

    only: tuple[str, ...] = ()
    orders: tuple[str, ...] = ()
    sheets: tuple[int, ...] = ()
    listed: Path | None = None
    because: Reason = "spoiled"
    take_new_art: bool = False
    garments: tuple[str, ...] = ()


def select_transfers(printed: RecordContent, wish: ReprintRequest) -> dict[str, Reason]:
    """The ids that a wish names, each with its reason. Raises `Trouble` (wrong use) with every name unknown."""
    findings: list[Finding] = []
    chosen: dict[str, Reason] = {}
    for name in wish.only:
        _add_names(chosen, _select_by_id(printed, name, findings), wish.because)
    for order in wish.orders:
        _add_names(chosen, _select_by_order(printed, order, findings), wish.because)
    for sheet in wish.sheets:
        _add_names(chosen, _select_by_sheet(printed, sheet, findings), wish.because)
    for garment in find_garments(printed, wish, findings):
        _add_names(chosen, garment.ids, wish.because)
    if wish.listed is not None:
        for name, reason in read_ticked(wish.listed, wish.because, findings):
            _add_names(chosen, _select_by_id(printed, name, findings), reason)
    if not findings and not chosen:
        findings.append(_make_nothing_named(wish))
    if findings:
        raise Trouble(findings)
    return chosen


def select_garments(printed: RecordContent, wish: ReprintRequest) -> list[RecordedGarment]:
    """The whole garments that a wish names. Raises `Trouble` (wrong use) with every name unknown."""
    findings: list[Finding] = []
    found = find_garments(printed, wish, findings)
    if findings:
        raise Trouble(findings)
    return found


def find_garments(printed: RecordContent, wish: ReprintRequest, findings: list[Finding]) -> list[RecordedGarment]:
    """The same, with what is wrong in `findings`."""
    if not wish.garments:
        return []
    if wish.because == "unprinted":
        what = "a whole garment is named, but the reason is that it was never printed"
        findings.append(_make_usage_finding(what, "A spoiled or lost garment needs a new blank: say which it is."))
    known = list_garments(printed)
    found: dict[tuple[str, ...], RecordedGarment] = {}
    for name in wish.garments:
        garment = _find_garment(printed, known, name, findings)
        if garment is not None:
            found.setdefault(garment.ids, garment)
    return list(found.values())


def _find_garment(
    printed: RecordContent, known: Sequence[RecordedGarment], name: str, findings: list[Finding]
) -> RecordedGarment | None:
    wanted = fold_text(name)
    by_wearer = [garment for garment in known if fold_text(garment.wearer) == wanted]
    if not by_wearer:
        if not re.fullmatch(r"(?:[0-9A-Za-z]{4}-)?[Tt]?[0-9]+[A-Za-z0-9.-]*", name.strip()):
            wearers = {garment.wearer for garment in known if garment.wearer}
            like = find_near_word(name, wearers)
            remedy = f"Did you mean {quote_text(like)}?" if like else "Give an id that is on it, such as T014."
            findings.append(_make_usage_finding("no garment of that wearer in the record", remedy, name))
            return None
        ids = _select_by_id(printed, name, findings)
        return next((garment for garment in known if ids and ids[0] in garment.ids), None)
    if len(by_wearer) > 1:
        told = "; ".join(
            f"{garment.ids[0]} ({garment.order or 'no order'}, {garment.garment})" for garment in by_wearer
        )
        what = f"{len(by_wearer)} garments are for that wearer"
        findings.append(_make_usage_finding(what, f"Give an id that is on the one that is meant: {told}.", name))
        return None
    return by_wearer[0]


def _make_nothing_named(wish: ReprintRequest) -> Finding:
    if wish.listed is not None:
        remedy = "Put an x into the column spoiled beside each that is to be made again, and save it."
        return Finding("nothing is ticked in the list", remedy, kind="reprint", file=str(wish.listed), exit=Exit.USAGE)
    return _make_usage_finding("nothing is named that is to be printed again", Remedy("name-prints"))


def _add_names(chosen: dict[str, Reason], names: Sequence[str], reason: Reason) -> None:
    for name in names:
        chosen.setdefault(name, reason)


def _select_by_id(printed: RecordContent, text: str, findings: list[Finding]) -> list[str]:
    """An id as on the label (CWK8-T014), alone (T014), or its number."""
    match = re.fullmatch(r"(?:([0-9A-Za-z]{4})-)?([A-Za-z]*)0*([0-9]+)([A-Za-z0-9.-]*)", text.strip())
    names = {transfer.id for transfer in printed.transfers}
    batch = (match[1] or "").upper() if match else ""
    if _RANGE.fullmatch(text.strip()) and batch != printed.code and not _is_other_code(batch, names):
        findings.append(
            _make_usage_finding("a range of ids is not taken", "Write each, parted by commas: T014,T015.", text)
        )
        return []
    if match is None or not match[3]:
        findings.append(_make_usage_finding("not a transfer's id", "Write it as on the label, such as T014.", text))
        return []
    if batch and batch != printed.code:
        what = f"a label of another batch, {batch}: this record is {printed.code}"
        findings.append(_make_usage_finding(what, f"Give the record of batch {batch}.", text))
        return []
    wanted = _parse_id(text.strip()[match.end(1) + 1 :] if batch else text)
    for name in sorted(names):
        if _parse_id(name) == wanted:
            return [name]
    findings.append(
        _make_usage_finding("no transfer of that id in the record", f"There are {_format_span(names)}.", text)
    )
    return []


def _is_other_code(text: str, names: Collection[str]) -> bool:
    """Whether what looks like the start of a range (3467-T014) is a batch's code: made like one, and no id here."""
    like_code = bool(text) and set(text) <= set(CODE_LETTERS)
    return like_code and _parse_id(text) not in {_parse_id(name) for name in names}


def _parse_id(text: str) -> tuple[str, str, str] | None:
    """An id in its parts, however it is written; None where it is none."""
    match = _ID.fullmatch(text.strip())
    return None if match is None else ((match[1] or "T").upper(), match[2], match[3].casefold())


def _format_span(names: set[str]) -> str:
    ordered = sorted(names)
    if len(ordered) <= 6:
        return ", ".join(ordered) or "none"
    return f"{len(ordered)}, from {ordered[0]} to {ordered[-1]}"


def _select_by_order(printed: RecordContent, order: str, findings: list[Finding]) -> list[str]:
    found = [transfer.id for transfer in printed.transfers if transfer.ordered.order.strip() == order.strip()]
    if not found:
        known = sorted({transfer.ordered.order for transfer in printed.transfers if transfer.ordered.order})
        like = find_near_word(order, known)
        remedy = f"Did you mean {quote_text(like)}?" if like else "Write it as on the label."
        findings.append(_make_usage_finding("no order of that name in the record", remedy, order))
    return found


def _select_by_sheet(printed: RecordContent, number: int, findings: list[Finding]) -> list[str]:
    found = [transfer.id for transfer in printed.transfers if transfer.sheet == number]
    if not found:
        numbers = [sheet.number for sheet in printed.sheets]
        sheets = "sheet" if len(numbers) == 1 else "sheets"
        there = f"It has {sheets} {format_spans(numbers)}." if numbers else "It has no sheets."
        findings.append(_make_usage_finding(f"no sheet {number} in the record", there))
    return found


def read_ticked(path: Path, because: Reason, findings: list[Finding]) -> Iterator[tuple[str, Reason]]:
    """The ids of a table: all of its column `id`, or those ticked in a column `spoiled`, each with its own reason.

    What is wrong with a line goes into `findings`. Raises `Trouble` (wrong use) if it is no table.
    """
    rows = _read_listed(path, findings)
    heading = [cell.strip().casefold() for cell in rows[0].cells] if rows else []
    if "id" not in heading:
        findings.append(
            _make_finding_at("the list has no column id", "Use the reprint.csv of the output folder.", path, 1)
        )
        return
    for record in rows[1:]:
        if record.fault:
            findings.append(_make_finding_at(record.fault, record.remedy, path, record.line))
            continue
        cells: Mapping[str, str] = dict(zip(heading, (cell.strip() for cell in record.cells), strict=False))
        name = cells.get("id", "").removeprefix("'")
        if not name or ("spoiled" in heading and cells.get("spoiled", "").casefold() in _UNTICKED):
            continue
        reason = cells.get("because", "").casefold() or because
        if reason not in REASONS:
            what = f"{quote_text(reason)} is no reason"
            findings.append(
                _make_finding_at(what, f"Write {', '.join(REASONS)}, or nothing.", path, record.line, "because")
            )
            continue
        yield name, reason


def _read_listed(path: Path, findings: list[Finding]) -> list[TableRecord]:
    try:
        rows, found = read_table_file(path, AGAIN)
    except Trouble as trouble:
        remedy = "Give the reprint.csv of the output folder, ticked and saved as CSV or .xlsx."
        if trouble.exit in (Exit.SYSTEM, Exit.USAGE):  # it is not there, or an extra is missing
            raise
        raise Trouble([replace(finding, remedy=remedy, exit=Exit.USAGE) for finding in trouble.findings]) from None
    findings += [replace(finding, exit=Exit.USAGE) for finding in found if finding.severity is Severity.STOP]
    return rows


def _make_usage_finding(what: str, remedy: str, read: str | None = None) -> Finding:
    return Finding(what, remedy, kind="reprint", read=read, exit=Exit.USAGE)


def _make_finding_at(what: str, remedy: str, path: Path, line: int, column: str = "") -> Finding:
    return Finding(what, remedy, kind="reprint", file=str(path), row=line, column=column, exit=Exit.USAGE)
