"""The lean free-rectangle list: fill one sheet with pieces in a given order.

Jylänki, "A Thousand Ways to Pack the Bin" (2010), describes the maximal-rectangles idea and its rules; rectpack has
the same ones. This form differs in what it leaves out: slivers that nothing waiting can use are forgotten, and a
carved rectangle is compared only with those that touch the same edge of the piece, since no other can hold it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from impose.nest.compiled import fill_sheet_compiled
from impose.nest.instance import PieceSize, PlacedSpot

Free = tuple[int, int, int, int, int, int]  # left, top, right, bottom, width, height
Found = tuple[int, int, int, int]  # x, y, width, height as placed
Rule = Callable[[list[Free], int, int, bool], Found | None]

_make_spot = tuple.__new__  # a named tuple in half the time of its own constructor


def fit_short_side(free: list[Free], w: int, h: int, turn: bool) -> Found | None:
    """Leave the shorter of the two leftovers as short as can be."""
    best = None
    least = 1 << 62
    for x, y, _, _, fw, fh in free:
        if w <= fw and h <= fh:
            score = fw - w if fw - w < fh - h else fh - h
            if score < least:
                least, best = score, (x, y, w, h)
        if turn and h <= fw and w <= fh:
            score = fw - h if fw - h < fh - w else fh - w
            if score < least:
                least, best = score, (x, y, h, w)
    return best


def fit_long_side(free: list[Free], w: int, h: int, turn: bool) -> Found | None:
    """Leave the longer of the two leftovers as short as can be."""
    best = None
    least = 1 << 62
    for x, y, _, _, fw, fh in free:
        if w <= fw and h <= fh:
            score = fw - w if fw - w > fh - h else fh - h
            if score < least:
                least, best = score, (x, y, w, h)
        if turn and h <= fw and w <= fh:
            score = fw - h if fw - h > fh - w else fh - w
            if score < least:
                least, best = score, (x, y, h, w)
    return best


def fit_least_area(free: list[Free], w: int, h: int, turn: bool) -> Found | None:
    """Take the smallest free rectangle that holds the piece; of both ways, the one closer to its edges."""
    best = None
    smallest = tightest = 1 << 62
    for x, y, _, _, fw, fh in free:
        area = fw * fh
        if area > smallest:
            continue
        if w <= fw and h <= fh:
            near = fw - w if fw - w < fh - h else fh - h
            if area < smallest or near < tightest:
                smallest, tightest, best = area, near, (x, y, w, h)
        if turn and h <= fw and w <= fh:
            near = fw - h if fw - h < fh - w else fh - w
            if area < smallest or near < tightest:
                smallest, tightest, best = area, near, (x, y, h, w)
    return best


def fit_lowest(free: list[Free], w: int, h: int, turn: bool) -> Found | None:
    """Let the piece's far edge end as near the top as can be, then as far left."""
    best = None
    least, left = 1 << 62, 0
    for x, y, _, _, fw, fh in free:
        if w <= fw and h <= fh and (y + h < least or (y + h == least and x < left)):
            least, left, best = y + h, x, (x, y, w, h)
        if turn and h <= fw and w <= fh and (y + w < least or (y + w == least and x < left)):
            least, left, best = y + w, x, (x, y, h, w)
    return best


RULES: tuple[Rule, ...] = (fit_short_side, fit_lowest, fit_least_area, fit_long_side)


