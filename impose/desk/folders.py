"""The desk's folders: made, known again, and never inside one another by accident.

Which desks this user has watched is remembered outside of them: that tells a desk whose disk is away from a new one.
One small file a desk stands beside the user's ledger, named after the desk's path; it holds the desk's mark. Nothing is
lost with it: a desk that is not remembered is one that was not seen yet.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import secrets
from pathlib import Path

from impose.desk.inbox_rules import make_safe_name
from impose.errors import Exit, Finding, Trouble, quote_for_shell
from impose.files import sync_path, write_new_file
from impose.ledger.drops import DROPS, DropLedger
from impose.ledger.location import default_ledger_path
from impose.ledger.store import open_ledger
from impose.remedies import Remedy
from impose.values import FrozenStruct


def find_known_desk(root: Path) -> str | None:
    """The mark of the desk that was seen at this path, None if none was."""
    try:
        return _locate_mark(root).read_text("ascii").strip() or None
    except (OSError, ValueError, RuntimeError):  # RuntimeError: a user without a home
        return None


def remember_desk(root: Path, mark: str) -> None:
    """Remember a desk; where nothing can be written for this user it is not remembered."""
    if find_known_desk(root) == mark:
        return
    with contextlib.suppress(OSError, RuntimeError):
        path = _locate_mark(root)
        path.parent.mkdir(parents=True, exist_ok=True)
        with write_new_file(path) as part:
            part.write_text(f"{mark}\n", "ascii")


def _locate_mark(root: Path) -> Path:
    named = os.environ.get("IMPOSE_LEDGER")
    folder = Path(named).parent if named else default_ledger_path().parent
    return folder / "desks" / hashlib.sha256(os.fsencode(root)).hexdigest()[:32]


_FOLDERS = ("in", "work", "sheets", "refused", "done")
_IDENTITY = ".desk"
_LEDGER = ".ledger"


class DeskFolders(FrozenStruct):
    """Where everything of a desk lies."""

    root: Path

    @property
    def inbox(self) -> Path:
        """Where artwork and batches are dropped."""
        return self.root / "in"

    @property
    def work(self) -> Path:
        """What is claimed and being made, the lock, the heartbeat and the log."""
        return self.root / "work"

    @property
    def sheets(self) -> Path:
        """Finished deliveries."""
        return self.root / "sheets"

    @property
    def refused(self) -> Path:
        """What could not be used, each with its reason."""
        return self.root / "refused"

    @property
    def done(self) -> Path:
        """The originals of what was made."""
        return self.root / "done"

    @property
    def ledger(self) -> Path:
        """The ledger, unless another is named."""
        return self.root / "desk.db"

    @property
    def heartbeat(self) -> Path:
        """What a running watch last said of itself."""
        return self.work / "heartbeat.json"

    @property
    def log(self) -> Path:
        """The newest log."""
        return self.work / "watch.log"

    @property
    def requests(self) -> Path:
        """What other commands ask of the running watch."""
        return self.work / "wishes"

    def drop_folder(self, number: int) -> Path:
        """The folder of a claimed drop."""
        return self.work / f"drop-{number}"

    def make_folder(self, delivery: int) -> Path:
        """Where a delivery is made; its output is `out` in it."""
        return self.work / f"make-{delivery}"

    def read_identity(self) -> str | None:
        """The mark by which the desk is known again; None while its disk is away."""
        try:
            return (self.work / _IDENTITY).read_text("ascii").strip() or None
        except (OSError, ValueError):
            return None

    def restore_folders(self) -> None:
        """Make again what somebody deleted of a desk that is there. Raises `OSError` while its disk is away."""
        self.require_present()
        for name in _FOLDERS:
            (self.root / name).mkdir(exist_ok=True)

    def note_ledger(self, ledger: Path) -> None:
        """Write down that the desk's ledger is kept elsewhere, so that an empty one is not begun while it is away."""
        note = self.work / _LEDGER
        if _read_bytes(note) != os.fsencode(ledger):
            with write_new_file(note) as part:
                part.write_bytes(os.fsencode(ledger))

    def require_ledger(self, ledger: Path) -> None:
        """Raise `Trouble` where a ledger kept elsewhere is not there any more."""
        if not ledger.exists() and _read_bytes(self.work / _LEDGER) == os.fsencode(ledger):
            what = f"the ledger {ledger} is not there: its disk seems to be away"
            raise Trouble(Finding(what, Remedy("adopt-ledger"), exit=Exit.SYSTEM))

    def require_present(self) -> None:
        """Raise `OSError` while the desk's disk is away: what is not seen then has not gone."""
        if self.read_identity() is None:
            raise FileNotFoundError(2, "the desk is not there", str(self.root))


