"""Straight cuts: filling a sheet so that a trimmer can cut it apart edge to edge, and finding the order of cuts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from impose.nest.compiled import fill_sheet_compiled
from impose.nest.free_rectangles import RULES, Rule, choose_area_grain, weigh_leftover
from impose.nest.instance import PieceSize, PlacedSpot
from impose.nest.model import Cut, Placement

AT_ONCE = 200  # pieces: more are cut into all their rows at once

Part = tuple[int, int, int, int]  # left, top, right, bottom


def fill_with_straight_cuts(  # noqa: C901 - hot, kept flat
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
    if most_left is None:
        done = fill_sheet_compiled(kinds, (width, height), order, RULES.index(rule), True, least)
        if done is not None:
            return *done, len(order)
    free = [(0, 0, width, height, width, height)]
    spots: list[PlacedSpot] = []
    left: list[int] = []
    failed: set[int] = set()
    offers = 0
    over, grain = 0, choose_area_grain(width, height)
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
                over += weigh_leftover(w, h, grain)
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
    """The cuts that part all pieces, each edge to edge of the part it divides; None where there are none.

    Only lines that split pieces from pieces are cut; upright ones first.
    """
    cuts: list[Cut] = []
    waiting: list[Cut | _SheetPart] = [_SheetPart(list(placements), (0, 0, width, height))]
    while waiting:
        step = waiting.pop()
        if isinstance(step, Cut):
            cuts.append(step)
        elif len(step.pieces) > 1:
            steps = _split_part(step)
            if not steps:
                return None
            waiting += reversed(steps)
    return tuple(cuts)


class _SheetPart(NamedTuple):
    pieces: list[Placement]
    box: Part


def _split_part(part: _SheetPart) -> list[Cut | _SheetPart]:
    """Cuts along one axis, each followed by the part before it, and the last part; nothing if none goes.

    What is below a level cut may be cut upright anew, so one level cut is made at a time: but not of a long roll.
    """
    left, top, right, bottom = part.box
    steps: list[Cut | _SheetPart] = []
    groups = _group_pieces([(p.x, p.x + p.width, p) for p in part.pieces])
    if len(groups) > 1:
        for pieces, x in groups[:-1]:
            steps += [Cut(x, top, x, bottom), _SheetPart(pieces, (left, top, x, bottom))]
            left = x
        return [*steps, _SheetPart(groups[-1][0], (left, top, right, bottom))]
    groups = _group_pieces([(p.y, p.y + p.height, p) for p in part.pieces])
    if len(groups) > 1:
        above = groups[:-1] if len(part.pieces) > AT_ONCE else groups[:1]
        for pieces, y in above:
            steps += [Cut(left, y, right, y), _SheetPart(pieces, (left, top, right, y))]
            top = y
        below = [piece for pieces, _ in groups[len(above) :] for piece in pieces]
        return [*steps, _SheetPart(below, (left, top, right, bottom))]
    return []


def _group_pieces(spans: list[tuple[int, int, Placement]]) -> list[tuple[list[Placement], int]]:
    """The pieces, each with where it begins and ends along an axis, in groups that a cut parts; and where each ends."""
    groups: list[tuple[list[Placement], int]] = []
    for start, end, piece in sorted(spans, key=lambda span: span[0]):
        if groups and start < groups[-1][1]:
            pieces, reach = groups[-1]
            pieces.append(piece)
            groups[-1] = pieces, max(reach, end)
        else:
            groups.append(([piece], end))
    return groups
