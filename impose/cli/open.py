"""`impose open`: the page in the browser."""

from __future__ import annotations

from pathlib import Path

import click

from impose.cli.common_options import LEDGER, PATH, find_ledger_file, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe
from impose.errors import Exit, Finding, Trouble


@click.command("open", cls=GroupedCommand)
@click.argument("folder", required=False, type=PATH, metavar="[FOLDER]")
@option("--no-browser", is_flag=True, group="Program", help="Print the address; open no browser.")
@option("--icon", is_flag=True, group="Output", help="Put an icon on your desktop.")
@option("--desk", type=PATH, metavar="DESK", group="The watched folder", help="Also show this desk.")
@keep_options("profiles_dir")
@LEDGER
@run_command_body
def open_page(
    folder: Path | None,
    no_browser: bool,
    icon: bool,
    desk: Path | None,
    profiles_dir: Path | None,
    ledger: Path | None,
) -> int:
    """Open the page: all of this in your browser.

    FOLDER is a batch folder with orders.csv and the pictures; it is made if it is not there. The program runs until
    you end it on the page or press Ctrl-C here.
    """
    from impose.page.start import open_the_page

    if icon:
        from impose.page.icon import make_icon

        click.echo(make_terminal_safe(str(make_icon())))
        return int(Exit.DONE)
    if folder is not None and folder.exists() and not folder.is_dir():
        what = f"{folder} is a file, and a batch is a folder"
        raise Trouble(Finding(what, "Name the folder that it lies in.", exit=Exit.USAGE))
    open_the_page(
        folder,
        None if desk is None else desk.absolute(),
        make_options(profiles_dir=profiles_dir),
        find_ledger_file(ledger),
        lambda address: click.echo(make_terminal_safe(address)),
        browser=not no_browser,
    )
    return int(Exit.DONE)
