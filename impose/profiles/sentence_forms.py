"""Sentences with {names} to be filled in: taken apart, and held to what the program fills in."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from impose.type.sanitise import clean_text, format_code_points

ANY_NUMBER = "other"
COUNT = "count"
LONGEST = 1000
_NAMED = re.compile(r"\{([a-z][a-z0-9_]*)\}")


class Part(NamedTuple):
    """A part of a sentence: `text` as it stands, or the `name` of what is filled in there."""

    text: str
    name: str = ""


class SentenceFault(NamedTuple):
    """What is wrong with a sentence, and the remedy."""

    what: str
    remedy: str


@lru_cache(maxsize=1024)
def split_sentence(text: str) -> tuple[Part, ...]:
    """A sentence in its parts, in order."""
    pieces = _NAMED.split(text)
    return tuple(
        Part("", piece) if index % 2 else Part(piece) for index, piece in enumerate(pieces) if piece or index % 2
    )


def list_names(text: str) -> set[str]:
    """The names that a sentence has filled in."""
    return {part.name for part in split_sentence(text) if part.name}


def find_sentence_fault(text: str, filled: set[str], optional: set[str]) -> SentenceFault | None:
    """What is wrong with a shop's own sentence: `filled` are the names it is given, all wanted but the `optional`."""
    if not text.strip():
        return SentenceFault(
            "an empty sentence", "Write one, or take the key out: the sentence that comes along stands in."
        )
    if len(text) > LONGEST:
        return SentenceFault(f"longer than {LONGEST} characters", "Shorten it.")
    if removed := clean_text(text)[1]:
        what = f"holds what is no text to be read: {format_code_points(''.join(removed))}"
        return SentenceFault(what, "Take it out; which way lines run is said by direction in [custom].")
    if set("{}") & set("".join(part.text for part in split_sentence(text))):
        return SentenceFault(
            "a brace that belongs to no name", f"Braces stand around names alone. {_tell_names(filled)}"
        )
    names = list_names(text)
    if strange := sorted(names - filled):
        return SentenceFault(f"nothing is filled in for {_brace_names(strange)}", _tell_names(filled))
    if missing := sorted(filled - names - optional):
        return SentenceFault(f"{_brace_names(missing)} is missing", "Put it where it belongs in the sentence.")
    return None


def _brace_names(names: list[str]) -> str:
    return ", ".join(f"{{{name}}}" for name in names)


def _tell_names(filled: set[str]) -> str:
    return f"Known here: {_brace_names(sorted(filled))}." if filled else "This sentence has none."
