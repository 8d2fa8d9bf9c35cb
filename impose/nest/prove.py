"""The proof that a nesting is sound, made from nothing but the input and the answer.

It shares no code with what places the pieces: a packer's own check can be blind (rectpack's never looks at the last
rectangle), so none is trusted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from impose.nest.model import Cut, NestedSheet, Nesting, Placement, Rectangle, Stock


class UnsoundNesting(AssertionError):
    """A nesting broke its word: a bug in the nester, never the caller's fault."""


def prove_nesting(
    nesting: Nesting,
    pieces: Sequence[Rectangle],
    stocks: Sequence[Stock],
    changing: int = 0,
    proven: Sequence[NestedSheet] | None = None,
) -> None:
    """Raise `UnsoundNesting` unless each piece is there once, inside its sheet, apart from all others, at the
    stated cost.

    `proven` are sheets for which that is known: of these very ones, only what is said of them all is looked at.
    """
    _check_nothing_lost_or_doubled(nesting, pieces)
    by_id = {p.id: p for p in pieces}
    by_name = {s.name: s for s in stocks}
    for number, sheet in enumerate(nesting.sheets, 1):
        if sheet.stock not in by_name:
            raise UnsoundNesting(f"sheet {number} is on {sheet.stock!r}, which is not on offer")
        if nesting.sheets is not proven:
            _check_sheet(number, sheet, by_id, by_name[sheet.stock])
    _check_limits(nesting, stocks)
    _check_reasons(nesting, by_id, stocks)
    if nesting.cost != sum(s.cost for s in nesting.sheets):
        raise UnsoundNesting(f"the total {nesting.cost} is not the sum of the sheets' costs")
    each = [by_name[s.stock].handling for s in nesting.sheets]
    papers = {s.stock for s in nesting.sheets}
    if nesting.handling != sum(each) + changing * (len(papers) - 1 if papers else 0):
        raise UnsoundNesting(f"handling of {nesting.handling} is not that of the sheets and the changes of paper")
    if nesting.least is not None and nesting.least > nesting.cost + nesting.handling:
        raise UnsoundNesting(f"the lower bound {nesting.least} is above the cost with handling of a real nesting")
    if nesting.bound > nesting.cost:
        raise UnsoundNesting(f"the lower bound {nesting.bound} is above the cost {nesting.cost} of a real nesting")
    if nesting.fewest > len(nesting.sheets):
        raise UnsoundNesting(f"at least {nesting.fewest} sheets were said to be needed, {len(nesting.sheets)} do")


def _check_nothing_lost_or_doubled(nesting: Nesting, pieces: Sequence[Rectangle]) -> None:
    wanted = Counter(p.id for p in pieces)
    found = Counter(q.id for s in nesting.sheets for q in s.placements)
    found.update(name for name, _ in nesting.unplaced)
    if wanted != found:
        wrong = sorted((wanted - found) + (found - wanted))
        raise UnsoundNesting(f"{len(wrong)} pieces lost or doubled, the first is {wrong[0]!r}")


def _check_sheet(number: int, sheet: NestedSheet, by_id: dict[str, Rectangle], stock: Stock) -> None:
    where = f"sheet {number} ({sheet.stock})"
    if not sheet.placements:
        raise UnsoundNesting(f"{where} is empty")
    if not stock.fits(sheet.width, sheet.height) or (stock.height not in (None, sheet.height)):
        raise UnsoundNesting(f"{where} is {sheet.width} x {sheet.height}, the paper is not")
    if sheet.cost != stock.piece_cost(sheet.height):
        raise UnsoundNesting(f"{where} costs {stock.piece_cost(sheet.height)}, not {sheet.cost}")
    for placed in sheet.placements:
        _check_piece(where, placed, by_id[placed.id])
        if not _lies_inside(placed.x, placed.y, placed.width, placed.height, (0, 0, sheet.width, sheet.height)):
            raise UnsoundNesting(f"{where}: {placed.id!r} leaves the sheet")
    pair = find_overlap(sheet.placements)
    if pair:
        raise UnsoundNesting(f"{where}: {pair[0].id!r} and {pair[1].id!r} overlap")
    if sheet.offcut is not None:
        _check_offcut(where, sheet)
    if sheet.cuts:
        prove_cuts(where, sheet)


def _check_piece(where: str, placed: Placement, piece: Rectangle) -> None:
    if placed.turned and not piece.may_turn:
        raise UnsoundNesting(f"{where}: {placed.id!r} is turned and may not be")
    size = (piece.height, piece.width) if placed.turned else (piece.width, piece.height)
    if (placed.width, placed.height) != size:
        raise UnsoundNesting(f"{where}: {placed.id!r} is {placed.width} x {placed.height}, it should be {size}")


def _lies_inside(x: int, y: int, width: int, height: int, box: tuple[int, int, int, int]) -> bool:
    left, top, right, bottom = box
    return left <= x and top <= y and x + width <= right and y + height <= bottom


