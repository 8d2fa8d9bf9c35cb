"""One half page: whose garments, each face drawn with a few words beside it, and two boxes for every print."""

from __future__ import annotations

from collections.abc import Sequence

from impose.pages.pdf.canvas import PdfCanvas
from impose.pages.tickets import sentences
from impose.pages.tickets.text_blocks import SIZE_MM, SMALL_MM, draw_paragraph, draw_plain_paper_heading, fit_parts
from impose.pages.tickets.ticket_layout import (
    BLOCK_GAP_MM,
    CAPTION_MM,
    CELL_MM,
    GAP_MM,
    GRID_HEAD_MM,
    HEAD_MM,
    ROW_MM,
    SIDE_MM,
    TITLE_MM,
    TOP_MM,
    CheckGrid,
    FaceCard,
    HalfPage,
    PrintBlock,
    TicketStyle,
    list_garment_labels,
    list_told_below,
)
from impose.pages.tickets.views import DrawnPrint, ViewFrame, draw_face
from impose.sheet.press_steps import PressStep
from impose.units import Box

_BOX_MM = 3.6
_PRESSED_X, _SPOILED_X = 14.5, 23.0  # the middles of the two boxes in a cell
_NARROW_MM = 36.0  # for the names of both sides
_FORM_MM = 12.0  # around a face's drawing, for what is written beside it


def draw_half(canvas: PdfCanvas, half: HalfPage, style: TicketStyle, top: float) -> None:
    """Draw one half page whose upper edge is at `top`."""
    y = top + TOP_MM
    _draw_head(canvas, half, style, y)
    bottom = top + style.height - TOP_MM
    grid_y = bottom - half.grid.high if half.cards else y + HEAD_MM
    _draw_faces(canvas, half, style, y + HEAD_MM, grid_y - GAP_MM)
    _draw_grid(canvas, half, style, grid_y)


def _draw_head(canvas: PdfCanvas, half: HalfPage, style: TicketStyle, y: float) -> None:
    """Plain paper, whose, what, how many, and which of how many."""
    group, right = half.alike, SIDE_MM + style.inner
    worn = group.first.worn
    x = SIDE_MM + draw_plain_paper_heading(canvas, SIDE_MM, y) + 3
    if group.first.first:
        x += draw_plain_paper_heading(canvas, x, y, words="FIRST ONE OFF") + 3
    part = f", part {half.part} of {half.parts}" if half.parts > 1 else ""
    which = style.bold.shape_line([f"ticket {group.number} of {half.of}{part}"])
    canvas.draw_words(which, right, y + 3.6, 3.4, align="right", heavy=True)
    fit_parts(
        canvas, sentences.make_heading(group.tickets), x, y + 4.4, right - which.width * 3.4 - 4 - x, 5.6, heavy=True
    )
    batch = style.regular.shape_line([f"batch {style.code}   {style.batch}"])
    canvas.draw_words(batch, right, y + 12.0, SMALL_MM, align="right")
    count = f"{len(group.tickets)} × " if len(group.tickets) > 1 else ""
    garment = f"{count}{sentences.describe_garment(worn)}"
    room = right - batch.width * SMALL_MM - 4 - SIDE_MM
    wide = fit_parts(canvas, garment, SIDE_MM, y + 12.0, room, 4.6, heavy=True)
    rest = [
        f"order {worn.order}" if worn.order and worn.wearer else "",
        "look at it before you print the rest" if group.first.first else "",
        f"set-up: {group.first.setup}" if group.first.setup else "",
    ]
    told = "   ".join(text for text in rest if text)
    if told and room - wide > 20:
        fit_parts(canvas, told, SIDE_MM + wide + 4, y + 12.0, room - wide - 4, 3.4)
    canvas.draw_line(SIDE_MM, y + HEAD_MM - 1.4, right, y + HEAD_MM - 1.4, 0.3)


