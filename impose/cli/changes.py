"""`impose changes`: this version, and what each version changed."""

from __future__ import annotations

import click

from impose import __version__
from impose.cli.error_boundary import run_command_body
from impose.cli.grouped_help import GroupedCommand
from impose.cli.output import make_terminal_safe
from impose.errors import Exit
from impose.files import find_shipped_file


@click.command(cls=GroupedCommand)
@run_command_body
def changes() -> int:
    """Show this version, and what each version changed.

    A newer version opens what an older one wrote: batches, records, ledgers, profiles. An older one does not open
    what a newer one wrote: it says so and changes nothing.
    """
    click.echo(f"impose, version {__version__}\n")
    text = find_shipped_file("schemas", "CHANGELOG.md").read_text("utf-8")
    for line in text.splitlines():
        click.echo(make_terminal_safe(line))
    return int(Exit.DONE)
