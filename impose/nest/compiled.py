"""The compiled inner loops: loaded where numba is installed and so much is to be done that loading it pays.

They give the same answers as the plain ones (held by test), so when they take over is a matter of time only. Loading
takes about half a second; the first time on a machine they are compiled, which takes ten and is kept on disk beside
this package, in the user's cache, or where `NUMBA_CACHE_DIR` says. Where nothing can be kept they are left alone.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType
from typing import Any

from impose.nest.budget import SearchBudget
from impose.nest.instance import FilledSheet, PieceSize, PlacedSpot

AFTER = 8_000  # fillings done the plain way in this process (half a second) before loading is thought of
AHEAD_STEPS = 30_000  # fillings still allowed even if nothing is gained: fewer cost less than loading does
AHEAD_SECONDS = 1.5
COMPILING_SECONDS = 60.0  # a clock with less left than this has no time for compiling
PAUSE = 2_000  # fillings between looks at the clock
MOST = 1 << 62  # square micrometres; machine numbers are not as long as Python's


class _LoopState:
    """What this process knows: the loaded loops, or that there are none; how much was done the plain way."""

    kernel: ModuleType | None = None
    missing = False
    plain = 0


def loaded_loops(width: int, height: int) -> ModuleType | None:
    """The compiled loops, if this process has them and they can count a sheet so large.

    All sums stay below that of the sheets of a group, of 48 bits each (see `free_rectangles.area_grain`), or the area
    of one.
    """
    return _LoopState.kernel if width * height < MOST else None


def loops_for_budget(budget: SearchBudget, at_once: bool = False) -> ModuleType | None:
    """The compiled loops, if they are loaded or this budget makes loading them worth while, by what was done so far."""
    if _LoopState.kernel is not None or _LoopState.missing:
        return _LoopState.kernel
    _LoopState.plain += 1
    if _LoopState.plain < AFTER and not at_once:
        return None
    _LoopState.plain = 0
    seconds = budget.remaining
    ahead = [x for x in (budget.patience, budget.steps and budget.steps - budget.done) if x is not None]
    if (seconds is not None and seconds < AHEAD_SECONDS) or min(ahead, default=AHEAD_STEPS) < AHEAD_STEPS:
        return None
    _load_loops(seconds)
    return _LoopState.kernel


def _load_loops(seconds: float | None) -> None:
    """Load the loops unless that means compiling them while a short clock runs."""
    if find_spec("numba") is None:
        _LoopState.missing = True
        return
    try:
        from impose.nest import compiled_loops as loops

        if seconds is None or seconds >= COMPILING_SECONDS or _is_compiled_kept(loops):
            _warm_up(loops)
            _LoopState.kernel = loops
    except (ImportError, RuntimeError, OSError):  # numba finds no folder to keep the code in, or does not load here
        _LoopState.missing = True


def _is_compiled_kept(loops: ModuleType) -> bool:
    """Whether code compiled earlier lies on disk."""
    folder = Path(loops.nest_chunk.stats.cache_path)
    return any(folder.glob("compiled_loops.nest_chunk-*.nbi")) and any(folder.glob("compiled_loops.absorb_pool-*.nbi"))


def _warm_up(loops: ModuleType) -> None:
    """Load or compile now, with the least job there is, so that no clock is surprised later."""
    kinds: tuple[PieceSize, ...] = (PieceSize(1, 1, False),)
    empty = FilledSheet(0, [PlacedSpot(0, 0, 0, 1, 1)])
    absorb_compiled(loops, (kinds, kinds, kinds), [1], (2, 2), [empty], [0], random.Random(0), SearchBudget(1))
    list(nest_chunk_compiled(loops, kinds, [1], (2, 2), [0, 0], 3, random.Random(0)))


def absorb_compiled(
    loops: ModuleType,
    ways: tuple[Sequence[PieceSize], Sequence[PieceSize], Sequence[PieceSize]],
    burdens: Sequence[int],
    paper: tuple[int, int],
    sheets: Sequence[FilledSheet],
    pool: Sequence[int],
    chance: random.Random,
    budget: SearchBudget,
) -> tuple[list[FilledSheet], list[int]]:
    """`SheetEmptying.absorb_pool` by the compiled loop, leaving `chance` and `budget` as it would."""
    import numpy as np

    size = len(pool) + sum(len(sheet.spots) for sheet in sheets)
    area = np.array([w * h for w, h, _ in ways[0]], np.float64)
    rows = min(size, max(1, paper[0] * paper[1] // int(area.min())))
    spots, counts = np.zeros((len(sheets), rows, 5), np.int64), np.zeros(len(sheets), np.int64)
    for i, sheet in enumerate(sheets):
        counts[i] = len(sheet.spots)
        if sheet.spots:
            spots[i, : len(sheet.spots)] = sheet.spots
    pooled, count = np.zeros(size, np.int64), len(pool)
    pooled[:count] = pool
    three, weights, state = np.array(ways, np.int64), np.array(burdens, np.int64), _read_random_state(chance)
    most, patience = (-1 if x is None else x for x in (budget.steps, budget.patience))
    while count and not budget.is_spent:
        told = np.array([most, patience, budget.done, budget.gain, budget.done + PAUSE], np.int64)
        count = int(loops.absorb_pool(three, area, weights, *paper, spots, counts, pooled, count, state, told))
        budget.done, budget.gain = int(told[2]), int(told[3])
    _restore_random_state(chance, state)
    kept = [
        FilledSheet(sheet.stock, [PlacedSpot(*row) for row in spots[i, : counts[i]].tolist()])
        for i, sheet in enumerate(sheets)
    ]
    return kept, pooled[:count].tolist()


def nest_chunk_compiled(
    loops: ModuleType,
    kinds: Sequence[PieceSize],
    worth: Sequence[int],
    paper: tuple[int, int],
    pieces: Sequence[int],
    tries: int,
    chance: random.Random,
    over: Callable[[], bool] = lambda: False,
) -> Iterator[FilledSheet | None]:
    """The sheets of `chunks.nest_chunk` by the compiled loop, leaving `chance` as it would.

    None each time that it is `over`: who still wants the rest gets it filled once a sheet.
    """
    import numpy as np

    size = len(pieces)
    spots, counts, rest = np.zeros((size, 5), np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64)
    sizes, weights, left = np.array(kinds, np.int64), np.array(worth, np.int64), np.array(pieces, np.int64)
    state, at = _read_random_state(chance), np.array([size, 0, 0, 0, -1, 0, 0, PAUSE], np.int64)
    sheets = done = 0
    while at[0]:
        loops.nest_chunk(sizes, weights, *paper, left, tries, state, spots, counts, rest, at)
        for count in counts[sheets : at[1]].tolist():
            yield FilledSheet(0, [PlacedSpot(*row) for row in spots[done : done + count].tolist()])
            done += count
        sheets = int(at[1])
        if at[0] and over():
            tries = 1
            yield None
    _restore_random_state(chance, state)


def _read_random_state(chance: random.Random) -> Any:
    import numpy as np

    return np.array(chance.getstate()[1], np.int64)


def _restore_random_state(chance: random.Random, state: Any) -> None:
    chance.setstate((3, tuple(state.tolist()), None))
