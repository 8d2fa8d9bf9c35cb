"""What there is: batches, the server itself, and the stream of notices."""

from __future__ import annotations

import asyncio
from typing import Any

from tornado.iostream import StreamClosedError

from impose import __version__
from impose.file_types import ENDINGS
from impose.page.artwork_store import MOST_BATCH, MOST_FILE
from impose.page.events import Listener, format_event
from impose.page.handlers import GuardedHandler
from impose.page.refusal import Refusal
from impose.run.load_batch import load_profiles_in_force

STILL_S = 15.0
WORDS = {"stop": "Must be mended", "warn": "Look at this", "note": "Worth knowing"}


class StateHandler(GuardedHandler):
    """What there is."""

    async def get(self) -> None:
        """All of it."""
        page = self.page
        settings = (await asyncio.to_thread(load_profiles_in_force, page.options)).settings
        self.send_json(
            {
                "version": __version__,
                "server": page.name,
                "batches": list_batches(page),
                "current": page.current,
                "units": settings.units,
                "currency": settings.currency,
                "first_answered": page.first_answered(),
                "desk": page.setup.desk is not None,
                "printing": page.can_print(),
                "formats": [ending.removeprefix(".") for ending in ENDINGS],
                "upload": {"file_bytes": MOST_FILE, "batch_bytes": MOST_BATCH},
                "words": {"severities": WORDS},
            }
        )


def list_batches(page: Any) -> list[dict[str, Any]]:
    """The batches that are known, the newest last."""
    found = []
    for ident, folder in page.batches.folders.items():
        batch = page.open.get(ident)
        rows = None if batch is None else len(batch.state.orders.list_shown())
        example = page.batches.is_example(ident)
        found.append({"id": ident, "name": folder.name, "rows": rows, "open": batch is not None, "example": example})
    return found


class BatchesHandler(GuardedHandler):
    """A batch is begun, or opened."""

    async def post(self) -> None:
        """By a new name, or by the name on the page."""
        said = self.json_body()
        page = self.page
        if said.get("example") is True:
            ident = page.batches.begin_example()
        elif said.get("open"):
            ident = str(said["open"])
        else:
            ident = page.batches.begin_batch(str(said.get("name") or ""))
            self.set_status(201)
        batch = page.find_batch(ident)
        page.current = ident
        page.events.tell("batches")
        self.send_json({"id": ident, "name": batch.name})


class QuitHandler(GuardedHandler):
    """The end."""

    async def post(self) -> None:
        """Save everything and end."""
        self.send_json({})
        self.page.ended.set()


class EventsHandler(GuardedHandler):
    """Small notices, as they come."""

    needs_token = False

    async def get(self) -> None:
        """Until the browser goes, or the server ends."""
        batch = self.get_query_argument("batch", "")
        if len(self.page.events.listeners) >= 200:
            raise Refusal(503, "busy", "Too many pages are open.", "Close some of them.")
        listener = Listener(batch)
        self.page.events.listeners.add(listener)
        self.set_header("Content-Type", "text/event-stream; charset=utf-8")
        try:
            self.write(format_event("hello", {"server": self.page.name}))
            await self.flush()
            await self._pass_on(listener)
        except StreamClosedError:
            pass
        finally:
            self.page.events.listeners.discard(listener)

    async def _pass_on(self, listener: Listener) -> None:
        while True:
            try:
                text = await asyncio.wait_for(listener.waiting.get(), STILL_S)
            except TimeoutError:
                text = ": still here\n\n"
            if text is None:
                return
            self.write(text)
            await self.flush()
