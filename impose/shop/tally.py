"""Findings collected while a batch is read: those of single rows, and those that many rows share."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from impose.errors import Exit, Finding


@dataclass(slots=True)
class Tally:
    """What is found while reading: findings of single rows, and notes that many rows share, told once."""

    file: str
    findings: list[Finding] = field(default_factory=list)
    _shared: dict[Finding, list[int]] = field(default_factory=dict)

    def stop(
        self,
        row: int,
        column: str,
        what: str,
        remedy: str,
        read: str | None,
        kind: str,
        code: Exit = Exit.REFUSED,
    ) -> None:
        """A refusal at a cell."""
        self.findings.append(
            Finding(what, remedy, kind=kind, file=self.file, row=row, column=column, read=read, exit=code)
        )

    def share(self, row: int, finding: Finding) -> None:
        """A finding that is told once for all the rows it is true of."""
        rows = self._shared.setdefault(finding, [])
        if not rows or rows[-1] != row:
            rows.append(row)

    def all(self) -> list[Finding]:
        """Every finding, by row."""
        told = [
            replace(
                finding,
                row=rows[0],
                also=tuple(rows[1:]),
                file=self.file,
                what=finding.what if len(rows) == 1 else f"{finding.what} (rows {spans(rows)})",
            )
            for finding, rows in self._shared.items()
        ]
        return sorted([*self.findings, *told], key=lambda f: f.row or 0)


def spans(rows: Iterable[int]) -> str:
    """Row numbers in few words: `2, 5-8, 11`."""
    runs: list[list[int]] = []
    for row in sorted(set(rows)):
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)
