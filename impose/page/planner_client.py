"""The server's end of a batch's process: what is edited goes there, plans and answers come back.

A process that ends is started again and told the newest state; what it was asked is answered with words. One that ends
again and again over the same state is left alone until the next change.
"""

from __future__ import annotations

import asyncio
import contextlib
import queue
import subprocess
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from impose.messages import end_child, read_message, start_child, write_message
from impose.page.planner_messages import (
    Answer,
    AskRequest,
    CancelRequest,
    PlanFault,
    PlannerSetup,
    PlanRequest,
    PlanTold,
    ProgressTold,
    ReloadRequest,
)
from impose.page.refusal import Refusal
from impose.run.options import Options
from impose.values import FrozenStruct, replace

CHILD = ("-m", "impose.page.planner_process")
MOST_ENDS = 3
ENDS_S = 60.0
"""So many ends within so many seconds, and it is not started again before something changes."""

TakeMessage = Callable[[Any], None]


@dataclass(slots=True)
class PlannerClient:
    """One process; `take_message` is called with what it sends unasked. All calls come from the server's loop."""

    setup: PlannerSetup
    take_message: TakeMessage
    script: Sequence[str] = CHILD
    newest: PlanRequest | None = None
    plan: PlanTold | None = None
    fault: PlanFault | None = None
    _process: subprocess.Popen[bytes] | None = None
    _count: int = 0
    _asked: dict[int, asyncio.Future[Any]] = field(default_factory=dict)
    _progress: dict[int, Callable[[ProgressTold], None]] = field(default_factory=dict)
    _ends: list[float] = field(default_factory=list)
    _closing: bool = False
    _outbox: queue.SimpleQueue[Any] = field(default_factory=queue.SimpleQueue)

    @property
    def pid(self) -> int | None:
        """The process, for whoever looks after it."""
        return None if self._process is None else self._process.pid

    def change(self, request: PlanRequest) -> None:
        """Plan this from now on."""
        self.newest, self.fault = request, None
        if self._process is None:
            self._ends.clear()
            self.start_process()
        else:
            self._send_message(request)

    def change_profiles(self, request: PlanRequest, options: Options) -> None:
        """Plan this by profiles read anew."""
        self.setup = replace(self.setup, options=options)
        self._send_message(ReloadRequest(options))
        self.change(request)

    def start_process(self) -> None:
        """Start the process and tell it the newest state."""
        process = start_child(self.script)
        self._process, self._outbox = process, queue.SimpleQueue()
        # Written by a thread: a process that does not read must not hold the server up.
        threading.Thread(target=_write_all, args=(process, self._outbox), daemon=True).start()
        loop = asyncio.get_running_loop()
        threading.Thread(
            target=_receive_replies, args=(process, loop, self._take_reply, self._take_end), daemon=True
        ).start()
        self._send_message(self.setup)
        if self.newest is not None:
            self._send_message(self.newest)

    async def ask(self, name: str, progress: Callable[[ProgressTold], None] | None = None, /, **arguments: Any) -> Any:
        """The answer to something. Raises `Refusal`; called off, the work is given up."""
        if self._process is None:
            raise Refusal(503, "helper", "The planning helper is not running.", "Change something, or reload the page.")
        self._count += 1
        number = self._count
        future = self._asked[number] = asyncio.get_running_loop().create_future()
        if progress is not None:
            self._progress[number] = progress
        self._send_message(AskRequest(number, name, arguments))
        try:
            return await future
        except asyncio.CancelledError:
            self._send_message(CancelRequest(number))
            raise
        finally:
            self._asked.pop(number, None)
            self._progress.pop(number, None)

    def close(self) -> None:
        """End the process."""
        self._closing = True
        process, self._process = self._process, None
        if process is not None:
            self._outbox.put(None)
            end_child(process)

    def _send_message(self, message: Any) -> None:
        self._outbox.put(message)

    def _take_reply(self, process: subprocess.Popen[bytes], message: Any) -> None:
        if process is not self._process:
            return
        if isinstance(message, Answer):
            self._take_answer(message)
            return
        if isinstance(message, ProgressTold) and message.number:
            if message.number in self._progress:
                self._progress[message.number](message)
            return
        if isinstance(message, PlanTold):
            self.plan, self.fault = message, None
        elif isinstance(message, PlanFault):
            self.fault = message
        self.take_message(message)

    def _take_answer(self, answer: Answer) -> None:
        future = self._asked.get(answer.number)
        if future is None or future.done():
            return
        if answer.refused is None:
            future.set_result(answer.value)
        else:
            future.set_exception(Refusal(*answer.refused))

    def _take_end(self, process: subprocess.Popen[bytes]) -> None:
        """What an end means: begun anew, unless it ends over and over."""
        if process is not self._process or self._closing:
            return
        self._process = None
        self._outbox.put(None)
        end_child(process)
        for future in self._asked.values():
            if not future.done():
                what = "The planning helper ended while it was at this."
                future.set_exception(Refusal(503, "helper", what, "It was started again: try once more."))
        now = time.monotonic()
        self._ends = [at for at in self._ends if now - at < ENDS_S] + [now]
        if len(self._ends) < MOST_ENDS:
            self.start_process()
            self.take_message(HelperEnded(True))
        else:
            self.take_message(HelperEnded(False))


class HelperEnded(FrozenStruct):
    """The process ended; whether it was started again."""

    again: bool

    @property
    def words(self) -> tuple[str, str]:
        """What happened, and what to do, for the person."""
        what = "The planning helper ended without a word."
        if self.again:
            return what, "It was started again. Nothing is lost."
        return (
            f"{what} It did so several times.",
            "Undo the last change, or take out the newest picture. Nothing is lost.",
        )


def _receive_replies(
    process: subprocess.Popen[bytes],
    loop: asyncio.AbstractEventLoop,
    take: Callable[[subprocess.Popen[bytes], Any], None],
    ended: Callable[[subprocess.Popen[bytes]], None],
) -> None:
    """Take replies in until the process is gone."""
    assert process.stdout is not None
    with contextlib.suppress(RuntimeError), process.stdout as stream:  # RuntimeError: the loop is closed, we end
        while True:
            try:
                loop.call_soon_threadsafe(take, process, read_message(stream))  # type: ignore[arg-type]
            except (EOFError, OSError, ValueError):
                loop.call_soon_threadsafe(ended, process)
                return


def _write_all(process: subprocess.Popen[bytes], outbox: queue.SimpleQueue[Any]) -> None:
    """Write what is put out, until None; that the process is gone is told by whoever reads from it."""
    assert process.stdin is not None
    while (message := outbox.get()) is not None:
        try:
            write_message(process.stdin, message)  # type: ignore[arg-type]
        except (OSError, ValueError):
            return
