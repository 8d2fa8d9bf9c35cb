"""The command line: parse, call `impose.run`, print, exit. No sums are done here.

Results go to stdout, talk to stderr. This module loads nothing heavy: what a command needs is loaded when it runs.
"""

from __future__ import annotations

import json
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar

import click

from impose import __version__
from impose.errors import Exit, Finding, Severity, Trouble
from impose.shop.practice import CAUTIONS, ORDER_OF_WORK

if TYPE_CHECKING:
    from impose.run import Options, Plan, Quote

Command = TypeVar("Command", bound=Callable[..., Any])


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
    sys.exit(int(_run(arguments)))


def _run(arguments: Sequence[str] | None) -> int:
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


def door(body: Command) -> Command:
    """Turn what a command's body raises into words on stderr and an exit code; the only place that does."""

    @wraps(body)
    def command(*args: Any, **kwargs: Any) -> int:
        try:
            return int(body(*args, **kwargs))
        except Trouble as trouble:
            report(trouble.findings)
            return int(trouble.exit)
        except BrokenPipeError:
            # Whoever read our results has gone; a last flush would complain once more.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return int(Exit.SYSTEM)
        except (OSError, MemoryError) as error:
            if kwargs.get("verbose"):
                traceback.print_exc()
            report([_system(error)])
            return int(Exit.SYSTEM)

    return command  # type: ignore[return-value]


def _system(error: OSError | MemoryError) -> Finding:
    if isinstance(error, MemoryError):
        return Finding("not enough memory", "Close other programs, use fewer --workers, or split the batch.")
    name = error.filename or error.filename2
    where = f"{name}: " if name else ""
    return Finding(
        f"{where}{(error.strerror or str(error)).lower()}",
        "Nothing was written. Check the disk's space and that the folder may be written, then run again.",
    )


def report(findings: Sequence[Finding]) -> None:
    """Findings on stderr, one a line, worst first, each in full."""
    order = list(Severity)
    for finding in sorted(findings, key=lambda one: order.index(one.severity)):
        colour = {"stop": "red", "warn": "yellow"}.get(finding.severity)
        click.echo(f"{click.style(str(finding.severity), fg=colour)}: {finding}", err=True)


def recurring(command: Command) -> Command:
    """The options that recur on every command that plans a batch."""
    for option in reversed(_RECURRING):
        command = option(command)
    return command


_RECURRING: tuple[Callable[[Any], Any], ...] = (
    click.option(
        "-p", "--paper", "papers", multiple=True, metavar="NAME", help="Paper offered; several mean the cheapest mix."
    ),
    click.option("--printer", metavar="NAME", help="Printer profile: its unprintable edges and measured scale."),
    click.option(
        "--art",
        "art_root",
        type=click.Path(path_type=Path),
        metavar="DIR",
        help="Where artwork paths begin (default: beside the batch).",
    ),
    click.option("--placement", metavar="NAME", help="Placement of rows that name none, such as left-chest."),
    click.option("--width", metavar="LENGTH", help="Ink width of rows that give no size, such as 90mm or 3.5in."),
    click.option("--height", metavar="LENGTH", help="Ink height of rows that give no size."),
    click.option("--copies", type=click.IntRange(1, 100_000), metavar="N", help="Copies of rows that give none."),
    click.option("--tear", metavar="LENGTH", help="Tear margin of every transfer: normal, tight or a length."),
    click.option("--keep-upright", is_flag=True, help="Turn no cell by 90 degrees."),
    click.option(
        "--straight-cuts", is_flag=True, help="Nest so that a trimmer can cut every sheet apart edge to edge."
    ),
    click.option(
        "--oversize",
        type=click.Choice(["refuse", "shrink"]),
        default="refuse",
        help="What to do with a print that fits no paper.",
    ),
    click.option(
        "--steps", type=click.IntRange(min=0), metavar="N", help="Nesting search budget in steps (repeatable)."
    ),
    click.option(
        "--seconds",
        type=click.FloatRange(min=0),
        metavar="S",
        help="Nesting search budget by the clock (not repeatable).",
    ),
    click.option(
        "--profiles", "profiles_dir", type=click.Path(path_type=Path), metavar="DIR", help="The shop's own profiles."
    ),
    click.option("--units", type=click.Choice(["mm", "in"]), help="Units shown, and what a bare number means."),
    click.option("--skip-bad", is_flag=True, help="Leave out whole orders that have a refused row (exit code 3)."),
    click.option("--strict", is_flag=True, help="Stop at warnings too."),
    click.option(
        "--accept", multiple=True, metavar="KIND", help="Let a kind of finding pass, as the column accept does."
    ),
    click.option(
        "--workers",
        type=click.IntRange(min=1),
        metavar="N",
        help="Pictures prepared at a time (default: by the cores).",
    ),
    click.option("--no-cache", is_flag=True, help="Prepare every picture anew."),
    click.option("--json", "as_json", is_flag=True, help="Print the result as JSON on stdout."),
    click.option("-q", "--quiet", is_flag=True, help="Say only what is wrong."),
    click.option("-v", "--verbose", is_flag=True, help="Say notes too, and where a system error came from."),
)

