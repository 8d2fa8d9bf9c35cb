"""Runs a watch in a process of its own that can be killed: at a named instant, or by whoever started it.

    python runner.py DESK [--die-at NAME] [--nth N] [--fake] [--once] [--settle S] [--print-folder DIR] [--then COMMAND]
        [--ask] [--fill SHARE]

The name of the last instant passed, and how many were, stand in DESK/../<desk>.last, for whoever kills at random.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from desk.fake import FakeMaker  # noqa: E402
from impose.desk.environment import DeskEnvironment  # noqa: E402
from impose.desk.folders import open_desk  # noqa: E402
from impose.desk.lock import DeskLock  # noqa: E402
from impose.desk.monitor import WatchLog  # noqa: E402
from impose.desk.post_commands import split_command  # noqa: E402
from impose.desk.watch import DeskWatch  # noqa: E402
from impose.desk.watch_options import WatchOptions  # noqa: E402


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("desk", type=Path)
    parser.add_argument("--die-at")
    parser.add_argument("--nth", type=int, default=1)
    parser.add_argument("--fake", action="store_true")
    parser.add_argument("--once", action="store_true")
    parser.add_argument("--settle", type=float, default=0.1)
    parser.add_argument("--print-folder", type=Path)
    parser.add_argument("--then")
    parser.add_argument("--ask", action="store_true")
    parser.add_argument("--fill", type=float, default=1.0)
    chosen = parser.parse_args(arguments)
    passed = instants = 0
    last = os.open(f"{chosen.desk}.last", os.O_CREAT | os.O_WRONLY)

    def fault(name: str) -> None:
        nonlocal passed, instants
        instants += 1
        os.pwrite(last, f"{name:40}{instants:8}".encode(), 0)
        if name == chosen.die_at:
            passed += 1
            if passed == chosen.nth:
                os.kill(os.getpid(), signal.SIGKILL)

    fault("start")
    world = (
        DeskEnvironment(fault=fault, sleep=lambda s: time.sleep(min(s, 0.02)))
        if chosen.fake
        else DeskEnvironment(fault=fault)
    )
    places = open_desk(chosen.desk)
    habits = WatchOptions(
        settle_s=chosen.settle,
        once=chosen.once,
        print_folder=chosen.print_folder,
        command=split_command(chosen.then) if chosen.then else (),
        ask=chosen.ask,
        fill=chosen.fill,
    )
    with DeskLock(places.work / "lock") as lock:
        log = WatchLog(places)
        watch = DeskWatch(places, habits, log, world, FakeMaker() if chosen.fake else None)
        signal.signal(signal.SIGTERM, lambda *_: watch.ask_to_stop())
        return int(watch.run_watch(lock))


if __name__ == "__main__":
    sys.exit(main())
