"""The command line: parse, call `impose.run`, print, exit. No sums are done here.

Results go to stdout, talk to stderr. Nothing heavy is loaded: what a command needs is loaded when it runs. Each command
is a module of its own, loaded when it is called or asked about; `error_boundary` is the only place that turns what is
raised into words and exit codes.
"""

from __future__ import annotations

import atexit
import gc
import io
import os
import re
import sys
from collections.abc import Sequence
from importlib import import_module

import click

from impose import __version__
from impose.cli.remedies import WORDINGS
from impose.errors import Exit
from impose.native.library import KEEP_MEMORY
from impose.profiles.guidance import CAUTIONS, ORDER_OF_WORK
from impose.remedies import word_remedies

GARBAGE_LOOK = 200_000
"""New objects between looks for garbage that reference counts leave; loading all modules makes fewer."""


_COMMANDS = {
    "sheets": ("sheets.sheets", "Make print-ready sheets from a batch CSV or artwork."),
    "quote": ("quote.quote", "Compare papers: sheets, paper and ink for a batch."),
    "check": ("check.check", "Look for faults in artwork and rows before paper is spent."),
    "print": ("printing.print_command", "Print the sheets of an output FOLDER at true size."),
    "printers": ("printers.printers", "List printers, or show what a named one says of itself."),
    "profiles": ("profiles.profiles", "Show your papers, printers and settings, and their files."),
    "calibrate": ("calibrate.calibrate", "Measure a printer: a page to print, then its profile."),
    "guide": ("guide.guide", "Make a card to lay on the garment, true to size."),
    "stock": ("stock.stock", "Show the paper left, or count and correct it."),
    "watch": ("watch.watch", "Make sheets of whatever is dropped into DESK/in."),
    "desk": ("desk.desk", "Show what a desk is doing, or give it an instruction."),
    "reprint": ("reprint.reprint", "Make transfers of a RECORD again, as they were."),
    "again": ("again.again", "Make a new order from the RECORD of an old one."),
    "find": ("find.find", "Find what was made for whom, when and how."),
    "spoilage": ("spoilage.spoilage", "Count what was spoiled, by placement and cause."),
    "price": ("price.price", "Say what to charge for a FOLDER of sheets, by order."),
    "colours": ("colours.colours", "Make a page of patches of colours, to press and choose from."),
    "changes": ("changes.changes", "Show this version, and what each version changed."),
    "open": ("open.open_page", "Open the page: all of this in your browser."),
}
"""Where each command is found below this room, and what `impose --help` says of it: the start of its own help."""


class _CommandGroup(click.Group):
    """The commands, each loaded when it is needed; the help ends with the order of work and the cautions."""

    @property
    def commands(self) -> dict[str, click.Command]:
        """All commands by name, loaded."""
        return {name: _load_command(place) for name, (place, _) in _COMMANDS.items()}

    @commands.setter
    def commands(self, given: object) -> None:
        """Click sets an empty one."""

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        return _load_command(_COMMANDS[cmd_name][0]) if cmd_name in _COMMANDS else None

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(_COMMANDS)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """As click has it, from the table: no command is loaded."""
        room = formatter.width - 6 - max(map(len, _COMMANDS))
        texts = {name: click.Command(name, help=text).get_short_help_str(room) for name, (_, text) in _COMMANDS.items()}
        with formatter.section("Commands"):
            formatter.write_dl(sorted(texts.items()))

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for title, lines in (("Order of work", ORDER_OF_WORK), ("Take care", CAUTIONS)):
            with formatter.section(title):
                formatter.write_dl([(f"{number}.", line) for number, line in enumerate(lines, 1)])


@click.group(cls=_CommandGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(
    __version__, prog_name="impose", message="%(prog)s, version %(version)s (what changed: impose changes)"
)
def cli() -> None:
    """Nest dye-sublimation transfers on sheets of transfer paper: mirrored once, true to size, ready to print.

    Artwork is trimmed to its ink, given a tear margin with centre-fold ticks and a job label, and packed on as little
    paper as possible.
    """


def _load_command(place: str) -> click.Command:
    module, name = place.split(".")
    command = getattr(import_module(f"impose.cli.{module}"), name)
    assert isinstance(command, click.Command)
    return command


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command and leave with its exit code; 1 means a bug and nothing else."""
    # Modules, profiles and rows are there to stay: looking through them for rings at every 700 new objects finds none,
    # and takes a twentieth of a small batch.
    gc.set_threshold(GARBAGE_LOOK)
    gc.enable()
    # At its end Python would look through all of them several times more: a fifth of a second.
    atexit.register(gc.freeze)
    codes: list[int] = []
    if arguments is None:  # this process is the command, and whoever registered before has nothing to do in it
        atexit.register(_end_process, codes)
    # Numpy's library of linear algebra starts a thread for each core, which waits for work at full speed: a tenth of a
    # second of processor time each. Our sums are too small to share, and on one thread they are the same everywhere.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault(KEEP_MEMORY, "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A code page that lacks a customer's letters, as a pipe on Windows has, shows them escaped.
            stream.reconfigure(errors="backslashreplace")
    with word_remedies(WORDINGS):
        codes.append(int(_run_command(arguments)))
    sys.exit(codes[0])


def _end_process(codes: Sequence[int]) -> None:
    """End with the code of the command, when all else is done that is done at the end.

    Python would take apart every module first and free each object: a twentieth of a small batch, for nothing.
    """
    if not codes:
        return
    try:
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
    except (OSError, ValueError):
        return  # Python tries once more, and says so
    os._exit(codes[0])


def _run_command(arguments: Sequence[str] | None) -> int:
    try:
        code = cli.main(arguments, prog_name="impose", standalone_mode=False)
    except click.ClickException as error:
        said = io.StringIO()
        error.show(said)
        # What was typed is repeated there, whatever its length.
        click.echo(re.sub(r"\S{200,}", lambda long: f"{long[0][:80]}…", said.getvalue()), err=True, nl=False)
        return Exit.USAGE
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted: nothing was written.", err=True)
        return Exit.INTERRUPTED
    except (OSError, MemoryError) as error:  # help and version are printed before a command's body begins
        from impose.cli.error_boundary import tell_system_fault

        return tell_system_fault(error)
    except Exception:
        import traceback  # loaded late: what has no fault needs none

        traceback.print_exc()
        click.echo("This is a bug in impose. Please report it with the lines above.", err=True)
        return Exit.BUG
    return code if isinstance(code, int) else Exit.DONE
