"""The words of sorting: what a batch file names, what waits, what is to be claimed, and the rules that decide it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from impose.desk.inbox import Inbox
from impose.desk.names import Spec, is_passing
from impose.desk.scan import Entry, Stamp
from impose.ledger.drops import Held, Wanted
from impose.shop.orders import Blanks

ReadTable = Callable[[Path, Stamp], "Named | None"]
"""The artwork and fonts that a batch file names, once somebody has read it; None until then."""

NEITHER = "It is neither a PNG nor a batch file (CSV). Save the artwork as PNG; write orders as CSV."

LONE_FONT = "It is a font, and no batch file names it. Drop it together with the CSV, best both in one folder."

LONE_KITS = "It holds kits, and no batch file names one. Drop it together with the CSV, best both in one folder."

LIST_ALONE = (
    "It holds a list of spoiled prints (reprint.csv) and other files. What is to be printed again is taken from the "
    "desk's own deliveries: drop the list alone."
)

NO_TEXT = "Its name, or one in it, holds bytes that are no text. Give it another name."
NO_SIZE = (
    "How large to print it is not said. Put it into a folder named after a placement (in/left-chest), write the width "
    "into its name as in “owl (12 copies, 90 mm).png”, or drop it with a CSV."
)


@dataclass(frozen=True, slots=True)
class Named:
    """The artwork and fonts that a batch file names, or why it cannot be read.

    Of a list of spoiled prints `listed` is the batch code that it names ("" if none).
    """

    art: tuple[str, ...] = ()
    fault: str = ""
    listed: str | None = None


@dataclass(frozen=True, slots=True)
class Waiting:
    """Something in the inbox that is not taken yet, why, and the seconds after which it would be refused."""

    path: str
    why: str
    within_s: float | None = None


@dataclass(frozen=True, slots=True)
class Rules:
    """What decides when something is taken. `blanks` is what the command says for what says nothing itself."""

    settle_s: float
    patience_s: float
    blanks: Blanks = field(default_factory=Blanks)
    hold_s: float = 0.0


@dataclass(slots=True)
class Sorted:
    """What to claim now, what waits, and whether anything still moves or is still to be looked at."""

    wanted: list[Wanted] = field(default_factory=list)
    waiting: list[Waiting] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)


def held(told: str, table: Entry, stamp: Stamp, copied: bool = False) -> Held:
    """An artwork of a batch file, named as the batch file names it."""
    base = table.path.rpartition("/")[0]
    return Held(told, told[len(base) + 1 :] if base else told, copied, stamp[0], stamp[1])


def want(
    entry: Entry,
    kind: str,
    inbox: Inbox,
    rules: Rules,
    *,
    art: Iterable[Held] = (),
    spec: Spec | None = None,
    why: str = "",
    main: str = "",
    listed: str | None = None,
) -> Wanted:
    """What is to be claimed of an entry, and how it is to be made: by its own name, its inbox, and the command.

    A list of spoiled prints (`listed`, see `Named`) is made by itself and at once: somebody waits at the press.
    """
    spec = spec or Spec()
    own = Held(entry.path, entry.name)
    if entry.kind == "file":
        own = Held(entry.path, entry.name, size=entry.stamp[0], mtime_ns=entry.stamp[1])
    elif entry.kind == "folder":
        stamps = [stamp for _, stamp in entry.files]
        own = Held(entry.path, ".", size=sum(s[0] for s in stamps), mtime_ns=max((s[1] for s in stamps), default=0))
    group: dict[str, Any] = {
        "papers": list(inbox.papers) if inbox.papers else None,
        "printer": inbox.printer,
        "hold_s": rules.hold_s if inbox.hold_s is None else inbox.hold_s,
    }
    wish: dict[str, Any] = {
        "placement": inbox.placement,
        "copies": spec.copies,
        "width_mm": spec.width_mm,
        "height_mm": spec.height_mm,
        "main": main or (entry.name if entry.kind == "file" else ""),
    }
    if listed is not None:
        group["hold_s"], wish["reprint"] = 0.0, listed
    return Wanted(entry.path, kind, (*art, own), wish | group, json.dumps(group, sort_keys=True), why)


def is_sized(spec: Spec, inbox: Inbox, rules: Rules) -> bool:
    """Whether it is known how large to print something."""
    blanks = rules.blanks
    return bool(spec.sized or inbox.placement or blanks.placement or blanks.width_mm or blanks.height_mm)


def is_text(entry: Entry) -> bool:
    """Whether all names are text: others cannot be written into a record."""
    try:
        for path in (entry.path, *(path for path, _ in entry.files)):
            path.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def passing(path: str) -> bool:
    """Whether any part of a path is hidden or temporary."""
    return any(is_passing(part) for part in path.split("/"))
