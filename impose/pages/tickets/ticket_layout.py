"""What goes on which half page: the faces of a garment side by side, what is said beside each, boxes below for all.

A garment with more prints than a half page holds goes on on the next; every half page is complete in itself, since
halves are cut apart and lie with their garments.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Literal, NamedTuple

from impose.pages.tickets import sentences
from impose.pages.tickets.sentences import StepSentences
from impose.pages.tickets.text_blocks import SIZE_MM, measure_height
from impose.pages.tickets.views import SCALES, choose_window
from impose.profiles.press import HeatPress
from impose.sheet.garment_variants import AlikeGarments
from impose.sheet.press_prints import group_steps_by_print
from impose.sheet.press_steps import PressStep, PressTicket
from impose.sheet.press_times import PressEvening
from impose.type.lettering import TextShaper
from impose.units import Box
from impose.values import FrozenStruct, replace

SIDE_MM, TOP_MM = 10.0, 6.0
HEAD_MM = 15.0
TITLE_MM = 3.8  # em of a print's title
CAPTION_MM, SIDES_MM = 6.5, 6.5  # above and below a drawing
AROUND_MM = 9.0  # left and right of a drawing, together, for its dimensions
GAP_MM = 3.0
BLOCK_GAP_MM = 2.6
_BESIDE_MM = {1: 76.0, 2: 40.0}  # the column beside a drawing, by the number of faces; of more it stands below
_LARGE_MM = 3.4  # em of what stands beside
_MOST_FACES = 4
_COLUMN_EDGE_MM, _LENT_MM = 1.5, 2.5  # of a face's share: beside what is told, and left to wider ones
_MOST_SCALE = 15.0  # smaller drawings are no use at arm's length
_MOST_PRINTS = 6  # cells beside each other
_LEAST_BODY_MM = 62.0

ROW_MM, GRID_HEAD_MM, CELL_MM = 5.4, 8.6, 30.0


class TicketStyle(FrozenStruct):
    """What all tickets share: `image` gives the resource of a step's picture, `joins` where its heats meet."""

    code: str
    batch: str
    press: HeatPress
    usual: HeatPress
    units: Literal["mm", "in"]
    width: float
    height: float
    image: Callable[[PressStep], str]
    joins: Callable[[PressStep], Sequence[tuple[str, float]]]
    regular: TextShaper
    bold: TextShaper
    evening: PressEvening

    @property
    def inner(self) -> float:
        """The width between the margins."""
        return self.width - 2 * SIDE_MM


class PrintBlock(NamedTuple):
    """One print, or all panels of one, as it is told: its turn, the lines below its title, its height and em."""

    number: int
    steps: tuple[PressStep, ...]
    lines: tuple[StepSentences, ...]
    high: float
    size: float = SIZE_MM

    @property
    def cells(self) -> list[tuple[PressStep, ...]]:
        """What is ticked by itself: a print, panels pressed at once, or each of a few panels."""
        if self.steps[0].butted or len(self.steps) > _MOST_PRINTS:
            return [self.steps]
        return [(step,) for step in self.steps]


class FaceCard(FrozenStruct):
    """A face on a half page: what is drawn and told of it, and the prints of earlier half pages on the same face.

    `column` is its share of the width, where what is told stands below its drawing.
    """

    face: str
    blocks: tuple[PrintBlock, ...]
    before: tuple[PrintBlock, ...]
    view: Box
    scale: float = 1.0
    column: float = 0.0

    @property
    def high(self) -> float:
        """Its drawing with what stands above and below."""
        return self.view.h / self.scale + CAPTION_MM + SIDES_MM

    @property
    def wide(self) -> float:
        """Its drawing with room for dimensions."""
        return self.view.w / self.scale + AROUND_MM

    def choose_scale(self, wide: float, high: float) -> FaceCard | None:
        """At the largest scale at which the drawing is within a room; None where no scale is."""
        fit = (
            n for n in SCALES if self.view.w / n + AROUND_MM <= wide and self.view.h / n + CAPTION_MM + SIDES_MM <= high
        )
        scale = next(fit, None)
        return None if scale is None else replace(self, scale=scale)

    @property
    def text_height(self) -> float:
        """What is told, with the gaps between."""
        return sum(block.high for block in self.blocks)


