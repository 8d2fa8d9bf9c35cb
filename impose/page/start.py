"""`impose open`, without the words: the running server is found and asked for a key, or one is started."""

from __future__ import annotations

import asyncio
import http.client
import json
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Trouble
from impose.page.guard import SECRET_HEADER
from impose.page.page_server import PageServer, PageSetup
from impose.page.state_file import RunningServer, StateFile, default_state_folder
from impose.run.options import Options
from impose.run.own_profiles import default_profiles_folder

WAIT_S = 30.0
"""For a server that another process has just started, on a computer that is busy with that."""


def default_home() -> Path:
    """Where batches are begun that have no folder yet."""
    return Path.home() / "impose"


def open_the_page(
    folder: Path | None,
    desk: Path | None,
    options: Options,
    ledger: Path,
    say: Callable[[str], None],
    browser: bool = True,
) -> None:
    """Open the page: at a server that runs, and return; else at one of our own, until it ends. Raises `Trouble`."""
    state = StateFile(default_state_folder())
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        folder = folder.resolve()
    if not state.take_lock():
        _show_address(ask_running(state, folder, desk), say, browser)
        return
    own = options.profiles_dir or default_profiles_folder()
    setup = PageSetup(options, ledger, default_state_folder(), default_home(), own, desk)
    from impose.page.application import serve_page
    from impose.page.static_handlers import make_address

    def show_page(page: PageServer) -> None:
        batch = page.open_folder(folder) if folder is not None else page.open_last()
        _show_address(make_address(page, batch), say, browser)

    asyncio.run(serve_page(setup, state, show_page))


def _show_address(address: str, say: Callable[[str], None], browser: bool) -> None:
    say(address)
    if browser and not webbrowser.open(address):
        say("No browser was found: open this address in one.")


def ask_running(state: StateFile, folder: Path | None, desk: Path | None) -> str:
    """The address of the running server with a fresh key. Raises `Trouble` where it does not answer."""
    until = time.monotonic() + WAIT_S
    while True:
        server = state.read_server()
        try:
            if server is not None:
                return _ask_server(server, folder, desk, max(1.0, until - time.monotonic()))
        except (OSError, ValueError, KeyError, http.client.HTTPException):
            pass
        if time.monotonic() > until:
            what = "the page is running already, but does not answer"
            raise Trouble(Finding(what, "End it, or wait a moment, and try again.", exit=Exit.SYSTEM))
        time.sleep(0.1)


def _ask_server(server: RunningServer, folder: Path | None, desk: Path | None, wait_s: float) -> str:
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=wait_s)
    asked: dict[str, Any] = {}
    if folder is not None:
        asked["folder"] = str(folder)
    if desk is not None:
        asked["desk"] = str(desk)
    headers = {SECRET_HEADER: server.secret, "Content-Type": "application/json"}
    try:
        connection.request("POST", "/again", json.dumps(asked), headers)
        answer = connection.getresponse()
        told = json.loads(answer.read(1 << 16))
    finally:
        connection.close()
    if answer.status != 200:
        error = told["error"]
        raise Trouble(Finding(error["what"].removesuffix("."), error["remedy"], exit=Exit.SYSTEM))
    return str(told["address"])
