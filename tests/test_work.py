"""The seam for workers: order, bounds and ending are the same whatever does the work."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest

from impose.work import SideProcess, default_workers, open_executor, run_in_order
from waiting import LONGEST_S


def square(n: int) -> int:
    return n * n


def slow_first(n: int) -> int:
    time.sleep(0.05 if n == 0 else 0)
    return n


def picky(n: int) -> int:
    if n == 3:
        raise KeyError("three")
    return n


def test_serial_is_lazy():
    begun = []
    results = run_in_order(lambda n: begun.append(n) or n, range(5))
    assert begun == []
    assert next(results) == 0
    assert begun == [0]


@pytest.mark.parametrize("kind", ["serial", "threads", "processes"])
def test_the_same_results_in_order_from_every_kind(kind):
    executor = open_executor(2, kind)
    done: list[int] = []
    assert list(run_in_order(square, range(20), executor or 1, on_done=done.append)) == [n * n for n in range(20)]
    assert done == list(range(1, 21))
    if executor:
        executor.shutdown()


def test_a_number_of_workers_opens_and_closes_processes():
    assert list(run_in_order(square, range(7), 2)) == [n * n for n in range(7)]
    assert list(run_in_order(square, [], 2)) == []


def test_a_late_first_result_still_comes_first():
    with ThreadPoolExecutor(4) as executor:
        assert list(run_in_order(slow_first, range(9), executor, window=9)) == list(range(9))


@pytest.mark.parametrize("window", [1, 3])
def test_no_more_than_the_window_is_begun(window):
    taken = []

    def items():
        for n in range(10):
            taken.append(n)
            yield n

    with ThreadPoolExecutor(2) as executor:
        for seen, _ in enumerate(run_in_order(square, items(), executor, window=window), 1):
            assert len(taken) <= seen + window - 1


@pytest.mark.parametrize("workers", [1, "threads", 2])
def test_an_exception_comes_at_its_turn(workers):
    executor = open_executor(2, "threads") if workers == "threads" else workers
    results = run_in_order(picky, range(100), executor)
    assert [next(results) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(KeyError):
        next(results)
    if workers == "threads":
        executor.shutdown()


def test_what_has_not_begun_is_cancelled_when_one_stops_listening():
    begun: list[int] = []
    gate = threading.Event()

    def work(n: int) -> int:
        begun.append(n)
        if n:
            gate.wait(LONGEST_S)
        return n

    with ThreadPoolExecutor(1) as executor:
        results = run_in_order(work, range(50), executor, window=10)
        assert next(results) == 0
        results.close()
        gate.set()
    assert len(begun) <= 2


def test_an_executor_that_was_handed_in_stays_open():
    with ThreadPoolExecutor(2) as executor:
        list(run_in_order(square, range(3), executor))
        assert executor.submit(square, 5).result() == 25


def test_wrong_numbers_are_refused():
    with pytest.raises(ValueError, match="workers"):
        run_in_order(square, range(3), 0)
    with ThreadPoolExecutor(1) as executor, pytest.raises(ValueError, match="window"):
        list(run_in_order(square, range(3), executor, window=-1))
    assert default_workers() >= 1


def interrupts_blocked(_: int) -> bool:
    return signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ())


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="no signal masks there")
def test_workers_are_deaf_to_ctrl_c_from_their_first_instant():
    assert all(run_in_order(interrupts_blocked, range(4), 2))
    assert not interrupts_blocked(0), "and this process is not"


class Interrupted(ThreadPoolExecutor):
    """Ctrl-C comes while work is handed over."""

    handed_over = 0

    def submit(self, fn, /, *args, **kwargs):
        signal.raise_signal(signal.SIGINT)
        future = super().submit(fn, *args, **kwargs)
        self.handed_over += 1
        return future


@pytest.fixture
def usual_interrupts() -> Iterator[None]:
    """Ctrl-C as a terminal has it: whoever starts a program in the background may have it ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("usual_interrupts")
def test_ctrl_c_waits_until_work_is_handed_over():
    with Interrupted(1) as executor:
        with pytest.raises(KeyboardInterrupt):
            list(run_in_order(square, range(9), executor, window=5))
        assert executor.handed_over == 1
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_thread_other_than_the_main_one_may_hand_out_work():
    found: list[int] = []
    thread = threading.Thread(target=lambda: found.extend(run_in_order(square, range(4), 2)))
    thread.start()
    thread.join(LONGEST_S)
    assert found == [0, 1, 4, 9]


