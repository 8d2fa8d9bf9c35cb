"""File names for orders: safe on every system, whatever script the order is named in, and each its own.

Letters, digits and hyphens only, since those mean nothing to any shell, file system or address. Lower case, because
two names that differ in case alone are one file on many systems. A name that lost letters on the way carries a few
digits of its hash, so that it stays the same whichever other orders are in the batch.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable

from impose.files import is_reserved

LONGEST = 60
"""Well within the 255 bytes of a name and the 260 characters of a whole path on Windows."""

_HASH = 8


def choose_file_names(names: Iterable[str]) -> list[str]:
    """A name without an ending for each of `names`, no two alike; equal names get different files."""
    taken: set[str] = set()
    given = []
    for wanted in names:
        base = make_slug(wanted)
        free, count = base, 1
        while free in taken:
            count += 1
            free = f"{base}-{count}"
        taken.add(free)
        given.append(free)
    return given


def make_slug(text: str) -> str:
    """`text` as a file name of letters, digits and hyphens; marked by its hash where anything but shape was lost."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    kept = "".join(c for c in plain if not unicodedata.combining(c))
    base = re.sub(r"[^a-z0-9]+", "-", kept).strip("-")
    lost = any(c.isalnum() and not c.isascii() for c in kept) or len(base) > LONGEST or not base
    if lost:
        digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:_HASH]
        base = f"{base[: LONGEST - _HASH - 1].strip('-') or 'order'}-{digest}"
    if is_reserved(base):
        base = f"order-{base}"
    return base
