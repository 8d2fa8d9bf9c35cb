"""What pieces laid in a row can add up to: the rest of a paper's width or height is of no use to them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import gcd

MOST_WORK = 400_000_000  # bits of all sums together that are worth looking at
OF_A_KIND = 64  # equal pieces, roughly, until a kind reaches nothing new


def find_reachable_length(
    room: int, kinds: Sequence[tuple[Sequence[int], int]], look: Callable[[], None] | None = None
) -> int:
    """The greatest sum within `room` of pieces, given as kinds: (the lengths one may have, how many there are).

    Each piece adds one of its lengths or nothing. The sums are the bits of one long number, a bit for each of the
    greatest unit that all lengths are whole in. Given up (the room itself returned) when that would take longer than it
    is worth. `look` is called before each kind, and may raise.
    """
    unit = gcd(*(length for lengths, _ in kinds for length in lengths)) or 1
    top = room // unit
    if top * sum(min(n, OF_A_KIND) for _, n in kinds) > MOST_WORK:
        return room
    mask = (1 << (top + 1)) - 1
    sums = 1
    for lengths, count in kinds:
        if look is not None:
            look()
        parts = sorted({length // unit for length in lengths})
        for _ in range(min(count, top // parts[0])):
            more = sums
            for part in parts:
                more |= sums << part
            more &= mask
            if more == sums:
                break
            sums = more
            if sums >> top & 1:
                return top * unit
    return (sums.bit_length() - 1) * unit
