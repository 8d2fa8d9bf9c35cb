"""`impose print` and `impose printers`: sheets to paper, and what printers say of themselves."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from impose.cli.common_options import LEDGER, PATH, SECONDS, find_ledger_file, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.output import make_terminal_safe, print_json, print_table
from impose.errors import Exit, Finding, Trouble

TRUST_AGAIN = click.option(
    "--trust-again", is_flag=True, help="Trust the certificate that the printer shows now, and remember it."
)


@click.command(name="print")
@click.argument("folder", type=PATH, metavar="FOLDER")
@click.option(
    "--printer", metavar="NAME", help="A printer's profile, a queue, or an address such as ipp://HOST:PORT/ipp/print."
)
@click.option("--sheets", "numbers", metavar="3,5", help="Print these sheets only; 2-4 is a range.")
@click.option("--again", is_flag=True, help="Print what is printed already once more.")
@click.option("--test", is_flag=True, help="Print the page that measures the printer first, on the same paper.")
@click.option(
    "--wait",
    type=SECONDS,
    metavar="SECONDS",
    help="How long to wait for the right paper (default: on a terminal until it is loaded, else not at all).",
)
@TRUST_AGAIN
@LEDGER
@keep_options("profiles_dir", "accept", "as_json", "quiet", "verbose")
@run_command_body
def print_command(
    folder: Path,
    printer: str | None,
    numbers: str | None,
    again: bool,
    test: bool,
    wait: float | None,
    trust_again: bool,
    ledger: Path | None,
    as_json: bool,
    quiet: bool,
    verbose: bool,
    **chosen: Any,
) -> int:
    """Print the sheets of an output FOLDER at true size.

    Each paper is a job. What could go wrong is checked before anything is sent. A sheet is printed once, whatever is
    switched off meanwhile: run the same again and it goes on from there.
    """
    from impose.run.print_sheets import Person, PrintWish, print_sheets

    terminal = sys.stdin.isatty() and sys.stderr.isatty()
    wait_s = wait if wait is not None else (None if terminal else 0.0)
    wish = PrintWish(printer, _numbers(numbers), again, test, trust_again, wait_s)
    person = Person(say=_say(quiet), ask=_ask)
    done = print_sheets(folder, wish, make_options(**chosen), find_ledger_file(ledger), person)
    if as_json:
        print_json(
            [{"paper": d.paper, "sheets": d.sheets, "state": d.state.standing, "words": d.state.words} for d in done]
        )
    return int(Exit.DONE if all(one.state.standing == "printed" for one in done) else Exit.SYSTEM)


@click.command(name="printers")
@click.argument("names", nargs=-1, metavar="[NAME]...")
@click.option("--printer", "more", multiple=True, metavar="NAME", help="The same as a NAME.")
@click.option(
    "--copy-to", type=PATH, metavar="DIR", help="Write the printer, with the edges it names, to DIR/printers.toml."
)
@click.option("-p", "--paper", metavar="NAME", help="With --copy-to: take the edges of this paper alone.")
@TRUST_AGAIN
@LEDGER
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

    NAME is a printer's profile, a queue, or an address such as ipp://HOST:PORT/ipp/print. Without one, names are
    listed and no printer is asked anything.
    """
    from impose.run.print_sheets import open_books
    from impose.run.printer_listing import copy_printer, describe_lines, describe_printer

    options, named = make_options(**chosen), (*names, *more)
    if not named:
        return _list(options, as_json, copy_to)
    with open_books(find_ledger_file(ledger)) as books:
        found = [describe_printer(name, options, books, _ask, _say(quiet), trust_again) for name in named]
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


def _list(options: Any, as_json: bool, copy_to: Path | None) -> int:
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
        click.echo("Not looked for in the network: that takes pip install 'impose[discover]'.", err=True)
    return int(Exit.DONE)


def _say(quiet: bool) -> Any:
    def say(line: str) -> None:
        if not quiet:
            click.echo(make_terminal_safe(line), err=True)

    return say


def _ask(question: str) -> bool | None:
    """Yes or no; None where nobody sits at a terminal."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return None
    return click.confirm(make_terminal_safe(question), err=True)


def _numbers(text: str | None) -> tuple[int, ...]:
    """Sheet numbers such as 3,5 or 2-4."""
    found: list[int] = []
    for part in (text or "").split(",") if text is not None else []:
        first, dash, last = part.strip().partition("-")
        if not (first.isdecimal() and len(first) < 7 and (not dash or (last.isdecimal() and len(last) < 7))):
            raise Trouble(Finding("--sheets: numbers are wanted", "Write 3,5 or 2-4.", read=text, exit=Exit.USAGE))
        numbers = range(int(first), int(last or first) + 1)
        if not numbers or numbers[0] < 1:
            raise Trouble(Finding("--sheets: no such range", "Write 3,5 or 2-4.", read=text, exit=Exit.USAGE))
        found += numbers[:100_000]
    return tuple(dict.fromkeys(found))
