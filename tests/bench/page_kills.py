"""Kills the page's server at random instants while rows are typed; counts what is lost. 100 kills by default.

.venv/bin/python tests/bench/page_kills.py 100
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from page.killed_server import kill_once


def main() -> None:
    """Kill so many times; each goes on with the folder that the one before has left."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    chance, bad, due, began = random.Random(2026), 0, 0, time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(1, count + 1):
            root = Path(folder) / str(number // 25)  # a new batch now and then, so that files stay of a usual size
            after = kill_once(root, chance)
            bad, due = bad + bool(after.faults), due + after.due
            for fault in after.faults[:5]:
                print(f"kill {number}: {fault}", flush=True)
            if number % 10 == 0:
                each = (time.monotonic() - began) / number
                print(f"{number} kills, {due} rows due, {bad} with a loss; {each:.1f} s a kill", flush=True)
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
