"""`approval/<order>.pdf`: the approval page as one file that can be attached to a message, printed and signed.

The same looks, rosters and checks as the page, on plain paper. Drawings are to one scale for each look.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from impose.pages.pdf.canvas import Align, PdfCanvas, PdfPages
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.proof.answer_form import CHECKS
from impose.pages.proof.gallery import picture_key
from impose.pages.proof.garment_drawings import measure_face_span, name_face
from impose.pages.proof.garment_looks import GarmentLook, ProofGarment, ProofPrint
from impose.pages.proof.print_sentences import choose_drawn_key, choose_print_key, tell_sizes
from impose.pages.proof.proof_model import Proof
from impose.pages.tickets.garment_outlines import draw_outline
from impose.pages.tickets.text_blocks import PITCH, draw_paragraph, wrap_text
from impose.profiles.customer_texts import CustomerTexts
from impose.sheet.press_steps import PressStep
from impose.type.lettering import ShapedLine, TextShaper
from impose.type.sanitise import clean_text
from impose.units import Box

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
_EDGE, _FOOT = 16.0, 14.0
_TEXT, _SMALL, _LARGE = 3.4, 2.9, 6.2
_ROW = 7.4
_FACES_HIGH = 82.0
_BETWEEN = 6.0


class PageFlow:
    """Pages filled from top to bottom; `need` begins a new one where the rest is too low."""

    def __init__(self, pages: PdfPages, size: tuple[float, float], title: str, texts: CustomerTexts) -> None:
        self.pages, self.size, self.title, self.texts = pages, size, title, texts
        self.count = 0
        self._begin_page()

    def _begin_page(self) -> None:
        self.count += 1
        self.canvas: PdfCanvas = self.pages.new_page(*self.size)
        self.y = _EDGE
        foot = self.texts.fill_sentence("approval", "page_foot", title=self.title, page=self.count)
        self.draw_line_of_text(fit_words(self.pages.lettering, foot, self.width / _SMALL), 0, self.size[1] - 7, 0.35)

    @property
    def width(self) -> float:
        """Of the column of text."""
        return self.size[0] - 2 * _EDGE

    @property
    def right_to_left(self) -> bool:
        """Whether the customer reads from right to left."""
        return self.texts.custom.right_to_left

    def place_along(self, along: float, wide: float = 0.0) -> float:
        """The left edge of what is so wide and begins so far along a line, by the direction of reading."""
        return self.size[0] - _EDGE - along - wide if self.right_to_left else _EDGE + along

    def draw_line_of_text(
        self, text: str | ShapedLine, along: float, y: float, grey: float, size: float = _SMALL
    ) -> None:
        """One line that begins so far along, on the baseline `y`."""
        align: Align = "right" if self.right_to_left else "left"
        self.canvas.draw_words(text, self.place_along(along), y, size, grey=grey, align=align)

    def ensure_room(self, height: float) -> None:
        """See that so much room is left on the page."""
        if self.y + height > self.size[1] - _FOOT:
            self.end_page()
            self._begin_page()

    def end_page(self) -> None:
        """The page is full, or the last."""
        self.pages.add_page(self.canvas)

    def write_text(self, words: str, size: float = _TEXT, heavy: bool = False, after: float = 1.5) -> None:
        """A paragraph."""
        self.ensure_room(size * 3)
        below = draw_paragraph(
            self.canvas, words, _EDGE, self.y, self.width, size, heavy=heavy, right_to_left=self.right_to_left
        )
        self.y = below + after


def write_approval(
    path: Path,
    proof: Proof,
    title: str,
    reference: str,
    looks: Sequence[GarmentLook],
    faces: tuple[TextShaper, TextShaper],
) -> None:
    """Write the file of one order, in a regular and a bold face."""
    size = PAPERS[proof.profiles.settings.ticket_paper]
    texts = proof.profiles.texts
    head = texts.fill_sentence("approval", "file_title", reference=reference, order=clean_text(title)[0])
    with PdfFile() as document:
        pages = PdfPages(document, *faces)
        flow = PageFlow(pages, size, head, texts)
        flow.write_text(texts.fill_sentence("approval", "reference", reference=reference), _SMALL)
        flow.write_text(clean_text(title)[0], _LARGE, heavy=True, after=3)
        flow.write_text(texts.fill_sentence("approval", "lead"), after=4)
        for number, look in enumerate(looks, 1):
            _draw_look(flow, proof, look, number)
        _draw_signature(flow, reference)
        flow.end_page()
        pages.save_document(path, head)


def _draw_look(flow: PageFlow, proof: Proof, look: GarmentLook, number: int) -> None:
    flow.ensure_room(_FACES_HIGH + 40)
    flow.write_text(
        flow.texts.fill_sentence("approval", "look", number=number, count=look.count), 4.4, heavy=True, after=1
    )
    shown = {"garment": clean_text(look.first.words)[0]}
    if look.first.wearer:
        shown["wearer"] = clean_text(look.first.wearer)[0]
    flow.write_text(flow.texts.fill_sentence("approval", choose_drawn_key(look), **shown), _SMALL, after=2)
    _draw_faces(flow, proof, look.first.prints)
    for index, proof_print in enumerate(look.first.prints):
        place = proof.name_place(proof_print)
        sentence = flow.texts.fill_sentence(
            "approval",
            choose_print_key(proof_print),
            place=f"{place[:1].upper()}{place[1:]}",
            size=tell_sizes(proof, look, index),
            what=clean_text(proof.name_source(proof_print.row))[0],
        )
        flow.write_text(f"{index + 1}  {sentence}", after=0.6)
    flow.y += 2
    _write_roster(flow, look, [proof.name_place(proof_print) for proof_print in look.first.prints])
    flow.y += 5


def _draw_faces(flow: PageFlow, proof: Proof, prints: Sequence[ProofPrint]) -> None:
    flow.y += 7 + draw_worn_faces(flow.canvas, proof, prints, (_EDGE, flow.y, flow.width, _FACES_HIGH))


def draw_worn_faces(
    canvas: PdfCanvas, proof: Proof, prints: Sequence[ProofPrint], room: tuple[float, float, float, float]
) -> float:
    """The faces in a row within x, y, width and height, each print where it is worn; how high they came out."""
    left, top, wide, most = room
    faces: dict[tuple[object, ...], list[tuple[int, ProofPrint]]] = {}
    for index, proof_print in enumerate(prints, 1):
        face = proof_print.steps[0].shape.face
        faces.setdefault((face, index if face == "other" else 0), []).append((index, proof_print))
    spans = [measure_face_span(of) for of in faces.values()]
    names = [name_face(of[0][1].steps[0].shape.face, proof.profiles.texts) for of in faces.values()]
    scale, captions = _fit_faces(canvas.pages.lettering, spans, names, wide, most)
    x, high = left, max(box.h for box in spans) * scale
    for of, box, lines in zip(faces.values(), spans, captions, strict=True):
        draw_worn_face(canvas, proof, of, box, (x, top + high - box.h * scale, scale))
        for index, line in enumerate(lines):
            y = top + high + 3.5 + index * _SMALL * PITCH
            canvas.draw_words(line, x + box.w * scale / 2, y, _SMALL, align="centre", grey=0.3)
        x += box.w * scale + _BETWEEN
    return high + _measure_more(captions)


def _fit_faces(
    lettering: TextShaper, spans: Sequence[Box], names: Sequence[str], wide: float, most: float
) -> tuple[float, list[list[str]]]:
    """The scale at which faces in a row fit, and their captions in lines that keep out of the next one's way."""
    free, tallest = wide - _BETWEEN * (len(spans) - 1), max(box.h for box in spans)
    scale = min(free / sum(box.w for box in spans), most / tallest)
    # Lines take height, and a smaller scale may take more lines: twice is enough for captions of a few words.
    for _ in range(2):
        captions = _wrap_captions(lettering, spans, names, scale)
        scale = min(scale, (most - _measure_more(captions)) / tallest)
    return scale, _wrap_captions(lettering, spans, names, scale)


