"""From a delivery that lies whole in the work folder to its end: into `sheets/`, originals to `done/`, PDFs to print.

Each step looks at what is there before it acts, so that doing it twice does it once.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

from impose.desk.faults import Fault
from impose.desk.paper import short_of
from impose.desk.places import Places, free, sync_quietly
from impose.desk.printing import PrintFolder
from impose.desk.slices import Steps
from impose.files import RECORD_NAME
from impose.ledger.drops import Delivery, Drops, Print

OUT = "out"
Beside = Callable[[sqlite3.Connection, Delivery], object]


class Deliverer:
    """Finishes deliveries; raises `OSError` where a disk fails, and goes on from there when called again."""

    def __init__(
        self,
        places: Places,
        drops: Drops,
        fault: Fault,
        wall: Callable[[], float],
        say: Callable[[str], None],
        print_folder: PrintFolder | None = None,
        calls: bool = False,
        beside: Beside | None = None,
        tell: Callable[[Delivery], None] | None = None,
    ) -> None:
        self._places, self._drops, self._fault, self._wall, self._say = places, drops, fault, wall, say
        self._print_folder, self._calls, self._beside, self._tell = print_folder, calls, beside, tell

    def deliver(self, delivery: Delivery) -> None:
        """Put a made delivery in its place by one rename, and write that down with all that follows from it."""
        self._places.require()
        made = self._places.make(delivery.id) / OUT
        if not made.parent.is_dir() and not self._stands(delivery):
            self._say(f"what was made for {delivery.name} has vanished from the work folder; it is made again")
            return self._drops.put_back(delivery.id)
        if made.is_dir():
            short = short_of(self._drops.ledger, delivery)
            if short:
                raise OSError(f"too little of {short} is left; correct the count with impose stock --ledger")
            delivery = self._named(delivery)
            made.rename(self._places.sheets / delivery.name)
            sync_quietly(self._places.sheets, made.parent)
        # If it is not there it was renamed before a crash, even if somebody has taken it away since: a delivery is
        # only written down as made when it lies whole in the work folder.
        self._fault("delivery:renamed")
        beside = self._beside
        self._drops.delivered(
            delivery.id,
            self._prints(delivery),
            self._calls,
            self._wall(),
            None if beside is None else lambda db: beside(db, delivery),
        )
        self._fault("delivery:written")
        facts = delivery.made
        self._say(
            f"delivered {delivery.name} (number {delivery.id}, batch {facts.get('code')}): "
            f"transfers: {facts.get('transfers')}, sheets: {facts.get('sheets')}"
        )
        if self._tell is not None:
            self._tell(delivery)
        return None

    def _stands(self, delivery: Delivery) -> bool:
        """Whether the folder of that name in `sheets/` is this delivery."""
        try:
            record = json.loads((self._places.sheets / delivery.name / RECORD_NAME).read_bytes())
        except (OSError, ValueError):
            return False
        return bool(record.get("desk", {}).get("delivery") == f"{self._places.identity()}-{delivery.id}")

    def _named(self, delivery: Delivery) -> Delivery:
        """The delivery under a name that is free now; somebody may have made a folder of that name."""
        target = self._places.sheets / delivery.name
        if not os.path.lexists(target):
            return delivery
        self._drops.rename(delivery.id, free(self._places.sheets, delivery.name, self._drops.name_is_bound))
        renamed = self._drops.delivery(delivery.id)
        assert renamed is not None
        return renamed

    def _prints(self, delivery: Delivery) -> list[Print]:
        if self._print_folder is None:
            return []
        files: dict[str, str] = delivery.made.get("files", {})
        stem = f"{delivery.name}-{delivery.id}-{delivery.made.get('code', '')}"
        return [Print(delivery.id, file, paper, f"{stem}.pdf", "due") for file, paper in sorted(files.items())]

    def close(self, delivery: Delivery) -> Steps[None]:
        """Originals to `done/`, PDFs to the print folder, the work folder emptied; then it is closed."""
        self._places.require()
        self._tidy(delivery)
        if self._print_folder is not None:
            for one in self._drops.prints(delivery.id):
                yield from self._print_folder.drop(one, self._places.sheets / delivery.name / one.file)
        elif self._drops.prints(delivery.id):
            return  # started without --print-folder: what is owed to the printer waits for a start with it
        with contextlib.suppress(FileNotFoundError):
            shutil.rmtree(self._places.make(delivery.id))
        self._drops.closed(delivery.id)
        self._fault("delivery:closed")

    def _tidy(self, delivery: Delivery) -> None:
        drops = self._drops.drops_of(delivery.id)
        target = self._places.done / delivery.done
        if len(drops) > 1:
            target.mkdir(exist_ok=True)
        for drop in drops:
            home = self._places.drop(drop.id)
            goal = target / home.name if len(drops) > 1 else target
            if home.exists():
                _into(home, goal)
            self._fault("delivery:tidied")
        sync_quietly(self._places.done, self._places.work)


def _into(home: Path, goal: Path) -> None:
    """Rename a folder; into `goal` where somebody has put something of that name."""
    if os.path.lexists(goal) and not (goal.is_dir() and not any(goal.iterdir())):
        goal = goal / home.name
        goal.parent.mkdir(parents=True, exist_ok=True)
    home.rename(goal)
