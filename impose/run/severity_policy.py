"""Which findings stop the work: accepted ones do not; `strict`, or a kind among the setting `stops`, makes one stop."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from impose.errors import Finding, Severity, raise_stops
from impose.kinds import ACCEPTABLE
from impose.orders.batch import Batch, remove_refused_orders
from impose.run.options import Options


def judge_findings(
    findings: Iterable[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> tuple[Finding, ...]:
    """All findings with the file they belong to; raises `Trouble` for those that stop.

    With `skip_bad` stops have left with their orders already and are only kept to be said.
    """
    found = weigh_findings(findings, batch, options, stops)
    raise_stops([one for one, was in found if was is not Severity.STOP or not options.skip_bad])
    return tuple(one for one, _ in found)


def weigh_severities(
    findings: Iterable[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> tuple[Finding, ...]:
    """All findings with the file they belong to and the severity that they are to have; nothing is raised."""
    return tuple(one for one, _ in weigh_findings(findings, batch, options, stops))


def remove_stopped_orders(
    findings: Sequence[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> Batch | None:
    """The batch less the orders of which a row has a finding that is made to stop; None if there are none."""
    judged = weigh_findings(findings, batch, options, stops)
    stopped = [one for one, was in judged if one.severity is Severity.STOP and was is not Severity.STOP and one.rows]
    if not stopped:
        return None
    said = {replace(one, severity=was) for one, was in judged if one in stopped}
    rest = tuple(one for one in batch.findings if replace(one, file=one.file or batch.source) not in said)
    return remove_refused_orders(replace(batch, findings=rest), {row for one in stopped for row in one.rows}, stopped)


def agreed_stops(findings: Iterable[Finding], batch: Batch, options: Options) -> list[Finding]:
    """The findings; a refusal of a kind that may be agreed to is a warning where all its rows agree to it."""
    accepted = _list_accepted(batch, options)
    return [
        replace(one, severity=Severity.WARN)
        if one.severity is Severity.STOP
        and one.kind in ACCEPTABLE
        and all(_is_agreed(one, accepted.get(row, options.accept)) for row in one.rows)
        else one
        for one in findings
    ]


def _list_accepted(batch: Batch, options: Options) -> dict[int, frozenset[str]]:
    """What each row agrees to; a row of the batch may be several prints, by its kit."""
    accepted: dict[int, frozenset[str]] = {}
    for row in batch.rows:
        accepted[row.row] = accepted.get(row.row, options.accept) | row.accept
    return accepted


def weigh_findings(
    findings: Iterable[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> list[tuple[Finding, Severity]]:
    """Each finding with the severity it is to have, and the one it came with.

    What is said of rows that have left the batch stops nothing.
    """
    accepted = _list_accepted(batch, options)
    judged = []
    for finding in findings:
        one = finding if finding.file else replace(finding, file=batch.source)
        rows = [row for row in one.rows if row not in batch.left]
        here = [accepted.get(row, options.accept) for row in rows] if one.rows else [options.accept]
        strict = options.strict and one.severity is Severity.WARN and one.kind != "left-out"
        stopping = strict or (one.kind in stops and one.kind in ACCEPTABLE)
        if stopping and not all(_is_agreed(one, kinds) for kinds in here):
            one = replace(one, severity=Severity.STOP)
        judged.append((one, finding.severity))
    return judged


def _is_agreed(finding: Finding, accepted: Collection[str]) -> bool:
    """Whoever agrees to few pixels has agreed to very few; the finer kind is for making it stop."""
    return finding.kind in accepted or (finding.kind == "very-low-resolution" and "low-resolution" in accepted)