_SOURCES = click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="SOURCE...")


@cli.command()
@_SOURCES
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Output folder (default: the next free name beside the source).",
)
@click.option("--replace", is_flag=True, help="Exchange an output folder of ours that exists.")
@recurring
@door
def sheets(sources: tuple[Path, ...], out: Path | None, replace: bool, **chosen: Any) -> int:
    """Make print-ready sheets from a batch CSV or PNG files: PDFs, one per paper, and the record.

    SOURCE is a batch CSV, PNG files, or a folder of them.
    """
    from impose import files
    from impose.run import plan, produce

    out = out or files.free_name(_beside(sources[0]))
    files.refuse_taken(out, replace)
    with _Progress(chosen["quiet"]) as progress:
        planned = plan(sources, _options(**chosen), progress)
        produce(planned, out, replace, progress)
    _tell(planned, out, **chosen)
    return int(planned.exit)


@cli.command()
@_SOURCES
@recurring
@door
def quote(sources: tuple[Path, ...], **chosen: Any) -> int:
    """Say what a batch takes of each paper and of the best mix: sheets, yield, cost. Writes nothing."""
    from impose.run import quote as quote_batch

    with _Progress(chosen["quiet"]) as progress:
        quoted = quote_batch(sources, _options(**chosen), progress)
    if chosen["as_json"]:
        click.echo(json.dumps(quoted.values(), ensure_ascii=False, indent=1, sort_keys=True))
    else:
        _tell_quote(quoted)
    return int(quoted.exit)


