"""`check`: everything that is wrong with a batch and its artwork, found without nesting or writing anything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Severity, Trouble
from impose.run.agreed import agreement_findings
from impose.run.job import Job, begin, load
from impose.run.judge import weighed
from impose.run.offer import pieces_on
from impose.run.options import Options, Progress, silent
from impose.run.workforce import workforce
from impose.sheet.margins import print_area
from impose.sheet.record import finding_values
from impose.sheet.suitability import with_boxes


@dataclass(frozen=True, slots=True)
class Checked:
    """What was found, worst first, and how much was examined."""

    findings: tuple[Finding, ...]
    rows: int
    pictures: int

    @property
    def exit(self) -> Exit:
        """Done if nothing stops; of several causes the lowest code."""
        return min((f.exit for f in self.findings if f.severity is Severity.STOP), default=Exit.DONE)

    @property
    def counts(self) -> dict[Severity, int]:
        """How many findings of each severity."""
        found = Counter(finding.severity for finding in self.findings)
        return {severity: found[severity] for severity in Severity}

    def values(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "findings": [finding_values(finding) for finding in self.findings],
            "counts": {str(severity): count for severity, count in self.counts.items()},
            "rows": self.rows,
            "pictures": self.pictures,
        }


def check(sources: Sequence[Path], options: Options | None = None, progress: Progress = silent) -> Checked:
    """Examine rows, artwork and sizes on the offered papers.

    What is wrong with the batch is in the answer, refusals included; the orders of a refused row are examined no
    further. Raises `Trouble` only for wrong use and faulty profiles, which are no fault of the batch.
    """
    with workforce(options) as options:
        return _checked(sources, replace(options, skip_bad=True), progress)


def _checked(sources: Sequence[Path], options: Options, progress: Progress) -> Checked:
    load(options)  # so that what is wrong with options and profiles is not taken for a fault of the batch
    try:
        job = begin(sources, options, progress, rows=False)
    except Trouble as trouble:
        if trouble.exit is Exit.USAGE:
            raise
        return Checked(_sorted(trouble.findings), 0, 0)
    return _examined(job, options)


def _examined(job: Job, options: Options) -> Checked:
    areas = tuple(print_area(paper, job.printer) for paper in job.papers)
    batch, pieces, findings, _ = pieces_on(job.batch, job.pictures, areas, job.profiles, options)
    agreed = agreement_findings(batch, pieces, job.profiles.settings.units)
    found = with_boxes([*batch.findings, *findings, *agreed], pieces)
    judged = [one for one, _ in weighed(found, batch, options, job.profiles.settings.stops)]
    return Checked(_sorted(judged), len(job.batch.rows), len(job.pictures))


def _sorted(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Worst first, else in the order in which they were found."""
    order = list(Severity)
    return tuple(sorted(findings, key=lambda finding: order.index(finding.severity)))
