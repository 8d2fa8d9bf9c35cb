"""Pieces that are needed together, on as few sheets as can be, where that costs nothing.

A visit is one `together` found on one sheet; fewer visits are less walking between sheets at the press. Two pieces of
equal size on different sheets change places if that saves visits. Where it does not, a piece moves into a gap of a
sheet on which others of its own lie, or changes places with a piece of another size there, if both find room; the
emptiest sheet of a paper keeps its gap, and pieces of roll their lengths.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

from impose.nest.finish import find_offcut
from impose.nest.free_rectangles import Free, carve_free, fit_short_side
from impose.nest.guillotine import find_cuts
from impose.nest.instance import PlacedSpot, make_piece_size
from impose.nest.model import NestedSheet, Placement, Rectangle
from impose.values import replace

PASSES = 4
MOVED_MOST = 400  # pieces; of more only equal ones change places


class _VisitSearch:
    """Sheets as lists of placements, and which of `together` lie on each."""

    def __init__(
        self, sheets: Sequence[NestedSheet], pieces: Sequence[Rectangle], fixed: set[str], straight: bool
    ) -> None:
        self.sheets, self.straight, self.fixed = sheets, straight, fixed
        self.piece = {piece.id: piece for piece in pieces}
        self.placed = [list(sheet.placements) for sheet in sheets]
        self.here = [Counter(self.find_unit(p.id) for p in placed) for placed in self.placed]
        self.homes: dict[str, set[int]] = {}
        for at, here in enumerate(self.here):
            for unit in here:
                if unit:
                    self.homes.setdefault(unit, set()).add(at)
        self.changed: set[int] = set()  # sheets with other pieces
        self.reshaped: set[int] = set()  # of these, those on which places are others, too

    def find_unit(self, name: str) -> str:
        """What the piece is needed together with."""
        return self.piece[name].together

    def count_saved(self, name: str, start: int, end: int) -> int:
        """Visits saved by moving a piece from one sheet to another; below 0 if there are more then."""
        unit = self.find_unit(name)
        if not unit:
            return 0
        return int(self.here[start][unit] == 1) - int(self.here[end][unit] == 0)

    def count_saved_by_swap(self, text: str, start: int, other: str, end: int) -> int:
        """Visits saved by changing the places of two pieces."""
        if self.find_unit(text) == self.find_unit(other):
            return 0
        return self.count_saved(text, start, end) + self.count_saved(other, end, start)

    def move_piece(self, name: str, start: int, end: int) -> None:
        """Count a piece on another sheet."""
        unit = self.find_unit(name)
        self.here[start][unit] -= 1
        self.here[end][unit] += 1
        if unit:
            self.homes[unit].add(end)
            if not self.here[start][unit]:
                self.homes[unit].discard(start)
        self.changed |= {start, end}

    def list_split(self) -> list[tuple[int, str]]:
        """(sheet, piece) of all that might come to others of its own, in the order of the sheets."""
        return [
            (at, p.id)
            for at, placed in enumerate(self.placed)
            for p in placed
            if p.id not in self.fixed and len(self.homes.get(self.find_unit(p.id), ())) > 1
        ]

    def swap_equal(self, over: Callable[[], bool]) -> bool:
        """One pass over the split pieces: each changes places with the equal piece that saves most visits."""
        sizes = {make_piece_size(piece) for piece in self.piece.values()}
        known = {size: number * len(self.placed) for number, size in enumerate(sizes)}
        equal: dict[int, list[str]] = {}  # by size and sheet in one number: as tuples they took more than the names
        lies: dict[str, tuple[int, int]] = {}
        for at, placed in enumerate(self.placed):
            for number, p in enumerate(placed):
                lies[p.id] = at, number
                if p.id not in self.fixed:
                    equal.setdefault(known[make_piece_size(self.piece[p.id])] + at, []).append(p.id)
        rank = {name: number for number, name in enumerate(lies)}
        gained = False
        for _, name in self.list_split():
            if over():
                break
            start, size = lies[name][0], known[make_piece_size(self.piece[name])]
            saved = [
                (self.count_saved_by_swap(name, start, other, end), -rank[other], other)
                for end in self.homes[self.find_unit(name)] - {start}
                for other in equal.get(size + end, ())
            ]
            most, _, other = max(saved, default=(0, 0, ""))
            if most > 0:
                end = lies[other][0]
                self._swap_pieces(name, other, lies)
                equal[size + start].remove(name)
                equal[size + end].remove(other)
                equal[size + start].append(other)
                equal[size + end].append(name)
                gained = True
        return gained

    def _swap_pieces(self, name: str, other: str, lies: dict[str, tuple[int, int]]) -> None:
        (start, i), (end, j) = lies[name], lies[other]
        here, there = self.placed[start][i], self.placed[end][j]
        self.placed[start][i] = self._place_as(other, here)
        self.placed[end][j] = self._place_as(name, there)
        lies[name], lies[other] = (end, j), (start, i)
        self.move_piece(name, start, end)
        self.move_piece(other, end, start)

    def _place_as(self, name: str, place: Placement) -> Placement:
        piece = self.piece[name]
        return replace(place, id=name, turned=(place.width, place.height) != (piece.width, piece.height))

    def swap_unlike(self, over: Callable[[], bool]) -> bool:
        """One pass over the split pieces: into a gap beside others of its own, or for a piece of another size."""
        still = set({sheet.stock: at for at, sheet in enumerate(self.sheets)}.values())
        gained = False
        for start, name in self.list_split():
            if over():
                break
            if all(p.id != name for p in self.placed[start]):
                continue  # it has gone elsewhere for another
            for end in sorted(self.homes[self.find_unit(name)] - {start} - still):
                if start not in still and self._move_closer(name, start, end):
                    gained = True
                    break
        return gained

    def _move_closer(self, name: str, start: int, end: int) -> bool:
        if (
            self.count_saved(name, start, end) > 0
            and len(self.placed[start]) > 1
            and self._try_move(name, start, None, end)
        ):
            return True
        others = [p.id for p in self.placed[end] if p.id not in self.fixed]
        return any(
            self.count_saved_by_swap(name, start, other, end) > 0 and self._try_move(name, start, other, end)
            for other in others
        )

    def _try_move(self, name: str, start: int, other: str | None, end: int) -> bool:
        """The piece on the other sheet, and if named a piece of that one in return, if both find room."""
        there = self._add_piece(end, name, [p for p in self.placed[end] if p.id != other])
        if there is None:
            return False
        here = [p for p in self.placed[start] if p.id != name]
        back = here if other is None else self._add_piece(start, other, here)
        if back is None:
            return False
        self.placed[start], self.placed[end] = back, there
        self.reshaped |= {start, end}
        self.move_piece(name, start, end)
        if other is not None:
            self.move_piece(other, end, start)
        return True

    def _add_piece(self, at: int, name: str, placed: list[Placement]) -> list[Placement] | None:
        """The placements with one more in a gap; None if there is no room."""
        sheet, piece = self.sheets[at], self.piece[name]
        room = sheet.width * sheet.height - sum([p.width * p.height for p in placed])
        if piece.width * piece.height > room:
            return None
        least = min(piece.width, piece.height)  # what is narrower decides nothing
        free: list[Free] = [(0, 0, sheet.width, sheet.height, sheet.width, sheet.height)]
        for p in placed:
            free = carve_free(free, p.x, p.y, p.x + p.width, p.y + p.height, least)
        found = fit_short_side(free, piece.width, piece.height, piece.may_turn)
        if found is None:
            return None
        more = [*placed, self._place_as(name, Placement(name, *found, False))]
        return more if not self.straight or find_cuts(more, sheet.width, sheet.height) is not None else None

    def remake_sheets(self) -> list[NestedSheet]:
        """The sheets, those that changed with their offcuts and cuts anew."""
        return [self._remake_sheet(at) if at in self.changed else sheet for at, sheet in enumerate(self.sheets)]

    def _remake_sheet(self, at: int) -> NestedSheet:
        sheet = self.sheets[at]
        placed = sorted(self.placed[at], key=lambda p: (p.y, p.x))
        if at not in self.reshaped:
            return replace(sheet, placements=tuple(placed))
        cuts = find_cuts(placed, sheet.width, sheet.height) if self.straight else ()
        assert cuts is not None  # looked at before a piece was moved
        space = find_offcut(sheet.width, sheet.height, [PlacedSpot(0, p.x, p.y, p.width, p.height) for p in placed])
        return replace(sheet, placements=tuple(placed), cuts=cuts, offcut=space)


def reduce_visits(
    sheets: Sequence[NestedSheet],
    pieces: Sequence[Rectangle],
    rolls: set[str],
    fixed: set[str],
    straight: bool,
    over: Callable[[], bool],
) -> list[NestedSheet]:
    """The sheets with pieces that are needed together on as few of them as this finds; `fixed` pieces stay."""
    if over():
        return list(sheets)
    visits = _VisitSearch(sheets, pieces, fixed, straight)
    for _ in range(PASSES):
        gained = visits.swap_equal(over)
        if len(pieces) <= MOVED_MOST and not rolls.intersection(sheet.stock for sheet in sheets):
            gained = visits.swap_unlike(over) or gained
        if not gained or over():
            break
    return visits.remake_sheets()
