"""Runs of pytest in processes forked from one that has loaded the libraries, since to load them takes most of a run.

Nothing of the program itself is loaded before the fork: each run meets it as it then stands in its folder.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import resource
import runpy
import signal
import sys
import tempfile
import traceback
from collections.abc import Sequence
from multiprocessing.context import ForkServerContext
from multiprocessing.process import BaseProcess
from pathlib import Path
from subprocess import CompletedProcess, TimeoutExpired

_LIBRARIES = (
    "_pytest.assertion.rewrite", "_pytest.capture", "_pytest.fixtures", "_pytest.logging", "_pytest.monkeypatch",
    "_pytest.python", "_pytest.terminal", "_pytest.unraisableexception", "asyncio", "click.testing", "ctypes",
    "fastjsonschema", "html5lib", "hypothesis.strategies", "_hypothesis_pytestplugin", "numpy", "numpy.random",
    "openpyxl", "pikepdf", "PIL.Image", "PIL.ImageChops", "PIL.ImageCms", "PIL.ImageDraw", "PIL.PngImagePlugin",
    "platformdirs", "pymupdf", "pypdfium2", "pytest", "rectpack", "resvg_py", "sqlite3", "tornado.httpclient",
    "tornado.web", "uharfbuzz", "xdist.plugin", "zlib_ng.zlib_ng",
)  # fmt: skip


def _start_context() -> ForkServerContext:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(_LIBRARIES))
    return context


class ForkedTests:
    """Runs pytest in a folder, as `python -m pytest` would, in processes that begin with the libraries loaded."""

    def __init__(self, folder: Path, paths: Sequence[Path]) -> None:
        self._folder, self._paths = folder, [str(path) for path in paths]
        self._context = _start_context()

    def run_tests(self, arguments: Sequence[str], processor_s: float, idle_s: float) -> CompletedProcess[str]:
        """Run pytest with a limit of processor time; what it started ends with it.

        The code is negative for a signal. `TimeoutExpired` is raised where it takes less than a twentieth of a
        processor for `idle_s` seconds and none of it wants more: by the clock alone, whoever shares the machine would
        seem to wait.
        """
        with tempfile.TemporaryDirectory(prefix="forked-") as name:
            out, err = Path(name) / "out", Path(name) / "err"
            values = {"PYTHONPATH": os.pathsep.join(self._paths)}
            process = self._context.Process(
                target=_run_pytest,
                args=(list(arguments), str(self._folder), self._paths, values, processor_s, str(out), str(err)),
            )
            process.start()
            assert process.pid is not None
            try:
                code = _await_end(process, idle_s)
            finally:
                # Its group has its number once it has begun; what it left running ends too.
                with contextlib.suppress(ProcessLookupError, PermissionError):
                    os.killpg(process.pid, signal.SIGKILL)
                process.kill()
                process.join()
            told = [path.read_text("utf-8", "replace") if path.exists() else "" for path in (out, err)]
            return CompletedProcess(list(arguments), code, *told)


def _await_end(process: BaseProcess, idle_s: float) -> int:
    """Wait for the code of a process. Raises `TimeoutExpired` once it and what it started have only been waiting."""
    assert process.pid is not None
    taken = -1.0
    while process.exitcode is None:
        process.join(idle_s)
        now, runnable = _look_at_session(process.pid)
        if process.exitcode is None and now - taken < idle_s / 20 and not runnable:
            raise TimeoutExpired("pytest", idle_s)
        taken = now
    return process.exitcode


def _look_at_session(leader: int) -> tuple[float, bool]:
    """Seconds of processor time that the processes of a session have taken, those that have ended included; and
    whether one could go on: on a machine of many others it waits for its turn, and for nothing else.
    """
    ticks, runnable = 0, False
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            # proc(5): after the name in brackets come state, ppid, pgrp, session; utime to cstime are the 14th to 17th.
            values = path.read_text().rpartition(")")[2].split()
            if int(values[3]) == leader:
                ticks += sum(int(value) for value in values[11:15])
                runnable |= values[0] == "R"
    return ticks / os.sysconf("SC_CLK_TCK"), runnable


def _run_pytest(
    arguments: list[str], folder: str, paths: list[str], values: dict[str, str], processor_s: float, out: str, err: str
) -> None:
    """In the forked process: become what `python -m pytest` is."""
    os.setsid()
    resource.setrlimit(resource.RLIMIT_CPU, (int(processor_s), int(processor_s) + 5))
    os.environ.update(values)
    os.chdir(folder)
    for number, path in ((1, out), (2, err)):
        written = os.open(path, os.O_CREAT | os.O_WRONLY, 0o600)
        os.dup2(written, number)
        os.close(written)
    here = str(Path(__file__).parent)
    sys.path[:] = [folder, *paths, *(path for path in sys.path if path not in ("", here))]
    # Plugins that are loaded before pytest hold no promise: how they would word a failed assertion is of no interest.
    sys.argv[:] = ["pytest", "-W", "ignore::pytest.PytestAssertRewriteWarning", *arguments]
    code: object = 3
    try:
        runpy.run_module("pytest", run_name="__main__", alter_sys=True)
    except SystemExit as ended:
        code = ended.code
    except BaseException:
        traceback.print_exc()
    finally:
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        os._exit(code if isinstance(code, int) else 3)
