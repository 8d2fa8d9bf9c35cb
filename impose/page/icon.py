"""Something to double-click that opens the page: on the desktop, by the ways of each system."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

from impose.files import write_new_file

NAME = "Impose"

_DESKTOP = """\
[Desktop Entry]
Type=Application
Name={name}
Comment=Sheets of transfers, ready to print
Terminal=false
Icon={picture}
Exec={command}
"""

_COMMAND = """\
#!/bin/sh
# Opens the page of impose. Closing this window ends it; nothing is lost.
exec {command}
"""

_BAT = """\
@echo off
rem Opens the page of impose. Closing this window ends it; nothing is lost.
title impose
"{python}" -P -m impose open
"""


def make_icon(folder: Path | None = None) -> Path:
    """Put it there; the file. Raises `OSError`."""
    folder = folder or find_desktop()
    name, text, newline = _icon_file()
    path = folder / name
    folder.mkdir(parents=True, exist_ok=True)
    with write_new_file(path) as part:
        part.write_bytes(text.replace("\n", newline).encode("utf-8", "surrogateescape"))
        part.chmod(0o755)
    return path


def _icon_file() -> tuple[str, str, str]:
    words = (sys.executable, "-P", "-m", "impose", "open")
    if sys.platform == "win32":
        return f"{NAME}.bat", _BAT.format(python=sys.executable.replace("%", "%%")), "\r\n"
    if sys.platform == "darwin":
        return f"{NAME}.command", _COMMAND.format(command=" ".join(map(shlex.quote, words))), "\n"
    return (
        f"{NAME}.desktop",
        _DESKTOP.format(name=NAME, picture=_find_picture(), command=" ".join(map(_quote_word, words))),
        "\n",
    )


def _find_picture() -> str:
    """The page's own picture, as a string of the Desktop Entry Specification 1.5 has it: a backslash twice."""
    return str(files("impose.page") / "static" / "icon.svg").replace("\\", "\\\\")


def _quote_word(word: str) -> str:
    """A word for Exec= of the Desktop Entry Specification 1.5: quoted, with its four letters and % escaped."""
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("`", "\\`").replace("$", "\\$").replace("%", "%%")
    return f'"{escaped}"'


def find_desktop() -> Path:
    """The folder that is seen on the screen: as the system names it, else the usual one."""
    home = Path.home()
    if sys.platform not in ("win32", "darwin"):
        named = os.environ.get("XDG_DESKTOP_DIR") or _ask_desktop()
        if named and Path(named).is_absolute():
            return Path(named)
    return home / "Desktop"


def _ask_desktop() -> str:
    """What xdg-user-dir says; it names the folder in the person's own language."""
    try:
        asked = subprocess.run(["xdg-user-dir", "DESKTOP"], capture_output=True, text=True, timeout=5, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return asked.stdout.strip()
