"""For pytest (`-p`): writes the processor time of each test, with that of its processes, as JSON by test id."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

passed: dict[str, float] = {}
failed: list[str] = []


def _add_up() -> float:
    return sum(os.times()[:4])


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Take the time of a test with what makes ready for it."""
    begun = _add_up()
    ended = yield
    if item.nodeid not in failed:
        passed[item.nodeid] = round(_add_up() - begun, 3)
    return ended


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """A test that fails in any phase, or is skipped, has no time."""
    if not report.passed:
        failed.append(report.nodeid)


def pytest_sessionfinish() -> None:
    """Write all times to the file that the environment names."""
    told = {"passed": passed, "failed": failed}
    Path(os.environ["PROCESSOR_TIMES"]).write_text(json.dumps(told, indent=0), "utf-8")
