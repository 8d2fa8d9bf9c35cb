"""Work that takes a while, importable by processes elsewhere."""

from __future__ import annotations

import os
import time


def slow_pid(seconds: float) -> int:
    """Wait, then say which process did."""
    time.sleep(seconds)
    return os.getpid()
