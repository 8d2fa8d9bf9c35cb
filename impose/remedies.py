"""How a finding is mended, as a code and its arguments: open to every room, worded by each door.

Below the doors it is not known whether a person types commands, drops files or calls the library, so no flag and no
command is named there. A `Remedy` is words that are true at every door, and it knows its code and arguments; a door
that has better words, such as the name of an option, puts its table in force with `word_remedies`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from types import MappingProxyType

Wording = str | Callable[..., str]
"""A sentence with the arguments in braces, or a function of them."""

PLAIN: Mapping[str, Wording] = MappingProxyType(
    {
        # Artwork
        "erase-haze": "Have haze cleaned off, or erase it in the artwork; the view shows it twelve times as strong.",
        "clear-ground": "Have haze cleaned off, or make the ground white or transparent in the artwork.",
        "mend-ground": "Have the ground made white in this row, or erase it in the artwork.",
        "erase-ground": "Erase it in the artwork: part of it is inside the outline of what is drawn and may be meant.",
        "name-page": "Name one, such as “{file}#1”.",
        "erase-spots": "Have specks dropped, or erase them, if they are dirt.",
        "erase-far-dots": "Erase them in the artwork, if they are dirt: the print is sized and centred with them.",
        "erase-speck": "Have specks dropped if that is dirt.",
        "perceptual-intent": "Choose the perceptual intent, or ask for a profile that has it.",
        "relative-intent": "Use the relative intent, which keeps blank paper blank.",
        "name-colour": "Name a colour, such as #C81E28, or artwork with flat colours.",
        "decide-orientation": "Say whether it is to be turned or printed as stored; look at the proof.",
        # Files and folders
        "other-output": "Choose another folder, or allow an earlier output to be replaced.",
        "other-folder": "Choose another folder.",
        "other-page": "Choose another name, or allow an earlier page to be replaced.",
        "measure-ruler": "Measure the ruler {name} and give what you read.",
        "write-reading": "Give a length, such as 199.6 mm.",
        "reach-ledger": "See that the place can be reached, or name another file.",
        "write-ledger": "Allow writing to the file and its folder, or name another file.",
        "other-ledger": "Give another file; this one was left alone.",
        "replace-offers": "Move them away, or allow them to be replaced.",
        "enter-made": "Nothing that was made is lost. Enter its folder later.",
        "newer-program": "Use that version, or another file.",
        # Orders
        "name-in-art-folder": "Name it from the folder of the CSV, or say which folder files are named from.",
        "find-artwork": "Check the spelling, and that the file lies in the folder that files are named from.",
        "check-art-folder": "Check the folder that files are named from.",
        "move-into-art-folder": "Move it there, or name another folder for the artwork.",
        "put-artwork-back": "Put it back, or name the folder it lies in.",
        "find-art-folder": "Run this where the sheets were made, or name the folder of the artwork.",
        "use-reprint-list": "Give it to the folder that they were printed from, as a list of reprints.",
        "map-columns": "{first} Or leave the file as it is and give a column map (docs: orders).",
        "leave-columns-out": "Give a CSV or .xlsx, or leave the column map out.",
        "add-size-column": "Add one of them, or give a placement or a size for all rows.",
        "give-size": "Give a placement or a size.",
        "measure-width": "Measure the garment and give a width.",
        "enter-figure": "Measure one and give a width; or enter your own figure for {placement} on {garment} once.",
        # Profiles and settings
        "list-profiles": "The profiles on file are listed by name.",
        "copy-profiles": "Copy the shipped profiles into a folder of your own.",
        "name-profiles": "Name the folder of your own profiles.",
        "replace-profiles": "Have them replaced; what is there is kept in a folder beside.",
        "write-cost": "Write its cost into a papers.toml of your own.",
        "add-output-profile": "Add an output profile, or leave the intent out.",
        "leave-intent-out": "Leave intent and black point out to get the same colours.",
        "same-output-profile": "Use the same output profile to get the same colours.",
        "print-table": "Ask for the table without naming a folder, and put it in by hand.",
        # Paper and sheets
        "smaller-or-larger-paper": "Give a smaller size, offer a larger paper, use a printer with smaller edges.",
        "smaller-or-shrink": (
            "Give a smaller size, offer a larger paper, use a printer with smaller edges, or have it shrunk."
        ),
        "smaller-or-parted": (
            "Give a smaller size, offer a larger paper, use a printer with smaller edges, "
            "or have it shrunk or printed in panels."
        ),
        "larger-paper": "Name a larger paper.",
        "same-or-larger-paper": "Offer the paper it was printed on, or a larger one.",
        "offer-paper": "Offer it: {paper}.",
        "offer-papers": "Offer it: {paper}, or beside what is left with {papers} ({cost}).",
        "correct-count-or-offer": "Correct the count if it is wrong, or offer another paper as well.",
        "correct-count": "Other work has taken it meanwhile. Run again, or correct the count.",
        "count-first": "Count {paper} first.",
        "count-again": "Count what is left and set it.",
        "leave-straight-cuts": "Leave straight cuts out to save it.",
        "keep-less-clear": "Keep less clear, turn or part the batch, or go on with the new paper.",
        # Garments
        "name-wearers": (
            "Say in the column wearer which garments are meant, such as “1” and “2”: rows of one wearer go on one "
            "garment."
        ),
        "move-or-name-wearers": (
            "Place or size one of them otherwise if they are for one garment. If not, say in the column wearer which "
            "garments are meant, such as “1” and “2”."
        ),
        "part-garments": "Tell the garments apart in the column wearer or garment, such as “Ada 1” and “Ada 2”.",
        "part-like-garments": "If they are for different garments, tell those apart in the column wearer.",
        "move-overlapping": (
            "Place or size one of them otherwise, or tell two garments apart in the column wearer; accept "
            "prints-overlap if one is meant to lie within the other."
        ),
        # Reprints and answers
        "name-prints": "Name prints, an order, a sheet or a list.",
        "name-whole-sheet": "A sheet was printed or it was not: name all of it, or give another reason.",
        "take-new-art": "Put the old file back, or allow what is there now to be printed.",
        "take-outlines": "Allow new artwork, to print them as outlines in the same size.",
        "take-new-words": "Bring their style or font file back, or allow them to be printed as they are set now.",
        "choose-order": "Name one of: {names}.",
        "ask-again": "Send the customer the new page, and note the new answer. Or put it back.",
        # Pages
        "save-readings": "Give these readings to impose, for the paper {paper} and the printer {printer}.",
        "print-list-again": "save it, and give it to impose as a list of reprints: {list}",
        # Printing
        "load-paper": "Load {paper}, coated side as the printer takes it, and run the same again.",
        "look-at-panel": "Look at its panel, then run the same again.",
        "switch-printer-on": "See that it is switched on and in this network, then run the same again.",
        "wait-for-sender": "Wait until it has finished, then run the same again.",
        "send-later": "Run the same again later.",
        "learn-what-came": "Look at the printer; run the same again to learn what became of it.",
        "clean-head": "Clean the head and check again, then run the same.",
        "accept-kind": "Look at the proof. To print all the same, accept findings of the kind {kind}.",
        "make-for-printer": "Make them for the printer {printer}, or accept printer-scale.",
        "make-for-its-papers": "Make the sheets for a paper that it takes.",
        "make-for-its-edges": "Make the sheets for its edges ({edges}).",
        "make-for-its-edges-or-accept": (
            "Make the sheets for its edges ({edges}). Nothing lies there on these sheets: with printer-edges accepted "
            "they print whole."
        ),
        "test-its-scaling": "Print a test page and measure it; if it is true, accept print-scaling.",
        "test-media-type": "Print a test page with it; if its words are readable, accept media-type.",
        "print-test-page": "Print one and measure it: scale and colours belong to one way and one media type.",
        "print-new-test-page": "Print a new test page and measure it; or accept path-changed.",
        "print-first-test": "print one with the first sheets",
        "read-test-page": (
            "The test page is printed: follow its steps, then give its readings for {printer} on {paper}."
        ),
        "copy-then-read-test-page": (
            "The test page is printed. Write the printer at {address} into printers.toml, follow the page's steps, and "
            "give its readings."
        ),
        "colours-for-dots": (
            "Make the sheets without an output profile, print through the queue, or accept output-profile."
        ),
        "name-that-printer": "Follow it there: {printer}.",
        "print-unsure-again": "Look at the printer. If they are not there, ask for sheets {sheets} again.",
        "print-printed-again": "Ask for them again to print them once more.",
        "see-what-it-takes": "Nothing was printed. What the printer says of itself shows what it takes.",
        "write-address": 'Write address = "ipp://…" into its table in printers.toml.',
        "trust-changed": (
            "If it was reset or exchanged, agree to the new one. If not, something else answers in its place."
        ),
        "trust-new": "Compare it with what the printer's own page shows, and agree to it.",
        "say-sublimation-ink": "Say so, or write sublimation_ink = true into its table in printers.toml.",
        "answer-print": "say whether it is on paper, or let it be printed: {desk}, delivery {number}",
        # The desk
        "new-desk": "Make one there: {desk}",
        "start-desk": "start it: {desk}",
        "start-desk-again": "start it again: {desk}",
        "accept-delivery": "accept it",
        "answer-delivery": "accept or reject it",
        "adopt-desk": "Connect it and start again. Or begin a new desk there.",
        "adopt-ledger": "Connect it, or begin a new ledger.",
        "adopt-replaced-folder": "if it was replaced, start the desk with leave to adopt it",
        "adopt-other-folder": "to take it, start the desk with leave to adopt it",
        "own-ledger": "Give each desk a ledger of its own.",
        "correct-ledger-count": "correct the count",
        "repeat-later": "In a single pass a repeat is not made. Change its name, copies or size.",
        "reprint-from-folder": (
            "Put the folder of that batch back into the desk's folder sheets, or reprint from where the folder is now."
        ),
        "say-which-batch": "Reprint from the folder of the right one.",
        "reprint-what-is-there": "{back}, or reprint with leave to take new artwork.",
    }
)
"""Every code, in words that are true at every door."""

_in_force: Mapping[str, Wording] = PLAIN


class Remedy(str):
    """The plain words of a code with its arguments; `str` and f-strings give those of the door that prints it.

    Raises KeyError for a code that is not in `PLAIN`, or an argument that its words ask for and nobody gave.
    """

    code: str
    arguments: dict[str, str]

    def __new__(cls, code: str, **arguments: str) -> Remedy:
        """With every argument that its words ask for."""
        self = super().__new__(cls, _fill_wording(PLAIN[code], arguments, PLAIN))
        self.code, self.arguments = code, arguments
        return self

    def __str__(self) -> str:
        return self.word_remedy(_in_force)

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)

    def __reduce__(self) -> tuple[Callable[..., Remedy], tuple[str, dict[str, str]]]:
        return _make_again, (self.code, self.arguments)

    def word_remedy(self, wordings: Mapping[str, Wording]) -> str:
        """In the words of a door's table; plain ones where it has none."""
        return _fill_wording(wordings.get(self.code, PLAIN[self.code]), self.arguments, wordings)


def _make_again(code: str, arguments: Mapping[str, str]) -> Remedy:
    return Remedy(code, **arguments)


def _fill_wording(wording: Wording, arguments: Mapping[str, str], wordings: Mapping[str, Wording]) -> str:
    told = {
        name: argument.word_remedy(wordings) if isinstance(argument, Remedy) else argument
        for name, argument in arguments.items()
    }
    return wording.format(**told) if isinstance(wording, str) else wording(**told)


@contextmanager
def word_remedies(wordings: Mapping[str, Wording]) -> Iterator[None]:
    """Put a door's table in force for the whole process, all its threads too, as long as the door is open."""
    global _in_force
    before, _in_force = _in_force, wordings
    try:
        yield
    finally:
        _in_force = before
