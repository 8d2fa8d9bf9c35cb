"""Several senders at once, some killed at random instants, at a made-up printer: each sheet comes out once.

    python tests/bench/printer_rivals.py [ROUNDS] [SEED]

Each round has a ledger of its own. Three processes print the same sheets within a twentieth of a second; in half of
the rounds one of them is killed. Then one more prints what may be left. What the printer got is counted.
"""

from __future__ import annotations

import contextlib
import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT.parent)]

from printing.conftest import fork_child, frame_art  # noqa: E402
from printing.made_up import MadeUpPrinter  # noqa: E402

SENDERS = 3
WITHIN_S = 0.05


def run_command(*words: object) -> int:
    """Run `impose` in this process, silently; its exit code."""
    from impose.cli import main as impose

    with (
        Path(os.devnull).open("w") as nothing,
        contextlib.redirect_stdout(nothing),
        contextlib.redirect_stderr(nothing),
    ):
        try:
            return int(impose([str(word) for word in words]) or 0)
        except SystemExit as left:
            return int(left.code or 0)


def print_late(printer: MadeUpPrinter, sheets: Path, delay_s: float) -> int:
    """Print after a while."""
    time.sleep(delay_s)
    return run_command(
        "print", sheets, "--printer", printer.address, "--accept", "straight-edge", "--accept", "low-resolution"
    )


def play_round(folder: Path, sheets: Path, random_: random.Random) -> tuple[int, list[int]]:
    """One round: how many documents the printer got, and how the senders and the last one ended."""
    os.environ["IMPOSE_LEDGER"] = str(folder / "ledger.db")
    with MadeUpPrinter() as printer:
        delays = [random_.uniform(0, WITHIN_S) for _ in range(SENDERS)]
        children = [fork_child(lambda delay=delay: print_late(printer, sheets, delay)) for delay in delays]
        if random_.random() < 0.5:
            time.sleep(random_.uniform(0, 1.0))
            os.kill(random_.choice(children), signal.SIGKILL)
        codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        codes.append(os.waitstatus_to_exitcode(os.waitpid(fork_child(lambda: print_late(printer, sheets, 0)), 0)[1]))
        return len(printer.documents), codes


def main(rounds: int, seed: int) -> int:
    """Play; 1 if any sheet came out twice or not at all."""
    random_ = random.Random(seed)
    counts = {"once": 0, "twice": 0, "lost": 0, "killed": 0}
    with tempfile.TemporaryDirectory(prefix="rivals-") as name:
        folder = Path(name)
        os.environ["XDG_CACHE_HOME"] = str(folder / "cache")
        os.environ["IMPOSE_LEDGER"] = str(folder / "none.db")
        frame_art(folder / "art.png", 200, 280)
        made = run_command("sheets", folder / "art.png", "--width", "100mm", "-p", "a4", "-o", folder / "out", "-q")
        assert made == 0, made
        for number in range(rounds):
            (folder / f"{number}").mkdir()
            came, codes = play_round(folder / f"{number}", folder / "out", random_)
            counts["once" if came == 1 else "twice" if came else "lost"] += 1
            counts["killed"] += -signal.SIGKILL in codes
            if came != 1 or not set(codes) <= {0, 2, -signal.SIGKILL}:
                print(f"round {number}: {came} came out, senders ended with {codes}")
    print(
        f"seed {seed}: {rounds} rounds of {SENDERS} senders, " + ", ".join(f"{n} {what}" for what, n in counts.items())
    )
    return int(counts["twice"] + counts["lost"] > 0)


if __name__ == "__main__":
    sys.exit(main(*(int(word) for word in sys.argv[1:3])) if len(sys.argv) > 2 else main(60, 1))
