"""What all tests share: small pictures, small batches, and runs of the command."""

from __future__ import annotations

import functools
import importlib
import json
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, settings
from PIL import Image

import schemas

# Where Python is told to keep no bytecode, each of the hundred processes of these tests would compile the program anew,
# which takes longer than most of them take for their work.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Cores are shared by the tests, so that no example has a deadline or is too slow to make. `.ci/long` takes twenty times
# as many.
settings.register_profile("suite", deadline=None, max_examples=30, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("long", deadline=None, max_examples=600, suppress_health_check=[HealthCheck.too_slow])
# For faults made on purpose, where it is enough that something fails.
settings.register_profile(
    "quick", settings.get_profile("suite"), phases=(Phase.explicit, Phase.generate), database=None
)
settings.load_profile("suite")

SHAPES = ("ellipse", "words", "gradient", "noise")

PLAYED_ON_OTHER_PROGRAMS = (
    "tests/page/views/", "tests/pages/proof/test_browser.py", "tests/printing/test_real_printers.py",
    "tests/desk/test_real.py",
)  # fmt: skip
"""Tests that press the buttons of a real browser, a real spooler or a real watcher, whose haste is not ours to set."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A test that another program let down is made once more, and the summary names it; a fault of ours fails twice.

    The storms of kills, the tests of the ledger and those of printers that are made up here are not among them: what
    fails there once has failed.
    """
    for item in items:
        if item.nodeid.startswith(PLAYED_ON_OTHER_PROGRAMS):
            item.add_marker(pytest.mark.flaky(reruns=1))


def draw(kind: str, width: int, height: int, seed: int = 0) -> Image.Image:
    """A small RGBA picture with ink to its very edges, so that its bounds are known."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width]
    rgba = np.zeros((height, width, 4), np.uint8)
    if kind == "ellipse":
        inside = ((x + 0.5) / width - 0.5) ** 2 + ((y + 0.5) / height - 0.5) ** 2 <= 0.25
        rgba[inside] = (200, 30, 60, 255)
        rgba[:, : width // 2, 1] = np.where(inside[:, : width // 2], 140, 0)  # left and right differ
    elif kind == "words":
        rgba[...] = (255, 255, 255, 255)
        rgba[:, ::3] = (20, 40, 120, 255)
        rgba[: height // 2, width // 2 :] = (250, 120, 0, 255)
        rgba[:, -1] = (20, 40, 120, 255)
    elif kind == "gradient":
        rgba[..., 0] = 255 * x // width
        rgba[..., 2] = 200
        rgba[..., 3] = np.maximum(16, 255 * y // height)
    else:
        rgba[..., :3] = rng.integers(0, 200, (height, width, 3))
        rgba[..., 3] = 255
    return Image.fromarray(rgba, "RGBA")


@pytest.fixture(autouse=True, scope="session")
def _nothing_of_ours() -> Iterator[None]:
    """No test counts the paper of whoever runs it, nor reads or fills that person's cache of pictures."""
    with tempfile.TemporaryDirectory(prefix="impose-tests-") as folder, pytest.MonkeyPatch.context() as patch:
        patch.setenv("IMPOSE_LEDGER", str(Path(folder) / "none" / "ledger.db"))
        patch.setenv("IMPOSE_KEEP_INDEX", "no")  # tests of the index put it back
        patch.setenv("XDG_CACHE_HOME", str(Path(folder) / "cache"))
        yield


@pytest.fixture(autouse=True)
def _records_fit_their_schema(monkeypatch: pytest.MonkeyPatch) -> None:
    """Records, desks' states, checks and quotes as JSON that a test makes are held against their published schemas."""
    status = importlib.import_module("impose.desk.monitor")
    produce = importlib.import_module("impose.run.produce")  # of impose.run it is the function of that name

    encode, read = produce.encode_in_pieces, status.read_status

    def encode_fitting(record: Any) -> list[bytes]:
        pieces = list(encode(record))
        schemas.strict("record")(json.loads(b"".join(pieces)))
        return pieces

    def read_fitting(*arguments: Any) -> Any:
        found = read(*arguments)
        schemas.strict("desk")(json.loads(json.dumps(found.values)))
        return found

    for module, result in (("check", "CheckResult"), ("quote", "Quote")):
        shown = getattr(importlib.import_module(f"impose.run.{module}"), result)

        @functools.wraps(shown.json_values)
        def list_fitting(self: Any, name: str = module, listed: Callable[[Any], Any] = shown.json_values) -> Any:
            values = listed(self)
            schemas.strict(name)(json.loads(json.dumps(values, default=list)))
            return values

        monkeypatch.setattr(shown, "json_values", list_fitting)
    monkeypatch.setattr(produce, "encode_in_pieces", encode_fitting)
    monkeypatch.setattr(status, "read_status", read_fitting)


@pytest.fixture
def batch(tmp_path: Path) -> Callable[..., Path]:
    """Write a batch: its rows as CSV lines, its pictures as name → (kind, width, height)."""

    def write(lines: list[str], pictures: dict[str, tuple[str, int, int]], heading: str | None = None) -> Path:
        for seed, (name, (kind, width, height)) in enumerate(pictures.items()):
            draw(kind, width, height, seed).save(tmp_path / name)
        path = tmp_path / "evening.csv"
        first = heading or "order,wearer,art,placement,garment,copies,width,height,tear,centre,may_turn"
        path.write_text("\n".join([first, *lines]) + "\n", "utf-8")
        return path

    return write


@pytest.fixture
def run(capfd: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Run the command in this process: exit code, stdout, stderr."""

    def command(*arguments: Any) -> tuple[int, str, str]:
        from impose.cli import main

        capfd.readouterr()
        with pytest.raises(SystemExit) as left:
            main([str(argument) for argument in arguments])
        out, err = capfd.readouterr()
        return int(left.value.code or 0), out, err

    return command
