"""Another page in the same browser gets nothing: no answer, no change, no frame, no picture.

The ways are those of the Fetch standard (https://fetch.spec.whatwg.org/), frames of HTML, and a name that is bound to
this computer ("DNS rebinding").
"""

from __future__ import annotations

import http.server
import threading
from collections.abc import Iterator

import pytest

from page.views.conftest import CHROMIUM, drop, enter, pictures

pytestmark = pytest.mark.long


class QuietHandler(http.server.BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>another page</title><p>another page")

    def log_message(self, *arguments: object) -> None:
        pass


@pytest.fixture
def elsewhere() -> Iterator[str]:
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), QuietHandler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    thread.join()
    server.server_close()


# Each answers "blocked" or "opaque" where it got nothing. o is the address of the page, b its batch, p a picture of it.
TRIES = {
    "a plain change": """
        fetch(`${o}/api/b/${b}/changes`, {method: "POST", mode: "no-cors", credentials: "include", body: '{"ops":[]}'})
          .then(reply => reply.type, () => "blocked")""",
    "a change with JSON": """
        fetch(`${o}/api/b/${b}/changes`, {method: "POST", credentials: "include", body: "{}",
          headers: {"Content-Type": "application/json"}}).then(reply => "answered " + reply.status, () => "blocked")""",
    "reading": """
        fetch(`${o}/api/state`, {credentials: "include"}).then(reply => "answered " + reply.status, () => "blocked")""",
    "notices": """
        new Promise(done => { const line = new EventSource(`${o}/api/events?batch=${b}`, {withCredentials: true});
          line.onopen = () => done("open"); line.onerror = () => done("blocked"); })""",
    "a picture": """
        new Promise(done => { const one = new Image(); one.onload = () => done("shown");
          one.onerror = () => done("blocked"); one.src = o + p; })""",
    "a script": """
        new Promise(done => { const one = document.createElement("script"); one.onload = () => done("ran");
          one.onerror = () => done("blocked"); one.src = o + "/static/main.js"; document.head.append(one); })""",
}
FRAME = """o => {
  const frame = document.createElement("iframe"); frame.src = o + "/orders"; document.body.append(frame);
  return new Promise(done => { frame.onload = done; frame.onerror = done; });
}"""


def test_another_page_reads_changes_and_frames_nothing(start, chromium, elsewhere):
    program = start()
    context = chromium.new_context()
    page = enter(context, program, [])
    page.wait_for_selector(".spot[data-placement=left-chest]")
    drop(page, ".spot[data-placement=left-chest]", pictures("moth.png"))
    page.wait_for_selector(".spot.taken[data-placement=left-chest]")
    origin = page.evaluate("() => location.origin")
    picture = page.get_attribute(".tray img", "src")
    batch = picture.split("/")[3]
    other = context.new_page()
    other.goto(elsewhere)
    for name, tried in TRIES.items():
        seen = other.evaluate(f"([o, b, p]) => {tried}", [origin, batch, picture])
        assert seen in ("blocked", "opaque"), name
    other.evaluate(FRAME, origin)
    assert all("Orders" not in (frame.title() or "") for frame in other.frames[1:])
    page.wait_for_function("() => /^Saved/.test(document.getElementById('state').textContent)")
    rows = (program.folder / "orders.csv").read_bytes()
    assert rows.count(b"moth.png") == 1
    context.close()


def test_a_name_bound_to_this_computer_is_refused(start, chromium):
    program = start()
    address = program.open()
    port = address.split(":")[2].split("/")[0]
    browser = chromium.browser_type.launch(
        executable_path=CHROMIUM, args=["--no-sandbox", "--host-resolver-rules=MAP evil.test 127.0.0.1"]
    )
    page = browser.new_page()
    for path in ("/", "/enter?" + address.split("?")[1], "/api/state"):
        assert page.goto(f"http://evil.test:{port}{path}").status == 421
    browser.close()
