"""Free memory is given back to the system between the parts of a large batch.

The C library keeps much of what is freed for what comes next: 20 to 70 MB after a part of 500 sheets, which is then
missing where the whole is written.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache


def give_back_memory() -> None:
    """Give back what the C library holds free; nothing happens where it cannot (`malloc_trim` is glibc's)."""
    trim = _find_trim()
    if trim is not None:
        trim(0)


@cache
def _find_trim() -> Callable[[int], int] | None:
    if sys.platform != "linux":
        return None
    import ctypes

    found: Callable[[int], int] | None = getattr(ctypes.CDLL(None), "malloc_trim", None)
    return found
