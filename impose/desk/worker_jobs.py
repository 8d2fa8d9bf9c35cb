"""What the maker's process does: read batch files, make deliveries, try how full sheets would be. Nothing is moved."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any, Literal

from impose.desk.batch import CombinedBatch, DropContent, combine_drops, report_made_before
from impose.desk.desk_stock import list_returning_values
from impose.desk.drop_rules import NamedFiles
from impose.desk.reprint_lists import ReprintFolders, list_returning_of_list, plan_listed_reprint, read_list_code
from impose.errors import Exit, Finding, Severity, Trouble
from impose.file_types import is_artwork
from impose.files import open_plain
from impose.orders.batch_reader import list_files_named
from impose.orders.column_map import read_column_map
from impose.run import Options, Plan, plan, produce
from impose.run.load_batch import load_profiles_in_force
from impose.run.paper_stock import list_takes
from impose.sheet.record import list_finding_values
from impose.values import FrozenStruct, field, replace


class ReadTableJob(FrozenStruct):
    """Read which artwork a batch file names."""

    path: Path
    columns: Path | None


class MakeJob(FrozenStruct):
    """Make a delivery at `out`, or, without it, only plan it. Its record tells artwork from `art_root`.

    A list of spoiled prints is made from the `shelves`, on `own` papers and printer if its folder names any.
    """

    delivery: int
    mark: str
    name: str
    parcels: tuple[DropContent, ...]
    options: Options
    out: Path | None
    art_root: Path | None
    shelves: ReprintFolders | None = None
    own: Mapping[str, Any] = field(default_factory=dict)


class MadeDelivery(FrozenStruct):
    """What was made: facts for the ledger, and the drops on each sheet with its yield."""

    facts: dict[str, Any]
    sheets: tuple[tuple[float, frozenset[int]], ...]


class FailedJob(FrozenStruct):
    """Why nothing was made. `faults` are by drop; `common` is no single drop's.

    `kind`: "refused" is final, "system" may mend by waiting, "short" (of paper) by counting anew, "error" is a fault
    that ought not to be. `coming` is the paper that would come back with it, as in the facts of what is made.
    """

    kind: Literal["refused", "system", "short", "error"]
    faults: dict[int, str] = field(default_factory=dict)
    common: str = ""
    coming: Sequence[Any] = ()


Request = ReadTableJob | MakeJob
Reply = NamedFiles | MadeDelivery | FailedJob


def answer_request(request: Request) -> Reply:
    """Do what is asked; whatever goes wrong is an answer too."""
    try:
        if isinstance(request, ReadTableJob):
            return _read_table(request)
        return _make_reprint(request) if request.parcels[0].listed else _make_delivery(request)
    except Trouble as trouble:
        return FailedJob("system" if trouble.exit is Exit.SYSTEM else "refused", common=str(trouble))
    except OSError as error:
        return FailedJob("system", common=f"{error.filename or ''} {error.strerror or error}".strip())
    except Exception as error:
        return FailedJob("error", common=f"{type(error).__name__}: {error}")


def _read_table(request: ReadTableJob) -> NamedFiles | FailedJob:
    with open_plain(request.path):
        pass  # what has become a pipe since it was looked at would be waited for without end
    columns = None if request.columns is None else read_column_map(request.columns)
    try:
        code = read_list_code(request.path, columns is not None)
        if code is not None:
            return NamedFiles(listed=code)
        return NamedFiles(tuple(list_files_named(request.path, columns)))
    except Trouble as trouble:
        if trouble.exit is Exit.SYSTEM:
            return FailedJob("system", common=str(trouble))
        return NamedFiles(fault=str(trouble).replace(str(request.path), request.path.name))


def _make_delivery(request: MakeJob) -> MadeDelivery | FailedJob:
    profiles = load_profiles_in_force(request.options)
    combined = combine_drops(request.parcels, request.name, profiles, request.options)
    if combined.faults:
        return _make_refused(combined.faults)
    options = request.options
    if len(request.parcels) > 1:
        options = replace(options, skip_bad=False)
    try:
        planned = plan(combined.batch, options)
    except Trouble as trouble:
        return _blame_drops(trouble, combined, {parcel.number: parcel for parcel in request.parcels})
    if request.out is not None:
        record = {**planned.record, "desk": _describe_origin(request, combined)}
        if request.art_root is not None:
            record["art_root"] = str(request.art_root)
        produce(replace(planned, record=record), request.out)
    return MadeDelivery(_list_facts(planned, combined, request.parcels), _list_sheet_shares(planned, combined))


def _make_reprint(request: MakeJob) -> MadeDelivery | FailedJob:
    """What a list of spoiled prints ticks. It is always alone in its delivery."""
    (parcel,) = request.parcels
    assert request.shelves is not None
    listed = parcel.folder / parcel.main
    try:
        made = plan_listed_reprint(listed, request.shelves, request.options, request.own)
    except Trouble as trouble:
        if any(finding.kind == "stock" for finding in trouble.findings):
            return FailedJob(
                "short",
                common=str(trouble),
                coming=list_returning_values(list_returning_of_list(listed, request.shelves)),
            )
        return FailedJob("system" if trouble.exit is Exit.SYSTEM else "refused", common=str(trouble))
    if request.out is not None:
        rows = sorted({row.row for row in made.plan.batch.rows})
        drop = {"drop": parcel.number, "name": parcel.shown, "rows": rows}
        record = {**made.plan.record, "desk": {"delivery": f"{request.mark}-{request.delivery}", "drops": [drop]}}
        if parcel.again:
            record["findings"] = [*record["findings"], list_finding_values(report_made_before(parcel))]
        produce(replace(made.plan, record=record), request.out)
    shares = tuple((sheet["yield"], frozenset([parcel.number])) for sheet in made.plan.record["sheets"])
    return MadeDelivery({**_list_facts(made.plan), "coming": list_returning_values(made.returning)}, shares)


def _describe_origin(request: MakeJob, combined: CombinedBatch) -> dict[str, Any]:
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


def _list_facts(
    planned: Plan, combined: CombinedBatch | None = None, parcels: Sequence[DropContent] = ()
) -> dict[str, Any]:
    """What the ledger keeps; each warning and refusal is told of the drop that it is of."""
    record = planned.record
    warnings = [f for f in planned.findings if f.severity is not Severity.NOTE]
    if combined is not None:
        dropped = {parcel.number: parcel for parcel in parcels}
        warnings = [_place_at_drop(finding, combined, dropped) for finding in warnings]
    stops = [f for f in warnings if f.severity is Severity.STOP]
    files: dict[str, str] = {}
    aliases = {paper.name: paper.alias for paper, _ in planned.layout.group_by_paper()}
    for sheet in record["sheets"]:
        files[sheet["file"]] = aliases[sheet["paper"]]
    return {
        "code": record["code"],
        "sheets": len(record["sheets"]),
        "transfers": planned.transfer_count,
        "cost": record["cost"],
        "currency": record["currency"],
        "paper": record["paper"],
        "files": files,
        "warnings": [str(finding) for finding in warnings],
        "index": planned.profiles.settings.keep_index,
        "takes": [[take.sheet, take.paper, take.amount] for take in list_takes(planned.layout)],
        "left_out": [str(stop) for stop in stops],
    }


def _place_at_drop(finding: Finding, combined: CombinedBatch, dropped: Mapping[int, DropContent]) -> Finding:
    """A finding about a row of the delivery, told of the drop that the row came from."""
    drop, row = combined.origin.get(finding.row or 0, (0, 0))
    if drop not in dropped:
        return finding
    return _place_in_drop(replace(finding, file=dropped[drop].shown), row, dropped[drop])


def _list_sheet_shares(planned: Plan, combined: CombinedBatch) -> tuple[tuple[float, frozenset[int]], ...]:
    return tuple(
        (sheet["yield"], frozenset(combined.origin[transfer["row"]][0] for transfer in sheet["transfers"]))
        for sheet in planned.record["sheets"]
    )


def _make_refused(faults: Mapping[int, Sequence[Finding]]) -> FailedJob:
    system = all(f.exit is Exit.SYSTEM for findings in faults.values() for f in findings)
    return FailedJob("system" if system else "refused", {n: _join_words(findings) for n, findings in faults.items()})


def _blame_drops(trouble: Trouble, combined: CombinedBatch, parcels: Mapping[int, DropContent]) -> FailedJob:
    """The trouble at the drops whose rows it names, each row as the drop's own file counts."""
    if any(finding.kind == "stock" for finding in trouble.findings):
        return FailedJob("short", common=str(trouble))
    by_drop: dict[int, list[Finding]] = {}
    for finding in trouble.findings:
        origin = combined.origin.get(finding.row) if finding.row is not None else None
        if origin is not None:
            by_drop.setdefault(origin[0], []).append(_place_in_drop(finding, origin[1], parcels[origin[0]]))
    if by_drop:
        return _make_refused(by_drop)
    kind: Literal["system", "refused"] = "system" if trouble.exit is Exit.SYSTEM else "refused"
    return FailedJob(kind, common=str(trouble))


def _place_in_drop(finding: Finding, row: int, parcel: DropContent) -> Finding:
    """A finding as whoever dropped it looks for it: at the row of their file, or at the picture that they dropped."""
    if parcel.main and not is_artwork(parcel.main):
        return replace(finding, row=row)
    if finding.column != "art":
        return replace(finding, file=parcel.shown, row=None, column="")
    name = PurePosixPath(finding.read or "").name
    whole = not name or parcel.shown.endswith(name)
    return replace(finding, file=parcel.shown if whole else f"{parcel.shown}/{name}", row=None, column="", read=None)


def _join_words(findings: Sequence[Finding]) -> str:
    return "\n".join(dict.fromkeys(str(finding) for finding in findings))


def describe_reply(reply: Reply) -> str:
    """A reply in a line, for the log."""
    if isinstance(reply, MadeDelivery):
        return json.dumps({key: reply.facts[key] for key in ("code", "sheets", "transfers")})
    return str(reply)
