"""`proof.html`: what a batch will look like on paper, whose print is whose, what it costs and what to look at twice."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from pathlib import PurePosixPath
from typing import Any

from impose.errors import Finding, Severity, shown
from impose.pages.proof.contents import Lot, Order, Said, grouped, orders_of, ranges, what, whose
from impose.pages.proof.drawing import Pen, sheet_drawing, symbols, worn_picture
from impose.pages.proof.legend import legend
from impose.pages.proof.markup import Content, Markup, data_uri, join, name, page, tag
from impose.pages.proof.small import Gallery, key_of
from impose.pages.proof.style import PROOF_STYLE
from impose.sheet.layout import Layout, Sheet
from impose.sheet.marks import Shaper
from impose.sheet.money import to_decimal
from impose.sheet.record import file_name
from impose.sheet.transfer import garment_words
from impose.shop.orders import Batch, Row
from impose.shop.profiles import Printer, Profiles
from impose.units import show_length

LABELS_MOST = 1500
"""Beyond so many transfers the drawings leave the small printed labels out: each is five texts."""

KEYS_MOST = 4000
"""Beyond so many, the list beside each drawing as well; the transfers by order still name every one."""

LINKS_MOST = 12
"""Copies of one row that are linked one by one; more are given as a range."""

_MANY_SHEETS = 12
_WORDS = {Severity.STOP: "Stop", Severity.WARN: "Warning", Severity.NOTE: "Note"}


@dataclass(frozen=True, slots=True)
class Proof:
    """Everything a proof is made of; nothing is computed anew, so page, sheets and record cannot disagree."""

    layout: Layout
    record: Mapping[str, Any]
    batch: Batch
    profiles: Profiles
    printer: Printer
    findings: Sequence[Finding]
    lettering: Shaper
    gallery: Gallery

    @property
    def units(self) -> Any:
        """The shop's unit of length, for people."""
        return self.profiles.settings.units

    @property
    def currency(self) -> str:
        """The currency of all costs."""
        return str(self.record["currency"])

    def size(self, width: float, height: float) -> str:
        """A size in the shop's unit."""
        return f"{show_length(width, self.units)} × {show_length(height, self.units)}"


def gallery_of(layout: Layout) -> Gallery:
    """The distinct pictures of a layout, in the order in which they lie on it."""
    pieces = [placed.transfer.piece for sheet in layout.sheets for placed in sheet.placed]
    seen = len({(piece.row.order_key, key_of(piece.picture)) for piece in pieces})
    return Gallery((piece.picture for piece in pieces), seen)


def proof_page(proof: Proof) -> bytes:
    """The whole page: self-contained, without a script, the same bytes for the same batch."""
    orders = orders_of(proof.layout, proof.record)
    said = grouped(proof.findings)
    title = f"Proof of {proof.layout.name}"
    body = join(
        tag("a", "To the sheets", class_="skip", href="#sheets"),
        symbols(proof.gallery),
        _switch("names"),
        _switch("marks"),
        _header(proof, orders, said),
        _bar(proof, orders, said),
        tag(
            "main",
            _sheets(proof, orders),
            _findings(proof, orders, said),
            _orders(proof, orders, said),
            legend(),
            class_="many" if len(proof.layout.sheets) > _MANY_SHEETS else None,
        ),
        _footer(proof),
    )
    return page(title, PROOF_STYLE, body, "Every sheet of the batch to scale, the transfers by order, and findings.")


def _switch(ident: str) -> Markup:
    return tag("input", type="checkbox", id=ident, class_="toggle", checked=True)


