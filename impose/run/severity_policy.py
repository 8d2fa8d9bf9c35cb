"""Which findings stop the work: accepted ones do not; `strict`, or a kind among the setting `stops`, makes one stop."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

from impose.errors import Finding, Severity, raise_stops
from impose.kinds import ACCEPTABLE
from impose.orders.batch import Batch, leave_out_refused
from impose.run.options import Options
from impose.values import replace

Accepted = dict[tuple[int, int], frozenset[str]]


def judge_findings(
    findings: Iterable[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> tuple[Finding, ...]:
    """All findings with the file they belong to; raises `Trouble` for those that stop.

    With `skip_bad` stops have left with their orders already and are only kept to be said.
    """
    found = weigh_findings(findings, batch, options, stops)
    raise_stops([finding for finding, was in found if was is not Severity.STOP or not options.skip_bad])
    return tuple(finding for finding, _ in found)


def weigh_severities(
    findings: Iterable[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> tuple[Finding, ...]:
    """All findings with the file they belong to and the severity that they are to have; nothing is raised."""
    return tuple(finding for finding, _ in weigh_findings(findings, batch, options, stops))


def remove_stopped_orders(
    findings: Sequence[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> Batch | None:
    """The batch less the orders of which a row has a finding that is made to stop; None if there are none."""
    judged = weigh_findings(findings, batch, options, stops)
    stopped = [
        finding
        for finding, was in judged
        if finding.severity is Severity.STOP and was is not Severity.STOP and finding.rows
    ]
    if not stopped:
        return None
    said = {replace(finding, severity=was) for finding, was in judged if finding in stopped}
    rest = tuple(
        finding for finding in batch.findings if replace(finding, file=finding.file or batch.source) not in said
    )
    return leave_out_refused(replace(batch, findings=rest), stopped, skip_bad=True)


def accept_agreed_stops(findings: Iterable[Finding], batch: Batch, options: Options) -> list[Finding]:
    """The findings; a refusal of a kind that may be agreed to is a warning where all its rows agree to it."""
    accepted = _list_accepted(batch, options)
    return [
        replace(finding, severity=Severity.WARN)
        if finding.severity is Severity.STOP
        and finding.kind in ACCEPTABLE
        and all(_is_agreed(finding, kinds) for kinds in _list_kinds_agreed(finding, finding.rows, accepted, options))
        else finding
        for finding in findings
    ]


def _list_accepted(batch: Batch, options: Options) -> Accepted:
    """What each print agrees to, by row and the row of its kit; by row and 0 what all prints of a row agree to."""
    accepted: Accepted = {}
    for row in batch.rows:
        mine = options.accept | row.accept
        accepted[row.key] = mine
        if row.kit_row:
            accepted[row.row, 0] = accepted.get((row.row, 0), mine) & mine
    return accepted


def _list_kinds_agreed(
    finding: Finding, rows: Iterable[int], accepted: Accepted, options: Options
) -> Iterator[frozenset[str]]:
    """What is agreed to in each of the rows that a finding is true of: in the print's own, where it is of one print."""
    for row in rows:
        whole = accepted.get((row, 0), options.accept)
        yield accepted.get((row, finding.kit_row), whole) if row == finding.row else whole


def weigh_findings(
    findings: Iterable[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> list[tuple[Finding, Severity]]:
    """Each finding with the severity it is to have, and the one it came with.

    What is said of rows that have left the batch stops nothing.
    """
    accepted = _list_accepted(batch, options)
    judged = []
    for finding in findings:
        placed = finding if finding.file else replace(finding, file=batch.source)
        rows = [row for row in placed.rows if row not in batch.left]
        here = list(_list_kinds_agreed(placed, rows, accepted, options)) if placed.rows else [options.accept]
        strict = options.strict and placed.severity is Severity.WARN and placed.kind != "left-out"
        stopping = strict or (placed.kind in stops and placed.kind in ACCEPTABLE)
        if stopping and not all(_is_agreed(placed, kinds) for kinds in here):
            placed = replace(placed, severity=Severity.STOP)
        judged.append((placed, finding.severity))
    return judged


def _is_agreed(finding: Finding, accepted: Collection[str]) -> bool:
    """Whoever agrees to few pixels has agreed to very few; the finer kind is for making it stop."""
    return finding.kind in accepted or (finding.kind == "very-low-resolution" and "low-resolution" in accepted)
