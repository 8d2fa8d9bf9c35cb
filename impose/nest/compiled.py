"""The inner loops of the search in C, where the library of them is there (`impose.native`).

Each gives what its twin in Python gives, piece for piece: the same draws from the same generator in the same order,
the same comparisons, the same ties (held by test). So whoever holds a search may hand it over at any point. Where a
loop comes to an end of memory its function returns None, and the twin does it all.
"""

from __future__ import annotations

import ctypes
import functools
import random
from array import array
from collections.abc import Callable, Iterable, Sequence
from itertools import chain

from impose.native.library import load_library
from impose.nest.budget import SearchBudget
from impose.nest.instance import FilledSheet, PieceSize, PlacedSpot

NO_LIMIT = -1
EXACT = 1 << 53  # whole numbers below are doubles as they are
AREA_MOST = 1 << 62  # square micrometres: a strip of a roll may be longer than any paper
PAUSE = 2_000_000  # free rectangles looked at between looks at the clock: a hundredth of a second

Question = ctypes.CFUNCTYPE(ctypes.c_int)  # put now and then: whether it is over

_NUMBER, _LIST = ctypes.c_int64, ctypes.c_void_p
_ARGUMENTS = {
    "absorb_pool": [_LIST] * 3 + [_NUMBER] * 4 + [_LIST, _NUMBER, _LIST, _NUMBER, _LIST, _NUMBER, _LIST, _LIST],
    "cover_pieces": (
        [_LIST, _NUMBER, _LIST, _NUMBER]
        + [_LIST] * 3
        + [_NUMBER]
        + [_LIST] * 2
        + [_NUMBER] * 3
        + [_LIST, Question]
        + [_LIST] * 4
    ),
    "climb_blend": [_LIST] * 2 + [_NUMBER] + [_LIST] * 2 + [_NUMBER] + [_LIST] * 4,
    "deal_pieces": (
        [_LIST, _NUMBER, _NUMBER] + [_LIST, _NUMBER] * 2 + [_LIST] * 2 + [_NUMBER] * 2 + [Question] + [_LIST] * 4
    ),
    "fit_box": [_LIST] + [_NUMBER] * 4 + [_LIST, Question, _LIST],
    "part_pieces": [_LIST] + [_NUMBER] * 3 + [_LIST, _NUMBER] * 2 + [_LIST] + [_NUMBER] * 3 + [Question] + [_LIST] * 3,
    "rank_pairs": ([_LIST, _NUMBER, _LIST, _NUMBER, _LIST, _LIST] + [_NUMBER] * 3 + [_LIST, _NUMBER, _LIST]),
    "pack_sheet": [_LIST] + [_NUMBER] * 6 + [Question, _LIST],
    "recover_mix": [_LIST, _NUMBER, _LIST, _NUMBER] + [_LIST] * 3 + [_NUMBER] * 2 + [_LIST] * 5,
    "fill_all_sheets": [_LIST] + [_NUMBER] * 3 + [_LIST] + [_NUMBER] * 3 + [_LIST] * 2,
    "fill_sheet": [_LIST] + [_NUMBER] * 3 + [_LIST] + [_NUMBER] * 4 + [_LIST] * 3,
    "find_clean_box": [_NUMBER] * 2 + [_LIST, _NUMBER, _LIST],
    "fit_strip": [_LIST] * 8 + [Question, _LIST],
    "nest_chunk": [_LIST, _LIST] + [_NUMBER] * 4 + [_LIST, _NUMBER, _NUMBER] + [_LIST] * 5,
}


def find_loops() -> ctypes.CDLL | None:
    """The compiled loops, if they are there.

    Their numbers have 64 bits. All sums stay below the area of a sheet (at most `model.LONGEST` squared) or of the
    burdens of the sheets of a group, 48 bits each (see `free_rectangles.choose_area_grain`).
    """
    library = load_library()
    return None if library is None else _declare_loops(library)


@functools.cache
def _declare_loops(library: ctypes.CDLL) -> ctypes.CDLL:
    for name, arguments in _ARGUMENTS.items():
        loop = getattr(library, name)
        loop.argtypes, loop.restype = arguments, _NUMBER
    return library


