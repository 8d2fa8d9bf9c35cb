"""For pytest (`-p`): writes the processor time of each test, with that of its processes, as JSON by test id."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

times: dict[str, float] = {}


def _add_up() -> float:
    return sum(os.times()[:4])


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Take the time of a test with what makes ready for it."""
    begun = _add_up()
    ended = yield
    times[item.nodeid] = round(_add_up() - begun, 3)
    return ended


def pytest_sessionfinish() -> None:
    """Write all times to the file that the environment names."""
    Path(os.environ["PROCESSOR_TIMES"]).write_text(json.dumps(times, indent=0), "utf-8")
