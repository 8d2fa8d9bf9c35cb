"""Drawing in another process: a file made to break its renderer breaks nothing else.

One process serves all requests of this one, since a library takes a third of a second to load; after a death the next
request starts another. It ends when this process does, however that ends: its requests stop.
"""

from __future__ import annotations

import atexit
import os
import signal
import subprocess
import threading
from typing import Any

from impose.errors import Exit, Finding, Trouble
from impose.formats.child import LARGE_S, SMALL_S, TOTAL_S, read_plain, write_plain
from impose.formats.conversion import make_refusal
from impose.messages import end_child, start_child

LONGEST_S = 8 * LARGE_S
"""By the clock, on a machine with other work; the child itself counts processor time where the system has such a timer.
Where it has none (Windows), the clock decides, at the same number of seconds."""

_RENEWED_AFTER = 100  # requests, so that what a library leaks stays bounded
_SIMPLER = "Simplify it in the program that made it (fewer objects, filters and effects), or export a PNG."


class Renderer:
    """The process that draws. Requests of several threads wait for one another."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._lock = threading.Lock()
        self._done = 0
        self._owner = 0

    def ask(self, function: str, name: str, blob: bytes = b"", large: bool = False, **values: Any) -> tuple[Any, bytes]:
        """What a function of the child (see `impose.formats.child`) makes of some bytes: plain values, and bytes.

        `large` gives it the time of a final rendering. Raises `Trouble` about the file called `name` if it cannot be
        drawn, or not within the limits.
        """
        asked = {"function": function, "values": values, "limit_s": LARGE_S if large else SMALL_S}
        with self._lock:
            verdict, result, made = self._exchange_messages(asked, blob)
        if verdict == "ok":
            return result, made
        if verdict == "memory":
            raise make_refusal("drawing it takes more memory than is allowed", _SIMPLER, name, "too-complex")
        if verdict == "time":
            raise make_refusal(f"drawing it takes too long (over {TOTAL_S} s)", _SIMPLER, name, "too-complex")
        if verdict == "died":
            raise make_refusal(f"drawing it broke the renderer ({result})", _SIMPLER, name, "too-complex")
        raise make_refusal(
            f"it cannot be drawn ({result})", "Open it in the program that made it and save it again.", name
        )

    def _exchange_messages(self, asked: dict[str, Any], blob: bytes) -> tuple[str, Any, bytes]:
        process = self._find_process()
        assert process.stdin is not None
        assert process.stdout is not None
        late = threading.Event()

        def end_late() -> None:
            late.set()
            process.kill()

        watch = threading.Timer(LONGEST_S if hasattr(signal, "setitimer") else asked["limit_s"], end_late)
        watch.daemon = True
        watch.start()
        try:
            write_plain(process.stdin, asked, blob)  # type: ignore[arg-type]
            reply = read_plain(process.stdout)  # type: ignore[arg-type]
        except (OSError, ValueError, EOFError):
            reply = None
        finally:
            watch.cancel()
        if reply is None:
            return self._explain_death(late.is_set())
        self._done += 1
        if self._done >= _RENEWED_AFTER:
            self.close()
        told, made = reply
        return told["verdict"], told["result"], made

    def _explain_death(self, late: bool) -> tuple[str, Any, bytes]:
        code = self.close()
        if late or code == -getattr(signal, "SIGPROF", 0):
            return "time", "", b""
        if code == -getattr(signal, "SIGKILL", 0):  # not ours: the system's, for want of memory
            return "memory", "", b""
        # 134 and the like: a library's own abort, nearly always for want of memory or stack.
        how = f"signal {-code}" if code is not None and code < 0 else f"code {code}"
        return "died", how, b""

    def _find_process(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._owner != os.getpid():
            self._process = None  # of the process that this one was forked from
        if self._process is not None and self._process.poll() is not None:
            self.close()
        if self._process is None:
            self._process = _start_process()
            self._done, self._owner = 0, os.getpid()
        return self._process

    def close(self) -> int | None:
        """End the process; its exit code if it had ended by itself."""
        process, self._process = self._process, None
        if process is None or self._owner != os.getpid():
            return None
        code = end_child(process, 2)
        if process.stdout:
            process.stdout.close()
        return code


def _start_process() -> subprocess.Popen[bytes]:
    try:
        return start_child(("-m", "impose.formats.child"), stderr=subprocess.DEVNULL)
    except OSError as error:
        what = f"the process that draws SVGs and PDFs cannot be started: {error.strerror or error}"
        raise Trouble(Finding(what, "Close other programs and try again.", exit=Exit.SYSTEM)) from None


RENDERER = Renderer()
"""The one of this process."""

atexit.register(RENDERER.close)
