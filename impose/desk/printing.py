"""The print folder: each sheets PDF, and nothing else, dropped whole and once into the folder of its paper.

A printing program takes files away as soon as they appear, so that "is it there?" says nothing afterwards. What says
it is the copy beside: it is written, the ledger says that it is about to be dropped, then it is renamed into place. If
it is still there after a crash the drop has not happened; if it is gone, it has.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable
from pathlib import Path

from impose.desk.faults import Fault
from impose.desk.places import sync_quietly
from impose.files import sync
from impose.ledger.drops import Drops, Print

_BESIDE = ".impose"


class PrintFolder:
    """Drops PDFs into `root`, one folder a paper."""

    def __init__(self, root: Path, mark: str, drops: Drops, fault: Fault, say: Callable[[str], None]) -> None:
        self.root, self._mark = root, mark
        self._drops, self._fault, self._say = drops, fault, say

    def drop(self, one: Print, source: Path) -> None:
        """Drop one PDF, or finish what a crash cut short. Raises `OSError` where the folder fails."""
        beside = self.root / _BESIDE / f"{self._mark}-{one.delivery}-{one.file}"
        target = self.root / one.paper / one.name
        if one.state == "due":
            if not source.exists():
                self._say(f"{source} is gone, so it was not sent to the printer")
                return self._drops.set_print(one, "printed")
            self._copy(source, beside)
            target.parent.mkdir(exist_ok=True)
            self._fault("print:copied")
            self._drops.set_print(one, "dropping")
            self._fault("print:written")
        if not beside.parent.is_dir():
            raise FileNotFoundError(2, "the print folder is not there", str(self.root))
        with contextlib.suppress(FileNotFoundError):
            beside.rename(_unused(target))
            sync_quietly(target.parent, beside.parent)
        self._fault("print:dropped")
        self._drops.set_print(one, "printed")
        self._fault("print:closed")
        return None

    def _copy(self, source: Path, beside: Path) -> None:
        # Not the folders around it: where they are missing, a share is away or the name is mistyped.
        self.root.mkdir(exist_ok=True)
        beside.parent.mkdir(exist_ok=True)
        shutil.copyfile(source, beside)
        sync(beside)
        sync_quietly(beside.parent)


def _unused(target: Path) -> Path:
    """The name itself, or with a number, where another file has it."""
    number, path = 1, target
    while os.path.lexists(path):
        number += 1
        path = target.with_name(f"{target.stem}-{number}{target.suffix}")
    return path
