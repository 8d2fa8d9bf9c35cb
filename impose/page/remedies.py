"""What the page says for a remedy: as what to do on the page, never as a command or an option."""

from __future__ import annotations

from collections.abc import Mapping

from impose.remedies import Wording

WORDINGS: Mapping[str, Wording] = {
    "erase-haze": "Take it off here, or erase it in the artwork; the view shows it twelve times as strong.",
    "clear-ground": "Have it made white here, or make the ground transparent in the artwork.",
    "mend-ground": "Have it made white here, or make the ground transparent in the artwork.",
    "erase-spots": "Drop them here if they are dirt, or erase them in the artwork.",
    "erase-speck": "Drop it here if it is dirt, or erase it in the artwork.",
    "name-page": "Write the page behind the picture's name, such as “{file}#1”, in the table.",
    "name-wearers": "Write under For who wears each: prints for one name go on one garment.",
    "move-or-name-wearers": (
        "If they are for one garment, choose another place or size for one of them. If they are for two, write under "
        "For who wears each."
    ),
    "part-garments": "Write under For who wears each, such as “Ada 1” and “Ada 2”.",
    "part-like-garments": "If they are for different garments, write under For who wears each.",
    "move-overlapping": (
        "Choose another place or size for one of them, or write under For who wears each. Go on as it is if one is "
        "meant to lie within the other."
    ),
    "decide-orientation": "Choose whether it is to be turned or printed as it is stored.",
    "perceptual-intent": "Choose the perceptual intent under More.",
    "relative-intent": "Choose the relative intent under More, which keeps blank paper blank.",
    "other-output": "Choose another name.",
    "name-in-art-folder": "Drop the picture on the page again.",
    "find-artwork": "Drop the picture on the page again, or choose another one for the row.",
    "check-art-folder": "Drop the picture on the page again.",
    "move-into-art-folder": "Drop the picture on the page.",
    "put-artwork-back": "Drop the old picture on the page again.",
    "find-art-folder": "Drop the picture on the page again.",
    "map-columns": "{first} Or show the page which heading is which.",
    "leave-columns-out": "Drop an export of your orders.",
    "add-size-column": "Choose a place, or write a width or a height.",
    "give-size": "Choose a place, or write a width or a height.",
    "measure-width": "Measure the garment and write a width.",
    "enter-figure": "Measure one and write a width; or enter your own figure for {placement} on {garment} under Shop.",
    "list-profiles": "The page Shop shows what there is.",
    "copy-profiles": "Enter your own under Shop.",
    "name-profiles": "Enter your own under Shop.",
    "write-cost": "Write its cost under Shop.",
    "add-output-profile": "Choose an output profile under More, or leave the intent out.",
    "smaller-or-larger-paper": "Write a smaller size, or choose a larger paper.",
    "smaller-or-shrink": "Write a smaller size, choose a larger paper, or have it made smaller.",
    "smaller-or-parted": "Write a smaller size, choose a larger paper, or have it made smaller or in panels.",
    "larger-paper": "Choose a larger paper.",
    "same-or-larger-paper": "Choose the paper it was printed on, or a larger one.",
    "offer-paper": "Choose it as well: {paper}.",
    "offer-papers": "Choose it as well: {paper}, or beside what is left with {papers} ({cost}).",
    "correct-count-or-offer": "Correct the count under Shop if it is wrong, or choose another paper as well.",
    "correct-count": "Other work has taken it meanwhile. Correct the count under Shop, or make it again.",
    "count-first": "Count {paper} first.",
    "count-again": "Count what is left and enter it as the new count.",
    "leave-straight-cuts": "Leave straight cuts out to save it.",
    "keep-less-clear": "Part the batch, or go on with new paper.",
    "name-prints": "Mark what is to be made again.",
    "name-whole-sheet": "A sheet was printed or it was not: mark all of it, or give another reason.",
    "take-new-art": "Put the old picture back, or choose to print the new one.",
    "take-outlines": "Choose to print the new ones: they are outlines of the same size.",
    "take-new-words": "Bring their typeface back, or choose to print them as they are set now.",
    "ask-again": "Send the customer the new page, and note the new answer. Or put it back.",
    "save-readings": "Enter these readings under Shop, for the paper {paper} and the printer {printer}.",
    "measure-ruler": "Measure the ruler {name} and enter what you read.",
    "write-reading": "Write a length, such as 199.6 mm.",
    "print-list-again": "Mark them under Press.",
    # Printing
    "load-paper": "Load {paper}, coated side as the printer takes it. Then look again.",
    "look-at-panel": "Look at its panel. Then look again here.",
    "switch-printer-on": "See that it is switched on and in this network. Then look again here.",
    "wait-for-sender": "Wait until it has finished. Then look again here.",
    "send-later": "Try it again later.",
    "learn-what-came": "Look at the printer. It is asked again once you look here.",
    "clean-head": "Clean the head and check again. Then answer anew.",
    "accept-kind": "Look at the proof. Then agree to it here.",
    "make-for-printer": "Choose the printer {printer} under More and make the sheets again, or agree to it here.",
    "make-for-its-papers": "Choose a paper that it takes, and make the sheets again.",
    "make-for-its-edges": "Enter its edges ({edges}) under Shop, Printers, and make the sheets again.",
    "make-for-its-edges-or-accept": (
        "Enter its edges ({edges}) under Shop, Printers, and make the sheets again. Nothing lies there on these "
        "sheets: agree to it here and they print whole."
    ),
    "test-its-scaling": "Measure it under Shop, Printers. If the page is true to size, agree to it here.",
    "test-media-type": "Print the page of rulers with it (Shop, Printers). If it is readable, agree to it here.",
    "print-test-page": "Measure it under Shop, Printers: scale and colours belong to one way and one kind of paper.",
    "print-new-test-page": "Measure it anew under Shop, Printers; or agree to it here.",
    "read-test-page": "Enter what you read on its page under Shop, Printers: {printer}, {paper}.",
    "copy-then-read-test-page": "Name the printer at {address} under Shop, Printers, and enter what you read there.",
    "print-first-test": "measure it under Shop, Printers",
    "colours-for-dots": "Make the sheets without an output profile (More), or agree to it here.",
    "name-that-printer": "Choose that printer here: {printer}.",
    "print-unsure-again": "Look at the printer. If sheets {sheets} are not there, print them again.",
    "print-printed-again": "Ask here to print them once more.",
    "see-what-it-takes": "Nothing was printed. Save the PDF and print it with the printer's own program.",
    "write-address": "Find it under Shop, Printers.",
    "trust-changed": (
        "If it was reset or exchanged, agree to the new one here. If not, something else answers in its place."
    ),
    "trust-new": "Compare it with what the printer's own page shows, and agree to it here.",
    "say-sublimation-ink": "Say so here.",
    # The desk
    "new-desk": "Choose a desk's folder.",
    "start-desk": "Start it by its icon.",
    "start-desk-again": "Start it again by its icon.",
    "accept-delivery": "accept it",
    "answer-delivery": "Accept or reject it.",
    "correct-ledger-count": "correct the count under Shop",
}
