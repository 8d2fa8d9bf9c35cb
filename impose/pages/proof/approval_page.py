"""`approval/<order>.html`: what one customer is asked to agree to, and nothing of anyone else.

Each garment that looks different drawn once with its prints in place, a list of who gets it, every picture at its size
against a scale, boxes to tick, and an answer to send back. The names stand large, because a wrong letter is the fault
that no press can mend. No paper, no cost, no sheet, no other order.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from impose.orders.batch import Batch, OrderKey
from impose.pages.pdf.font_book import open_reading_faces
from impose.pages.proof.answer_form import SCRIPT, answer_section
from impose.pages.proof.approval_pdf import write_approval
from impose.pages.proof.filenames import choose_file_names
from impose.pages.proof.garment_drawings import draw_garment_faces
from impose.pages.proof.garment_looks import GarmentLook, LooksByOrder, ProofPrint, Size, order_code
from impose.pages.proof.markup import Markup, fill_markup, format_number, make_document, make_element, name_element
from impose.pages.proof.order_lots import OrderLots
from impose.pages.proof.print_sentences import choose_drawn_key, choose_print_key, tell_sizes
from impose.pages.proof.proof_page import Proof
from impose.pages.proof.roster_table import make_roster_table
from impose.pages.proof.stylesheet import APPROVAL_STYLE
from impose.sheet.press_steps import PressStep
from impose.units import MM_PER_INCH

FOLDER = "approval"
_FOOT_MM = 14.0  # room under the picture for the scale
_SCALES = {
    "mm": (100.0, 50.0, 20.0, 10.0, 5.0),
    "in": tuple(inches * MM_PER_INCH for inches in (4, 2, 1, 0.5, 0.25)),
}


def name_approval_files(batch: Batch) -> dict[OrderKey, tuple[int, str]]:
    """The first row of each order and the file of its page, in the order of the batch."""
    orders: dict[OrderKey, int] = {}
    for row in sorted(batch.rows, key=lambda row: row.row):
        orders.setdefault(row.order_key, row.row)
    stems = choose_file_names(order or f"row {row}" for (order, _), row in orders.items())
    return {key: (row, f"{FOLDER}/{stem}.html") for (key, row), stem in zip(orders.items(), stems, strict=True)}


def list_approval_files(batch: Batch) -> list[dict[str, Any]]:
    """Which page belongs to which order, for the record: order, first row, file; in the order of the batch."""
    return [{"order": key[0], "row": row, "file": file} for key, (row, file) in name_approval_files(batch).items()]


def write_approvals(proof: Proof, orders: Sequence[OrderLots], folder: Path) -> None:
    """Write each order's page, and once more as a PDF beside it, to be attached to a message."""
    faces = open_reading_faces()
    for name, order, looks in _list_pages(proof, orders):
        path, reference = folder / name, _make_reference(proof, looks)
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(_make_page(proof, order, looks, reference))
        write_approval(path.with_suffix(".pdf"), proof, proof.title_order(order), reference, looks, faces)


def _list_pages(proof: Proof, orders: Sequence[OrderLots]) -> Iterator[tuple[str, OrderLots, Sequence[GarmentLook]]]:
    """The file name of each order's page, and the garments on it that look different."""
    looks = LooksByOrder(proof.batch.rows, proof.layout, proof.profiles)
    files = name_approval_files(proof.batch)
    for order in orders:
        key = order.lots[0].row.order_key
        yield files[key][1], order, looks.find_looks(key)


def _make_reference(proof: Proof, looks: Sequence[GarmentLook]) -> str:
    """What names exactly this page: the batch's code, and one of all that is shown."""
    return f"{proof.layout.code}-{order_code(looks)}"


