"""`impose calibrate`: a page that measures a printer, and its readings turned into a profile."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from impose.cli.common_options import PATH, make_options
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.output import make_terminal_safe
from impose.errors import Exit, Finding, Trouble


@click.command()
@click.option("-p", "--paper", metavar="NAME", help="The paper to measure on (default: the first of the settings).")
@click.option(
    "--printer", "printer_name", required=True, metavar="NAME", help="The printer to measure; a new name is a new one."
)
@click.option(
    "-o",
    "--out",
    type=PATH,
    metavar="FILE",
    help="The page (default: calibration-PAPER-PRINTER.pdf here).",
)
@click.option("--replace", is_flag=True, help="Write over a page that exists.")
@click.option(
    "--read",
    "readings",
    metavar="TEXT",
    help="What was read off a page: across=199.6 along=199.2 left=3.2 top=3 right=3.4 bottom=12.5.",
)
@click.option("--read-to", metavar="LENGTH", help="How well the rule was read (default: 0.4 mm).")
@click.option(
    "--profiles",
    "profiles_dir",
    type=PATH,
    metavar="DIR",
    help="The shop's own profiles; readings are written there.",
)
@click.option(
    "--units", type=click.Choice(["mm", "in"]), help="What a bare number in the readings means (default: mm)."
)
@click.option("-v", "--verbose", is_flag=True, help="Say where a system error came from.")
@run_command_body
def calibrate(
    paper: str | None,
    printer_name: str,
    out: Path | None,
    replace: bool,
    readings: str | None,
    read_to: str | None,
    profiles_dir: Path | None,
    units: Literal["mm", "in"] | None,
    verbose: bool,
) -> int:
    """Measure a printer: a page to print, then its profile.

    Without --read a page of rulers and edge scales is written. With --read what you read off it becomes the printer's
    profile: in printers.toml of --profiles DIR, or on the screen where no folder is named.
    """
    from impose.run.calibrate import read_calibration, write_calibration_page

    own = make_options(profiles_dir=profiles_dir, units=units)
    if readings is None:
        click.echo(make_terminal_safe(str(write_calibration_page(paper, printer_name, out, own, replace))))
        click.echo("Print it at actual size, driver mirroring off, and follow the steps on it.", err=True)
        return int(Exit.DONE)
    if out is not None or replace:
        raise Trouble(Finding("--read writes a profile, not a page", "Leave -o and --replace away.", exit=Exit.USAGE))
    done = read_calibration(paper, printer_name, readings, own, read_to)
    print_findings(done.findings)
    click.echo(make_terminal_safe(f"{printer_name} is written to {done.file}") if done.file else done.table.rstrip())
    if done.file is None:
        click.echo(
            "Nothing was written: name a folder with --profiles DIR, or put this into a printers.toml.", err=True
        )
    return int(Exit.DONE)
