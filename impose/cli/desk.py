"""`impose desk`: what a desk is doing, and what a person wants of it."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from impose.cli.common_options import PATH, WholeNumber, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json
from impose.errors import Exit, Finding, Trouble, quote_for_shell

if TYPE_CHECKING:
    from impose.desk.folders import DeskFolders


@click.command(cls=GroupedCommand)
@click.argument("desk", type=PATH, metavar="DESK")
@option("--new", is_flag=True, group="The watched folder", help="Make a new desk there.")
@option("--make-now", is_flag=True, group="The watched folder", help="Make what is held now.")
@option(
    "--accept",
    type=WholeNumber(1),
    multiple=True,
    metavar="NUMBER",
    group="The watched folder",
    help="Accept a delivery that waits for you.",
)
@option(
    "--reject",
    type=WholeNumber(1),
    multiple=True,
    metavar="NUMBER",
    group="The watched folder",
    help="Refuse a delivery that waits for you.",
)
@option(
    "--printed",
    type=WholeNumber(1),
    multiple=True,
    metavar="NUMBER",
    group="The watched folder",
    help="Answer: this delivery is on paper.",
)
@option(
    "--print-again",
    type=WholeNumber(1),
    multiple=True,
    metavar="NUMBER",
    group="The watched folder",
    help="Answer: print this delivery.",
)
@option("--stop", is_flag=True, group="The watched folder", help="Stop the watcher.")
@option(
    "--ledger", type=PATH, metavar="FILE", group="The watched folder", help="The ledger, if it is not DESK/desk.db."
)
@keep_options("profiles_dir", "as_json")
@run_command_body
def desk(
    desk: Path,
    new: bool,
    make_now: bool,
    accept: tuple[int, ...],
    reject: tuple[int, ...],
    printed: tuple[int, ...],
    print_again: tuple[int, ...],
    stop: bool,
    ledger: Path | None,
    profiles_dir: Path | None,
    as_json: bool,
) -> int:
    """Show what a desk is doing, or give it an instruction.

    You see what waits, what is made, delivered or refused, and the paper left.
    """
    from impose.desk.folders import DeskFolders
    from impose.desk.monitor import read_status

    if new:
        return _make_new_desk(desk, profiles_dir)
    places = DeskFolders(desk.absolute())
    status = read_status(places, ledger, time.time())
    answers = {"printed": printed, "print-again": print_again}
    wanted: dict[str, tuple[int, ...] | list[int]] = {
        "make-now": [0] * make_now,
        "accept": accept,
        "reject": reject,
        **answers,
        "stop": [0] * stop,
    }
    _leave_request(places, wanted, status.values)
    if as_json:
        print_json(status.values)
    else:
        for line in status.list_lines():
            click.echo(make_terminal_safe(line))
    return int(Exit.DONE)


def _make_new_desk(root: Path, profiles_dir: Path | None) -> int:
    from impose.desk.new_desk import make_desk
    from impose.run.load_batch import load_profiles_in_force

    places, written = make_desk(root, load_profiles_in_force(make_options(profiles_dir=profiles_dir)))
    for path in written:
        click.echo(make_terminal_safe(str(path)))
    click.echo(
        make_terminal_safe(
            f"Drop artwork into {places.inbox}; start with: impose watch {quote_for_shell(str(places.root))}"
        )
    )
    return int(Exit.DONE)


def _leave_request(
    places: DeskFolders, wanted: dict[str, tuple[int, ...] | list[int]], status: dict[str, object]
) -> None:
    from impose.desk.monitor import leave_request

    asking = {delivery["number"] for delivery in status["asking"]}  # type: ignore[attr-defined]
    for kind, numbers in wanted.items():
        for number in numbers:
            if kind in ("accept", "reject") and number not in asking:
                waiting = ", ".join(str(n) for n in sorted(asking)) or "none"
                raise Trouble(Finding(f"no delivery {number} waits for you", f"Waiting: {waiting}.", exit=Exit.USAGE))
            leave_request(places, kind, number)
            click.echo(f"asked: {kind}{f' {number}' if number else ''}; {_describe_when(kind, status)}", err=True)


def _describe_when(kind: str, status: dict[str, object]) -> str:
    if status["watcher"]["state"] != "stopped":  # type: ignore[index]
        return "the watcher does it at its next turn"
    return "but nobody watches it" if kind == "stop" else "the next watcher does it"
