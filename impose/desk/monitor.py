"""What a running watch leaves to be seen: a log that rotates, and a heartbeat."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import socket
import time
from collections.abc import Callable
from logging.handlers import RotatingFileHandler
from typing import Any

from impose.desk.folders import DeskFolders

LOG_BYTES, LOG_FILES = 1_000_000, 5
BEAT_S = 5.0


class WatchLog:
    """Lines for people, with the time, in `work/watch.log` and four older ones; and to `also`."""

    def __init__(self, places: DeskFolders, also: Callable[[str], object] | None = None) -> None:
        # delay: with the desk's disk away there is nothing to open, and a log is no reason to stop.
        self._handler = RotatingFileHandler(
            places.log, maxBytes=LOG_BYTES, backupCount=LOG_FILES - 1, encoding="utf-8", delay=True, errors="replace"
        )
        self._handler.handleError = lambda record: None  # type: ignore[method-assign]
        self._handler.setFormatter(logging.Formatter("%(asctime)s %(message)s", "%Y-%m-%d %H:%M:%S"))
        self._places, self._also = places, also
        self._last = ""

    def __call__(self, text: str) -> None:
        """Say something; the same again at once is said once."""
        line = " ".join(text.split())
        if line == self._last:
            return
        self._last = line
        if self._places.read_identity() is None:  # its disk is away: nothing is to be made in its place
            self.close()
        else:
            self._handler.emit(logging.LogRecord("desk", logging.INFO, "", 0, line.replace("%", "%%"), (), None))
        if self._also is not None:
            self._also(line)

    def close(self) -> None:
        """Let go of the file."""
        with contextlib.suppress(OSError):
            self._handler.close()


class Heartbeat:
    """A small JSON file, written every few seconds by rename: who watches, how it is, what it waits for."""

    def __init__(self, places: DeskFolders, ledger: str) -> None:
        self._places, self._ledger = places, ledger
        self._next = 0.0

    def write_beat(self, now: float, wall: float, state: Callable[[], dict[str, Any]], force: bool = False) -> None:
        """Write it if it is time. A disk that fails is told elsewhere."""
        if (now < self._next and not force) or self._places.read_identity() is None:
            return
        self._next = now + BEAT_S
        told = {
            "at": round(wall, 1),
            "when": time.strftime("%Y-%m-%d %H:%M:%S", time.localtime(wall)),
            "pid": os.getpid(),
            "host": socket.gethostname(),
            "ledger": self._ledger,
            **state(),
        }
        part = self._places.work / ".heartbeat.part"
        with contextlib.suppress(OSError):
            part.write_text(json.dumps(told, ensure_ascii=True, indent=1) + "\n", "utf-8")
            part.replace(self._places.heartbeat)
