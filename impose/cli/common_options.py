"""The options that recur, and the library's `Options` made of them and of the environment."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from impose.cli.error_boundary import Command
from impose.cli.grouped_help import option
from impose.errors import Exit, Finding, Trouble, quote_text

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


class WholeNumber(click.IntRange):
    """A whole number from `min` to `max`, or from `min` on; what is none is told in plain words."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number, or a complaint that says which numbers are taken."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            taken = f"from {self.min:,} to {self.max:,}" if self.max is not None else f"from {self.min:,} on"
            self.fail(f"{quote_text(str(value))} is not taken. Write a whole number {taken}.", param, ctx)


class SecondsType(click.FloatRange):
    """Seconds from nothing upwards; “nan” and “inf”, which are floats too, are no time that passes."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number, or a complaint that says which numbers are taken."""
        try:
            number = float(super().convert(value, param, ctx))
        except click.BadParameter:
            number = math.nan
        if not math.isfinite(number):
            self.fail(f"{quote_text(str(value))} is no number of seconds. Write 0 or more, such as 2.5.", param, ctx)
        return number


SECONDS = SecondsType(min=0.0)


def add_recurring_options(command: Command) -> Command:
    """The options that recur on every command that plans a batch."""
    for add_option in reversed(_RECURRING):
        command = add_option(command)
    return command


_RECURRING: tuple[Callable[[Any], Any], ...] = (
    option(
        "-p",
        "--paper",
        "papers",
        multiple=True,
        metavar="NAME",
        group="Paper and printer",
        help="Paper to use; repeat it for the cheapest mix.",
    ),
    option("--printer", metavar="NAME", group="Paper and printer", help="The printer: its edges and measured scale."),
    option(
        "--art",
        "art_root",
        type=PATH,
        metavar="DIR",
        group="What is made",
        help="Folder of the artwork (default: beside the source).",
    ),
    option(
        "--columns",
        type=PATH,
        metavar="FILE",
        group="What is made",
        help="TOML file that maps your export's columns.",
    ),
    option("--placement", metavar="NAME", group="What is made", help="Placement for rows without one: left-chest."),
    option("--width", metavar="LENGTH", group="What is made", help="Ink width for rows without a size: 90mm, 3.5in."),
    option("--height", metavar="LENGTH", group="What is made", help="Ink height for rows without a size."),
    option(
        "--copies",
        type=WholeNumber(1, 100_000),
        metavar="N",
        group="What is made",
        help="Copies for rows without a number.",
    ),
    option(
        "--tear",
        metavar="LENGTH",
        group="Size and margins",
        help="Tear margin: normal (14 mm), tight (10 mm), a length.",
    ),
    option(
        "--oversize",
        type=click.Choice(["refuse", "shrink", "panels"]),
        metavar="HOW",
        group="Size and margins",
        help="A print too large: refuse (default), shrink, panels.",
    ),
    option(
        "--smallest-decides",
        is_flag=True,
        group="Size and margins",
        help="Use the smallest garment's size for the whole order.",
    ),
    option("--keep-upright", is_flag=True, group="Nesting", help="Do not turn prints on the paper."),
    option(
        "--straight-cuts",
        is_flag=True,
        group="Nesting",
        help="Only layouts that straight cuts can separate.",
    ),
    option(
        "--sheet-handling",
        metavar="AMOUNT",
        group="Nesting",
        help="What the work with each sheet costs: 0.10.",
    ),
    option(
        "--paper-change",
        metavar="AMOUNT",
        group="Nesting",
        help="What each change of paper costs: 1.00.",
    ),
    option(
        "--orientation",
        type=click.Choice(["apply", "ignore"]),
        metavar="HOW",
        group="Artwork and colour",
        help="Picture stored turned: apply, ignore (default: stop).",
    ),
    option(
        "--clean-haze",
        is_flag=True,
        group="Artwork and colour",
        help="Remove faint haze and off-white backgrounds.",
    ),
    option(
        "--mend",
        multiple=True,
        type=click.Choice(["clean-haze", "drop-specks", "ground"]),
        metavar="WHAT",
        group="Artwork and colour",
        help="Mend in every row: clean-haze, drop-specks, ground.",
    ),
    option(
        "--drop-specks", is_flag=True, group="Artwork and colour", help="Remove lone specks, inside the picture too."
    ),
    option(
        "--swatches",
        is_flag=True,
        group="Artwork and colour",
        help="Print a piece of each picture in the waste, to try.",
    ),
    option(
        "--output-profile",
        metavar="FILE",
        group="Artwork and colour",
        help="Convert colours to this ICC profile (none: do not).",
    ),
    option(
        "--intent",
        type=click.Choice(["perceptual", "relative", "saturation", "absolute"]),
        metavar="NAME",
        group="Artwork and colour",
        help="perceptual, relative (default), saturation, absolute.",
    ),
    option(
        "--no-black-point",
        is_flag=True,
        group="Artwork and colour",
        help="Relative intent: cut off tones that are too dark.",
    ),
    option(
        "--steps",
        type=WholeNumber(min=0),
        metavar="N",
        group="Nesting",
        help="Search effort; the same result every time.",
    ),
    option(
        "--seconds",
        type=SECONDS,
        metavar="S",
        group="Nesting",
        help="Search for this long; results may differ.",
    ),
    option("--skip-bad", is_flag=True, group="Checks", help="Leave out orders with a refused row (exit code 3)."),
    option("--strict", is_flag=True, group="Checks", help="Stop at warnings too."),
    option("--accept", multiple=True, metavar="KIND", group="Checks", help="Accept findings of this kind."),
    option(
        "--profiles",
        "profiles_dir",
        type=PATH,
        metavar="DIR",
        group="Program",
        help="Folder of your own profiles.",
    ),
    option(
        "--units",
        type=click.Choice(["mm", "in"]),
        metavar="UNIT",
        group="Program",
        help="mm or in, for what is shown and numbers without unit.",
    ),
    option(
        "--workers",
        type=WholeNumber(min=1),
        metavar="N",
        group="Program",
        help="Processes that work at once (default: by the cores).",
    ),
    option("--scheduler", metavar="ADDRESS", group="Program", help="Dask scheduler whose workers do the work."),
    option("--no-cache", is_flag=True, group="Program", help="Prepare every picture again."),
    option("--json", "as_json", is_flag=True, group="Program", help="Print the result as JSON."),
    option("-q", "--quiet", is_flag=True, group="Program", help="Print only what is wrong."),
    option(
        "-v", "--verbose", is_flag=True, group="Program", help="Also print notes, and where a system error came from."
    ),
)


