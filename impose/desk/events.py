"""Prompt events from the system, where the optional library `watchfiles` is installed: a hint to look now.

Chosen because it wraps what each system has (inotify, FSEvents, ReadDirectoryChangesW) behind one call, ships wheels
for all of them, and needs nothing else of us than this function. Nothing depends on it: a share sends no events, an
overflowing queue loses some, so the folder is listed on a timer all the same.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from pathlib import Path

from watchfiles import watch as _watch


def follow_changes(folder: Path, wake: Callable[[], None], over: threading.Event) -> None:
    """Call `wake` whenever anything below `folder` changes, until `over` is set or the folder cannot be followed."""
    with contextlib.suppress(OSError, RuntimeError):
        for _ in _watch(folder, watch_filter=None, debounce=200, step=50, stop_event=over, rust_timeout=1000):
            wake()
