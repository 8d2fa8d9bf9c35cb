"""From input to answer: what fits nowhere set aside, the search run, names given back, the shop's wishes met."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from impose.nest.bounds import cost_needed, sheets_needed
from impose.nest.free import carve
from impose.nest.guillotine import cuts_of
from impose.nest.job import Filled, Job, make_job
from impose.nest.mix import cheapest_mix
from impose.nest.model import Nesting, Placement, Rectangle, Sheet, Stock
from impose.nest.place import again
from impose.nest.search import Budget, first_sheets, improve


def solve(
    pieces: Sequence[Rectangle],
    stocks: Sequence[Stock],
    steps: int | None,
    seconds: float | None,
    seed: int,
    straight: bool,
) -> Nesting:
    """The nesting of checked input; see `impose.nest.nest`."""
    takes = [any(stock.takes(piece) for stock in stocks) for piece in pieces]
    chosen = [index for index, taken in enumerate(takes) if taken]
    unplaced = [(piece.id, _why(piece, stocks)) for piece, taken in zip(pieces, takes, strict=True) if not taken]
    job = make_job(pieces, chosen, stocks)
    budget = Budget(steps, seconds)
    sheets, left, bound = _searched(job, budget, seed, straight)
    members = _by_kind(job)
    finished = [_finished(job, sheet, members, pieces, straight) for sheet in _in_order(job, sheets)]
    gone = {index for kind in left for index in [members[kind].pop()]}
    unplaced += [(pieces[index].id, "stock") for index in sorted(gone)]
    cost = sum(sheet.cost for sheet in finished)
    if left:  # the bound is on what was placed: computed anew, since less was
        placed = [index for index in chosen if index not in gone]
        job = make_job(pieces, placed, stocks)
        bound = cost_needed(job)
    fewest = sheets_needed(job, 0) if len(stocks) == 1 else (1 if finished else 0)
    clock = seconds is not None and cost > bound
    return Nesting(
        tuple(finished), cost, min(bound, cost), min(fewest, len(finished)), tuple(unplaced), clock, budget.done
    )


def _why(piece: Rectangle, stocks: Sequence[Stock]) -> str:
    """`size` if no paper takes the piece even when there is plenty; a roll may be too short for what is left of it."""
    plenty = [Stock(s.name, s.width, s.height, s.cost, None, s.max_height, s.cut_margin) for s in stocks]
    return "stock" if any(stock.takes(piece) for stock in plenty) else "size"


def _searched(job: Job, budget: Budget, seed: int, straight: bool) -> tuple[list[Filled], list[int], int]:
    """Sheets, kinds left over for want of paper, and the lower bound on the cost."""
    if not job.size:
        return [], [], 0
    bound = cost_needed(job)
    only = job.stocks[0]
    if len(job.stocks) == 1 and only.height is not None and only.limit is None:
        fewest = sheets_needed(job, 0)
        sheets = first_sheets(job, 0, job.all(), straight)
        sheets = improve(job, 0, sheets, fewest, budget, seed, straight)
        return sheets, [], bound
    sheets, left = cheapest_mix(job, bound, budget, seed, straight)
    return sheets, left, bound


def _by_kind(job: Job) -> dict[int, list[int]]:
    """The pieces of each kind, last first, so that popping gives them in the order of the input."""
    return defaultdict(list, {kind: list(reversed(members)) for kind, members in enumerate(job.members)})


def _in_order(job: Job, sheets: list[Filled]) -> list[Filled]:
    """By paper, then the fullest first: the emptiest comes last, where later work can fill it."""
    return sorted(sheets, key=lambda sheet: (sheet.stock, -sum(job.area(k) for k in sheet.kinds)))


def _finished(
    job: Job, filled: Filled, members: dict[int, list[int]], pieces: Sequence[Rectangle], straight: bool
) -> Sheet:
    stock = job.stocks[filled.stock]
    if not straight:
        filled = again(job, filled)
    placements = []
    for spot in sorted(filled.spots, key=lambda spot: (spot.y, spot.x)):
        piece = pieces[members[spot.kind].pop()]
        turned = (spot.width, spot.height) != (piece.width, piece.height)
        placements.append(Placement(piece.id, spot.x, spot.y, spot.width, spot.height, turned))
    height = stock.height if stock.height is not None else filled.height
    cuts = cuts_of(placements, stock.width, height) if straight else ()
    assert cuts is not None  # a sheet filled by splits can always be cut apart
    return Sheet(
        stock.name,
        stock.width,
        height,
        stock.piece_cost(height),
        tuple(placements),
        cuts,
        _offcut(placements, stock.width, height),
    )


def _offcut(placements: Sequence[Placement], width: int, height: int) -> tuple[int, int, int, int] | None:
    """The largest clean rectangle, or None if there is none."""
    free = [(0, 0, width, height, width, height)]
    for p in placements:
        free = carve(free, p.x, p.y, p.x + p.width, p.y + p.height, 1)
    if not free:
        return None
    x, y, _, _, w, h = max(free, key=lambda f: (f[4] * f[5], -f[1], -f[0]))
    return x, y, w, h
