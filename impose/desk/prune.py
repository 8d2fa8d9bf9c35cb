"""Thinning out `done/`, by age and by size, and only if told to.

Age is told by the wall clock, which can be wrong for a while and then right again; what was thrown away by a wrong one
does not come back. So nothing is thrown away by age before the clock has gone steadily for an hour.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

from impose.desk.time_slices import Steps
from impose.ledger.drops import DropLedger

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
