"""`proof.html`: what a batch will look like on paper, whose print is whose, what it costs and what to look at twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from impose.errors import Severity
from impose.orders.batch import BatchRow
from impose.pages.proof.findings_section import findings_section
from impose.pages.proof.kits_section import kits_section
from impose.pages.proof.legend import draw_legend
from impose.pages.proof.markup import (
    Content,
    Markup,
    join_markup,
    make_document,
    make_element,
    name_element,
    wrap_content,
)
from impose.pages.proof.order_lots import (
    GroupedFinding,
    OrderLots,
    describe_print,
    group_findings,
    list_orders,
    name_recipient,
)
from impose.pages.proof.orders_section import orders_section
from impose.pages.proof.proof_model import WORDS, Proof, count_words, format_money, make_gallery
from impose.pages.proof.reprint_list import reprint_section
from impose.pages.proof.sheet_drawing import DrawingContext, draw_picture_symbols, draw_sheet
from impose.pages.proof.stylesheet import PROOF_STYLE
from impose.sheet.layout import SheetLayout
from impose.sheet.money import to_decimal

__all__ = ["Proof", "draw_proof_page", "make_gallery"]

LABELS_MOST = 1500
"""Beyond so many transfers the drawings leave the small printed labels out: each is five texts."""

KEYS_MOST = 4000
"""Beyond so many, the list beside each drawing as well; the transfers by order still name every one."""

_MANY_SHEETS = 12


def draw_proof_page(proof: Proof, orders: Sequence[OrderLots] | None = None) -> bytes:
    """The whole page: self-contained, without a script, the same bytes for the same batch.

    `orders` are those of the proof, where they have been gathered already.
    """
    orders = list_orders(proof.layout, proof.record) if orders is None else orders
    said = group_findings(proof.findings)
    title = f"Proof of {proof.layout.name}"
    body = [
        make_element("a", "To the sheets", class_="skip", href="#sheets"),
        draw_picture_symbols(proof.gallery),
        _layer_switch("names"),
        _layer_switch("marks"),
        header_section(proof, orders, said),
        _section_links(bool(said), any(row.kit for row in proof.batch.rows)),
        *wrap_content(
            "main",
            _sheets_section(proof, orders),
            findings_section(proof, orders, said),
            kits_section(proof),
            orders_section(proof, orders, said),
            reprint_section(proof, orders),
            draw_legend(),
            class_="many" if len(proof.layout.sheets) > _MANY_SHEETS else None,
        ),
        footer_section(),
    ]
    return make_document(
        title, PROOF_STYLE, body, "Every sheet of the batch to scale, the transfers by order, and findings."
    )


def _layer_switch(ident: str) -> Markup:
    return make_element("input", type="checkbox", id=ident, class_="toggle", checked=True)


def header_section(proof: Proof, orders: Sequence[OrderLots], said: Sequence[GroupedFinding]) -> Markup:
    record = proof.record
    sheets = proof.layout.sheets
    transfers = sum(order.count for order in orders)
    used = sum(s.paper_yield * s.width_mm * s.height_mm for s in sheets) / sum(s.width_mm * s.height_mm for s in sheets)
    bill = record["money"]
    parts = (format_money(Decimal(bill[name])) for name in ("paper", "ink"))
    ink = "paper {}, ink {}".format(*parts) if Decimal(bill["ink"]) else ""
    papers = [f"{len(run)} × {paper.alias}" for paper, run in proof.layout.group_by_paper()]
    facts: list[tuple[str, list[Content]]] = [
        ("Sheets", [str(len(sheets)), ", ".join(papers)]),
        ("Transfers", [str(transfers), count_words(len(orders), "order")]),
        (
            "Cost",
            [
                format_money(Decimal(bill["total"]), proof.currency),
                ink or None,
                None if proof.part else _fewest_fact(proof),
            ],
        ),
        ("Paper used", [f"{used:.0%}", "by prints and their margins"]),
        ("To look at", _count_findings(said)),
    ]
    return make_element(
        "header",
        make_element("h1", "Proof of ", name_element(proof.layout.name)),
        make_element(
            "p",
            "Batch code ",
            make_element("b", proof.layout.code),
            ", on every label of these sheets.",
            class_="quiet",
        ),
        make_element("p", _part_banner(proof), class_="quiet") if proof.part else None,
        make_element("p", _colour_fact(proof), class_="quiet"),
        make_element("dl", [_fact_row(head, values) for head, values in facts], class_="facts"),
    )


def _part_banner(proof: Proof) -> Markup:
    """Which part this is, and the way to the whole."""
    assert proof.part is not None
    first, last = proof.layout.sheets[0].number, proof.layout.sheets[-1].number
    words = f"Part {proof.part.number} of {proof.part.of}: sheets {first} to {last} of {proof.sheets}, "
    return join_markup(
        words,
        proof.part.file,
        "; costs are of this part. ",
        make_element("a", "The whole batch", href="proof.html"),
        ".",
    )


def _fact_row(head: str, values: Sequence[Content]) -> Markup:
    return make_element("div", make_element("dt", head), [make_element("dd", value) for value in values if value])


def _colour_fact(proof: Proof) -> Markup:
    """What the colours of the pictures stand for."""
    output = proof.record["options"].get("output")
    if not output:
        return join_markup(
            "Colours are shown as the artwork has them. How they print depends on the printer and the cloth."
        )
    return join_markup(
        "Colours are a soft proof: as ",
        name_element(output["profile"]),
        " says they will print (",
        output["intent"],
        ").",
    )


def _fewest_fact(proof: Proof) -> Markup:
    fewest = proof.record["fewest"]
    if fewest["proven"]:
        words = "no fewer sheets possible" if fewest["sheets"] is not None else "no cheaper mix possible"
        return make_element("span", words, class_="good")
    if fewest["sheets"] is not None:
        return make_element("span", f"at least {count_words(fewest['sheets'], 'sheet')} needed")
    return make_element("span", f"at least {format_money(Decimal(fewest['cost']), proof.currency)} needed")


def _count_findings(said: Sequence[GroupedFinding]) -> list[Content]:
    """How many findings of each severity, worst first."""
    number = {severity: sum(len(s.all) for s in said if s.first.severity is severity) for severity in Severity}
    parts = [count_words(number[severity], WORDS[severity].lower()) for severity in Severity if number[severity]]
    if not parts:
        return ["nothing", "no findings"]
    rest = ", ".join(parts[1:])
    bad = number[Severity.STOP] or number[Severity.WARN]
    return [make_element("a", parts[0], href="#findings", class_="bad" if bad else None), rest or None]


def _section_links(found: bool, kits: bool) -> Markup:
    """The links to the sections, of which those of findings and kits are there only where there are some."""
    links = [("#sheets", "Sheets"), ("#orders", "Orders"), ("#legend", "Legend")]
    if kits:
        links.insert(1, ("#kits", "Kits"))
    if found:
        links.insert(1, ("#findings", "Findings"))
    return make_element(
        "div",
        make_element(
            "nav",
            [make_element("a", words, href=target) for target, words in links],
            make_element("label", "Names", for_="names", class_="first"),
            make_element("label", "Margins", for_="marks"),
            aria_label="On this page",
        ),
        class_="bar",
    )


def _sheets_section(proof: Proof, orders: Sequence[OrderLots]) -> Markup:
    transfers = sum(order.count for order in orders)
    hues = {ident: order.hue for order in orders for lot in order.lots for ident in lot.ids}
    pen = DrawingContext(proof.gallery, proof.lettering, hues, transfers <= LABELS_MOST)
    less = []
    if not pen.labels:
        less.append("the small printed labels are left out of these drawings; they are on the sheets")
    if transfers > KEYS_MOST:
        less.append("the list beside each drawing is left out")
    note = f"With more than {LABELS_MOST if transfers <= KEYS_MOST else KEYS_MOST:,} transfers, {' and '.join(less)}."
    return make_element(
        "section",
        make_element("h2", "Sheets"),
        make_element("p", note, class_="quiet") if less else None,
        [_sheet_figure(proof, sheet, where, pen, transfers <= KEYS_MOST) for sheet, where in _list_pages(proof)],
        id="sheets",
    )


def _list_pages(proof: Proof) -> Iterator[tuple[SheetLayout, str]]:
    """Each sheet with its file and page."""
    for sheet, said in zip(proof.layout.sheets, proof.record["sheets"], strict=True):
        yield sheet, f"{said['file']}, page {said['page']}"


def _sheet_figure(proof: Proof, sheet: SheetLayout, where: str, pen: DrawingContext, key: bool) -> Markup:
    title = f"Sheet {sheet.number} of {proof.sheets}"
    size = proof.format_size(sheet.width_mm, sheet.height_mm)
    text = (
        f"The printed side to scale: {count_words(len(sheet.placed), 'transfer')} on {sheet.paper.alias}, {size}. "
        "Artwork is mirrored, as it will lie."
    )
    if sheet.swatches:
        text += f" In its waste: {count_words(len(sheet.swatches), 'piece')} of artwork to press on scrap."
        where += f" · {count_words(len(sheet.swatches), 'piece')} to try on scrap"
    cost = format_money(to_decimal(sheet.cost), proof.currency)
    facts = f"{sheet.paper.alias}, {size} · {sheet.paper_yield:.0%} used · {cost} · {where}"
    return make_element(
        "article",
        make_element("div", make_element("h3", title), make_element("p", facts, class_="quiet small")),
        draw_sheet(sheet, pen, title, text),
        _sheet_key(sheet, pen) if key else None,
        class_="sheet",
        id=f"sheet-{sheet.number}",
    )


def _sheet_key(sheet: SheetLayout, pen: DrawingContext) -> Markup:
    """The transfers of one sheet in reading order of the drawing, named."""
    entries = []
    for placed in sheet.placed:
        row, ident, panel = placed.transfer.piece.row, placed.transfer.id, placed.transfer.piece.panel
        entries.append(
            make_element(
                "li",
                make_element("span", class_=f"dot hue{pen.hues[ident]}"),
                make_element("b", name_element(name_recipient(row))),
                make_element("a", ident, href=f"#{ident}", class_="number"),
                make_element("span", _order_first(row), f", {panel.describe}" if panel else None, class_="quiet"),
            )
        )
    return make_element("ul", entries, class_="key", aria_label=f"Transfers on sheet {sheet.number}")


def _order_first(row: BatchRow) -> Markup:
    """Order, place and garment; the order only where the name before it is a wearer's."""
    return (
        join_markup(name_element(row.order), ": ", name_element(describe_print(row)))
        if row.wearer and row.order
        else name_element(describe_print(row))
    )


def footer_section() -> Markup:
    words = (
        "Costs are of paper and ink, rounded to the cent; the record has them exactly. Pictures here are "
        "small copies for the screen; what is printed is the artwork itself. Made by impose."
    )
    return make_element("footer", make_element("p", words, class_="quiet small"))
