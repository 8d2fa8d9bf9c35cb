"""The words of sorting: what a batch file names, what waits, what is to be claimed, and the rules that decide it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from impose import values
from impose.desk.inbox_rules import InboxSettings, NamedSpec, is_temporary_name
from impose.desk.scan import InboxEntry, Stamp
from impose.file_types import IN_WORDS
from impose.ledger.drops import HeldFile, WantedDrop
from impose.orders.batch import RowDefaults
from impose.values import FrozenStruct

ReadTable = Callable[[Path, Stamp], "NamedFiles | None"]
"""The artwork and fonts that a batch file names, once somebody has read it; None until then."""

NEITHER = (
    f"It is neither artwork ({IN_WORDS}) nor a batch file (CSV or .xlsx). Save artwork as PNG; write "
    "orders as CSV or .xlsx."
)

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


class NamedFiles(FrozenStruct):
    """The artwork and fonts that a batch file names, or why it cannot be read.

    Of a list of spoiled prints `listed` is the batch code that it names ("" if none).
    """

    art: tuple[str, ...] = ()
    fault: str = ""
    listed: str | None = None


class WaitingEntry(FrozenStruct):
    """Something in the inbox that is not taken yet, why, and the seconds after which it would be refused."""

    path: str
    why: str
    within_s: float | None = None


class DropRules(FrozenStruct):
    """What decides when something is taken. `blanks` is what the command says for what says nothing itself."""

    settle_s: float
    patience_s: float
    blanks: RowDefaults = values.field(default_factory=RowDefaults)
    hold_s: float = 0.0


@dataclass(slots=True)
class SortedEntries:
    """What to claim now, what waits, and whether anything still moves or is still to be looked at."""

    wanted: list[WantedDrop] = field(default_factory=list)
    waiting: list[WaitingEntry] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)


def make_held_file(told: str, table: InboxEntry, stamp: Stamp, copied: bool = False) -> HeldFile:
    """An artwork of a batch file, named as the batch file names it."""
    base = table.path.rpartition("/")[0]
    return HeldFile(told, told[len(base) + 1 :] if base else told, copied, stamp[0], stamp[1])


def make_wanted_drop(
    entry: InboxEntry,
    kind: str,
    inbox: InboxSettings,
    rules: DropRules,
    *,
    art: Iterable[HeldFile] = (),
    spec: NamedSpec | None = None,
    why: str = "",
    main: str = "",
    listed: str | None = None,
) -> WantedDrop:
    """What is to be claimed of an entry, and how it is to be made: by its own name, its inbox, and the command.

    A list of spoiled prints (`listed`, see `NamedFiles`) is made by itself and at once: somebody waits at the press.
    """
    spec = spec or NamedSpec()
    own = HeldFile(entry.path, entry.name)
    if entry.kind == "file":
        own = HeldFile(entry.path, entry.name, size=entry.stamp[0], mtime_ns=entry.stamp[1])
    elif entry.kind == "folder":
        stamps = [stamp for _, stamp in entry.files]
        own = HeldFile(entry.path, ".", size=sum(s[0] for s in stamps), mtime_ns=max((s[1] for s in stamps), default=0))
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
        **({"page": spec.page} if spec.page else {}),
        "main": main or (entry.name if entry.kind == "file" else ""),
    }
    if listed is not None:
        group["hold_s"], wish["reprint"] = 0.0, listed
    return WantedDrop(entry.path, kind, (*art, own), wish | group, json.dumps(group, sort_keys=True), why)


def has_known_size(spec: NamedSpec, inbox: InboxSettings, rules: DropRules) -> bool:
    """Whether it is known how large to print something."""
    blanks = rules.blanks
    return bool(spec.has_size or inbox.placement or blanks.placement or blanks.width_mm or blanks.height_mm)


def has_text_names(entry: InboxEntry) -> bool:
    """Whether all names are text: others cannot be written into a record."""
    try:
        for path in (entry.path, *(path for path, _ in entry.files)):
            path.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def is_temporary_path(path: str) -> bool:
    """Whether any part of a path is hidden or temporary."""
    return any(is_temporary_name(part) for part in path.split("/"))
