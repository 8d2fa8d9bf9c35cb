"""One half page: a garment's drawings, its prints in pressing order, the press, the order of work.

A garment with more prints than a half page holds goes on on the next; every half page is complete in itself, since
halves are cut apart and lie with their garments.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, NamedTuple

from impose.pages.pdf.canvas import Canvas
from impose.pages.tickets import sentences
from impose.pages.tickets.blocks import (
    PITCH,
    PRACTICE_MM,
    SIZE_MM,
    SMALL_MM,
    fitted,
    paragraph,
    plain_paper,
    practice,
    tick_box,
    wrapped,
)
from impose.pages.tickets.views import BESIDE_MM, GAP_MM, SCALES, Frame, as_worn, face_down, pencil, reach
from impose.sheet.lettering import Lettering
from impose.sheet.pressing import Step, Ticket
from impose.shop.press import Press
from impose.units import Box

SIDE_MM, TOP_MM = 10.0, 6.0
HEAD_MM = 12.4
LEAST_DRAWING_MM = 46.0
MOST_FACES = 4
_CAPTION_MM = 5.6
_BOXES_MM = 31.0  # the check boxes at the right of a step
_BOXES_H_MM = 11.5
_AROUND_MM = 8.0  # around a face's drawings, for what is written beside them
_PICTURE_MM = 11.5
_TEXT_X = 20.0
_CHECKS = ("torn", "lint off", "sheet inside", "laid, taped", "pressed", "checked")


@dataclass(frozen=True, slots=True)
class Style:
    """What all tickets of a batch share."""

    code: str
    batch: str
    press: Press
    units: Literal["mm", "in"]
    width: float
    height: float
    image: Callable[[Step], str]

    @property
    def inner(self) -> float:
        """The width between the margins."""
        return self.width - 2 * SIDE_MM

    @property
    def told(self) -> float:
        """The width of what is said of a step, between its picture and its check boxes."""
        return self.inner - _TEXT_X - _BOXES_MM


class Block(NamedTuple):
    """A step as it is told: the lines below its title (True for what must not be overlooked), and its height."""

    step: Step
    lines: tuple[tuple[str, bool], ...]
    high: float


@dataclass(frozen=True, slots=True)
class Half:
    """What one half page shows: some of a ticket's steps, numbered from `first` on."""

    ticket: Ticket
    number: int
    of: int
    blocks: tuple[Block, ...]
    first: int
    part: int
    parts: int


def halves(
    tickets: Sequence[Ticket], style: Style, lettering: Lettering, before: int = 0, of: int | None = None
) -> list[Half]:
    """The half pages of a batch: a ticket is parted, between faces where it can be, when its prints need more room."""
    found: list[Half] = []
    for number, ticket in enumerate(tickets, before + 1):
        parts = _parted(ticket, style, lettering)
        first = 1
        for part, blocks in enumerate(parts, 1):
            found.append(Half(ticket, number, of or len(tickets), tuple(blocks), first, part, len(parts)))
            first += len(blocks)
    return found


def _parted(ticket: Ticket, style: Style, lettering: Lettering) -> list[list[Block]]:
    """The steps in as few nearly equal parts as leave room for their drawings."""
    room = style.height - 2 * TOP_MM - HEAD_MM - PRACTICE_MM - _press_height(style, lettering) - LEAST_DRAWING_MM
    blocks = [_block(step, style, lettering) for step in ticket.steps]
    for count in range(1, len(blocks)):
        cuts = [round(len(blocks) * i / count) for i in range(count + 1)]
        parts = [blocks[a:b] for a, b in pairwise(cuts)]
        if all(
            sum(one.high for one in part) <= room and len({one.step.shape.face for one in part}) <= MOST_FACES
            for part in parts
        ):
            return parts
    return [[block] for block in blocks]


def draw_half(canvas: Canvas, half: Half, style: Style, top: float) -> None:
    """Draw one half page whose upper edge is at `top`."""
    lettering = canvas.pages.lettering
    y = top + TOP_MM
    _head(canvas, half, style, y)
    y += HEAD_MM
    bottom = top + style.height - TOP_MM
    text = sum(block.high for block in half.blocks) + _press_height(style, lettering)
    drawings = bottom - PRACTICE_MM - text - y
    _drawings(canvas, half, style, Box(SIDE_MM, y, style.inner, drawings))
    y += drawings
    for number, block in enumerate(half.blocks, half.first):
        y = _step(canvas, block, number, style, y)
    _press(canvas, style, y)
    form = canvas.pages.form("practice", style.inner, PRACTICE_MM, practice)
    canvas.stamp(form, SIDE_MM, bottom - PRACTICE_MM, PRACTICE_MM)