def _make_page(proof: Proof, order: OrderLots, looks: Sequence[GarmentLook], reference: str) -> bytes:
    texts, title = proof.profiles.texts, proof.title_order(order)
    pictures = _list_pictures(looks)
    body = make_element(
        "main",
        make_element("p", fill_markup(texts, "approval", "reference", reference=reference), class_="quiet"),
        make_element("h1", name_element(title)),
        make_element("p", texts.fill_sentence("approval", "lead"), class_="lead"),
        store_pictures(proof, looks),
        [_draw_look(proof, look, number) for number, look in enumerate(looks, 1)],
        make_element("h2", texts.fill_sentence("approval", "pictures"), class_="apart") if pictures else None,
        [_draw_picture(proof, proof_print, sizes) for proof_print, sizes in pictures],
        answer_section(texts, reference, title),
    )
    head = texts.fill_sentence("approval", "page_title", order=title)
    custom = texts.custom
    return make_document(
        head, APPROVAL_STYLE, body, script=SCRIPT, language=custom.language, right_to_left=custom.right_to_left
    )


def store_pictures(proof: Proof, looks: Sequence[GarmentLook]) -> Markup:
    """Each picture once, one unit square, however many sizes it is shown at."""
    images = {}
    prints = (proof_print for look in looks for garment in look.garments for proof_print in garment.prints)
    for step in (step for proof_print in prints for step in proof_print.steps):
        picture = step.transfer.piece.picture
        ident = proof.gallery.picture_name(picture)
        if ident not in images:
            uri = proof.gallery.draw_as_worn(picture).data_uri
            images[ident] = make_element("image", id=ident, width=1, height=1, preserveAspectRatio="none", href=uri)
    defs = make_element("defs", images.values())
    return make_element("svg", defs, class_="store", width=0, height=0, aria_hidden="true", focusable="false")


def _draw_look(proof: Proof, look: GarmentLook, number: int) -> Markup:
    """Garments that look alike: the first drawn, its prints listed, and a row for each of them."""
    texts, first = proof.profiles.texts, look.first
    shown: dict[str, Markup] = {"garment": name_element(first.words)}
    if first.wearer:
        shown["wearer"] = name_element(first.wearer)
    drawing = texts.fill_sentence("approval", "drawing", garment=first.words)
    return make_element(
        "section",
        make_element("h2", fill_markup(texts, "approval", "look", number=number, count=look.count)),
        make_element("p", fill_markup(texts, "approval", choose_drawn_key(look), **shown), class_="quiet"),
        draw_garment_faces(first.prints, proof.gallery, drawing, texts),
        make_element("ol", [_draw_print(proof, look, index) for index in range(len(first.prints))], class_="prints"),
        make_roster_table(proof, look, number),
        class_="print",
    )


def _draw_print(proof: Proof, look: GarmentLook, index: int) -> Markup:
    """One of the prints drawn: its place, its size on each garment of the look, which way it reads, what it is."""
    proof_print = look.first.prints[index]
    place = proof.name_place(proof_print)
    return make_element(
        "li",
        fill_markup(
            proof.profiles.texts,
            "approval",
            choose_print_key(proof_print),
            place=make_element("b", f"{place[:1].upper()}{place[1:]}"),
            size=tell_sizes(proof, look, index),
            what=name_element(proof.name_source(proof_print.row)),
        ),
    )


def _list_pictures(looks: Sequence[GarmentLook]) -> list[tuple[ProofPrint, list[Size]]]:
    """Every distinct picture at its largest size; words stand in the list of garments."""
    found: dict[object, tuple[ProofPrint, list[Size]]] = {}
    for look in looks:
        for garment in look.garments:
            for proof_print in garment.prints:
                if proof_print.row.words and len(look.garments) > 1:
                    continue
                largest, sizes = found.setdefault(proof_print.pictures, (proof_print, []))
                if proof_print.size not in sizes:
                    sizes.append(proof_print.size)
                if proof_print.size > largest.size:
                    found[proof_print.pictures] = proof_print, sizes
    return list(found.values())


