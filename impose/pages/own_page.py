"""Whether a page that is to be replaced is one of ours, so that nobody's work is written over."""

from __future__ import annotations

from pathlib import Path

_LARGEST = 16 << 20


def is_own_page(path: Path, title: str, label: str) -> bool:
    """Whether a file is a page as we wrote it, by how its title and labels begin; not one that was added to since."""
    try:
        with path.open("rb") as file:
            content = file.read(_LARGEST + 1)
    except OSError:
        return False
    marked = f"({title} ".encode() in content and f"/P({label})".encode() in content.replace(b" ", b"")
    return content.startswith(b"%PDF-") and len(content) <= _LARGEST and marked and content.count(b"%%EOF") == 1