def _head(canvas: Canvas, half: Half, style: Style, y: float) -> None:
    """Plain paper, whose, what, and which of how many."""
    ticket, right = half.ticket, SIDE_MM + style.inner
    worn = ticket.worn
    x = SIDE_MM + plain_paper(canvas, SIDE_MM, y) + 4
    lettering = canvas.pages.lettering
    canvas.words(lettering.fit(sentences.heading(ticket), 78 / 5), x, y + 4.6, 5.0, heavy=True)
    part = f", part {half.part} of {half.parts}" if half.parts > 1 else ""
    which = lettering.sentence(f"ticket {half.number} of {half.of}{part}")
    canvas.words(which, right, y + 2.6, SIZE_MM, align="right")
    canvas.words(f"batch {style.code}   {style.batch}", right, y + 5.6, SMALL_MM, align="right")
    count = f"   garment {worn.number} of {worn.of}" if worn.of > 1 else ""
    setup = f"   set-up: {ticket.setup}" if ticket.setup else ""
    order = f"order {worn.order}   " if worn.order and worn.wearer else ""
    line = f"{order}{sentences.garment_line(worn)}{count}{setup}"
    canvas.words(fitted(lettering, line, style.inner / 3.0), SIDE_MM, y + 10.2, 3.0)
    canvas.line(SIDE_MM, y + 11.4, right, y + 11.4, 0.25)


def _drawings(canvas: Canvas, half: Half, style: Style, area: Box) -> None:
    """Each face of this half as worn and face down, side by side, all to one scale."""
    faces: dict[str, list[Step]] = {}
    for block in half.blocks:
        faces.setdefault(block.step.shape.face, []).append(block.step)
    spans = [reach(steps[0].shape, steps) for steps in faces.values()]
    high = area.h - _CAPTION_MM - 4.5
    scale = next((s for s in SCALES if _fits(spans, s, area.w, high)), SCALES[-1])
    total = sum(_pair_width(span, scale) for span in spans)
    spare = (area.w - total) / len(spans)
    x = area.x
    for (face, steps), span in zip(faces.items(), spans, strict=True):
        wide = _pair_width(span, scale) + spare
        _face(canvas, face, steps, span, scale, Box(x, area.y, wide, area.h), style)
        x += wide


def _fits(spans: Sequence[Box], scale: float, width: float, height: float) -> bool:
    return sum(_pair_width(span, scale) for span in spans) <= width and max(s.h for s in spans) / scale <= height


def _pair_width(span: Box, scale: float) -> float:
    """The width of a face's two drawings with room for their dimensions; never less than their captions need."""
    beside = BESIDE_MM if span.w < 400 else 0.0
    return max(2 * (span.w / scale + 2 * GAP_MM) + beside, 36.0)


def _face(canvas: Canvas, face: str, steps: Sequence[Step], span: Box, scale: float, area: Box, style: Style) -> None:
    """A face's two drawings: drawn once for all garments on which they are the same, the ids pencilled in on each."""
    own = Box(_AROUND_MM, _AROUND_MM, area.w, area.h)
    key = ("face", face, scale, round(area.w, 6), round(area.h, 6), tuple(_look(step) for step in steps))
    wide, high = area.w + 2 * _AROUND_MM, area.h + 2 * _AROUND_MM
    form = canvas.pages.form(key, wide, high, lambda drawing: _pair(drawing, face, steps, span, scale, own, style))
    canvas.stamp(form, area.x - _AROUND_MM, area.y - _AROUND_MM, high)
    middle = area.x + area.w * 0.75
    frame = Frame(middle - (span.x + span.w / 2) / scale, area.y + _CAPTION_MM - span.y / scale, scale)
    for step in steps:
        pencil(canvas, step, frame)


def _look(step: Step) -> tuple[object, ...]:
    """Everything that a print's drawing shows but its id."""
    piece = step.transfer.piece
    size = (piece.ink_w_mm, piece.ink_h_mm, piece.cloth_x, piece.cloth_y, piece.crease_x_mm, piece.crease_y_mm)
    return step.shape, step.spot, piece.picture.sha256, piece.picture.ink, piece.sides, piece.panel is None, size


def _pair(canvas: Canvas, face: str, steps: Sequence[Step], span: Box, scale: float, area: Box, style: Style) -> None:
    half = area.w / 2
    canvas.words(
        f"{sentences.FACES[face]}   1 : {scale:g}", area.x + half, area.y + 2.3, SIZE_MM, align="centre", heavy=True
    )
    y = area.y + _CAPTION_MM - span.y / scale
    for index, caption in enumerate(("as worn", "paper face down")):
        middle = area.x + half * (index + 0.5)
        frame = Frame(middle - (span.x + span.w / 2) / scale, y, scale)
        canvas.words(caption, middle, area.y + 5.0, SMALL_MM, align="centre")
        if index == 0:
            as_worn(canvas, steps, frame, style.image, style.units)
        else:
            face_down(canvas, steps, frame)
        _sides(canvas, face, frame, span, area.y + _CAPTION_MM + span.h / scale + 3.4)


