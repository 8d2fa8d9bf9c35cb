"""Which names and sizes a packed shop may have: told in one place to who packs and who unpacks."""

from __future__ import annotations

import re
import unicodedata

from impose.errors import quote_text
from impose.files import is_reserved

MOST_FILES = 200
MOST_FOLDERS = 2
MOST_BYTES = 32 << 20
"""Of one file: fonts of all scripts have 20 MB."""

MOST_TOGETHER = 128 << 20
LONGEST_NAME = 120

_PART = re.compile(r"\w[\w ().+-]*")


def find_name_fault(name: str) -> str:
    """What is wrong with the name of a file in a packed shop; nothing if it is a plain one below the folder."""
    shown = quote_text(name[:LONGEST_NAME])
    parts = name.split("/")
    if len(name) > LONGEST_NAME or len(parts) > MOST_FOLDERS + 1:
        return f"the name {shown} is too long or too deep"
    if unicodedata.normalize("NFC", name) != name:
        return f"the name {shown} is not composed (NFC), so that two systems would take it for two"
    for part in parts:
        if not _PART.fullmatch(part) or part.endswith((" ", ".")) or is_reserved(part):
            return f"the name {shown} is no plain name below a folder"
    return ""
