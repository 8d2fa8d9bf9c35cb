"""`impose profiles`: what is in force, and where each value came from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from impose.cli.common_options import PATH, keep_options, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json, print_table
from impose.errors import Exit, Finding, Trouble

if TYPE_CHECKING:
    from impose.run.options import Options


@click.command(cls=GroupedCommand)
@click.argument(
    "kind",
    required=False,
    metavar="[KIND]",
    type=click.Choice(
        ["papers", "printers", "placements", "garments", "presses", "pads", "lettering", "settings", "prices", "texts"]
    ),
)
@option(
    "--copy-to",
    type=PATH,
    metavar="DIR",
    group="Output",
    help="Copy profiles to DIR; files there stay as they are.",
)
@option("--pack", type=PATH, metavar="FILE", group="Output", help="Pack your own profiles for another computer.")
@option("--unpack", type=PATH, metavar="FILE", group="Output", help="Put packed profiles in place of yours.")
@option("--replace", is_flag=True, group="Output", help="Replace what is there; --unpack keeps it in before-1.")
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
    pack: Path | None,
    unpack: Path | None,
    replace: bool,
    enter: tuple[str, str, str, str] | None,
    units: Literal["mm", "in"] | None,
    as_json: bool,
    verbose: bool,
) -> int:
    """Show your papers, printers and settings, and their files.

    A kind is papers, printers, placements, garments, presses, pads, lettering, settings, prices or texts; without
    one, all are shown. Enter a figure of your own like this: impose profiles --profiles mine --enter full-back
    "hoodie adult" drop 5.5in. The third word is drop, across, width or height. To take your shop to another
    computer: impose profiles --pack shop.zip here, impose profiles --unpack shop.zip there. Keys, printers'
    passwords, paper counts and customers are not taken along.
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
    if pack is not None or unpack is not None:
        _move_shop(pack, unpack, options, replace)
        return int(Exit.DONE)
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


def _move_shop(pack: Path | None, unpack: Path | None, options: Options, replace: bool) -> None:
    """Pack the own profiles, or unpack some; say which files."""
    from impose.run.own_profiles import default_profiles_folder
    from impose.run.shop_pack import pack_shop
    from impose.run.shop_unpack import unpack_shop

    folder = options.profiles_dir or default_profiles_folder()
    if pack is not None and unpack is not None:
        what = "--pack and --unpack are both given"
        raise Trouble(Finding(what, "Do first the one, then the other.", exit=Exit.USAGE))
    if pack is not None:
        names, kept = pack_shop(folder, pack, options, replace), None
    else:
        assert unpack is not None
        names, kept = unpack_shop(unpack, folder, options, replace)
    for name in names:
        click.echo(make_terminal_safe(name if pack is not None else str(folder / name)))
    if kept is not None:
        click.echo(make_terminal_safe(f"what was there is in {kept}"), err=True)
    if pack is None and not names:
        click.echo("All of it is there already.", err=True)
