"""The watcher's end of the maker: one request at a time in a process of its own, never waited for.

A picture that takes its process down takes nothing else down. The process is renewed after so many requests, so that
what a library leaks stays bounded.
"""

from __future__ import annotations

import contextlib
import os
import queue
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable, Sequence
from typing import Any, Protocol

from impose import __version__
from impose.desk.worker_jobs import FailedJob, Reply, Request
from impose.messages import read_message, write_message

Then = Callable[[Reply], None]
RENEWED_AFTER = 200
LONGEST_S = 1800.0
"""A request that takes longer is taken for one that will never end."""

DIED = "died"
CHILD = ("-m", "impose.desk.worker")


class WorkerClient(Protocol):
    """Does requests one after another and hands back replies when polled."""

    def queue_request(self, request: Request, then: Then, urgent: bool = False) -> None:
        """Queue a request; `then` is called by a later `poll` with the reply."""

    def hand_out_replies(self, now: float) -> bool:
        """Hand out replies that have come; whether there were any."""

    @property
    def count_open(self) -> int:
        """Requests not answered yet."""

    def forget_requests(self) -> None:
        """Forget every request, end the process."""

    def end_process(self) -> None:
        """End the process for good."""


class ProcessWorkerClient:
    """A `WorkerClient` in a process of its own."""

    def __init__(self, wake: Callable[[], None] | None = None, script: Sequence[str] = CHILD) -> None:
        self._script = script
        self._wake = wake or (lambda: None)
        self._waiting: deque[tuple[Request, Then]] = deque()
        self._under_way: Then | None = None
        self._since: float | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._replies: queue.SimpleQueue[tuple[int, Any] | None] = queue.SimpleQueue()
        self._sent, self._ready = 0, False
        self._start_process()

    @property
    def count_open(self) -> int:
        """Requests not answered yet."""
        return len(self._waiting) + (self._under_way is not None)

    def queue_request(self, request: Request, then: Then, urgent: bool = False) -> None:
        """Queue a request; `then` is called by a later `poll` with the reply."""
        if urgent:
            self._waiting.appendleft((request, then))
        else:
            self._waiting.append((request, then))
        self._send_next()

    def hand_out_replies(self, now: float) -> bool:
        """Hand out the reply if it has come, notice a death or a request without end, send the next."""
        reply = self._next_reply(now)
        if reply is None:
            self._send_next()
            return False
        then, self._under_way, self._since = self._under_way, None, None
        if self._sent >= RENEWED_AFTER:
            self._end_process()
        self._send_next()
        if then is not None:
            then(reply)
        return True

    def _next_reply(self, now: float) -> Reply | None:
        if self._under_way is None:
            return None
        with contextlib.suppress(queue.Empty):
            message = self._replies.get_nowait()
            if message is None:
                return self._explain_death()
            number, said = message
            if number:
                answer: Reply = said
                return answer
            self._ready = True
            if said != __version__:
                self._end_process()
                why = f"the program was changed to version {said} while version {__version__} runs; start it again"
                return FailedJob("system", common=why)
        if self._since is None:
            self._since = now
        if now - self._since > LONGEST_S:
            self._end_process()
            return FailedJob("error", common=f"{DIED}: it was not finished after {LONGEST_S / 60:.0f} minutes")
        return None

    def _explain_death(self) -> FailedJob:
        """What a death means: before the process was ready no file can be to blame for it."""
        ready = self._ready
        how = _describe_exit(self._end_process())
        if not ready:
            return FailedJob("system", common=f"the maker's process cannot start ({how}); see what it printed")
        return FailedJob("error", common=f"{DIED}: the process that made it ended ({how})")

    def _send_next(self) -> None:
        if self._under_way is not None or not self._waiting:
            return
        if self._process is None or self._process.poll() is not None:
            self._end_process()
            self._start_process()
        assert self._process is not None
        assert self._process.stdin is not None
        request, self._under_way = self._waiting.popleft()
        self._sent += 1
        # Should the process be dead already, its end of file is the reply.
        with contextlib.suppress(BrokenPipeError, OSError):
            write_message(self._process.stdin, (self._sent, request))  # type: ignore[arg-type]

    def _start_process(self) -> None:
        # -P: the folder one happens to stand in, where anyone may drop files, is no place to import from.
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
        self._process = subprocess.Popen(
            [sys.executable, "-P", *self._script],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
            start_new_session=os.name != "nt",
        )
        self._replies = queue.SimpleQueue()
        self._sent, self._ready = 0, False
        threading.Thread(
            target=_receive_replies, args=(self._process.stdout, self._replies, self._wake), daemon=True
        ).start()

    def _end_process(self) -> int | None:
        process, self._process = self._process, None
        if process is None:
            return None
        with contextlib.suppress(OSError):
            if process.stdin:
                process.stdin.close()
        try:
            code = process.wait(0.05)
        except subprocess.TimeoutExpired:
            process.kill()
            code = process.wait()
        return code

    def forget_requests(self) -> None:
        """Forget every request; a process that is at one is ended, and a new one starts with the next request."""
        self._waiting.clear()
        if self._under_way is not None:
            self._under_way = self._since = None
            self._end_process()

    def end_process(self) -> None:
        """End the process for good."""
        self.forget_requests()
        self._end_process()


def _receive_replies(stream: Any, replies: queue.SimpleQueue[Any], wake: Callable[[], None]) -> None:
    """Take replies in until the process is gone, which None says."""
    with stream:
        while True:
            try:
                replies.put(read_message(stream))
            except (EOFError, OSError, ValueError):
                replies.put(None)
                return
            finally:
                wake()


def _describe_exit(code: int | None) -> str:
    if code is None:
        return "it did not say how"
    return f"signal {-code}" if code < 0 else f"code {code}"
