"""What the desk needs from outside, passed in so that tests need not wait: clocks, sleep, the listing, and kill points.

A `Fault` is called with the name of the instant just passed between two changes of state. The product's own does
nothing; tests pass one that ends the process.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Iterable
from pathlib import Path

from impose.desk.scan import InboxEntry, InboxOf, scan_inbox
from impose.values import FrozenStruct, field

Fault = Callable[[str], None]

FAULT_POINTS = (
    "claim:written",  # the ledger has the line, no file has moved
    "claim:moved",  # one file more is in the work folder
    "claim:closed",  # hash and state are in the ledger
    "delivery:begun",  # drops are bound to a delivery
    "delivery:built",  # the output lies whole in the work folder, the ledger does not know
    "delivery:made",  # the ledger knows
    "delivery:renamed",  # the output stands in sheets/, the ledger does not know
    "delivery:written",  # the ledger knows
    "delivery:tidied",  # one original more is in done/
    "print:copied",  # a PDF lies beside the print folder
    "print:written",  # the ledger says it is about to be dropped
    "print:dropped",  # it lies in the print folder, the ledger does not know
    "print:closed",  # the ledger knows
    "delivery:closed",  # nothing is left to do
    "refusal:written",  # the ledger says why and where to
    "refusal:told",  # the reason lies among the refused
    "refusal:moved",  # the files too, the ledger does not know
    "refusal:closed",  # the ledger knows
    "putback:written",  # drops of a delivery that will not be are waiting again
    "call:started",  # a command runs
    "call:ended",  # it has ended, the ledger does not know
)


def pass_kill_point(name: str) -> None:
    """What the product passes."""


def _sleep_seconds(seconds: float) -> None:
    time.sleep(seconds)


class DeskEnvironment(FrozenStruct):
    """`clock` is steady, `wall` is what people read; `sleep` may end early; `listing` may be a share without events."""

    clock: Callable[[], float] = time.monotonic
    wall: Callable[[], float] = time.time
    sleep: Callable[[float], object] = _sleep_seconds
    listing: Callable[[Path, InboxOf], Iterable[InboxEntry | None]] = scan_inbox
    fault: Fault = field(default=pass_kill_point)


class WakeableSleep:
    """Sleep that ends early when something happens: a reply of the worker, or, with watchfiles, a change in `in/`."""

    def __init__(self, inbox: Path) -> None:
        self._something = threading.Event()
        self._over = threading.Event()
        threading.Thread(target=follow_changes, args=(inbox, self.wake_up, self._over), daemon=True).start()

    def wake_up(self) -> None:
        """End the sleep that is under way, or the next one."""
        self._something.set()

    def sleep_until_woken(self, seconds: float) -> None:
        """Sleep so long at most."""
        self._something.wait(seconds)
        self._something.clear()

    def end_following(self) -> None:
        """Follow the folder no longer."""
        self._over.set()


def follow_changes(folder: Path, wake: Callable[[], None], over: threading.Event) -> None:
    """Call `wake` whenever anything below `folder` changes, until `over` is set or the folder cannot be followed.

    The optional library `watchfiles` is told of it by the system: it wraps what each system has (inotify, FSEvents,
    ReadDirectoryChangesW) behind one call. Without it nobody is woken. Nothing depends on it: a share sends no events,
    an overflowing queue loses some, so the folder is listed on a timer all the same.
    """
    with contextlib.suppress(ImportError, OSError, RuntimeError):
        from watchfiles import watch

        for _ in watch(folder, watch_filter=None, debounce=200, step=50, stop_event=over, rust_timeout=1000):
            wake()
