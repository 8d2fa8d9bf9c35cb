"""Refusals: the files into `refused/`, beside them a text that says why and what to do."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable
from pathlib import Path

from impose.desk.faults import Fault
from impose.desk.folders import DeskFolders, find_free_name, sync_quietly
from impose.files import write_new_file
from impose.ledger.drops import Drop, DropLedger


class Refuser:
    """Moves drops to the refused; every step can be repeated."""

    def __init__(
        self,
        places: DeskFolders,
        drops: DropLedger,
        fault: Fault,
        wall: Callable[[], float],
        say: Callable[[str], None],
    ) -> None:
        self._places, self._drops, self._fault, self._wall, self._say = places, drops, fault, wall, say
        self.count = 0

    def refuse_drop(self, drop: Drop, why: str) -> None:
        """Decide to refuse a drop and do it. A disk that fails leaves the rest to `finish`, later."""
        folder = self._places.refused
        why = why.removeprefix(f"{drop.path}: ").removeprefix(f"{drop.path.rpartition('/')[2]}: ")
        name = self._find_source(drop)[1]
        target = find_free_name(folder, name, lambda one: os.path.lexists(folder / f"{one}.txt"))
        self._drops.begin_refusal(drop.id, why, target)
        self._fault("refusal:written")
        self.finish_refusal(self._drops.read_drop(drop.id))

    def finish_refusal(self, drop: Drop) -> None:
        """Do what is left of a refusal that was decided. Raises `OSError` where the disk fails."""
        folder = self._places.refused
        source, name = self._find_source(drop)
        target = folder / (drop.target or find_free_name(folder, name))
        if os.path.lexists(source) and os.path.lexists(target):
            # Somebody put something of that name there since; ours has not moved.
            return self.refuse_drop(drop, drop.why)
        with write_new_file(folder / f"{target.name}.txt") as part:
            part.write_bytes(_write_reason(drop).encode("utf-8", "backslashreplace"))
        (folder / f"{target.name}.txt").chmod(0o644)
        self._fault("refusal:told")
        if os.path.lexists(source):
            source.rename(target)
        sync_quietly(folder, self._places.work)
        self._fault("refusal:moved")
        home = self._places.drop_folder(drop.id)
        with contextlib.suppress(FileNotFoundError):
            shutil.rmtree(home)
        self._drops.close_refusal(drop.id, self._wall())
        self._fault("refusal:closed")
        self.count += 1
        self._say(f"refused {drop.path}: {drop.why}")
        return None

    def _find_source(self, drop: Drop) -> tuple[Path, str]:
        """What is to be moved and its name among the refused: a lone file as itself, else the folder."""
        home = self._places.drop_folder(drop.id)
        held = self._drops.list_files(drop.id)
        last = drop.path.rpartition("/")[2]
        if held and held[-1].name == ".":
            return home, last
        if len(held) == 1:
            return home / held[0].name, last
        return home, last.rpartition(".")[0] or last


def _write_reason(drop: Drop) -> str:
    return (
        f"{drop.path} was not used.\n\n{drop.why}\n\n"
        "Mend it and drop it into the desk's folder “in” again. This text may be deleted, the file beside it too.\n"
    )
