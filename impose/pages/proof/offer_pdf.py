"""`offers/<order>.pdf`: the offer on one page of plain paper, to be attached to a message or printed.

Drawings share what the words leave of the page. An order of so many prices that they do not fit goes on to a next page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from impose.pages.pdf.canvas import PdfPages
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.proof.approval_pdf import PAPERS, PageFlow, draw_worn_faces, fit_words
from impose.pages.proof.offer import Offer, OfferLine
from impose.pages.proof.proof_model import Proof
from impose.pages.tickets.text_blocks import draw_paragraph, measure_height
from impose.type.lettering import TextShaper
from impose.type.sanitise import clean_text

EDGE, FOOT = 16.0, 14.0
_TEXT, _SMALL, _LARGE, _SUM = 3.5, 2.9, 6.2, 4.2
_COLUMNS = (0.58, 0.70, 0.84, 1.0)
"""Where the columns end, as shares of the width: garments, number, each, amount."""
_LEAST_LOOK, _MOST_LOOK = 38.0, 92.0
_CAPTION = 10.0
_GAP = 6.0


def write_offer(path: Path, proof: Proof, offer: Offer, faces: tuple[TextShaper, TextShaper]) -> None:
    """Write the file of one order, in a regular and a bold face."""
    title, size = clean_text(offer.title)[0], PAPERS[proof.profiles.settings.ticket_paper]
    head = offer.say_sentence("file_title", reference=offer.reference, order=title)
    with PdfFile() as document:
        pages = PdfPages(document, *faces)
        flow = PageFlow(pages, size, head, offer.texts)
        if offer.shop:
            flow.write_text(clean_text(offer.shop)[0], _SMALL, after=2)
        flow.write_text(offer.say_sentence("reference", reference=offer.reference), _SMALL)
        flow.write_text(title, _LARGE, heavy=True, after=3)
        _draw_looks(flow, proof, offer)
        _write_table(flow, offer)
        if offer.terms:
            flow.write_text(clean_text(offer.terms)[0], after=3)
        for note in offer.notes:
            flow.write_text(note, _SMALL, after=1)
        flow.end_page()
        pages.save_document(path, head)


def _draw_looks(flow: PageFlow, proof: Proof, offer: Offer) -> None:
    """The looks beside each other, as large as the words of the page allow."""
    count = len(offer.looks)
    across = 1 if count <= 2 else 2 if count <= 4 else 3
    rows = -(-count // across)
    free = flow.size[1] - FOOT - flow.y - _measure_words(flow, offer)
    high = max(_LEAST_LOOK, min(_MOST_LOOK, free / rows - _CAPTION - _GAP))
    wide = (flow.width - _GAP * (across - 1)) / across
    for start in range(0, count, across):
        flow.ensure_room(high + _CAPTION)
        tops = []
        for column, number in enumerate(range(start + 1, min(start + across, count) + 1)):
            left = EDGE + column * (wide + _GAP)
            drawn = draw_worn_faces(flow.canvas, proof, offer.looks[number - 1].first.prints,
                                    (left, flow.y, wide, high))  # fmt: skip
            line = fit_words(flow.pages.lettering, offer.caption_look(number), wide / _SMALL)
            flow.canvas.draw_words(line, left, flow.y + drawn + 8.5, _SMALL)
            tops.append(drawn)
        flow.y += max(tops) + _CAPTION + _GAP


def _measure_words(flow: PageFlow, offer: Offer) -> float:
    """What the table and the words below it take, in mm."""
    rows = sum(_measure_row(flow, offer, line) for line in offer.lines)
    words = [(offer.terms, _TEXT), *((note, _SMALL) for note in offer.notes)]
    below = sum(measure_height(flow.pages.lettering, text, flow.width, size) + 3 for text, size in words if text)
    return rows + 8 + len(offer.sums) * 6.5 + 8 + below


def _describe_line(offer: Offer, line: OfferLine) -> list[tuple[str, float, bool]]:
    """The words of a row: text, size, heavy."""
    texts = [(clean_text(line.garments)[0], _TEXT, True), (offer.describe_prints(line), _SMALL, False),
             (offer.list_steps(line), _SMALL, False)]  # fmt: skip
    return [entry for entry in texts if entry[0]]


def _measure_row(flow: PageFlow, offer: Offer, line: OfferLine) -> float:
    wide = flow.width * _COLUMNS[0] - 4
    return (
        sum(measure_height(flow.pages.lettering, text, wide, size) for text, size, _ in _describe_line(offer, line)) + 3
    )


def _write_table(flow: PageFlow, offer: Offer) -> None:
    _write_cells(flow, offer.heads, _SMALL, 0.35)
    flow.y += 6
    for line in offer.lines:
        flow.ensure_room(_measure_row(flow, offer, line))
        flow.canvas.draw_line(EDGE, flow.y, EDGE + flow.width, flow.y, 0.15, 0.6)
        flow.y += 0.8
        _write_cells(flow, ("", str(line.count), line.each, line.amount), _TEXT, 0.0)
        for text, size, heavy in _describe_line(offer, line):
            flow.y = draw_paragraph(flow.canvas, text, EDGE, flow.y, flow.width * _COLUMNS[0] - 4, size, heavy=heavy)
        flow.y += 2.2
    flow.ensure_room(len(offer.sums) * 6.5 + 8)
    flow.canvas.draw_line(EDGE, flow.y, EDGE + flow.width, flow.y, 0.35, 0.0)
    for (words, amount), last in _mark_last(offer.sums):
        flow.y += 6.5
        size = _SUM if last else _TEXT
        right = EDGE + flow.width
        flow.canvas.draw_words(words, EDGE + flow.width * _COLUMNS[2], flow.y, size, align="right", heavy=last)
        flow.canvas.draw_words(amount, right, flow.y, size, align="right", heavy=last)
    flow.y += 8


def _mark_last(sums: Sequence[tuple[str, str]]) -> Iterator[tuple[tuple[str, str], bool]]:
    for index, entry in enumerate(sums):
        yield entry, index == len(sums) - 1


def _write_cells(flow: PageFlow, cells: Sequence[str], size: float, grey: float) -> None:
    """The first cell at the left, the others right-aligned at the ends of their columns."""
    for index, text in enumerate(cells):
        if not text:
            continue
        x = EDGE if index == 0 else EDGE + flow.width * _COLUMNS[index]
        flow.canvas.draw_words(text, x, flow.y + size * 1.22, size, grey=grey, align="right" if index else "left")
