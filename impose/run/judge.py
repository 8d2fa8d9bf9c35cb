"""Which findings stop the work: accepted ones do not; `strict`, or a kind among the setting `stops`, makes one stop."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

from impose.errors import Finding, Severity, raise_stops
from impose.kinds import ACCEPTABLE
from impose.run.options import Options
from impose.shop.orders import Batch


def judge(
    findings: Iterable[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> tuple[Finding, ...]:
    """All findings with the file they belong to; raises `Trouble` for those that stop.

    With `skip_bad` stops have left with their orders already and are only kept to be said.
    """
    judged = weighed(findings, batch, options, stops)
    raise_stops([one for one, was in judged if was is not Severity.STOP or not options.skip_bad])
    return tuple(one for one, _ in judged)


def weighed(
    findings: Iterable[Finding], batch: Batch, options: Options, stops: Collection[str] = ()
) -> list[tuple[Finding, Severity]]:
    """Each finding with the severity it is to have, and the one it came with."""
    accepted = {row.row: row.accept | options.accept for row in batch.rows}
    judged = []
    for finding in findings:
        one = finding if finding.file else replace(finding, file=batch.source)
        agreed = _agreed(one, accepted.get(one.row, options.accept) if one.row is not None else options.accept)
        strict = options.strict and one.severity is Severity.WARN and one.kind != "left-out"
        if (strict or (one.kind in stops and one.kind in ACCEPTABLE)) and not agreed:
            one = replace(one, severity=Severity.STOP)
        judged.append((one, finding.severity))
    return judged


def _agreed(finding: Finding, accepted: Collection[str]) -> bool:
    """Whoever agrees to few pixels has agreed to very few; the finer kind is for making it stop."""
    return finding.kind in accepted or (finding.kind == "very-low-resolution" and "low-resolution" in accepted)
