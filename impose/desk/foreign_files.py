"""What a dropped file is that is neither a PNG nor a batch file, by its first bytes, and what to do with it."""

from __future__ import annotations

from pathlib import Path

from impose.art.file_types import describe_foreign_file
from impose.desk.drop_rules import NEITHER
from impose.files import open_plain

_HEAD = 2048


def foreign_fault(path: Path) -> str:
    """Why it is refused, in words: what it is and how to make a PNG of it, as `impose check` says of artwork."""
    head = _read_head(path)
    if not head:
        return NEITHER
    finding = describe_foreign_file(head)
    if "not a picture" in finding.what or "text file" in finding.what:
        return NEITHER
    return f"{finding.what[:1].upper()}{finding.what[1:]}. {finding.remedy}"


def _read_head(path: Path) -> bytes:
    """The first bytes; none where they cannot be had, nor of what was exchanged for a pipe or a link meanwhile."""
    try:
        with open_plain(path) as file:
            return file.read(_HEAD)
    except OSError:
        return b""
