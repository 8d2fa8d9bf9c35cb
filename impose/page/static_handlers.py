"""The way in, the page itself and its files: only what a fixed table names, made when the server starts."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from impose.page.guard import SECRET_HEADER, are_same, refuse_stranger
from impose.page.handlers import GuardedHandler
from impose.page.refusal import Refusal

PAGE = "page.html"
MEDIA = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "woff2": "font/woff2",
}


def make_static_table() -> dict[str, tuple[Traversable, str]]:
    """The files of the page by name, one folder deep."""
    found: dict[str, tuple[Traversable, str]] = {}
    top = files("impose.page") / "static"
    for entry in top.iterdir() if top.is_dir() else ():
        inside = (
            [(f"{entry.name}/{sub.name}", sub) for sub in entry.iterdir()] if entry.is_dir() else [(entry.name, entry)]
        )
        for name, file in inside:
            media = MEDIA.get(name.rpartition(".")[2])
            if media and file.is_file() and not name.startswith("."):
                found[name] = (file, media)
    return found


class EnterHandler(GuardedHandler):
    """A key that works once is exchanged for a session; it is gone from the address at once."""

    def refuse_strangers(self) -> None:
        """The address is all that whoever comes has yet."""
        refuse_stranger("GET", self.request.headers, self.page.keys.hosts)

    async def get(self) -> None:
        """Let in."""
        try:
            cookie, token = self.page.keys.exchange_key(self.get_query_argument("key", ""))
        except Refusal as refusal:
            self.refused = True
            self.set_status(refusal.status)
            self.send_bytes(_draw_closed_page(refusal.what, refusal.remedy), "text/html; charset=utf-8")
            return
        self.set_cookie(self.page.keys.cookie, cookie, httponly=True, samesite="Strict", path="/")
        batch = self.get_query_argument("batch", "")
        known = f"&batch={batch}" if batch in self.page.batches.folders else ""
        self.set_status(303)
        self.set_header("Location", f"/#token={token}{known}")
        self.finish()


class AgainHandler(GuardedHandler):
    """A command asks the running server for a fresh key: by the secret that only the user's own file holds."""

    def refuse_strangers(self) -> None:
        """Whoever holds the secret, and never a browser."""
        headers = self.request.headers
        refuse_stranger("GET", headers, self.page.keys.hosts)
        if "Origin" in headers or "Sec-Fetch-Site" in headers or self.request.method != "POST":
            raise Refusal(403, "stranger", "This was asked for by a page.")
        if not are_same(self.page.keys.secret, headers.get(SECRET_HEADER, "")):
            raise Refusal(403, "no-secret", "This was asked for by somebody else.")

    async def post(self) -> None:
        """A new address, of the folder that is named."""
        from pathlib import Path

        said = self.json_body()
        batch = ""
        if said.get("folder"):
            batch = self.page.open_folder(Path(str(said["folder"])))
        if said.get("desk"):
            self.page.setup.desk = Path(str(said["desk"]))
        self.send_json({"address": self.page_address(batch)})

    def page_address(self, batch: str) -> str:
        """Where to go, with a key."""
        return make_address(self.page, batch)


def make_address(page: Any, batch: str = "") -> str:
    """The address that lets somebody in once."""
    more = f"&batch={batch}" if batch else ""
    return f"http://127.0.0.1:{page.keys.port}/enter?key={page.keys.make_key()}{more}"


class PageHandler(GuardedHandler):
    """The page."""

    needs_token = False

    async def get(self, name: str = "") -> None:
        """The same for every view."""
        self.send_file(PAGE)

    def send_file(self, name: str) -> None:
        """A file of the table. Raises `Refusal`."""
        table: Mapping[str, tuple[Traversable, str]] = self.application.settings["static_table"]
        if name not in table:
            raise Refusal(404, "gone", "There is nothing here.")
        file, media = table[name]
        self.send_bytes(file.read_bytes(), media)


class StaticHandler(PageHandler):
    """A file of the page."""

    async def get(self, name: str = "") -> None:
        """By its name in the table."""
        self.send_file(name)


def _draw_closed_page(what: str, remedy: str) -> bytes:
    """What somebody sees whose key is not taken."""
    from impose.pages.proof.markup import Markup, join_markup, make_element

    body = make_element("body", make_element("h1", what), make_element("p", remedy))
    head = make_element("head", make_element("meta", charset="utf-8"), make_element("title", what))
    return join_markup(Markup("<!doctype html>"), make_element("html", head, body, lang="en")).encode("utf-8")
