"""The one seam through which work is spread: serial, threads, processes or any other executor, results in order.

Whatever does the work, the caller sees the same results in the same order, so the number of workers can never show
in the output. At most `window` items are under way or waiting to be collected: memory is bounded however long the
list is.
"""

from __future__ import annotations

import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import Executor, Future
from contextlib import closing, contextmanager, suppress
from os import cpu_count
from pathlib import Path
from typing import Any, Literal, TypeVar

from impose.errors import Exit, Finding, Trouble

Item = TypeVar("Item")
Result = TypeVar("Result")
MOST_PROCESSES = 61
"""As many as `concurrent.futures.ProcessPoolExecutor` takes on Windows (its documentation)."""

Kind = Literal["serial", "threads", "processes"]


def default_workers() -> int:
    """How many workers the machine's cores suggest; at least 1."""
    return max(1, cpu_count() or 1)


def open_executor(workers: int, kind: Kind = "processes") -> Executor | None:
    """An executor of the asked kind for `workers` (at least 1) at a time; None stands for doing it oneself.

    Raises `Trouble` for processes in a script that every one of them would run again (see `runs_itself_again`).

    Processes are started from a clean server process where the system has one: a fork of a program that already runs
    threads can hang. They ignore Ctrl-C, so that only the parent reports it and ends them in order.
    """
    if workers < 1:
        raise ValueError(f"workers must be 1 or more, not {workers}")
    if kind == "serial" or workers == 1:
        return None
    if kind == "threads":
        from concurrent.futures import ThreadPoolExecutor

        return ThreadPoolExecutor(workers)
    if runs_itself_again():
        what = f"{Path(str(sys.modules['__main__'].__file__)).name} would run itself again in every worker"
        remedy = 'Put what it does below `if __name__ == "__main__":`, or ask for one worker.'
        raise Trouble(Finding(what, remedy, kind="bad-option", exit=Exit.USAGE))
    return _start_processes(workers)


def runs_itself_again() -> bool:
    """Whether the program is a script that guards nothing against being imported.

    A new process imports the script it was started from, as the standard library's `multiprocessing` has it ("Safe
    importing of main module"), so that such a script would start its own workers in each of its workers.
    """
    main = sys.modules.get("__main__")
    script = getattr(main, "__file__", None)
    package = getattr(getattr(main, "__spec__", None), "name", "").endswith("__main__")
    if script is None or package:
        return False  # typed in, or a package run by its name, which no new process imports
    try:
        content = Path(script).read_bytes()
    except OSError:
        return False  # within an archive
    return b"__main__" not in content and b"parent_process" not in content


def _start_processes(workers: int) -> Executor:
    # Loaded late: most runs need no workers, and these take as long as the rest of this room's imports together.
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    method = "spawn"
    if "forkserver" in multiprocessing.get_all_start_methods():
        method = "forkserver"
        _serve_without_interrupts()
    workers = min(workers, max(MOST_PROCESSES, default_workers()))  # more gain nothing, and too many cannot be begun
    return ProcessPoolExecutor(
        workers, mp_context=multiprocessing.get_context(method), initializer=_leave_interrupts_to_parent
    )


def _serve_without_interrupts() -> None:
    """Start the server of processes with Ctrl-C blocked: what it starts inherits that from its first instant.

    The worker's own ignoring comes only once it has loaded its modules; a Ctrl-C before would have it complain.
    """
    from multiprocessing import forkserver, resource_tracker

    resource_tracker.ensure_running()  # it lifts the block, so it must not be the server that starts it
    blocked = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        forkserver.ensure_running()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, blocked)


