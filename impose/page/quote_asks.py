"""What else a plan is asked: what it would cost on other papers, what a little less would save, what fits nowhere."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from impose.errors import count_noun
from impose.page.finding_values import list_plain_finding
from impose.page.plan_values import title_of_paper, title_of_place
from impose.page.refusal import Refusal
from impose.profiles.paper import make_title
from impose.run.check import check
from impose.run.load_batch import LoadedBatch
from impose.run.nest_batch import nest_on
from impose.run.progress import Progress
from impose.run.quote import PaperOffer, Quote, quote_job
from impose.run.size_advice import SizeAdvice, advise_sizes
from impose.sheet.costs import format_amount, list_cost_lines
from impose.sheet.sizing import compute_sizes
from impose.units import format_length
from impose.values import replace

if TYPE_CHECKING:
    from impose.page.planner_process import BatchPlanner, KeptPlan

ORDERS = "orders.csv"


def _find_planned(planner: BatchPlanner) -> tuple[LoadedBatch, KeptPlan]:
    """The rows that are on the sheets of the newest plan, read already, so that all views tell of the same prints."""
    kept = planner.find_newest()
    job, _ = planner.find_table()
    pictures = {row.asked: job.pictures[row.asked] for row in kept.plan.batch.rows if row.asked in job.pictures}
    if len(pictures) < len({row.asked for row in kept.plan.batch.rows}):
        raise Refusal(409, "old-plan", "The sheets are about to change.", "Wait a moment, then ask again.")
    rows = {row.key: row for row in kept.plan.batch.rows}
    batch = replace(job.batch, rows=tuple(row for row in job.batch.rows if row.key in rows), findings=())
    return replace(job, batch=batch, pictures=pictures), kept


def check_batch(planner: BatchPlanner, progress: Progress) -> dict[str, Any]:
    """What is wrong with the batch as it is saved."""
    found = check([planner.setup.folder / ORDERS], planner.options, progress)
    rows = planner.find_newest().rows if planner.kept else None
    return {
        "findings": [list_plain_finding(finding, rows) for finding in found.findings],
        "rows": found.rows,
        "pictures": found.pictures,
    }


def quote_batch(planner: BatchPlanner, progress: Progress) -> dict[str, Any]:
    """What is on the sheets of the newest plan, on each paper alone and on all together."""
    job, kept = _find_planned(planner)
    found = quote_job(job, planner.options, progress)
    best = found.best_offer
    left_out = kept.writer.write_all()["can_make"]
    return {
        "currency": found.currency,
        "left_out": [left_out["what"]] if left_out["left_out"] else [],
        "offers": [_describe_offer(offer, found, offer is best, planner) for offer in found.offers],
        "levels": [] if best is None or best.bill is None else list(_list_levels(best)),
    }


def _describe_offer(offer: PaperOffer, found: Quote, best: bool, planner: BatchPlanner) -> dict[str, Any]:
    titles = [title_of_paper(planner.find_newest().plan.profiles, paper.name) for paper in offer.papers]
    refused = [list_plain_finding(entry) for entry in offer.refused]
    told = " and ".join(f"{count} × {make_title(name)}" for name, count in offer.sheets.items() if count)
    cost = None if offer.refused else format_amount(offer.cost)
    says = refused[0]["what"] if refused else f"{told}, {cost} {found.currency} of paper"
    return {
        "papers": [paper.alias for paper in offer.papers],
        "title": " and ".join(titles),
        "sheets": {make_title(name): count for name, count in offer.sheets.items()},
        "yield": round(offer.yield_, 4),
        "cost": cost,
        "best": best,
        "refused": refused,
        "says": says,
        "ops": [{"op": "choose", "name": "papers", "value": [paper.alias for paper in offer.papers]}],
    }


def _list_levels(offer: PaperOffer) -> Iterator[dict[str, Any]]:
    """What it costs order by order, garment by garment."""
    assert offer.bill is not None
    for level, part in list_cost_lines(offer.bill):
        if level in ("batch", "order"):
            row = part.lines[0][0].piece.row
            cost = part.total_cost
            yield {
                "level": level,
                "name": row.order if level == "order" else "",
                "transfers": len(part.lines),
                "paper": format_amount(cost.paper),
                "ink": format_amount(cost.ink),
                "cost": format_amount(cost.paper + cost.ink),
            }


def find_tips(planner: BatchPlanner, progress: Progress) -> dict[str, Any]:
    """What the newest plan would cost with a whole placement a little smaller; nothing while something is left out."""
    kept = planner.find_newest()
    if not kept.plan.layout.sheets or kept.writer.write_all()["can_make"]["left_out"]:
        return {"tips": []}
    job, kept = _find_planned(planner)
    best = nest_on(job.papers, job, planner.options, progress)
    return {
        "tips": [_describe_tip(advice, job, kept) for advice in advise_sizes(job, best, job.papers, planner.options)]
    }


def _describe_tip(advice: SizeAdvice, job: LoadedBatch, kept: KeptPlan) -> dict[str, Any]:
    profiles = job.profiles
    place = title_of_place(profiles, advice.placement or None) or "These prints"
    less = format_length(advice.less_mm, profiles.settings.units)
    saved = f"{Decimal(advice.saved) / 1_000_000:.2f} {profiles.settings.currency}"
    fewer = f", {count_noun(advice.saved_sheets, 'sheet')} fewer" if advice.saved_sheets > 0 else ""
    return {
        "says": f"{place}, all of them {less} narrower: saves {saved}{fewer}.",
        "label": "Make them smaller",
        "ops": list(_list_size_operations(advice, job, kept)),
    }


def _list_size_operations(advice: SizeAdvice, job: LoadedBatch, kept: KeptPlan) -> Iterator[dict[str, Any]]:
    """New widths in the rows, or in their kits."""
    done: set[str] = set()
    rows = [row for row in job.batch.rows if row.row in advice.rows and (row.placement or "") == advice.placement]
    sizes = compute_sizes(rows, [job.pictures[row.asked] for row in rows], job.profiles)[0]
    for row, size in zip(rows, sizes, strict=True):
        if advice.kit and row.kit != advice.kit:
            continue
        kit = kept.rows.kits.get(row.kit_row) if row.kit_row else None
        where = {"table": "kits", "id": kit} if kit else {"id": kept.rows.find_name(row.row)}
        if where["id"] and where["id"] not in done:
            done.add(str(where["id"]))
            yield {"op": "set", **where, "column": "width", "value": f"{size.worn_w_mm - advice.less_mm:.4g} mm"}
            yield {"op": "set", **where, "column": "height", "value": ""}
