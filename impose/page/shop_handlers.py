"""The shop: garments and places, and every value with where it comes from; first questions, calibration, stock."""

from __future__ import annotations

import asyncio
from typing import Any

from impose.page.garment_values import draw_garment, list_garment_words
from impose.page.handlers import GuardedHandler


class GarmentWordsHandler(GuardedHandler):
    """What garments there are."""

    async def get(self) -> None:
        """Kinds, groups and sizes."""
        self.send_json(await asyncio.to_thread(list_garment_words, self.page.setup.options))


class GarmentDrawingHandler(GuardedHandler):
    """A garment drawn with its places."""

    async def get(self) -> None:
        """By its words."""
        text = self.get_query_argument("garment", "")[:200]
        self.send_json(await asyncio.to_thread(draw_garment, self.page.setup.options, text))


ROUTES: list[tuple[str, Any]] = [
    (r"/api/garments", GarmentWordsHandler),
    (r"/api/garments/drawing", GarmentDrawingHandler),
]
