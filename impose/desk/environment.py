"""What the desk needs of the world, passed in so that tests need not wait: clocks, sleep, and the listing."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from impose.desk.faults import Fault, no_fault
from impose.desk.scan import InboxEntry, InboxOf, scan_inbox


def _sleep_seconds(seconds: float) -> None:
    time.sleep(seconds)


@dataclass(frozen=True, slots=True)
class DeskEnvironment:
    """`clock` is steady, `wall` is what people read; `sleep` may end early; `listing` may be a share without events."""

    clock: Callable[[], float] = time.monotonic
    wall: Callable[[], float] = time.time
    sleep: Callable[[float], object] = _sleep_seconds
    listing: Callable[[Path, InboxOf], Iterable[InboxEntry | None]] = scan_inbox
    fault: Fault = field(default=no_fault)
