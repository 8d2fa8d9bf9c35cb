"""`impose guide`: a placement guide to lay on the garment, true to size."""

from __future__ import annotations

from pathlib import Path

import click

from impose.cli.common_options import PATH, make_options
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe
from impose.errors import Exit


@click.command(cls=GroupedCommand)
@option(
    "--placement", required=True, metavar="NAME", group="What is made", help="Where on the garment, such as full-back."
)
@option("--garment", required=True, metavar="WORDS", group="What is made", help='Such as "hoodie adult M".')
@option("-p", "--paper", metavar="NAME", group="Paper and printer", help="Plain sheet (default: that of the tickets).")
@option(
    "-o", "--out", type=PATH, metavar="FILE", group="Output", help="The guide (default: guide-PLACEMENT-GARMENT.pdf)."
)
@option("--replace", is_flag=True, group="Output", help="Replace a guide that exists.")
@option("--profiles", "profiles_dir", type=PATH, metavar="DIR", group="Program", help="Folder of your own profiles.")
@option("-v", "--verbose", is_flag=True, group="Program", help="Also print where a system error came from.")
@run_command_body
def guide(
    placement: str,
    garment: str,
    paper: str | None,
    out: Path | None,
    replace: bool,
    profiles_dir: Path | None,
    verbose: bool,
) -> int:
    """Make a card to lay on the garment, true to size.

    It shows the neckline or seam, the centre line, where the print's top comes and the largest print. Print it on plain
    paper or card at actual size, never on the transfer printer.
    """
    from impose.run import write_guide

    own = make_options(profiles_dir=profiles_dir)
    click.echo(make_terminal_safe(str(write_guide(placement, garment, paper, out, own, replace))))
    click.echo("Print it on plain paper or card at actual size, and check its ruler.", err=True)
    return int(Exit.DONE)
