"""What to charge for a made batch, and the offers for its orders, which are served from its folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impose.page.finding_values import say_sentence
from impose.page.made_folders import MadeFolder, find_made
from impose.page.refusal import Refusal
from impose.run.progress import Progress

if TYPE_CHECKING:
    from impose.page.planner_process import BatchPlanner
    from impose.run.price import PricedBatch

OFFERS = "offers"
ENDINGS = {".pdf": "application/pdf", ".html": "text/html; charset=utf-8"}
_WHERE = (
    ("papers.toml", "Enter what the paper costs under Shop, and make the sheets again."),
    ("printers.toml", "Enter what the ink costs under Shop, Printers, and make the sheets again."),
    ("prices.toml", "Enter it under Shop, Prices. Enter 0 where you have no such cost."),
)
"""What mends a missing cost, by the file that the commands name."""


def price_made_batch(
    planner: BatchPlanner, progress: Progress, made: str, write: bool = False, replace: bool = False
) -> dict[str, Any]:
    """What to charge for an output, order by order; with `write` an offer for each order is written beside it."""
    from impose.run.offers import write_offers
    from impose.run.price import price_record

    folder = find_made(planner.setup.folder, made)
    priced = price_record(folder.path, planner.options, planner.setup.ledger)
    if write and priced.charged and not priced.missing:
        write_offers(priced, planner.options, replace, progress)
    return {**describe_prices(priced), "offers": list_offers(folder, planner.base)}


def describe_prices(priced: PricedBatch) -> dict[str, Any]:
    """Prices as the page shows them: amounts in whole coins, what is missing in words."""
    from impose.profiles.currencies import format_minor

    code, values = priced.currency, priced.list_values()
    missing = [(say_sentence(entry["what"]), _word_remedy(entry["remedy"])) for entry in values["missing"]]
    totals = [order.total for order in priced.orders]
    orders = zip(priced.orders, values["orders"], strict=True)

    def show(amount: int | None) -> str | None:
        return None if amount is None else format_minor(amount, code)

    return {
        "currency": code,
        "charged": priced.charged,
        "note": values["note"],
        "spoilage": say_sentence(values["spoilage"]["told"]),
        "missing": [{"what": what, "remedy": remedy} for what, remedy in missing],
        "costs": show(sum(priced.sum_costs().values())),
        "total": show(sum(total or 0 for total in totals)) if totals and None not in totals else None,
        "orders": [
            {
                "title": order.key[0] or f"Row {told['row']}",
                "garments": told["garments"],
                "minutes": -(-told["seconds"] // 60),
                "net": show(order.net),
                "tax": show(order.tax),
                "total": show(order.total),
                "lines": [
                    {
                        "garment": say_sentence(line["garments"][0]["garment"]).removesuffix("."),
                        "count": line["count"],
                        "each": show(held.unit),
                        "amount": show(held.amount),
                    }
                    for held, line in zip(order.lines, told["lines"], strict=True)
                ],
            }
            for order, told in orders
        ],
    }


def _word_remedy(remedy: str) -> str:
    return next((words for file, words in _WHERE if file in remedy), remedy)


def list_offers(folder: MadeFolder, base: str) -> list[dict[str, str]]:
    """The offers that lie beside an output."""
    names = sorted(path.name for path in (folder.path / OFFERS).glob("*") if is_offer(path))
    return [
        {
            "name": name,
            "title": f"Offer {Path(name).stem}, {'to print' if name.endswith('.pdf') else 'to send'}",
            "url": f"{base}/made/{folder.id}/offers/{name}",
        }
        for name in names
    ]


def is_offer(path: Path) -> bool:
    """Whether a file may be served: a page or a PDF of the folder of offers itself, and no link."""
    inside = not path.is_symlink() and not path.parent.is_symlink() and path.is_file()
    return inside and path.suffix in ENDINGS and not path.name.startswith(".")


def find_offer(folder: MadeFolder, name: str) -> Path:
    """An offer by its name. Raises `Refusal` for anything that is not listed."""
    found: Mapping[str, Path] = {path.name: path for path in (folder.path / OFFERS).glob("*") if is_offer(path)}
    if name not in found:
        raise Refusal(404, "gone", "This offer is not there.", "Write the offers again.")
    return found[name]
