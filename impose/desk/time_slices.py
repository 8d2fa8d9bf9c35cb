"""Long work in short steps, so that the watcher takes a signal, a reply or a drop at least once a second.

A piece of work is a generator that yields between steps of about a millisecond to a hundredth of a second.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import TypeVar

from impose.files import open_plain, sync_path

T = TypeVar("T")
Steps = Generator[None, None, T]

STEP_S = 0.3
"""How long one piece of work goes on in one turn of the loop."""

SLICE = 1 << 20
"""Bytes read in one step."""

_SYNCED = 1 << 24  # bytes after which a copy is put on the disk, lest its last step wait for all of it


def advance_steps(steps: Iterator[None], clock: Callable[[], float], most_s: float = STEP_S) -> bool:
    """Go on with a piece of work for a while; whether it has come to its end."""
    until = clock() + most_s
    return all(clock() < until for _ in steps)


def finish_steps(steps: Steps[T]) -> T:
    """Do all of a piece of work at once; its result."""
    while True:
        try:
            next(steps)
        except StopIteration as end:
            result: T = end.value
            return result


def copy_plain(source: Path, target: Path) -> Steps[os.stat_result]:
    """Copy a plain file and its times, and put it on the disk; what was copied. Raises `OSError`.

    A source that is written to meanwhile is an error.
    """
    with open_plain(source) as read:
        facts = os.fstat(read.fileno())
        with target.open("wb", buffering=0) as write:
            size = 0
            while block := read.read(SLICE):
                write.write(block)
                size += len(block)
                if size % _SYNCED < SLICE:
                    os.fsync(write.fileno())
                yield
        after = os.fstat(read.fileno())
        if size != facts.st_size or (after.st_size, after.st_mtime_ns) != (facts.st_size, facts.st_mtime_ns):
            raise OSError(f"{source.name} changed while it was being copied")
    os.utime(target, ns=(facts.st_atime_ns, facts.st_mtime_ns))
    sync_path(target)
    return facts
