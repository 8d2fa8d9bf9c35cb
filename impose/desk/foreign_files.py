"""What a dropped file is that is neither artwork nor a batch file, by its first bytes, and what to do with it."""

from __future__ import annotations

import os
from pathlib import Path

from impose.desk.drop_rules import NEITHER
from impose.file_types import describe_foreign_file

_HEAD = 2048


def foreign_fault(path: Path) -> str:
    """Why it is refused, in words: what it is and how to make artwork of it, as `impose check` says of artwork."""
    head = _head(path)
    if not head:
        return NEITHER
    finding = describe_foreign_file(head)
    if "not a picture" in finding.what or "text file" in finding.what:
        return NEITHER
    return f"{finding.what[:1].upper()}{finding.what[1:]}. {finding.remedy}"


def _head(path: Path) -> bytes:
    """The first bytes; none where they cannot be had, nor of what was exchanged for a pipe or a link meanwhile."""
    try:
        opened = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        return b""
    with os.fdopen(opened, "rb") as file:
        try:
            return file.read(_HEAD) or b""
        except OSError:
            return b""
