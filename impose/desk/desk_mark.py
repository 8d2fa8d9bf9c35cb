"""Which desks this user has watched, remembered outside of them: what tells a desk whose disk is away from a new one.

One small file a desk beside the user's ledger, named after the desk's path; it holds the desk's mark. Nothing is lost
with it: a desk that is not remembered is one that was not seen yet.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from pathlib import Path

from impose.files import write_new_file
from impose.ledger.location import default_ledger_path


def known_desk(root: Path) -> str | None:
    """The mark of the desk that was seen at this path, None if none was."""
    try:
        return _locate_mark(root).read_text("ascii").strip() or None
    except (OSError, ValueError, RuntimeError):  # RuntimeError: a user without a home
        return None


def remember_desk(root: Path, mark: str) -> None:
    """Remember a desk; where nothing can be written for this user it is not remembered."""
    if known_desk(root) == mark:
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
