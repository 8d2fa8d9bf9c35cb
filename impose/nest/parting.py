"""Few pieces: whether so many sheets can be enough, by trying every way to part the pieces into sets that share one.

The largest piece left goes with each set that it may share a sheet with, and as many pieces as may join; then the next
largest. Sets of up to four pieces are judged exactly; of larger ones it is asked that every smaller set within may
share a sheet, and that no pair of dual feasible functions objects. So a sheet too few is proven impossible when no
parting is left; one that is found is laid, if filling and `pack_one` can, and else leaves the question open.

Three rectangles that fit a sheet can be laid so that straight cuts part them; four can, or lie one in each corner: any
two are apart across or down, and where no cut parts four, three pairs are apart across and three down, each in a chain
of all four, which leaves no other place to be.
"""

from __future__ import annotations

from itertools import permutations, product

from impose.nest.bounds import FINE, choose, ways
from impose.nest.exact import pack_one
from impose.nest.free import RULES
from impose.nest.job import Filled, Job, Spot
from impose.nest.search import filler_for, orders

PRESSING = 4  # pairs of functions that a set is held to: those that leave the least to spare
LAYING = 50  # nodes that laying a set counts for
LAID_NODES = 200  # of `pack_one` for a set that filling does not lay

Size = tuple[int, int]


class _Enough(Exception):
    """The nodes are spent."""


