"""Printers for the tests: a world of real ones, and a network of our own for made-up ones."""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from printing.world import CLONE_NEWNET, World, missing


@pytest.fixture(scope="session")
def world() -> Iterator[World]:
    """Debian's spooler and software printers, alone in a network of loopback only."""
    lacking = missing()
    if lacking:
        pytest.skip(f"no real printers: {lacking}")
    # Not among pytest's own folders, which only root may enter: the spooler's filters run as another user.
    folder = Path(tempfile.mkdtemp(prefix="impose-world-"))
    folder.chmod(0o755)
    running = World(folder).start()
    yield running
    running.stop()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def impose(world: World, run: Callable[..., tuple[int, str, str]], monkeypatch, tmp_path):
    """Run the command within the world's network, with a ledger of the test's own."""
    monkeypatch.setenv("IMPOSE_LEDGER", str(tmp_path / "ledger.db"))
    monkeypatch.setenv("CUPS_SERVER", "127.0.0.1:6631")

    def command(*words: object) -> tuple[int, str, str]:
        with world.inside():
            return run(*words)

    return command


@pytest.fixture
def loopback() -> Iterator[None]:
    """A network of this test's own where that is allowed; else the machine's loopback."""
    libc = ctypes.CDLL(None, use_errno=True)
    if not Path("/proc/thread-self/ns/net").exists():
        yield
        return
    with Path("/proc/thread-self/ns/net").open("rb") as home:
        if libc.unshare(CLONE_NEWNET):
            yield
            return
        try:
            path = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
            subprocess.run(["ip", "link", "set", "lo", "up"], check=True, env=os.environ | {"PATH": path})
            yield
        finally:
            assert libc.setns(home.fileno(), CLONE_NEWNET) == 0


def frame_art(path: Path, width: int = 560, height: int = 854) -> None:
    """A frame to the very edges with a block in its top left corner: size, place and mirroring can be measured."""
    rgba = np.zeros((height, width, 4), np.uint8)
    line = round(width * 0.02)
    for box in (np.s_[:line], np.s_[-line:], np.s_[:, :line], np.s_[:, -line:]):
        rgba[box] = (0, 0, 0, 255)
    rgba[2 * line : height // 4, 2 * line : width // 4] = (0, 0, 0, 255)
    Image.fromarray(rgba, "RGBA").save(path)


PROFILE = """[studio]
left = "3.4 mm"
top = "3 mm"
right = "3.4 mm"
bottom = "12.5 mm"
address = "ipp://localhost:8631/ipp/print"
sublimation_ink = true
media_type = "photographic-matte"
"""


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the shop's own profiles in `mine/` and sheets of one framed picture: `13x19/`, `a4/`, `both/`."""
    from click.testing import CliRunner

    from impose.cli import cli

    folder = tmp_path_factory.mktemp("shop")
    (folder / "mine").mkdir()
    (folder / "mine" / "printers.toml").write_text(PROFILE, "utf-8")
    frame_art(folder / "frame.png")
    frame_art(folder / "small.png", 400, 560)
    made = {
        "13x19": ("frame.png", "280 mm", ["-p", "13x19"]),
        "a4": ("small.png", "160 mm", ["-p", "a4"]),
        "a4-twice": ("small.png", "160 mm", ["-p", "a4", "--copies", "3"]),
    }
    for name, (art, width, more) in made.items():
        words = ["sheets", str(folder / art), "--width", width, *more, "-o", str(folder / name), "-q", "--no-cache"]
        done = CliRunner().invoke(cli, [*words, "--profiles", str(folder / "mine"), "--printer", "studio"])
        assert not done.exception or done.exit_code == 0, done.output
    return folder


def fork_child(body: Callable[[], int]) -> int:
    """A process that runs something and ends with its number; its own number."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            code = body()
        finally:
            os._exit(code)
    return child
