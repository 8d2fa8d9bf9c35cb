"""What all tests share: small pictures, small batches, and runs of the command."""

from __future__ import annotations

import compileall
import contextlib
import functools
import gc
import importlib
import io
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, settings
from PIL import Image
from xdist.remote import Producer
from xdist.scheduler import LoadFileScheduling

import forked
import schemas
from waiting import LONGEST_S

# Where Python is told to keep no bytecode, each of the hundred processes of these tests would compile the program anew,
# which takes longer than most of them take for their work.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Whatever is delivered is synced to the disk, some fifteen times: in memory that takes no time. What is synced, and in
# which order, is held by test_synced.py from the calls themselves.
MEMORY = Path("/dev/shm")
if os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > 4 * 10**9:  # all tests leave 0.2 * 10**9
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))

# Nothing that is loaded and collected is garbage: to look for some takes a tenth of that time.
gc.disable()

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

LONGEST_FIRST = (
    "page/views/", "pages/proof/test_browser.py", "page/test_main_path.py", "desk/test_real.py", "run/test_reprint.py",
    "printing/", "run/test_swatches.py", "test_truth_on_paper.py", "nest/test_reference.py", "test_cli.py",
    "test_hostile.py", "test_examples.py", "test_house.py",
)  # fmt: skip
"""What takes longest comes first, so that the short tests are left to be shared at the end."""

IN_THE_BROWSER = ("page/views/", "pages/proof/test_browser.py", "formats/test_pictures.py")
"""Files whose tests take a browser: one worker has them all, so that one browser is started."""


def pytest_xdist_setupnodes(config: pytest.Config) -> None:
    """Before there are workers: the program is compiled, once for all of them, and one process forks for all."""
    compileall.compile_dir(Path(__file__).parents[1] / "impose", quiet=2)
    if hasattr(os, "fork"):
        shared = contextlib.ExitStack()
        shared.enter_context(forked.shared_server())
        config.add_cleanup(shared.close)


@pytest.hookimpl(wrapper=True)
def pytest_xdist_auto_num_workers() -> Generator[None, int, int]:
    """One worker more than cores: while it waits for a process, a browser or a printer, its core is another's."""
    cores = yield
    return cores if "PYTEST_XDIST_AUTO_NUM_WORKERS" in os.environ else cores + 1


def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> LoadFileScheduling | None:
    """A file's tests are one worker's, which makes what they share once; so are those in the browser."""
    return OneBrowserScheduling(config, log) if config.getvalue("dist") == "loadfile" else None


class OneBrowserScheduling(LoadFileScheduling):
    """Files are shared out one by one, those whose tests take a browser as if they were one."""

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        return "browser" if file.removeprefix("tests/").startswith(IN_THE_BROWSER) else file


class TurnedDirectory(pytest.Dir):
    """A folder whose tests are imported from somewhere in its middle on, then from its beginning."""

    share = 0.0

    def collect(self) -> Iterator[pytest.Item | pytest.Collector]:
        entries = list(super().collect())
        start = int(len(entries) * self.share)
        return iter(entries[start:] + entries[:start])


