"""Findings, exit codes and the one exception that carries refusals: open to every room.

A *finding* is something wrong or worth knowing, with its place and its remedy. Stages collect findings; those that
stop the work are raised together in one `Trouble`, and the door turns that into text and an exit code.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from enum import IntEnum, StrEnum

from impose.values import FrozenStruct, describe_value, set_field


class Exit(IntEnum):
    """What the process returns. 1 only ever means a bug."""

    DONE = 0
    BUG = 1
    USAGE = 2  # wrong use of the command
    REFUSED = 3  # a row or an artwork refused, missing art included
    NO_ROOM = 4  # something fits no paper, or the stock is too small
    SYSTEM = 5  # source or output could not be read or written by the system
    SELF_CHECK = 6  # the output failed its own check
    INTERRUPTED = 130


class Severity(StrEnum):
    """How bad a finding is, worst first."""

    STOP = "stop"
    WARN = "warn"
    NOTE = "note"


_LONGEST = 1200
"""Characters of a sentence: many more than any of ours, and few enough to be read."""


class Finding(FrozenStruct):
    """One thing wrong or worth knowing: what, where, why it matters, how to mend it.

    `kind` is a stable slug such as "low-resolution" for programs and the `accept` column. `row` is the line of the
    batch file at which the record starts, `also` are further ones that the same is true of; `kit_row` is the line
    of the kits file, where it is true of one of the kit's prints alone. `px` is (left, top, right,
    bottom) on the artwork as supplied; `mm` is the same box on the finished print, from the ink's top left corner.
    `exit` counts only for stops. `view` is a small PNG that shows it, for pages with pictures. A `remedy` that is
    done in another way at each door is a `remedies.Remedy`.
    """

    what: str
    remedy: str = ""
    severity: Severity = Severity.STOP
    kind: str = ""
    why: str = ""
    file: str = ""
    row: int | None = None
    column: str = ""
    read: str | None = None
    exit: Exit = Exit.REFUSED
    px: tuple[int, int, int, int] | None = None
    mm: tuple[float, float, float, float] | None = None
    view: bytes | None = None
    also: tuple[int, ...] = ()
    kit_row: int = 0

    def __post_init__(self) -> None:
        for name in ("what", "why", "remedy"):
            text = getattr(self, name)
            if len(text) > _LONGEST and type(text) is str:  # whatever was put into it from outside
                set_field(self, name, f"{text[:_LONGEST]}…")

    @property
    def rows(self) -> tuple[int, ...]:
        """All rows that it is true of."""
        return () if self.row is None else (self.row, *self.also)

    @property
    def keys(self) -> tuple[tuple[int, int], ...]:
        """The rows, each with the row of its kit that it is true of; 0 where it is true of all prints of the row."""
        return () if self.row is None else ((self.row, self.kit_row), *((row, 0) for row in self.also))

    @property
    def place(self) -> str:
        """File, row and column, as far as known: 'orders.csv, row 7, column width'."""
        parts = [self.file] if self.file else []
        if self.row is not None:
            parts.append(f"row {self.row}{f' (row {self.kit_row} of its kit)' if self.kit_row else ''}")
        if self.column:
            parts.append(f"column {self.column}")
        return ", ".join(parts)

    def __repr__(self) -> str:
        return describe_value(self, "view")

    def __str__(self) -> str:
        head = f"{self.place}: " if self.place else ""
        seen = "" if self.read is None else f" (read: {quote_text(self.read)})"
        why = f" {self.why}" if self.why else ""
        remedy = f" {self.remedy}" if self.remedy else ""  # in the words of the door, if it is a `Remedy`
        return f"{head}{self.what}{seen}.{why}{remedy}"


class Trouble(Exception):
    """The work stops here; `findings` says everything that is wrong, not only the first of it."""

    def __init__(self, findings: Finding | Iterable[Finding]) -> None:
        self.findings: tuple[Finding, ...] = (findings,) if isinstance(findings, Finding) else tuple(findings)
        super().__init__(self.findings)

    @property
    def exit(self) -> Exit:
        """Of several causes the lowest code."""
        return min((f.exit for f in self.findings), default=Exit.BUG)

    def __str__(self) -> str:
        return "\n".join(str(f) for f in self.findings)

    def __reduce__(self) -> tuple[type[Trouble], tuple[tuple[Finding, ...]]]:
        return (type(self), (self.findings,))


def quote_text(text: str, limit: int = 60) -> str:
    """Text read from outside, safe to show: quoted, control and direction-override characters escaped, cut."""
    safe = "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
    return f"“{safe[: limit - 1]}…”" if len(safe) > limit else f"“{safe}”"


def list_texts(texts: Sequence[str], most: int = 40, limit: int = 60) -> str:
    """Texts read from outside in a row, safe to show: each cut, and no more of them than a person reads."""
    shown: list[str] = []
    for text in texts[:most]:
        shown.append(quote_text(text, limit)[1:-1])
        if sum(map(len, shown)) > _LONGEST // 2:
            break
    rest = len(texts) - len(shown)
    return ", ".join(shown) + (f" and {rest:,} more" if rest else "")


def count_noun(number: int, noun: str) -> str:
    """A number of things in words: 1 sheet, 2 sheets."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def describe_system_error(error: OSError) -> str:
    """What the system says, without its number: the file, where one is named, and what is the matter."""
    name = error.filename or error.filename2
    return f"{f'{name}: ' if name else ''}{(error.strerror or str(error)).lower()}"


def quote_for_shell(word: str) -> str:
    """A path or another word as it is typed into a shell of this system, quoted where that needs it."""
    if os.name == "nt":
        return word if re.fullmatch(r"[\w.:\\/-]+", word) else f'"{word}"'
    from shlex import quote

    return quote(word)


def raise_stops(findings: Sequence[Finding]) -> None:
    """Raise `Trouble` with every stop among `findings`; return if there is none."""
    stops = [f for f in findings if f.severity is Severity.STOP]
    if stops:
        raise Trouble(stops)
