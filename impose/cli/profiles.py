"""`impose profiles`: what is in force, and where each value came from."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from impose.cli.common_options import PATH, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json, print_table
from impose.errors import Exit


@click.command(cls=GroupedCommand)
@click.argument(
    "kind",
    required=False,
    metavar="[KIND]",
    type=click.Choice(["papers", "printers", "placements", "garments", "presses", "lettering", "settings", "texts"]),
)
@option(
    "--copy-to",
    type=PATH,
    metavar="DIR",
    group="Output",
    help="Copy profiles to DIR; files there stay as they are.",
)
@option(
    "--enter",
    nargs=4,
    metavar="FOUR WORDS",
    group="Output",
    help="Your own figure: PLACEMENT GARMENT WHAT LENGTH.",
)
@option(
    "--units", type=click.Choice(["mm", "in"]), metavar="UNIT", group="Program", help="mm or in: for what is shown."
)
@keep_options("profiles_dir", "as_json")
@option("-v", "--verbose", is_flag=True, group="Program", help="Also print where a system error came from.")
@run_command_body
def profiles(
    kind: str | None,
    profiles_dir: Path | None,
    copy_to: Path | None,
    enter: tuple[str, str, str, str] | None,
    units: Literal["mm", "in"] | None,
    as_json: bool,
    verbose: bool,
) -> int:
    """Show your papers, printers and settings, and their files.

    A kind is papers, printers, placements, garments, presses, lettering, settings or texts; without one, all are shown.
    A figure of your own: impose profiles --profiles mine --enter full-back "hoodie adult" drop 5.5in.
    The third word is drop, across, width or height.
    """
    from impose.run.profile_listing import copy_profiles, list_profiles

    if copy_to is not None:
        written, left = copy_profiles(copy_to, kind)
        for name in written:
            click.echo(make_terminal_safe(name))
        for name in left:
            click.echo(make_terminal_safe(f"left as it is: {name}"), err=True)
        return int(Exit.DONE)
    options = make_options(profiles_dir=profiles_dir, units=units)
    if enter is not None:
        from impose.run.own_figures import enter_figure

        path, figure = enter_figure(enter, options)
        told = f"{figure.placement}, {figure.garment}: {figure.what} {enter[3]}, your own figure from now on"
        click.echo(make_terminal_safe(f"{told} ({path})"))
        return int(Exit.DONE)
    shelves = list_profiles(options, kind)
    if as_json:
        print_json(shelves)
        return int(Exit.DONE)
    for title, rows in shelves.items():
        click.echo(click.style(title, bold=True))
        print_table(rows)
        click.echo()
    return int(Exit.DONE)
