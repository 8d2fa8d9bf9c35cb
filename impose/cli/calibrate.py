"""`impose calibrate`: a page that measures a printer, and its readings turned into a profile."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from impose.cli.common_options import PATH, PRINT_LEDGER, find_ledger_file, make_options
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe
from impose.errors import Exit, Finding, Trouble


@click.command(cls=GroupedCommand)
@option("-p", "--paper", metavar="NAME", group="Paper and printer", help="Paper to measure on (default: your first).")
@option(
    "--printer",
    "printer_name",
    required=True,
    metavar="NAME",
    group="Paper and printer",
    help="Printer to measure; a new name adds one.",
)
@option(
    "-o",
    "--out",
    type=PATH,
    metavar="FILE",
    group="Output",
    help="The page (default: calibration-PAPER-PRINTER.pdf).",
)
@option("--replace", is_flag=True, group="Output", help="Replace a page that exists.")
@option(
    "--read",
    "readings",
    metavar="TEXT",
    group="What is made",
    help="Your readings: across=199.6 along=199.2 left=3.2 ...",
)
@option("--read-to", metavar="LENGTH", group="What is made", help="Accuracy of your reading (default: 0.4 mm).")
@option(
    "--path",
    type=click.Choice(["straight", "queue", "dialog"]),
    metavar="PATH",
    group="Paper and printer",
    help="How you printed the page: straight, queue, dialog.",
)
@PRINT_LEDGER
@option(
    "--profiles",
    "profiles_dir",
    type=PATH,
    metavar="DIR",
    group="Program",
    help="Folder of your own profiles; the result goes there.",
)
@option(
    "--units",
    type=click.Choice(["mm", "in"]),
    metavar="UNIT",
    group="Program",
    help="mm (default) or in: for bare numbers in the readings.",
)
@option("-v", "--verbose", is_flag=True, group="Program", help="Also print where a system error came from.")
@run_command_body
def calibrate(
    paper: str | None,
    printer_name: str,
    out: Path | None,
    replace: bool,
    readings: str | None,
    read_to: str | None,
    path: str | None,
    ledger: Path | None,
    profiles_dir: Path | None,
    units: Literal["mm", "in"] | None,
    verbose: bool,
) -> int:
    """Measure a printer: a page to print, then its profile.

    Without --read: a page of rulers to print. With --read: your readings become the printer's profile, in
    printers.toml of --profiles DIR, or on the screen.
    """
    from impose.run.calibrate import MeasuredPath, read_calibration, write_calibration_page
    from impose.run.printer_test_page import find_measured_path

    own = make_options(profiles_dir=profiles_dir, units=units)
    if readings is None:
        click.echo(make_terminal_safe(str(write_calibration_page(paper, printer_name, out, own, replace))))
        click.echo("Print it at actual size, driver mirroring off, and follow the steps on it.", err=True)
        return int(Exit.DONE)
    if out is not None or replace:
        raise Trouble(Finding("--read writes a profile, not a page", "Leave -o and --replace away.", exit=Exit.USAGE))
    known = find_measured_path(printer_name, own, find_ledger_file(ledger))
    if path is not None:
        known = MeasuredPath(path, known.media_type if known is not None and known.path == path else "")
    done = read_calibration(paper, printer_name, readings, own, read_to, known)
    print_findings(done.findings)
    click.echo(make_terminal_safe(f"{printer_name} is written to {done.file}") if done.file else done.table.rstrip())
    if done.file is None:
        click.echo(
            "Nothing was written: name a folder with --profiles DIR, or put this into a printers.toml.", err=True
        )
    return int(Exit.DONE)
