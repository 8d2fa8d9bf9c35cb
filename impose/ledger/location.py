"""Where the ledger lies when nobody says otherwise."""

from __future__ import annotations

from pathlib import Path

import platformdirs


def default_ledger_path() -> Path:
    """The file for this user's data: on Linux by the XDG Base Directory Specification 0.8, else the system's own place.

    Nothing is made there before paper is first counted.
    """
    return platformdirs.user_data_path("impose", appauthor=False) / "ledger.db"
