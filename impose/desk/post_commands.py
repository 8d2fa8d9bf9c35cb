"""`--then COMMAND`: run at least once for every delivery, without a shell, beside everything else.

The command gets the delivery's id and its folder as its last two arguments, and as IMPOSE_DELIVERY and IMPOSE_FOLDER.
It may run twice for one delivery (a crash after it ended, before that was written down), so the id is there to tell.
"""

from __future__ import annotations

import contextlib
import os
import shlex
import subprocess
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from impose.desk.environment import Fault
from impose.desk.folders import DeskFolders
from impose.errors import describe_system_error
from impose.ledger.drops import DropLedger

AT_ONCE = 4
LONGEST_S = 600.0
FIRST_WAIT_S, LONGEST_WAIT_S = 10.0, 3600.0
MOST_TRIES = 20
_SAID = 300


def split_command(text: str) -> tuple[str, ...]:
    """A command line as its words, by the quoting rules of the system. Raises `ValueError` if there is none."""
    words = [word.strip('"') for word in shlex.split(text, posix=False)] if os.name == "nt" else shlex.split(text)
    if not words:
        raise ValueError("it is empty: name a program and its arguments")
    return tuple(words)


@dataclass(slots=True)
class _RunningCommand:
    process: subprocess.Popen[bytes]
    output: Any
    since: float


class PostCommands:
    """Runs the command for what is due; one that fails is tried again after a growing wait."""

    def __init__(
        self,
        command: tuple[str, ...],
        places: DeskFolders,
        drops: DropLedger,
        mark: str,
        fault: Fault,
        say: Callable[[str], None],
    ) -> None:
        self._command, self._places, self._drops, self._mark = command, places, drops, mark
        self._fault, self._say = fault, say
        self._running: dict[int, _RunningCommand] = {}
        self._not_before: dict[int, float] = {}

    @property
    def is_running(self) -> bool:
        """Whether a command runs."""
        return bool(self._running)

    def run_due(self, now: float) -> bool:
        """Take note of what has ended, start what is due; whether anything is still due."""
        due = self._drops.list_commands()
        tries = {delivery: count for delivery, count, _ in due}
        running = dict(self._running)
        for delivery, command in running.items():
            self._check_running(delivery, command, tries.get(delivery, 0), now)
        for delivery, _, _ in due:
            if len(self._running) >= AT_ONCE:
                break
            if delivery not in running and self._not_before.get(delivery, now) <= now:
                self._start_command(delivery, tries[delivery], now)
        return bool(due)

    def _start_command(self, delivery: int, tries: int, now: float) -> None:
        found = self._drops.read_delivery(delivery)
        folder = self._places.sheets / (found.name if found else "")
        name = f"{self._mark}-{delivery}"
        output = tempfile.TemporaryFile()  # noqa: SIM115  closed when the command has ended
        try:
            process = subprocess.Popen(
                [*self._command, name, str(folder)],
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                env={**os.environ, "IMPOSE_DELIVERY": name, "IMPOSE_FOLDER": str(folder)},
            )
        except (OSError, ValueError) as error:
            output.close()
            self._record_failure(
                delivery,
                tries,
                f"it could not be started: {describe_system_error(error) if isinstance(error, OSError) else error}",
                now,
            )
            return
        self._running[delivery] = _RunningCommand(process, output, now)
        self._fault("call:started")

    def _check_running(self, delivery: int, running: _RunningCommand, tries: int, now: float) -> None:
        code = running.process.poll()
        if code is None and now - running.since > LONGEST_S:
            running.process.kill()
            running.process.wait()
            code = -9
        if code is None:
            return
        said = _last_lines(running.output)
        running.output.close()
        del self._running[delivery]
        self._fault("call:ended")
        if code == 0:
            self._not_before.pop(delivery, None)
            self._drops.record_command(delivery, "done")
            return
        self._record_failure(delivery, tries, f"it ended with code {code}. {said}".strip(), now)

    def _record_failure(self, delivery: int, tries: int, why: str, now: float) -> None:
        over = tries + 1 >= MOST_TRIES
        wait = min(LONGEST_WAIT_S, FIRST_WAIT_S * 2**tries)
        self._not_before[delivery] = now + wait
        self._drops.record_command(delivery, "given up" if over else "due", why)
        after = "given up" if over else f"tried again in {wait:.0f} s"
        self._say(f"the command for delivery {delivery} failed ({after}): {why}")

    def close(self, grace_s: float = 2.0) -> None:
        """Leave running commands a moment, then let them go; those not seen to end run again next time."""
        until = time.monotonic() + grace_s
        for running in self._running.values():
            with contextlib.suppress(subprocess.TimeoutExpired):
                running.process.wait(max(0.0, until - time.monotonic()))
        for delivery, running in list(self._running.items()):
            if running.process.poll() == 0:
                self._drops.record_command(delivery, "done")
            running.output.close()
            running.process.returncode = running.process.returncode or 0  # not ours to wait for any more
        self._running.clear()


def _last_lines(output: Any) -> str:
    size = output.seek(0, os.SEEK_END)
    output.seek(max(0, size - _SAID))
    text: str = output.read().decode("utf-8", "replace")
    return " ".join(text.split())
