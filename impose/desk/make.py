"""What the maker's process does: read batch files, make deliveries, try how full sheets would be. Nothing is moved."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from impose.desk.again import Shelves, coming_back, list_code, plan_again
from impose.desk.batch import Combined, Parcel, combine, made_before
from impose.desk.paper import back_values
from impose.desk.want import Named
from impose.errors import Exit, Finding, Severity, Trouble
from impose.files import open_plain
from impose.run import Options, Plan, plan, produce
from impose.run.job import load
from impose.run.stock import takes_of
from impose.sheet.record import finding_values
from impose.shop.export import read_column_map
from impose.shop.read import files_named


@dataclass(frozen=True, slots=True)
class ReadTable:
    """Read which artwork a batch file names."""

    path: Path
    columns: Path | None


@dataclass(frozen=True, slots=True)
class Make:
    """Make a delivery at `out`, or, without it, only plan it. Its record tells artwork from `art_root`.

    A list of spoiled prints is made from the `shelves`, on `own` papers and printer if its folder names any.
    """

    delivery: int
    mark: str
    name: str
    parcels: tuple[Parcel, ...]
    options: Options
    out: Path | None
    art_root: Path | None
    shelves: Shelves | None = None
    own: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Made:
    """What was made: facts for the ledger, and the drops on each sheet with its yield."""

    facts: dict[str, Any]
    sheets: tuple[tuple[float, frozenset[int]], ...]


@dataclass(frozen=True, slots=True)
class Failed:
    """Why nothing was made. `faults` are by drop; `common` is no single drop's.

    `kind`: "refused" is final, "system" may mend by waiting, "short" (of paper) by counting anew, "error" is a fault
    that ought not to be. `coming` is the paper that would come back with it, as in the facts of what is made.
    """

    kind: Literal["refused", "system", "short", "error"]
    faults: dict[int, str] = field(default_factory=dict)
    common: str = ""
    coming: Sequence[Any] = ()


Request = ReadTable | Make
Reply = Named | Made | Failed


def answer(request: Request) -> Reply:
    """Do what is asked; whatever goes wrong is an answer too."""
    try:
        if isinstance(request, ReadTable):
            return _read_table(request)
        return _make_again(request) if request.parcels[0].listed else _make(request)
    except Trouble as trouble:
        return Failed("system" if trouble.exit is Exit.SYSTEM else "refused", common=str(trouble))
    except OSError as error:
        return Failed("system", common=f"{error.filename or ''} {error.strerror or error}".strip())
    except Exception as error:
        return Failed("error", common=f"{type(error).__name__}: {error}")


def _read_table(request: ReadTable) -> Named | Failed:
    with open_plain(request.path):
        pass  # what has become a pipe since it was looked at would be waited for without end
    columns = None if request.columns is None else read_column_map(request.columns)
    try:
        code = list_code(request.path, columns is not None)
        if code is not None:
            return Named(listed=code)
        return Named(tuple(files_named(request.path, columns)))
    except Trouble as trouble:
        if trouble.exit is Exit.SYSTEM:
            return Failed("system", common=str(trouble))
        return Named(fault=str(trouble).replace(str(request.path), request.path.name))


def _make(request: Make) -> Made | Failed:
    profiles = load(request.options)
    combined = combine(request.parcels, request.name, profiles, request.options)
    if combined.faults:
        return _refused(combined.faults)
    options = request.options
    if len(request.parcels) > 1:
        options = replace(options, skip_bad=False)
    try:
        planned = plan(combined.batch, options)
    except Trouble as trouble:
        return _blamed(trouble, combined)
    if request.out is not None:
        record = {**planned.record, "desk": _origin(request, combined)}
        if request.art_root is not None:
            record["art_root"] = str(request.art_root)
        produce(replace(planned, record=record), request.out)
    return Made(_facts(planned, combined, request.parcels), _shares(planned, combined))


def _make_again(request: Make) -> Made | Failed:
    """What a list of spoiled prints ticks. It is always alone in its delivery."""
    (parcel,) = request.parcels
    assert request.shelves is not None
    listed = parcel.folder / parcel.main
    try:
        made = plan_again(listed, request.shelves, request.options, request.own)
    except Trouble as trouble:
        if any(finding.kind == "stock" for finding in trouble.findings):
            return Failed("short", common=str(trouble), coming=back_values(coming_back(listed, request.shelves)))
        return Failed("system" if trouble.exit is Exit.SYSTEM else "refused", common=str(trouble))
    if request.out is not None:
        rows = sorted({row.row for row in made.plan.batch.rows})
        drop = {"drop": parcel.number, "name": parcel.shown, "rows": rows}
        record = {**made.plan.record, "desk": {"delivery": f"{request.mark}-{request.delivery}", "drops": [drop]}}
        if parcel.again:
            record["findings"] = [*record["findings"], finding_values(made_before(parcel))]
        produce(replace(made.plan, record=record), request.out)
    shares = tuple((sheet["yield"], frozenset([parcel.number])) for sheet in made.plan.record["sheets"])
    return Made({**_facts(made.plan), "coming": back_values(made.returning)}, shares)


def _origin(request: Make, combined: Combined) -> dict[str, Any]:
    """Which delivery of which desk this is, and which drop each row came from."""
    drops = [
        {
            "drop": parcel.number,
            "name": parcel.shown,
            "rows": sorted(row for row, (number, _) in combined.origin.items() if number == parcel.number),
        }
        for parcel in request.parcels
    ]
    return {"delivery": f"{request.mark}-{request.delivery}", "drops": drops}


def _facts(planned: Plan, combined: Combined | None = None, parcels: Sequence[Parcel] = ()) -> dict[str, Any]:
    """What the ledger keeps; of several drops, each warning and refusal names its own."""
    record = planned.record
    stops = [f for f in planned.findings if f.severity is Severity.STOP]
    warnings = [f for f in planned.findings if f.severity is not Severity.NOTE]
    if combined is not None and len(parcels) > 1:
        shown = {parcel.number: parcel.shown for parcel in parcels}
        warnings = [_at_drop(finding, combined, shown) for finding in warnings]
    files: dict[str, str] = {}
    aliases = {paper.name: paper.alias for paper, _ in planned.layout.by_paper()}
    for sheet in record["sheets"]:
        files[sheet["file"]] = aliases[sheet["paper"]]
    return {
        "code": record["code"],
        "sheets": len(record["sheets"]),
        "transfers": planned.transfers,
        "cost": record["cost"],
        "currency": record["currency"],
        "paper": record["paper"],
        "files": files,
        "warnings": [str(finding) for finding in warnings],
        "takes": [[take.sheet, take.paper, take.amount] for take in takes_of(planned.layout)],
        "left_out": [str(stop) for stop in stops],
    }


def _at_drop(finding: Finding, combined: Combined, shown: Mapping[int, str]) -> Finding:
    """A finding about a row of the delivery, told of the drop that the row came from."""
    drop, row = combined.origin.get(finding.row or 0, (0, 0))
    return replace(finding, file=shown[drop], row=row) if drop in shown else finding


def _shares(planned: Plan, combined: Combined) -> tuple[tuple[float, frozenset[int]], ...]:
    return tuple(
        (sheet["yield"], frozenset(combined.origin[one["row"]][0] for one in sheet["transfers"]))
        for sheet in planned.record["sheets"]
    )


def _refused(faults: Mapping[int, Sequence[Finding]]) -> Failed:
    system = all(f.exit is Exit.SYSTEM for findings in faults.values() for f in findings)
    return Failed("system" if system else "refused", {n: _words(findings) for n, findings in faults.items()})


def _blamed(trouble: Trouble, combined: Combined) -> Failed:
    """The trouble at the drops whose rows it names, each row as the drop's own file counts."""
    if any(finding.kind == "stock" for finding in trouble.findings):
        return Failed("short", common=str(trouble))
    by_drop: dict[int, list[Finding]] = {}
    for finding in trouble.findings:
        origin = combined.origin.get(finding.row) if finding.row is not None else None
        if origin is not None:
            by_drop.setdefault(origin[0], []).append(replace(finding, row=origin[1]))
    if by_drop:
        return _refused(by_drop)
    kind: Literal["system", "refused"] = "system" if trouble.exit is Exit.SYSTEM else "refused"
    return Failed(kind, common=str(trouble))


def _words(findings: Sequence[Finding]) -> str:
    return "\n".join(dict.fromkeys(str(finding) for finding in findings))


def shown(reply: Reply) -> str:
    """A reply in a line, for the log."""
    if isinstance(reply, Made):
        return json.dumps({key: reply.facts[key] for key in ("code", "sheets", "transfers")})
    return str(reply)
