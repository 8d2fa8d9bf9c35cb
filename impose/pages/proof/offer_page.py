"""`offers/<order>.html`: what an order will cost its customer, beside the drawing that is approved."""

from __future__ import annotations

from impose.pages.proof.approval_page import store_pictures
from impose.pages.proof.garment_drawings import garment_drawing
from impose.pages.proof.markup import Markup, make_document, make_element, name_element
from impose.pages.proof.offer import Offer, OfferLine
from impose.pages.proof.proof_model import Proof
from impose.pages.proof.stylesheet import OFFER_STYLE

_FACE_REM = 8.5


def make_offer_page(proof: Proof, offer: Offer) -> bytes:
    """The page; it needs no other file, fetches nothing and runs nothing."""
    body = make_element(
        "main",
        make_element("p", name_element(offer.shop), class_="quiet") if offer.shop else None,
        make_element("p", f"Offer · reference {offer.reference}", class_="quiet"),
        make_element("h1", name_element(offer.title)),
        store_pictures(proof, offer.looks),
        _make_table(offer),
        make_element("p", name_element(offer.terms), class_="terms") if offer.terms else None,
        make_element("div", [_draw_look(proof, offer, n) for n in range(1, len(offer.looks) + 1)], class_="looks"),
        [make_element("p", note, class_="quiet small") for note in offer.notes],
    )
    return make_document(f"Offer: {offer.title}", OFFER_STYLE, body)


def _draw_look(proof: Proof, offer: Offer, number: int) -> Markup:
    look = offer.looks[number - 1]
    what = f"{look.first.words} with its prints in place, drawn to scale"
    return make_element(
        "section",
        garment_drawing(look.first.prints, proof.gallery, what, _FACE_REM),
        make_element("p", f"{number}. ", make_element("span", offer.describe_look(number))),
        class_="print",
    )


def _make_table(offer: Offer) -> Markup:
    numbered = len(offer.looks) > 1
    head = make_element(
        "tr",
        make_element("th", "Garments"),
        make_element("th", "Number", class_="end"),
        make_element("th", "Each", class_="end"),
        make_element("th", f"Amount in {offer.currency}", class_="end"),
    )
    sums = [
        make_element(
            "tr",
            make_element("th", words, colspan=3, scope="row", class_="end"),
            make_element("td", amount, class_="end number"),
            class_="total" if index == len(offer.sums) - 1 else None,
        )
        for index, (words, amount) in enumerate(offer.sums)
    ]
    return make_element(
        "table",
        make_element("thead", head),
        make_element("tbody", [_make_row(offer, line, numbered) for line in offer.lines]),
        make_element("tfoot", sums),
        class_="prices",
    )


def _make_row(offer: Offer, line: OfferLine, numbered: bool) -> Markup:
    drawn = f"As drawn in {line.look}: " if numbered else ""
    steps = offer.list_steps(line)
    return make_element(
        "tr",
        make_element(
            "td",
            make_element("span", name_element(line.garments), class_="what"),
            make_element("span", drawn, offer.describe_look(line.look), class_="quiet small"),
            make_element("span", steps, class_="quiet small") if steps else None,
        ),
        make_element("td", str(line.count), class_="end number", data_head="Number"),
        make_element("td", line.each, class_="end number", data_head="Each"),
        make_element("td", line.amount, class_="end number", data_head="Amount"),
    )