def _draw_faces(canvas: PdfCanvas, half: HalfPage, style: TicketStyle, top: float, bottom: float) -> None:
    """The faces side by side, what is left of the width shared out between them; words beside each, or below."""
    cards = half.cards
    below = list_told_below(len(cards))
    text = 0.0 if below else half.text_mm
    used = sum(card.wide + text for card in cards) + GAP_MM * (len(cards) - 1)
    spare = (style.inner - used) / max(1, len(cards))
    told_y = bottom - max((card.text_height for card in cards), default=0.0)
    x = SIDE_MM
    for index, card in enumerate(cards):
        if index:
            canvas.draw_line(x - GAP_MM / 2, top, x - GAP_MM / 2, bottom, 0.15, 0.5)
        wide = card.column if below else card.wide
        _draw_face(canvas, card, style, Box(x, top, wide, bottom - top))
        if below:
            _write_sentences(canvas, card, x, max(told_y, top + card.high), half.text_mm)
            x += wide + GAP_MM
        else:
            _write_sentences(canvas, card, x + wide, top + CAPTION_MM - 1.5, text + spare - 2)
            x += wide + text + spare + GAP_MM


def _draw_face(canvas: PdfCanvas, card: FaceCard, style: TicketStyle, area: Box) -> None:
    """A face's drawing: drawn once for all garments on which it is the same."""
    looks = tuple(tuple(_make_look_key(block) for block in blocks) for blocks in (card.blocks, card.before))
    key = ("face", card.scale, round(area.w, 6), round(area.h, 6), style.units, *looks)
    wide, high = area.w + 2 * _FORM_MM, area.h + 2 * _FORM_MM
    own = Box(_FORM_MM, _FORM_MM, area.w, area.h)
    form = canvas.pages.add_form(key, wide, high, lambda drawing: _draw_card(drawing, card, own, style))
    canvas.draw_form(form, area.x - _FORM_MM, area.y - _FORM_MM, high)


def _make_look_key(block: PrintBlock) -> tuple[object, ...]:
    """Everything that a print's drawing shows."""
    return block.number, *(_step_look(step) for step in block.steps)


def _step_look(step: PressStep) -> tuple[object, ...]:
    piece = step.transfer.piece
    size = (piece.ink_w_mm, piece.ink_h_mm, piece.cloth_x, piece.cloth_y, piece.crease_x_mm, piece.crease_y_mm)
    return step.shape, step.spot, piece.picture.look, piece.sides, piece.panel is None, size, step.shields


def _draw_card(canvas: PdfCanvas, card: FaceCard, area: Box, style: TicketStyle) -> None:
    face, view, scale = card.face, card.view, card.scale
    title = f"{sentences.FACES[face]}   1 : {scale:g}"
    fit_parts(canvas, title, area.x, area.y + 3.2, max(area.w, 40.0), 3.2, heavy=True)
    left = area.x + (area.w - view.w / scale) / 2
    frame = ViewFrame(left - view.x / scale, area.y + CAPTION_MM - view.y / scale, scale)
    drawn = DrawnPrint(
        [(block.number, step) for block in card.blocks for step in block.steps],
        [(block.number, step) for block in card.before for step in block.steps],
        style.image,
        style.joins,
        style.units,
    )
    draw_face(canvas, drawn, view, frame)
    _write_sides(canvas, face, left, left + view.w / scale, area.y + CAPTION_MM + view.h / scale + 5.6)


def _write_sides(canvas: PdfCanvas, face: str, left: float, right: float, y: float) -> None:
    """Whose left and right, below a drawing; on a sleeve which edge is the front."""
    near, far = {
        "front": ("wearer's right", "wearer's left"),
        "back": ("wearer's left", "wearer's right"),
        "left sleeve": ("front", "back"),
        "right sleeve": ("back", "front"),
        "hood": ("opening", "back"),
    }.get(face, ("", ""))
    if right - left < _NARROW_MM and len(near) > 8:
        middle = (left + right) / 2
        left, right = middle - _NARROW_MM / 2, middle + _NARROW_MM / 2
    canvas.draw_words(near, left, y, SMALL_MM)
    canvas.draw_words(far, right, y, SMALL_MM, align="right")


