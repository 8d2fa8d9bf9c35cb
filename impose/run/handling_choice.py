"""Work has a price: sheets that cost least with their handling, beside those whose paper alone costs least."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from impose.nest import Nesting, Rectangle, Stock, count_visits, nest, sum_handling
from impose.profiles.settings import Settings
from impose.run.options import Options
from impose.sheet.costs import format_amount
from impose.sheet.money import to_millionths
from impose.values import FrozenStruct, replace

COMPARED_STEPS = 600
"""What the cheapest paper alone is searched with: it is told of, and not printed."""
COMPARED_PART = 4
"""Where a clock decides, this part of it."""


class SheetTally(FrozenStruct):
    """Sheets by the name of their paper, their paper and their handling in whole millionths."""

    sheets: Mapping[str, int]
    paper: int
    handling: int

    @property
    def total(self) -> int:
        """Paper and handling."""
        return self.paper + self.handling

    def list_values(self, names: Mapping[str, str] | None = None) -> dict[str, Any]:
        """Plain values, papers under other names where these are given."""
        return {
            "sheets": {(names or {}).get(name, name): count for name, count in self.sheets.items() if count},
            "cost": format_amount(self.paper),
            "handling": format_amount(self.handling),
        }


class HandlingReport(FrozenStruct):
    """What the sheets cost to handle, and how often a garment's prints are looked for on a sheet.

    `least` is what no sheets can go below, paper and handling together. `least_paper` are the sheets whose paper alone
    costs less than what is made of the batch, if any were found. `garments` have several prints, and `visits` is how
    often one of these garments is found on one sheet.
    """

    made: SheetTally
    least: int
    least_paper: SheetTally | None
    garments: int
    visits: int

    def record_values(self, names: Mapping[str, str] | None = None) -> dict[str, Any]:
        """Plain values for the record, papers under other names where these are given."""
        return {
            "cost": format_amount(self.made.handling),
            "least": format_amount(self.least),
            "least_paper": None if self.least_paper is None else self.least_paper.list_values(names),
            "garments": self.garments,
            "visits": self.visits,
        }


class HandlingRates(FrozenStruct):
    """What handling a sheet and changing to a further paper cost, in whole millionths."""

    sheet: int = 0
    change: int = 0


def choose_rates(settings: Settings, priced: bool, reused: bool = False) -> HandlingRates:
    """The settings' rates; none where paper has no price, and no change to be paid beside sheets printed again.

    Sheets that are printed again are laid in one by one, and lie in parts of which each would count as a paper.
    """
    if not priced:
        return HandlingRates()
    change = 0 if reused else to_millionths(settings.paper_change)
    return HandlingRates(to_millionths(settings.sheet_handling), change)


def nest_with_handling(
    rectangles: Sequence[Rectangle], stocks: Sequence[Stock], rates: HandlingRates, straight: bool, options: Options
) -> tuple[Nesting, Nesting | None]:
    """The nesting that costs least with its handling; and one whose paper alone costs less, if one is found."""
    workers = options.executor or options.workers or 1

    def search(
        papers: Sequence[Stock], changing: int, steps: int | None, seconds: float | None, tidy: bool = True
    ) -> Nesting:
        return nest(
            rectangles,
            papers,
            steps=steps,
            seconds=seconds,
            straight_cuts=straight,
            workers=workers,
            changing=changing,
            tidy=tidy,
        )

    if not _is_handling_weighed(stocks, rates):
        return search(stocks, rates.change, options.steps, options.seconds), None
    part = None if options.seconds is None else options.seconds / COMPARED_PART
    made = search(stocks, rates.change, options.steps, None if part is None else part * (COMPARED_PART - 1))
    if made.unplaced or made.cost == made.bound:
        return made, None
    steps = (
        None if part is not None else min(COMPARED_STEPS, COMPARED_STEPS if options.steps is None else options.steps)
    )
    free = [replace(stock, handling=0) for stock in stocks]
    # Mostly it is only counted. With steps the same comes out once more; a clock would give something else.
    cheapest = search(free, 0, steps, part, tidy=part is not None)
    if cheapest.unplaced or cheapest.cost >= made.cost:
        return made, None
    handling = sum_handling(cheapest.sheets, stocks, rates.change)
    if cheapest.cost + handling >= made.cost + made.handling:
        return made, cheapest
    least = made.least if made.least is not None else made.bound
    cheapest = search(free, 0, steps, part) if part is None else cheapest
    return replace(cheapest, handling=handling, least=least), None


def _is_handling_weighed(stocks: Sequence[Stock], rates: HandlingRates) -> bool:
    """Whether handling can decide anything: of one size of sheet the fewest are the cheapest either way."""
    several = len(stocks) > 1 or any(stock.height is None for stock in stocks)
    return several and bool(rates.sheet or rates.change)


def report_handling(
    nesting: Nesting,
    least_paper: Nesting | None,
    rectangles: Sequence[Rectangle],
    stocks: Sequence[Stock],
    rates: HandlingRates,
) -> HandlingReport:
    """What is told of the sheets' handling."""
    alternative = None
    if least_paper is not None:
        alternative = tally_sheets(least_paper, sum_handling(least_paper.sheets, stocks, rates.change))
    least = nesting.bound if nesting.least is None else nesting.least
    return HandlingReport(
        tally_sheets(nesting, nesting.handling),
        least,
        alternative,
        len({rectangle.together for rectangle in rectangles} - {""}),
        count_visits(nesting.sheets, rectangles),
    )


def tally_sheets(nesting: Nesting, handling: int) -> SheetTally:
    """The sheets of a nesting by paper, and what they cost."""
    counts: dict[str, int] = {}
    for sheet in nesting.sheets:
        counts[sheet.stock] = counts.get(sheet.stock, 0) + 1
    return SheetTally(counts, nesting.cost, handling)
