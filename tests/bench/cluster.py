"""Pictures prepared by the workers of a scheduler on this machine: two against one, and two of which one is killed.

    python tests/bench/cluster.py [--pictures 40]

Needs the extra `cluster`. Every way gets the same pictures (see `pictures.py`), and must give the same bytes as this
process does alone. Seconds are by the clock, without the start of the cluster; what a busy machine has to spare shows
in them, so compare within a run.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import pictures


def prepared(paths: list[Path], workers: int | Executor, on_done: Callable[[int], object] | None = None) -> str:
    """The hash of all prepared pictures in order."""
    from impose.art.prepare import PreparedPicture
    from impose.formats.prepare_many import prepare_pictures

    digest = hashlib.sha256()
    for outcome in prepare_pictures(paths, workers=workers, on_done=on_done):
        digest.update(outcome.data if isinstance(outcome, PreparedPicture) else str(outcome).encode())
    return digest.hexdigest()


def through(workers: int, paths: list[Path], kill_at: int | None = None) -> tuple[float, str]:
    """Seconds and hash with so many worker processes; one is killed when so many pictures are done."""
    from distributed import LocalCluster

    from impose.run.cluster import join_cluster

    with (
        LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=":0", silence_logs=50) as cluster,
        join_cluster(cluster.scheduler_address) as crew,
    ):
        victim = crew.submit(os.getpid).result(30)

        def kill(done: int) -> None:
            if done == kill_at:
                os.kill(victim, 9)

        begun = time.monotonic()
        found = prepared(paths, crew, kill)
        return time.monotonic() - begun, found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pictures", type=int, default=40)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        paths = pictures.write(Path(name), chosen.pictures)
        begun = time.monotonic()
        alone = prepared(paths, 1)
        print("| way | seconds | same bytes |\n|---|---|---|")
        print(f"| this process | {time.monotonic() - begun:.1f} | |", flush=True)
        ways = (
            ("cluster, 1 worker", 1, None),
            ("cluster, 2 workers", 2, None),
            ("cluster, 2 workers, one killed half way", 2, chosen.pictures // 2),
        )
        for told, workers, kill_at in ways:
            seconds, found = through(workers, paths, kill_at)
            print(f"| {told} | {seconds:.1f} | {'yes' if found == alone else 'NO'} |", flush=True)


if __name__ == "__main__":
    main()
