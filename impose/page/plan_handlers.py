"""The plan that is shown: sheets, garments, pictures, crops; what else it is asked; and making it."""

from __future__ import annotations

from typing import Any

from impose.page.batch_handlers import BatchHandler
from impose.page.refusal import Refusal


class PlanHandler(BatchHandler):
    """The newest plan."""

    async def get(self, ident: str) -> None:
        """All of it; nothing while there is none."""
        planner = self.page.find_planner(ident)
        revision = self.find_batch(ident).revision
        if planner.fault is not None and planner.fault.revision == revision:
            self.send_json(list_faulty_plan(revision, planner.fault.findings))
        elif planner.plan is None:
            self.set_status(204)
            self.finish()
        else:
            told = planner.plan
            head = {"plan": told.number, "revision": told.revision, "newest": told.revision == revision}
            self.send_json({**head, "final": told.final, "live": True, **told.values})


def list_faulty_plan(revision: int, findings: list[dict[str, Any]]) -> dict[str, Any]:
    """What is shown where there is no plan at all: why not."""
    found = [
        {**finding, "id": f"f{number}", "accepted": False, "on": [], "crop": None, "mends": []}
        for number, finding in enumerate(findings, 1)
    ]
    first = found[0] if found else {"what": "", "remedy": ""}
    return {
        "plan": 0, "revision": revision, "newest": True, "final": True, "live": True, "sheets": [], "rows": {},
        "cost": {"paper": "0", "currency": "", "papers": [], "proven": False, "says": "Nothing can be planned."},
        "tips": [], "findings": found,
        "can_make": {"ok": False, "what": first["what"], "remedy": first["remedy"], "left_out": 0},
    }  # fmt: skip


class StopHandler(BatchHandler):
    """The search is ended, its best kept."""

    async def post(self, ident: str) -> None:
        """End it."""
        await self.ask(ident, "stop")
        self.send_json({})


class SheetHandler(BatchHandler):
    """A sheet as a drawing."""

    needs_token = False

    async def get(self, ident: str, plan: str, number: str) -> None:
        """To scale."""
        drawing = await self.ask(ident, "sheet", plan=int(plan), number=int(number))
        self.send_bytes(drawing.encode("utf-8"), "image/svg+xml")


class PictureHandler(BatchHandler):
    """A picture that a drawing names."""

    needs_token = False

    async def get(self, ident: str, name: str) -> None:
        """As it is printed, or as it is worn."""
        worn = self.get_query_argument("worn", "") == "1"
        self.send_bytes(await self.ask(ident, "picture", name=name, worn=worn), "image/png")


class CropHandler(BatchHandler):
    """What a finding is of, at print size."""

    needs_token = False

    async def get(self, ident: str, plan: str, finding: str, when: str) -> None:
        """Before, or after a mend."""
        mend = self.get_query_argument("mend", "") if when == "after" else ""
        self.send_bytes(await self.ask(ident, "crop", plan=int(plan), finding=finding, mend=mend), "image/png")


class GarmentsHandler(BatchHandler):
    """The garments of the batch, drawn with their prints."""

    async def get(self, ident: str) -> None:
        """Some of them."""
        start, count = self._read_number("from", 0), self._read_number("count", 50)
        row = self.get_query_argument("row", "")
        self.send_json(await self.ask(ident, "garments", start=start, count=count, row=row))

    def _read_number(self, name: str, usual: int) -> int:
        text = self.get_query_argument(name, str(usual))
        if not text.isdigit() or len(text) > 9:
            raise Refusal(400, "malformed", "That is no number.")
        return int(text)


class LargeHandler(BatchHandler):
    """What fits no paper, and each way to print it."""

    async def get(self, ident: str) -> None:
        """All of it."""
        await self.find_batch(ident).save()
        self.send_json(await self.ask(ident, "large"))


class AskJobHandler(BatchHandler):
    """What takes a while: a quote, a check, what a little less would save."""

    async def post(self, ident: str, name: str) -> None:
        """Begin it, on what is saved."""
        await self.find_batch(ident).save()
        self.start_job(ident, name)


class MakeHandler(BatchHandler):
    """What is shown is made."""

    async def post(self, ident: str) -> None:
        """Begin it."""
        said = self.json_body()
        batch, planner = self.find_batch(ident), self.page.find_planner(ident)
        await batch.save()
        if batch.saved != batch.revision:
            what = "This batch is not saved, so that nothing can be made of it."
            raise Refusal(409, "unsaved", what, "Make room on the disk, or see to the folder.")
        told, shown = planner.plan, said.get("plan")
        if told is None or type(shown) is not int or told.revision != batch.revision:
            what = "The sheets have changed since they were shown."
            raise Refusal(409, "old-plan", what, "Look at the newest ones, then make them.")
        onto = said.get("onto")
        self.start_job(
            ident,
            "make",
            lambda made: self.page.made_something(batch, made),
            plan=shown,
            replace=str(said.get("replace") or ""),
            printed=said.get("printed") is True,
            preview=said.get("preview") is True,
            without=said.get("without") is True,
            onto=onto if isinstance(onto, dict) else None,
            first=said.get("first") is True,
        )


class JobHandler(BatchHandler):
    """Work under way."""

    async def get(self, ident: str) -> None:
        """How far it is."""
        self.send_json(self.page.jobs.find_job(ident).values())

    async def delete(self, ident: str) -> None:
        """Give it up."""
        self.send_json(self.page.jobs.stop_job(ident).values())
