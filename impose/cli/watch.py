"""`impose watch`: the hot folder."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.common_options import PATH, SECONDS, drop_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.output import make_terminal_safe, print_json
from impose.errors import Exit, Finding, Trouble

if TYPE_CHECKING:
    from impose.desk.folders import DeskFolders
    from impose.desk.watch import DeskWatch
    from impose.desk.watch_options import WatchOptions
    from impose.ledger.drops import DeskDelivery


@click.command()
@click.argument("desk", type=PATH, metavar="DESK")
@click.option(
    "--settle",
    type=SECONDS,
    default=2.0,
    metavar="SECONDS",
    help="How long a file must not change before it is taken (default: 2).",
)
@click.option("--once", is_flag=True, help="Make what is there, then end; what was made before is refused.")
@click.option(
    "--ledger",
    type=PATH,
    metavar="FILE",
    help="Keep the ledger there, on a local disk, when the desk is on a share (default: DESK/desk.db).",
)
@click.option(
    "--patience",
    metavar="TIME",
    help="How long a CSV waits for its artwork, and artwork without a size for its CSV (default: 1m).",
)
@click.option("--hold", metavar="TIME", help="Let drops wait that long for others to share their sheets, such as 30m.")
@click.option("--fill", metavar="PERCENT", help="Hold no longer what fills its sheets that far, such as 85%.")
@click.option(
    "--print-folder",
    type=PATH,
    metavar="DIR",
    help="Drop each sheets PDF, whole and once, into DIR/<paper>.",
)
@click.option(
    "--adopt", is_flag=True, help="Take a desk, ledger or print folder that was replaced for the one that was here."
)
@click.option("--then", "command", metavar="COMMAND", help="Run after each delivery, with its id and its folder.")
@click.option(
    "--ask", is_flag=True, help="A delivery with warnings waits for impose desk DESK --accept (or --reject) NUMBER."
)
@click.option(
    "--part-sheets",
    type=click.IntRange(min=1),
    metavar="N",
    help="Write PDFs, tickets and proof of a delivery in parts of N sheets: for thousands of transfers.",
)
@click.option("--keep-done", metavar="TIME", help="Delete originals in done/ that are older, such as 90d.")
@click.option(
    "--keep-done-size", metavar="SIZE", help="Delete the oldest originals in done/ beyond this, such as 20GB."
)
@drop_options("art_root")  # a CSV is dropped together with its artwork, or both in one folder
@run_command_body
def watch(desk: Path, **chosen: Any) -> int:
    """Watch a desk's folder in/ and make what is dropped there.

    DESK is a folder; what is missing of it is made. Drop PNGs into in/<placement>, or name them like "owl (12 copies,
    90 mm).png", or drop a CSV with its PNGs. Finished sheets appear in sheets/, and each delivery's folder is printed
    on stdout, with --json a line about it.
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
        interrupted = _listen_for_stop(watcher)
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


def _listen_for_stop(watcher: DeskWatch) -> Callable[[], bool]:
    """Stop on SIGTERM and Ctrl-C (on Windows Ctrl-Break too); returns whether it was Ctrl-C."""
    heard: list[int] = []

    def stop(number: int, frame: object) -> None:
        heard.append(number)
        watcher.ask_to_stop()

    for name in ("SIGTERM", "SIGINT", "SIGBREAK"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), stop)
    return lambda: signal.SIGINT in heard


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
        command=() if command is None else split_command(command),
        ask=ask,
        keep_done_s=read("--keep-done", keep_done, parse_span),
        keep_done_bytes=read("--keep-done-size", keep_done_size, parse_size),
        options=replace(make_options(**chosen), part_sheets=part_sheets),
    )
