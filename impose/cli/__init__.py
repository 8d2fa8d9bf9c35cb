"""The command line: parse, call `impose.run`, print, exit. No sums are done here.

Results go to stdout, talk to stderr. Nothing heavy is loaded: what a command needs is loaded when it runs. Each command
is a module of its own; `door` is the only place that turns what is raised into words and exit codes.
"""

from __future__ import annotations

import io
import sys
import traceback
from collections.abc import Sequence

import click

from impose import __version__
from impose.cli.again import again
from impose.cli.calibrate import calibrate
from impose.cli.check import check
from impose.cli.desk import desk
from impose.cli.find import find
from impose.cli.open import open_page
from impose.cli.price import price
from impose.cli.printers import printers
from impose.cli.printing import print_command
from impose.cli.profiles import profiles
from impose.cli.quote import quote
from impose.cli.remedies import WORDINGS
from impose.cli.reprint import reprint
from impose.cli.sheets import sheets
from impose.cli.spoilage import spoilage
from impose.cli.stock import stock
from impose.cli.watch import watch
from impose.errors import Exit
from impose.profiles.guidance import CAUTIONS, ORDER_OF_WORK
from impose.remedies import word_remedies


class _Help(click.Group):
    """The group whose help ends with the order of work and the cautions."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for title, lines in (("Order of work", ORDER_OF_WORK), ("Take care", CAUTIONS)):
            with formatter.section(title):
                formatter.write_dl([(f"{number}.", line) for number, line in enumerate(lines, 1)])


@click.group(cls=_Help, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(__version__, prog_name="impose")
def cli() -> None:
    """Nest dye-sublimation transfers on sheets of transfer paper: mirrored once, true to size, ready to print.

    Artwork is trimmed to its ink, given a tear margin with centre-fold ticks and a job label, and packed on as little
    paper as possible.
    """


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command and leave with its exit code; 1 means a bug and nothing else."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A code page that lacks a customer's letters, as a pipe on Windows has, shows them escaped.
            stream.reconfigure(errors="backslashreplace")
    with word_remedies(WORDINGS):
        code = _run_command(arguments)
    sys.exit(int(code))


def _run_command(arguments: Sequence[str] | None) -> int:
    try:
        code = cli.main(arguments, prog_name="impose", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return Exit.USAGE
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted: nothing was written.", err=True)
        return Exit.INTERRUPTED
    except Exception:
        traceback.print_exc()
        click.echo("This is a bug in impose. Please report it with the lines above.", err=True)
        return Exit.BUG
    return code if isinstance(code, int) else Exit.DONE


_COMMANDS = (
    sheets,
    quote,
    check,
    print_command,
    printers,
    profiles,
    calibrate,
    stock,
    watch,
    desk,
    reprint,
    again,
    find,
    spoilage,
    price,
)
for _command in (*_COMMANDS, open_page):
    cli.add_command(_command)
