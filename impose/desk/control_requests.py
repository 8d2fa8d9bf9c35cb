"""What `impose desk` asks of a running watch: small files in the work folder, so that one process alone writes the
ledger.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from pathlib import Path

from impose.desk.folders import DeskFolders
from impose.files import write_new_file

KINDS = ("make-now", "accept", "reject", "printed", "print-again", "stop")
_NAME = re.compile(rf"({'|'.join(KINDS)})-([0-9]+)")


def leave_request(places: DeskFolders, kind: str, number: int = 0) -> None:
    """Ask for something. Raises `OSError` where the desk cannot be written."""
    assert kind in KINDS
    places.requests.mkdir(exist_ok=True)
    with write_new_file(places.requests / f"{kind}-{number}") as part:
        part.write_bytes(b"")


def list_requests(places: DeskFolders) -> Iterator[tuple[str, int, Path]]:
    """What is asked for: kind, number, and the file to be removed once it is done."""
    for path in sorted(places.requests.iterdir()) if places.requests.is_dir() else []:
        found = _NAME.fullmatch(path.name)
        if found:
            yield found[1], int(found[2]), path


def forget_requests(places: DeskFolders, kind: str) -> None:
    """Forget all wishes of a kind."""
    for path in [path for one, _, path in list_requests(places) if one == kind]:
        remove_request(path)


def remove_request(path: Path) -> None:
    """Forget a wish."""
    with contextlib.suppress(FileNotFoundError):
        path.unlink()
