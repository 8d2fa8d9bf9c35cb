"""What a start begins with: everything that was begun is finished or undone, however it was cut short."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

from impose.desk.folders import DeskFolders, find_free_name
from impose.desk.intake import Intake
from impose.desk.production import Production
from impose.desk.refuse import Refuser
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
    """Folders of deliveries that will not be, and of drops that nobody knows: what a crash left.

    Nothing that the ledger does not know at all is deleted: it may be all there is of somebody's artwork.
    """
    for folder, left in ((places.work, _LEFT_AT_WORK), (places.refused, _LEFT_AMONG_REFUSED)):
        for path in [path for path in folder.iterdir() if left.fullmatch(path.name)]:
            path.unlink(missing_ok=True)
    deliveries = {one.id for one in drops.list_deliveries(*OPEN_DELIVERIES)}
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
