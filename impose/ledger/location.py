"""Where the ledger lies when nobody says otherwise."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def default_ledger_path() -> Path:
    """The file for this user's data: on Linux by the XDG Base Directory Specification 0.8, else the system's own place.

    Nothing is made there before paper is first counted.
    """
    home = Path.home()
    if sys.platform == "win32":
        folder = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        folder = home / "Library" / "Application Support"
    else:
        named = os.environ.get("XDG_DATA_HOME", "")
        # The specification: a relative path is invalid and to be ignored.
        folder = Path(named) if Path(named).is_absolute() else home / ".local" / "share"
    return folder / "impose" / "ledger.db"
