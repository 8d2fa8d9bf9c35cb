"""What is pressed and what was spoiled of a made batch: ticks in `press.json` beside the orders, and what follows.

A spoiled print is made again. A spoiled garment needs a new blank and every print on it once more, pressed or not:
what was pressed went with the cloth. Ticks belong to a record by its code.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from impose.errors import Exit, Finding, Trouble
from impose.files import write_new_file
from impose.run.format_versions import is_newer
from impose.values import ChangingStruct, FrozenStruct, field

if TYPE_CHECKING:
    from impose.sheet.press_steps import PressTicket

FILE = "press.json"
FORMAT = "impose-press/1"
MOST_BYTES = 64 << 20

Spoiled = Literal["paper", "garment"]


class PrintTicks(FrozenStruct):
    """What is ticked of one transfer; `at` is when, as the clock of the shop's computer had it."""

    pressed: bool = False
    spoiled: Spoiled | None = None
    at: str = ""


class PressTicks(ChangingStruct):
    """All ticks of a batch folder, by the code of a record and the id of a transfer."""

    path: Path
    batches: dict[str, dict[str, Any]] = field(default_factory=dict)

    def list_ticks_of(self, code: str) -> dict[str, PrintTicks]:
        """The ticks of one record."""
        ticks = self.batches.get(code, {}).get("ticks", {})
        return {name: _read_tick(tick) for name, tick in ticks.items() if isinstance(tick, dict)}

    def find_grouping(self, code: str) -> str:
        """How its garments were grouped last: "garment" or "place"."""
        return "place" if self.batches.get(code, {}).get("by") == "place" else "garment"

    def set_grouping(self, code: str, by: str) -> None:
        """Group its garments so from now on."""
        self.batches.setdefault(code, {"ticks": {}})["by"] = by

    def set_tick(self, code: str, name: str, pressed: bool | None, spoiled: str | None, at: str) -> None:
        """Set what is said of a transfer: None leaves `pressed` as it is, "" takes `spoiled` away."""
        batch = self.batches.setdefault(code, {"by": "garment", "ticks": {}})
        ticks = batch.setdefault("ticks", {})
        now = _read_tick(ticks.get(name, {}))
        pressed = now.pressed if pressed is None else pressed
        kept = now.spoiled if spoiled is None else spoiled if spoiled in ("paper", "garment") else None
        if pressed or kept:
            ticks[name] = {"pressed": pressed, "spoiled": kept, "at": at}
        else:
            ticks.pop(name, None)

    def write_file(self) -> None:
        """Write the file whole. Raises `OSError`."""
        content = json.dumps({"format": FORMAT, "batches": self.batches}, indent=1, sort_keys=True, ensure_ascii=False)
        with write_new_file(self.path) as part:
            part.write_text(content + "\n", "utf-8")


def read_ticks(folder: Path) -> PressTicks:
    """The ticks of a batch folder; none where there is no file. Raises `Trouble` for a file that is none of ours."""
    path = folder / FILE
    if not path.is_file():
        return PressTicks(path)
    try:
        with path.open("rb") as file:
            values = json.loads(file.read(MOST_BYTES))
        if is_newer(values["format"], FORMAT):
            what = "a newer version of this program wrote the ticks of the press, so they are left alone"
            raise Trouble(Finding(what, "Use that version here too.", kind="record", file=FILE, exit=Exit.SYSTEM))
        if values["format"] != FORMAT or not isinstance(values["batches"], dict):
            raise ValueError(FORMAT)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        what = "the ticks of the press cannot be read"
        remedy = "Move that file away to begin anew; nothing of the orders hangs on it."
        raise Trouble(Finding(what, remedy, kind="record", file=FILE, exit=Exit.SYSTEM)) from None
    batches = {code: batch for code, batch in values["batches"].items() if isinstance(batch, dict)}
    return PressTicks(path, batches)


def _read_tick(values: Mapping[str, Any]) -> PrintTicks:
    spoiled = values.get("spoiled")
    return PrintTicks(
        values.get("pressed") is True,
        spoiled if spoiled in ("paper", "garment") else None,
        str(values.get("at", "")),
    )


class SpoiledGarment(FrozenStruct):
    """A garment that has to be begun anew, and the transfers that go on it."""

    ticket: PressTicket
    names: tuple[str, ...]


class MakeAgain(FrozenStruct):
    """What follows from the ticks: the transfers to be made again with why, and the garments that need a blank."""

    reasons: Mapping[str, Spoiled]
    garments: Sequence[SpoiledGarment]


def list_again(tickets: Iterable[PressTicket], ticks: Mapping[str, PrintTicks]) -> MakeAgain:
    """What has to be made again; `tickets` are by garment, each once."""
    reasons: dict[str, Spoiled] = {}
    garments: list[SpoiledGarment] = []
    for ticket in tickets:
        names = tuple(dict.fromkeys(step.transfer.id for step in ticket.steps))
        if _find_spoiled(names, ticks, "garment"):
            garments.append(SpoiledGarment(ticket, names))
            reasons.update(dict.fromkeys(names, "garment"))
        for name in _find_spoiled(names, ticks, "paper"):
            reasons.setdefault(name, "paper")
    return MakeAgain(reasons, garments)


def _find_spoiled(names: Collection[str], ticks: Mapping[str, PrintTicks], what: Spoiled) -> list[str]:
    return [name for name in names if name in ticks and ticks[name].spoiled == what]
