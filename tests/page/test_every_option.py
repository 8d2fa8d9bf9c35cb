"""Every option of every command, and where the page has it; or why it is not there.

The page's places are named by what its script sends: an address, an operation, a choice of the batch ("choice: …").
"""

from __future__ import annotations

from importlib.resources import files

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
        "--first": "address: make",
        "--printed": "address: make",
    },
    "quote": {
        "--out": "not: the page shows it; a file of it is the command's",
        "--csv": "not: the page shows it; a file of it is the command's",
        "--blanks": "not: the page's output holds the list, as blanks.csv",
        "--by": "address: quote",
    },
    "check": {"--agreed": "address: agreed", "--order": "address: agreed", "--on": "address: agreed"},
    "profiles": {
        "--pack": "not: a whole shop is moved to another computer by the command",
        "--unpack": "not: it goes with packing",
        "--replace": "not: it goes with packing",
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
    "guide": {
        "--placement": "address: guide",
        "--garment": "address: guide",
        "--paper": "address: guide",
        "--out": "not: the page is shown, to be printed or saved",
        "--replace": "not: it is made anew each time",
    },
    "colours": {
        "--colour": "address: colours",
        "--out": "not: the page is shown, to be printed or saved",
        "--replace": "not: it is made anew each time",
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
        "--garment": "not: a spoiled garment is ticked in the press view, which makes all its prints again",
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
    "again": {
        "--roster": "address: again-batch",
        "--listed-only": "address: again-batch",
        "--order": "address: again-batch",
        "--take-new-art": "address: again-batch",
        "--out": "not: it lies beside the other batches, under a free name",
    },
    "find": {"--add": "not: what the page makes is entered as it is made; older sheets by the command"},
    "spoilage": {"--since": "not: the count is the command's"},
    "price": {
        "--no-offers": "address: price",
        "--replace": "address: price",
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
    if command in ("desk", "reprint", "check", "print", "printers", "again", "price") and option in PLACES[command]:
        return PLACES[command][option]
    return PLACES.get(command, {}).get(option) or _BATCH.get(option, "")


ALL = [
    (name, max(parameter.opts, key=len))
    for name, command in cli.commands.items()
    for parameter in command.params
    if parameter.param_type_name == "option"
]


def test_an_option_has_a_place_or_a_reason():
    assert len(ALL) > 300
    for command, option in ALL:
        kind, _, rest = where(command, option).partition(": ")
        assert kind in ("address", "choice", "not"), f"{command} {option}: nobody has said where the page has it"
        if kind == "choice":
            assert rest in NAMES, (command, option)
        elif kind == "address":
            found = (f"/{rest}" in route[0] or f"{rest}|" in route[0] or f"|{rest}" in route[0] for route in ROUTES)
            assert any(found), (command, option)
        else:
            assert len(rest) > 10, (command, option)


SENT = {
    "sheets": {"--onto": "onto: {", "--onto-sheet": "sheets: [...wish.sheets]", "--onto-clear": "clear: wish.clear",
               "--replace": "replace: wish.made", "--preview": "preview: true",
               "--first": "first: true", "--printed": "printed: wish.printed"},
    "reprint": {"--onto": "onto, new_art", "--onto-sheet": "sheet: wish.onto", "--only": "ids: page.again.ids",
                "--order": '"orders", "Whole orders"', "--sheet": '"sheets", "Whole sheets"',
                "--because": "because: wish.because", "--take-new-art": "new_art: wish.newArt"},
    "check": {"--agreed": "/agreed`", "--order": "order: order.order", "--on": "on: said.on"},
    "desk": {"--make-now": '"make-now"', "--accept": '"accept"', "--reject": '"reject"', "--stop": '"stop"',
             "--printed": '"printed"', "--print-again": '"print-again"'},
    "stock": {"--set": '"set"', "--add": '"add"', "--waste": '"waste"', "--stop": '"stop"', "--because": "said.because",
              "--history": "/api/shop/stock"},
    "calibrate": {"--read": "/calibration/readings", "--read-to": "read_to"},
    "quote": {"--by": "result.levels"},
    "colours": {"--colour": "colours: page.named"},
    "guide": {"--placement": "placement: wish.placement", "--garment": "garment: [wish.kind",
              "--paper": "paper: wish.paper"},
    "again": {"--roster": "roster: wish.roster", "--listed-only": "listed_only: wish.listed",
              "--order": "orders: [...wish.orders], roster", "--take-new-art": "take_new_art: wish.art"},
    "price": {"--no-offers": "reckon({})", "--replace": "write: true, replace: true"},
}  # fmt: skip
"""What the page's script sends for an option: an address that no button asks is no place."""


def test_what_has_an_address_is_asked_by_the_script():
    script = "\n".join(
        path.read_text("utf-8") for path in (files("impose.page") / "static").iterdir() if path.name.endswith(".js")
    )
    for command, options in PLACES.items():
        for option, place in options.items():
            if place.startswith("address: ") and command not in ("print", "printers", "profiles"):
                words = SENT[command].get(option)
                if (command, option) == ("reprint", "--onto-clear"):
                    continue
                assert words is not None, f"{command} {option}: nobody has said what the script sends"
                assert words in script, f"{command} {option}: no button sends it"


def test_nothing_is_told_of_options_that_are_not_there():
    known = {option for _, option in ALL}
    told = {option for places in PLACES.values() for option in places} | set(_BATCH)
    assert told - known <= {"--help", "--csv", "--by"}
