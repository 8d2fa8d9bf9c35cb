"""A strip filled gap by gap in C, where the library is there: see `compiled`; its twin is `roll_beam`."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from typing import NamedTuple

from impose.nest.budget import SearchBudget
from impose.nest.compiled import EXACT, find_loops, flatten_rows, list_limits, locate_list, make_zeros, read_spots
from impose.nest.compiled_exact import NO_MEMORY, CallerAsking
from impose.nest.instance import PlacedSpot

MOST_STRIPS = 1 << 40  # more than can be found; of few pieces none is left out, however many are kept


class BeamPieces:
    """The pieces of a strip as the library takes them: ways to lie in three orders, kinds by their least height."""

    def __init__(
        self,
        ways: Sequence[Sequence[tuple[int, int, int]]],
        tallest: Sequence[tuple[int, int]],
        counts: Sequence[int],
        codes: Sequence[int],
        least: int,
    ) -> None:
        self.ways, self.tallest = [flatten_rows(order) for order in ways], flatten_rows(tallest)
        self.counts, self.codes = array("q", counts), array("q", codes)
        self.many, self.kinds, self.least, self.size = len(ways[0]), len(counts), least, sum(counts)

    def list_arguments(self) -> list[int]:
        """As `fit_strip` begins; `self` has to outlive the call."""
        return [locate_list(x) for x in (*self.ways, self.tallest, self.counts, self.codes)]


class FittedStrip(NamedTuple):
    """Where all pieces lie, the last one first; None where that was not found."""

    spots: list[PlacedSpot] | None


def fit_strip_compiled(
    pieces: BeamPieces,
    paper: tuple[int, int],
    spare: int,
    breadth: int,
    taste: tuple[int, float],
    per_step: int,
    budget: SearchBudget,
) -> FittedStrip | None:
    """`roll_beam.RollBeam.fit_all` by the compiled loop; None where the library is missing, or has no memory."""
    loops = find_loops()
    if loops is None or paper[0] * paper[1] >= EXACT:
        return None
    task = array("q", [*paper, spare, pieces.least, min(breadth, MOST_STRIPS), pieces.size, pieces.kinds, pieces.many])
    task.extend((*list_limits(budget), budget.done, budget.gain, per_step, taste[0]))
    spots, weight = make_zeros(5 * pieces.size), array("d", [taste[1]])
    asking = CallerAsking.whether_over(budget)
    at = [locate_list(x) for x in (weight, task, spots)]
    made = loops.fit_strip(*pieces.list_arguments(), at[0], at[1], asking.question, at[2])
    asking.raise_problem()
    if made == NO_MEMORY:
        return None
    budget.done = task[10]
    return FittedStrip(read_spots(spots) if made else None)
