"""`impose stock`: paper left, counted and corrected by hand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from impose.cli.common_options import LEDGER, find_ledger_file, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json, print_table
from impose.errors import Exit, Finding, Trouble

if TYPE_CHECKING:
    from impose.run.stock_counts import PaperCount


@click.command(cls=GroupedCommand)
@click.argument("paper", required=False, metavar="[PAPER]")
@option("--set", "set_to", metavar="N", group="Paper and printer", help="N sheets are left now (of a roll: 12.5m).")
@option("--add", metavar="N", group="Paper and printer", help="N more were bought.")
@option("--waste", metavar="N", group="Paper and printer", help="N were spoiled: misfed, creased.")
@option("--stop", is_flag=True, group="Paper and printer", help="Stop counting this paper; it is unlimited.")
@option("--because", default="", metavar="TEXT", group="Paper and printer", help="Reason, kept in the history.")
@option("--history", is_flag=True, group="Paper and printer", help="Show every change, newest last.")
@LEDGER
@keep_options("profiles_dir")
@option(
    "--units", type=click.Choice(["mm", "in"]), metavar="UNIT", group="Program", help="mm or in: for a roll's length."
)
@keep_options("as_json")
@run_command_body
def stock(
    paper: str | None,
    ledger: Path | None,
    profiles_dir: Path | None,
    units: Literal["mm", "in"] | None,
    history: bool,
    as_json: bool,
    **change: Any,
) -> int:
    """Show the paper left, or count and correct it.

    A paper that you never counted has no limit. Finished sheets are subtracted.
    """
    from impose.run.stock_counts import CountedStock

    shelf = CountedStock(find_ledger_file(ledger), make_options(profiles_dir=profiles_dir, units=units))
    ways = (("set", "set_to"), ("add", "add"), ("waste", "waste"))
    asked = [(how, change[key]) for how, key in ways if change[key] is not None]
    if change["stop"]:
        asked.append(("stop", ""))
    _refuse_contradiction(paper, asked, change["because"])
    if paper is not None and asked:
        how, amount = asked[0]
        shelf.change_count(paper, how, amount, change["because"])
    if history:
        _print_history(shelf.list_history(paper), as_json)
    else:
        _print_counts(shelf.list_counts(paper), paper, as_json)
    return int(Exit.DONE)


def _refuse_contradiction(paper: str | None, asked: list[tuple[str, str]], because: str) -> None:
    if len(asked) > 1:
        what = f"{' and '.join(f'--{how}' for how, _ in asked)} are given together"
        raise Trouble(Finding(what, "Do one after the other.", exit=Exit.USAGE))
    if asked and paper is None:
        what = f"--{asked[0][0]} does not say which paper"
        raise Trouble(Finding(what, "Name the paper, as in: impose stock a4 --set 40", exit=Exit.USAGE))
    if because and not asked:
        what = "--because gives a reason, but nothing is changed"
        raise Trouble(Finding(what, "Add --set, --add, --waste or --stop.", exit=Exit.USAGE))


def _print_counts(counts: list[PaperCount], paper: str | None, as_json: bool) -> None:
    if as_json:
        values = [
            {"paper": count.paper, "alias": count.alias, "left": count.amount, "unit": count.unit} for count in counts
        ]
        print_json(values)
    elif not counts and paper is not None:
        name = make_terminal_safe(paper)
        click.echo(f"{name} is not counted, so it is not limited. Begin with: impose stock {name} --set N")
    elif not counts:
        click.echo("No paper is counted, so none is limited. Begin with: impose stock PAPER --set N")
    else:
        print_table([("paper", "left", ""), *((count.alias, count.shown, count.paper) for count in counts)])


def _print_history(rows: list[dict[str, str]], as_json: bool) -> None:
    if as_json:
        print_json(rows)
    else:
        heading = ("when", "paper", "change", "left", "what", "why")
        print_table([heading, *(tuple(row.values()) for row in rows)])
