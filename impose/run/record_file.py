"""A record on disk: read, proven, and known by the hash of its bytes."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from impose import files
from impose.errors import Exit, Finding, Trouble
from impose.remedies import Remedy
from impose.sheet.record_reader import MOST_BYTES, RecordContent, read_record_content
from impose.values import FrozenStruct


class RecordFile(FrozenStruct):
    """A record, the folder it lies in, and the SHA-256 of its bytes."""

    printed: RecordContent
    path: Path
    sha256: str


def read_values(source: RecordFile) -> dict[str, Any]:
    """The record's own values, proven by its hash. Raises `Trouble` where the file was changed since it was read."""
    content = source.path.read_bytes()
    if hashlib.sha256(content).hexdigest() != source.sha256:
        what = "the record was changed while it was read"
        raise Trouble(Finding(what, "Run again.", kind="record", file=str(source.path), exit=Exit.SYSTEM))
    values: dict[str, Any] = json.loads(content.decode("utf-8-sig"))
    return values


def read_record(path: Path) -> RecordFile:
    """The record at a path, or in the output folder at it. Raises `Trouble` if it cannot be read or is none."""
    record = path / files.RECORD_NAME if path.is_dir() else path
    if path.is_dir() and not record.exists():
        raise Trouble(_make_no_output_folder(path))
    try:
        with record.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        what = f"the record cannot be read: {error.strerror or error}"
        remedy = "Give the batch.json of an output folder, or the folder."
        raise Trouble(Finding(what, remedy, kind="record", file=str(record), exit=Exit.SYSTEM)) from None
    return RecordFile(read_record_content(content, str(record)), record, hashlib.sha256(content).hexdigest())


def _make_no_output_folder(folder: Path) -> Finding:
    """A folder without a record; output folders in it are named."""
    try:
        inside = [path for path in sorted(folder.iterdir()) if (path / files.RECORD_NAME).is_file()]
    except OSError:
        inside = []
    remedy = "Name the folder that the sheets were written to, or its batch.json."
    if inside:
        remedy = (
            f"In it are {', '.join(str(path) for path in inside[:3])}{' and others' * (len(inside) > 3)}: name one."
        )
    what = "not an output folder: there is no batch.json in it"
    return Finding(what, remedy, kind="record", file=str(folder), exit=Exit.USAGE)


def refuse_own_record(out: Path, record: Path) -> None:
    """Raise `Trouble` (wrong use) where the output would take the place of the record that it comes from.

    What was printed by that record could never be found again, nor would the count of paper be right.
    """
    folder = record if record.is_dir() else record.parent
    if out.exists() and folder.exists() and out.samefile(folder):
        what = f"{out} holds the record of what is printed already, and would be replaced"
        raise Trouble(Finding(what, Remedy("other-folder"), kind="record", exit=Exit.USAGE))
