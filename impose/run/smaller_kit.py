"""What a little less would save: a whole placement printed smaller, the same for everybody.

Only ever all prints of a placement together: nobody's shirt is to have a smaller number than the next one's. What is
told was nested, so that at least that much is saved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from impose.nest import Rectangle, nest
from impose.run.handling_choice import HandlingRates
from impose.run.nest_batch import make_stocks
from impose.run.options import Options, Progress
from impose.run.plan import Plan
from impose.sheet.margins import print_area
from impose.sheet.piece import Piece, Transfer
from impose.units import to_um_up

LESS_MM = (5.0, 10.0, 15.0, 20.0, 30.0)
MOST_SHARE = 0.15
"""Of a print's width: less is not seen beside the one before; more is another design (own choice)."""
MOST_TRANSFERS = 2000


@dataclass(frozen=True, slots=True)
class Saving:
    """All prints of a placement `less_mm` narrower: what is `saved` at least, in millionths, and the new widths.

    `widths` are finished widths in mm by row, as (batch, kit).
    """

    placement: str | None
    less_mm: float
    saved: int
    widths: dict[tuple[int, int], float] = field(default_factory=dict)


def list_savings(plan: Plan, options: Options, progress: Progress) -> list[Saving]:
    """The least step that saves paper, for each placement; most saved first."""
    transfers = [placed.transfer for sheet in plan.layout.sheets for placed in sheet.placed]
    priced = all(paper.cost > 0 for paper in plan.profiles.offered_papers)
    if (
        not transfers
        or not priced
        or len(transfers) > MOST_TRANSFERS
        or any(transfer.piece.panel for transfer in transfers)
    ):
        return []
    by_place: dict[str | None, list[Transfer]] = {}
    for transfer in transfers:
        by_place.setdefault(transfer.piece.row.placement, []).append(transfer)
    paid = plan.bill.total_cost.paper
    found = []
    for number, (placement, group) in enumerate(by_place.items()):
        progress("nesting", number, len(by_place))
        saving = _least_step(plan, options, transfers, placement, group, paid)
        if saving is not None:
            found.append(saving)
    return sorted(found, key=lambda entry: -entry.saved)


def _least_step(
    plan: Plan, options: Options, every: Sequence[Transfer], placement: str | None, group: Sequence[Transfer], paid: int
) -> Saving | None:
    narrowest = min(entry.piece.finished_size[0] for entry in group)
    names = {entry.id for entry in group}
    for less in LESS_MM:
        if less > narrowest * MOST_SHARE:
            return None
        saved = paid - _compute_price(
            plan, options, [_make_cell(entry, less if entry.id in names else 0.0) for entry in every]
        )
        if saved > 0:
            widths = {entry.piece.row.key: round(entry.piece.finished_size[0] - less, 1) for entry in group}
            return Saving(placement, less, saved, widths)
    return None


def _make_cell(entry: Transfer, less_mm: float) -> Rectangle:
    """The cell of a transfer whose print is so much narrower, in its proportions."""
    piece: Piece = entry.piece
    share = 1.0 - less_mm / piece.finished_size[0]
    wide = piece.ink_w_mm * share + piece.sides.across_mm
    high = piece.ink_h_mm * share + piece.sides.down_mm
    return Rectangle(entry.id, to_um_up(wide), to_um_up(high), may_turn=piece.may_turn)


def _compute_price(plan: Plan, options: Options, cells: Sequence[Rectangle]) -> int:
    """What the cheapest sheets cost that a quick search finds; more than anything where not all fit."""
    slack = min(placed.transfer.piece.sides.slack_mm for sheet in plan.layout.sheets for placed in sheet.placed)
    areas = tuple(print_area(paper, plan.printer) for paper in plan.profiles.offered_papers)
    straight = plan.profiles.settings.straight_cuts
    made = nest(
        list(cells), make_stocks(areas, slack, HandlingRates()), steps=options.steps or 2, straight_cuts=straight
    )
    return made.cost if not made.unplaced else 1 << 62
