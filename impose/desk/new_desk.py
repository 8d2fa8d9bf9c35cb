"""A new desk: folders to drop into, a sheet to fill in, something to double-click on each system, a service file."""

from __future__ import annotations

import os
import shlex
import sys
from pathlib import Path

from impose.desk.folders import DeskFolders, open_desk
from impose.desk.intake import make_placement_inboxes
from impose.profiles.profiles import Profiles

_HEADINGS = "order,wearer,art,words,font,placement,garment,copies,width,height,tear,centre,may_turn,accept,note"

_HOW_TO = """\
HOW TO USE THIS DESK

Start it: double-click "Start desk" (Windows: .bat, macOS: .command, Linux: .desktop). A window opens and says what
happens. Leave it open. Closing it loses nothing: the desk goes on where it was when it is started again.

Drop artwork into "in":
  - artwork (PNG, JPEG, PDF, SVG …) into a folder named after its place, such as in/left-chest/owl.png
  - copies and width in the name, if you like: owl (12 copies, 90 mm).png
  - or a filled-in order sheet with its artwork, best together in one folder: fill in a copy of "orders - copy me.csv"

Find what came of it:
  sheets    finished sheets to print, with tickets and a page to look at (proof.html)
  refused   what could not be used, each with a text that says why and what to do
  done      the originals of what was made
  work      what is being made; leave it alone

If a print was spoiled, open reprint.csv in its folder under "sheets", put an x into the column "spoiled" in its line,
save the file as CSV and drop it into "in". It is made again.

Ask what it is doing:  impose desk "{desk}"

Print at actual size, on the coated side, with the printer's own mirroring off. Try a new setting on scrap first.
"""

_BAT = """\
@echo off
rem Starts the desk that this file lies in. Close the window to stop it; nothing is lost.
title impose desk
set "PYTHON={python}"
if exist "%PYTHON%" ("%PYTHON%" -P -m impose watch "%~dp0.") else (impose watch "%~dp0.")
pause
"""

_COMMAND = """\
#!/bin/sh
# Starts the desk that this file lies in. Close the window to stop it; nothing is lost.
cd "$(dirname "$0")" || exit 5
python={python}
if [ -x "$python" ]; then "$python" -P -m impose watch .; else impose watch .; fi
echo "The desk has stopped. Press Enter to close."
read -r _
"""

_DESKTOP = """\
[Desktop Entry]
Type=Application
Name=Start desk
Comment=Makes sheets of what is dropped into the folder "in"
Terminal=true
Exec={command}
"""

_UNIT = """\
# A systemd user service. Install it with:
#   mkdir -p ~/.config/systemd/user
#   cp {file} ~/.config/systemd/user/
#   systemctl --user enable --now {name}
#   loginctl enable-linger "$USER"      (so that it runs without anybody logged in)
[Unit]
Description=impose desk {shown}
After=network-online.target remote-fs.target

[Service]
ExecStart={command}
# SIGTERM goes to the watcher alone: it finishes the delivery at hand within 10 s or puts it back.
KillMode=mixed
TimeoutStopSec=20
Restart=on-failure
RestartSec=10
# 2 is wrong use, such as a second watcher on the same desk: starting again would not mend it.
RestartPreventExitStatus=2
NoNewPrivileges=yes

[Install]
WantedBy=default.target
"""


def make_desk(root: Path, profiles: Profiles) -> tuple[DeskFolders, list[Path]]:
    """Make a desk at `root`; the files that were written. What is there already is left alone.

    Raises `Trouble` where it cannot be a desk.
    """
    places = open_desk(root, adopt=True)
    make_placement_inboxes(places, sorted(profiles.placements))
    written = []
    for name, text, runs in _list_files(places.root):
        path = places.root / name
        if path.exists():
            continue
        newline = "\r\n" if name.endswith((".bat", ".txt", ".csv")) else "\n"
        # A byte-order mark, so that spreadsheets read the names of people as they were typed.
        encoding = "utf-8-sig" if name.endswith((".csv", ".txt")) else "utf-8"
        with path.open("w", encoding=encoding, errors="surrogateescape", newline=newline) as file:
            file.write(text)
        if runs:
            path.chmod(path.stat().st_mode | 0o111)
        written.append(path)
    return places, written


def _list_files(root: Path) -> list[tuple[str, str, bool]]:
    python, desk = sys.executable, str(root)
    unit = f"impose-desk-{root.name}.service".replace(" ", "-")
    service = " ".join(_quote_word(word) for word in (python, "-P", "-m", "impose", "watch", desk))
    desktop = " ".join(_quote_word(word, "`$") for word in ("sh", os.path.join(desk, "Start desk.command")))  # noqa: PTH118
    return [
        ("HOW TO.txt", _HOW_TO.format(desk=desk), False),
        ("orders - copy me.csv", f"{_HEADINGS}\n", False),
        ("Start desk.bat", _BAT.format(python=python.replace("%", "%%")), False),
        ("Start desk.command", _COMMAND.format(python=shlex.quote(python)), True),
        ("Start desk.desktop", _DESKTOP.format(command=desktop), True),
        (unit, _UNIT.format(file=shlex.quote(unit), name=unit, shown=root.name.replace("%", "%%"), command=service),
         False),
    ]  # fmt: skip


def _quote_word(word: str, more: str = "") -> str:
    """A word for ExecStart= of systemd.service(5) or Exec= of the Desktop Entry Specification: both quote with "."""
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    for character in more:
        escaped = escaped.replace(character, f"\\{character}")
    return f'"{escaped}"'
