"""Prices and offers of a made batch; what was made for whom; a new batch from an old one."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from impose.files import open_scratch_folder
from impose.page.batch_handlers import MADE_PATH, BatchHandler
from impose.page.guard import DOCUMENT_POLICY
from impose.page.handlers import GuardedHandler
from impose.page.made_folders import find_made
from impose.page.price_asks import ENDINGS, find_offer
from impose.page.refusal import Refusal
from impose.run.load_batch import load_profiles_in_force

if TYPE_CHECKING:
    from impose.run.made_work import FoundPrint

MOST_WORDS, MOST_FOUND, MOST_IDS = 200, 200, 6


class PriceHandler(BatchHandler):
    """What to charge."""

    async def post(self, ident: str, made: str) -> None:
        """Reckon it; offers are written where that is asked for."""
        said = self.json_body()
        self.start_job(ident, "price", None, made=made, write=said.get("write") is True,
                       replace=said.get("replace") is True)  # fmt: skip


class OfferHandler(BatchHandler):
    """An offer for a customer."""

    needs_token = False

    async def get(self, ident: str, made: str, name: str) -> None:
        """To be looked at, or saved."""
        folder = await asyncio.to_thread(find_made, self.find_batch(ident).folder, made)
        path = await asyncio.to_thread(find_offer, folder, name)
        kind = "attachment" if self.get_query_argument("save", "") == "1" else "inline"
        self.set_header("Content-Disposition", f"{kind}; filename*=UTF-8''{quote(path.name, safe='')}")
        if path.suffix == ".html":
            self.set_header("Content-Security-Policy", DOCUMENT_POLICY)
        self.clear_header("X-Frame-Options")
        self.send_bytes(await asyncio.to_thread(path.read_bytes), ENDINGS[path.suffix])


class AgainBatchHandler(BatchHandler):
    """A new batch from what was made: sizes and places of the old prints, less or more of each."""

    async def post(self, ident: str, made: str) -> None:
        """Begin it, and open it."""
        said = self.json_body()
        folder = await asyncio.to_thread(find_made, self.find_batch(ident).folder, made)
        roster = str(said.get("roster") or "")
        name = str(said.get("name") or "").strip()[:60] or f"{self.find_batch(ident).name} again"
        target = self.page.batches.free_folder(name)
        orders = tuple(str(order) for order in said.get("orders") or () if isinstance(order, str))
        changed, findings = await asyncio.to_thread(
            self._begin_again, folder.path, target, orders, roster, said.get("listed_only") is True,
            said.get("take_new_art") is True,
        )  # fmt: skip
        new = self.page.open_folder(target)
        self.page.events.tell("batches")
        self.set_status(201)
        self.send_json({"id": new, "name": target.name, "changed": changed, "findings": findings})

    def _begin_again(
        self, record: Path, target: Path, orders: tuple[str, ...], roster: str, listed_only: bool, new_art: bool
    ) -> tuple[list[str], list[dict[str, Any]]]:
        from impose.page.finding_values import list_plain_finding, say_sentence
        from impose.run.again import AgainRequest, plan_again
        from impose.run.again_folder import write_again
        from impose.run.record_file import read_record

        with open_scratch_folder() as place:
            path = None
            if roster.strip():
                path = place / "what-differs.csv"
                path.write_text(roster, "utf-8", newline="")
            wish = AgainRequest(orders, path, listed_only and path is not None, new_art)
            order = plan_again(read_record(record), wish, self.page.options)
            write_again(order, target)
        return [say_sentence(words) for words in order.changed], [list_plain_finding(entry) for entry in order.findings]


class FindHandler(GuardedHandler):
    """What was made for whom."""

    async def get(self) -> None:
        """By words that all have to fit."""
        words = self.get_query_argument("words", "")[:MOST_WORDS].split()
        if not words:
            raise Refusal(422, "words", "Write a name, an order or a number from a label.")
        self.send_json({"found": await asyncio.to_thread(self._find_prints, words)})

    def _find_prints(self, words: list[str]) -> list[dict[str, Any]]:
        from impose.run.made_work import MadeWork

        found = MadeWork(self.page.setup.ledger).find_prints(words)
        papers = load_profiles_in_force(self.page.options).papers.values()
        titles = {paper.name.rpartition("_")[2]: paper.title for paper in papers}
        return [_describe_found(entry, titles) for entry in found[:MOST_FOUND]]


def _describe_found(entry: FoundPrint, titles: Mapping[str, str]) -> dict[str, Any]:
    """A print that was looked for, in words; `titles` are those of papers by the size that ends their names."""
    from impose.units import format_length

    made, of = entry.made, entry.of
    size = f"{format_length(of.width_mm, 'mm')} × {format_length(of.height_mm, 'mm')}"
    place = (of.placement or "own place").replace("-", " ")
    more = f" and {len(of.ids) - MOST_IDS} more" if len(of.ids) > MOST_IDS else ""
    return {
        "code": made.code,
        "batch": made.batch,
        "when": made.at[:10],
        "again": bool(made.source),
        "printed": list(entry.printed),
        "there": entry.place is not None,
        "paper": ", ".join(titles.get(size, size) for size in of.paper.split(", ")),
        "who": " · ".join(part for part in (of.order, of.wearer, of.garment) if part),
        "what": " · ".join(
            part for part in (f"{place[:1].upper()}{place[1:]}", Path(of.art).name if of.art else "", size) if part
        ),
        "ids": ", ".join(of.ids[:MOST_IDS]) + more,
    }


ROUTES: list[tuple[str, Any]] = [
    (MADE_PATH + r"/price", PriceHandler),
    (MADE_PATH + r"/offers/([^/]{1,200})", OfferHandler),
    (MADE_PATH + r"/again-batch", AgainBatchHandler),
    (r"/api/find", FindHandler),
]
