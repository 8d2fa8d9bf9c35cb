"""A server of the page in a thread of the test, its planner asleep unless it is asked for, and whoever talks to it."""

from __future__ import annotations

import asyncio
import http.client
import json
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from impose.page.application import serve_page
from impose.page.page_server import PageServer, PageSetup
from impose.page.planner_client import CHILD
from impose.page.state_file import StateFile
from impose.page.static_handlers import make_address
from impose.run.options import Options
from waiting import LONGEST_S, wait_until

ASLEEP = ("-c", "import sys\nwhile sys.stdin.buffer.read(1): pass")
"""A planner that takes everything and says nothing."""


class Tab:
    """A tab of the page: what its script would send."""

    def __init__(self, port: int, cookie: str = "", token: str = "", name: str = "tab") -> None:
        self.port, self.cookie, self.token, self.name = port, cookie, token, name
        self.batch = ""

    @property
    def base(self) -> str:
        return f"/api/b/{self.batch}"

    def headers(self, method: str) -> dict[str, str]:
        own = f"http://127.0.0.1:{self.port}"
        found = {"Sec-Fetch-Site": "same-origin", "X-Impose-Tab": self.name}
        if self.cookie:
            found["Cookie"] = self.cookie
        if self.token:
            found["X-Impose-Token"] = self.token
        return found | ({} if method == "GET" else {"Origin": own})

    def ask(
        self, method: str, path: str, body: Any = None, headers: dict[str, str] | None = None
    ) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and body of an answer."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=LONGEST_S)
        sent = self.headers(method)
        if isinstance(body, dict | list):
            body, sent["Content-Type"] = json.dumps(body), "application/json"
        try:
            connection.request(method, path, body, sent | (headers or {}))
            answer = connection.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read()
        finally:
            connection.close()

    def get(self, path: str, status: int = 200) -> Any:
        """An answer's JSON."""
        found, _, body = self.ask("GET", path)
        assert found == status, (found, body[:500])
        return json.loads(body)

    def post(self, path: str, values: Any, status: int = 200) -> Any:
        """An answer's JSON."""
        found, _, body = self.ask("POST", path, values)
        assert found == status, (found, body[:500])
        return json.loads(body)

    def change(self, *operations: dict[str, Any], status: int = 200, **more: Any) -> Any:
        """Change the batch."""
        return self.post(f"{self.base}/changes", {"ops": list(operations), **more}, status)

    def drop(self, name: str, content: bytes, status: int = 201) -> Any:
        """Drop a picture."""
        found, _, body = self.ask("PUT", f"{self.base}/art?name={quote(name)}", content)
        assert found == status, (found, body[:500])
        return json.loads(body)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The rows of the batch."""
        found: list[dict[str, Any]] = self.get(self.base)["rows"]
        return found

    def plan(self, revision: int, mend: str = "") -> Any:
        """The last plan of a revision; with `mend`, the first one that offers it."""

        def read_last() -> Any:
            status, _, body = self.ask("GET", f"{self.base}/plan")
            found = json.loads(body) if status == 200 else {}
            if not found.get("final") or found["revision"] < revision:
                return None
            offered = {one["mend"] for finding in found["findings"] for one in finding.get("mends", [])}
            return found if not mend or mend in offered else None

        return wait_until(read_last, f"a plan of revision {revision}, {mend}", 0.1)

    def job(self, started: dict[str, Any], state: str = "done") -> Any:
        """What came of a job."""

        def read_end() -> Any:
            found = self.get(f"/api/jobs/{started['job']}")
            return found if found["state"] != "running" else None

        found = wait_until(read_end, str(started))
        assert found["state"] == state, found
        return found["result"] if state == "done" else found


class Bed:
    """A running server and its folders."""

    def __init__(self, root: Path, script: tuple[str, ...], **more: Any) -> None:
        self.folder = root / "batch"
        self.folder.mkdir(parents=True, exist_ok=True)
        self.state = root / "state"
        self.setup = PageSetup(
            Options(workers=1, steps=300),
            root / "ledger.db",
            self.state,
            root / "home",
            root / "profiles",
            planner_script=script,
        )
        self.setup = replace(self.setup, **more)
        self.page: PageServer | None = None
        self.loop: asyncio.AbstractEventLoop | None = None
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        assert self._ready.wait(LONGEST_S)

    def _run(self) -> None:
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        state = StateFile(self.state)
        assert state.take_lock()

        def ready(page: PageServer) -> None:
            self.loop = asyncio.get_running_loop()
            self.page, self.batch = page, page.open_folder(self.folder)
            self._ready.set()

        await serve_page(self.setup, state, ready)

    @property
    def port(self) -> int:
        assert self.page is not None
        return self.page.keys.port

    def call(self, work: Callable[[PageServer], Any]) -> Any:
        """Do something on the server's own loop."""

        async def inside() -> Any:
            return work(self.page)

        return asyncio.run_coroutine_threadsafe(inside(), self.loop).result(LONGEST_S)

    def address(self) -> str:
        """An address with a fresh key."""
        found: str = self.call(make_address)
        return found

    def tab(self, name: str = "tab") -> Tab:
        """Somebody who came in."""
        tab = Tab(self.port, name=name)
        status, headers, _ = tab.ask("GET", self.address().split(str(self.port), 1)[1])
        assert status == 303
        tab.cookie = headers["Set-Cookie"].split(";")[0]
        tab.token = headers["Location"].partition("token=")[2].partition("&")[0]
        tab.batch = self.batch
        return tab

    def until(self, true: Callable[[], Any]) -> None:
        """Wait for something, and fail if it does not come."""
        wait_until(true, "it did not come", 0.01)

    def close(self) -> None:
        """End it, as a person does."""
        if self.page is not None and self.loop is not None and self._thread.is_alive():
            self.loop.call_soon_threadsafe(self.page.ended.set)
        self._thread.join(LONGEST_S)
        assert not self._thread.is_alive()


@pytest.fixture
def bed(tmp_path: Path) -> Iterator[Bed]:
    """A server whose planner sleeps."""
    made = Bed(tmp_path, ASLEEP)
    yield made
    made.close()


@pytest.fixture
def planning(tmp_path: Path) -> Iterator[Bed]:
    """A server that plans."""
    made = Bed(tmp_path, CHILD)
    yield made
    made.close()


@pytest.fixture
def tab(bed: Bed) -> Tab:
    """A tab of the server whose planner sleeps."""
    return bed.tab()
