"""Few pieces: which of them may share one sheet of a paper, and how they lie there.

Sets of up to four pieces are judged exactly; of larger ones it is asked that every smaller set within may share a
sheet, and that no pair of dual feasible functions objects. So what can share one is never denied.

Three rectangles that fit a sheet can be laid so that straight cuts part them; four can, or lie one in each corner: any
two are apart across or down, and where no cut parts four, three pairs are apart across and three down, each in a chain
of all four, which leaves no other place to be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import permutations, product

from impose.nest.bounds import FINE, choose, ways
from impose.nest.budget import Budget
from impose.nest.exact import pack_one
from impose.nest.free import RULES
from impose.nest.job import Job, Spot
from impose.nest.search import filler_for, orders

NODES_A_SECOND = 10_000
STEPS_A_NODE = 2
LAYING = 50  # nodes that laying a set counts for
LAID_NODES = 200  # of `pack_one` for a set that filling does not lay

Size = tuple[int, int]


class Enough(Exception):
    """The nodes are spent."""


@dataclass
class Nodes:
    """How many sets may still be looked at."""

    left: int
    over: Callable[[], bool] | None = None

    def take(self, count: int = 1) -> None:
        """Count some; raises `Enough` once there are no more, or it is over."""
        self.left -= count
        if self.left < 0 or (self.over is not None and self.over()):
            raise Enough


def nodes_of(budget: Budget) -> Nodes:
    """What a budget allows: about a tenth of the time that the whole of it takes."""
    if budget.remaining is not None:
        return Nodes(int(budget.remaining * NODES_A_SECOND), lambda: budget.over)
    return Nodes(((budget.steps or 0) - budget.done) // STEPS_A_NODE, lambda: budget.over)


class Sharing:
    """Sets of pieces on one sheet of one paper. A piece is a bit, the largest lowest; `pieces` are their kinds.

    `open` once a set that was taken to share a sheet could not be laid: then it is taken not to, which nothing proves.
    """

    def __init__(self, job: Job, stock: int, straight: bool, nodes: Nodes) -> None:
        self.job, self.straight, self.nodes = job, straight, nodes
        self.pieces = job.all()
        lying = ways(job, stock)
        paper = job.stocks[stock]
        self.width, self.height = paper.width, paper.height or 0
        self.lie = [lying.lie[k] for k in self.pieces]
        self.weights = []
        for f, g in choose(job, lying, 12):
            whole = f.whole * g.whole
            # nothing where a piece does not fit; where none does, `whole` is nothing, too
            self.weights.append(
                [min([f.weigh(w) * g.weigh(h) for w, h in way]) * FINE // whole if way else 0 for way in self.lie]
            )
        self.boxes: dict[int, list[Size]] = {1 << i: _least(list(way)) for i, way in enumerate(self.lie)}
        self.known = {1 << i: bool(way) for i, way in enumerate(self.lie)}
        self.spots: dict[int, list[Spot]] = {}
        self.open = False

    def may(self, chosen: int) -> bool:
        """Whether the pieces may share a sheet; never denied where they can."""
        known = self.known.get(chosen)
        if known is None:
            known = self.known[chosen] = self._judged(chosen)
        return known

    def laid(self, chosen: int) -> bool:
        """Whether a layout of the pieces is found, in `spots`. If not, they are taken not to share a sheet."""
        if chosen not in self.spots:
            self.nodes.take(LAYING)
            spots = self._filled([self.pieces[i] for i in bits(chosen)])
            if spots is None:
                self.open, self.known[chosen] = True, False
                return False
            self.spots[chosen] = spots
        return True

    def _judged(self, chosen: int) -> bool:
        self.nodes.take()
        pieces = bits(chosen)
        if not all(self.may(chosen ^ 1 << i) for i in reversed(pieces)):
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

    def _filled(self, kinds: list[int]) -> list[Spot] | None:
        filler = filler_for(self.straight)
        for order in orders(self.job, kinds):
            for rule in RULES:
                spots, left, _ = filler(self.job.kinds, self.width, self.height, order, rule, 0)
                if not left:
                    return spots
        return (
            None
            if self.straight
            else pack_one(self.job.kinds, kinds, self.width, self.height, LAID_NODES, self.nodes.over)
        )


def bits(chosen: int) -> list[int]:
    """The pieces of a set, the largest first."""
    found = []
    while chosen:
        lowest = chosen & -chosen
        found.append(lowest.bit_length() - 1)
        chosen ^= lowest
    return found


def _least(boxes: list[Size]) -> list[Size]:
    """The boxes in which no other lies, narrowest first."""
    out: list[Size] = []
    for width, height in sorted(boxes):
        if not out or height < out[-1][1]:
            out.append((width, height))
    return out
