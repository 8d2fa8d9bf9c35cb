"""What else a plan is asked: what it would cost on other papers, what a little less would save, what fits nowhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from impose.page.finding_values import plain_finding
from impose.page.plan_values import title_of_paper, title_of_place
from impose.profiles.paper import make_title
from impose.run.check import check
from impose.run.options import Options, Progress
from impose.run.quote import PaperOffer, Quote, quote
from impose.run.smaller_kit import list_savings
from impose.sheet.costs import format_amount, list_cost_lines
from impose.units import format_length

if TYPE_CHECKING:
    from impose.page.planner_process import BatchPlanner, KeptPlan

ORDERS = "orders.csv"


def _make_options(planner: BatchPlanner) -> Options:
    """The batch's options, the rows that must be mended left out."""
    return replace(planner.options, skip_bad=True)


def check_batch(planner: BatchPlanner, progress: Progress) -> dict[str, Any]:
    """What is wrong with the batch as it is saved."""
    found = check([planner.setup.folder / ORDERS], planner.options, progress)
    rows = planner.find_newest().rows if planner.kept else None
    return {
        "findings": [plain_finding(finding, rows) for finding in found.findings],
        "rows": found.rows,
        "pictures": found.pictures,
    }


def quote_batch(planner: BatchPlanner, progress: Progress) -> dict[str, Any]:
    """The batch as it is saved on each paper alone and on all together."""
    found = quote([planner.setup.folder / ORDERS], _make_options(planner), progress)
    best = found.best_offer
    return {
        "currency": found.currency,
        "left_out": [plain_finding(finding)["what"] for finding in found.left_out if finding.kind == "left-out"],
        "offers": [_describe_offer(offer, found, offer is best, planner) for offer in found.offers],
        "levels": [] if best is None or best.bill is None else list(_list_levels(best)),
    }


def _describe_offer(offer: PaperOffer, found: Quote, best: bool, planner: BatchPlanner) -> dict[str, Any]:
    titles = [title_of_paper(planner.find_newest().plan.profiles, paper.name) for paper in offer.papers]
    refused = [plain_finding(entry) for entry in offer.refused]
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
    """What the newest plan would cost with a whole placement a little smaller."""
    kept = planner.find_newest()
    profiles = kept.plan.profiles
    found = []
    for saving in list_savings(kept.plan, planner.options, progress):
        place = title_of_place(profiles, saving.placement) or "All prints"
        less = format_length(saving.less_mm, profiles.settings.units)
        cost = f"{Decimal(saving.saved) / 1_000_000:.2f} {profiles.settings.currency}"
        found.append(
            {
                "says": f"{place}, all of them {less} smaller: saves {cost} of paper.",
                "label": "Make them smaller",
                "ops": list(_size_operations(kept, saving.widths)),
            }
        )
    return {"tips": found}


def _size_operations(kept: KeptPlan, widths: dict[tuple[int, int], float]) -> Iterator[dict[str, Any]]:
    """New widths in the rows, or in their kits."""
    done: set[str] = set()
    for (row, kit_row), width in widths.items():
        where = {"table": "kits", "id": kept.rows.kits.get(kit_row)} if kit_row else {"id": kept.rows.find_name(row)}
        if where["id"] and where["id"] not in done:
            done.add(str(where["id"]))
            yield {"op": "set", **where, "column": "width", "value": f"{width:g} mm"}
            yield {"op": "set", **where, "column": "height", "value": ""}
