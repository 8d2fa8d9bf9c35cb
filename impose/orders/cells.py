"""Single cells of a batch: copies, lengths, words for yes and no, and what spreadsheets do to them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache, partial
from typing import cast

from impose.errors import quote_text
from impose.file_types import MENDS, ColourChange
from impose.orders.batch import MOST_COPIES, Centre
from impose.orders.findings_log import RemedySource
from impose.profiles.placement import PlacementOffset, TearMargin, parse_offset
from impose.profiles.settings import parse_tear
from impose.profiles.toml_tables import suggest_word
from impose.profiles.word_styles import parse_colour
from impose.units import Bare, LengthError, parse_length

LONGEST_CELL = 2000


class CellError(ValueError):
    """A cell that cannot be taken: `what` is wrong with it, and the `remedy`."""

    def __init__(self, what: str, remedy: RemedySource) -> None:
        self.what, self.help = what, remedy
        super().__init__(what)

    @property
    def remedy(self) -> str:
        """The remedy in words, which may take a search."""
        return self.help if isinstance(self.help, str) else self.help()


_ERRORS = re.compile(r"#(?:N/A|REF!|VALUE!|NAME\?|DIV/0!|NUM!|NULL!|SPILL!|CALC!|GETTING_DATA)|#{3,}", re.I)
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_HALF = re.compile(r"[\ud800-\udfff]")  # no file in UTF-8 has one, but a program's text may
_WRAPPED = re.compile(r'="([^"]*)"')
_MONTH = (
    "(?:jan|feb|fév|mar|mär|mrz|apr|abr|avr|may|mai|mag|jun|juin|giu|jul|juil|lug|aug|ago|aoû|sep|set|oct|okt|ott"
    "|nov|dec|dez|dic|déc|ene|gen)[a-zéûä]*\\.?"
)
_DATE = re.compile(
    rf"[0-9]{{1,2}}\.?[-./ ]{_MONTH}(?:[-./ ][0-9]{{2,4}})?|{_MONTH}[-./ ][0-9]{{1,4}}"
    r"|[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}.*|[0-9]{1,2}[./-][0-9]{1,2}[./-][0-9]{2,4}(?: .*)?",
    re.I,
)
_EXPONENT = re.compile(r"[0-9](?:[.,][0-9]+)?e\+[0-9]+", re.I)


def clean_cell(text: str) -> str:
    """A cell without surrounding space, line breaks made spaces; refuses what is damaged beyond reading."""
    if len(text) > LONGEST_CELL:
        raise CellError(f"a cell of more than {LONGEST_CELL:,} characters", "Shorten it; is a quote missing?")
    plain = " ".join(text.split())
    if control := _CONTROL.search(plain):
        code = f"U+{ord(control[0]):04X}"
        raise CellError(f"a control character, {code}", "Type the cell again or export the file again.")
    if half := _HALF.search(plain):
        raise CellError(f"half of a character, U+{ord(half[0]):04X}", "Type the cell again.")
    if _ERRORS.fullmatch(plain):
        raise CellError("a spreadsheet's error, not a value", "Mend the formula, then export again.")
    return plain


def unwrap_formula(text: str) -> str | None:
    """The text inside ="…", with which exports keep leading zeros; None if there is no such wrapper."""
    match = _WRAPPED.fullmatch(text)
    return match[1].strip() if match else None


def read_order(text: str) -> str:
    """An order's name; one that a spreadsheet has rounded to 1.23E+15 is refused, its digits are gone."""
    if _EXPONENT.fullmatch(text):
        raise CellError(
            "a number that a spreadsheet has rounded, so that its last digits are lost",
            "Set the column to text in the spreadsheet, enter the number again and export again.",
        )
    return text[1:] if re.fullmatch(r"'[0-9]+", text) else text


def read_copies(text: str) -> int:
    """A whole number from 1 to 100,000, in the digits 0 to 9; a spreadsheet's 2,0 and 2.00 are 2.

    Three noughts after a point or a comma may be thousands, and are not taken.
    """
    text = re.sub(r"(?<=[0-9])[.,]0{1,2}", "", text) if re.fullmatch(r"[0-9]+[.,]0{1,2}", text) else text
    if not re.fullmatch(r"[0-9]+", text):
        raise CellError("not a whole number of copies", "Write it with the digits 0 to 9 alone, such as 3.")
    copies = int(text[:12])
    if copies == 0:
        raise CellError("no copies at all", "Write 1 or more, or take the row out.")
    if copies > MOST_COPIES:
        raise CellError(f"more than {MOST_COPIES:,} copies", "Check the number, or split the row.")
    return copies


