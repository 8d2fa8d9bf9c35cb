"""Straight cuts: filling a sheet so that a trimmer can cut it apart edge to edge, and finding the order of cuts."""

from __future__ import annotations

from collections.abc import Sequence

from impose.nest.free_rectangles import Rule, area_grain, leftover_burden
from impose.nest.instance import PieceSize, PlacedSpot
from impose.nest.model import Cut, Placement

Part = tuple[int, int, int, int]  # left, top, right, bottom


def fill_with_straight_cuts(
    kinds: Sequence[PieceSize],
    width: int,
    height: int,
    order: Sequence[int],
    rule: Rule,
    most_left: int | None = None,
    least: int | None = None,
) -> tuple[list[PlacedSpot], list[int], int]:
    """Like `free_rectangles.fill_sheet`, but each piece splits its free rectangle in two for good, so the cuts go
    edge to edge.

    The split leaves the larger of the two ways' largest leftovers whole. Free rectangles never overlap.
    """
    free = [(0, 0, width, height, width, height)]
    spots: list[PlacedSpot] = []
    left: list[int] = []
    failed: set[int] = set()
    offers = 0
    over, grain = 0, area_grain(width, height)
    if least is None:
        least = min([min(kinds[k][:2]) for k in set(order)], default=1)
    for position, k in enumerate(order):
        found = None
        w, h, turn = kinds[k]
        if k not in failed:
            offers += 1
            found = rule(free, w, h, turn)
        if found is None:
            failed.add(k)
            left.append(k)
            if most_left is not None:
                over += leftover_burden(w, h, grain)
                if over > most_left:
                    left.extend(order[position + 1 :])
                    break
            continue
        x, y, pw, ph = found
        spots.append(PlacedSpot(k, x, y, pw, ph))
        index = next(i for i, f in enumerate(free) if f[0] == x and f[1] == y)
        _, _, r, b, fw, fh = free.pop(index)
        # Right strip at full height, or bottom strip at full width: whichever keeps the larger rectangle.
        if max((fw - pw) * fh, pw * (fh - ph)) >= max((fw - pw) * ph, fw * (fh - ph)):
            parts = [(x + pw, y, r, b), (x, y + ph, x + pw, b)]
        else:
            parts = [(x + pw, y, r, y + ph), (x, y + ph, r, b)]
        free += [(px, py, pr, pb, pr - px, pb - py) for px, py, pr, pb in parts if pr - px >= least <= pb - py]
        if not free:
            left.extend(order[position + 1 :])
            break
    return spots, left, offers


def find_cuts(placements: Sequence[Placement], width: int, height: int) -> tuple[Cut, ...] | None:
    """The cuts that part all pieces, each edge to edge of the part it divides; None where there are none."""
    cuts: list[Cut] = []
    return tuple(cuts) if _part_pieces(list(placements), (0, 0, width, height), cuts) else None


def _part_pieces(pieces: list[Placement], part: Part, cuts: list[Cut]) -> bool:
    """Cut a part until each piece lies alone in its own; only lines that split pieces from pieces are cut."""
    if len(pieces) <= 1:
        return True
    left, top, right, bottom = part
    for x in sorted({p.x + p.width for p in pieces}):
        if left < x < right and all(p.x >= x or p.x + p.width <= x for p in pieces):
            near, far = [p for p in pieces if p.x < x], [p for p in pieces if p.x >= x]
            if near and far:
                cuts.append(Cut(x, top, x, bottom))
                return _part_pieces(near, (left, top, x, bottom), cuts) and _part_pieces(
                    far, (x, top, right, bottom), cuts
                )
    for y in sorted({p.y + p.height for p in pieces}):
        if top < y < bottom and all(p.y >= y or p.y + p.height <= y for p in pieces):
            near, far = [p for p in pieces if p.y < y], [p for p in pieces if p.y >= y]
            if near and far:
                cuts.append(Cut(left, y, right, y))
                return _part_pieces(near, (left, top, right, y), cuts) and _part_pieces(
                    far, (left, y, right, bottom), cuts
                )
    return False
