"""What this program is made of: part of what a cache goes by, so that nothing made by other code is taken for ours."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path


def list_code_files(folder: Path) -> list[Path]:
    """The source files of a room; in a bundle, which has them packed, the program itself."""
    return sorted(folder.rglob("*.py")) or [Path(sys.executable)]


def hash_code(folder: Path) -> str:
    """The SHA-256 of a room's source, so that no edit meets what was made before it."""
    source = hashlib.sha256()
    for path in list_code_files(folder):
        source.update(path.read_bytes())
    return source.hexdigest()