def _wrap_captions(lettering: TextShaper, spans: Sequence[Box], names: Sequence[str], scale: float) -> list[list[str]]:
    return [
        wrap_text(lettering, name, _SMALL, box.w * scale + _BETWEEN - 1) for name, box in zip(names, spans, strict=True)
    ]


def _measure_more(captions: Sequence[Sequence[str]]) -> float:
    """What captions take beyond one line, in mm."""
    return max(0, max(map(len, captions)) - 1) * _SMALL * PITCH


def draw_worn_face(
    canvas: PdfCanvas, proof: Proof, prints: Sequence[tuple[int, ProofPrint]], span: Box, at: tuple[float, float, float]
) -> None:
    """A face with its prints; `at` is where its span begins on the page, and the scale."""
    left, top, scale = at

    def put(x: float, y: float) -> tuple[float, float]:
        return left + (x - span.x) * scale, top + (y - span.y) * scale

    for part in draw_outline(prints[0][1].steps[0].shape):
        segments = [
            (kind, tuple(v for i in range(0, len(values), 2) for v in put(values[i], values[i + 1])))
            for kind, values in part.segments
        ]
        canvas.draw_path(segments, 0.35 if part.role == "edge" else 0.15, 0.35, 1.0 if part.role == "edge" else None)
    for index, proof_print in prints:
        for step in proof_print.steps:
            box = step.spot.box
            x, y = put(box.x, box.y)
            canvas.draw_picture(
                _make_image(canvas.pages, proof, step), Box(x, y, box.w * scale, box.h * scale), step.spot.turned
            )
        first = proof_print.steps[0].spot.box
        x, y = put(first.x, first.y)
        canvas.draw_words(str(index), x - 0.8, y + 2.6, 3.2, align="right", heavy=True)


