"""Dual feasible functions: weights for lengths such that whatever fits side by side never weighs more than the sheet.

If f is one for the width and g one for the height, the pieces on a sheet weigh at most f(W) g(H) together when each
weighs f(w) g(h): hence a lower bound on the number of sheets. Fekete and Schepers, "A general framework for bounds for
higher-dimensional orthogonal packing problems" (2004), prove it and give `_shares_function`; Carlier, Clautiaux and
Moukrim, "New reduction procedures and lower bounds for the two-dimensional bin packing problem with fixed orientation"
(2007), give `_big_and_small_function` and `_multiples_function`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from impose.values import FrozenStruct


class DualFunction(FrozenStruct):
    """One function for lengths up to `top`; exact, in whole numbers. `whole` is its value at `top`.

    `weigh_all` takes an array of lengths, of a type that holds them times `whole`.
    """

    weigh: Callable[[int], int]
    weigh_all: Callable[[Any], Any]
    top: int
    whole: int


WIDEST = 1 << 24  # lengths up to this, times any function of `list_duals`, and these times each other, fit 64 bits


FEW_LENGTHS = 150  # up to here they are weighed before numpy would be loaded


def make_lengths_array(lengths: Sequence[int], top: int) -> Any:
    """The lengths as machine numbers, or as Python's where the functions' values could outgrow those."""
    import numpy as np

    return np.array(lengths, dtype=np.int64 if top < WIDEST else object)


def choose_where(test: Any, yes: Any, other: Any) -> Any:
    """Of two arrays or numbers, the one where the test holds."""
    import numpy as np

    return np.where(test, yes, other)


def list_duals(lengths: Sequence[int], top: int, most: int) -> list[DualFunction]:
    """At most about `most` functions for lengths up to `top`, their thresholds taken from the lengths themselves."""
    return [dual for dual, _ in list_weighed_duals(lengths, top, most)]


def list_weighed_duals(
    lengths: Sequence[int], top: int, most: int, look: Callable[[], None] | None = None
) -> list[tuple[DualFunction, tuple[float, ...]]]:
    """The functions of `list_duals`, each with what it makes of the distinct lengths within `top`, shortest first, as
    parts of the whole. `look` is called before each, and may raise."""
    marks = sorted({min(x, top - x) for x in lengths if 0 < x < top} | {x for x in lengths if 2 * x <= top})
    marks = _pick_spread([m for m in marks if m > 0], max(2, most // 3))
    out = [_identity_function(top)]
    out += [_big_and_small_function(top, m) for m in marks]
    out += [_multiples_function(top, m) for m in marks]
    out += [_shares_function(top, k) for k in range(1, max(2, most // 6))]
    # a threshold just above a length lets what is as long as that length fall to the small ones
    out += [_big_and_small_function(top, m + 1) for m in marks if 2 * (m + 1) <= top]
    return _keep_distinct(out, lengths, look)


def _pick_spread(marks: list[int], most: int) -> list[int]:
    if len(marks) <= most:
        return marks
    return [marks[i * (len(marks) - 1) // (most - 1)] for i in range(most)]


def _keep_distinct(
    found: list[DualFunction], lengths: Sequence[int], look: Callable[[], None] | None
) -> list[tuple[DualFunction, tuple[float, ...]]]:
    """Drop functions that weigh these lengths as an earlier one does; the others with what they weigh."""
    seen: set[tuple[float, ...]] = set()
    out: list[tuple[DualFunction, tuple[float, ...]]] = []
    some = sorted({x for x in lengths if x <= found[0].top})
    numbers = None if len(some) <= FEW_LENGTHS else make_lengths_array(some, found[0].top)
    for dual in found:
        if look is not None:
            look()
        if numbers is None:
            signature = tuple([dual.weigh(x) / dual.whole for x in some])
        else:
            signature = tuple((dual.weigh_all(numbers) / dual.whole).tolist())
        if signature not in seen:
            seen.add(signature)
            out.append((dual, signature))
    return out


def _identity_function(top: int) -> DualFunction:
    return DualFunction(lambda x: x, lambda x: x, top, top)


def _big_and_small_function(top: int, mark: int) -> DualFunction:
    """Longer than top - mark counts as all, shorter than mark as nothing (mark at most half of top)."""

    def weigh(x: int) -> int:
        if x > top - mark:
            return top
        return x if x >= mark else 0

    def weigh_all(x: Any) -> Any:
        return choose_where(x > top - mark, top, choose_where(x >= mark, x, 0))

    return DualFunction(weigh, weigh_all, top, top)


def _multiples_function(top: int, mark: int) -> DualFunction:
    """Counts whole marks: rounded down below half, and so that x and top - x make up the whole above."""
    whole = top // mark

    def weigh(x: int) -> int:
        if 2 * x > top:
            return 2 * (whole - (top - x) // mark)
        return whole if 2 * x == top else 2 * (x // mark)

    def weigh_all(x: Any) -> Any:
        above = 2 * (whole - (top - x) // mark)
        return choose_where(2 * x > top, above, choose_where(2 * x == top, whole, 2 * (x // mark)))

    return DualFunction(weigh, weigh_all, top, 2 * whole)


def _shares_function(top: int, k: int) -> DualFunction:
    """Rounds to k-ths of the whole: (k + 1) x / top if that is whole stays x, else its floor counts k-ths."""

    def weigh(x: int) -> int:
        count, rest = divmod((k + 1) * x, top)
        return k * x if rest == 0 else count * top

    def weigh_all(x: Any) -> Any:
        count = (k + 1) * x // top
        return choose_where(count * top == (k + 1) * x, k * x, count * top)

    return DualFunction(weigh, weigh_all, top, k * top)
