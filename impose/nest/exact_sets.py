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

from impose.nest.bounds import FINE, choose_dual_pairs, list_oriented_lengths
from impose.nest.budget import SearchBudget
from impose.nest.exact_sheet import pack_one_sheet
from impose.nest.free_rectangles import RULES
from impose.nest.instance import NestingInstance, PlacedSpot
from impose.nest.search import choose_filler, list_orders

NODES_A_SECOND = 10_000
STEPS_A_NODE = 2
LAYING = 50  # nodes that laying a set counts for
LAID_NODES = 200  # of `pack_one` for a set that filling does not lay

Size = tuple[int, int]


class NodesSpent(Exception):
    """The nodes are spent."""


@dataclass
class NodeBudget:
    """How many sets may still be looked at."""

    left: int
    over: Callable[[], bool] | None = None

    def take_nodes(self, count: int = 1) -> None:
        """Count some; raises `NodesSpent` once there are no more, or it is over."""
        self.left -= count
        if self.left < 0 or (self.over is not None and self.over()):
            raise NodesSpent


def nodes_for_budget(budget: SearchBudget) -> NodeBudget:
    """What a budget allows: about a tenth of the time that the whole of it takes."""
    if budget.remaining is not None:
        return NodeBudget(int(budget.remaining * NODES_A_SECOND), lambda: budget.over)
    return NodeBudget(((budget.steps or 0) - budget.done) // STEPS_A_NODE, lambda: budget.over)


class SharingJudge:
    """Sets of pieces on one sheet of one paper. A piece is a bit, the largest lowest; `pieces` are their kinds.

    `open` once a set that was taken to share a sheet could not be laid: then it is taken not to, which nothing proves.
    """

    def __init__(self, job: NestingInstance, stock: int, straight: bool, nodes: NodeBudget) -> None:
        self.job, self.straight, self.nodes = job, straight, nodes
        self.pieces = job.list_pieces()
        lying = list_oriented_lengths(job, stock)
        paper = job.stocks[stock]
        self.width, self.height = paper.width, paper.height or 0
        self.lie = [lying.lie[k] for k in self.pieces]
        self.weights = []
        for f, g in choose_dual_pairs(job, lying, 12):
            whole = f.whole * g.whole
            # nothing where a piece does not fit; where none does, `whole` is nothing, too
            self.weights.append(
                [min([f.weigh(w) * g.weigh(h) for w, h in way]) * FINE // whole if way else 0 for way in self.lie]
            )
        self.boxes: dict[int, list[Size]] = {1 << i: _keep_least_boxes(list(way)) for i, way in enumerate(self.lie)}
        self.known = {1 << i: bool(way) for i, way in enumerate(self.lie)}
        self.spots: dict[int, list[PlacedSpot]] = {}
        self.open = False

    def may_share(self, chosen: int) -> bool:
        """Whether the pieces may share a sheet; never denied where they can."""
        known = self.known.get(chosen)
        if known is None:
            known = self.known[chosen] = self._judge_set(chosen)
        return known

    def find_layout(self, chosen: int) -> bool:
        """Whether a layout of the pieces is found, in `spots`. If not, they are taken not to share a sheet."""
        if chosen not in self.spots:
            self.nodes.take_nodes(LAYING)
            spots = self._fill_sheet([self.pieces[i] for i in list_bits(chosen)])
            if spots is None:
                self.open, self.known[chosen] = True, False
                return False
            self.spots[chosen] = spots
        return True

    def _judge_set(self, chosen: int) -> bool:
        self.nodes.take_nodes()
        pieces = list_bits(chosen)
        if not all(self.may_share(chosen ^ 1 << i) for i in reversed(pieces)):
            return False
        if len(pieces) > 4:
            return all(sum([weights[i] for i in pieces]) <= FINE for weights in self.weights)
        return bool(self._list_least_boxes(chosen)) or (len(pieces) == 4 and self._fit_in_corners(pieces))

    def _list_least_boxes(self, chosen: int) -> list[Size]:
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
            for w1, h1 in self._list_least_boxes(lowest | part):
                for w2, h2 in self._list_least_boxes(others ^ part):
                    if w1 + w2 <= self.width:
                        found.append((w1 + w2, max(h1, h2)))
                    if h1 + h2 <= self.height:
                        found.append((max(w1, w2), h1 + h2))
        self.boxes[chosen] = _keep_least_boxes(found)
        return self.boxes[chosen]

    def _fit_in_corners(self, pieces: list[int]) -> bool:
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

    def _fill_sheet(self, kinds: list[int]) -> list[PlacedSpot] | None:
        filler = choose_filler(self.straight)
        for order in list_orders(self.job, kinds):
            for rule in RULES:
                spots, left, _ = filler(self.job.kinds, self.width, self.height, order, rule, 0)
                if not left:
                    return spots
        return (
            None
            if self.straight
            else pack_one_sheet(self.job.kinds, kinds, self.width, self.height, LAID_NODES, self.nodes.over)
        )


def list_bits(chosen: int) -> list[int]:
    """The pieces of a set, the largest first."""
    found = []
    while chosen:
        lowest = chosen & -chosen
        found.append(lowest.bit_length() - 1)
        chosen ^= lowest
    return found


def _keep_least_boxes(boxes: list[Size]) -> list[Size]:
    """The boxes in which no other lies, narrowest first."""
    out: list[Size] = []
    for width, height in sorted(boxes):
        if not out or height < out[-1][1]:
            out.append((width, height))
    return out
