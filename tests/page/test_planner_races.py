"""What the planner answers when two of its threads meet: the plan's own, and one that asks or makes."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from impose.page import planner_process
from impose.page.planner_messages import PlannerSetup
from impose.page.planner_process import BatchPlanner
from impose.run.options import Options

REQUEST: Any = SimpleNamespace(revision=7)


@pytest.fixture
def sent() -> list[Any]:
    return []


@pytest.fixture
def planner(tmp_path: Path, sent: list[Any], monkeypatch: pytest.MonkeyPatch) -> BatchPlanner:
    """One whose newest table is `REQUEST`."""
    monkeypatch.setattr(planner_process, "name_rows", lambda request: {})
    made = BatchPlanner(PlannerSetup("b", tmp_path, Options(), tmp_path / "ledger.db"), sent.append)
    made.request = REQUEST
    made._tables[1] = (REQUEST, {}, {})  # type: ignore[assignment]
    return made


def test_a_table_that_is_read_while_it_is_asked_for_is_found(planner: BatchPlanner) -> None:
    class Reading:
        """Has read the table, and planned it, right after it said that it has not."""

        read = False

        @property
        def busy(self) -> bool:
            return not self.read

        @property
        def examined(self) -> Any:
            before, self.read = self.read, True
            return "the table" if before else None

    planner.live = Reading()  # type: ignore[assignment]
    assert planner.find_table() == ("the table", {})


def test_a_better_plan_that_is_written_while_one_is_made_is_not_shown(
    planner: BatchPlanner, sent: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is made stays shown: a person compares it with what comes out of the printer."""
    meanwhile: list[Any] = []

    class Writer:
        def __init__(self, *given: Any) -> None:
            pass

        def write_all(self) -> dict[str, Any]:
            if meanwhile:
                meanwhile.pop()()
            return {}

    monkeypatch.setattr(planner_process, "PlanWriter", Writer)
    live: Any = SimpleNamespace(planning=1, stop=lambda: None)
    planner.live = live
    planner._tell_plan(live, "the one that is shown", False)  # type: ignore[arg-type]
    meanwhile.append(lambda: planner.settle_plan(planner.plan_of(1)))
    planner._tell_plan(live, "a better one", False)  # type: ignore[arg-type]
    assert [(told.number, told.final) for told in sent] == [(1, False), (1, True)]
    assert list(planner.kept) == [1]