def read_length(text: str, bare: Bare | None) -> float:
    """A length in mm; a bare number only where heading or option has said what it means."""
    if _DATE.fullmatch(text):
        raise CellError(
            "a date: a spreadsheet makes one of lengths such as 8-1/4",
            "Set the column to text in the spreadsheet and enter the length again, best as 8.25in.",
        )
    text = text[1:] if re.fullmatch(r"'[0-9].*[^'0-9].*", text) else text
    try:
        return parse_length(text, bare)
    except LengthError as error:
        in_heading = " Or put the unit into the heading, as in “width (mm)”." if error.what == "no unit" else ""
        raise CellError(error.what, error.remedy + in_heading) from None


def read_tear(text: str, bare: Bare | None) -> TearMargin:
    """A tear margin: normal, tight or a length."""
    try:
        return parse_tear(text, bare)
    except LengthError as error:
        raise CellError(error.what, error.remedy) from None


def read_offset(text: str, bare: Bare | None) -> PlacementOffset:
    """A distance from a seam to the print: 127 mm from neck seam to top of print."""
    try:
        return parse_offset(text, bare)
    except LengthError as error:
        raise CellError(error.what, error.remedy) from None


def read_centre(text: str) -> Centre:
    """What the ticks are centred on."""
    word = text.casefold()
    word = {"center of mass": "mass", "centre of mass": "mass"}.get(word, word)
    if word not in ("ink", "canvas", "mass"):
        raise CellError("not a way to find the centre", lambda: suggest_word(word, ("ink", "canvas", "mass")))
    return cast("Centre", word)


_YES = {"yes", "y", "true", "1", "on"}
_NO = {"no", "n", "false", "0", "off"}


def read_yes_or_no(text: str) -> bool:
    """Yes or no."""
    word = text.casefold()
    if word not in _YES | _NO:
        raise CellError("neither yes nor no", "Write yes or no.")
    return word in _YES


def read_mend(text: str) -> frozenset[str]:
    """What is mended in a row's artwork, parted like kinds."""
    words = [word for word in re.split(r"[\s,;]+", text.casefold()) if word]
    for word in words:
        if word not in MENDS:
            raise CellError(f"“{word}” is nothing that is mended", f"Write {', '.join(MENDS[:-1])} or {MENDS[-1]}.")
    return share_words(frozenset(words))


_CHANGE = re.compile(r"(\S+?)\s*(?:->|=>|>|→)\s*(\S+)")
_HEX = re.compile(r"#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})")
_AS_CHANGE = "Write it as #C81E28 > #12A05B, or with the number of a patch, #C81E28 > 17; part several by ;"


def read_recolour(text: str) -> tuple[ColourChange, ...]:
    """Flat colours and what takes their place, parted by semicolons or commas; in the order of the first."""
    changes = [_read_change(part.strip()) for part in re.split(r"[;,]", text) if part.strip()]
    named = [change.before for change in changes]
    for colour in named:
        if named.count(colour) > 1:
            raise CellError(f"{colour} is to become two colours", "Write it once.")
    return tuple(sorted(changes))


def _read_change(text: str) -> ColourChange:
    from impose.art.colour_patches import list_patches
    from impose.orders.findings_log import format_spans

    found = _CHANGE.fullmatch(text)
    if not found or not _HEX.fullmatch(found[1]):
        raise CellError(f"{quote_text(text)} is no exchange of colours", _AS_CHANGE)
    before = parse_colour(found[1])
    if _HEX.fullmatch(found[2]):
        change = ColourChange(before, parse_colour(found[2]))
    elif re.fullmatch(r"[0-9]{1,4}", found[2]):
        number, patches = int(found[2]), list_patches(before)
        if number not in patches:
            there = format_spans(sorted(patches))
            raise CellError(f"there is no patch {number} around {before}", f"The page of colours has {there}.")
        change = ColourChange(before, patches[number], number)
    else:
        raise CellError(f"{quote_text(found[2])} is neither a colour nor the number of a patch", _AS_CHANGE)
    if change.after == before:
        raise CellError(f"{before} is to become itself", "Clear the cell, or write another colour.")
    return change


def format_recolour(changes: Sequence[ColourChange]) -> str:
    """Changes as they are written into a cell; a patch by its number."""
    return "; ".join(f"{change.before} > {change.patch or change.after}" for change in changes)


def read_accept(text: str, kinds: frozenset[str] | None) -> frozenset[str]:
    """Kinds of findings that are agreed to, parted by spaces, commas or semicolons."""
    words = [word for word in re.split(r"[\s,;]+", text.casefold()) if word]
    for word in words:
        if not re.fullmatch(r"[a-z][a-z0-9-]*", word):
            raise CellError("not a kind of finding", "Write the kinds as they are printed, such as low-resolution.")
        if kinds is not None and word not in kinds:
            raise CellError(f"{quote_text(word)} is not a kind of finding", partial(suggest_word, word, kinds))
    return share_words(frozenset(words))


@lru_cache(maxsize=1024)
def share_words(words: frozenset[str]) -> frozenset[str]:
    """Equal sets of words as one object: in thousands of rows nearly all are empty, and each would take 216 bytes."""
    return words
