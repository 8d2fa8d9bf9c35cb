"""A rehearsal: one small print made and thrown away, so that the first real one finds everything loaded.

Naming the libraries to load would be shorter, and wrong at the next change.
"""

from __future__ import annotations

import contextlib
import struct
import tempfile
import zlib
from pathlib import Path

from impose.desk.batch import DropContent
from impose.desk.worker_jobs import MakeJob, answer_request
from impose.orders.batch import RowDefaults
from impose.run.options import Options

_SIDE = 16


def load_everything() -> None:
    """Make a dot in a temporary folder. Whatever is wrong with that will be met, and said, by a real file."""
    with contextlib.suppress(OSError), tempfile.TemporaryDirectory(prefix="impose-") as name:
        folder = Path(name)
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
