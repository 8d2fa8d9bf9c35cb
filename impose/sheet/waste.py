"""What is printed in waste paper: the sheet slug and the rulers.

Waste is what no cell covers within the printable area. A slug or ruler is laid only where a whole free rectangle
holds it, so neither ever costs a sheet or touches a cell.

Coordinates are millimetres from the sheet's top left corner, printed side.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from impose.sheet.lettering import GAP
from impose.sheet.marks import CLEAR_MM, Shaper, Stroke, Words
from impose.units import Box

RULER_MM = 100.0
RULER_DEEP_MM = 5.0  # the strip a ruler and its figure take
SLUG_SIZE_MM = 2.2
SLUG_DEEP_MM = 3.2


def free_rectangles(area: Box, taken: Iterable[Box]) -> list[Box]:
    """Every largest empty rectangle of `area` that meets none of `taken`, largest first.

    The rule of the maximal free rectangles: each obstacle splits every free rectangle that it meets into up to four,
    and what lies inside another is dropped.
    """
    free = [area]
    for obstacle in taken:
        free = _without(free, obstacle)
    return sorted(free, key=_by_size)


def _by_size(box: Box) -> tuple[float, float, float]:
    return -box.w * box.h, box.y, box.x


def _without(free: Sequence[Box], obstacle: Box) -> list[Box]:
    """The free rectangles once the obstacle is there too."""
    return _maximal([piece for box in free for piece in _around(box, obstacle)])


def _around(box: Box, obstacle: Box) -> Iterator[Box]:
    if not box.meets(obstacle):
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


def _maximal(boxes: Sequence[Box]) -> list[Box]:
    """Without those that lie inside another; strips too thin to hold anything go as well."""
    useful = [box for box in boxes if box.w >= SLUG_DEEP_MM and box.h >= SLUG_DEEP_MM]
    ordered = sorted(set(useful), key=_by_size)
    kept: list[Box] = []
    for box in ordered:
        if not any(other.contains(box) for other in kept):
            kept.append(box)
    return kept


@dataclass
class Waste:
    """The free paper of one sheet while slug and rulers are laid on it."""

    area: Box
    taken: list[Box]
    words: list[Words] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    free: list[Box] = field(init=False)

    def __post_init__(self) -> None:
        self.free = free_rectangles(self.area, self.taken)

    def _find(self, across: float, down: float) -> Box | None:
        """The free rectangle that holds the size with the least paper to spare in its depth."""
        fitting = [box for box in self.free if box.w >= across and box.h >= down]
        return min(fitting, key=lambda box: (min(box.w - across, box.h - down), box.y, box.x), default=None)

    def _take(self, box: Box) -> None:
        self.taken.append(box)
        self.free = sorted(_without(self.free, box), key=_by_size)

    def add_slug(self, texts: Sequence[str], shaper: Shaper) -> bool:
        """The longest of `texts` that some waste holds, along or up the sheet; False if none of them fits."""
        for text in texts:
            line = shaper.line(text.split(GAP))  # part by part: all but the sheet's number comes again
            long = line.width * SLUG_SIZE_MM + 2 * CLEAR_MM
            drop = (SLUG_DEEP_MM - (line.ascent + line.descent) * SLUG_SIZE_MM) / 2 + line.ascent * SLUG_SIZE_MM
            if (box := self._find(long, SLUG_DEEP_MM)) is not None:
                y = box.bottom - SLUG_DEEP_MM
                self.words.append(Words(line, box.x + CLEAR_MM, y + drop, SLUG_SIZE_MM, 0))
                self._take(Box(box.x, y, long, SLUG_DEEP_MM))
                return True
            if (box := self._find(SLUG_DEEP_MM, long)) is not None:
                x = box.right - SLUG_DEEP_MM
                self.words.append(Words(line, x + drop, box.bottom - CLEAR_MM, SLUG_SIZE_MM, 270))
                self._take(Box(x, box.bottom - long, SLUG_DEEP_MM, long))
                return True
        return False

    def add_ruler_across(self, shaper: Shaper) -> bool:
        """A 100 mm ruler along the sheet's width, where waste has room."""
        box = self._find(RULER_MM + 2 * CLEAR_MM, RULER_DEEP_MM)
        if box is None:
            return False
        x, y = box.x + CLEAR_MM, box.bottom - 0.8
        self.strokes.append(Stroke(x, y, x + RULER_MM, y))
        for at, high in _divisions():
            self.strokes.append(Stroke(x + at, y - high, x + at, y))
        self.words.append(Words(shaper.line(["100 mm"]), x + 2.0, y - 2.6, 1.65, 0))
        self._take(Box(box.x, box.bottom - RULER_DEEP_MM, RULER_MM + 2 * CLEAR_MM, RULER_DEEP_MM))
        return True

    def add_ruler_down(self, shaper: Shaper) -> bool:
        """A 100 mm ruler along the sheet's length, where waste has room."""
        box = self._find(RULER_DEEP_MM, RULER_MM + 2 * CLEAR_MM)
        if box is None:
            return False
        x, y = box.right - 0.8, box.y + CLEAR_MM
        self.strokes.append(Stroke(x, y, x, y + RULER_MM))
        for at, high in _divisions():
            self.strokes.append(Stroke(x - high, y + at, x, y + at))
        self.words.append(Words(shaper.line(["100 mm"]), x - 2.6, y + RULER_MM - 2.0, 1.65, 270))
        self._take(Box(box.right - RULER_DEEP_MM, box.y, RULER_DEEP_MM, RULER_MM + 2 * CLEAR_MM))
        return True


def _divisions() -> Iterator[tuple[float, float]]:
    """Ten-millimetre divisions; the ends and the middle stand taller."""
    for step in range(11):
        yield step * 10.0, (2.2 if step in (0, 5, 10) else 1.2)
