"""Waiting for what is promised. A machine may be busy with other work, so that only the promise itself ends a wait."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

LONGEST_S = 120.0
"""Far more than anything takes here: it ends a test whose promise is broken, and measures nothing."""


def wait_until(holds: Callable[[], Any], what: str, pause_s: float = 0.02) -> Any:
    """What `holds` answers, once it is true."""
    until = time.monotonic() + LONGEST_S
    while not (found := holds()):
        assert time.monotonic() < until, f"not within {LONGEST_S:g} s: {what}"
        time.sleep(pause_s)
    return found