def open_desk(
    root: Path, print_folder: Path | None = None, ledger: Path | None = None, adopt: bool = False
) -> DeskFolders:
    """Make what is missing of a desk. Raises `Trouble` where it cannot be one, and then makes nothing.

    A desk that was seen at this path, by this user or by the `ledger`, and of which nothing is there, is not made
    anew: its disk is away. Unless it is to be adopted.
    """
    places = DeskFolders(Path(os.path.abspath(root)))  # noqa: PTH100  resolve() would lose the name a share is known by
    refuse_nested_folders(places, print_folder)
    known = None if places.read_identity() else _find_seen_desk(places, ledger)
    if known and not adopt and not places.ledger.is_file():
        raise Trouble(_make_away_finding(places))
    for name in _FOLDERS:
        folder = places.root / name
        if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
            raise _make_usage(f"{folder} is a link or a file where the desk wants a folder", "Move it away.")
        folder.mkdir(parents=True, exist_ok=True)
    devices = {(places.root / name).stat().st_dev for name in _FOLDERS}
    if len(devices) > 1:
        raise _make_usage(
            f"the folders of {places.root} lie on different disks, so that nothing can be moved in one step",
            "Keep in, work, sheets, refused and done on one disk.",
        )
    if places.read_identity() is None:
        mark = places.work / f".new-{os.getpid()}"
        mark.write_text(known or secrets.token_hex(8), "ascii")
        sync_path(mark)
        mark.replace(places.work / _IDENTITY)
        sync_path(places.work)
    remember_desk(places.root, places.read_identity() or "")
    return places


def _read_bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b""


def _find_seen_desk(places: DeskFolders, ledger: Path | None) -> str | None:
    """The mark of the desk that was seen here before."""
    if ledger is not None and ledger.is_file():
        with open_ledger(ledger, [DROPS]) as opened:
            return DropLedger(opened).read_fact("desk") or find_known_desk(places.root)
    return find_known_desk(places.root)


def _make_away_finding(places: DeskFolders) -> Finding:
    return Finding(
        f"the desk {places.root} was here before, and now nothing of it is: its disk or share seems to be away",
        Remedy("adopt-desk", desk=quote_for_shell(str(places.root))),
        kind="desk",
        exit=Exit.SYSTEM,
    )


def refuse_nested_folders(places: DeskFolders, print_folder: Path | None) -> None:
    """Raise `Trouble` where what the desk puts out would come in again, here or at another desk above it."""
    root = places.root.resolve()
    for above in root.parents:
        if (above / "work" / _IDENTITY).is_file():
            raise _make_usage(
                f"{root} lies inside the desk {above}, so that one would take what the other puts out",
                "Make the desk somewhere else.",
            )
    if print_folder is not None:
        target = print_folder.resolve()
        if target == root or target.is_relative_to(root) or root.is_relative_to(target):
            raise _make_usage(
                f"the print folder {target} and the desk {root} lie one in the other",
                "Name a print folder outside the desk.",
            )


def _make_usage(what: str, remedy: str) -> Trouble:
    return Trouble(Finding(what, remedy, kind="desk", exit=Exit.USAGE))


def move_without_replacing(source: Path, target: Path) -> None:
    """Rename without taking the place of anything. Raises `FileExistsError` where the name is taken.

    A folder replaces an empty folder at most, by the rule of rename(2).
    """
    if os.name == "nt" or source.is_dir() or source.is_symlink():
        if os.path.lexists(target) and not (target.is_dir() and source.is_dir() and not any(target.iterdir())):
            raise FileExistsError(17, "the name is taken", str(target))
        source.rename(target)
        return
    try:
        os.link(source, target, follow_symlinks=False)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(target):
            raise FileExistsError(17, "the name is taken", str(target)) from None
        source.rename(target)
        return
    source.unlink()


def find_free_name(folder: Path, name: str, taken: object = None) -> str:
    """`name`, or name-2, name-3 …: the first that is free in `folder` and not `taken` (a callable)."""
    wanted = make_safe_name(name)
    stem, dot, ending = wanted.rpartition(".") if "." in wanted[-6:] else (wanted, "", "")
    number, here = 1, wanted
    while os.path.lexists(folder / here) or (callable(taken) and taken(here)):
        number += 1
        here = f"{stem}-{number}{dot}{ending}"
    return here


def sync_quietly(*folders: Path) -> None:
    """Put folders' names on the disk where the system can."""
    for folder in folders:
        with contextlib.suppress(OSError):
            sync_path(folder)
