"""A copy of the house in which one line at a time is made wrong, and the tests that are asked whether they notice."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import subprocess
import sys
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
LONGEST_S = 1200.0
"""Tests that have not ended by then wait for something that never comes."""


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

        The module is put back afterwards.
        """
        if not tests:
            return Answer("none")
        path = self.folder / module
        self._write(path, text)
        try:
            return self._ask(tests, seconds)
        finally:
            self._write(path, (HOUSE / module).read_text("utf-8"))

    def _write(self, path: Path, text: str) -> None:
        path.write_text(text, "utf-8")
        # A time of its own, to the second: else the compiled file of the text before could pass for this one's.
        self._stamp += 2
        os.utime(path, (self._stamp, self._stamp))

    def measure_tests(self, tests: Sequence[str], data: Path, times: Path) -> None:
        """Run tests once as the house stands: which lines each touches (coverage) and its processor time (JSON)."""
        flags = ["--cov=impose", "--cov-context=test", "--cov-report=", "-p", "mutation.processor_times"]
        values = {"COVERAGE_FILE": str(data), "PROCESSOR_TIMES": str(times)}
        ended = self._run_tests([*flags, *tests], values, None, None)
        if ended.returncode:
            times.unlink(missing_ok=True)
            raise RuntimeError(f"the tests fail as the house stands: {ended.stdout[-2000:]}{ended.stderr[-500:]}")

    def _ask(self, tests: Sequence[str], seconds: float) -> Answer:
        try:
            ended = self._run_tests(["-x", *tests], {}, seconds, LONGEST_S)
        except subprocess.TimeoutExpired:
            return Answer("slow")
        if ended.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
            return Answer("killed", "it never ends")
        lines = [line for line in ended.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
        if ended.returncode not in (0, 1, 2):
            return Answer("broken", (ended.stdout + ended.stderr)[-300:])
        return Answer("survived" if ended.returncode == 0 else "killed", lines[0].split(" - ")[0] if lines else "")

    def _run_tests(
        self, arguments: Sequence[str], more: dict[str, str], processor_s: float | None, wall_s: float | None
    ) -> subprocess.CompletedProcess[str]:
        """Run pytest in the copy, with limits of processor time and of time."""
        flags = ["-q", "--no-header", "--tb=no", "-n", "0", "-p", "no:cacheprovider"]
        paths = os.pathsep.join([str(self.folder), str(self.folder / "tests")])

        def limit() -> None:
            if processor_s is not None:
                resource.setrlimit(resource.RLIMIT_CPU, (int(processor_s), int(processor_s) + 5))

        return subprocess.run(
            [sys.executable, "-m", "pytest", *flags, *arguments], cwd=self.folder, preexec_fn=limit,
            env={**os.environ, "PYTHONPATH": paths, **more}, capture_output=True, text=True,
            timeout=wall_s, check=False,
        )  # fmt: skip
