"""Too little paper is left: what is wanted, what is there, and what can be made of it now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from impose.errors import Exit, Finding, Trouble
from impose.nest import Nesting, Stock
from impose.remedies import Remedy
from impose.run.paper_amounts import format_paper_amount, is_roll_name
from impose.sheet.transfer import Transfer


def sum_paper_taken(nesting: Nesting, stocks: Sequence[Stock]) -> dict[str, int]:
    """The paper of a nesting by name: sheets, or for a roll micrometres with what is lost at each cut."""
    by_name = {stock.name: stock for stock in stocks}
    taken = dict.fromkeys(by_name, 0)
    for sheet in nesting.sheets:
        stock = by_name[sheet.stock]
        taken[sheet.stock] += 1 if stock.height is not None else stock.length(sheet.height)
    return taken


class StockShortage(Trouble):
    """The papers on offer do not last for the batch: says of each what is short, and what can be made now."""

    def __init__(
        self,
        wanted: Mapping[str, int],
        limits: Mapping[str, int],
        transfers: Mapping[str, Transfer],
        within: Nesting,
        aliases: Mapping[str, str],
    ) -> None:
        self.wanted = dict(wanted)
        super().__init__([*list_shortages(wanted, limits, aliases), _describe_what_fits(transfers, within)])

    def __reduce__(self) -> tuple[type[Trouble], tuple[tuple[Finding, ...]]]:
        return Trouble, (self.findings,)


def list_shortages(wanted: Mapping[str, int], limits: Mapping[str, int], aliases: Mapping[str, str]) -> list[Finding]:
    """A refusal for each paper of which less is left than is wanted."""
    return [
        Finding(
            f"the batch takes {format_paper_amount(amount, paper)} of {aliases.get(paper, paper)}, "
            f"but only {format_paper_amount(limits[paper], paper)} "
            f"{'is' if limits[paper] == 1 or is_roll_name(paper) else 'are'} left",
            Remedy("correct-count-or-offer"),
            kind="stock",
            exit=Exit.NO_ROOM,
        )
        for paper, amount in wanted.items()
        if amount > limits.get(paper, amount)
    ]


def _describe_what_fits(transfers: Mapping[str, Transfer], within: Nesting) -> Finding:
    """Counted by whole orders, since a half order is worse than a late one."""
    waiting = {transfers[name].piece.row.order_key for name, _ in within.unplaced}
    rows = [transfer.piece.row for transfer in transfers.values()]
    whole = list(dict.fromkeys(row.order or f"row {row.row}" for row in rows if row.order_key not in waiting))
    placed = len(transfers) - len(within.unplaced)
    if whole:
        shown = ", ".join(whole[:12]) + (f" and {len(whole) - 12} more" if len(whole) > 12 else "")
        orders = f"whole orders among them: {shown}"
    else:
        orders = "no order whole"
    return Finding(
        f"what is left is enough for {placed} of {len(transfers)} transfers now, {orders}",
        "To make only some orders, put their rows into a batch of their own." if placed else "",
        kind="stock",
        exit=Exit.NO_ROOM,
    )
