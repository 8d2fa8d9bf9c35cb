"""Making what a plan shows: the output folder written, checked and put in its place, its paper drawn down."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impose.page.made_folders import MadeFolder, find_made, free_output, list_made_folders, make_id, read_known
from impose.page.onto_requests import read_onto
from impose.page.refusal import Refusal
from impose.run.made_work import enter_delivery
from impose.run.paper_stock import ReturnedSheets, list_replaced
from impose.run.plan import Plan, plan
from impose.run.produce import PREVIEW_PPI, produce
from impose.run.progress import Progress
from impose.values import replace as with_fields

if TYPE_CHECKING:
    from impose.page.planner_process import BatchPlanner


def make_shown(
    planner: BatchPlanner,
    progress: Progress,
    plan: int,
    replace: str = "",
    printed: bool = False,
    preview: bool = False,
    without: bool = False,
    onto: Mapping[str, Any] | None = None,
    first: bool = False,
) -> dict[str, Any]:
    """Make a plan; its entry in the list of outputs.

    It is the one that was shown: a better one that has come since for the same orders changes nothing.
    `replace` names an output whose place it takes; unless it was `printed` its paper comes back. `without` agrees to
    leave out what must be mended. `onto` names an output whose sheets are printed once more, `first` puts one garment
    of each run on sheets of its own: both are planned anew.
    """
    kept = planner.plan_of(plan)
    if kept.revision != planner.find_newest().revision:
        what = "The sheets have changed since they were shown."
        raise Refusal(409, "old-plan", what, "Look at the newest ones, then make them.")
    can = kept.writer.write_all()["can_make"]
    if not can["ok"]:
        raise Refusal(409, "nothing-to-make", can["what"], can["remedy"])
    if can["left_out"] and not without:
        raise Refusal(409, "left-out", can["what"], can["remedy"])
    made = kept.plan if onto is None and not first else _plan_anew(planner, progress, without, onto)
    folder = planner.setup.folder
    out = find_made(folder, replace).path if replace else free_output(folder)
    returning = list_replaced(out) if replace and not printed else []
    if made is kept.plan:
        planner.settle_plan(kept)
    return deliver_plan(planner, made, out, progress, returning, bool(replace), preview)


def _plan_anew(planner: BatchPlanner, progress: Progress, without: bool, onto: Mapping[str, Any] | None) -> Plan:
    """The batch as it is saved, on printed sheets with room and new paper; or one garment of each run apart.

    Orders that cannot be made whole are left out where that was agreed to.
    """
    folder, options = planner.setup.folder, planner.options
    options = with_fields(options, skip_bad=without or options.skip_bad, first=onto is None)
    if onto is not None:
        options = with_fields(options, onto=read_onto(folder, onto, options))
    return plan([folder / "orders.csv"], options, progress)


def deliver_plan(
    planner: BatchPlanner,
    made: Plan,
    out: Path,
    progress: Progress,
    returning: list[ReturnedSheets],
    replace: bool = False,
    preview: bool = False,
) -> dict[str, Any]:
    """Write a plan and keep the books of its paper; its entry in the list of outputs."""
    made = with_fields(made, record=drop_folder(made.record, planner.setup.folder))
    step, _ = enter_delivery(made, out, planner.stock, returning)
    produce(made, out, replace, progress, step, PREVIEW_PPI if preview else None)
    record = read_known(out)
    assert record is not None
    return MadeFolder(make_id(out), out, record).values(planner.base)


def drop_folder(values: Any, folder: Path) -> Any:
    """A record in which the batch folder is named by nothing but its files: it may lie elsewhere tomorrow."""
    if isinstance(values, str):
        return "." if values == str(folder) else values.replace(f"{folder}{os.sep}", "")
    if isinstance(values, Mapping):
        return {key: drop_folder(value, folder) for key, value in values.items()}
    if isinstance(values, list | tuple):
        return [drop_folder(value, folder) for value in values]
    return values


def list_made(planner: BatchPlanner, progress: Progress) -> list[dict[str, Any]]:
    """The outputs of the batch, newest first."""
    return [folder.values(planner.base) for folder in list_made_folders(planner.setup.folder)]