@cli.command()
@click.argument(
    "kind",
    required=False,
    type=click.Choice(["papers", "printers", "placements", "garments", "presses", "settings"]),
)
@click.option(
    "--profiles",
    "profiles_dir",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="The shop's own profiles.",
)
@click.option(
    "--copy-to",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Copy the profiles to DIR, to make them one's own.",
)
@click.option("--units", type=click.Choice(["mm", "in"]), help="Units shown.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
@click.option("-v", "--verbose", is_flag=True, help="Say where a system error came from.")
@door
def profiles(
    kind: str | None,
    profiles_dir: Path | None,
    copy_to: Path | None,
    units: Literal["mm", "in"] | None,
    as_json: bool,
    verbose: bool,
) -> int:
    """Show papers, printers, placements, garments, presses and the settings in force, each with its origin."""
    from impose.run.catalogue import catalogue, copy_profiles

    if copy_to is not None:
        for name in copy_profiles(copy_to):
            click.echo(name)
        return int(Exit.DONE)
    options = _options(profiles_dir=profiles_dir, units=units)
    shelves = catalogue(options, kind)
    if as_json:
        click.echo(json.dumps(shelves, ensure_ascii=False, indent=1))
        return int(Exit.DONE)
    for title, rows in shelves.items():
        click.echo(click.style(title, bold=True))
        _table(rows)
        click.echo()
    return int(Exit.DONE)


def _options(
    *,
    papers: Sequence[str] = (),
    printer: str | None = None,
    art_root: Path | None = None,
    placement: str | None = None,
    width: str | None = None,
    height: str | None = None,
    copies: int | None = None,
    tear: str | None = None,
    keep_upright: bool = False,
    straight_cuts: bool = False,
    oversize: Literal["refuse", "shrink"] = "refuse",
    steps: int | None = None,
    seconds: float | None = None,
    profiles_dir: Path | None = None,
    units: Literal["mm", "in"] | None = None,
    skip_bad: bool = False,
    strict: bool = False,
    accept: Sequence[str] = (),
    workers: int | None = None,
    no_cache: bool = False,
    **_: Any,
) -> Options:
    """The library's options from the command line's and the environment's."""
    from impose.run import Options
    from impose.shop.orders import Blanks
    from impose.shop.settings import parse_tear

    if steps is not None and seconds is not None:
        raise Trouble(Finding("--steps and --seconds are both given", "A budget is one or the other.", exit=Exit.USAGE))
    settings: dict[str, Any] = {
        name: value for name, value in (("papers", list(papers)), ("printer", printer), ("units", units)) if value
    }
    settings |= {name: True for name, on in (("keep_upright", keep_upright), ("straight_cuts", straight_cuts)) if on}
    own = profiles_dir or (Path(os.environ["IMPOSE_PROFILES"]) if os.environ.get("IMPOSE_PROFILES") else None)
    return Options(
        settings=settings,
        environment=_environment(),
        profiles_dir=own,
        art_root=art_root,
        blanks=Blanks(placement, _length("--width", width, units), _length("--height", height, units), copies),
        bare=units,
        tear=_length("--tear", tear, units, parse_tear),
        oversize=oversize,
        steps=steps,
        seconds=seconds,
        skip_bad=skip_bad,
        strict=strict,
        accept=frozenset(accept),
        workers=workers,
        cache=not no_cache,
    )


def _environment() -> dict[str, Any]:
    """Settings from variables: IMPOSE_PRINTER for the setting printer; lists are separated by commas."""
    from impose.shop.settings import READERS

    found: dict[str, Any] = {}
    for name in READERS:
        text = os.environ.get(f"IMPOSE_{name.upper()}")
        if text:
            found[name] = [part.strip() for part in text.split(",")] if name == "papers" else text
    return found


def _length(option: str, text: str | None, units: Literal["mm", "in"] | None, parse: Any = None) -> Any:
    from impose.units import LengthError, parse_length

    if text is None:
        return None
    try:
        return (parse or parse_length)(text, units)
    except LengthError as error:
        raise Trouble(Finding(f"{option}: {error.what}", error.remedy, read=text, exit=Exit.USAGE)) from None


def _beside(source: Path) -> Path:
    """Where the output goes when nothing is said: beside the source, under its name."""
    return source.resolve().parent / f"{source.resolve().stem}-sheets"


def _tell(planned: Plan, out: Path, *, as_json: bool, quiet: bool, verbose: bool, **_: Any) -> None:
    """What was made: findings on stderr, then the result on stdout."""
    notes = [finding for finding in planned.findings if finding.severity is Severity.NOTE]
    report([f for f in planned.findings if verbose or f.severity is not Severity.NOTE])
    if notes and not verbose and not quiet:
        click.echo(f"notes: {len(notes)} (-v shows them, and they are in the record)", err=True)
    if as_json:
        click.echo(json.dumps(planned.record, ensure_ascii=False, indent=1, sort_keys=True))
    elif quiet:
        click.echo(str(out))
    else:
        for line in _summary(planned, out):
            click.echo(line)


def _summary(planned: Plan, out: Path) -> list[str]:
    record = planned.record
    lines = [
        f"sheet {sheet['sheet']:>3}  {sheet['file']} page {sheet['page']}  "
        f"{len(sheet['transfers'])} transfers  yield {sheet['yield']:.0%}"
        for sheet in record["sheets"]
    ]
    fewest = record["fewest"]
    total = len(record["sheets"])
    if fewest["proven"]:
        best = "no fewer sheets possible" if fewest["sheets"] is not None else "no cheaper mix possible"
    elif fewest["sheets"] is not None:
        best = f"at least {fewest['sheets']} needed"
    else:
        best = f"at least {fewest['cost']} {record['currency']} needed"
    lines.append(
        f"{planned.transfers} transfers on {total} {'sheet' if total == 1 else 'sheets'}, "
        f"{record['cost']} {record['currency']} of paper ({best})"
    )
    lines.append(f"batch {record['code']}: {out}")
    lines.append(
        "Print at actual size on the coated side, driver mirroring off. Labels read normally; artwork is mirrored."
    )
    return lines


def _tell_quote(quoted: Quote) -> None:
    rows = [("paper", "sheets", "yield", f"cost {quoted.currency}", "")]
    for offer in quoted.offers:
        name = " + ".join(paper.alias for paper in offer.papers)
        if offer.refused:
            rows.append((name, "-", "-", "-", f"cannot take {len(offer.refused)} of the rows"))
            continue
        used = [f"{count} {alias}" for alias, count in offer.sheets.items() if count]
        sheets_used = ", ".join(used) if len(offer.papers) > 1 else str(sum(offer.sheets.values()))
        marks = [mark for mark, on in (("best", offer is quoted.best), ("proven least", offer.proven)) if on]
        rows.append((name, sheets_used, f"{offer.yield_:.0%}", _money(offer.cost), ", ".join(marks)))
    _table(rows)
    click.echo(f"{quoted.transfers} transfers")
    if quoted.best is None:
        report(quoted.offers[-1].refused)


def _money(millionths: int) -> str:
    from impose.sheet.money import to_decimal

    return f"{to_decimal(millionths):f}"


def _table(rows: Sequence[Sequence[str]]) -> None:
    """Columns as wide as their widest cell; the last one runs free."""
    if not rows:
        return
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]) - 1)]
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        click.echo("  ".join([*cells, row[-1]]).rstrip())


class _Progress:
    """A bar on stderr for work of over a second, on a terminal only."""

    def __init__(self, quiet: bool) -> None:
        self.on = not quiet and sys.stderr.isatty()
        self.begun = 0.0
        self.wrote = False

    def __enter__(self) -> _Progress:
        import time

        self.clock = time.monotonic
        self.begun = self.clock()
        return self

    def __call__(self, stage: str, done: int, of: int) -> None:
        if not self.on or self.clock() - self.begun < 1.0:
            return
        filled = round(20 * done / of) if of else 20
        click.echo(f"\r{stage:<10} [{'#' * filled}{'.' * (20 - filled)}] {done}/{of} ", nl=False, err=True)
        self.wrote = True

    def __exit__(self, *_: object) -> None:
        if self.wrote:
            click.echo("\r" + " " * 60 + "\r", nl=False, err=True)
