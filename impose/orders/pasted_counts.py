"""How many, marks of a list, and labels in a pasted line: "5 x adult M", "M x 5", "5 pcs", "2.", "no. 7", "size M".

Only what has one meaning is taken out here. Where a count may be a size (2x), a name (Malcolm X 7) or the number on the
shirt (7 M), `roster_paste` asks.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from impose.values import FrozenStruct

_BULLET = re.compile(r"^(?:[-–—*•·‣]\s+|[•·‣])")
_LIST_MARK = re.compile(r"^([0-9]{1,3})[.)]\s+(?=\S)")
_LABELS = (
    (re.compile(r"^name\s*[:=]\s*", re.I), ""),
    (re.compile(r"(?<!\w)(?:no|nr|num|number)\b\s*[.:=]?\s*#?(?=[0-9]{1,3}(?!\w))|№\s*(?=[0-9])", re.I), "#"),
    (re.compile(r"(?<!\w)(?:size|sz)\b\s*[:=]?\s*(?=\S)", re.I), ""),
)
_PIECES = r"(?:pcs?|pieces?|ea|each|off)(?!\w)\.?"
_COUNT = re.compile(
    r"(?<![\w.#])(?P<before>[0-9]{1,6})(?:\s*[×*]|\s+x|\s+X(?!\s*[Ll](?!\w))|(?<=[0-9]{2})[xX])(?!\w|\s*[0-9])"
    r"|(?<!\w)(?<![0-9]\s)(?:x\s*|X)(?P<after>[0-9]{1,6})(?!\w)"
    r"|(?<![0-9])(?<![0-9]\s)[×*]\s*(?P<times>[0-9]{1,6})(?!\w)"
    rf"|(?<![\w.#])(?P<pieces>[0-9]{{1,6}})\s*{_PIECES}"
    r"|(?<!\w)(?:qty|quantity|copies|count|how many|pieces|pcs)\s*[.:=]?\s*(?P<labelled>[0-9]{1,6})(?!\w)",
)
_JOINED_BEFORE = re.compile(r"(?<![\w.#])([0-9]{1,6})[xX×*](?=[^\W\d])([\w-]{1,30})(?![\w-])")
_JOINED_AFTER = re.compile(r"(?<![\w-])([\w-]{0,30}[^\W\d])[xX×*]([0-9]{1,6})(?!\w)")
_SEVERAL = re.compile(r"\s*[,;+&]\s*|\s+and\s+", re.I)
_EDGES = " \t,;:=-–—()[]"
MAY_BE_SIZE = re.compile(r"(?<![\w.#])([1-9])[xX](?!\w)")
"""A count, or the size 2XL: a count where another size stands beside it."""
MAY_BE_NAME = re.compile(r"(?<!\w)X\s+([0-9]{1,6})(?!\w)")
"""A count, or a name that ends in X before a number: a count where no other name stands beside it."""

NUMBER_WORDS = frozenset(
    ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "dozen")
)


class CountedText(FrozenStruct):
    """A text without its counts, and the counts."""

    text: str
    counts: tuple[str, ...] = ()


def take_counts(text: str, is_size: Callable[[str], bool]) -> CountedText:
    """The text without the counts that can be nothing else; those joined to a size (5xM) are parted from it."""

    def part_before(match: re.Match[str]) -> str:
        parted = is_size(match[2]) and not is_size(match[0])
        return f"{match[1]} x {match[2]}" if parted else match[0]

    def part_after(match: re.Match[str]) -> str:
        return f"{match[1]} x {match[2]}" if is_size(match[1]) else match[0]

    text = _JOINED_AFTER.sub(part_after, _JOINED_BEFORE.sub(part_before, text))
    counts = tuple(next(filter(None, match.groups())) for match in _COUNT.finditer(text))
    return CountedText(_COUNT.sub(" ", text).strip(_EDGES) if counts else text, counts)


def drop_labels(text: str) -> str:
    """The text without words that only say what follows; a number that was labelled keeps a `#`."""
    for pattern, instead in _LABELS:
        text = pattern.sub(instead, text)
    return text


def drop_bullet(text: str) -> str:
    """The text without the dash or dot that begins it in a list."""
    return _BULLET.sub("", text)


def find_list_marks(texts: Sequence[str]) -> bool:
    """Whether the lines are numbered as a list is: 1., 2., 3. and so on, two at least."""
    marks = [match and match[1] for match in map(_LIST_MARK.match, texts)]
    return len(marks) > 1 and marks == [str(number) for number in range(1, len(marks) + 1)]


def drop_list_mark(text: str) -> str:
    """The text without its place in a numbered list."""
    return _LIST_MARK.sub("", text)


def split_several(text: str) -> list[str]:
    """The parts of a line that may hold several garments, such as "2 x M, 3 x L"."""
    return [part for part in _SEVERAL.split(text) if part]