class CheckGrid(FrozenStruct):
    """The boxes below: garments `start` to `stop` in `columns`, a name and a cell for each print."""

    start: int
    stop: int
    columns: int
    name_mm: float

    @property
    def high(self) -> float:
        """Head and rows."""
        rows = -(-(self.stop - self.start) // self.columns)
        return GRID_HEAD_MM + rows * ROW_MM


class HalfPage(FrozenStruct):
    """One half page: some faces of a ticket, or, without any, more of its garments."""

    alike: AlikeGarments
    of: int
    cards: tuple[FaceCard, ...]
    blocks: tuple[PrintBlock, ...]
    grid: CheckGrid
    text_mm: float
    part: int = 1
    parts: int = 1


def arrange_halves(found: Sequence[AlikeGarments], style: TicketStyle, of: int) -> list[HalfPage]:
    """The half pages of some tickets of `of` in all."""
    made: list[HalfPage] = []
    for group in found:
        mine = list(_arrange_ticket(group, style, of))
        made += [replace(half, part=part, parts=len(mine)) for part, half in enumerate(mine, 1)]
    return made


def _arrange_ticket(group: AlikeGarments, style: TicketStyle, of: int) -> Iterator[HalfPage]:
    held = group_steps_by_print(group.first.steps)
    numbered = list(enumerate(held, 1))
    done: list[tuple[int, list[PressStep]]] = []
    while numbered:
        counts = range(min(len(numbered), _MOST_PRINTS), 0, -1)
        count = next((n for n in counts if _fits_below(group, numbered[:n], done, style)), 1)
        taken, numbered = numbered[:count], numbered[count:]
        grid = next(_make_grids(group, _count_cells(taken), style))
        cards = _make_cards(group, taken, done, style)
        cards = _scale_cards(cards, style, grid.high) or tuple(
            replace(card, scale=SCALES[-1]) for card in _share_width(cards, style)
        )
        blocks = tuple(block for card in cards for block in card.blocks)
        yield HalfPage(group, of, cards, blocks, grid, measure_text_width(len(cards), style))
        yield from _arrange_boxes(group, blocks, style, of)
        done += taken


def _arrange_boxes(
    group: AlikeGarments, blocks: tuple[PrintBlock, ...], style: TicketStyle, of: int
) -> Iterator[HalfPage]:
    """Half pages of boxes alone, where garments are more than fit below a drawing."""
    for grid in list(_make_grids(group, sum(len(block.cells) for block in blocks), style))[1:]:
        yield HalfPage(group, of, (), blocks, grid, 0.0)


def _fits_below(
    group: AlikeGarments,
    taken: Sequence[tuple[int, list[PressStep]]],
    done: Sequence[tuple[int, list[PressStep]]],
    style: TicketStyle,
) -> bool:
    if _count_cells(taken) > _MOST_PRINTS:
        return False
    grid = next(_make_grids(group, _count_cells(taken), style))
    cards = _make_cards(group, taken, done, style)
    if len(cards) > _MOST_FACES:
        return False
    found = _scale_cards(cards, style, grid.high)
    return found is not None and (len(cards) == 1 or max(card.scale for card in found) <= _MOST_SCALE)


def _count_cells(taken: Sequence[tuple[int, list[PressStep]]]) -> int:
    return sum(len(PrintBlock(number, tuple(steps), (), 0.0).cells) for number, steps in taken)


def _make_cards(
    group: AlikeGarments,
    taken: Sequence[tuple[int, list[PressStep]]],
    done: Sequence[tuple[int, list[PressStep]]],
    style: TicketStyle,
) -> tuple[FaceCard, ...]:
    faces: dict[str, list[tuple[int, list[PressStep]]]] = {}
    for number, steps in taken:
        faces.setdefault(steps[0].shape.face, []).append((number, steps))
    width, size = measure_text_width(len(faces), style), SIZE_MM if list_told_below(len(faces)) else _LARGE_MM
    numbers = {step.transfer.id: number for number, steps in (*done, *taken) for step in steps}
    cards = []
    for face, held in faces.items():
        before = [(number, steps) for number, steps in done if steps[0].shape.face == face and face != "other"]
        blocks = tuple(_make_block(group, number, steps, width, size, style, numbers) for number, steps in held)
        earlier = tuple(PrintBlock(number, tuple(steps), (), 0.0) for number, steps in before)
        shown = [step for block in (*blocks, *earlier) for step in block.steps]
        cards.append(FaceCard(face, blocks, earlier, choose_window(shown[0].shape, shown)))
    return tuple(cards)


def list_told_below(faces: int) -> bool:
    """Whether what is told stands below the drawings, since there is no room beside them."""
    return faces not in _BESIDE_MM


def measure_text_width(faces: int, style: TicketStyle) -> float:
    """The width of what is told of a face; of many, less than its share, so that a wide drawing may have more."""
    if faces in _BESIDE_MM:
        return _BESIDE_MM[faces]
    return (style.inner - GAP_MM * (faces - 1)) / faces - _COLUMN_EDGE_MM - (_LENT_MM if faces == _MOST_FACES else 0.0)


def _share_width(cards: Sequence[FaceCard], style: TicketStyle) -> list[FaceCard]:
    """The width of a half page shared out: those that are too wide for a share have what the others do not need."""
    least = measure_text_width(len(cards), style) + _COLUMN_EDGE_MM
    spare = style.inner - GAP_MM * (len(cards) - 1) - least * len(cards)
    needs = [max(0.0, card.view.w / _MOST_SCALE + AROUND_MM - least) for card in cards]
    even = max(0.0, spare - sum(needs)) / len(cards)
    share = min(1.0, spare / sum(needs)) if sum(needs) > 0 else 0.0
    return [replace(card, column=least + need * share + even) for card, need in zip(cards, needs, strict=True)]


def _make_block(
    group: AlikeGarments,
    number: int,
    steps: list[PressStep],
    width: float,
    size: float,
    style: TicketStyle,
    numbers: Mapping[str, int],
) -> PrintBlock:
    like = group.list_like(steps[0])
    lines = tuple(sentences.describe_steps(steps, style.press, style.usual, style.units, numbers, like))
    title = measure_height(style.bold, f"{number}  {sentences.describe_print_step(steps)}", width, TITLE_MM)
    high = title + 0.6
    for line in lines:
        high += measure_height(style.bold if line.heavy else style.regular, line.text, width, size)
    return PrintBlock(number, tuple(steps), lines, high + BLOCK_GAP_MM, size)


def _scale_cards(cards: Sequence[FaceCard], style: TicketStyle, grid: float) -> tuple[FaceCard, ...] | None:
    """The faces at the largest scales at which they stand side by side above the boxes; None where they do not."""
    high = style.height - 2 * TOP_MM - HEAD_MM - grid - GAP_MM
    told = max(card.text_height for card in cards)
    if list_told_below(len(cards)):
        shared = _share_width(cards, style)
        return _scale_all(shared, [card.column for card in shared], [high - card.text_height for card in shared])
    if told + CAPTION_MM > high:
        return None
    room = style.inner - GAP_MM * (len(cards) - 1) - measure_text_width(len(cards), style) * len(cards)
    found = _scale_all(cards, [room] * len(cards), [high] * len(cards))
    while found and sum(card.wide for card in found) > room:
        most = max(card.wide for card in found)
        # The widest gives way first.
        rooms = [card.wide - (card.wide == most) * 1e-6 for card in found]
        found = _scale_all(found, rooms, [high] * len(found))
    return found


def _scale_all(cards: Sequence[FaceCard], wide: Sequence[float], high: Sequence[float]) -> tuple[FaceCard, ...] | None:
    scaled = [card.choose_scale(*room) for card, *room in zip(cards, wide, high, strict=True)]
    found = tuple(card for card in scaled if card is not None)
    return found if len(found) == len(cards) else None


def _make_grids(group: AlikeGarments, prints: int, style: TicketStyle) -> Iterator[CheckGrid]:
    """The boxes of all garments: below the drawings as many as leave room for those, the others on half pages alone."""
    names = label_width(group, style)
    columns = max(1, int((style.inner + GAP_MM) // (names + prints * CELL_MM + GAP_MM)))
    room = style.height - 2 * TOP_MM - HEAD_MM - GAP_MM
    start, total = 0, len(group.tickets)
    while start < total:
        space = room - (_LEAST_BODY_MM if start == 0 else 0.0) - GRID_HEAD_MM
        stop = min(total, start + max(1, int(space / ROW_MM)) * columns)
        yield CheckGrid(start, stop, columns, names)
        start = stop


def list_garment_labels(group: AlikeGarments) -> list[str]:
    """What tells the garments of a ticket apart: their wearers and words, or a number."""
    own = [index for index, step in enumerate(group.first.steps) if find_different_words(group.list_like(step))]
    if not own and len({ticket.worn.wearer for ticket in group.tickets}) == 1:
        return [str(number) for number in range(1, len(group.tickets) + 1)]
    return [f"{number} {_name_ticket(ticket, own)}" for number, ticket in enumerate(group.tickets, 1)]


def _name_ticket(ticket: PressTicket, own: Sequence[int]) -> str:
    """The wearer, and the words that are this garment's own, where they are not the wearer's name."""
    wearer = ticket.worn.wearer or "no name"
    words = [ticket.steps[index].transfer.piece.row.words.replace("\n", " / ") for index in own]
    return " ".join((wearer, *(f"“{text}”" for text in words if text.casefold() != wearer.casefold())))


def find_different_words(steps: Sequence[PressStep]) -> bool:
    """Whether prints at the same place of garments that are alike say different things."""
    return len({step.transfer.piece.row.words for step in steps}) > 1


def label_width(group: AlikeGarments, style: TicketStyle) -> float:
    """Room for the names beside the boxes; none for a garment alone, whose name is above."""
    if len(group.tickets) == 1:
        return 0.0
    return min(45.0, max(style.regular.shape_line([text]).width for text in list_garment_labels(group)) * SIZE_MM + 2.5)
