"""What the command line says for a remedy: the option or the command that does it."""

from __future__ import annotations

from collections.abc import Mapping

from impose.remedies import Wording

_LARGER = "Give a smaller size, offer a larger paper with -p, use a printer with smaller edges"


def _offer_papers(paper: str, papers: str, cost: str) -> str:
    names = " ".join(f"-p {name}" for name in papers.split())
    return f"Offer it with -p {paper}, or beside what is left with {names} ({cost})."


WORDINGS: Mapping[str, Wording] = {
    # Artwork
    "erase-haze": "Use --clean-haze, or erase it in the artwork; the view shows it twelve times as strong.",
    "clear-ground": "Use --clean-haze, or make the ground white or transparent in the artwork.",
    "mend-ground": "Use --mend ground, or write ground into the row's column mend, or erase it in the artwork.",
    "erase-spots": "Use --drop-specks, or erase them, if they are dirt.",
    "erase-speck": "Use --drop-specks if that is dirt.",
    "perceptual-intent": "Choose --intent perceptual, or ask for a profile that has it.",
    "relative-intent": "Use --intent relative, which keeps blank paper blank.",
    "name-colour": "Name one with --colour, such as --colour “#C81E28”, or give artwork with flat colours.",
    "decide-orientation": (
        "Use --orientation apply to turn it, --orientation ignore to print it as stored; look at the proof."
    ),
    # Files and folders
    "other-output": "Choose another folder with -o, or pass --replace to exchange an earlier output.",
    "other-folder": "Choose another folder with -o.",
    "other-page": "Choose another name with -o, or pass --replace.",
    "measure-ruler": "Measure the ruler {name} and add {name}={asked} (what you read).",
    "write-reading": "Write name=length, such as across=199.6 along=199.2.",
    "reach-ledger": "See that the place can be reached, or pass --ledger FILE.",
    "write-ledger": "Allow writing to the file and its folder, or pass --ledger FILE.",
    "other-ledger": "Give another file with --ledger; this one was left alone.",
    "newer-program": "Use that version, or another file with --ledger.",
    # Orders
    "name-in-art-folder": "Name it from the folder of the CSV, or give that folder with --art.",
    "find-artwork": "Check the spelling, and that the file lies in the folder of the CSV or the one given with --art.",
    "check-art-folder": "Check --art.",
    "move-into-art-folder": "Move it there, or name another folder with --art.",
    "put-artwork-back": "Put it back, or name the folder it lies in with --art.",
    "find-art-folder": "Run this where the sheets were made, or name the folder with --art.",
    "use-reprint-list": "Give it to the folder that they were printed from: impose reprint FOLDER --list {list}",
    "map-columns": (
        "{first} Or leave the file as it is and say with --columns FILE which heading means what (docs: orders)."
    ),
    "leave-columns-out": "Give a CSV or .xlsx, or leave --columns out.",
    "add-size-column": "Add one of them, or give --placement, --width or --height.",
    "give-size": "Give --placement, --width or --height.",
    "measure-width": "Measure the garment and give --width.",
    "enter-figure": (
        "Measure one and give a width; or enter your own figure once, such as: "
        'impose profiles --enter {placement} "{garment}" width 9in'
    ),
    # Profiles and settings
    "list-profiles": "“impose profiles papers” lists those on file.",
    "copy-profiles": "“impose profiles --copy-to DIR” makes one.",
    "replace-profiles": "Pass --replace; what is there is kept in a folder beside.",
    "name-profiles": "Give --profiles DIR, or set IMPOSE_PROFILES.",
    "write-cost": "Write its cost into a papers.toml of your own (impose profiles papers --copy-to DIR).",
    "add-output-profile": "Add --output-profile FILE, or leave --intent out.",
    "leave-intent-out": "Leave --intent and --no-black-point out to get the same colours.",
    "same-output-profile": "Pass the same --output-profile to get the same colours.",
    "print-table": "Run the same without --profiles: it prints the table, to be put in by hand.",
    # Paper and sheets
    "smaller-or-larger-paper": f"{_LARGER}.",
    "smaller-or-shrink": f"{_LARGER}, or ask for --oversize shrink.",
    "smaller-or-parted": f"{_LARGER}, or ask for --oversize shrink or --oversize panels.",
    "larger-paper": "Name a larger paper with -p.",
    "same-or-larger-paper": "Offer the paper it was printed on, or a larger one, with -p.",
    "offer-paper": "Offer it with -p {paper}.",
    "offer-papers": _offer_papers,
    "correct-count-or-offer": ("Correct the count if it is wrong (impose stock), or offer another paper as well (-p)."),
    "correct-count": "Other work has taken it meanwhile. Run again, or correct the count with: impose stock",
    "count-first": "Count it first: impose stock {paper} --set N",
    "count-again": "Count what is left: impose stock {paper} --set N",
    "leave-straight-cuts": "Leave out --straight-cuts to save it.",
    "keep-less-clear": "Keep less clear with --onto-clear, turn or part the batch, or go on with the new paper.",
    # Reprints and answers
    "name-prints": "Give --only ID,ID or --order or --sheet or --garment or --list.",
    "name-whole-sheet": ("A sheet was printed or it was not: name all of it with --sheet, or give another reason."),
    "take-new-art": "Put the old file back, or pass --take-new-art to print what is there now.",
    "take-outlines": "Pass --take-new-art to print them as outlines in the same size.",
    "take-new-words": (
        "Bring their style or font file back, or pass --take-new-art to print them as they are set now."
    ),
    "choose-order": "Add --order with one of: {names}.",
    "ask-again": (
        "Send the customer the new page, and note the new answer: impose check FOLDER --agreed NAME. Or put it back."
    ),
    # Pages
    "save-readings": (
        "impose calibrate -p {paper} --printer {printer} --profiles DIR --read "
        '"across=… along=… left=… top=… right=… bottom=…"'
    ),
    "print-list-again": "save it, and run: impose reprint FOLDER --list {list}",
    # Printing
    "accept-kind": "Look at proof.html. To print all the same: --accept {kind}",
    "make-for-printer": "Make them with --printer {printer}, or agree with --accept printer-scale.",
    "make-for-its-papers": "Make the sheets for a paper it takes: “impose printers” with its name lists them.",
    "make-for-its-edges": "Make the sheets for its edges ({edges}): “impose printers --copy-to DIR” writes them down.",
    "make-for-its-edges-or-accept": (
        "Make the sheets for its edges ({edges}): “impose printers --copy-to DIR” writes them down. Nothing lies there "
        "on these sheets, so that --accept printer-edges prints them whole."
    ),
    "test-its-scaling": "Print a test page and measure it (--test); if it is true, agree with --accept print-scaling.",
    "test-media-type": (
        "Print a test page with it (--test); if its words are readable, agree with --accept media-type."
    ),
    "print-test-page": (
        "Print one with --test and measure it: scale and colours belong to one way and one media type."
    ),
    "print-new-test-page": "Print a new one with --test and measure it, or agree with --accept path-changed.",
    "read-test-page": (
        "The test page is printed: follow its steps, then: impose calibrate -p {paper} --printer {printer} "
        '--profiles DIR --read "across=… along=… left=… top=… right=… bottom=…"'
    ),
    "copy-then-read-test-page": (
        "The test page is printed. Write the printer down: impose printers {address} --copy-to DIR. Then follow the "
        "page's steps, and enter what you read with impose calibrate."
    ),
    "print-first-test": "impose print FOLDER --test",
    "colours-for-dots": (
        "Make the sheets with --output-profile none, print through the queue, or agree with --accept output-profile."
    ),
    "name-that-printer": "Follow it with --printer {printer}",
    "print-unsure-again": "Look at the printer. If they are not there: --sheets {sheets} --again",
    "print-printed-again": "To print them once more: --again, with --sheets for some of them.",
    "see-what-it-takes": "Nothing was printed. “impose printers” with its name shows what it takes.",
    "write-address": (
        'Write address = "ipp://…" into its table in printers.toml; “impose printers” shows what is there.'
    ),
    "trust-changed": ("If it was reset or exchanged, pass --trust-again. If not, something else answers in its place."),
    "trust-new": (
        "Compare it with what the printer's own page shows; run the same in a terminal and say yes, or pass "
        "--trust-again."
    ),
    "say-sublimation-ink": (
        "Run the same in a terminal and say so, or write sublimation_ink = true into its table in printers.toml."
    ),
    "replace-offers": "Move them away, or replace them with --replace.",
    "enter-made": "Nothing that was made is lost. Enter its folder later: impose find --add FOLDER",
    # The desk
    "new-desk": "Make one with: impose desk --new {desk}",
    "start-desk": "start with: impose watch {desk}",
    "start-desk-again": "start it again with: impose watch {desk}",
    "accept-delivery": "impose desk {desk} --accept {number}",
    "adopt-desk": (
        "Connect it and start again. To begin a new desk there: impose desk --new {desk}, or start with --adopt."
    ),
    "adopt-ledger": "Connect it, or begin a new ledger with --adopt.",
    "adopt-replaced-folder": "if it was replaced, start with --adopt",
    "adopt-other-folder": "to take it, start with --adopt",
    "own-ledger": "Give each desk a ledger of its own, or leave out --ledger.",
}
