"""Which findings stop the work: accepted ones do not, and `strict` makes warnings stop."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from impose.errors import Finding, Severity, raise_stops
from impose.run.options import Options
from impose.shop.orders import Batch


def judge(findings: Iterable[Finding], batch: Batch, options: Options) -> tuple[Finding, ...]:
    """All findings with the file they belong to; raises `Trouble` for those that stop.

    With `skip_bad` stops have left with their orders already and are only kept to be said.
    """
    accepted = {row.row: row.accept | options.accept for row in batch.rows}
    judged = []
    for finding in findings:
        one = finding if finding.file else replace(finding, file=batch.source)
        agreed = one.kind in (accepted.get(one.row, options.accept) if one.row is not None else options.accept)
        if one.severity is Severity.WARN and options.strict and not agreed and one.kind != "left-out":
            one = replace(one, severity=Severity.STOP)
        judged.append(one)
    if not options.skip_bad or options.strict:
        raise_stops(judged)
    return tuple(judged)
