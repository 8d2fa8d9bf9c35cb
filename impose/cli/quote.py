"""`impose quote`: what a batch takes, before anything is written."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.choices import SOURCES, options_of, recurring
from impose.cli.door import door, report
from impose.cli.telling import Progress, money, table

if TYPE_CHECKING:
    from impose.run import Quote


@click.command()
@SOURCES
@recurring
@door
def quote(sources: tuple[Path, ...], **chosen: Any) -> int:
    """Say what a batch takes of each paper and of the best mix: sheets, yield, cost. Writes nothing."""
    from impose.run import quote as quote_batch

    with Progress(chosen["quiet"]) as progress:
        quoted = quote_batch(sources, options_of(**chosen), progress)
    if chosen["as_json"]:
        click.echo(json.dumps(quoted.values(), ensure_ascii=False, indent=1, sort_keys=True))
    else:
        _tell_quote(quoted)
    return int(quoted.exit)


def _tell_quote(quoted: Quote) -> None:
    rows = [("paper", "sheets", "yield", f"cost {quoted.currency}", "")]
    for offer in quoted.offers:
        name = " + ".join(paper.alias for paper in offer.papers)
        if offer.refused:
            rows.append((name, "-", "-", "-", f"cannot take {len(offer.refused)} of the rows"))
            continue
        used = [f"{count} {alias}" for alias, count in offer.sheets.items() if count]
        sheets_used = ", ".join(used) if len(offer.papers) > 1 else str(sum(offer.sheets.values()))
        marks = [mark for mark, on in (("best", offer is quoted.best), ("proven least", offer.proven)) if on]
        rows.append((name, sheets_used, f"{offer.yield_:.0%}", money(offer.cost), ", ".join(marks)))
    table(rows)
    click.echo(f"{quoted.transfers} transfers")
    if quoted.best is None:
        report(quoted.offers[-1].refused)
