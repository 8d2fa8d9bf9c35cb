"""What straight cuts cost in paper: the same transfers nested once more without them."""

from __future__ import annotations

from collections.abc import Sequence

from impose.errors import Finding, Severity
from impose.nest import Nesting, Rectangle, Stock, nest
from impose.remedies import Remedy
from impose.run.options import Options
from impose.sheet.money import to_decimal
from impose.values import FrozenStruct


class StraightCutPrice(FrozenStruct):
    """How much more straight cuts cost than the `free` layout's paper, in millionths: of paper, and of handling."""

    more: int
    free: int
    handling: int = 0

    def make_finding(self, priced: bool, currency: str) -> Finding:
        """The price in words; where paper has no price, as a share of the paper."""
        if self.more <= 0 and self.handling <= 0:
            what, fix = "straight cuts take no more paper", "Nothing needs doing."
        else:
            more = f"{to_decimal(self.more):f} {currency}" if priced else f"{self.more / self.free:.1%}"
            worked = f" and {to_decimal(self.handling):f} {currency} of handling" if self.handling else ""
            what, fix = f"straight cuts take {more} of paper{worked} more", Remedy("leave-straight-cuts")
        return Finding(f"{what} than the best layout found without them", fix, Severity.NOTE, kind="straight-cuts")


def price_straight_cuts(
    nesting: Nesting, rectangles: Sequence[Rectangle], stocks: Sequence[Stock], changing: int, options: Options
) -> StraightCutPrice:
    """What the nesting, whose sheets can all be cut apart straight, costs more than one that need not be.

    The search without straight cuts is allowed as much as the one with them; what is proven least is not searched for
    again.
    """
    if nesting.proven:
        return StraightCutPrice(0, nesting.cost)
    workers = options.executor or options.workers or 1
    free = nest(rectangles, stocks, steps=options.steps, seconds=options.seconds, workers=workers, changing=changing)
    if nesting.cost + nesting.handling <= free.cost + free.handling:
        return StraightCutPrice(0, nesting.cost)
    return StraightCutPrice(nesting.cost - free.cost, free.cost, nesting.handling - free.handling)
