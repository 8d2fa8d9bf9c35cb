"""`impose print`: the sheets of an output folder to paper, and what both commands of printers need of a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from impose.cli.common_options import PATH, PRINT_LEDGER, SECONDS, find_ledger_file, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json
from impose.errors import Exit, Finding, Trouble

TRUST_AGAIN = option(
    "--trust-again",
    is_flag=True,
    group="Paper and printer",
    help="Trust the certificate the printer shows now.",
)


@click.command(name="print", cls=GroupedCommand)
@click.argument("folder", type=PATH, metavar="FOLDER")
@option(
    "--printer", metavar="NAME", group="Paper and printer", help="A profile, a queue, or ipp://HOST:PORT/ipp/print."
)
@option("--sheets", "numbers", metavar="3,5", group="What is made", help="Print these sheets only; 2-4 is a range.")
@option("--again", is_flag=True, group="What is made", help="Print once more what is printed already.")
@option("--cancel", is_flag=True, group="What is made", help="Take back what is not printed yet.")
@option("--test", is_flag=True, group="What is made", help="First print the page that measures the printer.")
@option(
    "--wait",
    type=SECONDS,
    metavar="SECONDS",
    group="Paper and printer",
    help="Wait so long for paper (terminal: until it is there).",
)
@TRUST_AGAIN
@PRINT_LEDGER
@keep_options("profiles_dir", "accept", "as_json", "quiet", "verbose")
@run_command_body
def print_command(
    folder: Path,
    printer: str | None,
    numbers: str | None,
    again: bool,
    cancel: bool,
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

    Each paper is a job. What could go wrong is checked before anything is sent. A sheet is printed only once. If
    anything was switched off meanwhile, run the same command again: it goes on from there.
    """
    from impose.run.print_session import Person, PrintWish
    from impose.run.print_sheets import print_sheets

    wait_s = wait if wait is not None else (None if is_person_there() else 0.0)
    wish = PrintWish(printer, _parse_sheet_numbers(numbers), again, test, trust_again, wait_s, cancel)
    person = Person(say=make_sayer(quiet), ask=ask_person)
    try:
        done = print_sheets(folder, wish, make_options(**chosen), find_ledger_file(ledger), person)
    except KeyboardInterrupt:
        click.echo("No longer followed; what the printer has, it prints. Run the same to learn of it.", err=True)
        return int(Exit.INTERRUPTED)
    if as_json:
        print_json(
            [{"paper": d.paper, "sheets": d.sheets, "state": d.state.standing, "words": d.state.words} for d in done]
        )
    wanted = ("printed", "failed") if cancel else ("printed",)
    return int(Exit.DONE if all(run.state.standing in wanted for run in done) else Exit.SYSTEM)


def make_sayer(quiet: bool) -> Callable[[str], None]:
    """What tells the person a line."""

    def say(line: str) -> None:
        if not quiet:
            click.echo(make_terminal_safe(line), err=True)

    return say


def is_person_there() -> bool:
    """Whether somebody sits at a terminal."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def ask_person(question: str) -> bool | None:
    """Yes or no; None where nobody sits at a terminal."""
    return click.confirm(make_terminal_safe(question), err=True) if is_person_there() else None


def _parse_sheet_numbers(text: str | None) -> tuple[int, ...]:
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
