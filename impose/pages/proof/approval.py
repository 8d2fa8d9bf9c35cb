"""`approval/<order>.html`: what one customer is asked to agree to, and nothing of anyone else.

Artwork as it will be worn, at its stated size against a scale, the names large, because a wrong letter is the fault
that no press can mend. No paper, no cost, no sheet, no other order.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import PurePosixPath
from typing import Any

from impose.pages.proof.contents import Lot, Order, orders_of
from impose.pages.proof.filenames import file_names
from impose.pages.proof.markup import Markup, join, name, number, page, tag
from impose.pages.proof.proof import Proof
from impose.pages.proof.small import key_of
from impose.pages.proof.style import APPROVAL_STYLE
from impose.sheet.cleaning import clean
from impose.sheet.transfer import garment_words
from impose.shop.orders import Batch, Row
from impose.units import MM_PER_INCH

FOLDER = "approval"
_FOOT_MM = 14.0  # room under the picture for the scale
_SCALES = {
    "mm": ((100.0, "100 mm"), (50.0, "50 mm"), (20.0, "20 mm"), (10.0, "10 mm"), (5.0, "5 mm")),
    "in": tuple((inches * MM_PER_INCH, f"{inches:g} in") for inches in (4, 2, 1, 0.5, 0.25)),
}
_READS = {"left": "reads from the cuff up", "right": "reads from the shoulder down"}
_CHECKS = (
    "Every name and word is spelt as it should be.",
    "The right picture is on the right garment, in the right place.",
    "The size is right. Hold a ruler to the garment.",
    "Colours: cloth does not glow like a screen, and white is not printed; it stays the colour of the cloth.",
)


def approval_files(batch: Batch) -> list[dict[str, Any]]:
    """Which page belongs to which order, for the record: order, first row, file; in the order of the batch."""
    orders: dict[tuple[str, int], int] = {}
    for row in sorted(batch.rows, key=lambda row: row.row):
        orders.setdefault(row.order_key, row.row)
    stems = file_names(order or f"row {row}" for (order, _), row in orders.items())
    return [
        {"order": key[0], "row": row, "file": f"{FOLDER}/{stem}.html"}
        for (key, row), stem in zip(orders.items(), stems, strict=True)
    ]


def approval_pages(proof: Proof, orders: Sequence[Order] | None = None) -> Iterator[tuple[str, bytes]]:
    """Each order's page with its file name below the output folder; `orders` as of `proof_page`."""
    files = {(one["order"], one["row"] if not one["order"] else 0): one["file"] for one in approval_files(proof.batch)}
    for order in orders_of(proof.layout, proof.record) if orders is None else orders:
        yield files[(order.name, 0 if order.name else order.lots[0].row.row)], _page(proof, order)


def _page(proof: Proof, order: Order) -> bytes:
    prints = _prints(order)
    body = tag(
        "main",
        tag("p", f"For your approval · reference {proof.layout.code}", class_="quiet"),
        tag("h1", name(order.title)),
        tag(
            "p",
            "Please check every spelling, every picture, its size and its place before you agree. What is shown here "
            "is what will be pressed, and a print that is pressed cannot be taken off again.",
            class_="lead",
        ),
        _store(proof, prints),
        [_print(proof, lots, number) for number, lots in enumerate(prints, 1)],
        _sign(),
    )
    return page(f"For approval: {order.title}", APPROVAL_STYLE, body)


def _store(proof: Proof, prints: Sequence[Sequence[Lot]]) -> Markup:
    """Each picture once, one unit square, however many sizes it is shown at."""
    images = {}
    for lots in prints:
        picture = lots[0].piece.picture
        uri = proof.gallery.as_worn(picture).uri
        ident = proof.gallery.name(picture)
        images[ident] = tag("image", id=ident, width=1, height=1, preserveAspectRatio="none", href=uri)
    defs = tag("defs", images.values())
    return tag("svg", defs, class_="store", width=0, height=0, aria_hidden="true", focusable="false")


