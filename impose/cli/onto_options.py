"""The options for printing on sheets that are printed already, shared by the commands that make sheets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from impose.cli.common_options import PATH
from impose.cli.error_boundary import Command
from impose.errors import Exit, Finding, Trouble

if TYPE_CHECKING:
    from impose.run.reuse_sheets import OntoRequest

_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option(
        "--onto",
        type=PATH,
        metavar="RECORD",
        help="Offer the free places of sheets that are printed already and not yet cut apart.",
    ),
    click.option(
        "--onto-sheet",
        "onto_sheets",
        multiple=True,
        type=click.IntRange(1),
        metavar="N",
        help="With --onto: only this sheet of the record.",
    ),
    click.option(
        "--onto-clear",
        metavar="LENGTH",
        help="With --onto: paper kept clear around what is printed (default: 2 mm; a sheet fed again lies 1 mm off).",
    ),
)


def add_onto_options(command: Command) -> Command:
    """The options themselves."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def read_onto_request(
    record: Path | None, sheets: Sequence[int], clear: str | None, units: Literal["mm", "in"] | None
) -> OntoRequest | None:
    """What --onto asks for, if it is given."""
    from impose.run.reuse_sheets import CLEAR_MM, OntoRequest
    from impose.units import LengthError, parse_length

    if record is None:
        if sheets or clear:
            raise Trouble(Finding("--onto is missing", "Name the record of the printed sheet.", exit=Exit.USAGE))
        return None
    try:
        clear_mm = CLEAR_MM if clear is None else parse_length(clear, units, zero=True)
    except LengthError as error:
        raise Trouble(Finding(f"--onto-clear: {error.what}", error.remedy, read=clear, exit=Exit.USAGE)) from None
    return OntoRequest(record, tuple(sheets), clear_mm)
