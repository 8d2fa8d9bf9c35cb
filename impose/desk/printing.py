"""The print folder: each sheets PDF, and nothing else, dropped whole and once into the folder of its paper.

A printing program takes files away as soon as they appear, so that "is it there?" says nothing afterwards. What says
it is the copy beside: it is written, the ledger says that it is about to be dropped, then it is renamed into place. If
it is still there after a crash the drop has not happened; if it is gone, it has.

A share that is away may leave an empty folder in its place, on the computer's own disk. So the folder is marked once,
and the ledger remembers the mark: where it is missing nothing is written, and nothing is taken for gone.
"""

from __future__ import annotations

import errno
import hashlib
import os
import secrets
from collections.abc import Callable
from pathlib import Path

from impose.desk.faults import Fault
from impose.desk.folders import DeskFolders, sync_quietly
from impose.desk.time_slices import Steps, copy_plain
from impose.errors import Exit, Finding, Trouble, quote_for_shell
from impose.files import open_plain, write_new_file
from impose.ledger.drops import DropLedger, PrintJob
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
            why = self._why_not()
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
        why = self._why_not()
        if why:
            raise FileNotFoundError(errno.ENOENT, why, str(self.root))

    def drop_pdf(self, one: PrintJob, source: Path) -> Steps[None]:
        """Drop one PDF, or finish what a crash cut short. Raises `OSError` where the folder fails."""
        self.require_folder()
        beside = self.root / _BESIDE / f"{self._desk}-{one.delivery}-{one.file}"
        target = self.root / one.paper / one.name
        if one.state == "due":
            if not source.exists():
                self._places.require_present()
                self._say(f"{source} is gone, so it was not sent to the printer")
                return self._drops.set_print(one, "printed")
            yield from copy_plain(source, beside)
            sync_quietly(beside.parent)
            target.parent.mkdir(exist_ok=True)
            self.require_folder()  # it is there that the copy lies
            self._fault("print:copied")
            self._drops.set_print(one, "dropping")
            self._fault("print:written")
        self._rename_into_place(beside, target)
        self._fault("print:dropped")
        self._drops.set_print(one, "printed")
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

    def _why_not(self) -> str:
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
            for one in self._drops.list_prints(delivery.id):
                if one.state == "dropping":
                    self._say(f"{one.name} is dropped into the new print folder; it may have been printed already")
                    self._drops.set_print(one, "due")


def _find_unused_name(target: Path) -> Path:
    """The name itself, or with a number, where another file has it."""
    number, path = 1, target
    while os.path.lexists(path):
        number += 1
        path = target.with_name(f"{target.stem}-{number}{target.suffix}")
    return path
