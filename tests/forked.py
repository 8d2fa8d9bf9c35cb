"""Helpers of the program forked from a process that has everything loaded: 20 ms each instead of half a second or more.

`start_child` of `impose.messages` is the only way in which the program starts processes of its own. Tests whose promise
is of what such a process does, how it ends and what follows have it forked. That it starts by itself is held by tests
that run the program as a person does: those of the page in a browser, of `impose watch` and of the bundle.

Run as a script, this file is the process that forks; it ends with whoever started it.
"""

from __future__ import annotations

import atexit
import contextlib
import gc
import json
import os
import runpy
import select
import signal
import socket
import struct
import subprocess
import sys
import tempfile
import threading
import traceback
import types
import warnings
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

LENGTH, NUMBER = struct.Struct(">Q"), struct.Struct(">q")
SHARED = "IMPOSE_TESTS_FORK_SERVER"
"""Where all workers of a run find the one process that forks for them."""
LOADED = ("impose.desk.worker", "impose.page.planner_process", "impose.run.artwork_worker")
"""Modules that are run in a forked process. `impose.formats.child` is not: it lives within limits of memory."""


class ForkedProcess:
    """A forked process, as far as the program uses `subprocess.Popen`."""

    def __init__(self, server: str, request: Mapping[str, Any], stderr: int | None) -> None:
        """Ask for it; `request` has its `script` as after `python`, `environment`, `folder` and `session`."""
        theirs_in, ours_in = os.pipe()
        ours_out, theirs_out = os.pipe()
        nothing = os.open(os.devnull, os.O_WRONLY) if stderr == subprocess.DEVNULL else None
        self._told = socket.socket(socket.AF_UNIX)
        try:
            self._told.connect(server)
            body = json.dumps(request).encode()
            streams = [theirs_in, theirs_out, 2 if nothing is None else nothing]
            socket.send_fds(self._told, [LENGTH.pack(len(body))], streams)
            self._told.sendall(body)
            self.pid = self._read_number()
        except BaseException:
            self._told.close()
            os.close(ours_in)
            os.close(ours_out)
            raise
        finally:
            for end in (theirs_in, theirs_out, nothing):
                if end is not None:
                    os.close(end)
        self.stdin, self.stdout = os.fdopen(ours_in, "wb"), os.fdopen(ours_out, "rb")
        self.returncode: int | None = None
        self._lock = threading.Lock()

    def _read_number(self) -> int:
        body = self._told.recv(NUMBER.size, socket.MSG_WAITALL)
        if len(body) < NUMBER.size:
            raise ConnectionResetError("the process that forks is gone")
        number: int = NUMBER.unpack(body)[0]
        return number

    def wait(self, timeout: float | None = None) -> int:
        with self._lock:
            if self.returncode is None:
                if not select.select([self._told], [], [], timeout)[0]:
                    raise subprocess.TimeoutExpired("a forked process", timeout or 0)
                self.returncode = self._read_number()
                self._told.close()
            return self.returncode

    def poll(self) -> int | None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            return self.wait(0)
        return None

    def send_signal(self, number: int) -> None:
        if self.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, number)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)

    def terminate(self) -> None:
        self.send_signal(signal.SIGTERM)


def forks_of(script: Sequence[str]) -> bool:
    """Whether what is to be run can be run in a forked process."""
    return script[0] == "-c" or script[0].endswith(".py") or (script[0] == "-m" and script[1] in LOADED)


def make_subprocess(server: str) -> types.SimpleNamespace:
    """What stands for the module `subprocess` in `impose.messages`."""

    def start(command: Sequence[str], *, env: dict[str, str], stderr: int | None = None, **more: Any) -> Any:
        python, *options = command[:2]
        script = tuple(command[2:])
        if (python, options) != (sys.executable, ["-P"]) or not forks_of(script):
            return subprocess.Popen(command, env=env, stderr=stderr, **more)
        place = {"environment": env, "folder": str(Path.cwd()), "session": more["start_new_session"]}
        return ForkedProcess(server, {"script": script, **place}, stderr)

    return types.SimpleNamespace(**{**vars(subprocess), "Popen": start})


@contextlib.contextmanager
def fork_server() -> Iterator[types.SimpleNamespace]:
    """`subprocess` with a `Popen` that forks: by the process that workers share, or one that the first use starts."""
    if SHARED in os.environ:
        yield make_subprocess(os.environ[SHARED])
        return
    with tempfile.TemporaryDirectory(prefix="impose-fork-") as folder:
        server, started = str(Path(folder) / "fork"), []
        forking = make_subprocess(server)
        fork = forking.Popen

        def start(command: Sequence[str], **more: Any) -> Any:
            if not started:
                started.append(_start_server([server], os.environ))
            return fork(command, **more)

        forking.Popen = start
        yield forking
        for process in started:
            _end_server(process)


@contextlib.contextmanager
def shared_server() -> Iterator[None]:
    """One process that forks for all workers started meanwhile. While they collect, it loads what they will ask for.

    It also keeps what Hypothesis looks up once in a checkout: letters by category, and the numbers of the program.
    """
    with tempfile.TemporaryDirectory(prefix="impose-fork-") as folder:
        server = str(Path(folder) / "fork")
        process = _start_server([server, "look-up"], {**os.environ, "IMPOSE_LEDGER": str(Path(folder) / "ledger.db")})
        os.environ[SHARED] = server
        yield
        del os.environ[SHARED]
        _end_server(process)


