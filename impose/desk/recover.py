"""What a start begins with: everything that was begun is finished or undone, however it was cut short; and pruning.

`done/` is pruned by age and by size, and only where the options say so. Age is taken from the wall clock, which can be
wrong for a while and then right again; what was deleted by a wrong one does not come back. So nothing is deleted by age
before the clock has gone steadily for an hour.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

from impose.desk.claim import Refuser
from impose.desk.folders import DeskFolders, find_free_name
from impose.desk.intake import Intake
from impose.desk.make import Production
from impose.desk.time_slices import Steps
from impose.ledger.drops import OPEN_DELIVERIES, DropLedger

Say = Callable[[str], None]

# Temporaries that a kill left: of the desk's mark, and of the text beside a refused file.
_LEFT_AT_WORK = re.compile(r"\.new-[0-9]+")
_LEFT_AMONG_REFUSED = re.compile(r"\..+\.[a-z0-9_]{8}\.part")


def recover_desk(
    places: DeskFolders, drops: DropLedger, intake: Intake, refuser: Refuser, bench: Production, say: Say
) -> None:
    """Bring ledger and folders together. Raises `OSError` or `Trouble` where a disk fails; then it is begun again.

    Claims are finished in the turns that follow, since files may be large.
    """
    bench.release_all()
    _reopen_claims(places, drops)
    intake.recover_claims()
    for drop in drops.list_drops("waiting"):
        if drop.why:  # claimed only to be refused
            refuser.refuse_drop(drop, drop.why)
    for drop in drops.list_drops("refusing"):
        refuser.finish_refusal(drop)
    _remove_leftovers(places, drops, say)


def _reopen_claims(places: DeskFolders, drops: DropLedger) -> None:
    """Claims whose files lie in the inbox again: after a power cut a file system may have forgotten a renaming."""
    for drop in drops.list_drops("waiting"):
        home = places.drop_folder(drop.id)
        gone = [held for held in drops.list_files(drop.id) if not os.path.lexists(home / held.name)]
        if gone and all(os.path.lexists(places.inbox / held.source) for held in gone):
            drops.reopen_claim(drop.id)


def _remove_leftovers(places: DeskFolders, drops: DropLedger, say: Say) -> None:
    """Folders of deliveries that will not be, and of drops that are not in the ledger: what a crash left.

    Nothing that the ledger does not know at all is deleted: it may be all there is of somebody's artwork.
    """
    for folder, left in ((places.work, _LEFT_AT_WORK), (places.refused, _LEFT_AMONG_REFUSED)):
        for path in [path for path in folder.iterdir() if left.fullmatch(path.name)]:
            path.unlink(missing_ok=True)
    deliveries = {delivery.id for delivery in drops.list_deliveries(*OPEN_DELIVERIES)}
    for path in list(places.work.iterdir()):
        kind, _, number = path.name.partition("-")
        if not number.isdecimal():
            continue
        if kind == "make" and int(number) not in deliveries:
            shutil.rmtree(path, ignore_errors=True)
        elif kind == "drop" and not drops.has_drop(int(number)):
            _rescue_unknown(places, path, say)


def _rescue_unknown(places: DeskFolders, folder: Path, say: Say) -> None:
    """Files in the work folder without a line in the ledger: the ledger was lost or exchanged."""
    name = find_free_name(places.refused, folder.name)
    folder.rename(places.refused / name)
    why = (
        f"{folder.name} was found in the desk's work folder, but the ledger knows nothing of it: the ledger was lost "
        "or exchanged. Look through sheets/ whether it was made; if not, drop it again."
    )
    (places.refused / f"{name}.txt").write_text(why + "\n", "utf-8")
    say(why)


STEADY_S = 3600.0
JUMP_S = 86400.0
_PAUSE_S = 2 * JUMP_S  # between two runs, such as one each night
_CLOCK = "clock"


class SteadyClock:
    """Whether the wall clock can be trusted: how long it has gone without a jump, over restarts too."""

    def __init__(self, drops: DropLedger) -> None:
        self._drops = drops
        self._ahead: float | None = None
        self._jumped = False

    def compare_clocks(self, now: float, wall: float) -> None:
        """Compare the wall clock with the steady one; at every turn."""
        ahead = wall - now
        if self._ahead is not None and abs(ahead - self._ahead) > JUMP_S:
            self._jumped = True
        self._ahead = ahead

    def is_steady(self, wall: float) -> bool:
        """Whether an hour has passed since the last jump that was seen; remembered for the next run."""
        said = (self._drops.read_fact(_CLOCK) or "").split()
        since, last = (float(said[0]), float(said[1])) if len(said) == 2 else (wall, wall)
        if self._jumped or not -JUMP_S <= wall - last <= _PAUSE_S:
            since = wall
        self._jumped = False
        self._drops.write_fact(_CLOCK, f"{min(since, wall)} {wall}")
        return wall - since >= STEADY_S


def prune_done(
    done: Path,
    wall: float,
    keep_s: float | None,
    keep_bytes: int | None,
    busy: Callable[[str], bool],
    say: Callable[[str], None],
) -> Steps[None]:
    """Remove the oldest originals: those older than `keep_s`, and those over `keep_bytes` in all.

    `busy` tells names that are still needed. Links are not followed.
    """
    found = []
    with os.scandir(done) as entries:
        for entry in entries:
            facts = entry.stat(follow_symlinks=False)
            size = _measure_size(Path(entry.path)) if keep_bytes is not None else 0
            yield
            # The time the folder was put there: what is inside keeps the times of whoever made it.
            found.append((facts.st_ctime, entry.name, size))
    total = sum(size for _, _, size in found)
    for changed, name, size in sorted(found):
        old = keep_s is not None and wall - changed > keep_s
        over = keep_bytes is not None and total > keep_bytes
        if not (old or over) or busy(name):
            continue
        path = done / name
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
        total -= size
        say(f"pruned done/{name}")
        yield


def _measure_size(path: Path) -> int:
    if path.is_symlink() or not path.is_dir():
        return path.lstat().st_size
    return sum(Path(root, name).lstat().st_size for root, _, names in os.walk(path) for name in names)
