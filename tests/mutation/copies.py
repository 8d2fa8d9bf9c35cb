"""A copy of the house in which one line at a time is made wrong, and the tests that are asked whether they notice."""

from __future__ import annotations

import contextlib
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

HOUSE = Path(__file__).resolve().parents[2]
PARTS = (
    "impose",
    "profiles",
    "tests",
    "examples",
    "shared",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    ".ci",
)
LONGEST_S = 300.0
"""Tests that have not ended by then, and by ten times their processor time, wait for something that never comes."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What the tests said of a fault: `killed`, `survived`, `slow` (waited without end) or `none` (no test touches it).

    Tests that take more processor time than allowed do not end: that is noticed as well.
    """

    state: str
    by: str = ""


class HouseCopy:
    """A copy of the sources and tests in a folder of its own; the original is never written to."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for part in PARTS:
            source, target = HOUSE / part, folder / part
            if source.is_dir():
                shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__", ".hypothesis"))
            elif source.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(source, target)
        self._stamp = 1_500_000_000

    def try_fault(self, module: str, text: str, tests: Sequence[str], seconds: float) -> Answer:
        """Whether `tests`, in so many seconds of processor time, notice that a module's text is another one.

        The module is put back as it was copied, whatever has been done to the original meanwhile.
        """
        if not tests:
            return Answer("none")
        path = self.folder / module
        right = path.read_text("utf-8")
        self._write_module(path, text)
        try:
            return self._ask_tests(tests, seconds)
        finally:
            self._write_module(path, right)

    def _write_module(self, path: Path, text: str) -> None:
        path.write_text(text, "utf-8")
        # A time of its own, to the second: else the compiled file of the text before could pass for this one's.
        self._stamp += 2
        os.utime(path, (self._stamp, self._stamp))

    def measure_tests(self, tests: Sequence[str], data: Path, times: Path, seconds: float) -> str:
        """Run tests once as the house stands: which lines each touches (coverage) and its processor time (JSON).

        What did not go well, in words. Tests that take longer than so many seconds leave nothing behind.
        """
        flags = ["--cov=impose", "--cov-context=test", "--cov-report=", "-p", "mutation.processor_times"]
        values = {"COVERAGE_FILE": str(data), "PROCESSOR_TIMES": str(times)}
        try:
            ended = self._run_tests([*flags, *tests], values, None, seconds)
        except subprocess.TimeoutExpired:
            return "takes too long"
        return ended.stdout[-1000:] if ended.returncode else ""

    def _ask_tests(self, tests: Sequence[str], seconds: float) -> Answer:
        try:
            flags = ["-x", "--hypothesis-profile=quick", "--hypothesis-seed=0"]
            ended = self._run_tests([*flags, *tests], {}, seconds, max(LONGEST_S, 10 * seconds))
        except subprocess.TimeoutExpired:
            return Answer("slow")
        if ended.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
            return Answer("killed", "it never ends")
        lines = [line for line in ended.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
        if ended.returncode not in (0, 1, 2):
            return Answer("broken", (ended.stdout + ended.stderr)[-300:])
        return Answer("survived" if ended.returncode == 0 else "killed", lines[0].split(" - ")[0] if lines else "")

    def _run_tests(
        self, arguments: Sequence[str], more: dict[str, str], processor_s: float | None, wall_s: float
    ) -> subprocess.CompletedProcess[str]:
        """Run pytest in the copy, with limits of processor time and of time; what it started ends with it."""
        flags = ["-q", "--no-header", "--tb=no", "-n", "0", "--dist", "no", "-p", "no:cacheprovider"]
        paths = os.pathsep.join([str(self.folder), str(self.folder / "tests")])

        def limit() -> None:
            if processor_s is not None:
                resource.setrlimit(resource.RLIMIT_CPU, (int(processor_s), int(processor_s) + 5))

        # Into files: a pipe stays open as long as any process that a test started.
        with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
            process = subprocess.Popen(
                [sys.executable, "-m", "pytest", *flags, *arguments], cwd=self.folder, preexec_fn=limit,
                env={**os.environ, "PYTHONPATH": paths, **more}, stdout=out, stderr=err, start_new_session=True,
            )  # fmt: skip
            try:
                code = process.wait(wall_s)
            finally:
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(process.pid, signal.SIGKILL)
                process.wait()
            for file in (out, err):
                file.seek(0)
            return subprocess.CompletedProcess(process.args, code, out.read(), err.read())
