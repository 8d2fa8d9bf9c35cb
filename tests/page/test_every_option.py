"""Every option of every command, and where the page has it; or why it is not there.

The page's places are named by what its script sends: an address, an operation, a choice of the batch ("choice: …").
"""

from __future__ import annotations

import pytest

from impose.cli import cli
from impose.page.application import ROUTES
from impose.run.batch_choices import NAMES

# What a place is found by: part of an address of ROUTES, or a choice of the batch.
_BATCH = {
    "--paper": "choice: papers",
    "--printer": "choice: printer",
    "--columns": "address: import",
    "--placement": "choice: placement",
    "--width": "choice: width",
    "--height": "choice: height",
    "--copies": "choice: copies",
    "--tear": "choice: tear",
    "--oversize": "choice: oversize",
    "--smallest-decides": "choice: smallest_decides",
    "--keep-upright": "choice: keep_upright",
    "--straight-cuts": "choice: straight_cuts",
    "--orientation": "choice: orientation",
    "--clean-haze": "choice: clean_haze",
    "--drop-specks": "choice: drop_specks",
    "--output-profile": "choice: output_profile",
    "--intent": "choice: intent",
    "--no-black-point": "choice: black_point",
    "--steps": "choice: steps",
    "--seconds": "choice: seconds",
    "--skip-bad": "choice: skip_bad",
    "--strict": "choice: strict",
    "--accept": "choice: accept",
    "--units": "choice: units",
    "--part-sheets": "choice: part_sheets",
    "--mend": "choice: mend",
    "--sheet-handling": "choice: sheet_handling",
    "--paper-change": "choice: paper_change",
    "--swatches": "choice: swatches",
    "--art": "not: artwork lies in the batch's own folder, where dropping puts it",
    "--profiles": "not: the page works on the shop's own profiles; another folder is named when it is opened",
    "--ledger": "not: paper is counted in one place; another is named when the page is opened",
    "--workers": "not: the page plans in one process of its own, beside a person's other work",
    "--scheduler": "not: a print room with many machines uses the commands",
    "--no-cache": "not: a remedy against a fault of the disk, for the commands",
    "--json": "not: for programs",
    "--quiet": "not: for programs",
    "--verbose": "not: for whoever mends the program",
    "--help": "not: the page says it where it is",
}
_ONTO = {"--onto": "address: make", "--onto-sheet": "address: make", "--onto-clear": "address: make"}
_OUT = "not: outputs lie in the batch folder, each under the next free name"

PLACES: dict[str, dict[str, str]] = {
    "sheets": {
        **_ONTO,
        "--out": _OUT,
        "--replace": "address: make",
        "--preview": "address: make",
        "--printed": "address: make",
    },
    "quote": {
        "--out": "not: the page shows it; a file of it is the command's",
        "--csv": "not: the page shows it; a file of it is the command's",
        "--by": "address: quote",
    },
    "check": {"--agreed": "address: agreed", "--order": "address: agreed", "--on": "address: agreed"},
    "profiles": {
        "--copy-to": "not: the page writes the shop's own values alone, value by value",
        "--enter": "address: shop",
    },
    "calibrate": {
        "--path": "not: readings entered on the page are of the way that its PDF was printed",
        "--out": "not: the page of rulers is shown, to be printed or saved",
        "--replace": "not: it is made anew each time",
        "--read": "address: readings",
        "--read-to": "address: readings",
    },
    "colours": {
        "--colour": "not: patches are printed and pressed by the command; the column recolour is on the page",
        "--out": "not: patches are printed and pressed by the command",
        "--replace": "not: patches are printed and pressed by the command",
    },
    "stock": {
        "--set": "address: shop",
        "--add": "address: shop",
        "--waste": "address: shop",
        "--stop": "address: shop",
        "--because": "address: shop",
        "--history": "address: stock",
    },
    "watch": {},
    "desk": {
        "--new": "not: a desk is made once, by the command or its icon",
        "--make-now": "address: desk",
        "--accept": "address: desk",
        "--reject": "address: desk",
        "--stop": "address: desk",
        "--printed": "address: desk",
        "--print-again": "address: desk",
    },
    "reprint": {
        **_ONTO,
        "--out": _OUT,
        "--replace": _OUT,
        "--only": "address: again",
        "--order": "address: again",
        "--sheet": "address: again",
        "--list": "not: ticks of the press view are that list",
        "--because": "address: again",
        "--take-new-art": "address: again",
    },
    "print": {
        "--printer": "address: print/send",
        "--sheets": "address: print/check",
        "--again": "address: print/check",
        "--cancel": "address: print/cancel",
        "--accept": "address: print/check",
        "--trust-again": "address: print/check",
        "--test": "not: the page of rulers is under Shop, Printers, to be printed like any PDF",
        "--wait": "not: the page goes on looking until the paper is there, or the person stops it",
    },
    "printers": {
        "--printer": "address: printers",
        "--copy-to": "address: printers",
        "--paper": "not: a printer that is named gets the widest edges of the papers it takes",
        "--trust-again": "address: print/check",
    },
    "open": {
        "--no-browser": "not: opens the page",
        "--icon": "not: opens the page",
        "--desk": "not: opens the page",
    },
}


def where(command: str, option: str) -> str:
    """Where the page has an option of a command; empty where nobody has said."""
    if command == "watch":
        return "not: watching is a program of its own, which goes on without a page"
    if command == "calibrate" and option in ("--paper", "--printer"):
        return "address: calibration"
    if command in ("desk", "reprint", "check", "print", "printers") and option in PLACES[command]:
        return PLACES[command][option]
    return PLACES.get(command, {}).get(option) or _BATCH.get(option, "")


ALL = [
    (name, max(parameter.opts, key=len))
    for name, command in cli.commands.items()
    for parameter in command.params
    if parameter.param_type_name == "option"
]


@pytest.mark.parametrize(("command", "option"), ALL)
def test_an_option_has_a_place_or_a_reason(command, option):
    kind, _, rest = where(command, option).partition(": ")
    assert kind in ("address", "choice", "not"), f"{command} {option}: nobody has said where the page has it"
    if kind == "choice":
        assert rest in NAMES
    elif kind == "address":
        assert any(f"/{rest}" in route[0] or f"{rest}|" in route[0] or f"|{rest}" in route[0] for route in ROUTES)
    else:
        assert len(rest) > 10


def test_nothing_is_told_of_options_that_are_not_there():
    known = {option for _, option in ALL}
    told = {option for places in PLACES.values() for option in places} | set(_BATCH)
    assert told - known <= {"--help", "--csv", "--by"}