def _make_image(pages: PdfPages, proof: Proof, step: PressStep) -> str:
    picture = step.transfer.piece.picture
    return pages.add_picture(picture_key(picture), proof.gallery.draw_as_worn(picture))


def _write_roster(flow: PageFlow, look: GarmentLook, places: Sequence[str]) -> None:
    """A line for each garment: for whom, what, its words, a box."""
    worded = [index for index, proof_print in enumerate(look.first.prints) if proof_print.row.words]
    parts = [0.3, 0.3, *(0.34 / max(1, len(worded)) for _ in worded)]
    heads = [flow.texts.fill_sentence("approval", f"roster_{key}") for key in ("for", "garment")]
    heads += [places[index] for index in worded]
    flow.ensure_room(3 * _ROW)
    _write_cells(flow, heads, parts, _SMALL, 0.35)
    for garment in look.garments:
        flow.ensure_room(_ROW)
        flow.canvas.draw_line(_EDGE, flow.y, _EDGE + flow.width, flow.y, 0.15, 0.6)
        _write_cells(flow, _list_cells(flow.texts, garment, worded), parts, _TEXT, 0.0)
        flow.canvas.draw_box(Box(flow.place_along(flow.width - 5, 4), flow.y - _ROW + 1.7, 4, 4), 0.3)


def _list_cells(texts: CustomerTexts, garment: ProofGarment, worded: Sequence[int]) -> list[str]:
    words = [garment.prints[index].row.words.replace("\n", " / ") for index in worded]
    return [garment.wearer or texts.fill_sentence("approval", "nobody"), garment.tell_count(texts), *words]


def _write_cells(flow: PageFlow, cells: Sequence[str], parts: Sequence[float], size: float, grey: float) -> None:
    along = 0.0
    for text, part in zip(cells, parts, strict=True):
        room = part * (flow.width - 8)
        line = fit_words(flow.pages.lettering, clean_text(text)[0], (room - 2) / size)
        flow.draw_line_of_text(line, along, flow.y + _ROW - 2.4, grey, size)
        along += room
    flow.y += _ROW


def fit_words(lettering: TextShaper, text: str, width_em: float) -> ShapedLine:
    """A line of text, shortened where it is wider than the room."""
    line = lettering.shape_line([text])
    return line if line.width <= width_em else lettering.fit_line(text, width_em)


def _draw_signature(flow: PageFlow, reference: str) -> None:
    flow.ensure_room(74)
    flow.write_text(flow.texts.fill_sentence("approval", "sign"), 4.4, heavy=True)
    for check in CHECKS:
        flow.ensure_room(12)
        flow.canvas.draw_box(Box(flow.place_along(0, 4), flow.y + 0.8, 4, 4), 0.3)
        text, wide = flow.texts.fill_sentence("approval", check), flow.width - 7
        left = flow.place_along(7, wide)
        flow.y = draw_paragraph(flow.canvas, text, left, flow.y, wide, _TEXT, right_to_left=flow.right_to_left) + 2
    flow.write_text(flow.texts.fill_sentence("approval", "sign_agree", reference=reference), after=14)
    flow.canvas.draw_line(_EDGE, flow.y - 5, _EDGE + flow.width, flow.y - 5, 0.15, 0.5)
    flow.y += 10
    third = flow.width / 3
    for index, key in enumerate(("name", "signature", "date")):
        x = flow.place_along(index * third, third - 5)
        flow.canvas.draw_line(x, flow.y, x + third - 5, flow.y, 0.25)
        flow.draw_line_of_text(flow.texts.fill_sentence("approval", key), index * third, flow.y + 4, 0.35)
    flow.y += 8
