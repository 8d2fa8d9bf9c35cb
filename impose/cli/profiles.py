"""`impose profiles`: what is in force, and where each value came from."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from impose.cli.common_options import PATH, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.output import make_terminal_safe, print_json, print_table
from impose.errors import Exit


@click.command()
@click.argument(
    "kind",
    required=False,
    type=click.Choice(["papers", "printers", "placements", "garments", "presses", "lettering", "settings"]),
)
@click.option(
    "--copy-to",
    type=PATH,
    metavar="DIR",
    help="Copy the profiles, or those of the kind, to DIR, to make them one's own; none is overwritten.",
)
@click.option(
    "--enter",
    nargs=4,
    metavar="PLACEMENT GARMENT WHAT LENGTH",
    help="Enter a figure of your own, such as full-back 'hoodie adult' drop 5.5in; WHAT is drop, across, width or "
    "height. It is kept in placements.toml of --profiles.",
)
@click.option("--units", type=click.Choice(["mm", "in"]), help="Units shown.")
@keep_options("profiles_dir", "as_json")
@click.option("-v", "--verbose", is_flag=True, help="Say where a system error came from.")
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
    """Show what is on file and in force, and where it came from.

    Without a kind: papers, printers, placements, garments, presses, lettering and settings.
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
