"""Findings collected while a batch is read: those of single rows, and those that many rows share.

A file of a million bad rows has a million faults, and nobody reads them: of each kind the first hundred are told, the
others counted, so that what is told and what it takes stay small whatever the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from impose.errors import Exit, Finding, Severity
from impose.values import ChangingStruct, field, replace

MOST_TOLD = 100
"""Findings of a kind in a column that are told one by one."""
MOST_SPANS = 40
"""Runs of row numbers that are written out."""

RemedySource = str | Callable[[], str]
"""A remedy, or how to find it: a search for the nearest word, wasted on a fault that is only counted."""

Key = tuple[str, str, Severity, Exit]


class FindingsLog(ChangingStruct):
    """What is found while reading: findings of single rows, and notes that many rows share, told once."""

    file: str
    findings: list[Finding] = field(default_factory=list)
    _shared: dict[Finding, list[int]] = field(default_factory=dict)
    _told: dict[Key, int] = field(default_factory=dict)
    _more: dict[Key, list[int]] = field(default_factory=dict)

    def add_stop(
        self,
        row: int,
        column: str,
        what: str,
        remedy: RemedySource,
        read: str | None,
        kind: str,
        code: Exit = Exit.REFUSED,
    ) -> None:
        """A refusal at a cell."""
        if self._count_finding((kind, column, Severity.STOP, code), row):
            help_ = remedy if isinstance(remedy, str) else remedy()
            self.findings.append(
                Finding(what, help_, kind=kind, file=self.file, row=row, column=column, read=read, exit=code)
            )

    def add_findings(self, findings: Iterable[Finding]) -> None:
        """Findings of rows that were made elsewhere; the file is filled in."""
        for finding in findings:
            key = (finding.kind, finding.column, finding.severity, finding.exit)
            if finding.row is None or self._count_finding(key, *finding.rows):
                self.findings.append(replace(finding, file=finding.file or self.file))

    def add_shared(self, row: int, finding: Finding) -> None:
        """A finding that is told once for all the rows it is true of."""
        rows = self._shared.get(finding)
        if rows is None:
            if not self._count_finding((finding.kind, finding.column, finding.severity, finding.exit), row):
                return
            rows = self._shared[finding] = []
        if not rows or rows[-1] != row:
            rows.append(row)

    def _count_finding(self, key: Key, *rows: int) -> bool:
        """Whether a finding is to be told; otherwise its rows are remembered."""
        told = self._told[key] = self._told.get(key, 0) + 1
        if told > MOST_TOLD:
            self._more.setdefault(key, []).extend(rows)
        return told <= MOST_TOLD

    def list_findings(self) -> list[Finding]:
        """Every finding, by row; after the told ones of a kind one that counts the others and has their rows."""
        told = [
            replace(
                finding,
                row=rows[0],
                also=tuple(rows[1:]),
                file=self.file,
                what=finding.what if len(rows) == 1 else f"{finding.what} (rows {format_spans(rows)})",
            )
            for finding, rows in self._shared.items()
        ]
        counted = [self._make_summary(key, sorted(set(rows))) for key, rows in self._more.items()]
        return sorted([*self.findings, *told, *counted], key=lambda f: f.row or 0)

    def _make_summary(self, key: Key, rows: Sequence[int]) -> Finding:
        kind, column, severity, code = key
        what = (
            f"the same kind ({kind}) in {len(rows):,} more row{'' if len(rows) == 1 else 's'}, down to row {rows[-1]}"
        )
        remedy = "Mend the first ones and run again." if severity is Severity.STOP else ""
        return Finding(
            what,
            remedy,
            severity,
            kind,
            file=self.file,
            row=rows[0],
            column=column,
            exit=code,
            also=tuple(rows[1:]),
        )


def format_spans(rows: Iterable[int]) -> str:
    """Row numbers in few words: `2, 5-8, 11`; beyond some forty runs the rest is counted."""
    runs: list[list[int]] = []
    for row in sorted(set(rows)):
        if runs and row == runs[-1][-1] + 1:
            runs[-1][1:] = [row]
        else:
            runs.append([row])
    shown = ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs[:MOST_SPANS])
    rest = sum(run[-1] - run[0] + 1 for run in runs[MOST_SPANS:])
    return f"{shown} and {rest:,} more" if rest else shown


def list_few(texts: Sequence[str], between: str = ", ", most: int = MOST_SPANS) -> str:
    """Texts in one line; beyond some forty the rest is counted."""
    shown = between.join(texts[:most])
    return f"{shown} and {len(texts) - most:,} more" if len(texts) > most else shown