def carve_free(free: list[Free], x: int, y: int, r: int, b: int, least: int) -> list[Free]:  # noqa: C901 - hot, kept flat
    """The maximal free rectangles once the box (x, y)-(r, b) is taken; those narrower than `least` are dropped."""
    kept: list[Free] = []
    west: list[Free] = []
    east: list[Free] = []
    north: list[Free] = []
    south: list[Free] = []
    # What ends where a side begins; whatever lies wholly beside the box can hold no part that reaches along the box.
    by_west: list[Free] = []
    by_east: list[Free] = []
    by_north: list[Free] = []
    by_south: list[Free] = []
    for f in free:
        fx, fy, fr, fb, fw, fh = f
        if fr <= x:
            kept.append(f)
            if fr == x:
                by_west.append(f)
        elif fx >= r:
            kept.append(f)
            if fx == r:
                by_east.append(f)
        elif fb <= y:
            kept.append(f)
            if fb == y:
                by_north.append(f)
        elif fy >= b:
            kept.append(f)
            if fy == b:
                by_south.append(f)
        else:
            if x - fx >= least:
                west.append((fx, fy, x, fb, x - fx, fh))
            if fr - r >= least:
                east.append((r, fy, fr, fb, fr - r, fh))
            if y - fy >= least:
                north.append((fx, fy, fr, y, fw, y - fy))
            if fb - b >= least:
                south.append((fx, b, fr, fb, fw, fb - b))
    for side, rivals in ((west, by_west), (east, by_east), (north, by_north), (south, by_south)):
        if side:
            kept += _keep_maximal(side, rivals) if rivals or len(side) > 1 else side
    return kept


def _keep_maximal(side: list[Free], rivals: list[Free]) -> list[Free]:
    """Those of `side` that lie in no other of `side` and in no rival; of equal ones the first."""
    out: list[Free] = []
    for i, (x, y, r, b, w, h) in enumerate(side):
        for j, (ox, oy, or_, ob, ow, oh) in enumerate(side):
            if i != j and ox <= x and oy <= y and or_ >= r and ob >= b and (j < i or ow > w or oh > h):
                break
        else:
            for ox, oy, or_, ob, _, _ in rivals:
                if ox <= x and oy <= y and or_ >= r and ob >= b:
                    break
            else:
                out.append(side[i])
    return out


def choose_area_grain(width: int, height: int) -> int:
    """Bits of an area that do not count on a sheet so large; 24 are kept, so that burdens sum within 64 bits."""
    return max(0, (width * height).bit_length() - 24)


def weigh_leftover(width: int, height: int, grain: int) -> int:
    """How much a piece left over weighs: its area squared, since one large piece is harder to place than two halves."""
    return ((width * height) >> grain) ** 2


def fill_sheet(
    kinds: Sequence[PieceSize],
    width: int,
    height: int,
    order: Sequence[int],
    rule: Rule,
    most_left: int | None = None,
    least: int | None = None,
) -> tuple[list[PlacedSpot], list[int], int]:
    """Place what fits of `order` (kinds, one entry a piece); returns the spots, what is left, and the offers made.

    A kind that found no room finds none later on the same sheet, so it is not offered again. Once more than
    `most_left` (by `weigh_leftover`) is left over the rest is not tried: the caller has no use for such a filling.
    Free rectangles narrower than `least` are forgotten; without it, those narrower than the last 60 of `order`.
    """
    if most_left is None:
        done = fill_sheet_compiled(kinds, (width, height), order, RULES.index(rule), False, least)
        if done is not None:
            return *done, len(order)
    over, grain = 0, choose_area_grain(width, height)
    free: list[Free] = [(0, 0, width, height, width, height)]
    spots: list[PlacedSpot] = []
    left: list[int] = []
    failed: set[int] = set()
    if least is None:  # the smallest are at the end of nearly every order; a longer look costs more than it finds
        least = min([w if w < h else h for w, h, _ in map(kinds.__getitem__, order[-60:])], default=0)
    offers = 0
    for position, k in enumerate(order):
        if k in failed:
            left.append(k)
            continue
        w, h, turn = kinds[k]
        offers += 1
        found = rule(free, w, h, turn)
        if found is None:
            failed.add(k)
            left.append(k)
            if most_left is not None:
                over += ((w * h) >> grain) ** 2  # `weigh_leftover`, which is too much to call here
                if over > most_left:
                    left.extend(order[position + 1 :])
                    break
            continue
        x, y, pw, ph = found
        spots.append(_make_spot(PlacedSpot, (k, x, y, pw, ph)))
        free = carve_free(free, x, y, x + pw, y + ph, least)
        if not free:
            left.extend(order[position + 1 :])
            break
    return spots, left, offers
