"""Child processes of our own, and the messages to and from them: pickled, each with its length in front.

Only ever between a process and the child that it has started itself, over pipes that nobody else can write to.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import struct
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, BinaryIO

HEADER = struct.Struct(">Q")


def write_message(stream: BinaryIO, message: Any) -> None:
    """One pickled message with its length in front."""
    body = pickle.dumps(message)
    stream.write(HEADER.pack(len(body)) + body)
    stream.flush()


def read_message(stream: BinaryIO) -> Any:
    """The next message. Raises `EOFError` when the other side is gone."""
    head = _read_exactly(stream, HEADER.size)
    return pickle.loads(_read_exactly(stream, HEADER.unpack(head)[0]))


def _read_exactly(stream: BinaryIO, size: int) -> bytes:
    body = stream.read(size)
    if body is None or len(body) < size:
        raise EOFError
    return body


def start_child(script: Sequence[str], stderr: int | None = None) -> subprocess.Popen[bytes]:
    """Start a Python process that reads messages and writes them; `script` as after `python`. Raises `OSError`.

    It is a session of its own, so that Ctrl-C at the terminal reaches its parent alone.
    """
    # -P: the folder one happens to stand in, where anyone may drop files, is no place to import from.
    paths = [str(Path(path).absolute()) for path in sys.path if path]
    return subprocess.Popen(
        [sys.executable, "-P", *script],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=stderr,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        start_new_session=os.name != "nt",
    )


def end_child(process: subprocess.Popen[bytes], patience_s: float = 0.05) -> int:
    """End a child: its input is closed, and what goes on for longer than `patience_s` is killed; its exit code."""
    with contextlib.suppress(OSError):
        if process.stdin:
            process.stdin.close()
    try:
        return process.wait(patience_s)
    except subprocess.TimeoutExpired:
        process.kill()
        return process.wait()
