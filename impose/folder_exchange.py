"""An output folder exchanged for a new one without losing what people put into it: a signed page, a ticked list.

The record of an output names its files with their SHA-256. A file that is as we wrote it goes; whatever else is there
is carried into the new folder. Where the new folder has a file of the same name, the earlier one is kept under
`kept/`, so that an old sheet never lies beside the new ones.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

RECORD_NAME = "batch.json"
KEPT = "kept"

_WRITTEN = re.compile(
    r"(sheets-[^/]+|tickets(-[0-9]+)?)\.pdf|(proof|approval)[^/]*\.html|(preview|approval|parts)/[^/]+|reprint\.csv"
)
"""Names of the files in an output whose record does not name them: one of version 0.1 before it did."""


def hash_files_below(folder: Path) -> dict[str, str]:
    """The files below a folder and the SHA-256 of each, by their path with slashes."""
    return {
        path.relative_to(folder).as_posix(): hash_whole_file(path)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def record_in(folder: Path) -> dict[str, Any] | None:
    """The record of an output folder of ours, None where there is none."""
    try:
        record = json.loads((folder / RECORD_NAME).read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    ours = isinstance(record, dict) and str(record.get("format", "")).startswith("impose-record/")
    return record if ours else None


def carry_over(old: Path, new: Path, move: bool = False) -> None:
    """Put what people left in the output folder `old` into `new`: linked or copied, or moved.

    What was carried already is not carried twice, so that it may be called before an exchange and again after it.
    """
    for name, path in _list_strangers(old):
        target = new / name
        if name in _list_ours(new) or (not _are_same(path, target) and _is_taken(target)):
            target = _find_free_name(path, new / KEPT / name)
        if not _are_same(path, target):
            target.parent.mkdir(parents=True, exist_ok=True)
            _put_file(path, target, move)


def _list_strangers(folder: Path) -> Iterator[tuple[str, Path]]:
    """Path within the folder and path of everything that we did not write, or that was changed since."""
    ours = _list_ours(folder)
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_dir() and not path.is_symlink():
            if not any(path.iterdir()) and not any(known.startswith(f"{name}/") for known in ours):
                yield name, path
        elif name != RECORD_NAME and not _is_unchanged(path, name, ours):
            yield name, path


def _list_ours(folder: Path) -> Mapping[str, Any]:
    record = record_in(folder) or {}
    files = record.get("files")
    return files if isinstance(files, dict) else {}


def _is_unchanged(path: Path, name: str, ours: Mapping[str, Any]) -> bool:
    if path.is_symlink() or not path.is_file():
        return False
    return hash_whole_file(path) == ours.get(name) if ours else _WRITTEN.fullmatch(name) is not None


def hash_whole_file(path: Path) -> str:
    """The SHA-256 of what a file holds, as a record has it. Raises `OSError`."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _is_taken(path: Path) -> bool:
    return path.exists() or path.is_symlink()


def _find_free_name(path: Path, wanted: Path) -> Path:
    """`wanted`, or the first of name-2, name-3 … that is free or is the same already."""
    number, found = 1, wanted
    while _is_taken(found) and not _are_same(path, found):
        number += 1
        found = wanted.with_name(f"{wanted.stem}-{number}{wanted.suffix}")
    return found


def _are_same(path: Path, other: Path) -> bool:
    """Whether two names hold the same: one file, one link, two folders, or two files of the same content."""
    if not _is_taken(other):
        return False
    if path.is_symlink() or other.is_symlink():
        return path.is_symlink() and other.is_symlink() and path.readlink() == other.readlink()
    if path.is_dir() or other.is_dir():
        return path.is_dir() and other.is_dir()
    import filecmp

    return path.is_file() and other.is_file() and (path.samefile(other) or filecmp.cmp(path, other, shallow=False))


def _put_file(path: Path, target: Path, move: bool) -> None:
    if move:
        path.rename(target)
    elif path.is_symlink():
        target.symlink_to(path.readlink())
    elif path.is_dir():
        target.mkdir()
    elif path.is_file():
        try:
            os.link(path, target)
        except OSError:  # a file system without hard links
            shutil.copy2(path, target)
