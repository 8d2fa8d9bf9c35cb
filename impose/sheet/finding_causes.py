"""Findings by what has to be done about them: one for a picture and a cause, whatever number of rows have it.

A record keeps a finding for each row. A person reads them to act, and acts once: asks for one picture, opens one file.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable
from pathlib import PurePosixPath

from impose.errors import Finding, Severity
from impose.orders.findings_log import format_spans
from impose.values import replace

_SAME_CAUSE = {"very-low-resolution": "low-resolution"}
_NUMBERS = re.compile(r"[0-9]+(?:[.,][0-9]+)*")
_RANK = list(Severity)


def identify_cause(finding: Finding) -> Hashable:
    """What findings share that are mended by one act: the kind and the picture; else the words, numbers aside."""
    kind = _SAME_CAUSE.get(finding.kind, finding.kind)
    if kind and finding.column == "art" and finding.read and finding.severity is not Severity.STOP:
        return kind, finding.file, finding.read
    if finding.severity is Severity.STOP or finding.row is None or not kind:
        return finding
    return kind, finding.severity, finding.file, finding.column, _NUMBERS.sub("#", finding.what)


def group_by_cause(findings: Iterable[Finding]) -> list[list[Finding]]:
    """The findings of each cause, the worst of them first; causes in the order in which they were found."""
    found: dict[Hashable, list[Finding]] = {}
    for finding in findings:
        found.setdefault(identify_cause(finding), []).append(finding)
    return [sorted(group, key=_rank_finding) for group in found.values()]


def _rank_finding(finding: Finding) -> tuple[int, float]:
    """Worst first; of a resolution the one with the fewest pixels, which its words begin with."""
    pixels = re.match(r"[0-9]+", finding.what) if finding.kind.endswith("low-resolution") else None
    return _RANK.index(finding.severity), float(pixels[0]) if pixels else 0.0


def gather_causes(findings: Iterable[Finding]) -> list[Finding]:
    """One finding for each cause, its place the rows of all: what a person is told. Worst first."""
    told = [_merge_group(group) for group in group_by_cause(findings)]
    return sorted(told, key=lambda finding: _RANK.index(finding.severity))


def _merge_group(group: list[Finding]) -> Finding:
    first = group[0]
    rows = sorted({row for finding in group for row in finding.rows})
    if len(rows) < 2:
        return first
    remedy: str = first.remedy
    if first.kind.endswith("low-resolution"):
        picture = PurePosixPath((first.read or "").replace("\\", "/")).name
        remedy = remedy.replace(
            "a larger picture,", f"a larger picture of {picture} (for rows {format_spans(rows)}),", 1
        )
    what = first.what
    if len({_NUMBERS.sub("#", member.what) for member in group}) == 1 and len({member.what for member in group}) > 1:
        what = f"{what} (so of row {first.row}; alike in the others)"
    place = ", ".join(part for part in (first.file, f"rows {format_spans(rows)}") if part)
    return replace(first, what=what, remedy=remedy, file=place, row=None, also=())
