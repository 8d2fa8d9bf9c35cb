"""What `impose desk` asks of a running watch: small files in the work folder, so that one process alone writes the
ledger.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from pathlib import Path

from impose.desk.places import Places
from impose.files import new_file

KINDS = ("make-now", "accept", "reject", "stop")
_NAME = re.compile(rf"({'|'.join(KINDS)})-([0-9]+)")


def wish(places: Places, kind: str, number: int = 0) -> None:
    """Ask for something. Raises `OSError` where the desk cannot be written."""
    assert kind in KINDS
    places.wishes.mkdir(exist_ok=True)
    with new_file(places.wishes / f"{kind}-{number}") as part:
        part.write_bytes(b"")


def wishes(places: Places) -> Iterator[tuple[str, int, Path]]:
    """What is asked for: kind, number, and the file to be removed once it is done."""
    for path in sorted(places.wishes.iterdir()) if places.wishes.is_dir() else []:
        found = _NAME.fullmatch(path.name)
        if found:
            yield found[1], int(found[2]), path


def forget(places: Places, kind: str) -> None:
    """Forget all wishes of a kind."""
    for path in [path for one, _, path in wishes(places) if one == kind]:
        fulfilled(path)


def fulfilled(path: Path) -> None:
    """Forget a wish."""
    with contextlib.suppress(FileNotFoundError):
        path.unlink()
