"""The loops of the bounds in C, where the library is there: see `compiled`."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Sequence
from ctypes import CDLL
from itertools import chain

from impose.nest.compiled import PAUSE, flatten_rows, locate_list, make_zeros

FUNCTIONS_MOST = 64  # on each paper


def rank_pairs_compiled(
    loops: CDLL,
    across: Sequence[Sequence[float]],
    down: Sequence[Sequence[float]],
    lying: Sequence[tuple[int, int, int, int]],
    counts: Sequence[int],
    most: int,
) -> list[int]:
    """The best pairs of `bounds._rank_dual_pairs`, each as its number among all.

    `across` and `down` are what each function makes of the lengths; `lying` says for each kind where its width and
    the other one, its height and the other one stand among these.
    """
    lists = (
        array("d", chain.from_iterable(across)),
        array("d", chain.from_iterable(down)),
        flatten_rows(lying),
        array("d", counts),
    )
    of_width, of_height, at, of_each = [locate_list(numbers) for numbers in lists]
    scores, chosen = array("d", bytes(8 * most)), make_zeros(most)
    sizes = len(counts), len(across), len(down)
    found = loops.rank_pairs(
        of_width, len(across[0]), of_height, len(down[0]), at, of_each, *sizes, locate_list(scores), most,
        locate_list(chosen),
    )  # fmt: skip
    return chosen[:found].tolist()


def climb_blend_compiled(
    loops: CDLL,
    worths: Sequence[Sequence[Sequence[int]]],
    absent: Sequence[Sequence[bool]],
    counts: Sequence[int],
    best: Sequence[Sequence[int]],
    most: int,
    turns: int,
    look: Callable[[], None],
) -> list[list[int]]:
    """The weights of `blended_values._climb_blend`; `look` is called now and then, and may raise."""
    functions = array("q", [len(rows) for rows in worths])
    weights, found = flatten_rows(best), flatten_rows(best)
    values, at = make_zeros(len(worths) * len(counts)), array("q", [0, turns, -1, most, PAUSE])
    lists = (array("q", chain.from_iterable(chain.from_iterable(worths))), flatten_rows(absent), array("q", counts))
    all_worths, nowhere, of_each = [locate_list(numbers) for numbers in lists]
    rest = [locate_list(numbers) for numbers in (weights, found, values, at)]
    while at[0] < turns:
        look()
        loops.climb_blend(all_worths, locate_list(functions), len(functions), nowhere, of_each, len(counts), *rest)
    ends = [sum(functions[: n + 1]) for n in range(len(functions))]
    return [found[end - many : end].tolist() for end, many in zip(ends, functions, strict=True)]
