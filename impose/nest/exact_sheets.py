"""Few pieces: whether so many sheets can be enough, by trying every way to part the pieces into sets that share one.

The largest piece left goes with each set that it may share a sheet with (`sharing`), and as many pieces as may join;
then the next largest. A sheet too few is proven impossible when no parting is left. One that is found is laid; a set of
it that cannot be laid is taken back, and never tried again. Where that is unsure the question stays open.
"""

from __future__ import annotations

from impose.nest.bounds import FINE
from impose.nest.compiled import find_loops
from impose.nest.compiled_exact import part_pieces_compiled
from impose.nest.exact_sets import TRIED_PLACES, NodeBudget, NodesSpent, SharingJudge, list_bits
from impose.nest.instance import FilledSheet, NestingInstance

PRESSING = 4  # pairs of functions that a set is held to: those that leave the least to spare


class SheetCountSearch:
    """The search for `count` sheets of one paper for all pieces of the job."""

    def __init__(
        self, job: NestingInstance, stock: int, straight: bool, nodes: NodeBudget, places: int = TRIED_PLACES[-1]
    ) -> None:
        self.job, self.stock, self.nodes = job, stock, nodes
        self.sharing = SharingJudge(job, stock, straight, nodes, places)
        self.failed: set[tuple[int, int]] = set()
        self.open = False
        self.sets: list[int] = []
        self.refused = 0  # a set of those chosen that does not share a sheet after all

    def find_sheets(self, count: int) -> list[FilledSheet] | None:
        """All pieces on `count` sheets or fewer; None if that was not found, and if `open` is False cannot be."""
        if (done := self._find_compiled(count)) is not None:
            return done[0]
        found = False
        try:
            found = self._part_pieces((1 << len(self.sharing.pieces)) - 1, count)
        except NodesSpent:
            self.open = True
        self.open |= self.sharing.open and not found
        return [FilledSheet(self.stock, self.sharing.spots[number]) for number in self.sets] if found else None

    def _find_compiled(self, count: int) -> tuple[list[FilledSheet] | None] | None:
        """`find_sheets` by the library, in a tuple; None where it cannot."""
        sharing, nodes = self.sharing, self.nodes
        paper = (sharing.width, sharing.height)
        if sharing.straight or find_loops() is None:
            return None
        sets = sharing.make_sets()
        done = part_pieces_compiled(sets, paper, sharing.places, count, nodes.early, nodes.left, nodes.over)
        if done is None:
            return None
        found, self.open, self.nodes.left = done
        return (None if found is None else [FilledSheet(self.stock, spots) for spots in found],)

    def _part_pieces(self, left: int, count: int) -> bool:
        if not left:
            densest = sorted(self.sets, key=lambda chosen: -self._measure_area(chosen))
            self.refused = next((chosen for chosen in densest if not self.sharing.find_layout(chosen)), 0)
            return not self.refused
        if not count or (left, count) in self.failed:
            return False
        self.nodes.take_nodes()
        pieces = list_bits(left)
        every = self.sharing.weights
        needs = [sum([weights[i] for i in pieces]) - (count - 1) * FINE for weights in every]
        if max(needs) <= FINE:
            first = 1 << pieces[0]
            joining = [i for i in pieces[1:] if self.sharing.may_share(first | 1 << i)]
            pressing = sorted(zip(needs, every, strict=True), key=lambda pair: -pair[0])[:PRESSING]
            if self._part_with_set(first, joining, left, count, pressing):
                return True
        if not self.refused:  # else it was given up because of a set before it
            self.failed.add((left, count))
        return False

    def _part_with_set(
        self, chosen: int, joining: list[int], left: int, count: int, needs: list[tuple[int, list[int]]]
    ) -> bool:
        """Every set of `chosen` and some of `joining` that none of `left` could join too; the rest parted after it."""
        if self.refused:
            return False
        self.nodes.take_nodes()
        may, kinds = self.sharing.may_share, self.sharing.pieces
        here = list_bits(chosen) + joining
        for need, weights in needs:
            if sum([weights[i] for i in here]) < need:  # the other sheets could not hold what is left over
                return False
        if not joining:
            if self.sharing.may_any_join(chosen, left & ~chosen):
                return False
            self.sets.append(chosen)
            if self._part_pieces(left & ~chosen, count - 1):
                return True
            self.sets.pop()
            if chosen == self.refused:
                self.refused = 0
            return False
        first = joining[0]
        more = chosen | 1 << first
        if self._part_with_set(more, [i for i in joining[1:] if may(more | 1 << i)], left, count, needs):
            return True
        other = [i for i in joining[1:] if kinds[i] != kinds[first]]  # equal pieces are taken in order
        return self._part_with_set(chosen, other, left, count, needs)

    def _measure_area(self, chosen: int) -> int:
        return sum([self.job.piece_area(self.sharing.pieces[i]) for i in list_bits(chosen)])
