"""The list for reprints: every transfer with a box to tick, on paper by pen or on the screen before it is printed.

The page has no script, so it cannot save what is ticked: the same list lies beside it as a CSV that a spreadsheet
saves, and that `impose reprint --list` takes.
"""

from __future__ import annotations

from collections.abc import Sequence

from impose.pages.proof.contents import Lot, Order
from impose.pages.proof.markup import Markup, join, name, tag
from impose.pages.proof.subject import Proof
from impose.pages.spreadsheet import LIST_NAME

TICKS_MOST = 4000
"""Beyond so many transfers the list is in the CSV alone."""


def reprint_section(proof: Proof, orders: Sequence[Order]) -> Markup:
    """The section, to be printed and kept beside the press."""
    transfers = sum(order.count for order in orders)
    listed = [_order(proof, order) for order in orders] if transfers <= TICKS_MOST else None
    return tag(
        "section",
        tag("h2", "List for reprints"),
        tag(
            "p",
            "Tick what was spoiled or lost, here or by pen on the printed list. To print it again, put an x for each "
            "into the column spoiled of ",
            tag("b", LIST_NAME),
            ", which lies beside this page, save it, and run: impose reprint FOLDER --list ",
            LIST_NAME,
            class_="quiet",
        ),
        tag("div", listed, class_="ticking") if listed else None,
        id="reprint",
    )  # fmt: skip


def _order(proof: Proof, order: Order) -> Markup:
    return tag(
        "fieldset",
        tag("legend", name(order.title)),
        [_box(proof, lot, one.transfer.id, sheet.number) for lot in order.lots for sheet, one in lot.placed],
    )


def _box(proof: Proof, lot: Lot, ident: str, sheet: int) -> Markup:
    row = lot.row
    place = (row.placement or "own size").replace("-", " ")
    return tag(
        "label",
        tag("input", type="checkbox", id=f"tick-{ident}"),
        " ",
        tag("b", f"{proof.layout.code}-{ident}", class_="number"),
        join(" ", name(row.wearer)) if row.wearer else None,
        tag("span", f" {place}, sheet {sheet}", class_="quiet"),
        for_=f"tick-{ident}",
    )
