"""Many machines: an executor whose work is done by the workers of a Dask scheduler.

The scheduler hands the work of a worker that dies to another. What is added here: every worker must be of this very
version, with the same codec, decoder and colour engine, or the bytes could differ, so each is asked before the run and
asked again with every piece of work, since workers may join at any time; and a run does not wait for ever for workers
that have gone. Artwork is shipped with the work: a worker needs none of our files.
"""

from __future__ import annotations

import re
import threading
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, InvalidStateError
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from impose.errors import Exit, Finding, Trouble
from impose.source_files import hash_code

Result = TypeVar("Result")

CONNECT_SECONDS = 10.0
"""How long a scheduler, and then its first worker, are waited for."""

ALONE_SECONDS = 30.0
"""How long a run waits for a worker to come back when all have gone."""

_LOOK_SECONDS = 1.0
_ADDRESS = re.compile(r"(?:inproc://\S+|(?:(?:tcp|tls|ucx|wss?)://)?(?:\[[0-9a-f:]+\]|[^\s/:]+):([0-9]{1,5})/?)")
_NO_PORT = re.compile(r"(?:[a-z]+://)?[^\s/:]+")
MOST_PORT = 65_535
"""A port is a number of 16 bits (RFC 9293, section 3.1)."""
_EXTRA = "Install it on this machine and on the workers with: pip install distributed"


@cache
def describe_worker_build() -> str:
    """What the bytes of a result hang on: version, sources, codec, decoder, colour engine, arithmetic."""
    from importlib.metadata import version

    from impose.art.cache import compute_code_fingerprint
    from impose.art.codec import best_codec

    nest = hash_code(Path(__file__).parent.parent / "nest")
    others = ", ".join(f"{name} {version(name)}" for name in ("numpy", "rectpack"))
    return f"impose {compute_code_fingerprint()[:-48]}, nest {nest[:16]}, codec {best_codec().name}, {others}"


@contextmanager
def join_cluster(
    address: str, seconds: float = CONNECT_SECONDS, alone_seconds: float = ALONE_SECONDS
) -> Iterator[Executor]:
    """The workers of the scheduler at `address` as an executor, for as long as the block runs.

    Raises `Trouble`: wrong use where the extra is missing or the address makes no sense; trouble with the system where
    nobody answers within `seconds`, there is no worker or one is of another make, or where all workers have been gone
    for `alone_seconds`.
    """
    client = _connect_client(address, seconds)
    try:
        _check_all_alike(client, address, seconds)
        crew = ClusterExecutor(client, address, alone_seconds)
        try:
            yield crew
        finally:
            crew.shutdown(wait=False, cancel_futures=True)
    finally:
        with suppress(Exception):  # a scheduler that has gone cannot be told that we go
            client.close(timeout=2)


def _connect_client(address: str, seconds: float) -> Any:
    match = _ADDRESS.fullmatch(address)
    if match is None:  # a client that fails to be made complains once more when it is collected
        raise _make_no_address(address, "it names no port" if _NO_PORT.fullmatch(address) else "it is of no known form")
    if match[1] and int(match[1]) > MOST_PORT:  # said here: libraries tell it as an address that is silent
        raise _make_no_address(address, f"a port is at most {MOST_PORT}")
    try:
        from distributed import Client
    except ImportError:
        what = "a scheduler needs the package distributed, which is not installed"
        raise Trouble(Finding(what, f"{_EXTRA}.", kind="bad-option", exit=Exit.USAGE)) from None
    try:
        # Its warning about versions is ours to give, as a refusal.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            opened: Callable[..., Any] = Client
            return opened(address, timeout=seconds, set_as_default=False)
    except (OSError, TimeoutError):
        what = f"no scheduler answers at {address} within {seconds:g} s"
        remedy = "Start one with: dask scheduler; and name it as it says, such as tcp://10.0.0.5:8786."
        raise Trouble(Finding(what, remedy, kind="cluster", exit=Exit.SYSTEM)) from None
    except (ValueError, TypeError) as error:
        raise _make_no_address(address, str(error)) from None


def _make_no_address(address: str, why: str) -> Trouble:
    what = f"{address} is no address of a scheduler: {why}"
    return Trouble(Finding(what, "Write it as tcp://10.0.0.5:8786.", kind="bad-option", exit=Exit.USAGE))


