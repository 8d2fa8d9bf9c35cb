"""`check`: everything that is wrong with a batch and its artwork, found without nesting or writing anything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Severity, Trouble
from impose.run.agreed_answers import find_agreement_findings
from impose.run.batch_choices import add_batch_choices
from impose.run.executors import open_executors
from impose.run.load_batch import LoadedBatch, load_job, load_profiles_in_force
from impose.run.nest_batch import make_pieces_for
from impose.run.options import Options
from impose.run.progress import Progress, report_nothing
from impose.run.severity_policy import weigh_findings
from impose.sheet.margins import print_area
from impose.sheet.record import list_finding_values
from impose.sheet.size_findings import place_findings
from impose.values import FrozenStruct, replace


class CheckResult(FrozenStruct):
    """What was found, worst first, and how much was examined."""

    findings: tuple[Finding, ...]
    rows: int
    pictures: int

    @property
    def exit(self) -> Exit:
        """Done if nothing stops; of several causes the lowest code."""
        return min((f.exit for f in self.findings if f.severity is Severity.STOP), default=Exit.DONE)

    @property
    def severity_counts(self) -> dict[Severity, int]:
        """How many findings of each severity."""
        found = Counter(finding.severity for finding in self.findings)
        return {severity: found[severity] for severity in Severity}

    def json_values(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "findings": [list_finding_values(finding) for finding in self.findings],
            "counts": {str(severity): count for severity, count in self.severity_counts.items()},
            "rows": self.rows,
            "pictures": self.pictures,
        }


def check(sources: Sequence[Path], options: Options | None = None, progress: Progress = report_nothing) -> CheckResult:
    """Examine rows, artwork and sizes on the offered papers.

    What is wrong with the batch is in the answer, refusals included; the orders of a refused row are examined no
    further. Raises `Trouble` only for wrong use and faulty profiles, which are no fault of the batch.
    """
    with open_executors(options) as options:
        return _check_sources(sources, replace(add_batch_choices(sources, options), skip_bad=True), progress)


def _check_sources(sources: Sequence[Path], options: Options, progress: Progress) -> CheckResult:
    load_profiles_in_force(
        options
    )  # so that what is wrong with options and profiles is not taken for a fault of the batch
    try:
        # With a cache the rows are made too, so that what is checked now is not decoded once more when it is made.
        job = load_job(sources, options, progress, rows=options.cache)
    except Trouble as trouble:
        if trouble.exit is Exit.USAGE:
            raise
        return CheckResult(_sort_findings(trouble.findings), 0, 0)
    return _examine_batch(job, options)


def _examine_batch(job: LoadedBatch, options: Options) -> CheckResult:
    areas = tuple(print_area(paper, job.printer) for paper in job.papers)
    batch, pieces, findings, _ = make_pieces_for(job.batch, job.pictures, areas, job.profiles, options)
    agreed = find_agreement_findings(batch, pieces, job.profiles)
    found = place_findings([*batch.findings, *findings, *agreed], pieces)
    judged = [finding for finding, _ in weigh_findings(found, batch, options, job.profiles.settings.stops)]
    return CheckResult(_sort_findings(judged), len(job.batch.rows), len(job.pictures))


def _sort_findings(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Worst first, else in the order in which they were found."""
    order = list(Severity)
    return tuple(sorted(findings, key=lambda finding: order.index(finding.severity)))
