"""Whether a PNG is all there, and hashes of what is claimed.

Every chunk up to IEND with its checksum: nothing that a copy still under way could add. The picture inside is decoded
by the maker, in a process of its own, since a picture made to break a decoder must break nothing else.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from impose.art.png import read_png
from impose.errors import Trouble
from impose.shop.styles import is_font_file

LARGEST = 1 << 30  # bytes of one file: far above any artwork, below what would exhaust a small computer


def whole_fault(path: Path) -> str:
    """Why a PNG is not whole, in words; "" if it is. Raises `OSError` where it cannot be read.

    A font is opened by the maker alone: its format does not say where it ends.
    """
    if path.stat().st_size > LARGEST:
        return f"The file is larger than {LARGEST >> 20} MB. Save it smaller."
    if is_font_file(path.name):
        return ""
    try:
        read_png(path.read_bytes(), path.name)
    except Trouble as trouble:
        return str(trouble)
    return ""


def hash_file(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def hash_drop(folder: Path, names: Iterable[str]) -> str:
    """One hash for the files of a drop: a lone file's own, else that of all names and hashes."""
    hashes = [(name, hash_file(folder / name)) for name in sorted(names)]
    if len(hashes) == 1:
        return hashes[0][1]
    return hashlib.sha256(json.dumps(hashes).encode("utf-8", "surrogateescape")).hexdigest()


def sameness(sha256: str, wish: Mapping[str, Any]) -> str:
    """What two drops share that ask for the same thing of the same content, whatever the file is called."""
    asked = {key: value for key, value in wish.items() if key not in ("main", "hold_s")}
    return hashlib.sha256(json.dumps([sha256, asked], sort_keys=True).encode()).hexdigest()
