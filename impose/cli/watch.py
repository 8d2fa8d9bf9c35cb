"""`impose watch`: the hot folder."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.common_options import PART_SHEETS, PATH, SECONDS, drop_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json
from impose.errors import Exit, Finding, Trouble
from impose.values import replace

if TYPE_CHECKING:
    from impose.desk.folders import DeskFolders
    from impose.desk.watch import DeskWatch
    from impose.desk.watch_options import WatchOptions
    from impose.ledger.drops import DeskDelivery


@click.command(cls=GroupedCommand)
@click.argument("desk", type=PATH, metavar="DESK")
@option(
    "--settle",
    type=SECONDS,
    default=2.0,
    metavar="SECONDS",
    group="The watched folder",
    help="Take a file once unchanged for this long (default: 2).",
)
@option("--once", is_flag=True, group="The watched folder", help="Make what is there, then end; refuse repeats.")
@option(
    "--ledger",
    type=PATH,
    metavar="FILE",
    group="The watched folder",
    help="The ledger, on a local disk (default: DESK/desk.db).",
)
@option(
    "--patience",
    metavar="TIME",
    group="The watched folder",
    help="How long CSV and artwork wait for each other (1m).",
)
@option("--hold", metavar="TIME", group="The watched folder", help="Wait this long so that drops share sheets: 30m.")
@option(
    "--fill", metavar="PERCENT", group="The watched folder", help="Release held files once sheets are this full: 85%."
)
@option(
    "--print-folder",
    type=PATH,
    metavar="DIR",
    group="The watched folder",
    help="Put each sheets PDF, once, into DIR/<paper>.",
)
@option("--adopt", is_flag=True, group="The watched folder", help="Accept a replaced desk, ledger or print folder.")
@option(
    "--print-to",
    metavar="NAME",
    group="The watched folder",
    help="Print each delivery: profile, queue, ipp:// address.",
)
@option(
    "--then",
    "command",
    metavar="COMMAND",
    group="The watched folder",
    help="Run this after each delivery: adds id and folder.",
)
@option("--ask", is_flag=True, group="The watched folder", help="Deliveries with warnings wait for impose desk.")
@PART_SHEETS
@option(
    "--keep-done", metavar="TIME", group="The watched folder", help="Delete originals in done/ older than this: 90d."
)
@option(
    "--keep-done-size", metavar="SIZE", group="The watched folder", help="Delete the oldest in done/ beyond this: 20GB."
)
@drop_options("art_root")  # a CSV is dropped together with its artwork, or both in one folder
@run_command_body
def watch(desk: Path, **chosen: Any) -> int:
    """Make sheets of whatever is dropped into DESK/in.

    Drop artwork into in/<placement>, or name it like "owl (12 copies, 90 mm).png", or drop a CSV with its artwork.
    Finished sheets appear in DESK/sheets. The folder of each delivery is printed; with --json, a line about it.
    """
    from impose.desk.environment import DeskEnvironment, WakeableSleep
    from impose.desk.folders import open_desk
    from impose.desk.lock import DeskLock
    from impose.desk.monitor import WatchLog
    from impose.desk.watch import DeskWatch

    habits = _make_watch_options(**chosen)
    habits.check_options()
    places = open_desk(desk, habits.print_folder, habits.ledger, habits.adopt)
    with DeskLock(places.work / "lock") as lock:
        log = WatchLog(places, None if chosen["quiet"] else _print_line)
        sleeper = WakeableSleep(places.inbox)
        tell = partial(_print_delivery, places, chosen["as_json"])
        watcher = DeskWatch(
            places, habits, log, DeskEnvironment(sleep=sleeper.sleep_until_woken), wake=sleeper.wake_up, tell=tell
        )
        with _listen_for_stop(watcher) as interrupted:
            log(f"watching {places.root}" + (" once" if habits.once else ""))
            try:
                code = watcher.run_watch(lock)
            finally:
                sleeper.end_following()
                log("stopped")
                log.close()
    return int(Exit.INTERRUPTED if interrupted() else code)


def _print_delivery(places: DeskFolders, as_json: bool, delivery: DeskDelivery) -> None:
    """A delivery on stdout: its folder, or a line of JSON."""
    folder = str(places.sheets / delivery.name)
    if as_json:
        values = {"delivery": delivery.id, "name": delivery.name, "folder": folder, **delivery.made}
        print_json(values, lines=False)
    else:
        click.echo(make_terminal_safe(folder))


def _print_line(line: str) -> None:
    with contextlib.suppress(OSError):
        click.echo(make_terminal_safe(line), err=True)


@contextlib.contextmanager
def _listen_for_stop(watcher: DeskWatch) -> Iterator[Callable[[], bool]]:
    """Stop on SIGTERM and Ctrl-C (on Windows Ctrl-Break too) inside the block; yields whether it was Ctrl-C.

    The handlers of before are back after it: whoever runs the command inside a longer process keeps its own.
    """
    caught: list[int] = []

    def stop(number: int, frame: object) -> None:
        caught.append(number)
        watcher.ask_to_stop()

    numbers = [getattr(signal, name) for name in ("SIGTERM", "SIGINT", "SIGBREAK") if hasattr(signal, name)]
    usual = {number: signal.signal(number, stop) for number in numbers}
    try:
        yield lambda: signal.SIGINT in caught
    finally:
        for number, handler in usual.items():
            signal.signal(number, handler)


def _make_watch_options(
    *,
    settle: float,
    once: bool,
    ledger: Path | None,
    patience: str | None,
    hold: str | None,
    fill: str | None,
    print_folder: Path | None,
    adopt: bool,
    print_to: str | None,
    command: str | None,
    ask: bool,
    part_sheets: int | None,
    keep_done: str | None,
    keep_done_size: str | None,
    **chosen: Any,
) -> WatchOptions:
    from impose.desk.inbox_rules import parse_share, parse_size, parse_span
    from impose.desk.post_commands import split_command
    from impose.desk.watch_options import WatchOptions

    def read(option: str, text: str | None, parse: Callable[[str], Any], absent: Any = None) -> Any:
        if text is None:
            return absent
        try:
            return parse(text)
        except ValueError as error:
            raise Trouble(Finding(f"{option}: {error}", read=text, exit=Exit.USAGE)) from None

    return WatchOptions(
        settle_s=settle,
        once=once,
        ledger=ledger,
        patience_s=read("--patience", patience, parse_span),
        hold_s=read("--hold", hold, parse_span, 0.0),
        fill=read("--fill", fill, parse_share, 1.0),
        print_folder=print_folder,
        adopt=adopt,
        print_to=print_to,
        command=read("--then", command, split_command, ()),
        ask=ask,
        keep_done_s=read("--keep-done", keep_done, parse_span),
        keep_done_bytes=read("--keep-done-size", keep_done_size, parse_size),
        options=replace(make_options(**chosen), part_sheets=part_sheets),
    )
