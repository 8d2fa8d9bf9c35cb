"""The inner loops of the search once more, over arrays, in the part of Python that numba compiles.

Each does exactly what its twin does over lists (`free_rectangles.fill_sheet`, `SheetEmptying.absorb_pool`,
`chunks.nest_chunk`): the same draws
from the same generator in the same order, the same comparisons, the same ties. So whoever holds a search may hand it
over at any point without changing the answer. Without numba these functions run as they stand, far slower than their
twins, which is how tests compare the two on any machine.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

F = TypeVar("F", bound=Callable[..., Any])
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

NONE = -1  # no limit, where a limit is a number of steps or a burden
FREE = 256  # rows for free rectangles at first; more are made when they may not do

try:
    numba: Any = import_module("numba")

    def compile_loop(function: F) -> F:
        """Machine code of the function, kept on disk from run to run; run without the interpreter's lock."""
        made: F = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
        return made

except ImportError:

    def compile_loop(function: F) -> F:
        """The function as it stands."""
        return function


@compile_loop
def draw_random(state: Ints) -> float:
    """What `random.Random.random` gives; `state` is its `getstate()[1]`. Matsumoto and Nishimura (1998), MT19937."""
    high = _next_word(state) >> 5
    low = _next_word(state) >> 6
    return (high * 67108864.0 + low) * (1.0 / 9007199254740992.0)


@compile_loop
def _next_word(state: Ints) -> int:
    """The generator's next 32 bits."""
    if state[624] >= 624:
        for i in range(624):
            y = (state[i] & 0x80000000) | (state[(i + 1) % 624] & 0x7FFFFFFF)
            v = state[(i + 397) % 624] ^ (y >> 1)
            if y & 1:
                v ^= 0x9908B0DF
            state[i] = v
        state[624] = 0
    y = state[state[624]]
    state[624] += 1
    y ^= y >> 11
    y ^= (y << 7) & 0x9D2C5680
    y ^= (y << 15) & 0xEFC60000
    return y ^ (y >> 18)  # type: ignore[no-any-return]


@compile_loop
def _find_best_spot(free: Ints, count: int, w: int, h: int, turn: int, rule: int) -> tuple[int, int]:
    """Where `RULES[rule]` puts the piece: (row of the free rectangle or -1, whether turned)."""
    row, turned = -1, 0
    least, second = 1 << 62, 0
    for i in range(count):
        fw, fh = free[i, 2] - free[i, 0], free[i, 3] - free[i, 1]
        for way in range(2):
            if way == 1:
                if turn == 0:
                    break
                pw, ph = h, w
            else:
                pw, ph = w, h
            if pw > fw or ph > fh:
                continue
            across, down = fw - pw, fh - ph
            tie = 0
            if rule == 0:
                score = across if across < down else down
            elif rule == 1:
                score, tie = free[i, 1] + ph, free[i, 0]
            elif rule == 2:
                score, tie = fw * fh, across if across < down else down
            else:
                score = across if across > down else down
            if score < least or (score == least and tie < second):
                least, second, row, turned = score, tie, i, way
    return row, turned


@compile_loop
def _carve_free(  # noqa: C901 - hot, kept flat
    free: Ints, count: int, out: Ints, x: int, y: int, r: int, b: int, least: int, side: Ints, touch: Ints
) -> int:
    """`free_rectangles.carve_free` from `free` into `out`; returns the number of rectangles there."""
    kept = 0
    touching = 0
    found = np.zeros(4, np.int64)
    for i in range(count):
        fx, fy, fr, fb = free[i, 0], free[i, 1], free[i, 2], free[i, 3]
        if x >= fr or r <= fx or y >= fb or b <= fy:
            out[kept, 0], out[kept, 1], out[kept, 2], out[kept, 3] = fx, fy, fr, fb
            kept += 1
            if fr == x or fx == r or fb == y or fy == b:
                touch[touching] = i
                touching += 1
            continue
        if x - fx >= least:
            _put_side(side, 0, found, fx, fy, x, fb)
        if fr - r >= least:
            _put_side(side, 1, found, r, fy, fr, fb)
        if y - fy >= least:
            _put_side(side, 2, found, fx, fy, fr, y)
        if fb - b >= least:
            _put_side(side, 3, found, fx, b, fr, fb)
    for number in range(4):
        for i in range(found[number]):
            if not _is_held(side, number, i, found[number]) and not _has_rival(
                side, number, i, free, touch, touching, x, y, r, b
            ):
                for c in range(4):
                    out[kept, c] = side[number, i, c]
                kept += 1
    return kept