def _sides(canvas: Canvas, face: str, frame: Frame, span: Box, y: float) -> None:
    """Whose left and right, below a drawing; on a sleeve which edge is the front."""
    left, right = {
        "front": ("WEARER'S RIGHT", "WEARER'S LEFT"),
        "back": ("WEARER'S LEFT", "WEARER'S RIGHT"),
        "left sleeve": ("front", "back"),
        "right sleeve": ("back", "front"),
        "hood": ("opening", "back"),
    }.get(face, ("", ""))
    middle = frame.point(span.x + span.w / 2, 0)[0]
    apart = max(2.0, span.w / frame.scale / 2 - 6.0) if face in ("left sleeve", "right sleeve", "hood") else 1.0
    canvas.words(left, middle - apart, y, 1.6, align="right")
    canvas.words(right, middle + apart, y, 1.6)


def _block(step: Step, style: Style, lettering: Lettering) -> Block:
    size, where = sentences.step_size(step, style.units), sentences.place(step, style.units)
    platen, fits = sentences.platen(step, style.press, style.units), step.fit != "several"
    lines = [(" ".join([f"{size}.", where, sentences.folds(step), platen if fits else ""]), False)]
    lines += [] if fits else [(platen, True)]
    if write := sentences.measured(step):
        lines.append((write, False))
    lines += [(text, not text.startswith("Note")) for text in sentences.warnings(step, style.units)]
    count = sum(len(wrapped(lettering, _marked(*one), SIZE_MM, style.told)) for one in lines)
    return Block(step, tuple(lines), max(_PICTURE_MM + 0.6, 2.6 * PITCH + count * SIZE_MM * PITCH + 1.5))


def _marked(text: str, urgent: bool) -> str:
    return f"! {text}" if urgent else text


def _step(canvas: Canvas, block: Block, number: int, style: Style, y: float) -> float:
    """One print: its number, picture, sentences and check boxes; returns the y below it."""
    step, lines, high = block
    piece = step.transfer.piece
    key = ("step", lines, piece.picture.sha256, piece.picture.ink, round(high, 6))
    form = canvas.pages.form(key, style.inner, high, lambda drawing: _step_block(drawing, step, lines, style, high))
    canvas.stamp(form, SIDE_MM, y, high)
    canvas.words(str(number), SIDE_MM + 3.0, y + 8.0, 6.0, align="centre", heavy=True)
    title = fitted(canvas.pages.lettering, sentences.step_title(step, style.code), style.told / 2.6)
    canvas.words(title, SIDE_MM + _TEXT_X, y + 3.1, 2.6, heavy=True)
    return y + high


def _step_block(canvas: Canvas, step: Step, lines: Sequence[tuple[str, bool]], style: Style, high: float) -> None:
    """What is the same for every copy of a print: its picture, what is said of it, its check boxes."""
    canvas.line(0, 0.1, style.inner, 0.1, 0.15)
    _small_picture(canvas, step, style, Box(7, 0.8, _PICTURE_MM, min(high, _PICTURE_MM + 0.6) - 1.6))
    below = 2.6 * PITCH + 0.4
    for text, urgent in lines:
        below = paragraph(canvas, _marked(text, urgent), _TEXT_X, below, style.told, heavy=urgent)
    checks = canvas.pages.form("checks", _BOXES_MM, _BOXES_H_MM, _check_boxes)
    canvas.stamp(checks, style.inner - _BOXES_MM, 0, _BOXES_H_MM)


def _check_boxes(canvas: Canvas) -> None:
    for index, word in enumerate(_CHECKS):
        tick_box(canvas, 2 + (index % 2) * 13.5, 3.3 + (index // 2) * 3.4, word, 1.8)


def _small_picture(canvas: Canvas, step: Step, style: Style, area: Box) -> None:
    """The artwork upright, as the customer knows it."""
    piece = step.transfer.piece
    scale = min(area.w / piece.ink_w_mm, area.h / piece.ink_h_mm)
    w, h = piece.ink_w_mm * scale, piece.ink_h_mm * scale
    canvas.picture(style.image(step), Box(area.x + (area.w - w) / 2, area.y + (area.h - h) / 2, w, h))


def _press_texts(style: Style) -> tuple[str, str]:
    return sentences.settings_line(style.press), f"{sentences.STARTING_POINT} {sentences.STANDING_STEP}"


def _press_height(style: Style, lettering: Lettering) -> float:
    count = sum(len(wrapped(lettering, text, SIZE_MM, style.inner)) for text in _press_texts(style))
    return count * SIZE_MM * PITCH + 1.6


def _press(canvas: Canvas, style: Style, y: float) -> None:
    """The press's settings, the same on every ticket."""
    high = _press_height(style, canvas.pages.lettering)

    def draw(block: Canvas) -> None:
        block.line(0, 0.2, style.inner, 0.2, 0.25)
        settings, standing = _press_texts(style)
        below = paragraph(block, settings, 0, 0.6, style.inner, heavy=False)
        paragraph(block, standing, 0, below, style.inner, heavy=True)

    canvas.stamp(canvas.pages.form("press", style.inner, high, draw), SIDE_MM, y - 0.2, high)
