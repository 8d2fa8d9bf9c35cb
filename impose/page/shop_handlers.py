"""The shop: garments, places, every value with where it comes from; first questions, calibration, stock, the desk."""

from __future__ import annotations

import asyncio
import json
import time
from typing import Any

from impose.errors import Severity
from impose.files import open_scratch_folder, write_new_file
from impose.page.batch_handlers import BatchHandler
from impose.page.finding_values import list_plain_finding, say_sentence
from impose.page.guard import DOCUMENT_POLICY
from impose.page.handlers import GuardedHandler
from impose.page.refusal import Refusal
from impose.page.shop_page import describe_movement, list_choices, list_shop_values
from impose.run.own_profiles import use_own_profiles
from impose.run.stock_counts import CountedStock

MOST_OPERATIONS = 200


class GarmentWordsHandler(GuardedHandler):
    """What garments there are."""

    async def get(self) -> None:
        """Kinds, groups and sizes."""
        from impose.page.garment_values import list_garment_words

        self.send_json(await asyncio.to_thread(list_garment_words, self.page.options))


class GarmentDrawingHandler(GuardedHandler):
    """A garment drawn with its places."""

    async def get(self) -> None:
        """By its words."""
        from impose.page.garment_values import draw_garment

        text = self.get_query_argument("garment", "")[:200]
        self.send_json(await asyncio.to_thread(draw_garment, self.page.options, text))


class ShopHandler(GuardedHandler):
    """Every value of the shop."""

    async def get(self) -> None:
        """With where it comes from."""
        self.send_json(await asyncio.to_thread(list_shop_values, self.page.options, self.page.setup.ledger))

    async def post(self) -> None:
        """Change some, all or none; paper is counted after the rest is written."""
        said = self.json_body().get("ops")
        if (
            not isinstance(said, list)
            or len(said) > MOST_OPERATIONS
            or not all(isinstance(entry, dict) for entry in said)
        ):
            raise Refusal(400, "malformed", "The page sent something that cannot be read: ops.", "Reload the page.")
        async with self.page.ticking:
            await asyncio.to_thread(self._change_values, said)
        self.page.shop_changed()
        await self.get()

    def _change_values(self, operations: list[dict[str, Any]]) -> None:
        from impose.run.shop_changes import change_shop

        page = self.page
        rest = [operation for operation in operations if operation.get("op") != "count"]
        if rest:
            change_shop(rest, page.setup.own_profiles, page.options)
        shelf = CountedStock(page.setup.ledger, page.options)
        for operation in operations:
            if operation.get("op") == "count":
                how = str(operation.get("how"))
                if how not in ("set", "add", "waste", "stop"):
                    raise Refusal(400, "malformed", "The page sent something that cannot be read: how.")
                shelf.change_count(
                    str(operation.get("paper")),
                    how,
                    str(operation.get("amount") or ""),
                    str(operation.get("because") or ""),
                )


class StockHandler(GuardedHandler):
    """What changed the counts of paper."""

    async def get(self) -> None:
        """Newest first."""
        shelf = CountedStock(self.page.setup.ledger, self.page.options)
        history = await asyncio.to_thread(shelf.list_history)
        self.send_json({"history": [describe_movement(entry) for entry in reversed(history)]})


class ChoicesHandler(BatchHandler):
    """What a batch may choose for itself."""

    async def get(self) -> None:
        """With what is in force."""
        batch = self.find_batch(self.get_query_argument("batch", self.page.current))
        found = await asyncio.to_thread(list_choices, self.page.options, batch.state.choices, batch.folder)
        self.send_json(found)


class FirstHandler(GuardedHandler):
    """The first questions."""

    async def get(self) -> None:
        """What is asked."""
        from impose.run.first_questions import list_questions

        asked = await asyncio.to_thread(list_questions, self.page.options)
        questions = [
            {
                "name": entry.name,
                "question": entry.question,
                "kind": entry.kind,
                "choices": [{"value": value, "title": title} for value, title in entry.choices],
                "unknown": True,
                "later": entry.later,
            }
            for entry in asked
        ]
        self.send_json({"answered": self.page.first_answered(), "questions": questions})

    async def post(self) -> None:
        """What was answered, or that it is passed over."""
        from impose.run.first_questions import answer_questions

        said = self.json_body()
        page, printer = self.page, ""
        if said.get("skip") is not True:
            answers = said.get("answers")
            if not isinstance(answers, dict):
                raise Refusal(400, "malformed", "The page sent something that cannot be read: answers.")
            printer = await asyncio.to_thread(
                answer_questions, answers, page.setup.own_profiles, page.options, page.setup.ledger
            )
        page.setup.state_folder.mkdir(parents=True, exist_ok=True)
        with write_new_file(page.setup.state_folder / "first.json") as part:
            part.write_text(json.dumps({"answered": said.get("skip") is not True}), "utf-8")
        page.shop_changed()
        self.send_json({"answered": True, "printer": printer, "next": "calibration" if printer else "orders"})


class CalibrationHandler(GuardedHandler):
    """The page that measures a printer."""

    async def post(self) -> None:
        """Write it."""
        from impose.run.calibrate import write_calibration_page

        said = self.json_body()
        path = self.page.setup.state_folder / "calibration.pdf"
        printer, paper = _read_printer(said), str(said.get("paper") or "") or None
        self.page.setup.state_folder.mkdir(parents=True, exist_ok=True)
        async with self.page.ticking:
            path.unlink(missing_ok=True)
            await asyncio.to_thread(write_calibration_page, paper, printer, path, self.page.options, True)
        fields = [
            {"name": name, "title": title, "help": help_, "more": name in _MORE} for name, title, help_ in _FIELDS
        ]
        self.send_json({"pdf": "/api/shop/calibration/file/calibration.pdf", "fields": fields})


