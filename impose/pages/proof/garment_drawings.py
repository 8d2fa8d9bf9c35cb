"""A garment drawn for its wearer: each face with a print on it, the prints in place, all to one scale.

The outlines are those of the press tickets. One user unit is a millimetre of cloth; what a face measures on the screen
follows from the largest face, so that a chest print beside a back print is as small as it will be.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from impose.pages.proof.markup import Markup, format_number, make_element
from impose.pages.tickets.garment_outlines import Segments, draw_outline, outline_extent
from impose.profiles.customer_texts import CustomerTexts
from impose.sheet.garment_faces import FaceShape
from impose.units import Box

if TYPE_CHECKING:
    from impose.pages.proof.gallery import PictureGallery
    from impose.pages.proof.garment_looks import ProofPrint
    from impose.sheet.press_steps import PressStep

_WIDEST_REM = 19.0
_NARROWEST_REM = 4.0
_AROUND_MM = 8.0
_BADGE = 0.055  # radius of a number, as a share of the widest face


def draw_garment_faces(
    prints: Sequence[ProofPrint],
    gallery: PictureGallery,
    what: str,
    texts: CustomerTexts,
    widest_rem: float = _WIDEST_REM,
) -> Markup:
    """The faces side by side, the widest of them `widest_rem` wide; `what` says in words what is drawn."""
    faces: dict[tuple[object, ...], list[tuple[int, ProofPrint]]] = {}
    for index, proof_print in enumerate(prints, 1):
        shape = proof_print.steps[0].shape
        # Two prints whose place is not known have a cloth of their own each.
        faces.setdefault((shape.face, index if shape.face == "other" else 0), []).append((index, proof_print))
    spans = [measure_face_span(of) for of in faces.values()]
    widest = max(box.w for box in spans)
    scale = widest_rem / widest
    captions = [name_face(of[0][1].steps[0].shape.face, texts) for of in faces.values()]
    drawn = [_draw_face(of, box, scale, widest, gallery) for of, box in zip(faces.values(), spans, strict=True)]
    figures = [
        make_element("figure", drawing, make_element("figcaption", caption))
        for drawing, caption in zip(drawn, captions, strict=True)
    ]
    return make_element("div", figures, class_="faces", role="img", aria_label=what)


def measure_face_span(prints: Sequence[tuple[int, ProofPrint]]) -> Box:
    """What a drawing spans: the garment and every print on it."""
    steps = [step for _, proof_print in prints for step in proof_print.steps]
    boxes = [outline_extent(steps[0].shape), *(step.spot.box for step in steps)]
    x, y = min(box.x for box in boxes) - _AROUND_MM, min(box.y for box in boxes) - _AROUND_MM
    return Box(x, y, max(b.right for b in boxes) + _AROUND_MM - x, max(b.bottom for b in boxes) + _AROUND_MM - y)


def _draw_face(
    prints: Sequence[tuple[int, ProofPrint]], box: Box, scale: float, widest: float, gallery: PictureGallery
) -> Markup:
    shape = prints[0][1].steps[0].shape
    steps = [step for _, proof_print in prints for step in proof_print.steps]
    view = f"{format_number(box.x)} {format_number(box.y)} {format_number(box.w)} {format_number(box.h)}"
    wide = max(_NARROWEST_REM, box.w * scale)
    return make_element(
        "svg",
        list(draw_cloth(shape)),
        [draw_placed_picture(step, gallery) for step in steps],
        [_draw_badge(index, proof_print, widest) for index, proof_print in prints],
        viewBox=view,
        width=f"{wide:.2f}rem",
        height=f"{wide * box.h / box.w:.2f}rem",
        aria_hidden="true",
        focusable="false",
    )


def name_face(face: str, texts: CustomerTexts) -> str:
    """A face of a garment in the customer's words."""
    return texts.fill_sentence("faces", face.replace(" ", "_"))


def draw_cloth(shape: FaceShape) -> Iterator[Markup]:
    """The outline and the seams of a face."""
    for part in draw_outline(shape):
        yield make_element("path", class_=f"cloth {part.role}", d=_make_path(part.segments))


def _make_path(segments: Segments) -> str:
    letters = {"m": "M", "l": "L", "c": "C", "h": "Z"}
    return "".join(letters[kind] + " ".join(format_number(value) for value in values) for kind, values in segments)


def draw_placed_picture(step: PressStep, gallery: PictureGallery) -> Markup:
    """A print where it is worn, turned with its sleeve."""
    box = step.spot.box
    values = {
        0: (box.w, 0, 0, box.h, box.x, box.y),
        90: (0, box.h, -box.w, 0, box.right, box.y),
        270: (0, -box.h, box.w, 0, box.x, box.bottom),
    }[step.spot.turned]
    matrix = " ".join(format_number(value) for value in values)
    return make_element(
        "use", href=f"#{gallery.picture_name(step.transfer.piece.picture)}", transform=f"matrix({matrix})"
    )


def _draw_badge(index: int, proof_print: ProofPrint, widest: float) -> Markup:
    """The print's number at its upper left, beside the picture so that it hides nothing of it."""
    radius = widest * _BADGE / 2
    x = min(step.spot.box.x for step in proof_print.steps) - radius * 1.2
    y = min(step.spot.box.y for step in proof_print.steps) + radius
    text = make_element("text", str(index), x=x, y=y + radius * 0.5, font_size=radius * 1.4, text_anchor="middle")
    return make_element("g", make_element("circle", cx=x, cy=y, r=radius), text, class_="badge")
