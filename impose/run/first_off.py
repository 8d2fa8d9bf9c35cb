"""First one off: one garment of each run on sheets of its own, pressed and looked at before the rest is printed.

A run is the garments of one kit, or garments alike, within an order: the same pictures at the same places on the same
kind and cloth; words may differ. A run of one garment has no rest, and is printed with the others.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any

from impose.errors import Finding, Severity
from impose.nest import Nesting, Rectangle, Stock
from impose.orders.garment_groups import GarmentPrints, assign_garments
from impose.sheet.costs import format_amount
from impose.sheet.money import show_money
from impose.sheet.transfer import Transfer
from impose.values import FrozenStruct

Nest = Callable[[Sequence[Rectangle], Mapping[str, int]], Nesting]
"""Nests pieces within what is taken already of each paper."""


class FirstOff(FrozenStruct):
    """The transfers of the first ones, on how many sheets, and what that takes more than all of them together."""

    transfers: frozenset[str]
    garments: int
    sheets: int
    more_sheets: int
    more_paper: int
    more_handling: int

    def record_values(self) -> dict[str, Any]:
        """Plain values for the record."""
        more = {
            "sheets": self.more_sheets,
            "cost": format_amount(self.more_paper),
            "handling": format_amount(self.more_handling),
        }
        return {"garments": self.garments, "sheets": self.sheets, "more": more}

    def make_finding(self, currency: str) -> Finding:
        """What is told of it."""
        garments = f"{self.garments} garment{'s' * (self.garments != 1)}"
        sheets = f"{self.sheets} sheet{'s' * (self.sheets != 1)}"
        cost = self.more_paper + self.more_handling
        takes = "no more than together" if cost <= 0 else f"{show_money(cost)} {currency} more than together"
        what = f"first ones off: {garments} on {sheets} of their own, which takes {takes}"
        return Finding(what, "Press them and look at them before you print the rest.", Severity.NOTE, "first-off")


NOTHING_FIRST = Finding(
    "no run has two garments, so none is printed first",
    "A run is the garments of one kit, or garments alike, in one order.",
    Severity.NOTE,
    "first-off",
)


def choose_firsts(transfers: Mapping[str, Transfer]) -> tuple[frozenset[str], int]:
    """The transfers of the first garment of each run of two or more, and how many garments these are."""
    rows = {transfer.piece.row.key: transfer.piece.row for transfer in transfers.values()}
    runs: dict[Hashable, list[GarmentPrints]] = {}
    for garment in assign_garments([rows[key] for key in sorted(rows)])[0]:
        runs.setdefault(_make_run_key(garment), []).append(garment)
    firsts = [run[0] for run in runs.values() if len(run) > 1]
    copies = {(row.key, copy) for garment in firsts for row, copy in garment.prints}
    chosen = (name for name, t in transfers.items() if (t.piece.row.key, t.copy) in copies)
    return frozenset(chosen), len(firsts)


def _make_run_key(garment: GarmentPrints) -> Hashable:
    first = garment.prints[0][0]
    kits = {row.kit for row, _ in garment.prints if row.kit}
    cloth = garment.cloth.text.casefold(), garment.cloth.colour.casefold()
    if kits:
        return first.order_key, tuple(sorted(kits)), cloth
    prints = sorted((row.placement or "", "" if row.words else row.art, row.font) for row, _ in garment.prints)
    # Without an order a row is an order of its own, yet the copies of it are a run.
    return first.order_key, garment.garment.kind, cloth, tuple(prints)


def join_nestings(first: Nesting, rest: Nesting) -> Nesting:
    """Both, the first ones' sheets before the others; what bounds each bounds both together."""
    least = None
    if first.least is not None or rest.least is not None:
        least = sum(part.bound if part.least is None else part.least for part in (first, rest))
    return Nesting(
        (*first.sheets, *rest.sheets),
        first.cost + rest.cost,
        first.bound + rest.bound,
        first.fewest + rest.fewest,
        (*first.unplaced, *rest.unplaced),
        first.clock or rest.clock,
        first.steps + rest.steps,
        first.handling + rest.handling,
        least,
    )


def nest_apart(
    rectangles: Sequence[Rectangle], stocks: Sequence[Stock], transfers: Mapping[str, Transfer], nest: Nest,
    sum_taken: Callable[[Nesting, Sequence[Stock]], Mapping[str, int]],
) -> tuple[Nesting, FirstOff] | None:  # fmt: skip
    """The first ones nested, then the rest on the paper that is left; None where no run has two garments."""
    chosen, garments = choose_firsts(transfers)
    if not chosen:
        return None
    first = nest([piece for piece in rectangles if piece.id in chosen], {})
    rest = nest([piece for piece in rectangles if piece.id not in chosen], sum_taken(first, stocks))
    joined, together = join_nestings(first, rest), nest(rectangles, {})
    return joined, FirstOff(
        chosen,
        garments,
        len(first.sheets),
        len(joined.sheets) - len(together.sheets),
        joined.cost - together.cost,
        joined.handling - together.handling,
    )