def _check_all_alike(client: Any, address: str, seconds: float) -> None:
    with suppress(TimeoutError):
        client.wait_for_workers(1, timeout=seconds)
    found = client.run(describe_worker_build, on_error="return")
    if not found:
        what = f"the scheduler at {address} has no workers"
        remedy = f"Start some with: dask worker {address} --nthreads 1"
        raise Trouble(Finding(what, remedy, kind="cluster", exit=Exit.SYSTEM))
    strange = {worker: build for worker, build in sorted(found.items()) if build != describe_worker_build()}
    if strange:
        worker, build = next(iter(strange.items()))
        raise _make_stranger_trouble(worker, build, len(strange), len(found))


def _make_stranger_trouble(worker: str, is_: str | BaseException, count: int = 1, of: int = 1) -> Trouble:
    more = f" ({count} of {of} workers are not of our make)" if of > 1 else ""
    if isinstance(is_, BaseException):
        what = f"the worker {worker} has no impose that could work with ours: {is_}{more}"
    else:
        what = f"the worker {worker} is of another make: it has {is_}, here is {describe_worker_build()}{more}"
    remedy = "Install the same version with the same packages there, and start the worker again."
    return Trouble(Finding(what, remedy, kind="cluster", exit=Exit.SYSTEM))


def _do_on_worker(wanted: str, function: Callable[..., Result], *args: Any) -> Result | _WorkerMismatch:
    """On a worker: the work, if this is one of ours; a worker may have joined after all were asked."""
    return function(*args) if describe_worker_build() == wanted else _WorkerMismatch(describe_worker_build())


class _WorkerMismatch:
    """What a worker of another make returns instead of a result."""

    def __init__(self, is_: str) -> None:
        from distributed import get_worker

        self.is_, self.worker = is_, str(get_worker().address)


class ClusterExecutor(Executor):
    """The executor: submits to the cluster, and gives up when all workers have been gone for `alone_seconds`."""

    def __init__(self, client: Any, address: str, alone_seconds: float) -> None:
        self._client, self._address, self._patience = client, address, alone_seconds
        self._inner = client.get_executor(pure=False)
        self._waiting: set[Future[Any]] = set()
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._max_workers = max(1, sum(client.nthreads().values()))
        self._watch = threading.Thread(target=self._watch_workers, name="cluster watch", daemon=True)
        self._watch.start()

    def submit(self, fn: Callable[..., Result], /, *args: Any, **kwargs: Any) -> Future[Result]:
        """Have a worker do it. The future raises `Trouble` for what is wrong with the cluster itself."""
        outer: Future[Result] = Future()
        outer.set_running_or_notify_cancel()
        with self._lock:
            self._waiting.add(outer)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of large pieces of work: artwork is large, and shipped on purpose
            inner = self._inner.submit(_do_on_worker, describe_worker_build(), fn, *args, **kwargs)
        inner.add_done_callback(lambda done: self._pass_result_on(done, outer))
        return outer

    def _pass_result_on(self, inner: Future[Any], outer: Future[Any]) -> None:
        with self._lock:
            self._waiting.discard(outer)
        with suppress(InvalidStateError):  # given up meanwhile
            if inner.cancelled():
                outer.set_exception(self._make_gone_trouble())
            elif (error := inner.exception()) is not None:
                outer.set_exception(self._translate_error(error))
            elif isinstance(result := inner.result(), _WorkerMismatch):
                outer.set_exception(_make_stranger_trouble(result.worker, result.is_))
            else:
                outer.set_result(result)

    def _translate_error(self, error: BaseException) -> BaseException:
        if type(error).__name__ != "KilledWorker":
            return error
        what = "workers died again and again at the same piece of work, most likely for want of memory"
        remedy = "Give the workers more memory, or start fewer of them on a machine."
        return Trouble(Finding(what, remedy, kind="cluster", exit=Exit.SYSTEM))

    def _make_gone_trouble(self) -> Trouble:
        what = f"all workers of the scheduler at {self._address} have gone, or it has gone itself"
        remedy = "Start workers again and repeat the run; nothing was written."
        return Trouble(Finding(what, remedy, kind="cluster", exit=Exit.SYSTEM))

    def _watch_workers(self) -> None:
        alone = 0.0
        while not self._ended.wait(_LOOK_SECONDS):
            alone = 0.0 if self._has_workers() else alone + _LOOK_SECONDS
            if alone < self._patience:
                continue
            with self._lock:
                waiting, self._waiting = self._waiting, set()
            for future in waiting:
                with suppress(InvalidStateError):
                    future.set_exception(self._make_gone_trouble())

    def _has_workers(self) -> bool:
        if self._client.status != "running":
            return False
        try:
            return bool(self._client.nthreads())
        except Exception:  # whatever a dying connection raises
            return False

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Submit nothing more; the cluster itself goes on."""
        self._ended.set()
        with suppress(Exception):
            self._inner.shutdown(wait=wait and not cancel_futures)
