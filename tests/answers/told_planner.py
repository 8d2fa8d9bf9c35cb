"""A batch's planner as a scene asks it, in the test's own process."""

from __future__ import annotations

from typing import Any

from answers.told_page import describe_png
from approved_answers import Told, drop_keys
from impose.errors import Trouble
from impose.orders.editable_table import NEW_HEADINGS, EditableTable, TableStyle
from impose.page.batch_state import BatchState, apply_operations
from impose.page.planner_asks import ASKS
from impose.page.planner_messages import PlannerSetup, PlanRequest, PlanTold
from impose.page.planner_process import BatchPlanner, explain_error
from impose.page.refusal import Refusal
from impose.run.options import Options
from waiting import wait_until

_DRAWN = ("svg", "modified", "when", "bytes", "url", "files", "art", "at", "plan")


class Asker:
    """A planner of one batch folder, and whoever asks it."""

    def __init__(self, told: Told, options: Options) -> None:
        self.told, self.sent = told, list[Any]()
        self.folder = told.folder / "batch"
        self.folder.mkdir(exist_ok=True)
        self.planner = BatchPlanner(
            PlannerSetup("b", self.folder, options, told.folder / "ledger.db"), self.sent.append
        )
        self.state, self.revision = BatchState(EditableTable(NEW_HEADINGS, style=TableStyle())), 1
        self.progress: list[tuple[str, int, int]] = []

    def plan(self, *operations: dict[str, Any], shown: bool = True) -> int:
        """Change the batch and plan it: the number of its last plan."""
        self.state, _ = apply_operations(self.state, operations)
        (self.folder / "orders.csv").write_bytes(self.state.orders.make_file())
        if self.state.kits is not None:
            (self.folder / "kits.csv").write_bytes(self.state.kits.make_file())
        self.revision += 1
        self.planner.take_request(PlanRequest(self.revision, self.state))

        def find_last() -> PlanTold | None:
            mine = [one for one in list(self.sent) if getattr(one, "revision", 0) == self.revision]
            done = [one for one in mine if not isinstance(one, PlanTold) or one.final]
            return done[-1] if done else None

        last = wait_until(find_last, "a plan", 0.01)
        if isinstance(last, PlanTold):
            self.told.call(f"plan/{last.number}/", "plan")
            if shown:
                self.told.show("the plan", drop_keys(last.values, _DRAWN))
            return last.number
        self.told.show("no plan", last.findings)
        return 0

    def ask(self, function: str, /, *without: str, title: str = "", **asked: Any) -> Any:
        """What is answered; of a picture its size and its mean colour."""
        named = {name: value for name, value in asked.items() if name != "plan"}
        shown = title or f"{function} {named}"
        try:
            answer = ASKS[function](self.planner, lambda *step: self.progress.append(step), **asked)
        except Refusal as refusal:
            self.told.show(shown, f"refused {refusal.__reduce__()[1]}")
            return None
        except (Trouble, LookupError, StopIteration) as error:
            self.told.show(shown, f"refused {explain_error(error)[:4]}")
            return None
        if isinstance(answer, bytes):
            self.told.show(shown, describe_png(answer))
        else:
            self.told.show(shown, drop_keys(answer, (*_DRAWN, *without)) if isinstance(answer, dict | list) else answer)
        return answer

    def close(self) -> None:
        if self.planner.live is not None:
            self.planner.live.close()
        self.planner._askers.shutdown(cancel_futures=True)


def add(art: str, placement: str = "", width: str = "", **cells: str) -> dict[str, Any]:
    cells = {
        "order": "Owls",
        "wearer": "Ana",
        "garment": "hoodie adult M",
        "placement": placement,
        "width": width,
        **cells,
    }
    return {"op": "add", "cells": {"art": art, **cells}}
