"""A simulated week of a thousand drops an hour: does anything grow with what was made before?

    python tests/bench/desk_week.py [HOURS] [FOLDER]

Time is simulated, the work is not: every drop is claimed, made (by a maker that writes only records), delivered and
tidied away. Each line is an hour in about twelve: processor milliseconds a drop, memory, open files, the ledger's size.
Put FOLDER on a memory disk, or the disk's syncs are what is measured.
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

from desk.conftest import Bed  # noqa: E402
from desk.fake import png  # noqa: E402

A_HOUR, BURST = 1000, 50


class Nothing(list[object]):
    def append(self, item: object) -> None:
        """What a test keeps would be counted as growth."""


def resident() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


def main() -> None:
    hours = int(sys.argv[1]) if len(sys.argv) > 1 else 168
    root = Path(tempfile.mkdtemp(prefix="desk-week-", dir=sys.argv[2] if len(sys.argv) > 2 else None))
    bed = Bed(root / "desk")
    bed.said = bed.maker.made = Nothing()  # type: ignore[assignment]
    bed.start()
    print("hour  ms/drop  memory MB  open files  ledger MB  delivered")
    for hour in range(hours):
        cpu = time.process_time()
        for burst in range(0, A_HOUR, BURST):
            for number in range(BURST):
                bed.drop(f"left-chest/{number}.png", png(hour * A_HOUR + burst + number, 8))
            bed.turns(A_HOUR * 3.6 / (A_HOUR / BURST) / 18, 1.0)
        spent = 1000 * (time.process_time() - cpu) / A_HOUR
        if hour % max(1, hours // 14) == 0 or hour == hours - 1:
            files = len(os.listdir("/proc/self/fd"))  # noqa: PTH208
            size = bed.places.ledger.stat().st_size / 1e6
            count = bed.look(lambda drops: drops.count_drops("delivered"))
            print(f"{hour:4}  {spent:7.2f}  {resident():9.1f}  {files:10}  {size:9.1f}  {count}", flush=True)
        for folder in (bed.places.sheets, bed.places.done):  # as a shop does, by hand or with --keep-done
            for path in folder.iterdir():
                shutil.rmtree(path)
    assert bed.look(lambda drops: drops.count_drops("delivered")) == hours * A_HOUR
    shutil.rmtree(root)


if __name__ == "__main__":
    main()
