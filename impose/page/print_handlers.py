"""Printing from the page: printers found and named, sheets checked, sent, followed and taken back."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any, TypeVar

from impose.page.batch_handlers import BatchHandler
from impose.page.handlers import GuardedHandler
from impose.page.made_folders import MadeFolder, find_made
from impose.page.print_values import check_values, run_values
from impose.page.refusal import Refusal
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.values import replace

if TYPE_CHECKING:
    from impose.run.print_session import PrintWish

PRINTING = ThreadPoolExecutor(4, "printing")
"""A printer that is switched off takes seconds to be silent: nobody else waits for these threads."""


Told = TypeVar("Told")


async def run_printing(work: Callable[..., Told], *arguments: Any) -> Told:
    """Do what exchanges messages with a printer beside the page's own loop."""
    return await asyncio.get_running_loop().run_in_executor(PRINTING, work, *arguments)


class PrintersHandler(GuardedHandler):
    """Printers on file, queues of the computer, those announced nearby."""

    async def get(self) -> None:
        """By name; none of them is asked anything."""
        self.send_json({"printers": await run_printing(_list_found, self.page.options)})

    async def post(self) -> None:
        """The person names one of them as theirs: it holds sublimation ink, and is printed to from now on."""
        said = self.json_body()
        name, address = (str(said.get(key) or "").strip()[:400] for key in ("printer", "address"))
        if not address:
            raise Refusal(422, "address", "Which printer is it?", "Choose one that was found, or write its address.")
        address = complete_printer_address(address)
        page = self.page
        from impose.run.named_printers import ask_edges, name_printer

        edges = await run_printing(ask_edges, name, address, page.options, page.setup.ledger)
        async with page.ticking:
            name = await asyncio.to_thread(name_printer, name, address, edges, page.setup.own_profiles, page.options)
        page.shop_changed()
        self.send_json({"printer": name})


def complete_printer_address(address: str) -> str:
    """An address as a printer shows it on its own page, a bare name or number, as one that can be printed to.

    The path is that of IPP Everywhere (PWG 5100.14; from memory).
    """
    bare = re.fullmatch(r"[A-Za-z0-9.-]*[.:][A-Za-z0-9.-]*|\[[0-9A-Fa-f:.]+\](?::\d+)?", address)
    return f"ipp://{address}/ipp/print" if bare else address


def _list_found(options: Options) -> list[dict[str, Any]]:
    from impose.run.print_door import list_printers

    return [
        {"name": found.name, "address": found.address, "source": found.source, "device": found.device}
        for found in list_printers(options)
    ]


class PrintHandler(BatchHandler):
    """What every step of printing one file of an output has in common."""

    async def read_wish(self, ident: str, made: str) -> tuple[MadeFolder, PrintWish, Options, str]:
        """The output, what is to be printed of it, what is agreed to, and the name of the file. Raises `Refusal`."""
        said = self.json_body()
        folder = await asyncio.to_thread(find_made, self.find_batch(ident).folder, made)
        wish, options = await asyncio.to_thread(_read_wish, said, folder, self.page.options)
        return folder, wish, options, str(said.get("file"))

    async def move_sheets(self, ident: str, made: str, step: str) -> None:
        """Send, follow or take back, one at a time for a file, and answer where it stands."""
        folder, wish, options, file = await self.read_wish(ident, made)
        asked_after = self.json_body().get("asked_after")
        key = f"{ident}/{made}/{file}"
        async with self.page.prints.lock(key):
            if step == "send":
                if not isinstance(asked_after, int) or isinstance(asked_after, bool):
                    raise Refusal(400, "malformed", "The page sent something that cannot be read: asked_after.")
                self.page.prints.keep_wish(key, wish, options.accept, asked_after)
            runs = await run_printing(self.page.prints.STEPS[step], self.page.prints, key, folder.path, wish, options)
        self.send_json({"printer": wish.printer, **run_values(runs)})


class PrintCheckHandler(PrintHandler):
    """What stands against printing a file now."""

    async def post(self, ident: str, made: str) -> None:
        """Look; nothing is sent."""
        from impose.run.print_door import check_sheets

        folder, wish, options, _ = await self.read_wish(ident, made)
        check = await run_printing(check_sheets, folder.path, wish, options, self.page.setup.ledger)
        self.send_json(check_values(check))


class PrintSendHandler(PrintHandler):
    """The person's click."""

    async def post(self, ident: str, made: str) -> None:
        """Send what can be sent now."""
        await self.move_sheets(ident, made, "send")


class PrintFollowHandler(PrintHandler):
    """Where it stands: for the tab that asked, for another, after the page was loaded again."""

    async def post(self, ident: str, made: str) -> None:
        """Go on with what was asked for; else only look."""
        await self.move_sheets(ident, made, "follow")


class PrintCancelHandler(PrintHandler):
    """The stop button."""

    async def post(self, ident: str, made: str) -> None:
        """Take back what is on its way."""
        await self.move_sheets(ident, made, "cancel")


def _read_wish(said: dict[str, Any], folder: MadeFolder, options: Options) -> tuple[PrintWish, Options]:
    """Only a printer that the person has named is spoken to."""
    from impose.run.print_session import PrintWish

    profiles = load_profiles_in_force(options)
    printer = profiles.printers.get(str(said.get("printer") or profiles.settings.printer))
    if printer is None or not printer.address:
        raise Refusal(422, "printer", "No printer is named yet.", "Name yours in Shop, under Printers.")
    answers, accept = said.get("answers") or {}, said.get("accept") or []
    if not isinstance(answers, dict) or not isinstance(accept, list):
        raise Refusal(400, "malformed", "The page sent something that cannot be read: answers.", "Reload the page.")
    given = {str(code): answer for code, answer in answers.items() if isinstance(answer, bool)}
    sheets = _choose_sheets(folder, str(said.get("file")), str(said.get("sheets") or ""))
    again, trust = said.get("again") is True, said.get("trust_again") is True
    wish = PrintWish(printer.name, sheets, again=again, trust_again=trust, answers=given)
    return wish, replace(options, accept=options.accept | {str(kind) for kind in accept})


def _choose_sheets(folder: MadeFolder, file: str, text: str) -> tuple[int, ...]:
    """The sheets of a file, or those of them that are written as 3, 5-7."""
    held = [sheet["sheet"] for sheet in folder.record.get("sheets", []) if sheet.get("file") == file]
    if not held:
        raise Refusal(404, "gone", "This file is not there.")
    wanted: set[int] = set()
    for part in re.split(r"[,;\s]+", re.sub(r"\s*[-–]\s*", "-", text.strip())) if text.strip() else ():
        match = re.fullmatch(r"([0-9]{1,6})(?:-([0-9]{1,6}))?", part)
        if match is None:
            raise Refusal(422, "sheets", f"“{part}” is no number of a sheet.", "Write 3 or 2-4.")
        wanted |= {*range(int(match[1]), int(match[2] or match[1]) + 1)}
    if wanted - set(held):
        raise Refusal(422, "sheets", f"This file has the sheets {held[0]} to {held[-1]}.", "Write 3 or 2-4.")
    return tuple(number for number in held if number in wanted) if wanted else tuple(held)


_P = r"/api/b/([0-9a-z]{1,32})/made/([0-9a-z]{1,32})/print"

ROUTES: list[tuple[str, Any]] = [
    (r"/api/printers", PrintersHandler),
    (_P + "/check", PrintCheckHandler),
    (_P + "/send", PrintSendHandler),
    (_P + "/follow", PrintFollowHandler),
    (_P + "/cancel", PrintCancelHandler),
]
