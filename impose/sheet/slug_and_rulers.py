"""What is printed in waste paper: the sheet slug and the rulers.

Waste is what no cell covers within the printable area. A slug or ruler is laid only where a whole free rectangle
holds it, so neither ever costs a sheet or touches a cell.

Coordinates are millimetres from the sheet's top left corner, printed side.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from impose.sheet.marks import CLEAR_MM, LineShaper, MarkStroke, PlacedWords
from impose.type.lettering import GAP
from impose.units import Box
from impose.values import ChangingStruct, field

RULER_MM = 100.0
RULER_DEEP_MM = 5.0  # the strip a ruler and its figure take
SLUG_SIZE_MM = 2.2
SLUG_DEEP_MM = 3.2


def find_free_rectangles(area: Box, taken: Iterable[Box]) -> list[Box]:
    """Every largest empty rectangle of `area` that meets none of `taken`, largest first.

    The rule of the maximal free rectangles: each obstacle splits every free rectangle that it meets into up to four,
    and what lies inside another is dropped.
    """
    free = [area]
    for obstacle in taken:
        free = _subtract_obstacle(free, obstacle)
    return sorted(free, key=_size_key)


def _size_key(box: Box) -> tuple[float, float, float]:
    return -box.w * box.h, box.y, box.x


def _subtract_obstacle(free: Sequence[Box], obstacle: Box) -> list[Box]:
    """The free rectangles once the obstacle is there too."""
    return _keep_maximal([piece for box in free for piece in _rectangles_around(box, obstacle)])


def _rectangles_around(box: Box, obstacle: Box) -> Iterator[Box]:
    if not box.overlaps_box(obstacle):
        yield box
        return
    if obstacle.x > box.x:
        yield Box(box.x, box.y, obstacle.x - box.x, box.h)
    if obstacle.right < box.right:
        yield Box(obstacle.right, box.y, box.right - obstacle.right, box.h)
    if obstacle.y > box.y:
        yield Box(box.x, box.y, box.w, obstacle.y - box.y)
    if obstacle.bottom < box.bottom:
        yield Box(box.x, obstacle.bottom, box.w, box.bottom - obstacle.bottom)


def _keep_maximal(boxes: Sequence[Box]) -> list[Box]:
    """Without those that lie inside another; strips too thin to hold anything go as well."""
    useful = [box for box in boxes if box.w >= SLUG_DEEP_MM and box.h >= SLUG_DEEP_MM]
    ordered = sorted(set(useful), key=_size_key)
    kept: list[Box] = []
    for box in ordered:
        if not any(other.contains_box(box) for other in kept):
            kept.append(box)
    return kept


class WastePaper(ChangingStruct):
    """The free paper of one sheet while slug and rulers are laid on it."""

    area: Box
    taken: list[Box]
    words: list[PlacedWords] = field(default_factory=list)
    strokes: list[MarkStroke] = field(default_factory=list)
    free: list[Box] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.free = find_free_rectangles(self.area, self.taken)

    def find_room(self, across: float, down: float) -> Box | None:
        """The free rectangle that holds the size with the least paper to spare in its depth."""
        fitting = [box for box in self.free if box.w >= across and box.h >= down]
        return min(fitting, key=lambda box: (min(box.w - across, box.h - down), box.y, box.x), default=None)

    def take_room(self, box: Box) -> None:
        """Leave a place to what is laid there."""
        self.taken.append(box)
        self.free = sorted(_subtract_obstacle(self.free, box), key=_size_key)

    def add_slug(self, texts: Sequence[str], shaper: LineShaper) -> bool:
        """The longest of `texts` that some waste holds, along or up the sheet; False if none of them fits."""
        for text in texts:
            line = shaper.shape_line(text.split(GAP))  # part by part: all but the sheet's number comes again
            long = line.width * SLUG_SIZE_MM + 2 * CLEAR_MM
            drop = (SLUG_DEEP_MM - (line.ascent + line.descent) * SLUG_SIZE_MM) / 2 + line.ascent * SLUG_SIZE_MM
            if (box := self.find_room(long, SLUG_DEEP_MM)) is not None:
                y = box.bottom - SLUG_DEEP_MM
                self.words.append(PlacedWords(line, box.x + CLEAR_MM, y + drop, SLUG_SIZE_MM, 0))
                self.take_room(Box(box.x, y, long, SLUG_DEEP_MM))
                return True
            if (box := self.find_room(SLUG_DEEP_MM, long)) is not None:
                x = box.right - SLUG_DEEP_MM
                self.words.append(PlacedWords(line, x + drop, box.bottom - CLEAR_MM, SLUG_SIZE_MM, 270))
                self.take_room(Box(x, box.bottom - long, SLUG_DEEP_MM, long))
                return True
        return False

    def add_ruler_across(self, shaper: LineShaper) -> bool:
        """A 100 mm ruler along the sheet's width, where waste has room."""
        box = self.find_room(RULER_MM + 2 * CLEAR_MM, RULER_DEEP_MM)
        if box is None:
            return False
        x, y = box.x + CLEAR_MM, box.bottom - 0.8
        self.strokes.append(MarkStroke(x, y, x + RULER_MM, y))
        for at, high in _ruler_divisions():
            self.strokes.append(MarkStroke(x + at, y - high, x + at, y))
        self.words.append(PlacedWords(shaper.shape_line(["100 mm"]), x + 2.0, y - 2.6, 1.65, 0))
        self.take_room(Box(box.x, box.bottom - RULER_DEEP_MM, RULER_MM + 2 * CLEAR_MM, RULER_DEEP_MM))
        return True

    def add_ruler_down(self, shaper: LineShaper) -> bool:
        """A 100 mm ruler along the sheet's length, where waste has room."""
        box = self.find_room(RULER_DEEP_MM, RULER_MM + 2 * CLEAR_MM)
        if box is None:
            return False
        x, y = box.right - 0.8, box.y + CLEAR_MM
        self.strokes.append(MarkStroke(x, y, x, y + RULER_MM))
        for at, high in _ruler_divisions():
            self.strokes.append(MarkStroke(x - high, y + at, x, y + at))
        self.words.append(PlacedWords(shaper.shape_line(["100 mm"]), x - 2.6, y + RULER_MM - 2.0, 1.65, 270))
        self.take_room(Box(box.right - RULER_DEEP_MM, box.y, RULER_DEEP_MM, RULER_MM + 2 * CLEAR_MM))
        return True


def _ruler_divisions() -> Iterator[tuple[float, float]]:
    """Ten-millimetre divisions; the ends and the middle stand taller."""
    for step in range(11):
        yield step * 10.0, (2.2 if step in (0, 5, 10) else 1.2)