class SideProcess:
    """One piece of work done by a process of its own while this one goes on.

    The process ignores Ctrl-C, like every worker; `stop` ends it.
    """

    def __init__(self, function: Callable[[Iterator[Item]], object], items: Iterable[Item]) -> None:
        """`function` is called with the `items`: a thread makes and hands over one after another, never all at once."""
        import multiprocessing

        method = "spawn"
        if "forkserver" in multiprocessing.get_all_start_methods():
            method = "forkserver"
            _serve_without_interrupts()
        context: Any = multiprocessing.get_context(method)
        receiving, sending = context.Pipe(duplex=False)
        self._process = context.Process(target=_do_in_side_process, args=(function, receiving), daemon=True)
        with _delay_interrupts():
            self._process.start()
        receiving.close()
        threading.Thread(target=_hand_over, args=(items, sending), daemon=True).start()

    def wait_until_done(self) -> bool:
        """Wait for its end; whether it ended well. If not, the work is for the caller to do, who will see why."""
        self._process.join()
        return bool(self._process.exitcode == 0)

    def end_process(self) -> None:
        """End it, whatever it is at."""
        if self._process.is_alive():
            self._process.terminate()
        self._process.join()


def _hand_over(items: Iterable[Any], sending: Any) -> None:
    """Send the items, then that this was all; whatever fails ends the other side, whose caller then does the work."""
    with suppress(Exception), closing(sending):
        for item in items:
            sending.send((item,))
        sending.send(())


def _do_in_side_process(function: Callable[[Iterator[Any]], object], receiving: Any) -> None:
    _leave_interrupts_to_parent()
    try:
        function(_receive_items(receiving))
    except BaseException:
        # Its caller does it again and meets the same; words of two processes at once would help nobody.
        raise SystemExit(1) from None


def _receive_items(receiving: Any) -> Iterator[Any]:
    """What is handed over; raises `EOFError` where the other side ends before it has said that this was all."""
    while item := receiving.recv():
        yield item[0]


def run_in_order(
    function: Callable[[Item], Result],
    items: Iterable[Item],
    workers: int | Executor = 1,
    window: int | None = None,
    on_done: Callable[[int], object] | None = None,
) -> Iterator[Result]:
    """Yield `function(item)` for every item, in the order of `items`.

    `workers` is a number (1 does the work here; more opens that many processes and closes them again) or any
    `concurrent.futures.Executor`, which stays open. `window` bounds the items begun but not yet yielded; by default
    two for each worker. `on_done` is called with the number finished so far, in the caller's thread.

    An exception of `function` is raised at its item's turn. On that, on Ctrl-C, or when the iterator is closed early,
    what has not begun is cancelled.
    """
    if isinstance(workers, Executor):
        count = getattr(workers, "_max_workers", None) or default_workers()
        return _count_results(_run_through(workers, function, items, window or 2 * count), on_done)
    own = open_executor(workers)
    if own is None:
        return _count_results((function(item) for item in items), on_done)
    return _count_results(_run_through(own, function, items, window or 2 * workers, close=True), on_done)


def _run_through(
    executor: Executor,
    function: Callable[[Item], Result],
    items: Iterable[Item],
    window: int,
    close: bool = False,
) -> Generator[Result, None, None]:
    """Keep `window` items submitted and return the oldest first."""
    if window < 1:
        raise ValueError(f"window must be 1 or more, not {window}")
    waiting: deque[Future[Result]] = deque()
    try:
        for item in items:
            with _delay_interrupts():
                waiting.append(executor.submit(function, item))
            if len(waiting) >= window:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        for future in waiting:
            future.cancel()
        if close:
            executor.shutdown(wait=True, cancel_futures=True)


def _count_results(results: Generator[Result, None, None], on_done: Callable[[int], object] | None) -> Iterator[Result]:
    done = 0
    # Closing the inner generator is what cancels the waiting work when a consumer stops early.
    with closing(results) as inner:
        for result in inner:
            done += 1
            if on_done is not None:
                on_done(done)
            yield result


@contextmanager
def _delay_interrupts() -> Iterator[None]:
    """Let Ctrl-C wait for the end of the block: a process half started would never be waited for, and complain."""
    usual = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(usual):
        yield
        return
    came: list[int] = []
    signal.signal(signal.SIGINT, lambda number, frame: came.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, usual)
    if came:
        usual(came[0], None)


def _leave_interrupts_to_parent() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
