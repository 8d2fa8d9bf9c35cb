"""The transfers of a proof by order: what each is, for whom, how large, on which sheet, at what cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from impose.errors import Severity
from impose.pages.proof.contents import Lot, Order, Said, ranges
from impose.pages.proof.drawing import worn_picture
from impose.pages.proof.markup import Content, Markup, join, name, tag
from impose.pages.proof.subject import LINKS_MOST, WORDS, Proof, count, money
from impose.sheet.transfer import garment_words


def orders_section(proof: Proof, orders: Sequence[Order], said: Sequence[Said]) -> Markup:
    """The section: a table for each order."""
    marks: dict[int, list[tuple[int, Severity]]] = {}
    for number, one in enumerate(said, 1):
        for row in one.rows:
            marks.setdefault(row, []).append((number, one.first.severity))
    return tag(
        "section",
        tag("h2", "Transfers by order"),
        [_order(proof, order, marks) for order in orders],
        id="orders",
    )


def _order(proof: Proof, order: Order, marks: Mapping[int, list[tuple[int, Severity]]]) -> Markup:
    heads = (("Picture", "picture"), ("For", None), ("Print", None), ("Sheet and cost", "end last"))
    return tag(
        "article",
        tag(
            "div",
            tag("h3", tag("span", class_=f"dot hue{order.hue}"), " ", name(order.title)),
            tag("span", count(order.count, "transfer"), class_="quiet small"),
            tag("span", money(order.paper + order.ink, proof.currency), class_="number"),
        ),
        # The roles are those the elements have: a narrow page lays the cells out in another way, and some readers
        # would then take it for no table any more.
        tag(
            "table",
            tag("caption", "Transfers of ", name(order.title)),
            tag(
                "thead",
                tag(
                    "tr",
                    [tag("th", head, scope="col", class_=class_, role="columnheader") for head, class_ in heads],
                    role="row",
                ),
                role="rowgroup",
            ),
            tag("tbody", [_lot(proof, lot, marks.get(lot.row.row, [])) for lot in order.lots], role="rowgroup"),
            role="table",
        ),
        class_="order",
        id=f"order-{order.number}",
    )  # fmt: skip


def _lot(proof: Proof, lot: Lot, marks: Sequence[tuple[int, Severity]]) -> Markup:
    piece, row = lot.piece, lot.row
    copies = len(lot.placed)
    wearer = tag("b", name(row.wearer)) if row.wearer else tag("span", "no wearer named", class_="quiet")
    place = (row.placement or "own size").replace("-", " ")
    return tag(
        "tr",
        tag("td", worn_picture(proof.gallery, lot.placed[0][1]), class_="picture", role="cell"),
        tag(
            "td",
            wearer,
            tag("br"),
            name(garment_words(row)),
            join(tag("br"), tag("span", name(row.note), class_="quiet small")) if row.note else None,
            class_="for",
            role="cell",
        ),
        tag(
            "td",
            tag("b", f"{copies} × ") if copies > 1 else None,
            place,
            tag("br"),
            proof.size(piece.ink_w_mm, piece.ink_h_mm),
            tag("br"),
            tag("span", None if piece.ppi is None else f"{piece.ppi:.0f} ppi, ", name(row.art), class_="quiet small"),
            [_badge(severity, [n for n, s in marks if s is severity]) for severity in Severity],
            class_="print",
            role="cell",
        ),
        tag("td", _where(lot), tag("br"), tag("span", money(lot.paper + lot.ink, proof.currency), class_="number"),
            class_="end", role="cell"),
        id=f"row-{row.row}-{row.kit_row}" if row.kit_row else f"row-{row.row}",
        role="row",
    )  # fmt: skip


def _badge(severity: Severity, numbers: Sequence[int]) -> Markup | None:
    """How many findings of a severity the row has, leading to the first of them."""
    if not numbers:
        return None
    words = WORDS[severity] if len(numbers) == 1 else f"{len(numbers)} {WORDS[severity].lower()}s"
    return join(" ", tag("a", words, href=f"#finding-{numbers[0]}", class_=f"mark {severity}"))


def _where(lot: Lot) -> Content:
    """Each transfer with its sheet; many copies as a range."""
    sheets = [sheet.number for sheet, _ in lot.placed]
    if len(lot.placed) > LINKS_MOST:
        first = f"#{lot.ids[0]}"
        return [tag("a", f"{lot.ids[0]}–{lot.ids[-1]}", href=first), tag("br"), f"sheets {ranges(sheets)}"]
    return [
        join(tag("br") if n else None, tag("a", ident, href=f"#{ident}", class_="number"), f" sheet {sheet}")
        for n, (ident, sheet) in enumerate(zip(lot.ids, sheets, strict=True))
    ]