def absorb_compiled(
    loops: ctypes.CDLL,
    ways: tuple[Sequence[PieceSize], Sequence[PieceSize], Sequence[PieceSize]],
    burdens: Sequence[int],
    paper: tuple[int, int],
    straight: bool,
    sheets: Sequence[FilledSheet],
    pool: Sequence[int],
    chance: random.Random,
    budget: SearchBudget,
) -> tuple[list[FilledSheet], list[int]] | None:
    """`SheetEmptying.absorb_pool` by the compiled loop, leaving `chance` and `budget` as it would."""
    size, count = len(pool) + sum(len(sheet.spots) for sheet in sheets), len(pool)
    area = array("d", [w * h for w, h, _ in ways[0]])
    rows = max(1, min(size, paper[0] * paper[1] // int(min(area))), *(len(sheet.spots) for sheet in sheets))
    spots, counts = make_zeros(5 * rows * len(sheets)), array("q", [len(sheet.spots) for sheet in sheets])
    starts = range(0, len(spots), 5 * rows)
    for start, sheet in zip(starts, sheets, strict=True):
        spots[start : start + 5 * len(sheet.spots)] = flatten_rows(sheet.spots)
    three, weights = flatten_rows(chain(*ways)), array("q", burdens)
    pooled = array("q", pool) + make_zeros(size - count)
    state, done, gain = read_state(chance), budget.done, budget.gain
    most, patience = list_limits(budget)
    told = array("q", [most, patience, done, gain, PAUSE])
    at = [locate_list(x) for x in (spots, counts, pooled, state, told)]
    given = [
        locate_list(three),
        locate_list(area),
        locate_list(weights),
        len(area),
        *paper,
        straight,
        at[0],
        rows,
        at[1],
    ]
    while count and sheets and not budget.is_spent:
        count = loops.absorb_pool(
            *given, len(sheets), locate_list(pooled), count, locate_list(state), locate_list(told)
        )
        if count < 0:
            budget.done, budget.gain = done, gain
            return None
        budget.done, budget.gain = told[2], told[3]
    restore_state(chance, state)
    kept = [
        FilledSheet(sheet.stock, read_spots(spots[start : start + 5 * many]))
        for sheet, start, many in zip(sheets, starts, counts, strict=True)
    ]
    return kept, pooled[:count].tolist()


def nest_chunk_compiled(
    loops: ctypes.CDLL,
    kinds: Sequence[PieceSize],
    worth: Sequence[int],
    paper: tuple[int, int],
    straight: bool,
    pieces: Sequence[int],
    tries: int,
    chance: random.Random,
    over: Callable[[], bool],
    given_up: bool = False,
) -> list[FilledSheet] | None:
    """The sheets of `chunks.nest_chunk` by the compiled loop.

    Once it is `over` each sheet is filled once, or there are none where all is then `given_up`.
    """
    size = len(pieces)
    spots, counts, rest = make_zeros(5 * size), make_zeros(size), make_zeros(size)
    sizes, weights, left = flatten_rows(kinds), array("q", worth), array("q", pieces)
    state, at = read_state(chance), array("q", [size, 0, 0, 0, -1, 0, 0, PAUSE])
    given = [locate_list(sizes), locate_list(weights), len(kinds), *paper, straight, locate_list(left), size]
    lists = [locate_list(x) for x in (state, spots, counts, rest, at)]
    while at[0]:
        if loops.nest_chunk(*given, tries, *lists):
            return None
        if at[0] and over():
            if given_up:
                return []
            tries = 1
    return split_sheets(0, spots, counts[: at[1]])


class _KnownKinds:
    """The sizes last asked for, as numbers: one job's are asked for again and again."""

    last: tuple[Sequence[PieceSize], array[int]] = ((), array("q"))

    @classmethod
    def flatten_kinds(cls, kinds: Sequence[PieceSize]) -> array[int]:
        known, numbers = cls.last
        if known is not kinds:
            numbers = flatten_rows(kinds)
            cls.last = (kinds, numbers)
        return numbers


def fill_sheet_compiled(
    kinds: Sequence[PieceSize],
    paper: tuple[int, int],
    order: Sequence[int],
    rule: int,
    straight: bool,
    least: int | None,
) -> tuple[list[PlacedSpot], list[int]] | None:
    """The spots of `free_rectangles.fill_sheet` by the rule of that number, and what is left; None where it cannot.

    `kinds` is taken to be the same as long as it is the same object.
    """
    loops, size = find_loops(), len(order)
    if loops is None or paper[0] * paper[1] >= AREA_MOST:
        return None
    try:
        sizes, given = _KnownKinds.flatten_kinds(kinds), array("q", order)
    except OverflowError:  # a piece longer than any number, for a roll without end
        return None
    spots, left, over = make_zeros(5 * size), make_zeros(size), make_zeros(1)
    at = [locate_list(x) for x in (sizes, given, spots, left, over)]
    narrowest = NO_LIMIT if least is None else least
    placed = loops.fill_sheet(at[0], len(kinds), *paper, at[1], size, rule, straight, narrowest, *at[2:])
    return None if placed < 0 else (read_spots(spots[: 5 * placed]), left[: over[0]].tolist())


def fill_all_compiled(
    loops: ctypes.CDLL,
    stock: int,
    kinds: Sequence[PieceSize],
    paper: tuple[int, int],
    order: Sequence[int],
    rule: int,
    straight: bool,
) -> list[FilledSheet] | None:
    """The sheets of `search.fill_all_sheets` by the compiled loop and the rule of that number."""
    size = len(order)
    sizes, left, spots, counts = flatten_rows(kinds), array("q", order), make_zeros(5 * size), make_zeros(size)
    at = [locate_list(x) for x in (sizes, left, spots, counts)]
    made = loops.fill_all_sheets(at[0], len(kinds), *paper, at[1], size, rule, straight, at[2], at[3])
    return None if made < 0 else split_sheets(stock, spots, counts[:made])


def find_clean_box_compiled(
    loops: ctypes.CDLL, width: int, height: int, spots: Sequence[PlacedSpot]
) -> tuple[int, int, int, int] | None:
    """The largest clean rectangle of `finish.find_offcut`; all 0 if there is none, None without memory."""
    numbers, box = flatten_rows(spots), make_zeros(4)
    if loops.find_clean_box(width, height, locate_list(numbers), len(spots), locate_list(box)) < 0:
        return None
    return box[0], box[1], box[2], box[3]


def list_limits(budget: SearchBudget) -> tuple[int, int]:
    """The steps and the patience of a budget, as the library takes them."""
    return (
        NO_LIMIT if budget.steps is None else budget.steps,
        NO_LIMIT if budget.patience is None else budget.patience,
    )


def make_zeros(size: int) -> array[int]:
    """So many whole numbers."""
    return array("q", bytes(8 * size))


def flatten_rows(rows: Iterable[Iterable[int]]) -> array[int]:
    """The numbers of all rows, one after another."""
    return array("q", chain.from_iterable(rows))


def locate_list(numbers: array[int] | array[float]) -> int:
    """The address of the numbers, which whoever asks keeps alive."""
    return numbers.buffer_info()[0]


def read_spots(numbers: array[int]) -> list[PlacedSpot]:
    """Spots out of their numbers, five each."""
    return list(map(PlacedSpot._make, zip(*[iter(numbers)] * 5, strict=True)))


def split_sheets(stock: int, spots: array[int], counts: Iterable[int]) -> list[FilledSheet]:
    """Sheets of a paper with so many spots each, one after another."""
    sheets, done = [], 0
    for count in counts:
        sheets.append(FilledSheet(stock, read_spots(spots[5 * done : 5 * (done + count)])))
        done += count
    return sheets


def read_state(chance: random.Random) -> array[int]:
    """The generator's state as the library takes it."""
    return array("I", chance.getstate()[1])


def restore_state(chance: random.Random, state: array[int]) -> None:
    """The generator goes on where the library left it."""
    chance.setstate((3, tuple(state), None))
