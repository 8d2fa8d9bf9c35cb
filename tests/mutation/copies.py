"""A copy of the house in which one line at a time is made wrong, and the tests that are asked whether they notice."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from forked_tests import ForkedTests

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
_FLAGS = ("-q", "--no-header", "--tb=no", "-n", "0", "--dist", "no", "-p", "no:cacheprovider")
_FIRST = 8
IDLE_S = 60.0
"""Tests that take next to no processor time for so long wait for what never comes."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What the tests said of a fault: `killed`, `survived`, `slow` (waited without end) or `none` (no test touches it).

    `broken` and `unsure` are of the tests, not of the fault: pytest itself failed, or what failed fails without it too.

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
        self._forked = ForkedTests(folder, (folder, folder / "tests"))
        self._sound: dict[str, bool] = {}

    def try_fault(self, module: str, text: str, tests: Sequence[str], seconds: float) -> Answer:
        """Whether `tests`, in so many seconds of processor time, notice that a module's text is another one.

        The module is put back as it was copied, whatever has been done to the original meanwhile.
        """
        if not tests:
            return Answer("none")
        path = self.folder / module
        right = path.read_text("utf-8")
        there = [test for test in tests if (self.folder / test.partition("::")[0]).exists()]
        asked = [test for test in there if self._sound.get(test, True)]
        while True:
            try:
                self._write_module(path, text)
                answer = self._ask_first_and_rest(asked, seconds)
            except subprocess.CalledProcessError:
                return Answer("broken", "the compiler takes it for no program")
            finally:
                self._write_module(path, right)
            if answer.state != "killed" or "::" not in answer.by or self._is_sound(answer.by):
                return answer
            if answer.by not in asked:
                return Answer("unsure", answer.by)
            asked.remove(answer.by)

    def _ask_first_and_rest(self, tests: Sequence[str], seconds: float) -> Answer:
        """The quickest few alone: most faults are noticed by one of them, and to collect all takes longer."""
        for some in (tests[:_FIRST], tests[_FIRST:]):
            answer = self._ask_tests(some, seconds) if some else Answer("survived")
            if answer.state != "survived":
                break
        return answer

    def _write_module(self, path: Path, text: str) -> None:
        path.write_text(text, "utf-8")
        # A time of its own, to the second: else the compiled file of the text before could pass for this one's.
        self._stamp += 2
        os.utime(path, (self._stamp, self._stamp))
        if path.suffix == ".c":
            self._build_library()

    def _build_library(self) -> None:
        """Have the compiled loops built from the sources as they stand; CalledProcessError where they are no C."""
        command = [sys.executable, str(self.folder / ".ci" / "build_native.py")]
        made = subprocess.run(command, check=True, capture_output=True, text=True)
        if not made.stdout:
            raise subprocess.CalledProcessError(1, command, stderr=made.stderr)

    def measure_tests(self, tests: Sequence[str], data: Path, times: Path, seconds: float) -> str:
        """Run tests once as the house stands: which lines each touches (coverage) and its processor time (JSON).

        What did not go well, in words. Tests that take longer than so many seconds leave nothing behind.
        """
        flags = ["--cov=impose", "--cov-context=test", "--cov-report=", "-p", "mutation.processor_times"]
        values = {"COVERAGE_FILE": str(data), "PROCESSOR_TIMES": str(times)}
        try:
            ended = self._run_fresh([*flags, *tests], values, seconds)
        except subprocess.TimeoutExpired:
            return "takes too long"
        return ended.stdout[-1000:] if ended.returncode else ""

    def _ask_tests(self, tests: Sequence[str], seconds: float) -> Answer:
        flags = [*_FLAGS, "-x", "--hypothesis-profile=quick", "--hypothesis-seed=0"]
        try:
            ended = self._forked.run_tests([*flags, *tests], seconds, IDLE_S)
        except subprocess.TimeoutExpired:
            return Answer("slow", "it waits for ever")
        if ended.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
            return Answer("killed", "it never ends")
        if ended.returncode < 0:
            return Answer("killed", "it takes its process down")
        if ended.returncode not in (0, 1, 2):
            return Answer("broken", (ended.stdout + ended.stderr)[-300:])
        lines = [line for line in ended.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
        by = lines[0].partition(" ")[2].split(" - ")[0].strip() if lines else ""
        return Answer("survived" if ended.returncode == 0 else "killed", by)

    def _is_sound(self, test: str) -> bool:
        """Whether a test that noticed something passes, asked alone in the same way, while nothing is wrong."""
        if test not in self._sound:
            self._sound[test] = self._ask_tests([test], 300).state == "survived"
        return self._sound[test]

    def _run_fresh(
        self, arguments: Sequence[str], more: dict[str, str], wall_s: float
    ) -> subprocess.CompletedProcess[str]:
        """Run pytest in the copy and a new interpreter; what it started ends with it."""
        paths = os.pathsep.join([str(self.folder), str(self.folder / "tests")])
        # Into files: a pipe stays open as long as any process that a test started.
        with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
            process = subprocess.Popen(
                [sys.executable, "-m", "pytest", *_FLAGS, *arguments], cwd=self.folder,
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
