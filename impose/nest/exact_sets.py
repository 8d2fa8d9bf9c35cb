"""Few pieces: which of them may share one sheet of a paper, and how they lie there.

Sets of up to four pieces are judged exactly; of larger ones it is asked that every smaller set within may share a
sheet, and that no pair of dual feasible functions objects. So what can share one is never denied. Before a sheet is
taken to hold a set of up to eight, every arrangement is tried.

Three rectangles that fit a sheet can be laid so that straight cuts part them; four can, or lie one in each corner: any
two are apart across or down, and where no cut parts four, three pairs are apart across and three down, each in a chain
of all four, which leaves no other place to be.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations, product

from impose.nest.bounds import FINE, choose_dual_pairs, list_oriented_lengths
from impose.nest.budget import SearchBudget
from impose.nest.compiled import find_loops
from impose.nest.compiled_exact import SetsOfPieces
from impose.nest.exact_roll import StripFitting
from impose.nest.exact_sheet import pack_one_sheet
from impose.nest.free_rectangles import RULES
from impose.nest.instance import NestingInstance, PlacedSpot
from impose.nest.search import choose_filler, list_orders
from impose.values import ChangingStruct

NODES_A_SECOND = 10_000
STEPS_A_NODE = 2
FEW = 20  # pieces
FEW_PART, MANY_PART = 0.5, 0.1  # of a clock, where the library is at work
UNCOUNTED = 1 << 60
FEW_CLOCK, FEW_STEPS = 5, 2  # times as much for them
LAYING = 50  # nodes that laying a set counts for
TRIED_MOST = 8  # pieces whose every arrangement is tried
TRIED_PLACES = (200, 4_000)  # looked at for that: few at first, since most sets show soon
LAID_NODES = 200  # of `pack_one` for a set that filling does not lay

Size = tuple[int, int]


class NodesSpent(Exception):
    """The nodes are spent."""


class NodeBudget(ChangingStruct):
    """How many sets may still be looked at."""

    left: int
    over: Callable[[], bool] | None = None
    early: bool = False  # sets are laid before they are built upon: quick in the library, and only there

    def take_nodes(self, count: int = 1) -> None:
        """Count some; raises `NodesSpent` once there are no more, or it is over."""
        self.left -= count
        if self.left < 0 or (self.over is not None and self.over()):
            raise NodesSpent


def count_nodes(budget: SearchBudget, pieces: int, straight: bool = False) -> NodeBudget:
    """What a budget allows: about a tenth of the time that the whole of it takes, half of a clock where pieces are few.

    Of so few the search finds in a moment what it will ever find, and a proof is what is missing.
    """
    few = pieces <= FEW
    if budget.remaining is not None and not straight and find_loops() is not None:
        part = budget.share_budget(None, budget.remaining * (FEW_PART if few else MANY_PART))
        return NodeBudget(UNCOUNTED, lambda: part.over, early=True)
    if budget.remaining is not None:
        return NodeBudget(int(budget.remaining * NODES_A_SECOND * (FEW_CLOCK if few else 1)), lambda: budget.over)
    steps = (budget.steps or 0) - budget.done
    return NodeBudget(steps // STEPS_A_NODE * (FEW_STEPS if few else 1), lambda: budget.over)


class SharingJudge:
    """Sets of pieces on one sheet of one paper. A piece is a bit, the largest lowest; `pieces` are their kinds.

    `open` once a set that was taken to share a sheet could not be laid: then it is taken not to, which nothing proves.
    """

    def __init__(
        self, job: NestingInstance, stock: int, straight: bool, nodes: NodeBudget, places: int = TRIED_PLACES[-1]
    ) -> None:
        self.job, self.straight, self.nodes, self.places = job, straight, nodes, places
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

    def make_sets(self) -> SetsOfPieces:
        """What the library has to know."""
        kinds = self.job.kinds
        return SetsOfPieces(self.pieces, self.lie, self.weights, kinds, list_orders(self.job, range(len(kinds))))

    def may_share(self, chosen: int) -> bool:
        """Whether the pieces may share a sheet; never denied where they can."""
        known = self.known.get(chosen)
        if known is None:
            known = self.known[chosen] = self._judge_set(chosen)
        return known

    def may_any_join(self, chosen: int, others: int) -> bool:
        """Whether any of the others may join the chosen.

        Of equal pieces the first is asked for: it was tried before, so that a set with it that could not be laid is
        known, and one with another of them is not.
        """
        first = {self.pieces[i]: i for i in reversed(list_bits(others))}
        return any(self.may_share(chosen | 1 << i) for i in sorted(first.values()))

    def find_layout(self, chosen: int) -> bool:
        """Whether a layout of the pieces is found, in `spots`. If not, they are taken not to share a sheet."""
        if chosen in self.spots:
            return True
        if self.known.get(chosen) is False:
            return False
        pieces = list_bits(chosen)
        spots, sure = self._try_every_way(pieces)
        if spots is None and not sure:
            self.nodes.take_nodes(LAYING)
            spots = self._fill_sheet([self.pieces[i] for i in pieces])
        if spots is not None:
            self.spots[chosen] = spots
            return True
        self.known[chosen] = False
        self.open |= not sure
        return False

    def _try_every_way(self, pieces: list[int]) -> tuple[list[PlacedSpot] | None, bool]:
        """A layout, if there is one, and whether that is sure: it may be too much to try."""
        if self.straight or len(pieces) > TRIED_MOST:
            return None, False
        fitting = StripFitting([self.lie[i] for i in pieces], self.width, self.places, self.nodes.over)
        laid = fitting.find_within(self.height)
        self.nodes.take_nodes(self.places - max(0, fitting.nodes))
        if laid is None:
            return None, fitting.nodes >= 0
        return [PlacedSpot(self.pieces[pieces[i]], *place) for i, *place in laid], True

    def _judge_set(self, chosen: int) -> bool:
        self.nodes.take_nodes()
        pieces = list_bits(chosen)
        if not all(self.may_share(chosen ^ 1 << i) for i in reversed(pieces)):
            return False
        if any(sum([weights[i] for i in pieces]) > FINE for weights in self.weights):
            return False
        if len(pieces) > 4:
            return True
        return self._part_by_cut(chosen) or (len(pieces) == 4 and self._fit_in_corners(pieces))

    def _part_by_cut(self, chosen: int) -> bool:
        """Whether a straight cut parts the pieces into two sets that lie beside each other, or one below the other."""
        lowest = chosen & -chosen
        part = others = chosen ^ lowest
        while part:
            part = (part - 1) & others
            near, far = self._list_least_boxes(lowest | part), self._list_least_boxes(others ^ part)
            if near and far:
                narrow, low = near[0][0] + far[0][0], near[-1][1] + far[-1][1]
                if narrow <= self.width or low <= self.height:
                    return True
        return False

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
