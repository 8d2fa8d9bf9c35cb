"""What the open pages are told unasked: small notices, in order, to everyone who looks at the batch."""

from __future__ import annotations

import asyncio
import json
from dataclasses import dataclass, field
from typing import Any

MOST_WAITING = 500
"""Notices that a page has not taken: one that takes none for so long fetches all anew when it comes back."""


@dataclass(eq=False, slots=True)
class Listener:
    """One open page; `batch` is the one it looks at, if any."""

    batch: str
    waiting: asyncio.Queue[str | None] = field(default_factory=lambda: asyncio.Queue(MOST_WAITING))

    def put(self, text: str | None) -> None:
        """Tell it something; one that is far behind is sent away, so that it begins anew."""
        try:
            self.waiting.put_nowait(text)
        except asyncio.QueueFull:
            while not self.waiting.empty():
                self.waiting.get_nowait()
            self.waiting.put_nowait(None)


@dataclass(slots=True)
class EventHub:
    """All open pages."""

    listeners: set[Listener] = field(default_factory=set)

    def tell(self, kind: str, batch: str | None = None, **values: Any) -> None:
        """Tell those who look at a batch, or everyone."""
        if batch is not None:
            values = {"batch": batch, **values}
        text = format_event(kind, values)
        for listener in list(self.listeners):
            if batch is None or listener.batch in ("", batch):
                listener.put(text)

    def close(self) -> None:
        """Send everyone away."""
        for listener in list(self.listeners):
            listener.put(None)


def format_event(kind: str, values: dict[str, Any]) -> str:
    """One event as the HTML standard's "Server-sent events" has it."""
    return f"event: {kind}\ndata: {json.dumps(values, ensure_ascii=False)}\n\n"