def pytest_collect_directory(path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """Each worker begins at another place: it then finds most of the tests compiled by the others."""
    worker = os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")
    if worker == "0":
        return None
    directory = TurnedDirectory.from_parent(parent, path=path)
    assert isinstance(directory, TurnedDirectory)
    directory.share = int(worker) / int(os.environ["PYTEST_XDIST_WORKER_COUNT"])
    return directory


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The same order in every worker, whichever way it collected; what another program let down is made once more.

    The summary names a test made again; a fault of ours fails twice. The storms of kills, the tests of the ledger and
    those of printers that are made up here are not among them: what fails there once has failed.
    """
    tests = Path(__file__).parent
    places = {item.path: item.path.relative_to(tests).as_posix() for item in items if item.path.is_relative_to(tests)}
    ranks = {
        place: min((rank for rank, start in enumerate(LONGEST_FIRST) if place.startswith(start)), default=len(places))
        for place in places.values()
    }
    items.sort(key=lambda item: (ranks.get(places.get(item.path, ""), -1), places.get(item.path, "")))
    for item in items:
        if item.nodeid.startswith(PLAYED_ON_OTHER_PROGRAMS):
            item.add_marker(pytest.mark.flaky(reruns=1))


def pytest_collection_finish() -> None:
    """What was loaded stays to the end, so that none of it is looked through for garbage."""
    gc.freeze()
    gc.enable()


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


@functools.lru_cache(64)
def _encode_drawn(kind: str, width: int, height: int, seed: int, suffix: str) -> bytes:
    """A picture as a file: many tests of a module have the same ones."""
    file = io.BytesIO()
    draw(kind, width, height, seed).save(file, Image.registered_extensions()[suffix.lower()], compress_level=1)
    return file.getvalue()


@pytest.fixture(autouse=True, scope="session")
def _nothing_of_ours() -> Iterator[None]:
    """No test counts the paper of whoever runs it, nor reads or fills that person's cache of pictures."""
    place = os.environ.get("PYTEST_DEBUG_TEMPROOT")
    with (
        tempfile.TemporaryDirectory(prefix="impose-tests-", dir=place) as folder,
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setenv("IMPOSE_LEDGER", str(Path(folder) / "none" / "ledger.db"))
        patch.setenv("IMPOSE_KEEP_INDEX", "no")  # tests of the index put it back
        patch.setenv("XDG_CACHE_HOME", str(Path(folder) / "cache"))
        yield


@pytest.fixture(autouse=True, scope="session")
def _records_fit_their_schema() -> Iterator[None]:
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

    def fit_values(name: str, listed: Callable[[Any], Any]) -> Callable[[Any], Any]:
        @functools.wraps(listed)
        def list_fitting(self: Any) -> Any:
            values = listed(self)
            schemas.strict(name)(json.loads(json.dumps(values, default=list)))
            return values

        return list_fitting

    with pytest.MonkeyPatch.context() as patch:
        for module, result in (("check", "CheckResult"), ("quote", "Quote")):
            shown = getattr(importlib.import_module(f"impose.run.{module}"), result)
            patch.setattr(shown, "json_values", fit_values(module, shown.json_values))
        patch.setattr(produce, "encode_in_pieces", encode_fitting)
        patch.setattr(status, "read_status", read_fitting)
        yield


@pytest.fixture(autouse=True, scope="session")
def _helpers_are_forked(_nothing_of_ours: None) -> Iterator[None]:
    """The program's helpers are forked from a process that has loaded what they load."""
    if not hasattr(os, "fork"):
        yield
        return
    with forked.fork_server() as forking, pytest.MonkeyPatch.context() as patch:
        patch.setattr("impose.messages.subprocess", forking)
        yield


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """One browser without a screen for all tests of a worker; each opens tabs of its own."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        pytest.skip("no Chromium on this machine: pages are not tested in a browser")
    playwright = pytest.importorskip("playwright.sync_api", reason="no playwright: pages are not tested in a browser")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu"], timeout=1000 * LONGEST_S
        )
        yield browser
        browser.close()


@pytest.fixture
def batch(tmp_path: Path) -> Callable[..., Path]:
    """Write a batch: its rows as CSV lines, its pictures as name → (kind, width, height)."""

    def write(lines: list[str], pictures: dict[str, tuple[str, int, int]], heading: str | None = None) -> Path:
        for seed, (name, (kind, width, height)) in enumerate(pictures.items()):
            (tmp_path / name).write_bytes(_encode_drawn(kind, width, height, seed, Path(name).suffix))
        path = tmp_path / "evening.csv"
        first = heading or "order,wearer,art,placement,garment,copies,width,height,tear,centre,may_turn"
        path.write_text("\n".join([first, *lines]) + "\n", "utf-8")
        return path

    return write


@pytest.fixture
def sheets_alone(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Press tickets, slips and pages to agree to, as far as they are PDFs, are empty files in deliveries.

    For tests of sheets and records: drawing what they do not look at takes two fifths of a small delivery.
    """
    if request.node.get_closest_marker("documents"):
        return
    for place in ("tickets.ticket_file.write_tickets", "slips.write_slips", "proof.approval_page.write_approval"):
        monkeypatch.setattr(f"impose.pages.{place}", lambda path, *others: path.write_bytes(b""))


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
