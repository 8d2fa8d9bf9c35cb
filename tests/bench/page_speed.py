"""What the page costs: processor time of the program and all its helpers, in ms, for what a person waits for.

.venv/bin/python tests/bench/page_speed.py [PIECES]

Processor time, since a machine that does other work makes the clock mean nothing; the clock stands beside it. Linux.
"""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from conftest import draw
from page.conftest import Tab

TICKS = os.sysconf("SC_CLK_TCK")
FIRST_PAGE = ("/", "/static/page.css", "/static/views.css", "/static/main.js", "/api/state", "/api/columns")


def list_tree(root: int) -> Iterator[int]:
    """A process and all below it."""
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            parents.setdefault(int(fields[1]), []).append(int(entry.name))
    waiting = [root]
    while waiting:
        pid = waiting.pop()
        yield pid
        waiting += parents.get(pid, [])


def measure_cpu(root: int) -> float:
    """Processor time of a process, those it still has and those that have ended, ms."""
    spent = 0
    for pid in list_tree(root):
        try:
            fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        spent += sum(int(value) for value in fields[11:15])
    return 1000 * spent / TICKS


def measure_memory(root: int) -> float:
    """Memory that no other process shares in full (PSS), MB."""
    total = 0
    for pid in list_tree(root):
        try:
            lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
        except OSError:
            continue
        total += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
    return total / 1024


class SpeedTrial:
    """A program under measurement: each step tells what it took."""

    def __init__(self, folder: Path) -> None:
        home = folder / "home"
        home.mkdir()
        self.batch = home / "Saturday"
        self.batch.mkdir()
        environment = {name: value for name, value in os.environ.items() if not name.startswith(("IMPOSE_", "XDG_"))}
        environment |= {"HOME": str(home), "IMPOSE_LEDGER": str(home / "ledger.db")}
        command = [sys.executable, "-m", "impose", "open", str(self.batch), "--no-browser"]
        self.began, self.cpu = time.monotonic(), 0.0
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, env=environment, text=True)
        assert self.process.stdout is not None
        address = self.process.stdout.readline().strip()
        self.tab = Tab(int(address.split(":")[2].split("/")[0]))
        _, headers, _ = self.tab.ask("GET", address.split(str(self.tab.port), 1)[1])
        self.tab.cookie = headers["Set-Cookie"].split(";")[0]
        self.tab.token = headers["Location"].partition("token=")[2].partition("&")[0]

    def tell_step(self, name: str) -> None:
        """What was spent since the last step."""
        now, cpu = time.monotonic(), measure_cpu(self.process.pid)
        print(f"{name:44} {cpu - self.cpu:8.0f} ms CPU {1000 * (now - self.began):8.0f} ms by the clock", flush=True)
        self.began, self.cpu = time.monotonic(), cpu

    def wait_idle(self) -> None:
        """Until nothing more is spent: what is loaded ahead is a step of its own."""
        before = -1.0
        while (now := measure_cpu(self.process.pid)) != before:
            before = now
            time.sleep(0.7)


def png(kind: str, width: int, height: int, seed: int) -> bytes:
    """A picture of its own for each seed."""
    file = io.BytesIO()
    draw(kind, width, height, seed).save(file, "PNG")
    return file.getvalue()


def show_sheets(tab: Tab, revision: int) -> None:
    """What the view of the sheets fetches, up to its first drawing with its pictures."""
    while True:
        status, _, body = tab.ask("GET", f"{tab.base}/plan")
        plan = json.loads(body) if status == 200 else {}
        if plan.get("revision", -1) >= revision and plan.get("sheets"):
            break
        time.sleep(0.02)
    drawing = tab.ask("GET", plan["sheets"][0]["svg"])[2].decode()
    for part in drawing.split('<image href="')[1:2]:
        tab.ask("GET", part.split('"')[0])


def main() -> None:
    """Each step once, from an empty folder."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    with tempfile.TemporaryDirectory() as folder:
        trial = SpeedTrial(Path(folder))
        tab = trial.tab
        for path in FIRST_PAGE:
            tab.ask("GET", path)
        tab.batch = tab.get("/api/state")["current"]
        tab.get(tab.base)
        tab.get("/api/garments/drawing?garment=")
        trial.tell_step("start to the first page")
        trial.wait_idle()
        trial.tell_step("loaded ahead, while nobody waits")
        art = tab.drop("crest.png", png("ellipse", 1800, 1800, 0))["art"]
        row = {"order": "Owls", "wearer": "Ana", "art": art, "placement": "left-chest", "garment": "hoodie adult M"}
        show_sheets(tab, tab.change({"op": "add", "cells": row})["revision"])
        trial.tell_step("first picture dropped to its sheet seen")
        arts = [tab.drop(f"p{n}.png", png("noise", 500, 400, n))["art"] for n in range(1, 13)]
        rows = [{**row, "wearer": f"W{n}", "art": arts[n % 12]} for n in range(count - 1)]
        made = tab.change(*({"op": "add", "cells": cells} for cells in rows))
        tab.plan(made["revision"])
        trial.wait_idle()
        trial.tell_step(f"{count} pieces planned to the end")
        changed = tab.change({"op": "set", "id": "r2", "column": "width", "value": "80 mm"})
        show_sheets(tab, changed["revision"])
        trial.tell_step(f"a change among {count} to its sheets seen")
        tab.plan(changed["revision"])
        trial.tell_step("and to the last plan of it")
        tab.get(f"{tab.base}/garments?row=r2&count=8")
        trial.tell_step("the garment looked at drawn")
        print(f"{'memory, all processes':44} {measure_memory(trial.process.pid):8.0f} MB")
        trial.process.terminate()
        trial.process.wait(30)


if __name__ == "__main__":
    main()
