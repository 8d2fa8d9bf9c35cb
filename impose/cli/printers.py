"""`impose printers`: printers by name, and what a named one says of itself."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.common_options import PATH, PRINT_LEDGER, find_ledger_file, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json, print_table
from impose.cli.printing import TRUST_AGAIN, ask_person, make_sayer
from impose.errors import Exit, Finding, Trouble

if TYPE_CHECKING:
    from impose.run import Options


@click.command(cls=GroupedCommand)
@click.argument("names", nargs=-1, metavar="[NAME]...")
@option("--printer", "more", multiple=True, metavar="NAME", group="Paper and printer", help="The same as a NAME.")
@option("--copy-to", type=PATH, metavar="DIR", group="Output", help="Write it and its edges to DIR/printers.toml.")
@option("-p", "--paper", metavar="NAME", group="Paper and printer", help="Write the edges of this paper alone.")
@TRUST_AGAIN
@PRINT_LEDGER
@keep_options("profiles_dir", "as_json", "quiet", "verbose")
@run_command_body
def printers(
    names: tuple[str, ...],
    more: tuple[str, ...],
    copy_to: Path | None,
    paper: str | None,
    trust_again: bool,
    ledger: Path | None,
    as_json: bool,
    quiet: bool,
    verbose: bool,
    **chosen: Any,
) -> int:
    """List printers, or show what a named one says of itself.

    NAME is a printer's profile, a queue, or an address such as ipp://HOST:PORT/ipp/print. Without a NAME, names are
    listed, and no printer is asked.
    """
    from impose.run.print_session import open_books
    from impose.run.printer_listing import copy_printer, describe_lines, describe_printer

    options, named = make_options(**chosen), (*names, *more)
    if not named:
        return _list_names(options, as_json, copy_to)
    with open_books(find_ledger_file(ledger)) as books:
        found = [describe_printer(name, options, books, ask_person, make_sayer(quiet), trust_again) for name in named]
    if copy_to is not None:
        for values in found:
            click.echo(make_terminal_safe(str(copy_printer(values, paper, copy_to))))
    elif as_json:
        print_json(found)
    else:
        for values in found:
            for line in describe_lines(values):
                click.echo(make_terminal_safe(line))
    return int(Exit.DONE)


def _list_names(options: Options, as_json: bool, copy_to: Path | None) -> int:
    from impose.run.printer_listing import list_printers

    if copy_to is not None:
        raise Trouble(
            Finding("--copy-to needs a printer", "Name it: impose printers NAME --copy-to DIR", exit=Exit.USAGE)
        )
    found, listened = list_printers(options)
    if as_json:
        print_json([{"name": p.name, "address": p.address, "source": p.source, "device": p.device} for p in found])
        return int(Exit.DONE)
    print_table([[p.name, p.source, p.address + (f" sends to {p.device}" if p.device else "")] for p in found])
    if not found:
        click.echo("No printer is on file, and no queue was found.", err=True)
    if not listened:
        click.echo("Not looked for in the network: that takes: pip install zeroconf", err=True)
    return int(Exit.DONE)
