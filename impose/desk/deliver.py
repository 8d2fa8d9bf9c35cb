"""From a delivery that lies whole in the work folder to its end: into `sheets/`, originals to `done/`, PDFs to print.

Each step looks at what is there before it acts, so that doing it twice does it once.

Each sheets PDF, and nothing else, is dropped whole and once into the folder of its paper. A printing program takes
files away as soon as they appear, so that "is it there?" says nothing afterwards. What says it is the copy beside: it
is written, the ledger says that it is about to be dropped, then it is renamed into place. If it is still there after a
crash the drop has not happened; if it is gone, it has. A share that is away may leave an empty folder in its place, on
the computer's own disk. So the folder is marked once, and the ledger remembers the mark: where it is missing nothing is
written, and nothing is taken for gone.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import secrets
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

from impose.desk.desk_stock import describe_shortage
from impose.desk.environment import Fault
from impose.desk.folders import DeskFolders, find_free_name, sync_quietly
from impose.desk.printer_sink import PrinterSink
from impose.desk.time_slices import Steps, copy_plain
from impose.errors import Exit, Finding, Trouble, quote_for_shell
from impose.files import open_plain, write_new_file
from impose.folder_exchange import record_in
from impose.ledger.drops import DeskDelivery, DropLedger, PrintJob
from impose.remedies import Remedy

_BESIDE = ".impose"
_MARK = ".mark"
_AWAY = "the print folder is away (it has no mark in .impose), so PDFs wait; "
_OTHER = "another print folder is in its place (by its mark in .impose), so PDFs wait; "


class PrintFolder:
    """Drops PDFs into `root`, one folder a paper."""

    def __init__(
        self, root: Path, places: DeskFolders, drops: DropLedger, fault: Fault, say: Callable[[str], None]
    ) -> None:
        self.root, self._places, self._drops = Path(os.path.abspath(root)), places, drops  # noqa: PTH100
        self._desk = places.read_identity() or ""
        self._fault, self._say = fault, say
        self._fact = f"print folder {hashlib.sha256(os.fsencode(self.root)).hexdigest()[:32]}"
        self._known: str | None = None

    def identify_folder(self, adopt: bool) -> None:
        """Know the folder again, or mark it where it is new. Raises `Trouble` where a new one is not there."""
        self._known = self._drops.read_fact(self._fact)
        if self._known is not None and not adopt:
            why = self._explain_unusable()
            if why:
                self._say(f"{self.root}: {why}")
            return
        if not self.root.is_dir():
            what = f"the print folder {self.root} is not there"
            remedy = "Make it, or connect the share that it is on, then start again."
            raise Trouble(Finding(what, remedy, kind="desk", exit=Exit.USAGE))
        mark = self._write_mark() or self._make_mark()
        if self._known not in (None, mark):
            self._begin_again()
        self._drops.write_fact(self._fact, mark)
        self._known = mark

    def require_folder(self) -> None:
        """Raise `OSError` where this is not the folder that was marked."""
        why = self._explain_unusable()
        if why:
            raise FileNotFoundError(errno.ENOENT, why, str(self.root))

    def drop_pdf(self, job: PrintJob, source: Path) -> Steps[None]:
        """Drop one PDF, or finish what a crash cut short. Raises `OSError` where the folder fails."""
        self.require_folder()
        beside = self.root / _BESIDE / f"{self._desk}-{job.delivery}-{job.file}"
        target = self.root / job.paper / job.name
        if job.state == "due":
            if not source.exists():
                self._places.require_present()
                self._say(f"{source} is gone, so it was not sent to the printer")
                return self._drops.set_print(job, "printed")
            yield from copy_plain(source, beside)
            sync_quietly(beside.parent)
            target.parent.mkdir(exist_ok=True)
            self.require_folder()  # it is there that the copy lies
            self._fault("print:copied")
            self._drops.set_print(job, "dropping")
            self._fault("print:written")
        self._rename_into_place(beside, target)
        self._fault("print:dropped")
        self._drops.set_print(job, "printed")
        self._fault("print:closed")
        return None

    def _rename_into_place(self, beside: Path, target: Path) -> None:
        self.require_folder()
        try:
            target.parent.mkdir(exist_ok=True)
            beside.rename(_find_unused_name(target))
        except FileNotFoundError:
            # Dropped before a crash; unless it is seen to lie here still, or the folder has just gone.
            self.require_folder()
            if os.path.lexists(beside):
                raise
        else:
            sync_quietly(target.parent, beside.parent)
        self.require_folder()

    def _explain_unusable(self) -> str:
        mark = self._write_mark()
        if mark is not None and mark == self._known:
            return ""
        if mark is None:
            return f"{_AWAY}{Remedy('adopt-replaced-folder')}"
        return f"{_OTHER}{Remedy('adopt-other-folder')}"

    def _write_mark(self) -> str | None:
        try:
            with open_plain(self.root / _BESIDE / _MARK) as file:
                return file.read(100).decode("ascii").strip() or None
        except (OSError, ValueError):
            return None

    def _make_mark(self) -> str:
        mark = secrets.token_hex(8)
        path = self.root / _BESIDE / _MARK
        path.parent.mkdir(exist_ok=True)
        with write_new_file(path) as part:
            part.write_text(f"{mark}\n", "ascii")
        path.chmod(0o644)
        sync_quietly(path.parent)
        self._say(f"the print folder {quote_for_shell(str(self.root))} is marked in .impose, to be known again")
        return mark

    def _begin_again(self) -> None:
        """What was half way into the old folder goes whole into the new one."""
        for delivery in self._drops.list_deliveries("delivered"):
            for job in self._drops.list_prints(delivery.id):
                if job.state == "dropping":
                    self._say(f"{job.name} is dropped into the new print folder; it may have been printed already")
                    self._drops.set_print(job, "due")


def _find_unused_name(target: Path) -> Path:
    """The name itself, or with a number, where another file has it."""
    number, path = 1, target
    while os.path.lexists(path):
        number += 1
        path = target.with_name(f"{target.stem}-{number}{target.suffix}")
    return path


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
                raise OSError(f"too little of {short} is left; {Remedy('correct-ledger-count')}")
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
        said = (record_in(self._places.sheets / delivery.name) or {}).get("desk")  # a folder of anybody's
        ours = f"{self._places.read_identity()}-{delivery.id}"
        return isinstance(said, dict) and bool(said.get("delivery") == ours)

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
            for job in self._drops.list_prints(delivery.id):
                yield from self._print_folder.drop_pdf(job, self._places.sheets / delivery.name / job.file)
        elif self._drops.list_prints(delivery.id):
            return  # started without --print-folder: what is owed to the printer waits for a start with it
        with contextlib.suppress(FileNotFoundError):
            shutil.rmtree(self._places.make_folder(delivery.id))
        self._drops.close_delivery(delivery.id)
        self._fault("delivery:closed")

    def _remove_work_folder(self, delivery: DeskDelivery) -> None:
        drops = self._drops.list_delivery_drops(delivery.id)
        target = self._places.done / delivery.done
        self._clear_way(target)
        if len(drops) > 1:
            target.mkdir(exist_ok=True)
        for drop in drops:
            home = self._places.drop_folder(drop.id)
            goal = target / home.name if len(drops) > 1 else target
            if home.exists():
                _move_into(home, goal)
            self._fault("delivery:tidied")
        sync_quietly(self._places.done, self._places.work)

    def _clear_way(self, target: Path) -> None:
        """A file that somebody has put where a folder of originals goes keeps its content under another name.

        The record names that folder, and a reprint looks there.
        """
        if os.path.lexists(target) and not target.is_dir():
            other = find_free_name(target.parent, target.name)
            target.rename(target.parent / other)
            self._say(f"done/{target.name} was no folder of the desk's; it is called {other} now")


def _move_into(home: Path, goal: Path) -> None:
    """Rename a folder; into `goal` where somebody has put something of that name."""
    if os.path.lexists(goal) and not (goal.is_dir() and not any(goal.iterdir())):
        goal = goal / home.name
        goal.parent.mkdir(parents=True, exist_ok=True)
    home.rename(goal)
