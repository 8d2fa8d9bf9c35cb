"""The exact searches of few pieces in C, where the library is there: see `compiled`.

Each gives what its twin in Python gives for as many nodes. Where the caller is asked whether it is over, the library
asks less often than the twin, a hundred times as many nodes passing in the same time.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Sequence
from itertools import chain

from impose.nest.budget import SearchBudget
from impose.nest.compiled import (
    AREA_MOST,
    Question,
    find_loops,
    flatten_rows,
    locate_list,
    make_zeros,
    read_spots,
    split_sheets,
)
from impose.nest.instance import FilledSheet, PieceSize, PlacedSpot

NO_MEMORY, UNDECIDED = -1, -2
NUMBER_MOST = 1 << 62
DEALT_MOST, PAPERS_MOST = 24, 64
BOX_MOST, PACKED_MOST = 16, 40  # pieces

Size = tuple[int, int]
Place = tuple[int, int, int, int]  # x, y, width, height
Over = Callable[[], bool] | None


class CallerAsking:
    """Asks the caller from within the library; what it raises there, `raise_problem` raises once all has come back."""

    def __init__(self, over: Over) -> None:
        self.over = over
        self.problem: BaseException | None = None
        self.question = Question() if over is None else Question(self._ask_caller)

    def _ask_caller(self) -> int:
        assert self.over is not None
        try:
            return self.over()
        except BaseException as problem:
            self.problem = problem
            return True

    @classmethod
    def whether_over(cls, budget: SearchBudget) -> CallerAsking:
        """Asks whether the budget is over, where a clock or the caller can end it."""
        watched = budget.end is not None or budget.stop is not None
        return cls((lambda: budget.over) if watched else None)

    def raise_problem(self) -> None:
        """Raise what the caller raised when it was asked."""
        if self.problem is not None:
            raise self.problem


class SetsOfPieces:
    """What is known of few pieces and one paper, as the library takes it: `exact_sets.SharingJudge`."""

    def __init__(
        self,
        pieces: Sequence[int],
        lie: Sequence[Sequence[Size]],
        weights: Sequence[Sequence[int]],
        kinds: Sequence[PieceSize],
        orders: Sequence[Sequence[int]],
    ) -> None:
        """`orders` are all kinds in the orders that filling tries."""
        self.count = len(pieces)
        self.pieces = flatten_rows(
            (k, len(ways), *(*chain(*ways), 0, 0, 0, 0)[:4]) for k, ways in zip(pieces, lie, strict=True)
        )
        self.weights, self.duals = flatten_rows(weights), len(weights)
        self.kinds, self.sizes = flatten_rows(kinds), len(kinds)
        self.ranks = flatten_rows([order.index(k) for k in range(len(kinds))] for order in orders)

    def list_arguments(self, paper: Size) -> list[int]:
        """As `part_pieces` begins; `self` has to outlive the call."""
        return [
            locate_list(self.pieces), self.count, *paper, locate_list(self.weights), self.duals,
            locate_list(self.kinds), self.sizes, locate_list(self.ranks),
        ]  # fmt: skip


def part_pieces_compiled(
    sets: SetsOfPieces, paper: Size, places: int, sheets: int, early: bool, nodes: int, over: Over
) -> tuple[list[list[PlacedSpot]] | None, bool, int] | None:
    """What lies on each of so many sheets or fewer, if that is found; whether it is open; the nodes left.

    `exact_sheets.SheetCountSearch`. None where the library is missing, has no memory or cannot count so far.
    """
    loops = find_loops()
    if loops is None or sets.count > PACKED_MOST:
        return None
    left, spots, counts = array("q", [nodes]), make_zeros(5 * sets.count), make_zeros(sets.count)
    asking = CallerAsking(over)
    at = [locate_list(x) for x in (left, spots, counts)]
    made = loops.part_pieces(*sets.list_arguments(paper), places, sheets, early, asking.question, *at)
    asking.raise_problem()
    if made == NO_MEMORY:
        return None
    found = [sheet.spots for sheet in split_sheets(0, spots, counts[: max(0, made)])]
    return found or None, made == UNDECIDED, left[0]


def deal_pieces_compiled(
    papers: Sequence[tuple[SetsOfPieces, Size, int, int | None]],
    places: int,
    worth: Sequence[int],
    sums: Sequence[int] | None,
    best: int,
    early: bool,
    nodes: int,
    over: Over,
) -> tuple[list[FilledSheet] | None, bool, int] | None:
    """The cheapest sheets that cost less than `best`, if they are found; whether it is open; the nodes left.

    `exact_mix.MixSearch`. For each paper what is known of the pieces on it, its size, its cost and how many sheets
    there are; `worth` are that of each piece and the parts of a cost unit. None where the library is missing, has no
    memory or cannot count so far.
    """
    loops, sets = find_loops(), papers[0][0]
    if loops is None or len(papers) > PAPERS_MOST or sets.count > DEALT_MOST or best >= NUMBER_MOST:
        return None
    if any(cost >= NUMBER_MOST for _, _, cost, _ in papers) or max(worth) >= NUMBER_MOST**2:
        return None
    rows = flatten_rows(
        (locate_list(own.pieces), *size, locate_list(own.weights), own.duals, cost, _cap_limit(limit))
        for own, size, cost, limit in papers
    )
    halves = flatten_rows((w % NUMBER_MOST, w // NUMBER_MOST) for w in worth)
    costs, numbers, spots = array("q", sums or ()), array("q", [nodes, best, 0]), make_zeros(5 * sets.count)
    counts, stocks = make_zeros(sets.count), make_zeros(sets.count)
    asking = CallerAsking(over)
    at = [locate_list(x) for x in (rows, sets.kinds, sets.ranks, halves, costs, numbers, spots, counts, stocks)]
    known = (len(papers), sets.count, at[1], sets.sizes, at[2], places)
    summed = -1 if sums is None else len(sums)
    made = loops.deal_pieces(at[0], *known, at[3], at[4], summed, early, asking.question, *at[5:])
    asking.raise_problem()
    if made == NO_MEMORY:
        return None
    sheets = split_sheets(0, spots, counts[:made])
    found = [FilledSheet(stock, sheet.spots) for stock, sheet in zip(stocks, sheets, strict=False)]
    return found or None, bool(numbers[2]), numbers[0]


def _cap_limit(limit: int | None) -> int:
    return -1 if limit is None else min(limit, NUMBER_MOST)


def fit_box_compiled(
    lie: Sequence[Sequence[Size]],
    alike: Sequence[bool],
    box: Size,
    spare: int,
    nodes: int,
    over: Over,
) -> tuple[list[Place] | None, int] | None:
    """Where the pieces lie in the box, if they do, and the nodes left: `exact_roll._BoxSweep`.

    None where the library is missing, has no memory or cannot count so far.
    """
    loops = find_loops()
    if loops is None or len(lie) > BOX_MOST or box[0] * box[1] >= AREA_MOST:
        return None
    rows = [
        (*ways[0], 0, *(ways[1] if len(ways) > 1 else (0, 0)), 0, same) for ways, same in zip(lie, alike, strict=True)
    ]
    pieces, left, laid = flatten_rows(rows), array("q", [nodes]), make_zeros(4 * len(lie))
    asking = CallerAsking(over)
    found = loops.fit_box(
        locate_list(pieces), len(lie), *box, spare, locate_list(left), asking.question, locate_list(laid)
    )
    asking.raise_problem()
    if found < 0:
        return None
    return list(zip(*[iter(laid)] * 4, strict=True)) if found else None, left[0]


def pack_sheet_compiled(
    kinds: Sequence[PieceSize],
    counts: Sequence[tuple[int, int]],
    paper: Size,
    spare: int,
    nodes: int,
    over: Over,
) -> tuple[list[PlacedSpot] | None] | None:
    """The spots of all pieces on one sheet or None, in a tuple: `exact_sheet._SheetSearch`.

    `counts` are kinds and how many, in the order to try. None where the library is missing or cannot count so far.
    """
    loops, many = find_loops(), sum(count for _, count in counts)
    if loops is None or many > PACKED_MOST or paper[0] * paper[1] >= AREA_MOST:
        return None
    sizes, spots = flatten_rows((*kinds[k], count) for k, count in counts), make_zeros(5 * many)
    asking = CallerAsking(over)
    found = loops.pack_sheet(
        locate_list(sizes), len(counts), *paper, spare, many, nodes, asking.question, locate_list(spots)
    )
    asking.raise_problem()
    if not found:
        return (None,)
    return ([spot._replace(kind=counts[spot.kind][0]) for spot in read_spots(spots)],)