PART_SHEETS = option(
    "--part-sheets",
    type=WholeNumber(min=1),
    metavar="N",
    group="Output",
    help="Write in parts of N sheets, for large batches.",
)
REPLACE_FOLDER = option("--replace", is_flag=True, group="Output", help="Replace an output folder that exists.")


def make_ledger_option(words: str) -> Callable[[Command], Command]:
    """The ledger's option, in words of what a command keeps in it."""
    return option("--ledger", type=PATH, metavar="FILE", group="Paper and printer", help=words)


LEDGER = make_ledger_option("Paper counts, and what was made for whom.")
PRINT_LEDGER = make_ledger_option("What was printed, and how (beside the paper counts).")


def find_ledger_file(named: Path | None) -> Path:
    """The ledger: as named, as the variable IMPOSE_LEDGER says, or with the user's data."""
    from impose.ledger.location import default_ledger_path

    return named or _read_path_variable("IMPOSE_LEDGER") or default_ledger_path()


def keep_options(*names: str) -> Callable[[Command], Command]:
    """Those of the recurring options, by the name of their parameter, that a command has a use for."""

    def choose(command: Command) -> Command:
        for add_option in reversed(_RECURRING):
            if _name_parameter(add_option) in names:
                command = add_option(command)
        return command

    return choose


def drop_options(*names: str) -> Callable[[Command], Command]:
    """The recurring options but those."""
    return keep_options(*(name for name in list_recurring_names() if name not in names))


def list_recurring_names() -> list[str]:
    """The recurring options by the name of their parameter."""
    return [_name_parameter(add_option) for add_option in _RECURRING]


def _name_parameter(add_option: Callable[[Any], Any]) -> str:
    def probe() -> None:
        """Takes the option, so that its name can be asked for."""

    add_option(probe)
    return str(probe.__click_params__[0].name)  # type: ignore[attr-defined]


SOURCES = click.argument("sources", nargs=-1, required=True, type=PATH, metavar="SOURCE...")


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
    oversize: Literal["refuse", "shrink", "panels"] | None = None,
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
    from impose.run.own_profiles import find_own_profiles

    if steps is not None and seconds is not None:
        raise Trouble(Finding("--steps and --seconds are both given", "A budget is one or the other.", exit=Exit.USAGE))
    from impose.profiles.settings import BY_OPTION

    named = {"papers": list(papers), "units": units} | {name: chosen.get(name) for name in BY_OPTION}
    # An option left out leaves its setting to the profiles.
    settings: dict[str, Any] = {name: value for name, value in named.items() if value}
    return Options(
        settings=settings | ({"black_point": False} if no_black_point else {}),
        environment=_read_environment(),
        profiles_dir=profiles_dir or _read_path_variable("IMPOSE_PROFILES") or find_own_profiles(),
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
    from impose.profiles.settings import RULES

    found: dict[str, Any] = {}
    for name, rule in RULES.items():
        text = os.environ.get(f"IMPOSE_{name.upper()}")
        if text:
            found[name] = [part.strip() for part in text.split(",")] if rule.listed else text
    return found


def _parse_length_option(option: str, text: str | None, units: Literal["mm", "in"] | None, parse: Any = None) -> Any:
    from impose.units import LengthError, parse_length

    if text is None:
        return None
    try:
        return (parse or parse_length)(text, units)
    except LengthError as error:
        raise Trouble(Finding(f"{option}: {error.what}", error.remedy, read=text, exit=Exit.USAGE)) from None
