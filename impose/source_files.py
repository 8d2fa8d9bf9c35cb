"""What this program is made of: part of what a cache goes by, so that nothing made by other code is taken for ours."""

from __future__ import annotations

import sys
from pathlib import Path


def list_code_files(folder: Path) -> list[Path]:
    """The source files of a room; in a bundle, which has them packed, the program itself."""
    return sorted(folder.rglob("*.py")) or [Path(sys.executable)]