_FIELDS = (
    ("across", "Across", "Along the ruler, from end to end. Cut off? To the last whole centimetre: 179.6/180."),
    ("along", "Along", "The ruler down the page, read in the same way."),
    ("left", "Left edge", "The number at the step nearest the edge that is printed in its whole length."),
    ("top", "Top edge", "The edge that came out first."),
    ("right", "Right edge", ""),
    ("bottom", "Trailing edge", "The edge that came out last."),
    ("rising", "Rising diagonal", "Of the grid, from its lower left to its upper right corner."),
    ("falling", "Falling diagonal", "From its upper left to its lower right corner."),
    ("upper", "Upper distance", "From the paper's left edge to the grid, at its upper end."),
    ("lower", "Lower distance", "The same at its lower end."),
)
_MORE = frozenset(("rising", "falling", "upper", "lower"))
"""What need not be read."""


def _read_printer(said: dict[str, Any]) -> str:
    name = str(said.get("printer") or "").strip()
    if not name:
        raise Refusal(422, "name", "Which printer is measured?", "Name it.")
    return name


class CalibrationFileHandler(GuardedHandler):
    """The page itself."""

    needs_token = False

    async def get(self) -> None:
        """To be printed."""
        path = self.page.setup.state_folder / "calibration.pdf"
        if not path.is_file():
            raise Refusal(404, "gone", "There is no page yet.", "Make it first.")
        self.send_bytes(path.read_bytes(), "application/pdf")


class ReadingsHandler(GuardedHandler):
    """What was read off the page."""

    async def post(self) -> None:
        """What it tells of the printer; with `write` it becomes its profile."""
        said = self.json_body()
        readings = said.get("readings")
        if not isinstance(readings, dict):
            raise Refusal(400, "malformed", "The page sent something that cannot be read: readings.")
        words = [f"{name}={str(value).strip()}" for name, value in readings.items() if str(value or "").strip()]
        write = said.get("write") is True
        page = self.page
        options = page.options
        if write:
            page.setup.own_profiles.mkdir(parents=True, exist_ok=True)
            options = use_own_profiles(options, page.setup.own_profiles)
        done = await asyncio.to_thread(
            _judge_readings, str(said.get("paper") or "") or None, _read_printer(said), " ".join(words), options,
            str(said.get("read_to") or "") or None, write,
        )  # fmt: skip
        if write:
            page.shop_changed()
        printer = done.printer
        says = [say_sentence(printer.note), f"Scale: {printer.scale_x:.4f} across, {printer.scale_y:.4f} along."]
        found = [list_plain_finding(finding) for finding in done.findings]
        ready = all(finding.severity is not Severity.STOP for finding in done.findings)
        self.send_json({"says": says, "findings": found, "ready": ready, "written": done.file is not None})


def _judge_readings(paper: str | None, printer: str, words: str, options: Any, read_to: str | None, write: bool) -> Any:
    """The readings judged; without `write` in a folder that is none."""
    from shutil import copytree

    from impose.run.calibrate import read_calibration
    from impose.values import replace

    if write:
        return read_calibration(paper, printer, words, options, read_to)
    with open_scratch_folder() as folder:
        trial = folder / "profiles"
        if options.profiles_dir is not None:
            copytree(options.profiles_dir, trial)
        done = read_calibration(paper, printer, words, replace(options, profiles_dir=trial), read_to)
    return replace(done, file=None)


class DeskHandler(GuardedHandler):
    """What the desk is doing."""

    async def get(self) -> None:
        """All of it; nothing where none is shown."""
        desk = self.page.setup.desk
        if desk is None:
            self.set_status(204)
            self.finish()
            return
        from impose.page.desk_page import list_desk_values

        self.send_json(await asyncio.to_thread(list_desk_values, desk, time.time()))

    async def post(self) -> None:
        """Leave a wish with it."""
        desk = self.page.setup.desk
        if desk is None:
            raise Refusal(404, "gone", "No desk is shown.", "Name one when the page is opened.")
        said = self.json_body()
        from impose.page.desk_page import ask_desk

        words = await asyncio.to_thread(ask_desk, desk, str(said.get("ask")), said.get("number"), time.time())
        self.page.events.tell("desk")
        self.send_json({"says": words})


class DeskProofHandler(GuardedHandler):
    """The proof of a delivery that waits for an answer."""

    needs_token = False

    async def get(self, number: str) -> None:
        """To be looked at."""
        desk = self.page.setup.desk
        if desk is None:
            raise Refusal(404, "gone", "No desk is shown.")
        from impose.page.desk_page import read_desk_proof

        content = await asyncio.to_thread(read_desk_proof, desk, int(number), time.time())
        self.set_header("Content-Security-Policy", DOCUMENT_POLICY)
        self.clear_header("X-Frame-Options")
        self.send_bytes(content, "text/html; charset=utf-8")


ROUTES: list[tuple[str, Any]] = [
    (r"/api/garments", GarmentWordsHandler),
    (r"/api/garments/drawing", GarmentDrawingHandler),
    (r"/api/shop", ShopHandler),
    (r"/api/shop/stock", StockHandler),
    (r"/api/choices", ChoicesHandler),
    (r"/api/first", FirstHandler),
    (r"/api/shop/calibration", CalibrationHandler),
    (r"/api/shop/calibration/file/calibration\.pdf", CalibrationFileHandler),
    (r"/api/shop/calibration/readings", ReadingsHandler),
    (r"/api/desk", DeskHandler),
    (r"/api/desk/([0-9]{1,9})/proof", DeskProofHandler),
]
