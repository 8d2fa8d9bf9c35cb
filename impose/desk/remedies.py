"""What the desk says for a remedy: to whoever drops files, and to whoever started it.

Nobody types an option beside a dropped file, so what needs one is said as what to change in the file or its name, or
as the command that does at the command line what the desk cannot.
"""

from __future__ import annotations

from collections.abc import Mapping

from impose.remedies import Wording

WORDINGS: Mapping[str, Wording] = {
    "erase-haze": (
        "Erase it in the artwork, or start the desk with --clean-haze; the view shows it twelve times as strong."
    ),
    "clear-ground": "Make the ground white or transparent in the artwork, or start the desk with --clean-haze.",
    "mend-ground": (
        "Write ground into the column mend of a list, start the desk with --mend ground, or erase it in the artwork."
    ),
    "name-page": "Call the file “{stem} (page 1).pdf”, or name “{file}#1” in a list.",
    "erase-spots": "Erase them, if they are dirt, or start the desk with --drop-specks.",
    "erase-speck": "Erase it if that is dirt, or start the desk with --drop-specks.",
    "decide-orientation": "Save it anew in a picture program, the way it is to be printed, and drop that file.",
    "name-in-art-folder": "Put it beside the list and name it from there.",
    "find-artwork": "Check the spelling, and that the file lies beside the list.",
    "move-into-art-folder": "Put it beside the list.",
    "give-size": "Write a placement or a size into its name, or drop it into a placement's folder.",
    "measure-width": "Measure the garment and write a width into its name.",
    "add-size-column": "Add one of them.",
    "map-columns": (
        "{first} Or leave the file as it is: whoever set up the desk can start it with --columns FILE, which says "
        "which heading means what (docs: orders)."
    ),
    "correct-count-or-offer": "Correct the count if it is wrong (impose stock), or start the desk with more papers.",
    "print-list-again": ("save it, and drop it into the desk's folder in; or run: impose reprint FOLDER --list {list}"),
    "accept-kind": "Look at its proof.html; --print-again with its number prints it all the same.",
    "print-new-test-page": (
        "Print a new one with “impose print FOLDER --test” and measure it, or start the desk with "
        "--accept path-changed."
    ),
    "test-its-scaling": (
        "Print a test page with “impose print FOLDER --test”; if it is true, start the desk with "
        "--accept print-scaling."
    ),
    "test-media-type": "Print a test page with it; if its words are readable, start the desk with --accept media-type.",
    "make-for-printer": "Start the desk with --printer {printer}, or with --accept printer-scale.",
    "print-test-page": "Print one with “impose print FOLDER --test” and measure it.",
    "trust-changed": (
        "If it was reset or exchanged: impose printers NAME --trust-again, with the desk's ledger. If not, something "
        "else answers in its place."
    ),
    "trust-new": (
        "Compare it with what the printer's own page shows, then: impose printers NAME --trust-again, with the desk's "
        "ledger."
    ),
    "say-sublimation-ink": "Write sublimation_ink = true into its table in printers.toml.",
    "answer-print": "impose desk {desk} --printed {number}, or --print-again {number}",
    "adopt-desk": (
        "Connect it and start again. To begin a new desk there: impose desk --new {desk}, or start with --adopt."
    ),
    "adopt-ledger": "Connect it, or begin a new ledger with --adopt.",
    "own-ledger": "Give each desk a ledger of its own, or leave out --ledger.",
    "answer-delivery": "impose desk {desk} --accept {number}, or --reject {number}",
    "adopt-replaced-folder": "if it was replaced, start with --adopt",
    "adopt-other-folder": "to take it, start with --adopt",
    "correct-ledger-count": "correct the count with impose stock --ledger",
    "repeat-later": (
        "With --once a repeat is not made. Change its name, copies or size, or drop it while impose watch runs "
        "without --once."
    ),
    "reprint-from-folder": (
        "Put the folder of that batch back into the desk's folder sheets, or, where the folder is now: "
        "impose reprint FOLDER --list FILE."
    ),
    "say-which-batch": "Say which one at the command line: impose reprint FOLDER --list FILE.",
    "reprint-what-is-there": (
        "{back}, or print what you have at the command line: impose reprint {folder} --list FILE, "
        "with --take-new-art or --art DIR."
    ),
}
