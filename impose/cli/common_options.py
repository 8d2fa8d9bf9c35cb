"""The options that recur, and the library's `Options` made of them and of the environment."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from impose.cli.error_boundary import Command
from impose.errors import Exit, Finding, Trouble

if TYPE_CHECKING:
    from impose.run import Options


class NamedPathType(click.Path):
    """A path that names something: an empty one, which would mean the folder at hand, is a variable left unset."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path, or click's own complaint."""
        if not str(value) or value == b"":
            self.fail("the name is empty.", param, ctx)
        return super().convert(value, param, ctx)


PATH = NamedPathType(path_type=Path)


class SecondsType(click.FloatRange):
    """Seconds from nothing upwards; “nan” and “inf”, which are floats too, are no time that passes."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number, or click's own complaint."""
        number = float(super().convert(value, param, ctx))
        if not math.isfinite(number):
            self.fail(f"{value} is no number of seconds.", param, ctx)
        return number


SECONDS = SecondsType(min=0.0)


def add_recurring_options(command: Command) -> Command:
    """The options that recur on every command that plans a batch."""
    for option in reversed(_RECURRING):
        command = option(command)
    return command


_RECURRING: tuple[Callable[[Any], Any], ...] = (
    click.option(
        "-p",
        "--paper",
        "papers",
        multiple=True,
        metavar="NAME",
        help="Paper offered; several mean the cheapest mix (default: those of the settings; of a record, its own).",
    ),
    click.option("--printer", metavar="NAME", help="Printer profile: its unprintable edges and measured scale."),
    click.option(
        "--art",
        "art_root",
        type=PATH,
        metavar="DIR",
        help="Where artwork paths begin (default: beside the batch, or where the record says).",
    ),
    click.option(
        "--columns",
        type=PATH,
        metavar="FILE",
        help="What an export's own headings and words mean (TOML).",
    ),
    click.option("--placement", metavar="NAME", help="Placement of rows that name none, such as left-chest."),
    click.option("--width", metavar="LENGTH", help="Ink width of rows that give no size, such as 90mm or 3.5in."),
    click.option("--height", metavar="LENGTH", help="Ink height of rows that give no size."),
    click.option("--copies", type=click.IntRange(1, 100_000), metavar="N", help="Copies of rows that give none."),
    click.option(
        "--tear", metavar="LENGTH", help="Tear margin of every transfer: normal (14 mm), tight (10 mm) or a length."
    ),
    click.option("--keep-upright", is_flag=True, help="Turn no cell by 90 degrees."),
    click.option(
        "--straight-cuts", is_flag=True, help="Nest so that a trimmer can cut every sheet apart edge to edge."
    ),
    click.option(
        "--oversize",
        type=click.Choice(["refuse", "shrink", "panels"]),
        default="refuse",
        help="What to do with a print that fits no paper (default: refuse).",
    ),
    click.option(
        "--smallest-decides",
        is_flag=True,
        help="One size for an artwork and placement within an order: that of the smallest garment.",
    ),
    click.option(
        "--orientation",
        type=click.Choice(["apply", "ignore"]),
        help="Turn artwork as its Exif note says, or print it as stored (default: stop and ask).",
    ),
    click.option("--clean-haze", is_flag=True, help="Take away faint alpha and off-white grounds."),
    click.option(
        "--mend",
        multiple=True,
        type=click.Choice(["clean-haze", "drop-specks", "ground"]),
        help="Mend this in every row's artwork, as the column mend does in one; ground makes a light ground white.",
    ),
    click.option("--drop-specks", is_flag=True, help="Drop lonely specks, inside the picture too."),
    click.option(
        "--output-profile",
        metavar="FILE",
        help="Turn colours into this ICC profile of the printer (none: leave them, whatever the printer says).",
    ),
    click.option(
        "--intent",
        type=click.Choice(["perceptual", "relative", "saturation", "absolute"]),
        help="How colours are brought into the output profile (default: relative).",
    ),
    click.option(
        "--no-black-point", is_flag=True, help="With relative intent, cut off tones darker than the printer's."
    ),
    click.option(
        "--steps",
        type=click.IntRange(min=0),
        metavar="N",
        help="How many fillings the nesting tries: the same result every time.",
    ),
    click.option(
        "--seconds",
        type=SECONDS,
        metavar="S",
        help="How long the nesting searches, by the clock instead: results may differ.",
    ),
    click.option("--profiles", "profiles_dir", type=PATH, metavar="DIR", help="The shop's own profiles."),
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
        help="Processes at work at a time (default: for pictures and tickets, by the cores; for nesting one).",
    ),
    click.option(
        "--scheduler",
        metavar="ADDRESS",
        help="A Dask scheduler whose workers do it, such as tcp://10.0.0.5:8786 (pip install distributed).",
    ),
    click.option("--no-cache", is_flag=True, help="Prepare every picture anew."),
    click.option("--json", "as_json", is_flag=True, help="Print the result as JSON on stdout."),
    click.option("-q", "--quiet", is_flag=True, help="Say only what is wrong."),
    click.option("-v", "--verbose", is_flag=True, help="Say notes too, and where a system error came from."),
)

