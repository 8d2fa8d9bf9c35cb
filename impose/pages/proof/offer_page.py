"""`offers/<order>.html`: what an order will cost its customer, beside the drawing that is approved."""

from __future__ import annotations

from impose.pages.proof.approval_page import store_pictures
from impose.pages.proof.garment_drawings import draw_garment_faces
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
        make_element("p", offer.say_sentence("reference", reference=offer.reference), class_="quiet"),
        make_element("h1", name_element(offer.title)),
        store_pictures(proof, offer.looks),
        _make_table(offer),
        make_element("p", name_element(offer.terms), class_="terms") if offer.terms else None,
        make_element("div", [_draw_look(proof, offer, n) for n in range(1, len(offer.looks) + 1)], class_="looks"),
        [make_element("p", note, class_="quiet small") for note in offer.notes],
    )
    custom = offer.texts.custom
    return make_document(
        offer.say_sentence("page_title", order=offer.title), OFFER_STYLE, body,
        language=custom.language, right_to_left=custom.right_to_left,
    )  # fmt: skip


def _draw_look(proof: Proof, offer: Offer, number: int) -> Markup:
    look = offer.looks[number - 1]
    what = offer.texts.fill_sentence("approval", "drawing", garment=look.first.words)
    return make_element(
        "section",
        draw_garment_faces(look.first.prints, proof.gallery, what, offer.texts, _FACE_REM),
        make_element("p", offer.caption_look(number)),
        class_="print",
    )


def _make_table(offer: Offer) -> Markup:
    garments, *others = offer.heads
    head = make_element(
        "tr", make_element("th", garments), [make_element("th", words, class_="end") for words in others]
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
        make_element("tbody", [_make_row(offer, line) for line in offer.lines]),
        make_element("tfoot", sums),
        class_="prices",
    )


def _make_row(offer: Offer, line: OfferLine) -> Markup:
    steps = offer.list_steps(line)
    _, number, each, amount = offer.heads
    cells = ((number, str(line.count)), (each, line.each), (amount, line.amount))
    return make_element(
        "tr",
        make_element(
            "td",
            make_element("span", name_element(line.garments), class_="what"),
            make_element("span", offer.describe_prints(line), class_="quiet small"),
            make_element("span", steps, class_="quiet small") if steps else None,
        ),
        [make_element("td", text, class_="end number", data_head=words) for words, text in cells],
    )