def _start_server(words: Sequence[str], environment: Mapping[str, str]) -> subprocess.Popen[bytes]:
    """Returns when it can be asked."""
    paths = [str(Path(path).absolute()) for path in sys.path if path]
    process = subprocess.Popen(
        [sys.executable, "-P", __file__, *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**environment, "PYTHONPATH": os.pathsep.join(paths)},
        start_new_session=True,
    )
    assert process.stdout is not None
    assert process.stdout.read(1) == b"."
    return process


def _end_server(process: subprocess.Popen[bytes]) -> None:
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.close()
    process.wait()
    process.stdout.close()


class ForkServer:
    """Forks whoever asks, and tells how it ended."""

    def __init__(self, address: str) -> None:
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(address)
        self.listener.listen(64)
        self.awake, self.waking = socket.socketpair()
        self.waking.setblocking(False)
        self.asking: dict[int, socket.socket] = {}

    def serve(self) -> dict[str, Any] | None:
        """Returns what to run, in each forked process; None in this one, once whoever started it is gone."""
        signal.set_wakeup_fd(self.waking.fileno(), warn_on_full_buffer=False)
        signal.signal(signal.SIGCHLD, lambda number, frame: None)
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        while True:
            ready = select.select([self.listener, self.awake, sys.stdin], [], [])[0]
            if self.awake in ready:
                self.awake.recv(4096)
                self._tell_ends()
            if sys.stdin in ready:
                return None
            if self.listener in ready and (request := self._fork_one()) is not None:
                return request

    def _tell_ends(self) -> None:
        with contextlib.suppress(ChildProcessError):
            while (ended := os.waitpid(-1, os.WNOHANG))[0]:
                asking = self.asking.pop(ended[0], None)
                if asking is None:
                    continue  # what was looked up for Hypothesis
                with contextlib.suppress(OSError):
                    asking.send(NUMBER.pack(os.waitstatus_to_exitcode(ended[1])))
                asking.close()

    def _fork_one(self) -> dict[str, Any] | None:
        asking, _ = self.listener.accept()
        length, streams, _, _ = socket.recv_fds(asking, LENGTH.size, 3)
        request: dict[str, Any] = json.loads(asking.recv(LENGTH.unpack(length)[0], socket.MSG_WAITALL))
        if pid := os.fork():
            self.asking[pid] = asking
            for stream in streams:
                os.close(stream)
            asking.send(NUMBER.pack(pid))
            return None
        for one in (self.listener, self.awake, self.waking, asking, *self.asking.values()):
            one.close()
        for number, stream in enumerate(streams):
            os.dup2(stream, number)
            os.close(stream)
        return request


def become(request: Mapping[str, Any]) -> None:
    """Be the process that was asked for: what Python does between its start and the first line of a script."""
    signal.set_wakeup_fd(-1)
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    if request["session"]:
        os.setsid()
    os.chdir(request["folder"])
    os.environ.clear()
    os.environ.update(request["environment"])
    sys.stdin, sys.stdout, sys.stderr = open(0), open(1, "w"), open(2, "w", buffering=1)  # noqa: SIM115
    first, *words = request["script"]
    sys.argv = [first, *words]
    with _ending_soon():
        run_script(first, words)


def run_script(first: str, words: list[str]) -> None:
    """Run a script, given as after `python`."""
    if first == "-c":
        exec(compile(words[0], "<string>", "exec"), {"__name__": "__main__", "__builtins__": __builtins__})
    elif first == "-m":
        warnings.simplefilter("ignore", RuntimeWarning)  # that it is loaded already
        runpy.run_module(words[0], run_name="__main__", alter_sys=True)
    else:
        runpy.run_path(first, run_name="__main__")


@contextlib.contextmanager
def _ending_soon() -> Iterator[None]:
    """End with the code that Python would; what is loaded is not taken apart first, which would take a while."""
    code: Any = 0
    try:
        yield
    except SystemExit as left:
        code = left.code
    except BaseException:
        traceback.print_exc()
        code = 1
    threading._shutdown()  # type: ignore[attr-defined]
    atexit._run_exitfuncs()
    if isinstance(code, str):
        print(code, file=sys.stderr)
        code = 1
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    os._exit(code or 0)


def load_everything() -> None:
    """Load what the processes load, by a print that is thrown away."""
    for name in (*LOADED, "impose.page.planner_asks"):
        __import__(name)
    from impose.desk.worker import load_everything as make_dot

    make_dot()
    sys.modules["impose.messages"].subprocess = make_subprocess(sys.argv[1])  # type: ignore[attr-defined]
    gc.collect()
    gc.freeze()


def look_up_examples() -> None:
    """Have Hypothesis write down what it would look up in every worker of a new checkout."""
    from hypothesis import given, settings
    from hypothesis import strategies as some

    @settings(max_examples=20, database=None, deadline=None)
    @given(some.text(min_size=5), some.lists(some.integers(), min_size=50))
    def draw_some(text: str, numbers: list[int]) -> None:
        pass

    draw_some()


if __name__ == "__main__":
    server = ForkServer(sys.argv[1])  # who asks from now on waits until everything is loaded
    os.write(1, b".")
    load_everything()
    if sys.argv[2:] and os.fork() == 0:
        look_up_examples()
        os._exit(0)
    wanted = server.serve()
    if wanted is not None:
        become(wanted)
