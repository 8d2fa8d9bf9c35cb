"""What passes between the server and the process that plans a batch."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from impose.page.batch_state import BatchState
from impose.run.options import Options
from impose.values import FrozenStruct, field


class PlannerSetup(FrozenStruct):
    """Which batch is planned, with what; `options` are those the server was started with."""

    batch: str
    folder: Path
    options: Options
    ledger: Path


class PlanRequest(FrozenStruct):
    """Plan this state from now on."""

    revision: int
    state: BatchState


class ReloadRequest(FrozenStruct):
    """The shop's profiles have changed: read them anew with the next plan."""

    options: Options


class AskRequest(FrozenStruct):
    """Answer something by its name (see `impose.page.planner_asks`)."""

    number: int
    name: str
    arguments: Mapping[str, Any] = field(default_factory=dict)


class CancelRequest(FrozenStruct):
    """Give up what is being answered."""

    number: int


class PlanTold(FrozenStruct):
    """A plan was found. `values` are what the page shows of it; its number counts up."""

    number: int
    revision: int
    final: bool
    values: dict[str, Any]


class PlanFault(FrozenStruct):
    """There is no plan of this revision: what is wrong, as findings for the page."""

    revision: int
    findings: list[dict[str, Any]]


class ProgressTold(FrozenStruct):
    """How far something is; `number` is that of what was asked, 0 for planning."""

    number: int
    stage: str
    done: int
    of: int


class Answer(FrozenStruct):
    """What was asked for, or why not: `refused` are the arguments of a `Refusal`."""

    number: int
    value: Any = None
    refused: tuple[int, str, str, str, tuple[dict[str, Any], ...]] | None = None
