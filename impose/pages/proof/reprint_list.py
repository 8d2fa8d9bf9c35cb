"""The list for reprints: every transfer with a box to tick, on paper by pen or on the screen before it is printed.

The page has no script, so it cannot save what is ticked: the same list lies beside it as a CSV that a spreadsheet
saves, and that `impose reprint --list` takes.
"""

from __future__ import annotations

from collections.abc import Sequence

from impose.pages.csv_list import LIST_NAME
from impose.pages.proof.markup import Markup, join_markup, make_element, name_element
from impose.pages.proof.order_lots import OrderLots, RowLot
from impose.pages.proof.proof_model import Proof
from impose.remedies import Remedy
from impose.sheet.transfer import Transfer

TICKS_MOST = 4000
"""Beyond so many transfers the list is in the CSV alone."""


def reprint_section(proof: Proof, orders: Sequence[OrderLots]) -> Markup:
    """The section, to be printed and kept beside the press."""
    transfers = sum(order.count for order in orders)
    listed = [_order_list(proof, order) for order in orders] if transfers <= TICKS_MOST else None
    return make_element(
        "section",
        make_element("h2", "List for reprints"),
        make_element(
            "p",
            "Tick what was spoiled or lost, here or by pen on the printed list. To print it again, put an x for each "
            "into the column spoiled of ",
            make_element("b", LIST_NAME),
            f", which lies beside this page, {Remedy('print-list-again', list=LIST_NAME)}",
            class_="quiet",
        ),
        make_element("div", listed, class_="ticking") if listed else None,
        id="reprint",
    )  # fmt: skip


def _order_list(proof: Proof, order: OrderLots) -> Markup:
    return make_element(
        "fieldset",
        make_element("legend", name_element(order.title)),
        [
            _transfer_box(proof, lot, placed.transfer, sheet.number)
            for lot in order.lots
            for sheet, placed in lot.placed
        ],
    )


def _transfer_box(proof: Proof, lot: RowLot, transfer: Transfer, sheet: int) -> Markup:
    row, ident, panel = lot.row, transfer.id, transfer.piece.panel
    place = (row.placement or "own size").replace("-", " ") + (f", {panel.describe}" if panel else "")
    return make_element(
        "label",
        make_element("input", type="checkbox", id=f"tick-{ident}"),
        " ",
        make_element("b", f"{proof.layout.code}-{ident}", class_="number"),
        join_markup(" ", name_element(row.wearer)) if row.wearer else None,
        make_element("span", f" {place}, sheet {sheet}", class_="quiet"),
        for_=f"tick-{ident}",
    )
