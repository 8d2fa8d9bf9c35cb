"""Months in one process: nothing grows with what was made before, and nothing in the ledger is read from end to end."""

from __future__ import annotations

import gc
import os
import pathlib
import threading
import time
import tracemalloc
from itertools import count
from pathlib import Path

import pytest

from desk.fake import png
from impose.desk.monitor import LOG_BYTES, LOG_FILES, WatchLog
from impose.desk.worker import ProcessWorkerClient
from waiting import LONGEST_S, wait_until


def burst(bed, first: int, count: int = 25) -> None:
    for number in range(first, first + count):
        bed.drop(f"left-chest/{number}.png", png(number, 8))
    bed.turns(6, 1.0)


def settled_memory() -> int:
    gc.collect()
    # pathlib interns the parts of names; the table of interned strings grows in leaps and is not ours.
    kept = tracemalloc.take_snapshot().filter_traces([tracemalloc.Filter(False, pathlib.__file__)])
    return sum(statistic.size for statistic in kept.statistics("filename"))


def open_files() -> int:
    gc.collect()
    return len(os.listdir("/proc/self/fd"))  # noqa: PTH208


@pytest.mark.long  # every allocation is traced; .ci/run has it too, in a process of its own
@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="open files are counted in /proc")
def test_memory_and_open_files_do_not_grow(bed):
    bed.said = bed.maker.made = _Nothing()  # what a test keeps would be counted as well
    bed.start()
    tracemalloc.start()
    try:
        for number in range(0, 100, 25):
            burst(bed, number)
        files, memory = open_files(), settled_memory()
        for number in range(100, 400, 25):
            burst(bed, number)
        # At most: what another test of the same process left behind may be closed meanwhile; a leak would be hundreds.
        assert open_files() <= files
        assert settled_memory() - memory < 30_000, "300 drops later"
    finally:
        tracemalloc.stop()
    assert bed.inbox == []
    assert bed.refused == []


class _Nothing(list):
    def append(self, item: object) -> None:
        pass


def test_no_statement_reads_a_whole_table(bed):
    (bed.root.parent / "print").mkdir()
    bed.start(keep_done_s=1.0, print_folder=bed.root.parent / "print", command=("true",))
    said: set[str] = set()
    db = bed.watch._desk.ledger._db
    db.set_trace_callback(said.add)
    bed.drop("left-chest/owl.png", png(1))
    bed.drop("left-chest/blank.png", png(2))
    bed.drop("evening.csv", "art,width\nfox.png,80mm\n")
    bed.drop("fox.png", png(3))
    bed.turns(20)
    db.set_trace_callback(None)
    queries = [text for text in said if text.startswith(("SELECT", "UPDATE", "DELETE"))]
    assert len(queries) > 15
    for query in queries:
        plan = [row["detail"] for row in db.execute(f"EXPLAIN QUERY PLAN {query}")]
        # The paper on file is a handful of rows and wanted as a whole; what is forgotten is bounded by its limit.
        scans = [step for step in plan if step.startswith("SCAN") and "stock_paper" not in step]
        assert scans == [] or query.endswith("FROM drops ORDER BY id LIMIT 2000"), query


def test_the_ledger_forgets_what_is_older_than_the_originals_and_nothing_else(bed):
    bed.start(keep_done_s=3600.0)
    bed.drop("left-chest/old.png", png(1))
    bed.turns(10)
    bed.time.sleep(3000)
    bed.drop("left-chest/new.png", png(2))
    bed.drop("slow/desk.toml", 'placement = "left-chest"\nhold = "9d"\n')
    bed.drop("slow/held.png", png(3))
    bed.turns(10)
    bed.time.sleep(1000)
    bed.turns(2)
    assert [drop.path for drop in bed.look(lambda drops: drops.list_newest("delivered", 9))] == ["left-chest/new.png"]
    assert [drop.path for drop in bed.look(lambda drops: drops.list_drops("waiting"))] == ["slow/held.png"]
    assert [one.name for one in bed.look(lambda drops: drops.list_deliveries("closed"))] == ["new"]


def test_the_log_rotates(bed):
    log = WatchLog(bed.places)
    for number in range(6 * LOG_BYTES // 1000):
        log(f"{number} {'x' * 1000}")
    log.close()
    files = sorted(bed.places.work.glob("watch.log*"))
    assert len(files) == LOG_FILES
    assert all(path.stat().st_size <= LOG_BYTES for path in files)


def hand_out(maker: ProcessWorkerClient) -> None:
    maker.hand_out_replies(time.monotonic())


def test_the_makers_process_dies_with_its_parent_and_is_replaced_when_it_dies(tmp_path):
    from impose.desk.drop_rules import NamedFiles
    from impose.desk.worker_jobs import FailedJob, ReadTableJob

    path = tmp_path / "evening.csv"
    path.write_text("art,width\nowl.png,80mm\n", "utf-8")
    maker = ProcessWorkerClient()
    replies: list[object] = []

    def answered(count: int) -> list[object]:
        wait_until(lambda: hand_out(maker) or len(replies) >= count, "the maker's answers")
        return replies

    try:
        maker.queue_request(ReadTableJob(path, None), replies.append)
        assert answered(1) == [NamedFiles(("owl.png",))]
        maker._process.kill()
        maker._process.wait()
        maker.queue_request(ReadTableJob(path, None), replies.append)
        maker.queue_request(ReadTableJob(path, None), replies.append)
        answered(3)
        assert replies[-1] == NamedFiles(("owl.png",))
        assert all(isinstance(reply, NamedFiles | FailedJob) for reply in replies)
        process = maker._process
    finally:
        maker.end_process()
    assert process.poll() is not None


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("raise SystemExit(3)", "cannot start (code 3)"),
        (
            "import sys; from impose.messages import write_message as w; w(sys.stdout.buffer, (0, '0.0.1'));"
            " sys.stdin.read()",
            "was changed to version 0.0.1",
        ),
    ],
)
def test_a_maker_that_cannot_start_is_no_files_fault(code, why):
    from impose.desk.worker_jobs import FailedJob, ReadTableJob

    maker = ProcessWorkerClient(script=["-c", code])
    replies: list[object] = []
    maker.queue_request(ReadTableJob(Path("evening.csv"), None), replies.append)
    wait_until(lambda: hand_out(maker) or replies, "the maker's answer")
    maker.end_process()
    (reply,) = replies
    assert isinstance(reply, FailedJob)
    assert reply.kind == "system", "waited for, not counted"
    assert why in reply.common


def test_events_wake_the_watcher_where_the_library_is_installed(tmp_path):
    pytest.importorskip("watchfiles")
    from impose.desk.environment import follow_changes

    woken, over = threading.Event(), threading.Event()
    follower = threading.Thread(target=follow_changes, args=(tmp_path, woken.set, over), daemon=True)
    follower.start()
    number = count()
    wait_until(lambda: (tmp_path / f"{next(number)}.png").write_bytes(b"x") and woken.wait(0.1), "the watcher wakes")
    over.set()
    follower.join(LONGEST_S)
    assert woken.is_set()
    assert not follower.is_alive()
