"""`impose check`: what will go wrong, before anything is written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.choices import SOURCES, options_of, recurring
from impose.cli.door import door
from impose.cli.telling import Progress, counted, plain, print_json
from impose.errors import Severity

if TYPE_CHECKING:
    from impose.run import Checked


@click.command()
@SOURCES
@recurring
@door
def check(sources: tuple[Path, ...], **chosen: Any) -> int:
    """Examine artwork and rows and say what will go wrong. Writes nothing."""
    from impose.run import check as check_batch

    with Progress(chosen["quiet"]) as progress:
        checked = check_batch(sources, options_of(**chosen), progress)
    if chosen["as_json"]:
        print_json(checked.values())
    else:
        _tell(checked, chosen["quiet"])
    return int(checked.exit)


def _tell(checked: Checked, quiet: bool) -> None:
    """Findings, each once for all the rows that have its cause, then a count."""
    from impose.sheet.causes import gathered

    for finding in gathered(f for f in checked.findings if not quiet or f.severity is not Severity.NOTE):
        colour = {"stop": "red", "warn": "yellow"}.get(finding.severity)
        kind = f" [{finding.kind}]" if finding.kind else ""
        click.echo(f"{click.style(str(finding.severity), fg=colour)}{kind}: {plain(str(finding))}")
    if not quiet:
        click.echo(_summary(checked))


def _summary(checked: Checked) -> str:
    examined = f"{counted(checked.rows, 'row')} and {counted(checked.pictures, 'picture')} examined"
    names = {Severity.STOP: "stop", Severity.WARN: "warning", Severity.NOTE: "note"}
    found = [counted(count, names[severity]) for severity, count in checked.counts.items() if count]
    return f"{examined}: {', '.join(found) or 'nothing found'}"