@compile_loop
def _put_side(side: Ints, number: int, found: Ints, x: int, y: int, r: int, b: int) -> None:
    at = found[number]
    side[number, at, 0], side[number, at, 1], side[number, at, 2], side[number, at, 3] = x, y, r, b
    found[number] = at + 1


@compile_loop
def _is_held(side: Ints, number: int, i: int, count: int) -> bool:
    """Whether another carved rectangle of this side holds the one; of equal ones the first stays."""
    x, y, r, b = side[number, i, 0], side[number, i, 1], side[number, i, 2], side[number, i, 3]
    for j in range(count):
        if i == j:
            continue
        ox, oy, o_r, ob = side[number, j, 0], side[number, j, 1], side[number, j, 2], side[number, j, 3]
        if ox <= x and oy <= y and o_r >= r and ob >= b and (j < i or o_r - ox > r - x or ob - oy > b - y):
            return True
    return False


@compile_loop
def _has_rival(
    side: Ints, number: int, i: int, free: Ints, touch: Ints, touching: int, left: int, top: int, right: int, low: int
) -> bool:
    """Whether an old free rectangle that touches the same edge of the piece holds the carved one."""
    x, y, r, b = side[number, i, 0], side[number, i, 1], side[number, i, 2], side[number, i, 3]
    for t in range(touching):
        fx, fy, fr, fb = free[touch[t], 0], free[touch[t], 1], free[touch[t], 2], free[touch[t], 3]
        at_edge = (
            (number == 0 and fr == left)
            or (number == 1 and fx == right)
            or (number == 2 and fb == top)
            or (number == 3 and fy == low)
        )
        if at_edge and fx <= x and fy <= y and fr >= r and fb >= b:
            return True
    return False


@compile_loop
def fill_sheet(
    kinds: Ints,
    burden: Ints,
    width: int,
    height: int,
    order: Ints,
    pieces: int,
    rule: int,
    most_left: int,
    least: int,
    spots: Ints,
    left: Ints,
) -> tuple[int, int]:
    """`free_rectangles.fill_sheet` from `order` into `spots` (kind, x, y, width, height) and `left`; returns
    how many of each.
    """
    failed = np.zeros(len(kinds), np.int8)
    free, spare = np.empty((FREE, 4), np.int64), np.empty((FREE, 4), np.int64)
    side, touch = np.empty((4, FREE, 4), np.int64), np.empty(FREE, np.int64)
    free[0, 0], free[0, 1], free[0, 2], free[0, 3] = 0, 0, width, height
    count, placed, over, burdened = 1, 0, 0, 0
    if least == NONE:
        least = _find_narrowest(kinds, order, max(0, pieces - 60), pieces)
    for position in range(pieces):
        k = order[position]
        if failed[k]:
            left[over] = k
            over += 1
            burdened += burden[k]  # its twin does not count these: it stops later, where the caller has no use for it
            if most_left != NONE and burdened > most_left:
                over = _list_rest(order, position + 1, pieces, left, over)
                break
            continue
        w, h = kinds[k, 0], kinds[k, 1]
        row, turned = _find_best_spot(free, count, w, h, kinds[k, 2], rule)
        if row < 0:
            failed[k] = 1
            left[over] = k
            over += 1
            burdened += burden[k]
            if most_left != NONE and burdened > most_left:
                over = _list_rest(order, position + 1, pieces, left, over)
                break
            continue
        if turned:
            w, h = h, w
        x, y = free[row, 0], free[row, 1]
        spots[placed, 0], spots[placed, 1], spots[placed, 2], spots[placed, 3], spots[placed, 4] = k, x, y, w, h
        placed += 1
        if 4 * count > len(spare):
            spare = np.empty((8 * count, 4), np.int64)
            side, touch = np.empty((4, 8 * count, 4), np.int64), np.empty(8 * count, np.int64)
        count = _carve_free(free, count, spare, x, y, x + w, y + h, least, side, touch)
        free, spare = spare, free
        if count == 0:
            over = _list_rest(order, position + 1, pieces, left, over)
            break
    return placed, over


