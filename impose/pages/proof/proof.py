"""`proof.html`: what a batch will look like on paper, whose print is whose, what it costs and what to look at twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from impose.errors import Severity
from impose.pages.proof.contents import Order, Said, grouped, orders_of, what, whose
from impose.pages.proof.drawing import Pen, sheet_drawing, symbols
from impose.pages.proof.findings import findings_section
from impose.pages.proof.legend import legend
from impose.pages.proof.listing import orders_section
from impose.pages.proof.markup import Content, Markup, join, name, page, tag
from impose.pages.proof.style import PROOF_STYLE
from impose.pages.proof.subject import WORDS, Proof, count, gallery_of, money
from impose.pages.proof.ticking import reprint_section
from impose.sheet.layout import Sheet
from impose.sheet.money import to_decimal
from impose.shop.orders import Row

__all__ = ["Proof", "gallery_of", "proof_page"]

LABELS_MOST = 1500
"""Beyond so many transfers the drawings leave the small printed labels out: each is five texts."""

KEYS_MOST = 4000
"""Beyond so many, the list beside each drawing as well; the transfers by order still name every one."""

_MANY_SHEETS = 12


def proof_page(proof: Proof, orders: Sequence[Order] | None = None) -> bytes:
    """The whole page: self-contained, without a script, the same bytes for the same batch.

    `orders` are those of the proof, where they have been gathered already.
    """
    orders = orders_of(proof.layout, proof.record) if orders is None else orders
    said = grouped(proof.findings)
    title = f"Proof of {proof.layout.name}"
    body = join(
        tag("a", "To the sheets", class_="skip", href="#sheets"),
        symbols(proof.gallery),
        _switch("names"),
        _switch("marks"),
        header_section(proof, orders, said),
        _bar(bool(said)),
        tag(
            "main",
            _sheets(proof, orders),
            findings_section(proof, orders, said),
            orders_section(proof, orders, said),
            reprint_section(proof, orders),
            legend(),
            class_="many" if len(proof.layout.sheets) > _MANY_SHEETS else None,
        ),
        footer_section(proof),
    )
    return page(title, PROOF_STYLE, body, "Every sheet of the batch to scale, the transfers by order, and findings.")


def _switch(ident: str) -> Markup:
    return tag("input", type="checkbox", id=ident, class_="toggle", checked=True)


def header_section(proof: Proof, orders: Sequence[Order], said: Sequence[Said]) -> Markup:
    record = proof.record
    sheets = proof.layout.sheets
    transfers = sum(order.count for order in orders)
    used = sum(s.yield_ * s.width_mm * s.height_mm for s in sheets) / sum(s.width_mm * s.height_mm for s in sheets)
    bill = record["money"]
    parts = (money(Decimal(bill[one])) for one in ("paper", "ink"))
    ink = "paper {}, ink {}".format(*parts) if Decimal(bill["ink"]) else ""
    papers = [f"{len(run)} × {paper.alias}" for paper, run in proof.layout.by_paper()]
    facts: list[tuple[str, list[Content]]] = [
        ("Sheets", [str(len(sheets)), ", ".join(papers)]),
        ("Transfers", [str(transfers), count(len(orders), "order")]),
        ("Cost", [money(Decimal(bill["total"]), proof.currency), ink or None, None if proof.part else _best(proof)]),
        ("Paper used", [f"{used:.0%}", "by prints and their margins"]),
        ("To look at", _counts(said)),
    ]
    return tag(
        "header",
        tag("h1", "Proof of ", name(proof.layout.name)),
        tag("p", "Batch code ", tag("b", proof.layout.code), ", on every label of these sheets.", class_="quiet"),
        tag("p", _part(proof), class_="quiet") if proof.part else None,
        tag("p", _colours(proof), class_="quiet"),
        tag("dl", [_fact(head, values) for head, values in facts], class_="facts"),
    )  # fmt: skip


def _part(proof: Proof) -> Markup:
    """Which part this is, and the way to the whole."""
    assert proof.part is not None
    first, last = proof.layout.sheets[0].number, proof.layout.sheets[-1].number
    words = f"Part {proof.part.number} of {proof.part.of}: sheets {first} to {last} of {proof.sheets}, "
    return join(
        words, proof.part.file, "; costs are of this part. ", tag("a", "The whole batch", href="proof.html"), "."
    )


def _fact(head: str, values: Sequence[Content]) -> Markup:
    return tag("div", tag("dt", head), [tag("dd", value) for value in values if value])


def _colours(proof: Proof) -> Markup:
    """What the colours of the pictures stand for."""
    output = proof.record["options"].get("output")
    if not output:
        return join("Colours are shown as the artwork has them. How they print depends on the printer and the cloth.")
    return join(
        "Colours are a soft proof: as ", name(output["profile"]), " says they will print (", output["intent"], ")."
    )


def _best(proof: Proof) -> Markup:
    fewest = proof.record["fewest"]
    if fewest["proven"]:
        words = "no fewer sheets possible" if fewest["sheets"] is not None else "no cheaper mix possible"
        return tag("span", words, class_="good")
    if fewest["sheets"] is not None:
        return tag("span", f"at least {count(fewest['sheets'], 'sheet')} needed")
    return tag("span", f"at least {money(Decimal(fewest['cost']), proof.currency)} needed")


def _counts(said: Sequence[Said]) -> list[Content]:
    """How many findings of each severity, worst first."""
    number = {severity: sum(len(s.all) for s in said if s.first.severity is severity) for severity in Severity}
    parts = [count(number[severity], WORDS[severity].lower()) for severity in Severity if number[severity]]
    if not parts:
        return ["nothing", "no findings"]
    rest = ", ".join(parts[1:])
    bad = number[Severity.STOP] or number[Severity.WARN]
    return [tag("a", parts[0], href="#findings", class_="bad" if bad else None), rest or None]


def _bar(found: bool) -> Markup:
    """The links to the sections, of which that of findings is there only where something was found."""
    links = [("#sheets", "Sheets"), ("#orders", "Orders"), ("#legend", "Legend")]
    if found:
        links.insert(1, ("#findings", "Findings"))
    return tag(
        "div",
        tag(
            "nav",
            [tag("a", words, href=target) for target, words in links],
            tag("label", "Names", for_="names", class_="first"),
            tag("label", "Margins", for_="marks"),
            aria_label="On this page",
        ),
        class_="bar",
    )


def _sheets(proof: Proof, orders: Sequence[Order]) -> Markup:
    transfers = sum(order.count for order in orders)
    hues = {ident: order.hue for order in orders for lot in order.lots for ident in lot.ids}
    pen = Pen(proof.gallery, proof.lettering, hues, transfers <= LABELS_MOST)
    less = []
    if not pen.labels:
        less.append("the small printed labels are left out of these drawings; they are on the sheets")
    if transfers > KEYS_MOST:
        less.append("the list beside each drawing is left out")
    note = f"With more than {LABELS_MOST if transfers <= KEYS_MOST else KEYS_MOST:,} transfers, {' and '.join(less)}."
    return tag(
        "section",
        tag("h2", "Sheets"),
        tag("p", note, class_="quiet") if less else None,
        [_sheet(proof, sheet, where, pen, transfers <= KEYS_MOST) for sheet, where in _paged(proof)],
        id="sheets",
    )


def _paged(proof: Proof) -> Iterator[tuple[Sheet, str]]:
    """Each sheet with its file and page."""
    for sheet, said in zip(proof.layout.sheets, proof.record["sheets"], strict=True):
        yield sheet, f"{said['file']}, page {said['page']}"


def _sheet(proof: Proof, sheet: Sheet, where: str, pen: Pen, key: bool) -> Markup:
    title = f"Sheet {sheet.number} of {proof.sheets}"
    size = proof.size(sheet.width_mm, sheet.height_mm)
    text = (
        f"The printed side to scale: {count(len(sheet.placed), 'transfer')} on {sheet.paper.alias}, {size}. "
        "Artwork is mirrored, as it will lie."
    )
    cost = money(to_decimal(sheet.cost), proof.currency)
    facts = f"{sheet.paper.alias}, {size} · {sheet.yield_:.0%} used · {cost} · {where}"
    return tag(
        "article",
        tag("div", tag("h3", title), tag("p", facts, class_="quiet small")),
        sheet_drawing(sheet, pen, title, text),
        _key(sheet, pen) if key else None,
        class_="sheet",
        id=f"sheet-{sheet.number}",
    )


def _key(sheet: Sheet, pen: Pen) -> Markup:
    """The transfers of one sheet in reading order of the drawing, named."""
    entries = []
    for placed in sheet.placed:
        row, ident = placed.transfer.piece.row, placed.transfer.id
        entries.append(
            tag(
                "li",
                tag("span", class_=f"dot hue{pen.hues[ident]}"),
                tag("b", name(whose(row))),
                tag("a", ident, href=f"#{ident}", class_="number"),
                tag("span", _order_first(row), class_="quiet"),
            )
        )
    return tag("ul", entries, class_="key", aria_label=f"Transfers on sheet {sheet.number}")


def _order_first(row: Row) -> Markup:
    """Order, place and garment; the order only where the name before it is a wearer's."""
    return join(name(row.order), ": ", name(what(row))) if row.wearer and row.order else name(what(row))


def footer_section(proof: Proof) -> Markup:
    words = (
        "Costs are of paper and ink, rounded to the cent; the record has them exactly. Pictures here are "
        f"small copies for the screen, at most {proof.gallery.proof_side} pixels long; what is printed is the artwork "
        "itself. Made by impose."
    )
    return tag("footer", tag("p", words, class_="quiet small"))
