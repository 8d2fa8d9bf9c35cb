"""Workers of a Dask scheduler: the same bytes, nothing lost with a worker, and a refusal where they cannot be used."""

from __future__ import annotations

import gc
import os
import socket
import subprocess
import sys
import warnings
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from impose.errors import Exit, Trouble
from impose.run import Options, plan, produce, quote
from slowly import slow_pid

# Its own start and end talk through deprecated calls of others, and leave sockets to the collector.
pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


# Of an extra, and each starts processes that load it: run by .ci/run where the extras are, and by .ci/long.
extra = pytest.mark.long


def open_cluster(**more):
    """Workers on this machine; the library is loaded when the first are asked for."""
    distributed = pytest.importorskip("distributed")
    return distributed.LocalCluster(dashboard_address=":0", silence_logs=50, **more)


@pytest.fixture(scope="module")
def cluster():
    with open_cluster(n_workers=2, threads_per_worker=1, processes=True) as made:
        yield made


@pytest.fixture(scope="module")
def batch(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("batch")
    lines = ["order,art,width,copies"]
    for number in range(12):
        image = Image.new("RGBA", (160 + 7 * number, 190))
        ImageDraw.Draw(image).ellipse((9, 9, 150, 180), fill=(20 * number, 90, 200, 255))
        image.save(folder / f"art{number}.png")
        lines.append(f"Order {number % 3},art{number}.png,{60 + 3 * number} mm,14")
    path = folder / "orders.csv"
    path.write_text("\n".join(lines))
    return path


def made(batch: Path, out: Path, **options) -> dict[str, bytes]:
    settings = {"papers": ["a4"]}
    produce(plan([batch], Options(settings, cache=False, steps=300, **options)), out)
    return {str(p.relative_to(out)): p.read_bytes() for p in out.rglob("*") if p.is_file()}


@extra
def test_the_same_bytes_from_every_executor(batch, tmp_path, cluster):
    alone = made(batch, tmp_path / "1", workers=1)
    assert len(alone) > 4
    assert made(batch, tmp_path / "2", workers=2) == alone
    with ThreadPoolExecutor(2) as threads:
        assert made(batch, tmp_path / "3", executor=threads) == alone
    assert made(batch, tmp_path / "4", scheduler=cluster.scheduler_address) == alone


@extra
def test_a_worker_killed_in_mid_run_loses_nothing(cluster):
    from impose.run.cluster import join_cluster
    from impose.work import run_in_order

    with join_cluster(cluster.scheduler_address) as crew:
        first = set(run_in_order(slow_pid, [0.05] * 4, crew))
        done = []

        def kill_one(count: int) -> None:
            done.append(count)
            if count == 3:
                os.kill(min(first), 9)

        after = list(run_in_order(slow_pid, [0.1] * 20, crew, on_done=kill_one))
    assert len(after) == 20
    assert done[-1] == 20
    assert min(first) not in after[-4:]


@extra
def test_a_worker_of_another_make_is_refused_in_one_sentence(batch, cluster, monkeypatch):
    from impose.run import cluster as room

    monkeypatch.setattr(room, "describe_worker_build", lambda: "impose 0.0.1")
    with pytest.raises(Trouble) as caught:
        quote([batch], Options({"papers": ["a4"]}, scheduler=cluster.scheduler_address))
    assert caught.value.exit is Exit.SYSTEM
    (finding,) = caught.value.findings
    assert "is of another make" in finding.what
    assert "impose 0.0.1" in finding.what


BARE = """
import asyncio, sys
sys.modules["impose"] = None  # as on a machine where it was never installed
from distributed import Worker

async def work():
    async with Worker(sys.argv[1], nthreads=1) as worker:
        await worker.finished()

asyncio.run(work())
"""


@extra
def test_a_worker_without_impose_is_refused_in_one_sentence():
    from impose.run.cluster import join_cluster

    with open_cluster(n_workers=0, processes=False, protocol="tcp") as empty:
        bare = subprocess.Popen([sys.executable, "-c", BARE, empty.scheduler_address], stderr=subprocess.DEVNULL)
        try:
            with pytest.raises(Trouble) as caught, join_cluster(empty.scheduler_address, 30):
                pass
        finally:
            bare.kill()
            bare.wait()
    assert caught.value.exit is Exit.SYSTEM
    (finding,) = caught.value.findings
    assert "has no impose that could work with ours" in finding.what
    assert "\n" not in str(finding)


@extra
def test_a_worker_that_joins_later_is_asked_as_well(cluster, monkeypatch):
    from impose.run import cluster as room

    with room.join_cluster(cluster.scheduler_address) as crew:
        monkeypatch.setattr(
            room, "describe_worker_build", lambda: "impose 9.9"
        )  # as if the run were of another make by now
        with pytest.raises(Trouble, match="is of another make"):
            crew.submit(slow_pid, 0).result(30)


@extra
def test_no_scheduler_no_workers_no_sense(batch, capfd):
    pytest.importorskip("distributed")
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        port = held.getsockname()[1]
    from impose.run.cluster import join_cluster

    with pytest.raises(Trouble, match="no scheduler answers") as caught, join_cluster(f"tcp://127.0.0.1:{port}", 0.5):
        pass
    assert caught.value.exit is Exit.SYSTEM
    with pytest.raises(Trouble, match="is no address") as caught, join_cluster("tcp://10.0.0.5:99999", 0.5):
        pass
    assert caught.value.exit is Exit.USAGE
    gc.collect()  # a client that failed to be made would complain here
    assert capfd.readouterr().err == ""
    with pytest.raises(Trouble, match="both given") as caught:
        plan([batch], Options(scheduler="tcp://127.0.0.1:1", workers=2))
    assert caught.value.exit is Exit.USAGE


@pytest.mark.parametrize(
    ("address", "why"),
    [
        ("over there", "no known form"), ("nonsense", "names no port"), ("", "no known form"),
        ("tcp://", "no known form"), ("tcp://10.0.0.5", "names no port"),
        ("foo://10.0.0.5:1", "no known form"), ("tcp://a b:1", "no known form"),
        ("tcp://10.0.0.5:65536", "at most 65535"), ("10.0.0.5:99999/", "at most 65535"),
    ],
)  # fmt: skip
def test_what_is_no_address_is_told_by_its_form_before_anything_is_loaded(monkeypatch, address, why):
    from impose.run.cluster import join_cluster

    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(Trouble, match=f"is no address of a scheduler: .*{why}") as caught, join_cluster(address, 0.5):
        pass
    assert caught.value.exit is Exit.USAGE


@extra
def test_all_workers_gone_ends_the_run():
    from impose.run.cluster import join_cluster

    with open_cluster(n_workers=0, threads_per_worker=1, processes=False) as empty:
        with pytest.raises(Trouble, match="has no workers"), join_cluster(empty.scheduler_address, 0.5):
            pass
        empty.scale(1)
        with join_cluster(empty.scheduler_address, 20, alone_seconds=1) as crew:
            empty.scale(0)
            late = crew.submit(slow_pid, 3)
            with pytest.raises(Trouble, match="have gone"):
                late.result(60)


def test_without_the_extra_the_command_says_so(monkeypatch):
    from impose.run.cluster import join_cluster

    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(Trouble, match="not installed") as caught, join_cluster("tcp://127.0.0.1:8786"):
        pass
    assert caught.value.exit is Exit.USAGE


class KilledWorker(Exception):
    """As the library of the extra calls what a worker dies of again and again."""


class MadeUpClient:
    """A scheduler's client of our own: it does the work here, and warns of its size as the library does."""

    status = "running"

    def get_executor(self, pure):
        assert not pure, "the same work twice is done twice"
        return self

    def nthreads(self):
        return {"tcp://a:1": 2, "tcp://b:1": 1}

    def submit(self, do, build, function, *args):
        warnings.warn("Sending large graph of size 12 MiB.", UserWarning, stacklevel=2)
        done = Future()
        if function is None:
            done.cancel()
            done.set_running_or_notify_cancel()
            return done
        try:
            done.set_result(do(build, function, *args))
        except Exception as error:
            done.set_exception(error)
        return done

    def shutdown(self, wait):
        self.ended = wait


def test_what_workers_answer_is_handed_on_and_their_library_says_nothing():
    from impose.run.cluster import ClusterExecutor

    def die(error: type[Exception]) -> None:
        raise error("no")

    client = MadeUpClient()
    crew = ClusterExecutor(client, "tcp://a:8786", 30)
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        assert crew.submit(len, b"artwork").result(5) == 7
        with pytest.raises(KeyError):
            crew.submit(die, KeyError).result(5)
        with pytest.raises(Trouble, match="died again and again"):
            crew.submit(die, KilledWorker).result(5)
        with pytest.raises(Trouble, match="tcp://a:8786 have gone"):
            crew.submit(None).result(5)
    assert told == [], "artwork is large, and shipped on purpose"
    crew.shutdown(cancel_futures=True)
    assert client.ended is False