@compile_loop
def _find_narrowest(kinds: Ints, order: Ints, start: int, end: int) -> int:
    """The shortest side of the pieces from `start` to `end`."""
    least = 1 << 62
    for i in range(start, end):
        least = min(least, min(kinds[order[i], 0], kinds[order[i], 1]))
    return least


@compile_loop
def _list_rest(order: Ints, start: int, pieces: int, left: Ints, over: int) -> int:
    for i in range(start, pieces):
        left[over] = order[i]
        over += 1
    return over


@compile_loop
def _sort_kinds(keys: Floats, order: Ints, start: int, end: int) -> None:
    """From `start` to `end` by key, then by kind (Shell 1959).

    Entries equal in both are alike, so any way of sorting gives the same.
    """
    gap = 1
    while gap < (end - start) // 3:
        gap = 3 * gap + 1
    while gap > 0:
        for i in range(start + gap, end):
            key, k = keys[i], order[i]
            j = i
            while j >= start + gap and (keys[j - gap] > key or (keys[j - gap] == key and order[j - gap] > k)):
                keys[j], order[j] = keys[j - gap], order[j - gap]
                j -= gap
            keys[j], order[j] = key, k
        gap //= 3


@compile_loop
def _blur_order(order: Ints, pieces: int, area: Floats, keys: Floats, noise: Floats, state: Ints) -> None:
    """`SheetEmptying._blur_order`, in place."""
    third = int(draw_random(state) * 3)
    blur = 0.1 if third == 0 else 0.3 if third == 1 else 0.6
    if draw_random(state) < 0.5:
        for i in range(pieces):
            keys[i] = -area[order[i]] * (1 + blur * (draw_random(state) - 0.5))
    else:
        for i in range(pieces):
            noise[order[i]] = -area[order[i]] * (1 + blur * (draw_random(state) - 0.5))
        for i in range(pieces):
            keys[i] = noise[order[i]]
    _sort_kinds(keys, order, 0, pieces)


@compile_loop
def _turn_kinds(ways: Ints, gathered: Ints, pieces: int, turn: Ints, state: Ints) -> None:
    """`SheetEmptying._turn_kinds`: row 0 of `ways` free to turn, 1 lying, 2 standing; written for the pieces at
    hand.
    """
    free = draw_random(state) < 0.6
    for i in range(pieces):
        k = gathered[i]
        way = 0 if free else int(draw_random(state) * 3)
        for c in range(3):
            turn[k, c] = ways[way, k, c]


@compile_loop
def absorb_pool(  # noqa: C901 - the search's inner loop
    ways: Ints,
    area: Floats,
    burden: Ints,
    width: int,
    height: int,
    sheets: Ints,
    counts: Ints,
    pool: Ints,
    pooled: int,
    state: Ints,
    budget: Ints,
) -> int:
    """`SheetEmptying.absorb_pool`: `sheets`, `counts` and `pool` change in place; returns what is left in the pool.

    `budget` holds steps allowed, patience, steps done, steps done at the last gain, and the steps after which to come
    back to the caller, between two moves.
    """
    most, patience, pause = budget[0], budget[1], budget[4]
    size = pooled
    for i in range(len(counts)):
        size += counts[i]
    gathered, order, left = np.empty(size, np.int64), np.empty(size, np.int64), np.empty(size, np.int64)
    keys, noise = np.empty(size, np.float64), np.empty(len(area), np.float64)
    fresh, made = np.empty((3, sheets.shape[1], 5), np.int64), np.zeros(3, np.int64)
    turn = np.empty((len(area), 3), np.int64)
    chosen = np.empty(3, np.int64)
    least = 0
    for i in range(pooled):
        least += burden[pool[i]]
    while pooled > 0 and len(counts) > 0 and budget[2] < pause:
        if _is_spent(budget, most, patience):
            break
        wanted = min(len(counts), 1 + int(draw_random(state) * 2.5))
        some = 0
        while some < wanted:
            number = int(draw_random(state) * len(counts))
            new = True
            for i in range(some):
                new = new and chosen[i] != number
            if new:
                chosen[some] = number
                some += 1
        pieces = 0
        for i in range(wanted):
            for j in range(counts[chosen[i]]):
                gathered[pieces] = sheets[chosen[i], j, 0]
                pieces += 1
        for i in range(pooled):
            gathered[pieces] = pool[i]
            pieces += 1
        rule = int(draw_random(state) * 4)
        for i in range(pieces):
            order[i] = gathered[i]
        _blur_order(order, pieces, area, keys, noise, state)
        _turn_kinds(ways, gathered, pieces, turn, state)
        filled = 0
        for i in range(wanted):
            if _is_spent(budget, most, patience):
                break
            budget[2] += 1
            limit = least if i == wanted - 1 else NONE
            made[i], pieces = fill_sheet(turn, burden, width, height, order, pieces, rule, limit, NONE, fresh[i], left)
            order, left = left, order
            filled += 1
        over = 0
        for i in range(pieces):
            over += burden[order[i]]
        if filled < wanted or over > least:
            continue
        if over < least:
            budget[3] = budget[2]
        least, pooled = over, pieces
        for i in range(pieces):
            pool[i] = order[i]
        for i in range(wanted):
            counts[chosen[i]] = made[i]
            for j in range(made[i]):
                for c in range(5):
                    sheets[chosen[i], j, c] = fresh[i, j, c]
    return pooled


