"""What was made: its files, the press view with its ticks, and making again."""

from __future__ import annotations

import asyncio
import time
from datetime import date
from typing import Any
from urllib.parse import quote

from impose.page.batch_handlers import BatchHandler
from impose.page.guard import DOCUMENT_POLICY
from impose.page.made_folders import MEDIA, find_made
from impose.page.open_batch import OpenBatch
from impose.page.press_progress import overlay_ticks
from impose.page.refusal import Refusal
from impose.run.press_ticks import PressTicks, read_ticks

PART = 1 << 18


class MadeListHandler(BatchHandler):
    """The outputs of a batch."""

    async def get(self, ident: str) -> None:
        """Newest first."""
        self.send_json({"made": await self.ask(ident, "made")})


class MadeFileHandler(BatchHandler):
    """A file of an output."""

    needs_token = False

    async def get(self, ident: str, made: str, name: str) -> None:
        """To be looked at, or saved."""
        folder = await asyncio.to_thread(find_made, self.find_batch(ident).folder, made)
        path = await asyncio.to_thread(folder.find_file, name)
        media = MEDIA[path.suffix.lower()]
        save = self.get_query_argument("save", "") == "1" or media.startswith(("text/csv", "application/json"))
        kind = "attachment" if save else "inline"
        self.set_header("Content-Disposition", f"{kind}; filename*=UTF-8''{quote(path.name, safe='')}")
        self.set_header("Content-Type", media)
        if media.startswith("text/html"):
            self.set_header("Content-Security-Policy", DOCUMENT_POLICY)
        self.clear_header("X-Frame-Options")
        with path.open("rb") as file:
            while chunk := await asyncio.to_thread(file.read, PART):
                self.write(chunk)
                await self.flush()
        self.finish()


class MadePictureHandler(BatchHandler):
    """A picture of the press view."""

    needs_token = False

    async def get(self, ident: str, made: str, name: str) -> None:
        """As it is worn."""
        self.send_bytes(await self.ask(ident, "press_picture", made=made, name=name), "image/png")


class PressHandler(BatchHandler):
    """Garment after garment."""

    async def get(self, ident: str, made: str) -> None:
        """With what is ticked."""
        batch = self.find_batch(ident)
        folder = await asyncio.to_thread(find_made, batch.folder, made)
        ticks = await asyncio.to_thread(read_ticks, batch.folder)
        by = self.get_query_argument("by", "") or ticks.find_grouping(folder.code)
        by = by if by in ("garment", "place") else "garment"
        if by != ticks.find_grouping(folder.code):
            ticks.set_grouping(folder.code, by)
            await asyncio.to_thread(ticks.write_file)
        shown = await self.ask(ident, "press", made=made, by=by)
        self.send_json(overlay_ticks(shown, ticks.list_ticks_of(folder.code)))


class TicksHandler(BatchHandler):
    """A person ticks."""

    async def post(self, ident: str, made: str) -> None:
        """Note it, at once on the disk."""
        batch = self.find_batch(ident)
        folder = await asyncio.to_thread(find_made, batch.folder, made)
        said = self.json_body().get("ticks")
        known = {transfer["id"] for sheet in folder.record.get("sheets", []) for transfer in sheet["transfers"]}
        checked = [_read_tick(entry, known) for entry in said] if isinstance(said, list) else []
        if not checked:
            raise Refusal(400, "malformed", "The page sent something that cannot be read: ticks.", "Reload the page.")
        async with self.page.ticking:
            ticks = await asyncio.to_thread(read_ticks, batch.folder)
            _apply_ticks(ticks, folder.code, checked)
            await asyncio.to_thread(ticks.write_file)
        batch.tell("ticks", made=made, by=self.tab)
        shown = await self.ask(ident, "press", made=made, by=ticks.find_grouping(folder.code))
        told = overlay_ticks(shown, ticks.list_ticks_of(folder.code))
        again = await self.ask(ident, "again", made=made)
        self.send_json({**{key: told[key] for key in ("done", "of", "next", "first_check")}, "again": again})


Tick = tuple[str, bool | None, str | None]


def _read_tick(entry: Any, known: set[str]) -> Tick:
    """A tick as it is sent: a transfer, whether it is pressed, what was spoiled ("" for nothing)."""
    if not isinstance(entry, dict) or entry.get("transfer") not in known:
        raise Refusal(404, "gone", "This print is not part of this output.")
    pressed, spoiled = entry.get("pressed"), entry.get("spoiled", ...)
    if pressed is not None and not isinstance(pressed, bool):
        raise Refusal(400, "malformed", "The page sent something that cannot be read: pressed.", "Reload the page.")
    if spoiled not in (..., None, "paper", "garment"):
        raise Refusal(400, "malformed", "The page sent something that cannot be read: spoiled.", "Reload the page.")
    return entry["transfer"], pressed, None if spoiled is ... else spoiled or ""


def _apply_ticks(ticks: PressTicks, code: str, checked: list[Tick]) -> None:
    at = time.strftime("%Y-%m-%d %H:%M:%S")
    for name, pressed, spoiled in checked:
        ticks.set_tick(code, name, pressed, spoiled, at)


class AgainAskHandler(BatchHandler):
    """What has to be made again, and making it."""

    async def get(self, ident: str, made: str) -> None:
        """What the ticks ask for."""
        self.send_json(await self.ask(ident, "again", made=made))

    async def post(self, ident: str, made: str) -> None:
        """Begin it."""
        said = self.json_body()
        batch: OpenBatch = self.find_batch(ident)
        onto = said.get("onto")
        self.start_job(
            ident,
            "reprint",
            lambda result: self.page.made_something(batch, result),
            made=made,
            ids=_read_texts(said, "ids"),
            orders=_read_texts(said, "orders"),
            sheets=[entry for entry in said.get("sheets", []) if isinstance(entry, int)],
            because=str(said.get("because") or "spoiled"),
            onto=onto if isinstance(onto, dict) else None,
            new_art=said.get("new_art") is True,
        )


class AgreedHandler(BatchHandler):
    """A customer has agreed to an order as it was made."""

    async def post(self, ident: str, made: str) -> None:
        """Note it, beside the orders; the next plan says what differs from it."""
        from impose.run.agreed_answers import note_agreed

        said = self.json_body()
        batch = self.find_batch(ident)
        folder = await asyncio.to_thread(find_made, batch.folder, made)
        by = str(said.get("by") or "").strip()[:200]
        if not by:
            raise Refusal(422, "name", "Who has agreed?", "Write the name.")
        on = str(said.get("on") or date.today().isoformat())[:40]
        order = str(said["order"]) if said.get("order") else None
        _, orders = await asyncio.to_thread(note_agreed, folder.path, by, on, order)
        self.page.plan_anew(batch)
        self.send_json({"orders": orders, "by": by, "on": on})


def _read_texts(said: dict[str, Any], key: str) -> list[str]:
    found = said.get(key, [])
    if not isinstance(found, list):
        raise Refusal(400, "malformed", f"The page sent something that cannot be read: {key}.", "Reload the page.")
    return [str(entry) for entry in found]
