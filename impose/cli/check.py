"""`impose check`: what will go wrong, before anything is written."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.common_options import SOURCES, add_recurring_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import Progress, make_terminal_safe, print_json
from impose.errors import Exit, Finding, Severity, Trouble, count_noun

if TYPE_CHECKING:
    from impose.run import CheckResult


@click.command(cls=GroupedCommand)
@SOURCES
@option(
    "--agreed",
    metavar="NAME",
    group="Checks",
    help="Who agreed; SOURCE is then the finished folder.",
)
@option("--order", metavar="ORDER", group="Checks", help="With --agreed: the order, if there are several.")
@option("--on", metavar="DATE", group="Checks", help="With --agreed: the date (default: today).")
@add_recurring_options
@run_command_body
def check(sources: tuple[Path, ...], agreed: str | None, order: str | None, on: str | None, **chosen: Any) -> int:
    """Look for faults in artwork and rows before paper is spent.

    Nothing is written, except a customer's answer with --agreed.
    """
    if agreed is not None or order is not None or on is not None:
        return _note_answer(sources, agreed, order, on)
    from impose.run import check as check_batch

    with Progress(chosen["quiet"]) as progress:
        checked = check_batch(sources, make_options(**chosen), progress)
    if chosen["as_json"]:
        print_json(checked.json_values())
    else:
        _print_check(checked, chosen["quiet"])
    return int(checked.exit)


def _note_answer(sources: tuple[Path, ...], agreed: str | None, order: str | None, on: str | None) -> int:
    """Note a customer's answer."""
    from datetime import date

    from impose.run.agreed_answers import note_agreed

    if agreed is None or not agreed.strip() or len(sources) != 1:
        what = "--order and --on go with --agreed NAME, and --agreed with the one finished folder that was answered"
        remedy = 'Such as: impose check orders-sheets --agreed "Ada Weir".'
        raise Trouble(Finding(what, remedy, kind="bad-option", exit=Exit.USAGE))
    when = on or date.today().isoformat()
    path, orders = note_agreed(sources[0], agreed.strip(), when, order)
    click.echo(make_terminal_safe(f"noted in {path}: {', '.join(orders)}, agreed by {agreed.strip()} on {when}"))
    return int(Exit.DONE)


def _print_check(checked: CheckResult, quiet: bool) -> None:
    """Findings, each once for all the rows that have its cause, then a count."""
    from impose.sheet.finding_causes import gather_causes

    found = gather_causes([f for f in checked.findings if not quiet or f.severity is not Severity.NOTE])
    for finding in found:
        colour = {"stop": "red", "warn": "yellow"}.get(finding.severity)
        kind = f" [{finding.kind}]" if finding.kind else ""
        click.echo(f"{click.style(str(finding.severity), fg=colour)}{kind}: {make_terminal_safe(str(finding))}")
    if not quiet:
        click.echo(_make_summary(checked, found))


def _make_summary(checked: CheckResult, told: Sequence[Finding]) -> str:
    """How much was examined, and how much was told: what is so of many rows counts once."""
    examined = f"{count_noun(checked.rows, 'row')} and {count_noun(checked.pictures, 'picture')} examined"
    names = {Severity.STOP: "stop", Severity.WARN: "warning", Severity.NOTE: "note"}
    counts = Counter(finding.severity for finding in told)
    found = [count_noun(counts[severity], name) for severity, name in names.items() if counts[severity]]
    return f"{examined}: {', '.join(found) or 'nothing found'}"
