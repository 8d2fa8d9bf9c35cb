"""The transfers of a proof by order: what each is, for whom, how large, on which sheet, at what cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from impose.errors import Severity
from impose.pages.proof.markup import Content, Markup, join_markup, make_element, name_element
from impose.pages.proof.order_lots import GroupedFinding, OrderLots, RowLot, format_ranges
from impose.pages.proof.proof_model import LINKS_MOST, WORDS, Proof, count_words, format_money
from impose.pages.proof.sheet_drawing import draw_worn_picture
from impose.sheet.transfer import describe_ordered_garment


def orders_section(proof: Proof, orders: Sequence[OrderLots], said: Sequence[GroupedFinding]) -> Markup:
    """The section: a table for each order."""
    marks: dict[tuple[int, int], list[tuple[int, Severity]]] = {}
    for number, customer_order in enumerate(said, 1):
        for key in customer_order.keys:
            marks.setdefault(key, []).append((number, customer_order.first.severity))
    return make_element(
        "section",
        make_element("h2", "Transfers by order"),
        [_order_table(proof, order, marks) for order in orders],
        id="orders",
    )


Marks = Mapping[tuple[int, int], list[tuple[int, Severity]]]
"""Findings by row and row of its kit: their numbers, and how bad they are."""


def _find_marks(lot: RowLot, marks: Marks) -> list[tuple[int, Severity]]:
    """The findings of a print: those of its row, and of its kit's row where it has one."""
    keys = dict.fromkeys(((lot.row.row, 0), lot.row.key))
    return sorted({mark for key in keys for mark in marks.get(key, [])}, key=lambda mark: mark[0])


def _order_table(proof: Proof, order: OrderLots, marks: Marks) -> Markup:
    heads = (("Picture", "picture"), ("For", None), ("Print", None), ("Sheet and cost", "end last"))
    return make_element(
        "article",
        make_element(
            "div",
            make_element("h3", make_element("span", class_=f"dot hue{order.hue}"), " ", name_element(order.title)),
            make_element("span", count_words(order.count, "transfer"), class_="quiet small"),
            make_element("span", format_money(order.paper + order.ink, proof.currency), class_="number"),
        ),
        # The roles are those the elements have: a narrow page lays the cells out in another way, and some readers
        # would then take it for no table any more.
        make_element(
            "table",
            make_element("caption", "Transfers of ", name_element(order.title)),
            make_element(
                "thead",
                make_element(
                    "tr",
                    [
                        make_element("th", head, scope="col", class_=class_, role="columnheader")
                        for head, class_ in heads
                    ],
                    role="row",
                ),
                role="rowgroup",
            ),
            make_element(
                "tbody", [_lot_row(proof, lot, _find_marks(lot, marks)) for lot in order.lots], role="rowgroup"
            ),
            role="table",
        ),
        class_="order",
        id=f"order-{order.number}",
    )


def _lot_row(proof: Proof, lot: RowLot, marks: Sequence[tuple[int, Severity]]) -> Markup:
    piece, row = lot.piece, lot.row
    copies = len(lot.placed)
    wearer = (
        make_element("b", name_element(row.wearer))
        if row.wearer
        else make_element("span", "no wearer named", class_="quiet")
    )
    place = (row.placement or "own size").replace("-", " ")
    return make_element(
        "tr",
        make_element("td", draw_worn_picture(proof.gallery, lot.placed[0][1]), class_="picture", role="cell"),
        make_element(
            "td",
            wearer,
            make_element("br"),
            name_element(describe_ordered_garment(row)),
            join_markup(make_element("br"), make_element("span", name_element(row.note), class_="quiet small"))
            if row.note
            else None,
            class_="for",
            role="cell",
        ),
        make_element(
            "td",
            make_element("b", f"{copies} × ") if copies > 1 else None,
            place,
            make_element("br"),
            proof.format_size(piece.ink_w_mm, piece.ink_h_mm),
            make_element("br"),
            make_element(
                "span",
                None if piece.ppi is None else f"{piece.ppi:.0f} ppi, ",
                name_element(row.art),
                class_="quiet small",
            ),
            [_finding_badge(severity, [n for n, s in marks if s is severity]) for severity in Severity],
            class_="print",
            role="cell",
        ),
        make_element(
            "td",
            _lot_places(lot),
            make_element("br"),
            make_element("span", format_money(lot.paper + lot.ink, proof.currency), class_="number"),
            class_="end",
            role="cell",
        ),
        id=f"row-{row.row}-{row.kit_row}" if row.kit_row else f"row-{row.row}",
        role="row",
    )


def _finding_badge(severity: Severity, numbers: Sequence[int]) -> Markup | None:
    """How many findings of a severity the row has, leading to the first of them."""
    if not numbers:
        return None
    words = WORDS[severity] if len(numbers) == 1 else f"{len(numbers)} {WORDS[severity].lower()}s"
    return join_markup(" ", make_element("a", words, href=f"#finding-{numbers[0]}", class_=f"mark {severity}"))


def _lot_places(lot: RowLot) -> Content:
    """Each transfer with its sheet; many copies as a range."""
    sheets = [sheet.number for sheet, _ in lot.placed]
    if len(lot.placed) > LINKS_MOST:
        first = f"#{lot.ids[0]}"
        return [
            make_element("a", f"{lot.ids[0]}–{lot.ids[-1]}", href=first),
            make_element("br"),
            f"sheets {format_ranges(sheets)}",
        ]
    return [
        join_markup(
            make_element("br") if n else None,
            make_element("a", ident, href=f"#{ident}", class_="number"),
            f" sheet {sheet}",
        )
        for n, (ident, sheet) in enumerate(zip(lot.ids, sheets, strict=True))
    ]