class Parting:
    """The search for `count` sheets of one paper for all pieces of the job."""

    def __init__(self, job: Job, stock: int, straight: bool, nodes: int) -> None:
        self.job, self.stock, self.straight, self.nodes = job, stock, straight, nodes
        self.kinds = job.all()  # a piece is a bit, the largest lowest
        lying = ways(job, stock)
        paper = job.stocks[stock]
        self.width, self.height = paper.width, paper.height or 0
        self.lie = [lying.lie[k] for k in self.kinds]
        self.weights = []
        for f, g in choose(job, lying, 12):
            whole = f.whole * g.whole
            weights = [min(f.weigh(w) * g.weigh(h) for w, h in way) * FINE // whole for way in self.lie]
            self.weights.append(weights)
        self.boxes: dict[int, list[Size]] = {1 << i: _least(list(way)) for i, way in enumerate(self.lie)}
        self.sharing = {1 << i: True for i in range(len(self.kinds))}
        self.failed: set[tuple[int, int]] = set()
        self.open = False
        self.sets: list[int] = []
        self.spots: dict[int, list[Spot]] = {}

    def sheets(self, count: int) -> list[Filled] | None:
        """All pieces on `count` sheets or fewer; None if that was not found, and if `open` is False cannot be."""
        try:
            if self._parted((1 << len(self.kinds)) - 1, count):
                return [Filled(self.stock, self.spots[one]) for one in self.sets]
        except _Enough:
            self.open = True
        return None

    def _parted(self, left: int, count: int) -> bool:
        if not left:
            return all(self._laid(one) for one in self.sets)
        if not count or (left, count) in self.failed:
            return False
        self._node()
        pieces = _pieces(left)
        needs = [sum([weights[i] for i in pieces]) - (count - 1) * FINE for weights in self.weights]
        if max(needs) <= FINE:
            first = 1 << pieces[0]
            joining = [i for i in pieces[1:] if self._share(first | 1 << i)]
            pressing = sorted(zip(needs, self.weights, strict=True), key=lambda pair: -pair[0])[:PRESSING]
            if self._joined(first, joining, left, count, pressing):
                return True
        self.failed.add((left, count))
        return False

    def _joined(
        self, chosen: int, joining: list[int], left: int, count: int, needs: list[tuple[int, list[int]]]
    ) -> bool:
        """Every set of `chosen` and some of `joining` that none of `left` could join too; the rest parted after it."""
        self._node()
        here = _pieces(chosen) + joining
        for need, weights in needs:
            if sum([weights[i] for i in here]) < need:  # the other sheets could not hold what is left over
                return False
        if not joining:
            if any(left >> i & 1 and self._share(chosen | 1 << i) for i in _pieces(left & ~chosen)):
                return False
            self.sets.append(chosen)
            if self._parted(left & ~chosen, count - 1):
                return True
            self.sets.pop()
            return False
        one = joining[0]
        more = chosen | 1 << one
        if self._joined(more, [i for i in joining[1:] if self._share(more | 1 << i)], left, count, needs):
            return True
        other = [i for i in joining[1:] if self.kinds[i] != self.kinds[one]]  # equal pieces are taken in order
        return self._joined(chosen, other, left, count, needs)

    def _node(self, count: int = 1) -> None:
        self.nodes -= count
        if self.nodes < 0:
            raise _Enough

    def _share(self, chosen: int) -> bool:
        """Whether the pieces may share a sheet; never denied where they can."""
        known = self.sharing.get(chosen)
        if known is None:
            known = self.sharing[chosen] = self._judged(chosen)
        return known

    def _judged(self, chosen: int) -> bool:
        self._node()
        pieces = _pieces(chosen)
        if len(pieces) > 2 and not all(self._share(chosen ^ 1 << i) for i in reversed(pieces)):
            return False
        if len(pieces) > 4:
            return all(sum([weights[i] for i in pieces]) <= FINE for weights in self.weights)
        return bool(self._boxes(chosen)) or (len(pieces) == 4 and self._in_corners(pieces))

    def _boxes(self, chosen: int) -> list[Size]:
        """The least boxes (none within another) into which straight cuts can lay the pieces, of those on the sheet."""
        known = self.boxes.get(chosen)
        if known is not None:
            return known
        found: list[Size] = []
        lowest = chosen & -chosen
        others = chosen ^ lowest
        part = others
        while part:
            part = (part - 1) & others
            for w1, h1 in self._boxes(lowest | part):
                for w2, h2 in self._boxes(others ^ part):
                    if w1 + w2 <= self.width:
                        found.append((w1 + w2, max(h1, h2)))
                    if h1 + h2 <= self.height:
                        found.append((max(w1, w2), h1 + h2))
        self.boxes[chosen] = _least(found)
        return self.boxes[chosen]

    def _in_corners(self, pieces: list[int]) -> bool:
        """Whether four pieces fit, one in each corner."""
        width, height = self.width, self.height
        first, *others = pieces
        for order in permutations(others):
            for a, b, c, d in product(*(self.lie[i] for i in (first, *order))):  # clockwise from the top left
                if a[0] + b[0] > width or c[0] + d[0] > width or b[1] + c[1] > height or d[1] + a[1] > height:
                    continue
                if (a[0] + c[0] <= width or a[1] + c[1] <= height) and (b[0] + d[0] <= width or b[1] + d[1] <= height):
                    return True
        return False

    def _laid(self, chosen: int) -> bool:
        """Whether a layout of the pieces is found. If not, they are taken not to share a sheet, and proof is off."""
        if chosen not in self.spots:
            self._node(LAYING)
            spots = self._filled([self.kinds[i] for i in _pieces(chosen)])
            if spots is None:
                self.open, self.sharing[chosen] = True, False
                return False
            self.spots[chosen] = spots
        return True

    def _filled(self, kinds: list[int]) -> list[Spot] | None:
        filler = filler_for(self.straight)
        for order in orders(self.job, kinds):
            for rule in RULES:
                spots, left, _ = filler(self.job.kinds, self.width, self.height, order, rule, 0)
                if not left:
                    return spots
        return None if self.straight else pack_one(self.job.kinds, kinds, self.width, self.height, LAID_NODES)


def _pieces(bits: int) -> list[int]:
    found = []
    while bits:
        lowest = bits & -bits
        found.append(lowest.bit_length() - 1)
        bits ^= lowest
    return found


def _least(boxes: list[Size]) -> list[Size]:
    """The boxes in which no other lies, narrowest first."""
    out: list[Size] = []
    for width, height in sorted(boxes):
        if not out or height < out[-1][1]:
            out.append((width, height))
    return out