LEDGER = click.option(
    "--ledger",
    type=PATH,
    metavar="FILE",
    help="Where paper left is counted (default: with this user's data; nothing is made before the first count).",
)


def find_ledger_file(named: Path | None) -> Path:
    """The ledger: as named, as the variable IMPOSE_LEDGER says, or with the user's data."""
    from impose.ledger.location import default_ledger_path

    return named or _read_path_variable("IMPOSE_LEDGER") or default_ledger_path()


def keep_options(*names: str) -> Callable[[Command], Command]:
    """Those of the recurring options, by the name of their parameter, that a command has a use for."""

    def choose(command: Command) -> Command:
        for option in reversed(_RECURRING):
            if _parameter_name(option) in names:
                command = option(command)
        return command

    return choose


def drop_options(*names: str) -> Callable[[Command], Command]:
    """The recurring options but those."""
    return keep_options(*(_parameter_name(option) for option in _RECURRING if _parameter_name(option) not in names))


def _parameter_name(option: Callable[[Any], Any]) -> str:
    def probe() -> None:
        """Takes the option, so that its name can be asked for."""

    option(probe)
    return str(probe.__click_params__[0].name)  # type: ignore[attr-defined]


SOURCES = click.argument("sources", nargs=-1, required=True, type=PATH, metavar="SOURCE...")


_SETTINGS = (
    "printer",
    "orientation",
    "output_profile",
    "intent",
    "keep_upright",
    "straight_cuts",
    "smallest_decides",
    "clean_haze",
    "drop_specks",
)
"""Options that lay the setting of the same name over the profiles."""


def make_options(
    *,
    papers: Sequence[str] = (),
    art_root: Path | None = None,
    columns: Path | None = None,
    placement: str | None = None,
    width: str | None = None,
    height: str | None = None,
    copies: int | None = None,
    tear: str | None = None,
    oversize: Literal["refuse", "shrink", "panels"] = "refuse",
    no_black_point: bool = False,
    steps: int | None = None,
    seconds: float | None = None,
    profiles_dir: Path | None = None,
    units: Literal["mm", "in"] | None = None,
    skip_bad: bool = False,
    strict: bool = False,
    accept: Sequence[str] = (),
    mend: Sequence[str] = (),
    workers: int | None = None,
    scheduler: str | None = None,
    no_cache: bool = False,
    limits: Mapping[str, int] | None = None,
    **chosen: Any,
) -> Options:
    """The library's options from the command line's and the environment's; `chosen` are settings by name."""
    from impose.orders.batch import RowDefaults
    from impose.profiles.settings import parse_tear
    from impose.run import Options

    if steps is not None and seconds is not None:
        raise Trouble(Finding("--steps and --seconds are both given", "A budget is one or the other.", exit=Exit.USAGE))
    named = {"papers": list(papers), "units": units} | {name: chosen.get(name) for name in _SETTINGS}
    # An option left out leaves its setting to the profiles.
    settings: dict[str, Any] = {name: value for name, value in named.items() if value}
    return Options(
        settings=settings | ({"black_point": False} if no_black_point else {}),
        environment=_read_environment(),
        profiles_dir=profiles_dir or _read_path_variable("IMPOSE_PROFILES"),
        art_root=art_root,
        columns=columns,
        blanks=RowDefaults(
            placement,
            _parse_length_option("--width", width, units),
            _parse_length_option("--height", height, units),
            copies,
            frozenset(mend),
        ),
        bare=units,
        tear=_parse_length_option("--tear", tear, units, parse_tear),
        oversize=oversize,
        steps=steps,
        seconds=seconds,
        skip_bad=skip_bad,
        strict=strict,
        accept=frozenset(accept),
        workers=workers,
        scheduler=scheduler,
        cache=not no_cache,
        limits=limits or {},
    )


def _read_path_variable(variable: str) -> Path | None:
    return Path(os.environ[variable]) if os.environ.get(variable) else None


def _read_environment() -> dict[str, Any]:
    """Settings from variables: IMPOSE_PRINTER for the setting printer; lists are separated by commas."""
    from impose.profiles.settings import LISTS, READERS

    found: dict[str, Any] = {}
    for name in READERS:
        text = os.environ.get(f"IMPOSE_{name.upper()}")
        if text:
            found[name] = [part.strip() for part in text.split(",")] if name in LISTS else text
    return found


def _parse_length_option(option: str, text: str | None, units: Literal["mm", "in"] | None, parse: Any = None) -> Any:
    from impose.units import LengthError, parse_length

    if text is None:
        return None
    try:
        return (parse or parse_length)(text, units)
    except LengthError as error:
        raise Trouble(Finding(f"{option}: {error.what}", error.remedy, read=text, exit=Exit.USAGE)) from None