def _header(proof: Proof, orders: Sequence[Order], said: Sequence[Said]) -> Markup:
    record = proof.record
    sheets = proof.layout.sheets
    transfers = sum(order.count for order in orders)
    used = sum(s.yield_ * s.width_mm * s.height_mm for s in sheets) / sum(s.width_mm * s.height_mm for s in sheets)
    money = record["money"]
    parts = (_money(Decimal(money[one])) for one in ("paper", "ink"))
    ink = "paper {}, ink {}".format(*parts) if Decimal(money["ink"]) else ""
    papers = [f"{len(run)} × {paper.alias}" for paper, run in proof.layout.by_paper()]
    facts: list[tuple[str, list[Content]]] = [
        ("Sheets", [str(len(sheets)), ", ".join(papers)]),
        ("Transfers", [str(transfers), _count(len(orders), "order")]),
        ("Cost", [_money(Decimal(money["total"]), proof.currency), ink or None, _best(proof)]),
        ("Paper used", [f"{used:.0%}", "by prints and their margins"]),
        ("To look at", _counts(said)),
    ]
    return tag(
        "header",
        tag("h1", "Proof of ", name(proof.layout.name)),
        tag("p", "Batch code ", tag("b", proof.layout.code), ", on every label of these sheets.", class_="quiet"),
        tag("p", _colours(proof), class_="quiet"),
        tag("dl", [_fact(head, values) for head, values in facts], class_="facts"),
    )  # fmt: skip


def _fact(head: str, values: Sequence[Content]) -> Markup:
    return tag("div", tag("dt", head), [tag("dd", value) for value in values if value])


def _colours(proof: Proof) -> Markup:
    """What the colours of the pictures stand for."""
    output = proof.record["options"].get("output")
    if not output:
        return join(
            "Colours are shown as the artwork has them: how they print is the printer's and the cloth's matter."
        )
    return join(
        "Colours are a soft proof: as ", name(output["profile"]), " says they will print (", output["intent"], ")."
    )


def _best(proof: Proof) -> Markup:
    fewest = proof.record["fewest"]
    if fewest["proven"]:
        words = "no fewer sheets possible" if fewest["sheets"] is not None else "no cheaper mix possible"
        return tag("span", words, class_="good")
    if fewest["sheets"] is not None:
        return tag("span", f"at least {_count(fewest['sheets'], 'sheet')} needed")
    return tag("span", f"at least {fewest['cost']} {proof.currency} needed")


def _counts(said: Sequence[Said]) -> list[Content]:
    """How many findings of each severity, worst first."""
    number = {severity: sum(len(s.all) for s in said if s.first.severity is severity) for severity in Severity}
    parts = [_count(number[severity], _WORDS[severity].lower()) for severity in Severity if number[severity]]
    if not parts:
        return ["nothing", "no findings"]
    rest = ", ".join(parts[1:])
    bad = number[Severity.STOP] or number[Severity.WARN]
    return [tag("a", parts[0], href="#findings", class_="bad" if bad else None), rest or None]


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def _bar(proof: Proof, orders: Sequence[Order], said: Sequence[Said]) -> Markup:
    links = [("#sheets", "Sheets"), ("#orders", "Orders"), ("#legend", "Legend")]
    if said:
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
        [_sheet(proof, sheet, page, pen, transfers <= KEYS_MOST) for sheet, page in _paged(proof.layout)],
        id="sheets",
    )


def _paged(layout: Layout) -> Iterator[tuple[Sheet, int]]:
    for _, run in layout.by_paper():
        yield from ((sheet, page) for page, sheet in enumerate(run, 1))


def _sheet(proof: Proof, sheet: Sheet, page: int, pen: Pen, key: bool) -> Markup:
    title = f"Sheet {sheet.number} of {len(proof.layout.sheets)}"
    size = proof.size(sheet.width_mm, sheet.height_mm)
    text = (
        f"The printed side to scale: {_count(len(sheet.placed), 'transfer')} on {sheet.paper.alias}, {size}. "
        "Artwork is mirrored, as it will lie."
    )
    cost = f"{to_decimal(sheet.cost):f} {proof.currency}"
    facts = f"{sheet.paper.alias}, {size} · {sheet.yield_:.0%} used · {cost} · {file_name(sheet.paper)}, page {page}"
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


def _findings(proof: Proof, orders: Sequence[Order], said: Sequence[Said]) -> Markup | None:
    if not said:
        return None
    lots: dict[int, list[str]] = {}
    for order in orders:
        for lot in order.lots:
            lots.setdefault(lot.row.row, []).extend(lot.ids)
    return tag(
        "section",
        tag("h2", "Findings"),
        tag("ul", [_finding(proof, n, one, lots) for n, one in enumerate(said, 1)], class_="said"),
        id="findings",
    )


