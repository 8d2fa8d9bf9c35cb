"""A copy of the house in which one line at a time is made wrong, and the tests that are asked whether they notice."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

HOUSE = Path(__file__).resolve().parents[2]
PARTS = ("impose", "profiles", "tests", "examples", "shared", "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE")


@dataclass(frozen=True, slots=True)
class Answer:
    """What the tests said of a fault: `killed`, `survived`, `slow` (undecided within the limit) or `none` (no test)."""

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
        """Whether `tests` notice that a module's text is another one; the module is put back afterwards."""
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

    def _ask(self, tests: Sequence[str], seconds: float) -> Answer:
        values = {**os.environ, "PYTHONPATH": str(self.folder)}
        flags = ["-x", "-q", "--no-header", "--tb=no", "-n", "0", "-p", "no:cacheprovider"]
        command = [sys.executable, "-m", "pytest", *flags, *tests]
        try:
            ended = subprocess.run(
                command, cwd=self.folder, env=values, capture_output=True, text=True, timeout=seconds, check=False
            )
        except subprocess.TimeoutExpired:
            return Answer("slow")
        lines = [one for one in ended.stdout.splitlines() if one.startswith(("FAILED", "ERROR"))]
        if ended.returncode not in (0, 1, 2):
            return Answer("broken", (ended.stdout + ended.stderr)[-300:])
        return Answer("survived" if ended.returncode == 0 else "killed", lines[0].split(" - ")[0] if lines else "")
