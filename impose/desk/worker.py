"""The worker that makes deliveries in a process of its own, one request at a time, and the watcher's end of it.

The process reads requests from its standard input, writes replies to its standard output, and dies with its parent. It
is started afresh (`python -m impose.desk.worker`) and not forked: it holds no lock and no open file of the watcher's. A
picture that takes the process down takes nothing else down. It is renewed after so many requests, so that what a
library leaks stays bounded. It begins with one small print that is thrown away, so that the first real one finds
everything loaded; naming the libraries to load would be shorter, and wrong at the next change.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import struct
import subprocess
import sys
import threading
import zlib
from collections import deque
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from impose import __version__
from impose.files import open_scratch_folder
from impose.messages import end_child, read_message, start_child, write_message
from impose.remedies import word_remedies

if TYPE_CHECKING:  # loaded only once the process has begun to listen
    from impose.desk.worker_jobs import FailedJob, Reply, Request


def main() -> None:
    """Answer until the parent goes."""
    # Ctrl-C is for the parent alone, which decides; a stray print of a library must not look like a reply.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    requests: queue.SimpleQueue[Any] = queue.SimpleQueue()
    threading.Thread(target=_receive_requests, args=(requests,), daemon=True).start()
    from impose.desk.remedies import WORDINGS
    from impose.desk.worker_jobs import answer_request

    load_everything()
    try:
        write_message(replies, (0, __version__))
        with word_remedies(WORDINGS):
            while True:
                number, request = requests.get()
                write_message(replies, (number, answer_request(request)))
    except BrokenPipeError:
        os._exit(0)  # the parent is gone; a last flush would only complain


def _receive_requests(requests: queue.SimpleQueue[Any]) -> None:
    """Take requests in; when the parent is gone there is nobody to make anything for, however far the work is."""
    stream = sys.stdin.buffer
    while True:
        try:
            requests.put(read_message(stream))
        except (EOFError, OSError):
            os._exit(0)


_SIDE = 16


def load_everything() -> None:
    """Make a dot in a temporary folder. Whatever is wrong with that will be met, and said, by a real file."""
    from impose.desk.batch import DropContent
    from impose.desk.worker_jobs import MakeJob, answer_request
    from impose.orders.batch import RowDefaults
    from impose.run.options import Options

    with contextlib.suppress(OSError), open_scratch_folder() as folder:
        (folder / "dot.png").write_bytes(_make_dot())
        parcel = DropContent(1, "dot.png", folder, "dot.png", RowDefaults(width_mm=20.0))
        answer_request(MakeJob(0, "", "rehearsal", (parcel,), Options(cache=False, workers=1), folder / "out", None))


def _make_dot() -> bytes:
    """A black square as a PNG (W3C PNG, third edition: 5.2 signature, 5.3 chunks, 11.2 IHDR, IDAT, IEND)."""
    rows = (b"\0" + bytes(_SIDE)) * _SIDE
    chunks = (
        (b"IHDR", struct.pack(">IIBBBBB", _SIDE, _SIDE, 8, 0, 0, 0, 0)),
        (b"IDAT", zlib.compress(rows)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in chunks
    )


Then = Callable[["Reply"], None]
RENEWED_AFTER = 200
LONGEST_S = 1800.0
"""A request that takes longer is taken for one that will never end."""

DIED = "died"
CHILD = ("-m", "impose.desk.worker")


class WorkerClient(Protocol):
    """Does requests one after another and returns replies when polled."""

    def queue_request(self, request: Request, then: Then, urgent: bool = False) -> None:
        """Queue a request; `then` is called by a later `poll` with the reply."""

    def hand_out_replies(self, now: float) -> bool:
        """Hand out replies that have come; whether there were any."""

    @property
    def open_count(self) -> int:
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
    def open_count(self) -> int:
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
        from impose.desk.worker_jobs import FailedJob

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
        from impose.desk.worker_jobs import FailedJob

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
        self._process = start_child(self._script)
        self._replies = queue.SimpleQueue()
        self._sent, self._ready = 0, False
        threading.Thread(
            target=_receive_replies, args=(self._process.stdout, self._replies, self._wake), daemon=True
        ).start()

    def _end_process(self) -> int | None:
        process, self._process = self._process, None
        if process is None:
            return None
        return end_child(process)

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


if __name__ == "__main__":
    main()