def _finding(proof: Proof, number: int, said: Said, ids: Mapping[int, list[str]]) -> Markup:
    one = said.first
    read = f" (read: {shown(one.read)})" if one.read is not None else ""
    words = f"{one.what[:1].upper()}{one.what[1:]}{read}"
    view = tag("img", src=data_uri(one.view, "image/png"), alt=f"Close view: {one.what}") if one.view else None
    return tag(
        "li",
        tag(
            "div",
            tag("span", _WORDS[one.severity], class_=f"mark {one.severity}"),
            tag("h3", words, dir="auto"),
            tag("p", one.why) if one.why else None,
            tag("p", tag("b", "To mend it: "), one.remedy) if one.remedy else None,
            tag("p", _places(proof, said, ids), class_="quiet small"),
        ),
        view,
        id=f"finding-{number}",
        class_=str(one.severity),
    )


def _places(proof: Proof, said: Said, ids: Mapping[int, list[str]]) -> Markup:
    """File, rows, column; where on the print and in the picture; and the transfers concerned."""
    one = said.first
    parts: list[Content] = []
    if one.file:
        parts.append(name(PurePosixPath(one.file.replace("\\", "/")).name))
    if said.rows:
        parts.append(f"row{'s' if len(said.rows) > 1 else ''} {ranges(said.rows)}")
    if one.column:
        parts.append(f"column {one.column}")
    if one.mm is not None:
        left, top, right, bottom = one.mm
        at = (
            f"{show_length(left, proof.units)} from the left, {show_length(top, proof.units)} from the top of the print"
        )
        parts.append(f"{proof.size(right - left, bottom - top)} at {at}")
    if one.px is not None:
        parts.append(f"pixels {one.px[0]}, {one.px[1]} to {one.px[2]}, {one.px[3]} of the artwork")
    named = [ident for row in said.rows for ident in ids.get(row, [])]
    if named:
        parts.append(["transfers " if len(named) > 1 else "transfer ", _links(named)])
    return join(*(join(", " if n else None, part) for n, part in enumerate(parts)))


def _links(idents: Sequence[str]) -> Content:
    """Transfers linked to their drawing; many of them by the first and how many more."""
    shown_ = idents if len(idents) <= LINKS_MOST else idents[:LINKS_MOST]
    links = join(*(join(" " if n else None, tag("a", i, href=f"#{i}")) for n, i in enumerate(shown_)))
    return links if len(shown_) == len(idents) else [links, f" and {len(idents) - len(shown_):,} more"]


def _orders(proof: Proof, orders: Sequence[Order], said: Sequence[Said]) -> Markup:
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
            tag("span", _count(order.count, "transfer"), class_="quiet small"),
            tag("span", _money(order.paper + order.ink, proof.currency), class_="number"),
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


def _lot(proof: Proof, lot: Lot, marks: Iterable[tuple[int, Severity]]) -> Markup:
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
            tag("span", f"{piece.ppi:.0f} ppi, ", name(row.art), class_="quiet small"),
            [join(" ", tag("a", _WORDS[s], href=f"#finding-{n}", class_=f"mark {s}")) for n, s in marks],
            class_="print",
            role="cell",
        ),
        tag("td", _where(lot), tag("br"), tag("span", _money(lot.paper + lot.ink, proof.currency), class_="number"),
            class_="end", role="cell"),
        id=f"row-{row.row}",
        role="row",
    )  # fmt: skip


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


def _money(amount: Decimal, currency: str = "") -> str:
    """An amount to the cent, as people read it; the record has it exactly."""
    return f"{amount.quantize(Decimal('0.01'), ROUND_HALF_UP):f} {currency}".strip()


def _footer(proof: Proof) -> Markup:
    words = (
        "Costs are of paper and ink, rounded to the cent; the record has them exactly. Pictures here are "
        f"small copies for the screen, at most {proof.gallery.proof_side} pixels long; what is printed is the artwork "
        "itself. Made by impose."
    )
    return tag("footer", tag("p", words, class_="quiet small"))
