"""Text that a spreadsheet saved in the code page of its system: Windows-1250 or 1252, of which Latin-1 is a part.

A byte means one letter in western Europe and another in central Europe, and a wrong letter is pressed onto a garment.
So a page is taken where every other one gives signs within words, letters that no language of its region has together,
or words that cannot be spoken; where two are as likely, none is taken, and both readings are told.

Letters of the languages: Unicode CLDR, main exemplar characters (from memory). The tables of the code pages are
Python's, which are those that Unicode publishes.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from itertools import groupby

from impose.values import FrozenStruct, replace

PAGES = {"cp1252": "Windows-1252 (western European)", "cp1250": "Windows-1250 (central European)"}

_LETTERS = {
    "cp1252": (
        "äöüß", "àâæçéèêëîïôœùûüÿ", "æøåéó", "åäöéà", "àéèìòóù", "áéíóúüñ", "áàâãçéêíóôõú", "áàéèëïíóöüñç",
        "áéíóúýþæöð", "áíóúýæøð", "àçéèíïóòúü", "äöüàéèß",
    ),
    "cp1250": (
        "ąćęłńóśźż", "áčďéěíňóřšťúůýž", "áäčďéíĺľňóôŕšťúýž", "áéíóöőúüű", "ăâîşţ", "čćđšž", "čšž", "äöüß", "çë",
    ),
}  # fmt: skip
_SIGNS = frozenset("–—‘’‚“”„…•€£§©®°±·×½¼¾²³´«»¡¿ªº\xa0")
_VOWELS = frozenset("aeiouyæœø")
_WORDS_SHOWN = 3
_LETTER = r"[^\W\d_]"
_IN_WORD = re.compile(rf"{_LETTER}[¡¿²³½¼¾§£©®±×«»´]{_LETTER}|(?<![^\W_])[¹²³¾£]+{_LETTER}|{_LETTER}[¹²³¼½¾](?![^\W_])")


class CodePageReading(FrozenStruct):
    """A text with the page it was read by; `sure` where no other page could be meant, `words` to look at."""

    text: str
    page: str
    sure: bool
    words: tuple[str, ...]


def read_page(content: bytes) -> CodePageReading | tuple[CodePageReading, ...]:
    """The one reading that makes sense; else those that are as likely as each other, or none.

    A team has names of several countries: where no one language has all letters, those of the region are taken
    together, and the reading is not sure.
    """
    readings = [reading for page in PAGES if (reading := _read_by_page(content, page, _LETTERS[page])) is not None]
    if not readings:
        mixed = (_read_by_page(content, page, ("".join(_LETTERS[page]),)) for page in PAGES)
        readings = [replace(reading, sure=False) for reading in mixed if reading is not None]
        if len(readings) == 1:
            return readings[0]
    if len({reading.text for reading in readings}) == 1:
        return CodePageReading(readings[0].text, readings[0].page, True, readings[0].words)
    if len(readings) < 2:
        return tuple(readings)
    hard = [_measure_hardness(reading) for reading in readings]
    if hard[0] == hard[1]:
        return tuple(readings)
    best = readings[hard.index(min(hard))]
    return CodePageReading(best.text, best.page, False, best.words)


def _read_by_page(content: bytes, page: str, languages: Sequence[str]) -> CodePageReading | None:
    """The text by a page, if its letters are those of one of the languages and its signs stand beside words."""
    try:
        text = content.decode(page)
    except UnicodeDecodeError:
        return None
    foreign = {c for c in text if not c.isascii()}
    letters = {c.casefold() if c != "ß" else c for c in foreign if c.isalpha() and c not in "ªº"}
    signs = {c for c in foreign if not c.isalpha() or c in "ªº"}
    if not signs <= _SIGNS or not any(letters <= set(of) for of in languages) or _sign_in_word(text):
        return None
    words = re.findall(r"[^\W\d_]+", text)
    told = dict.fromkeys(word for word in words if not word.isascii())
    return CodePageReading(text, page, True, tuple(told))


def _sign_in_word(text: str) -> bool:
    """A sign that no word has within it or at its end: a raised figure, a fraction, a currency before letters."""
    return _IN_WORD.search(text) is not None


def _measure_hardness(reading: CodePageReading) -> int:
    """How hard the words are to speak: letters beyond two in a row that are all vowels, or all consonants."""
    hard = 0
    for word in reading.words:
        for vowels, run in groupby(word.casefold(), key=_is_vowel):
            hard += max(0, len(list(run)) - (1 if vowels else 2))
    return hard


def _is_vowel(letter: str) -> bool:
    return unicodedata.normalize("NFD", letter)[0] in _VOWELS


def shown_words(reading: CodePageReading) -> str:
    """A few words that hang on the page, to be looked at."""
    return ", ".join(f"“{word}”" for word in reading.words[:_WORDS_SHOWN])
