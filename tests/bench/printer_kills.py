"""A storm of kills: senders die at random instants while a real software printer prints; each sheet comes out once.

    python tests/bench/printer_kills.py [KILLS] [SEED]

Needs what the tests of printers need (Debian: cups cups-client cups-ipp-utils avahi-daemon dbus iproute2) and root.
Each round makes a batch of its own, prints it in a process that is killed after a random time, and again, until a run
ends by itself. Then the documents the printer has received are counted by their content.
"""

from __future__ import annotations

import collections
import contextlib
import hashlib
import os
import random
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT.parent)]

from printing.conftest import PROFILE, frame_art  # noqa: E402
from printing.world import SoftPrinter, World, missing  # noqa: E402

PRINTER = SoftPrinter("pdf", 8631, loaded=("iso_a4_210x297mm",))


def main(kills: int, seed: int) -> int:
    lacking = missing()
    if lacking:
        print(lacking)
        return 2
    folder = Path(tempfile.mkdtemp(prefix="printer-kills-"))
    folder.chmod(0o755)  # the spooler's filters run as another user
    (folder / "world").mkdir()
    world = World(folder / "world", printers=(PRINTER,)).start()
    try:
        return storm(folder, world, kills, random.Random(seed))
    finally:
        world.stop()
        shutil.rmtree(folder, ignore_errors=True)


def storm(folder: Path, world: World, kills: int, random_: random.Random) -> int:
    frame_art(folder / "art.png", 200, 280)
    (folder / "mine").mkdir()
    (folder / "mine" / "printers.toml").write_text(PROFILE, "utf-8")
    died, rounds, asked = 0, 0, 0
    where: collections.Counter[str] = collections.Counter()
    began, whole_s = time.monotonic(), 0.0
    while died < kills:
        rounds += 1
        batch = folder / f"batch-{rounds}"
        impose("sheets", folder / "art.png", "--width", f"{60 + rounds * 0.1:.1f}mm", "-p", "a4", "-o", batch, "-q",
               "--profiles", folder / "mine", "--printer", "studio")  # fmt: skip
        while True:
            # Up to a quarter longer than a whole run takes here, so that every step of it is hit.
            after_s = random_.uniform(0.0, 1.25 * whole_s) if rounds > 1 and died < kills else None
            started = time.monotonic()
            code = sent(world, folder, batch, after_s)
            if code == -signal.SIGKILL:
                died += 1
                where[last_state(folder)] += 1
                continue
            if rounds == 1:
                whole_s = time.monotonic() - started
            if code == 2 and "only you can know" in told(folder):
                asked += 1
            break
    documents = collections.Counter(hashlib.sha256(path.read_bytes()).hexdigest() for path in world.got("pdf"))
    wanted = [
        hashlib.sha256((folder / f"batch-{n}" / "sheets-a4.pdf").read_bytes()).hexdigest() for n in range(1, rounds + 1)
    ]
    doubled = sum(count > 1 for count in documents.values())
    missing_ = sum(one not in documents for one in wanted)
    print(f"{died} kills over {rounds} batches in {time.monotonic() - began:.0f} s: doubled {doubled},")
    print(f"not printed {missing_}, asked of a person {asked}, strangers {len(set(documents) - set(wanted))}")
    print("the ledger stood then at: " + ", ".join(f"{state} {count}" for state, count in where.most_common()))
    return int(doubled or missing_ > asked)


def impose(*words: object) -> None:
    from click.testing import CliRunner

    from impose.cli import cli

    done = CliRunner().invoke(cli, [str(word) for word in words])
    assert done.exit_code == 0, done.output


def sent(world: World, folder: Path, batch: Path, after_s: float | None) -> int:
    """Print in a process of its own, killed after a time; how it ended."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            with (folder / "told").open("w") as told_, world.inside():
                os.dup2(told_.fileno(), 1)
                os.dup2(told_.fileno(), 2)
                os.environ["IMPOSE_LEDGER"] = str(folder / "ledger.db")
                from impose.cli import main as command

                words = ["print", batch, "--printer", "studio", "--profiles", folder / "mine"]
                words += ["--accept", "low-resolution", "--accept", "straight-edge"]
                with contextlib.suppress(SystemExit) as _:
                    try:
                        command([str(word) for word in words])
                    except SystemExit as left:
                        code = int(left.code or 0)
        finally:
            os._exit(code)
    if after_s is not None:
        time.sleep(after_s)
        with contextlib.suppress(ProcessLookupError):
            os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def told(folder: Path) -> str:
    return (folder / "told").read_text("utf-8", "replace")


def last_state(folder: Path) -> str:
    with contextlib.closing(sqlite3.connect(folder / "ledger.db")) as ledger:
        try:
            row = ledger.execute("SELECT state FROM print_job ORDER BY number DESC LIMIT 1").fetchone()
        except sqlite3.OperationalError:
            return "no ledger yet"
    return row[0] if row else "nothing"


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:3]]
    sys.exit(main(*(numbers + [200, 18][len(numbers) :])))