INTERRUPTED = """
import sys, time
from impose.work import run_in_order

def nap(n):
    time.sleep(0.2)
    return n

if __name__ == "__main__":
    try:
        for n in run_in_order(nap, range(1000), 2):
            print(n, flush=True)
    except KeyboardInterrupt:
        print("interrupted", flush=True)
        sys.exit(130)
"""


@pytest.mark.skipif(os.name == "nt", reason="a group of processes is interrupted otherwise there")
@pytest.mark.usefixtures("usual_interrupts")
def test_ctrl_c_ends_everything_in_silence(tmp_path):
    """The whole group gets the signal, as from a terminal; only the parent speaks."""
    script = tmp_path / "script.py"
    script.write_text(INTERRUPTED)
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    process = subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env=environment,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "0\n"
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=LONGEST_S)
    assert process.returncode == 130
    assert out.endswith("interrupted\n")
    assert err == ""


def make_folders(paths):
    for path in paths:
        path.mkdir()


def wait_first(seconds):
    time.sleep(next(seconds))


def test_work_aside_says_whether_it_ended_well(tmp_path):
    paths = [tmp_path / "made", tmp_path / "made" / "within"]
    well, ill = SideProcess(make_folders, paths), SideProcess(make_folders, [tmp_path / "no" / "such"])
    assert well.wait_until_done()
    assert all(path.is_dir() for path in paths)
    assert not ill.wait_until_done()


def test_work_aside_that_was_not_handed_everything_does_not_end_well(tmp_path):
    def broken():
        yield tmp_path / "first"
        raise ValueError("the caller meets the same when it does the work")

    assert not SideProcess(make_folders, broken()).wait_until_done()


def test_work_aside_can_be_stopped():
    aside = SideProcess(wait_first, [600.0])
    aside.end_process()
    assert not aside.wait_until_done(), "and nobody waits for ten minutes"


# "Safe importing of main module", the Python documentation's programming guidelines for multiprocessing.
SCRIPT = """
from impose.work import run_in_order

print("begun")
{guard}print(list(run_in_order(abs, [-1, 2], 2)))
"""


@pytest.mark.parametrize(
    ("guard", "code", "said"), [("", 1, ["begun"]), ('if __name__ == "__main__": ', 0, ["begun", "[1, 2]"])]
)
def test_a_script_that_its_workers_would_run_again_is_told_in_one_sentence(tmp_path, guard, code, said):
    path = tmp_path / "evening.py"
    path.write_text(SCRIPT.format(guard=guard))
    done = subprocess.run([sys.executable, str(path)], capture_output=True, text=True, timeout=LONGEST_S)
    assert done.returncode == code
    assert done.stdout.split("\n")[0] == "begun"
    assert done.stdout.split("\n")[-2] == said[-1]
    if code:
        assert done.stdout == "begun\n"  # not once more in a worker
        assert done.stderr.count("Traceback") == 1  # the script's own, since it catches nothing
        last = done.stderr.strip().split("\n")[-1]
        assert "evening.py would run itself again in every worker" in last
        assert "__main__" in last


def test_a_package_run_by_its_name_and_a_typed_command_need_no_guard(tmp_path):
    (tmp_path / "evening").mkdir()
    (tmp_path / "evening" / "__main__.py").write_text(SCRIPT.format(guard=""))
    typed = "from impose.work import run_in_order; print(list(run_in_order(abs, [-1, 2], 2)))"
    for arguments in (["-m", "evening"], ["-c", typed]):
        done = subprocess.run(
            [sys.executable, *arguments], cwd=tmp_path, capture_output=True, text=True, timeout=LONGEST_S
        )
        assert (done.returncode, done.stdout.strip().split("\n")[-1]) == (0, "[1, 2]"), done.stderr


def test_more_workers_than_any_machine_has_are_as_many_as_it_takes():
    """The results never show how many worked; the number reaches no semaphore, whose limit is a C int."""
    executor = open_executor(10**11)
    assert executor is not None
    with executor:
        assert list(run_in_order(square, range(7), executor)) == [n * n for n in range(7)]