def find_overlap(placements: Sequence[Placement]) -> tuple[Placement, Placement] | None:
    """A pair that shares area, or None. A sweep along the longer side: each piece meets only those still open."""
    if max((p.y + p.height for p in placements), default=0) > max((p.x + p.width for p in placements), default=0):
        return _sweep_down(placements)
    open_: list[Placement] = []
    for piece in sorted(placements, key=lambda p: (p.x, p.y)):
        open_ = [o for o in open_ if o.x + o.width > piece.x]
        for other in open_:
            if other.y < piece.y + piece.height and piece.y < other.y + other.height:
                return other, piece
        open_.append(piece)
    return None


def _sweep_down(placements: Sequence[Placement]) -> tuple[Placement, Placement] | None:
    open_: list[Placement] = []
    for piece in sorted(placements, key=lambda p: (p.y, p.x)):
        open_ = [o for o in open_ if o.y + o.height > piece.y]
        for other in open_:
            if other.x < piece.x + piece.width and piece.x < other.x + other.width:
                return other, piece
        open_.append(piece)
    return None


def _check_offcut(where: str, sheet: NestedSheet) -> None:
    assert sheet.offcut is not None
    x, y, width, height = sheet.offcut
    if width <= 0 or height <= 0 or not _lies_inside(x, y, width, height, (0, 0, sheet.width, sheet.height)):
        raise UnsoundNesting(f"{where}: the offcut is not on the sheet")
    right, low = x + width, y + height
    if any(p.x < right and x < p.x + p.width and p.y < low and y < p.y + p.height for p in sheet.placements):
        raise UnsoundNesting(f"{where}: the offcut has a piece on it")


def _check_limits(nesting: Nesting, stocks: Sequence[Stock]) -> None:
    for stock in stocks:
        mine = [s for s in nesting.sheets if s.stock == stock.name]
        used = len(mine) if stock.height is not None else sum(_measure_length_cut(stock, s.height) for s in mine)
        if stock.limit is not None and used > stock.limit:
            raise UnsoundNesting(f"{used} of {stock.name!r} used, {stock.limit} are left")


def _measure_length_cut(stock: Stock, height: int) -> int:
    """What a piece of roll takes of it: the height used, and what is lost, which may grow with the height."""
    grown = stock.cut_base * 1_000_000 + stock.cut_per_metre * height
    return height + max(stock.cut_margin, -(-grown // 1_000_000))


def _check_reasons(nesting: Nesting, by_id: dict[str, Rectangle], stocks: Sequence[Stock]) -> None:
    """`size` must mean that no paper takes the piece even empty, `stock` that one would."""
    for name, reason in nesting.unplaced:
        fits = any(_would_take(s, by_id[name]) for s in stocks)
        if reason not in ("size", "stock") or fits != (reason == "stock"):
            raise UnsoundNesting(f"{name!r} is said to be left out for want of {reason!r}, which is not so")


def _would_take(stock: Stock, piece: Rectangle) -> bool:
    """By size alone: what is left of the paper does not count."""
    high = stock.height if stock.height is not None else stock.max_height
    sizes = [(piece.width, piece.height)] + ([(piece.height, piece.width)] if piece.may_turn else [])
    return any(w <= stock.width and (high is None or h <= high) for w, h in sizes)


def prove_cuts(where: str, sheet: NestedSheet) -> None:
    """Raise `UnsoundNesting` unless the cuts, in their order, go edge to edge and leave each piece alone in its
    part.
    """
    parts = {(0, 0, sheet.width, sheet.height): list(sheet.placements)}
    for cut in sheet.cuts:
        part = next((p for p in reversed(parts) if _goes_across(cut, p)), None)  # mostly one of the last
        if part is None:
            raise UnsoundNesting(f"{where}: the cut {cut} does not go from edge to edge of a part")
        held = parts.pop(part)
        halves = _split_by_cut(cut, part)
        inside = [[p for p in held if _lies_inside(p.x, p.y, p.width, p.height, half)] for half in halves]
        if sum(map(len, inside)) < len(held):
            hit = next(p for p in held if p not in inside[0] and p not in inside[1])
            raise UnsoundNesting(f"{where}: the cut {cut} goes through {hit.id!r}")
        parts |= dict(zip(halves, inside, strict=True))
    for held in parts.values():
        if len(held) > 1:
            raise UnsoundNesting(f"{where}: the cuts do not part {held[0].id!r} from {held[1].id!r}")


def _goes_across(cut: Cut, part: tuple[int, int, int, int]) -> bool:
    left, top, right, bottom = part
    upright = cut.x1 == cut.x2 and left < cut.x1 < right and (cut.y1, cut.y2) == (top, bottom)
    level = cut.y1 == cut.y2 and top < cut.y1 < bottom and (cut.x1, cut.x2) == (left, right)
    return upright or level


def _split_by_cut(cut: Cut, part: tuple[int, int, int, int]) -> list[tuple[int, int, int, int]]:
    left, top, right, bottom = part
    if cut.x1 == cut.x2:
        return [(left, top, cut.x1, bottom), (cut.x1, top, right, bottom)]
    return [(left, top, right, cut.y1), (left, cut.y1, right, bottom)]
