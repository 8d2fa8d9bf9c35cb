"""Thinning out `done/`, by age and by size, and only if told to."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path


def prune(
    done: Path,
    wall: float,
    keep_s: float | None,
    keep_bytes: int | None,
    busy: Callable[[str], bool],
    say: Callable[[str], None],
) -> None:
    """Remove the oldest originals: those older than `keep_s`, and those over `keep_bytes` in all.

    `busy` tells names that are still needed. Links are not followed.
    """
    found = []
    with os.scandir(done) as entries:
        for entry in entries:
            facts = entry.stat(follow_symlinks=False)
            size = _size(Path(entry.path)) if keep_bytes is not None else 0
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


def _size(path: Path) -> int:
    if path.is_symlink() or not path.is_dir():
        return path.lstat().st_size
    return sum(Path(root, name).lstat().st_size for root, _, names in os.walk(path) for name in names)
