"""Messages between two of our own processes: pickled, each with its length in front.

Only ever between a process and the child that it has started itself, over pipes that nobody else can write to.
"""

from __future__ import annotations

import pickle
import struct
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
