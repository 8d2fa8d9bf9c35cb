"""Answers of customers, noted beside the batch file, where every later run of the batch finds them.

The note is of what a delivered folder's record says was shown, never of what the batch file says now.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from impose import files
from impose.errors import Exit, Finding, Severity, Trouble, quote_text
from impose.orders.batch import Batch, BatchRow
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy
from impose.run.format_versions import is_newer
from impose.sheet.agreement import Agreement, compare_with_agreement, group_shown_by_order
from impose.sheet.piece import Piece
from impose.values import replace

FORMAT = "impose-agreed/1"
MOST_BYTES = 64 << 20
MARK = "NOT WHAT WAS AGREED"
"""What stands before a change on a press ticket."""


def find_agreed_file(source: str, batch: str) -> Path:
    """Where the answers to a batch lie: beside its file, under that file's name, whatever the batch itself is called.

    Only a batch without a file of its own lends its name: a folder of pictures.
    """
    path = Path(source)
    return path.parent / f"{path.stem if path.is_file() else batch}-agreed.json"


def note_agreed(folder: Path, by: str, on: str, order: str | None = None) -> tuple[Path, list[str]]:
    """Note that an order of a delivered folder was agreed, by whom and when; the file, and the orders noted.

    Raises `Trouble` (wrong use) where the folder is none of ours, its batch file is not found, or of several orders
    none is named.
    """
    record = _read_record(folder)
    pages = [
        page for page in record.get("approval", []) if isinstance(page, dict) and isinstance(page.get("shows"), list)
    ]
    chosen = [
        page
        for page in pages
        if order is None or page["order"] == order or (not page["order"] and order == str(page["row"]))
    ]
    names = [page["order"] or f"row {page['row']}" for page in pages]
    if not chosen or (order is None and len(pages) > 1):
        what = "of several orders none is named" if order is None else f"there is no order {quote_text(order)} in it"
        remedy = Remedy("choose-order", names=", ".join(names[:20]))
        raise Trouble(Finding(what, remedy, kind="record", file=str(folder), exit=Exit.USAGE))
    path = find_agreed_file(str(_find_source(record, folder)), str(record["batch"]))
    known = {agreement.key: agreement for agreement in read_agreed(path)}
    for page in chosen:
        made = Agreement(page["order"], page["row"], by, on, tuple(page["shows"]))
        known[made.key] = made
    _write_agreements(path, known.values())
    return path, [page["order"] or f"row {page['row']}" for page in chosen]


def _read_record(folder: Path) -> dict[str, Any]:
    from impose.sheet.record_reader import MOST_BYTES as MOST_RECORD_BYTES
    from impose.sheet.record_schema import find_fault

    path = folder / files.RECORD_NAME if folder.is_dir() else folder
    try:
        with path.open("rb") as file:
            values = json.loads(file.read(MOST_RECORD_BYTES + 1).decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        values = None
    whole = isinstance(values, dict) and isinstance(values.get("source"), str) and "approval" in values
    if not isinstance(values, dict) or not whole or find_fault(values) is not None:
        what = "no folder of finished sheets: it holds no batch.json of ours"
        remedy = "Name the folder whose approval page the customer answered."
        raise Trouble(Finding(what, remedy, kind="record", file=str(folder), exit=Exit.USAGE))
    return values


def _find_source(record: Mapping[str, Any], folder: Path) -> Path:
    """The batch file as the record names it; a relative one is looked for from the folder upwards as well."""
    named = Path(record["source"])
    above = [parent / candidate for parent in folder.absolute().parents for candidate in (named, Path(named.name))]
    found = next((path for path in (named, *above) if path.exists()), None)
    if found is None:
        what = f"the batch file {named} is not found, beside which the answer is kept"
        remedy = "Run this from the folder that the sheets were made from."
        raise Trouble(Finding(what, remedy, kind="record", file=str(folder), exit=Exit.USAGE))
    return found


def _write_agreements(path: Path, agreements: Iterable[Agreement]) -> None:
    orders = [
        {
            "order": agreement.order,
            "row": agreement.row,
            "by": agreement.by,
            "on": agreement.on,
            "shows": list(agreement.shows),
        }
        for agreement in sorted(agreements, key=lambda noted: noted.key)
    ]
    with files.write_new_file(path) as part:
        text = json.dumps({"format": FORMAT, "orders": orders}, ensure_ascii=False, indent=1, sort_keys=True)
        part.write_text(f"{text}\n", "utf-8")


def read_agreed(path: Path) -> list[Agreement]:
    """The answers in a file; none where there is no file. Raises `Trouble` where it is none of ours."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise ValueError
        values = json.loads(path.read_text("utf-8-sig"))
        _check_format(str(values["format"]), path)
        return [
            Agreement(
                str(order["order"]),
                int(order["row"]),
                str(order["by"]),
                str(order["on"]),
                tuple(map(dict, order["shows"])),
            )
            for order in values["orders"]
        ]
    except FileNotFoundError:
        return []
    except (OSError, ValueError, TypeError, KeyError, RecursionError, OverflowError):
        what = "the customers' answers cannot be read, so nothing is held against them"
        remedy = "Take a copy of it from before, or delete it and note the answers again."
        raise Trouble(Finding(what, remedy, Severity.WARN, "not-agreed", file=str(path))) from None


def _check_format(written: str, path: Path) -> None:
    """Raises `Trouble` for answers of a newer version, `ValueError` for what holds none."""
    if is_newer(written, FORMAT):
        what = "a newer version of this program wrote them, so the customers' answers are not held against the batch"
        remedy = "Use that version, or note the answers again with this one."
        raise Trouble(Finding(what, remedy, Severity.WARN, "not-agreed", file=str(path)))
    if written != FORMAT:
        raise ValueError


def find_agreement_findings(batch: Batch, pieces: Iterable[Piece], profiles: Profiles) -> list[Finding]:
    """What differs from what the customers agreed to, and which orders stand as agreed."""
    try:
        agreements = read_agreed(find_agreed_file(batch.source, batch.name)) if batch.source else []
    except Trouble as trouble:
        return list(trouble.findings)
    if not agreements:
        return []
    now = group_shown_by_order(pieces, profiles)
    return [
        finding
        for agreement in agreements
        if agreement.key in now
        for finding in compare_with_agreement(agreement, now[agreement.key], profiles.settings.units)
    ]


def mark_rows(rows: Iterable[BatchRow], findings: Iterable[Finding]) -> tuple[BatchRow, ...]:
    """The rows, those that are not what was agreed marked so that their tickets say it."""
    said: dict[int, list[str]] = {}
    for finding in findings:
        if finding.kind == "not-agreed" and finding.row is not None:
            said.setdefault(finding.row, []).append(finding.what.removeprefix("not what was agreed: "))
    return tuple(
        replace(row, extra=(*row.extra, (MARK, "; ".join(said[row.row])))) if row.row in said else row for row in rows
    )