def _prints(order: Order) -> list[list[Lot]]:
    """Lots that are the same print at the same place and size together, so that a team's crest is shown once."""
    together: dict[tuple[object, ...], list[Lot]] = {}
    for lot in order.lots:
        piece = lot.piece
        size = (round(piece.ink_w_mm, 2), round(piece.ink_h_mm, 2))
        key = (key_of(piece.picture), size, lot.row.placement, piece.up, lot.row.art)
        together.setdefault(key, []).append(lot)
    return list(together.values())


def _print(proof: Proof, lots: Sequence[Lot], number: int) -> Markup:
    piece, row = lots[0].piece, lots[0].row
    place = (row.placement or "").replace("-", " ")
    heading = f"{number}. {place[:1].upper()}{place[1:]}" if place else f"{number}. Print"
    facts = [proof.size(piece.ink_w_mm, piece.ink_h_mm)]
    if piece.up in _READS:
        facts.append(_READS[piece.up])
    return tag(
        "section",
        tag("h2", heading),
        tag("p", ", ".join(facts), " · ", name(_source(row)), class_="quiet"),
        tag("p", [tag("span", name(line)) for line in row.words.split("\n")], class_="spelt") if row.words else None,
        tag("div", _stage(proof, lots[0]), class_="stage"),
        tag("ul", [_wearer(lot) for lot in lots], class_="wearers", aria_label="For whom"),
        class_="print",
    )


def _source(row: Row) -> str:
    """The picture's file without its folder, which may be named for another customer; or that it is words."""
    if row.words:
        return f"words in {row.font}" if row.font else "words"
    return PurePosixPath(row.art.replace("\\", "/")).name


def _wearer(lot: Lot) -> Markup:
    copies = f"{len(lot.placed)} × " if len(lot.placed) > 1 else ""
    garment = join(copies or None, name(garment_words(lot.row)))
    if not clean(lot.row.wearer)[0]:
        return tag("li", tag("b", garment), tag("span", "no name given", class_="quiet"))
    return tag("li", tag("b", name(lot.row.wearer)), garment)


def _stage(proof: Proof, lot: Lot) -> Markup:
    """The print in millimetres over a scale; at 100 % on paper it has its true size, if the page is wide enough."""
    piece = lot.piece
    w, h = piece.ink_w_mm, piece.ink_h_mm
    bar, words = _scale(w, proof)
    wide = max(w, bar) + 2
    high = h + _FOOT_MM + wide * 0.02
    left = (wide - w) / 2
    title = f"The print as it will be worn, {proof.size(w, h)}"
    return tag(
        "svg",
        tag("title", title),
        tag(
            "use",
            href=f"#{proof.gallery.name(piece.picture)}",
            transform=f"matrix({number(w)} 0 0 {number(h)} {number(left)} 1)",
        ),
        tag("rect", class_="edge", x=left, y=1, width=w, height=h),
        _bar(wide, h + 6, bar, words),
        viewBox=f"0 0 {number(wide)} {number(high)}",
        width=f"{number(wide)}mm",
        height=f"{number(high)}mm",
        role="img",
        aria_label=title,
    )


def _scale(width: float, proof: Proof) -> tuple[float, str]:
    """The longest round length that is no longer than the print; for the smallest prints the shortest there is."""
    scales = _SCALES[proof.units]
    return next((one for one in scales if one[0] <= width), scales[-1])


def _bar(wide: float, y: float, length: float, words: str) -> Markup:
    x = (wide - length) / 2
    path = f"M{number(x)} {number(y - 1.2)}v2.4m0 -1.2h{number(length)}m0 -1.2v2.4"
    size = max(3.6, wide * 0.03)  # a large print is shown small, its scale must still be read
    text = tag("text", words, x=wide / 2, y=y + 1.8 + size, font_size=size, text_anchor="middle")
    return tag("g", tag("path", class_="rule", d=path), text)


def _sign() -> Markup:
    lines = ("Name", "Signature", "Date")
    return tag(
        "section",
        tag("h2", "Please check and sign"),
        tag("ul", [tag("li", tag("span", class_="box", aria_hidden="true"), tag("span", c)) for c in _CHECKS],
            class_="checks"),
        tag("p", "Changes, if any:"),
        tag("div", tag("div"), tag("div"), class_="blank", aria_hidden="true"),
        tag("div", [tag("div", line) for line in lines], class_="lines"),
        class_="sign",
    )  # fmt: skip
