"""`impose spoilage`: what was made again, counted by placement and cause."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from impose.cli.common_options import find_ledger_file, keep_options, make_ledger_option
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import print_json, print_table
from impose.errors import Exit, Finding, Trouble, count_noun

if TYPE_CHECKING:
    from impose.run.made_work import SpoilageCount


@click.command(cls=GroupedCommand)
@option("--since", metavar="DATE", group="What is made", help="From this day on: 2026-09-01.")
@make_ledger_option("File that remembers what was made again.")
@keep_options("as_json")
@run_command_body
def spoilage(since: str | None, ledger: Path | None, as_json: bool) -> int:
    """Count what was spoiled, by placement and cause.

    Prints made again with reprint are counted, and garments made again with reprint --garment. After 50 such
    prints, prices use these shares.
    """
    from impose.run.made_work import MadeWork

    count = MadeWork(find_ledger_file(ledger)).count_spoilage(_read_day(since))
    if as_json:
        print_json(_list_values(count))
    else:
        _print_count(count)
    return int(Exit.DONE)


def _read_day(text: str | None) -> str:
    if text is None:
        return ""
    try:
        return datetime.date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        what = "--since: not a day"
        raise Trouble(Finding(what, "Write it as 2026-09-01.", read=text, exit=Exit.USAGE)) from None


def _list_values(count: SpoilageCount) -> dict[str, object]:
    return {
        "prints": [{"placement": p.placement or None, "because": p.because, "prints": p.prints} for p in count.prints],
        "blanks": [{"garment": g, "because": because, "blanks": number} for g, because, number in count.blanks],
        "made": {"prints": count.transfers, "garments": count.garments},
    }


def _print_count(count: SpoilageCount) -> None:
    if not count.prints:
        click.echo("Nothing was made again.")
    else:
        rows = [(p.placement or "own place", p.because, str(p.prints)) for p in count.prints]
        print_table([("placement", "cause", "prints"), *rows])
    if count.blanks:
        click.echo()
        print_table([("new blank", "cause", "number"), *((g, because, str(n)) for g, because, n in count.blanks)])
    again = sum(p.prints for p in count.prints if p.because != "unprinted")
    blanks = sum(number for _, _, number in count.blanks)
    click.echo()
    share = f", {again / count.transfers:.1%} of all" if count.transfers else ""
    click.echo(f"{count_noun(again, 'print')} spoiled or lost of {count.transfers} made{share}")
    click.echo(f"{count_noun(blanks, 'garment')} begun anew of {count.garments}")
