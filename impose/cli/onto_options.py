"""The options for printing on sheets that are printed already, shared by the commands that make sheets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from impose.cli.common_options import PATH, WholeNumber
from impose.cli.error_boundary import Command
from impose.cli.grouped_help import option
from impose.errors import Exit, Finding, Trouble

if TYPE_CHECKING:
    from impose.run.reuse_sheets import OntoRequest

_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    option(
        "--onto",
        type=PATH,
        metavar="RECORD",
        group="Paper and printer",
        help="Use the free places of sheets already printed.",
    ),
    option(
        "--onto-sheet",
        "onto_sheets",
        multiple=True,
        type=WholeNumber(1),
        metavar="N",
        group="Paper and printer",
        help="With --onto: only this sheet.",
    ),
    option(
        "--onto-clear",
        metavar="LENGTH",
        group="Paper and printer",
        help="With --onto: distance from old prints (default: 2 mm).",
    ),
)


def add_onto_options(command: Command) -> Command:
    """The options themselves."""
    for add_option in reversed(_OPTIONS):
        command = add_option(command)
    return command


def read_onto_request(
    record: Path | None, sheets: Sequence[int], clear: str | None, units: Literal["mm", "in"] | None
) -> OntoRequest | None:
    """What --onto asks for, if it is given."""
    if record is None:
        if sheets or clear:
            raise Trouble(Finding("--onto is missing", "Name the record of the printed sheet.", exit=Exit.USAGE))
        return None
    from impose.run.offcuts import CLEAR_MM
    from impose.run.reuse_sheets import OntoRequest
    from impose.units import LengthError, parse_length

    try:
        clear_mm = CLEAR_MM if clear is None else parse_length(clear, units, zero=True)
    except LengthError as error:
        raise Trouble(Finding(f"--onto-clear: {error.what}", error.remedy, read=clear, exit=Exit.USAGE)) from None
    return OntoRequest(record, tuple(sheets), clear_mm)