def _draw_picture(proof: Proof, proof_print: ProofPrint, sizes: Sequence[Size]) -> Markup:
    row = proof_print.row
    return make_element(
        "section",
        make_element("h3", name_element(proof.name_source(row))),
        make_element("p", _tell_picture_sizes(proof, proof_print, sizes), class_="quiet"),
        make_element("p", [make_element("span", name_element(line)) for line in row.words.split("\n")], class_="spelt")
        if row.words
        else None,
        make_element("div", _draw_stage(proof, proof_print), class_="stage"),
        class_="print",
    )


def _tell_picture_sizes(proof: Proof, proof_print: ProofPrint, sizes: Sequence[Size]) -> str:
    texts = proof.profiles.texts
    told = list(dict.fromkeys(proof.format_for_customer(*size) for size in sorted(sizes)))
    facts = told[0]
    for size in told[1:4]:
        facts = texts.fill_sentence("approval", "both", first=facts, second=size)
    if len(told) > 4:
        facts = texts.fill_sentence("approval", "more_sizes", sizes=facts, count=len(told) - 4)
    if len(told) > 1:
        facts = texts.fill_sentence("approval", "largest_shown", sizes=facts)
    return texts.fill_sentence("approval", "in_parts", sizes=facts) if len(proof_print.steps) > 1 else facts


def _draw_stage(proof: Proof, proof_print: ProofPrint) -> Markup:
    """The print in millimetres over a scale; at 100 % on paper it has its true size, if the page is wide enough."""
    w, h = proof_print.piece.finished_size
    bar, words = _choose_scale(w, proof)
    wide = max(w, bar) + 2
    high = h + _FOOT_MM + wide * 0.02
    left = (wide - w) / 2
    title = proof.profiles.texts.fill_sentence("approval", "picture", size=proof.format_for_customer(w, h))
    return make_element(
        "svg",
        make_element("title", title),
        [_draw_use(proof, step, left) for step in proof_print.steps],
        make_element("rect", class_="edge", x=left, y=1, width=w, height=h),
        _draw_scale_bar(wide, h + 6, bar, words),
        viewBox=f"0 0 {format_number(wide)} {format_number(high)}",
        width=f"{format_number(wide)}mm",
        height=f"{format_number(high)}mm",
        role="img",
        aria_label=title,
    )


def _draw_use(proof: Proof, step: PressStep, left: float) -> Markup:
    """The picture, or a panel of it at its place in the whole."""
    piece = step.transfer.piece
    x, y = (piece.panel.box.x, piece.panel.box.y) if piece.panel else (0.0, 0.0)
    values = (
        piece.ink_w_mm / piece.cloth_x, 0, 0, piece.ink_h_mm / piece.cloth_y,
        left + x / piece.cloth_x, 1 + y / piece.cloth_y,
    )  # fmt: skip
    matrix = " ".join(format_number(value) for value in values)
    return make_element("use", href=f"#{proof.gallery.picture_name(piece.picture)}", transform=f"matrix({matrix})")


def _choose_scale(width: float, proof: Proof) -> tuple[float, str]:
    """The longest round length that is no longer than the print; for the smallest prints the shortest there is."""
    scales = _SCALES[proof.units]
    length = next((scale for scale in scales if scale <= width), scales[-1])
    return length, proof.profiles.texts.format_length(length, proof.units)


def _draw_scale_bar(wide: float, y: float, length: float, words: str) -> Markup:
    x = (wide - length) / 2
    path = f"M{format_number(x)} {format_number(y - 1.2)}v2.4m0 -1.2h{format_number(length)}m0 -1.2v2.4"
    size = max(3.6, wide * 0.03)  # a large print is shown small, its scale must still be read
    text = make_element("text", words, x=wide / 2, y=y + 1.8 + size, font_size=size, text_anchor="middle")
    return make_element("g", make_element("path", class_="rule", d=path), text)