@compile_loop
def _is_spent(budget: Ints, most: int, patience: int) -> bool:
    if most != NONE and budget[2] >= most:
        return True
    return patience != NONE and budget[2] - budget[3] >= patience


@compile_loop
def nest_chunk(  # noqa: C901 - kept flat
    kinds: Ints,
    worth: Ints,
    width: int,
    height: int,
    left: Ints,
    tries: int,
    state: Ints,
    spots: Ints,
    sheets: Ints,
    rest: Ints,
    at: Ints,
) -> None:
    """`chunks.nest_chunk`, as many fillings of it as `at` allows; called again with all the same it goes on.

    `left` is what is to be nested, `spots` gets the spots of all sheets one after another and `sheets` how many each
    has. `at` holds the pieces left, the sheets and spots done, the tries of the next sheet, the worth held by the best
    of these, its spots (beyond those done) and what it leaves (in `rest`), and the fillings to come back after.
    """
    size = len(left)
    order, over, offered = np.empty(size, np.int64), np.empty(size, np.int64), np.empty(size, np.int64)
    trial, keys = np.empty((size, 5), np.int64), np.empty(size, np.float64)
    filled = 0
    while at[0] > 0:
        count, done = at[0], at[2]
        _sort_ascending(left, keys, count)
        room = width * height - kinds[left[0], 0] * kinds[left[0], 1]
        start = 1
        while start < count and kinds[left[start], 0] * kinds[left[start], 1] > room:
            start += 1
        offered[0] = left[0]
        for i in range(start, count):
            offered[i - start + 1] = left[i]
        some = count - start + 1
        least = _find_narrowest(kinds, offered, 0, some)
        for attempt in range(at[3], tries):
            if filled == at[7]:
                return
            filled += 1
            at[3] = attempt + 1
            for i in range(some):
                order[i] = offered[i]
            rule = attempt
            if attempt >= 2:
                for place in range(1, min(2 + int(draw_random(state) * 2), some)):
                    _promote_piece(order, place, place + int(draw_random(state) * (some - place)))
                rule = int(draw_random(state) * 4)
            placed, remaining = fill_sheet(kinds, worth, width, height, order, some, rule, NONE, least, trial, over)
            held = 0
            for i in range(placed):
                held += worth[trial[i, 0]]
            if held > at[4]:
                at[4], at[5], at[6] = held, placed, remaining
                for i in range(placed):
                    for c in range(5):
                        spots[done + i, c] = trial[i, c]
                for i in range(remaining):
                    rest[i] = over[i]
        sheets[at[1]] = at[5]
        for i in range(1, start):
            left[i - 1] = left[i]
        for i in range(at[6]):
            left[start - 1 + i] = rest[i]
        at[0], at[1], at[2] = start - 1 + at[6], at[1] + 1, done + at[5]
        at[3], at[4] = 0, -1


@compile_loop
def _sort_ascending(order: Ints, keys: Floats, count: int) -> None:
    for i in range(count):
        keys[i] = float(order[i])
    _sort_kinds(keys, order, 0, count)


@compile_loop
def _promote_piece(order: Ints, place: int, at: int) -> None:
    """What is `at` moves to `place`, those between one on."""
    k = order[at]
    for i in range(at, place, -1):
        order[i] = order[i - 1]
    order[place] = k
