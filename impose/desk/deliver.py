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

from impose.desk.desk_stock import describe_shortage
from impose.desk.faults import Fault
from impose.desk.folders import DeskFolders, find_free_name, sync_quietly
from impose.desk.printer_sink import PrinterSink
from impose.desk.printing import PrintFolder
from impose.desk.time_slices import Steps
from impose.files import RECORD_NAME
from impose.ledger.drops import DeskDelivery, DropLedger, PrintJob

OUT = "out"
Beside = Callable[[sqlite3.Connection, DeskDelivery], object]


class Deliverer:
    """Finishes deliveries; raises `OSError` where a disk fails, and goes on from there when called again."""

    def __init__(
        self,
        places: DeskFolders,
        drops: DropLedger,
        fault: Fault,
        wall: Callable[[], float],
        say: Callable[[str], None],
        print_folder: PrintFolder | PrinterSink | None = None,
        calls: bool = False,
        beside: Beside | None = None,
        tell: Callable[[DeskDelivery], None] | None = None,
    ) -> None:
        self._places, self._drops, self._fault, self._wall, self._say = places, drops, fault, wall, say
        self._print_folder, self._calls, self._beside, self._tell = print_folder, calls, beside, tell

    def deliver_folder(self, delivery: DeskDelivery) -> None:
        """Put a made delivery in its place by one rename, and write that down with all that follows from it."""
        self._places.require_present()
        made = self._places.make_folder(delivery.id) / OUT
        if not made.parent.is_dir() and not self._is_in_place(delivery):
            self._say(f"what was made for {delivery.name} has vanished from the work folder; it is made again")
            return self._drops.release_delivery(delivery.id)
        if made.is_dir():
            short = describe_shortage(self._drops.ledger, delivery)
            if short:
                raise OSError(f"too little of {short} is left; correct the count with impose stock --ledger")
            delivery = self._choose_free_name(delivery)
            made.rename(self._places.sheets / delivery.name)
            sync_quietly(self._places.sheets, made.parent)
        # If it is not there it was renamed before a crash, even if somebody has taken it away since: a delivery is
        # only written down as made when it lies whole in the work folder.
        self._fault("delivery:renamed")
        beside = self._beside
        self._drops.record_delivered(
            delivery.id,
            self._list_prints(delivery),
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

    def _is_in_place(self, delivery: DeskDelivery) -> bool:
        """Whether the folder of that name in `sheets/` is this delivery."""
        try:
            record = json.loads((self._places.sheets / delivery.name / RECORD_NAME).read_bytes())
        except (OSError, ValueError):
            return False
        return bool(record.get("desk", {}).get("delivery") == f"{self._places.read_identity()}-{delivery.id}")

    def _choose_free_name(self, delivery: DeskDelivery) -> DeskDelivery:
        """The delivery under a name that is free now; somebody may have made a folder of that name."""
        target = self._places.sheets / delivery.name
        if not os.path.lexists(target):
            return delivery
        self._drops.rename_delivery(
            delivery.id, find_free_name(self._places.sheets, delivery.name, self._drops.name_is_bound)
        )
        renamed = self._drops.read_delivery(delivery.id)
        assert renamed is not None
        return renamed

    def _list_prints(self, delivery: DeskDelivery) -> list[PrintJob]:
        if self._print_folder is None:
            return []
        files: dict[str, str] = delivery.made.get("files", {})
        stem = f"{delivery.name}-{delivery.id}-{delivery.made.get('code', '')}"
        return [PrintJob(delivery.id, file, paper, f"{stem}.pdf", "due") for file, paper in sorted(files.items())]

    def close_delivery(self, delivery: DeskDelivery) -> Steps[None]:
        """Originals to `done/`, PDFs to the print folder, the work folder emptied; then it is closed."""
        self._places.require_present()
        self._remove_work_folder(delivery)
        if self._print_folder is not None:
            for one in self._drops.list_prints(delivery.id):
                yield from self._print_folder.drop_pdf(one, self._places.sheets / delivery.name / one.file)
        elif self._drops.list_prints(delivery.id):
            return  # started without --print-folder: what is owed to the printer waits for a start with it
        with contextlib.suppress(FileNotFoundError):
            shutil.rmtree(self._places.make_folder(delivery.id))
        self._drops.close_delivery(delivery.id)
        self._fault("delivery:closed")

    def _remove_work_folder(self, delivery: DeskDelivery) -> None:
        drops = self._drops.list_delivery_drops(delivery.id)
        target = self._places.done / delivery.done
        if len(drops) > 1:
            target.mkdir(exist_ok=True)
        for drop in drops:
            home = self._places.drop_folder(drop.id)
            goal = target / home.name if len(drops) > 1 else target
            if home.exists():
                _move_into(home, goal)
            self._fault("delivery:tidied")
        sync_quietly(self._places.done, self._places.work)


def _move_into(home: Path, goal: Path) -> None:
    """Rename a folder; into `goal` where somebody has put something of that name."""
    if os.path.lexists(goal) and not (goal.is_dir() and not any(goal.iterdir())):
        goal = goal / home.name
        goal.parent.mkdir(parents=True, exist_ok=True)
    home.rename(goal)
