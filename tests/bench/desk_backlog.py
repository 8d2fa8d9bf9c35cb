"""A desk started on a full inbox: how long until everything is taken and delivered, and how much memory that needs.

    python tests/bench/desk_backlog.py [FILES] [KILOBYTES] [--real]

Measures the desk itself: a maker that writes only records, unless --real is given. The first line is the disk's own
pace, in the same run: as many files renamed, and a synced write for each 64 of them.
"""

from __future__ import annotations

import os
import resource
import shutil
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from desk.fake import FakeMaker, delivered, png  # noqa: E402
from impose.desk.environment import DeskEnvironment  # noqa: E402
from impose.desk.folders import open_desk  # noqa: E402
from impose.desk.lock import DeskLock  # noqa: E402
from impose.desk.watch import DeskWatch  # noqa: E402
from impose.desk.watch_options import WatchOptions  # noqa: E402


def megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def fill(folder: Path, files: int, kilobytes: int) -> None:
    folder.mkdir(parents=True)
    for number in range(files):
        (folder / f"{number}.png").write_bytes(png(number, 24, os.urandom(kilobytes * 512).hex().encode()))


def pace(root: Path, files: int) -> float:
    """Renames and synced writes alone, as few as any desk would need."""
    for name in ("from", "to"):
        (root / name).mkdir()
    for number in range(files):
        (root / "from" / str(number)).write_bytes(b"")
    begun = time.monotonic()
    for number in range(files):
        os.rename(root / "from" / str(number), root / "to" / str(number))  # noqa: PTH104
        if number % 64 == 0:
            with (root / "synced").open("ab") as file:
                file.write(bytes(4096))
                os.fsync(file.fileno())
    return time.monotonic() - begun


def main() -> None:
    words = [word for word in sys.argv[1:] if word != "--real"]
    files, kilobytes = int(words[0]) if words else 10_000, int(words[1]) if len(words) > 1 else 20
    root = Path(tempfile.mkdtemp(prefix="desk-backlog-"))
    desk = root / "desk"
    fill(desk / "in" / "left-chest", files, kilobytes)
    print(f"{files} files of {kilobytes} kB; renames and syncs alone: {pace(root, files):.1f} s", flush=True)
    before = megabytes()
    places = open_desk(desk)
    said: list[str] = []
    habits = WatchOptions(settle_s=0.5, once=True)
    maker = None if "--real" in sys.argv else FakeMaker()
    begun, cpu = time.monotonic(), time.process_time()
    with DeskLock(places.work / "lock") as lock:
        watch = DeskWatch(places, habits, said.append, DeskEnvironment(), maker)
        code = watch.run_watch(lock)
    took = time.monotonic() - begun
    made = delivered(desk)
    assert len(made) == files, f"{len(made)} of {files}"
    assert all(len(names) == 1 for names in made.values())
    print(
        f"all delivered in {took:.0f} s ({1000 * took / files:.1f} ms a file), {time.process_time() - cpu:.0f} s of it "
        f"processor; {len(list(places.sheets.iterdir()))} deliveries, exit code {int(code)}"
    )
    print(
        f"memory {before:.0f} MB before, {megabytes():.0f} MB at most; ledger {places.ledger.stat().st_size >> 10} kB"
    )
    shutil.rmtree(root)


if __name__ == "__main__":
    main()
