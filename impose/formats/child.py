"""The renderers' own process: it draws SVGs and PDF pages within limits of time and memory, and may die of them.

A message is plain values as JSON and one run of bytes, each with its length before it: nothing that comes out of this
process is executed by the one that asked. It works in an empty folder and may write next to nothing.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import struct
import sys
from collections.abc import Callable, Mapping
from typing import Any, BinaryIO

from impose.files import open_scratch_folder

SMALL_S, LARGE_S = 4, 12
"""Processor time that a small rendering and the final one may take; of the small ones there are two at most."""

TOTAL_S = 2 * SMALL_S + LARGE_S
"""Processor time that one file may take."""

MEMORY = 3 << 30
"""Bytes of address space: 60 million pixels twice, at 4 bytes, and what the libraries take for themselves."""


def main() -> None:
    """Answer requests until there are none."""
    requests, replies = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    # What a library prints must not get between the replies.
    os.dup2(2, 1)
    _limit_memory()
    with open_scratch_folder() as empty:
        os.chdir(empty)
        while (request := read_plain(requests)) is not None:
            write_plain(replies, *_answer_request(*request))
        os.chdir("/")


def _limit_memory() -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 20, 1 << 20))


def _answer_request(asked: dict[str, Any], blob: bytes) -> tuple[dict[str, Any], bytes]:
    from impose.formats import pdf_pages, svg_pixels

    functions: dict[str, Callable[..., tuple[Any, bytes]]] = {
        "svg": svg_pixels.draw_svg,
        "svg-families": svg_pixels.find_missing_families,
        "pdf-pages": pdf_pages.describe_page,
        "pdf": pdf_pages.draw_page,
    }
    values = asked["values"] | ({"blob": blob} if blob else {})
    _limit_time(asked["limit_s"])
    try:
        result, made = functions[asked["function"]](**values)
    except MemoryError:
        return {"verdict": "memory", "result": ""}, b""
    except Exception as error:
        said = (str(error).splitlines() or [""])[0][:200]
        return {"verdict": "fault", "result": said or type(error).__name__}, b""
    finally:
        _limit_time(0)
    return {"verdict": "ok", "result": result}, made


def _limit_time(seconds: float) -> None:
    """End this process by a signal once it has worked for so long; 0 takes the limit away."""
    if hasattr(signal, "setitimer"):
        signal.signal(signal.SIGPROF, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_PROF, seconds)


def write_plain(stream: BinaryIO, plain: Mapping[str, Any], blob: bytes = b"") -> None:
    """Write one message: plain values and a run of bytes."""
    head = json.dumps(plain).encode()
    stream.write(struct.pack(">QQ", len(head), len(blob)))
    stream.write(head)
    stream.write(blob)
    stream.flush()


def read_plain(stream: BinaryIO) -> tuple[dict[str, Any], bytes] | None:
    """The next message; None at the end of the stream, also where it ends within one."""
    lengths = stream.read(16)
    if len(lengths) < 16:
        return None
    plain, blob = struct.unpack(">QQ", lengths)
    head, data = stream.read(plain), stream.read(blob)
    if len(head) < plain or len(data) < blob:
        return None
    return json.loads(head), data


if __name__ == "__main__":
    main()