def _write_sentences(canvas: PdfCanvas, card: FaceCard, x: float, y: float, width: float) -> None:
    """What is said of each print of a face."""
    for block in card.blocks:
        title = f"{block.number}  {sentences.describe_print_step(block.steps)}"
        y = draw_paragraph(canvas, title, x, y, width, TITLE_MM, heavy=True) + 0.6
        for text, heavy in block.lines:
            y = draw_paragraph(canvas, text, x, y, width, block.size, heavy=heavy)
        y += BLOCK_GAP_MM


def _draw_grid(canvas: PdfCanvas, half: HalfPage, style: TicketStyle, y: float) -> None:
    """A row for each garment, a cell for each print: its id, and boxes for pressed and spoiled."""
    grid, names = half.grid, list_garment_labels(half.alike)
    canvas.draw_line(SIDE_MM, y, SIDE_MM + style.inner, y, 0.3)
    rows = -(-(grid.stop - grid.start) // grid.columns)
    entry = grid.name_mm + len(_list_cells(half.blocks)) * CELL_MM + GAP_MM
    for column in range(grid.columns):
        start = grid.start + column * rows
        held = range(start, min(start + rows, grid.stop))
        if not held:
            continue
        x = SIDE_MM + column * entry
        _grid_head(canvas, half.blocks, x + grid.name_mm, y)
        for row, index in enumerate(held):
            _draw_row(canvas, half, grid, names[index], index, x, y + GRID_HEAD_MM + (row + 1) * ROW_MM - 1.4)


def _list_cells(blocks: Sequence[PrintBlock]) -> list[tuple[PrintBlock, tuple[PressStep, ...]]]:
    return [(block, steps) for block in blocks for steps in block.cells]


def _grid_head(canvas: PdfCanvas, blocks: Sequence[PrintBlock], x: float, y: float) -> None:
    for number, (block, steps) in enumerate(_list_cells(blocks)):
        left = x + number * CELL_MM
        panel = steps[0].transfer.piece.panel
        title = sentences.describe_print_step(steps) if panel is None or steps[0].butted else panel.describe
        fit_parts(canvas, f"{block.number} {title}", left, y + 3.6, CELL_MM - 2, SIZE_MM, heavy=True)
        for word, middle in (("pressed", _PRESSED_X), ("spoiled", _SPOILED_X)):
            canvas.draw_words(word, left + middle, y + 7.2, SMALL_MM, align="centre")


def _draw_row(canvas: PdfCanvas, half: HalfPage, grid: CheckGrid, name: str, index: int, x: float, y: float) -> None:
    if grid.name_mm:
        canvas.draw_words(canvas.pages.lettering.fit_line(name, (grid.name_mm - 1.5) / SIZE_MM), x, y, SIZE_MM)
    steps = half.alike.tickets[index].steps
    by_place = {id(first): step for first, step in zip(half.alike.first.steps, steps, strict=True)}
    for number, (_, held) in enumerate(_list_cells(half.blocks)):
        left = x + grid.name_mm + number * CELL_MM
        ids = [by_place[id(step)].transfer.id for step in held]
        told = ids[0] if len(ids) == 1 else f"{ids[0]} +{len(ids) - 1}"
        fit_parts(canvas, told, left, y, _PRESSED_X - _BOX_MM / 2 - 1, 3.2, heavy=True)
        for middle in (_PRESSED_X, _SPOILED_X):
            canvas.draw_box(Box(left + middle - _BOX_MM / 2, y - _BOX_MM + 0.5, _BOX_MM, _BOX_MM), 0.25)
