"""A server of the page that is killed while somebody types, and what is found on the disk afterwards."""

from __future__ import annotations

import contextlib
import csv
import http.client
import io
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from page.conftest import Tab

RUN = """
import asyncio, sys
from pathlib import Path
from impose.page.application import serve_page
from impose.page.page_server import PageSetup
from impose.page.state_file import StateFile
from impose.page.static_handlers import make_address
from impose.run.options import Options
root = Path(sys.argv[1])
asleep = ("-c", "import sys\\nwhile sys.stdin.buffer.read(1): pass")
places = [root / name for name in ("ledger.db", "state", "home", "profiles")]
setup = PageSetup(Options(), *places, planner_script=asleep)
state = StateFile(root / "state")
assert state.take_lock()
def ready(page):
    print(page.keys.port, page.open_folder(root / "batch"), make_address(page), flush=True)
asyncio.run(serve_page(setup, state, ready))
"""
WITHIN_S = 1.0
"""What was typed longer ago than that is on the disk, whatever happens."""


@dataclass
class Typed:
    """What was typed, each with when the page said that it has it, and the number of that state."""

    told: list[tuple[float, int, str]] = field(default_factory=list)
    stopped: bool = False


def start_server(root: Path) -> tuple[subprocess.Popen[str], Tab]:
    """A server in a process of its own, and a tab of it."""
    (root / "batch").mkdir(parents=True, exist_ok=True)
    process = subprocess.Popen([sys.executable, "-c", RUN, str(root)], stdout=subprocess.PIPE, text=True)
    port, batch, address = process.stdout.readline().split()
    tab = Tab(int(port))
    _, headers, _ = tab.ask("GET", address.split(port, 1)[1])
    tab.cookie = headers["Set-Cookie"].split(";")[0]
    tab.token = headers["Location"].partition("token=")[2].partition("&")[0]
    tab.batch = batch
    return process, tab


def type_on(tab: Tab, typed: Typed) -> None:
    """Type, row after row, until nobody answers."""
    number = len(tab.rows)
    while not typed.stopped:
        number += 1
        try:
            cells = {"order": f"order {number}", "art": "a.png", "note": "x" * 200}
            revision = tab.change({"op": "add", "cells": cells})["revision"]
        except (OSError, AssertionError, http.client.HTTPException):  # the last: killed in the middle of an answer
            return
        typed.told.append((time.monotonic(), revision, f"order {number}"))
        time.sleep(0.01)


LONGEST_S = 1.6
"""Long enough that much of what was typed is due, short enough that a hundred kills are soon done."""


@dataclass(frozen=True)
class Aftermath:
    """What is wrong after a kill, and how many rows had to be there."""

    faults: list[str]
    due: int


def kill_once(root: Path, chance: random.Random) -> Aftermath:
    """Kill a server at any instant while rows are typed: those typed more than a second ago are due."""
    typed = Typed()
    with serve_typist(root, typed):
        time.sleep(chance.uniform(0.05, LONGEST_S))
        killed = time.monotonic()
    return find_faults(root / "batch", [name for at, _, name in typed.told if killed - at > WITHIN_S])


@contextlib.contextmanager
def serve_typist(root: Path, typed: Typed) -> Iterator[Tab]:
    """A server at which somebody types, killed at the end; a tab to ask it by."""
    process, tab = start_server(root)
    typist = threading.Thread(target=type_on, args=(tab, typed), daemon=True)
    typist.start()
    try:
        yield tab
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
        typed.stopped = True
        typist.join()
        process.stdout.close()


def find_faults(folder: Path, due: list[str]) -> Aftermath:
    """Rows that are lost though they are due, and files that are not whole."""
    path = folder / "orders.csv"
    if not path.exists():
        return Aftermath([f"{len(due)} rows and no file"] if due else [], len(due))
    text = path.read_bytes().decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    faults = [f"{name} is lost" for name in due if name not in {row["order"] for row in rows}]
    if not text.endswith("\r\n") or any(None in row or None in row.values() for row in rows):
        faults.append("the file is not whole")
    return Aftermath(faults, len(due))


def count_processes(root: Path) -> int:
    """Processes that still run for a folder: a planner must end with its server."""
    found = 0
    for entry in Path("/proc").iterdir() if Path("/proc").is_dir() else ():
        if entry.name.isdigit() and int(entry.name) != os.getpid():
            try:
                found += str(root).encode() in (entry / "cmdline").read_bytes()
            except OSError:
                continue
    return found
