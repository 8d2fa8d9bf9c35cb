"""What all answers have in common: the guard before anything is read, bodies held to their limit, errors in words."""

from __future__ import annotations

import json
import traceback
from typing import TYPE_CHECKING, Any

from tornado.httputil import HTTPServerRequest
from tornado.web import Application, HTTPError, RequestHandler, stream_request_body

from impose.errors import Trouble
from impose.page.finding_values import list_plain_finding
from impose.page.guard import HEADERS, SAFE, TOKEN_HEADER, refuse_stranger, refuse_without_session
from impose.page.refusal import Refusal

if TYPE_CHECKING:
    from impose.page.page_server import PageServer

MOST_JSON = 8 << 20
"""A roster of thousands of lines fits."""
DRAINED = 64 << 20
"""Of a body that is refused so much is read and thrown away, so that the browser gets the answer that says why."""


@stream_request_body
class GuardedHandler(RequestHandler):
    """An answer to those who came in by a key. `needs_token` is for all but what an address in a page fetches."""

    needs_token = True
    most_body = MOST_JSON

    def __init__(self, application: Application, request: HTTPServerRequest, **kwargs: Any) -> None:
        self.body = bytearray()
        self.refused = False
        super().__init__(application, request, **kwargs)

    @property
    def page(self) -> PageServer:
        """The server."""
        server: PageServer = self.application.settings["page"]
        return server

    @property
    def tab(self) -> str:
        """What the tab calls itself."""
        return self.request.headers.get("X-Impose-Tab", "")[:64]

    def set_default_headers(self) -> None:
        """Those of every answer."""
        self.clear_header("Server")
        for name, value in HEADERS.items():
            self.set_header(name, value)

    def prepare(self) -> Any:
        """Refuse strangers before a byte of the body is taken in."""
        self.request.connection.set_max_body_size(1 << 40)  # type: ignore[union-attr]
        try:
            self.refuse_strangers()
            self._refuse_large()
        except Refusal as refusal:
            self.send_refusal(refusal)
        else:
            self.page.note_visit()

    def refuse_strangers(self) -> None:
        """Who may ask. Raises `Refusal`."""
        headers = self.request.headers
        if len(headers.get_list("Host")) != 1:
            raise Refusal(400, "malformed", "This request names its host twice.")
        refuse_stranger(self.request.method or "", headers, self.page.keys.hosts)
        needs = self.needs_token or self.request.method not in SAFE
        refuse_without_session(self.page.keys, self.get_cookie(self.page.keys.cookie), headers.get(TOKEN_HEADER), needs)

    def _refuse_large(self) -> None:
        said = self.request.headers.get("Content-Length", "0")
        if not said.isascii() or not said.isdigit():
            raise Refusal(400, "malformed", "This request has no proper length.")
        if int(said) > self.most_body:
            raise self.make_too_large()

    def make_too_large(self) -> Refusal:
        """What is said of a body that is too large."""
        return Refusal(413, "too-large", "That is more than can be taken in at once.", "Send less at a time.")

    def data_received(self, chunk: bytes) -> None:
        """Take a part of the body in, up to the limit."""
        if self.refused or self._finished:
            return
        self.body += chunk
        if len(self.body) > self.most_body:
            self.body.clear()
            self.send_refusal(self.make_too_large())

    def send_refusal(self, refusal: Refusal) -> None:
        """Answer with an error; the connection ends with it where a body may still come."""
        if self._finished:
            return
        self.refused = True
        if self.request.method not in SAFE:
            self.set_header("Connection", "close")
        self.set_status(refusal.status)
        self.send_json(refusal.values())

    def json_body(self) -> dict[str, Any]:
        """The object in the body. Raises `Refusal`."""
        kind = self.request.headers.get("Content-Type", "").partition(";")[0].strip().lower()
        if kind != "application/json":
            raise Refusal(415, "not-json", "The page sent something that is not JSON.", "Reload the page.")
        unreadable = Refusal(400, "malformed", "The page sent something that cannot be read.", "Reload the page.")
        try:
            values = json.loads(bytes(self.body).decode("utf-8"), parse_constant=_refuse_constant)
        except (ValueError, RecursionError):
            raise unreadable from None
        if not isinstance(values, dict):
            raise unreadable
        return values

    def send_json(self, values: Any) -> None:
        """Answer with JSON."""
        self.set_header("Content-Type", "application/json; charset=utf-8")
        self.finish(json.dumps(values, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "backslashreplace"))

    def send_bytes(self, content: bytes, media: str) -> None:
        """Answer with a file."""
        self.set_header("Content-Type", media)
        self.finish(content)

    def send_error(self, status_code: int = 500, **kwargs: Any) -> None:
        """Answer with an error in words, whatever was raised."""
        error = kwargs.get("exc_info", (None, None, None))[1]
        if self._headers_written:
            self.finish()
            return
        self.send_refusal(make_refusal_of_error(error, status_code))

    def log_exception(self, typ: Any, value: Any, tb: Any) -> None:
        """Faults of the program are printed; refusals are answers, as is what cannot be asked at an address."""
        if not isinstance(value, Refusal | Trouble | HTTPError):
            traceback.print_exception(value)


def make_refusal_of_error(error: BaseException | None, status: int) -> Refusal:
    """What was raised, as an answer."""
    if isinstance(error, Refusal):
        return error
    if isinstance(error, Trouble):
        found = [list_plain_finding(finding) for finding in error.findings]
        return Refusal(422, "trouble", found[0]["what"], found[0]["remedy"], found)
    if isinstance(error, OSError):
        full = error.errno == 28
        what = "The disk is full." if full else "The system refused it."
        return Refusal(507 if full else 500, "system", what, "Make room, or see to the folder, and try again.")
    words = {404: "There is nothing here.", 405: "That cannot be done here.", 400: "That cannot be read."}
    return Refusal(status, "http", words.get(status, "This is a fault of the program."), "Reload the page.")


def _refuse_constant(name: str) -> Any:
    """NaN and Infinity are no JSON (RFC 8259)."""
    raise ValueError(name)


class NothingHandler(GuardedHandler):
    """What is at no other address."""

    needs_token = False

    async def get(self) -> None:
        """Nothing."""
        raise Refusal(404, "gone", "There is nothing here.", "Open the page from its icon.")

    post = put = delete = patch = head = options = get
