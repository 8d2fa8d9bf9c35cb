"""A strip filled gap by gap: many part-filled strips side by side, the most promising kept after each piece.

The outline of what is placed is a row of steps. Its lowest, leftmost gap is filled next, by a piece that fits it well
(about as wide as the gap, about as high as a wall beside it, or simply large), or given up as waste if nothing left
goes in. Of all strips so made from those kept so far, the `breadth` best are kept again: little waste for what is
placed, large pieces first, few steps. What a strip of that length may waste is known, so whoever wastes more is out.

The best-fit rule for gaps is that of E. K. Burke, G. Kendall and G. Whitwell, A new placement heuristic for the
orthogonal stock-cutting problem, Operations Research 52 (2004). Keeping the best of many is beam search.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from impose.nest.budget import SearchBudget
from impose.nest.compiled_beam import BeamPieces, fit_strip_compiled
from impose.nest.instance import PieceSize, PlacedSpot

Step = tuple[int, int, int]  # top, left, width: so ordered that the least is the lowest, leftmost gap
Outline = tuple[Step, ...]
Way = tuple[int, int, int]  # width, height, kind


class BeamWeights(NamedTuple):
    """What makes a strip promising: how much a step counts, and how much what is placed counts against waste."""

    steps: int
    placed: float


TASTES = (BeamWeights(0, 0.02), BeamWeights(2, 0.02), BeamWeights(0, 0.05), BeamWeights(10, 0.05))

WIDEST, LEVEL, LARGEST = 3, 2, 3  # pieces tried in a gap: the widest that fit, level with a wall, the largest
CODES = 1 << 64  # as many as machine numbers
PER_STEP = 8  # strips that the compiled loop looks at in about the time in which a sheet is filled


class _BeamStrip(NamedTuple):
    """A part-filled strip: its outline, what is left of each kind, area wasted and placed, and the last piece."""

    outline: Outline
    counts: tuple[int, ...]
    waste: int
    placed: int
    code: int
    last: _BeamLink | None


class _BeamLink(NamedTuple):
    before: _BeamLink | None
    spot: PlacedSpot


class RollBeam:
    """The pieces of one strip, sorted once in the ways in which they are looked for."""

    def __init__(self, kinds: Sequence[PieceSize], wanted: Sequence[int], width: int) -> None:
        self.width = width
        self.here = sorted(set(wanted))
        self.size = len(wanted)
        count = Counter(wanted)
        self.counts = tuple(count[k] for k in self.here)
        ways: list[Way] = []
        low: list[tuple[int, int]] = []
        for own, k in enumerate(self.here):
            w, h, turn = kinds[k]
            both = [way for way in ((w, h, own), (h, w, own))[: 2 if turn else 1] if way[0] <= width]
            ways += both
            low.append((min(way[1] for way in both), own))
        self.area = [kinds[k].width * kinds[k].height for k in self.here]
        self.total = sum(a * n for a, n in zip(self.area, self.counts, strict=True))
        self.by_area = sorted(ways, key=lambda way: (way[0] * way[1], way))
        self.by_width = sorted(ways)
        self.by_height = sorted(ways, key=lambda way: (way[1], way))
        self.widths = [way[0] for way in self.by_width]
        self.heights = [way[1] for way in self.by_height]
        self.tallest = sorted(low, reverse=True)
        self.least = min(self.widths, default=0)
        # stand for a kind in the code of what is placed: equal codes, equal pieces (or a strip lost by chance)
        self.codes = [(own + 1) * 0x9E3779B97F4A7C15 % (1 << 61) for own in range(len(self.here))]
        self.compiled = BeamPieces(
            (self.by_width, self.by_height, self.by_area), self.tallest, self.counts, self.codes, self.least
        )

    def fit_all(self, height: int, breadth: int, taste: BeamWeights, budget: SearchBudget) -> list[PlacedSpot] | None:
        """Every piece within `height`, or None if no strip that was kept got there or the budget ended."""
        spare = self.width * height - self.total
        if spare < 0:
            return None
        done = fit_strip_compiled(self.compiled, (self.width, height), spare, breadth, taste, PER_STEP, budget)
        if done is not None:
            return done.spots and [spot._replace(kind=self.here[spot.kind]) for spot in done.spots]
        strips = [_BeamStrip(((0, 0, self.width),), self.counts, 0, 0, 0, None)]
        for _ in range(self.size):
            budget.add_steps(-(-len(strips) // PER_STEP))
            if budget.is_spent:
                return None
            made: dict[tuple[Outline, int], tuple[float, int, _BeamStrip, PlacedSpot]] = {}
            for strip in strips:
                if budget.over:
                    return None
                for fresh, spot in self._extend_strip(strip, height, spare):
                    key = (fresh.outline, fresh.code)
                    if key not in made:
                        worth = (fresh.waste + taste.placed * fresh.placed) * (taste.steps + len(fresh.outline))
                        made[key] = (worth / (float(fresh.placed) * fresh.placed), len(made), fresh, spot)
            if not made:
                return None
            strips = [self._copy_counts(*state[2:]) for state in sorted(made.values())[:breadth]]
        return [spot._replace(kind=self.here[spot.kind]) for spot in _list_spots(strips[0])]

    def _copy_counts(self, strip: _BeamStrip, spot: PlacedSpot) -> _BeamStrip:
        """The strip with its own account of what is left: made only for those that are kept."""
        k = spot.kind
        counts = (*strip.counts[:k], strip.counts[k] - 1, *strip.counts[k + 1 :])
        return strip._replace(counts=counts, last=_BeamLink(strip.last, spot))

    def _extend_strip(self, strip: _BeamStrip, height: int, spare: int) -> Iterator[tuple[_BeamStrip, PlacedSpot]]:
        """The strip with one more piece in its lowest gap, in each of the ways worth trying."""
        outline, counts, waste, placed, code, last = strip
        while True:
            low = min(outline)
            at = outline.index(low)
            top, x, gap = low
            room = height - top
            left = (outline[at - 1][0] if at else height) - top
            right = (outline[at + 1][0] if at + 1 < len(outline) else height) - top
            if next(h for h, k in self.tallest if counts[k]) > room:
                return
            ways = self._list_candidates(counts, gap, room, left, right)
            if ways:
                break
            waste += gap * min(left, right)
            if waste > spare:
                return
            outline = raise_outline(outline, at, x, gap, top + min(left, right))
        for w, h, k in ways:
            beside_left = h == left or (h != right and left >= right)
            spot = PlacedSpot(k, x if beside_left else x + gap - w, top, w, h)
            fresh, lost = self._close_narrow_gaps(raise_outline(outline, at, spot.x, w, top + h), height)
            if waste + lost <= spare:
                strip = _BeamStrip(fresh, counts, waste + lost, placed + w * h, (code + self.codes[k]) % CODES, last)
                yield strip, spot

    def _close_narrow_gaps(self, outline: Outline, height: int) -> tuple[Outline, int]:
        """Gaps too narrow for any piece given up at once, so that the waste is seen when strips are compared."""
        lost = 0
        while True:
            low = min(outline)
            top, x, gap = low
            if gap >= self.least or top >= height:
                return outline, lost
            at = outline.index(low)
            left = outline[at - 1][0] if at else height
            right = outline[at + 1][0] if at + 1 < len(outline) else height
            lost += gap * (min(left, right) - top)
            outline = raise_outline(outline, at, x, gap, min(left, right))

    def _list_candidates(self, counts: tuple[int, ...], gap: int, room: int, left: int, right: int) -> list[Way]:
        """Pieces for a gap: the widest that fit, those that come up to a wall, the largest, and the longest left."""
        fits = bisect_right(self.widths, gap)
        found = _keep_last(self.by_width[:fits], counts, gap, room, WIDEST)
        for wall in (left, right):
            fits = bisect_right(self.heights, min(wall, room))
            found += _keep_last(self.by_height[:fits], counts, gap, room, LEVEL)
        found += _keep_last(self.by_area, counts, gap, room, LARGEST)
        return list(dict.fromkeys(found))


def _keep_last(ways: list[Way], counts: tuple[int, ...], gap: int, room: int, most: int) -> list[Way]:
    """The last `most` of `ways` that are left and fit."""
    found = []
    for way in reversed(ways):
        if counts[way[2]] and way[0] <= gap and way[1] <= room:
            found.append(way)
            if len(found) == most:
                break
    return found


def _list_spots(strip: _BeamStrip) -> Iterator[PlacedSpot]:
    link = strip.last
    while link is not None:
        yield link.spot
        link = link.before


def raise_outline(outline: Outline, at: int, left: int, width: int, top: int) -> Outline:
    """The outline once `width` of step `at`, from `left`, stands at `top`; level neighbours become one step."""
    low, x, gap = outline[at]
    before, after = outline[:at], outline[at + 1 :]
    rest = x + gap - left - width
    if left > x:
        before = (*before, (low, x, left - x))
    elif before and before[-1][0] == top:
        left, width = before[-1][1], width + before[-1][2]
        before = before[:-1]
    if rest > 0:
        after = ((low, x + gap - rest, rest), *after)
    elif after and after[0][0] == top:
        width += after[0][2]
        after = after[1:]
    return (*before, (top, left, width), *after)
