"""From sizes on sheets to named pieces on sheets, and what the shop would rather have among equal costs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from impose.nest.compiled import AREA_MOST, find_clean_box_compiled, find_loops
from impose.nest.free_rectangles import RULES, Free, carve_free, fill_sheet
from impose.nest.guillotine import find_cuts
from impose.nest.instance import FilledSheet, NestingInstance, PlacedSpot
from impose.nest.model import NestedSheet, Placement, Rectangle
from impose.nest.rectpack_portfolio import place_again
from impose.nest.search import list_orders

if TYPE_CHECKING:
    from impose.nest.warm_start import WarmStart

TIDIED = 60  # sheets placed anew for a larger offcut; in a larger batch nobody looks for one

LOOK = 64  # pieces between looks at the clock while an offcut is found

AT_ONCE = 1000  # pieces: on more the compiled loop would not look at the clock for too long

Waiting = list[dict[str, list[int]]]  # for each kind, the pieces of each group that has some without a spot


def finish_sheets(
    job: NestingInstance,
    sheets: Sequence[FilledSheet],
    pieces: Sequence[Rectangle],
    straight: bool,
    earlier: WarmStart | None = None,
    over: Callable[[], bool] = lambda: False,
) -> tuple[list[NestedSheet], Waiting]:
    """Finished sheets, papers as offered and the emptiest last, and the pieces that found no spot.

    Sheets of an earlier nesting come first, in its order, and what lies there as it did keeps its name. Once it is
    `over`, no sheet is laid anew for its offcut, and on crowded ones none is looked for.
    """
    waiting: Waiting = []
    for members in job.members:
        by_group: dict[str, list[int]] = {}
        for index in reversed(members):  # so that popping gives them as they came
            by_group.setdefault(pieces[index].group, []).append(index)
        waiting.append(by_group)
    matched = [None] * len(sheets) if earlier is None else earlier.match_sheets(sheets)
    names = [_name_pieces(n, sheet, earlier, pieces, waiting) for n, sheet in zip(matched, sheets, strict=True)]
    waiting = [{group: left for group, left in by_group.items() if left} for by_group in waiting]
    used = [sum(job.piece_area(k) for k in sheet.kinds) for sheet in sheets]
    place = [len(sheets) if n is None else n for n in matched]
    tidy = not straight and len(sheets) <= TIDIED
    done = []
    for i in sorted(range(len(sheets)), key=lambda i: (sheets[i].stock, place[i], -used[i])):
        laid = _consolidate_waste(job, sheets[i], over) if tidy and matched[i] is None and not over() else sheets[i]
        done.append(_make_sheet(job, laid, pieces, waiting, straight, names[i], over))
    return done, waiting


def _name_pieces(
    number: int | None, sheet: FilledSheet, earlier: WarmStart | None, pieces: Sequence[Rectangle], waiting: Waiting
) -> dict[PlacedSpot, int]:
    """The pieces that lie where they did on an earlier sheet; they wait for no other spot."""
    if number is None or earlier is None:
        return {}
    lay = earlier.names[number]
    names = {spot: lay[spot] for spot in sheet.spots if spot in lay}
    for spot, index in names.items():
        waiting[spot.kind][pieces[index].group].remove(index)
    return names


def _consolidate_waste(job: NestingInstance, sheet: FilledSheet, over: Callable[[], bool]) -> FilledSheet:
    """The same pieces laid so that the waste is one large rectangle: the best of rectpack's ways and ours."""
    paper = job.stocks[sheet.stock]
    if paper.height is None:
        return sheet
    best, most = sheet, _box_area(find_offcut(paper.width, paper.height, sheet.spots, over))
    for spots in _list_layouts(job, sheet, paper.width, paper.height):
        if over():
            break
        area = _box_area(find_offcut(paper.width, paper.height, spots, over))
        if area > most:
            best, most = FilledSheet(sheet.stock, spots), area
    return best


def _list_layouts(job: NestingInstance, sheet: FilledSheet, width: int, height: int) -> Iterator[list[PlacedSpot]]:
    for made in place_again(job, sheet):
        yield made.spots
    for order in list_orders(job, sheet.kinds)[:3]:
        for rule in RULES[:2]:
            spots, left, _ = fill_sheet(job.kinds, width, height, order, rule, 0)
            if not left:
                yield spots


def _box_area(box: tuple[int, int, int, int] | None) -> int:
    return 0 if box is None else box[2] * box[3]


def _make_sheet(
    job: NestingInstance,
    sheet: FilledSheet,
    pieces: Sequence[Rectangle],
    waiting: Waiting,
    straight: bool,
    names: Mapping[PlacedSpot, int],
    over: Callable[[], bool],
) -> NestedSheet:
    paper = job.stocks[sheet.stock]
    height = paper.height if paper.height is not None else sheet.used_height
    placed = []
    here: Counter[str] = Counter(pieces[index].group for index in names.values())
    for spot in _order_by_candidates(sheet.spots, waiting):
        piece = pieces[names[spot] if spot in names else _take_piece(waiting[spot.kind], here)]
        here[piece.group] += spot not in names
        turned = (spot.width, spot.height) != (piece.width, piece.height)
        placed.append(Placement(piece.id, spot.x, spot.y, spot.width, spot.height, turned))
    placed.sort(key=lambda p: (p.y, p.x))
    cuts = find_cuts(placed, paper.width, height) if straight else ()
    assert cuts is not None  # a sheet filled by splits can always be cut apart
    offcut = find_offcut(paper.width, height, sheet.spots, over)
    return NestedSheet(paper.name, paper.width, height, paper.piece_cost(height), tuple(placed), cuts, offcut)


def _order_by_candidates(spots: Sequence[PlacedSpot], waiting: Waiting) -> list[PlacedSpot]:
    """Spots that only one group can have come first: they decide whose sheet this is."""
    return sorted(spots, key=lambda s: (len(waiting[s.kind]), s.y, s.x))


def _take_piece(by_group: dict[str, list[int]], here: Counter[str]) -> int:
    """A piece of the group most at home on this sheet already, else of the first that has any left."""
    at_home = [group for group in here if here[group] and group in by_group]
    if not at_home:
        group = next(iter(by_group))
    else:
        most = max(here[group] for group in at_home)
        tied = [group for group in at_home if here[group] == most]
        group = tied[0] if len(tied) == 1 else next(group for group in by_group if group in tied)
    piece = by_group[group].pop()
    if not by_group[group]:
        del by_group[group]
    return piece


def find_offcut(
    width: int, height: int, spots: Sequence[PlacedSpot], over: Callable[[], bool] = lambda: False
) -> tuple[int, int, int, int] | None:
    """The largest clean rectangle left on a sheet: (x, y, width, height); None if it is full, or over too soon."""
    loops = find_loops() if len(spots) <= AT_ONCE and width * height < AREA_MOST else None
    if loops is not None and (box := find_clean_box_compiled(loops, width, height, spots)) is not None:
        return box if box[2] else None
    free: list[Free] = [(0, 0, width, height, width, height)]
    for number, spot in enumerate(spots, 1):
        if not number % LOOK and over():
            return None
        free = carve_free(free, spot.x, spot.y, spot.x + spot.width, spot.y + spot.height, 1)
    if not free:
        return None
    x, y, _, _, w, h = min(free, key=lambda f: (-f[4] * f[5], f[1], f[0]))
    return x, y, w, h
