"""What a batch costs, down to the single transfer: paper by the sheet, paper by the area used, and ink by coverage.

Paper *by the sheet* is what is paid: the waste of a sheet is shared among the transfers on it, by the area of their
cells. Paper *by area* leaves the waste out. Ink is what the picture's coverage takes at its final size. Every sum is
the exact sum of its parts, in whole millionths of the currency unit and whole microlitres.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Any

from impose.sheet.money import CENT, MILLIONTHS, shares, to_decimal
from impose.sheet.transfer import Piece, Transfer, garment_words
from impose.shop.assign import assign
from impose.shop.paper import Printer

INK_STEP = CENT // 100
"""Ink is counted to a hundredth of a cent: a small crest takes less than a cent of it."""


@dataclass(frozen=True, slots=True)
class Cost:
    """Whole millionths of the currency unit, and ink in whole microlitres."""

    paper: int = 0
    used: int = 0  # the part of `paper` that cells cover
    ink: int = 0
    ink_ul: int = 0

    @property
    def total(self) -> int:
        """What is paid: paper by the sheet, and ink."""
        return self.paper + self.ink

    def __add__(self, other: Cost) -> Cost:
        return Cost(self.paper + other.paper, self.used + other.used, self.ink + other.ink, self.ink_ul + other.ink_ul)


@dataclass(frozen=True, slots=True)
class Charge:
    """One sheet to be paid for: its cost in whole millionths, its area, and what lies on it."""

    cost: int
    area_mm2: float
    transfers: tuple[Transfer, ...]


@dataclass(frozen=True, slots=True)
class Alone:
    """The same transfers one to a sheet, each on the cheapest offered paper that takes it."""

    sheets: int
    paper: int


@dataclass(frozen=True, slots=True)
class Bill:
    """The cost of every transfer, in the order of the batch, and of all together."""

    lines: tuple[tuple[Transfer, Cost], ...]
    alone: Alone | None = None

    @property
    def cost(self) -> Cost:
        """Everything."""
        return added(cost for _, cost in self.lines)

    def of(self) -> dict[str, Cost]:
        """Costs by transfer id."""
        return {transfer.id: cost for transfer, cost in self.lines}

    def orders(self) -> list[Bill]:
        """A bill for each order, in the order of the batch; a row that names none is an order of its own."""
        return self._parts(lambda transfer: transfer.piece.row.order_key)

    def garments(self) -> list[Bill]:
        """A bill for each garment, as its ticket lays the prints on it.

        Where rows can be laid on garments in several ways, the same copy of each makes one.
        """
        rows = {line[0].piece.row.key: line[0].piece.row for line in self.lines}
        worn, _ = assign(list(rows.values()))
        laid = {(row.key, copy): number for number, one in enumerate(worn) for row, copy in one.prints}

        def key(transfer: Transfer) -> Hashable:
            return laid.get((transfer.piece.row.key, transfer.copy), _garment_key(transfer))

        return self._parts(key)

    def _parts(self, key: Callable[[Transfer], Hashable]) -> list[Bill]:
        parts: dict[Hashable, list[tuple[Transfer, Cost]]] = {}
        for transfer, cost in self.lines:
            parts.setdefault(key(transfer), []).append((transfer, cost))
        return [Bill(tuple(lines)) for lines in parts.values()]


def added(costs: Iterable[Cost]) -> Cost:
    """The sum; `sum` itself would begin with the number 0."""
    total = Cost()
    for cost in costs:
        total += cost
    return total


def make_bill(charges: Sequence[Charge], printer: Printer, alone: Alone | None = None) -> Bill:
    """Share the sheets and the ink among the transfers."""
    found: dict[str, tuple[Transfer, Cost]] = {}
    for charge in charges:
        cells = [one.piece.cell_w_mm * one.piece.cell_h_mm for one in charge.transfers]
        paper = shares(charge.cost, cells)
        *used, _ = shares(charge.cost, [*cells, max(0.0, charge.area_mm2 - sum(cells))])
        for one, by_sheet, by_area in zip(charge.transfers, paper, used, strict=True):
            found[one.id] = one, Cost(by_sheet, by_area)
    lines = sorted(found.values(), key=lambda line: line[0].id)
    # The whole first, then its parts: rounded one by one, hundreds of small prints would add up to no ink at all.
    exact = [ink_ul(one.piece, printer) for one, _ in lines]
    whole = round(math.fsum(exact))
    inks = zip(shares(ink_cost(whole, printer), exact, INK_STEP), shares(whole, exact, 1), strict=True)
    priced = zip(lines, inks, strict=True)
    return Bill(tuple((one, cost + Cost(ink=ink, ink_ul=ul)) for (one, cost), (ink, ul) in priced), alone)


def ink_ul(piece: Piece, printer: Printer) -> float:
    """Ink of one transfer in microlitres, unrounded: area times coverage times what solid black takes."""
    square_metres = piece.ink_w_mm * piece.ink_h_mm / 1_000_000
    return square_metres * piece.picture.coverage * float(printer.ink_ml_per_m2) * 1000


def ink_cost(microlitres: int, printer: Printer) -> int:
    """What so much ink costs in whole millionths, rounded up to a hundredth of a cent."""
    exact = Decimal(microlitres) / 1000 * printer.ink_cost * MILLIONTHS
    return int((exact / INK_STEP).to_integral_value(ROUND_CEILING)) * INK_STEP


def bill_values(bill: Bill) -> dict[str, Any]:
    """The bill as plain values, with one entry for each order and in it one for each garment."""
    values = cost_values(bill.cost)
    if bill.alone is not None:
        saved = bill.alone.paper - bill.cost.paper
        values["alone"] = {"sheets": bill.alone.sheets, "paper": amount(bill.alone.paper), "saved": amount(saved)}
    values["orders"] = [
        {
            "order": order.lines[0][0].piece.row.order,
            "transfers": len(order.lines),
            **cost_values(order.cost),
            "garments": [_garment_values(garment) for garment in order.garments()],
        }
        for order in bill.orders()
    ]
    return values


def cost_values(cost: Cost) -> dict[str, Any]:
    """A cost as plain values: money as decimal text, ink in millilitres."""
    return {
        "paper": amount(cost.paper),
        "paper_used": amount(cost.used),
        "ink": amount(cost.ink),
        "ink_ml": float(Decimal(cost.ink_ul) / 1000),
        "total": amount(cost.total),
    }


def amount(millionths: int) -> str:
    """Money as decimal text, exact."""
    return f"{to_decimal(millionths):f}"


def lines_of(bill: Bill) -> Iterator[tuple[str, Bill]]:
    """The bill and its parts, each with its level: batch, then each order, its garments and their transfers."""
    yield "batch", bill
    for order in bill.orders():
        yield "order", order
        for garment in order.garments():
            yield "garment", garment
            for line in garment.lines:
                yield "transfer", Bill((line,))


def _garment_key(transfer: Transfer) -> Hashable:
    row = transfer.piece.row
    words = " ".join(garment_words(row).split()).casefold()
    # A row that names neither wearer nor garment stands for as many garments as it has copies.
    own = row.row if not (row.wearer or row.garment.text.strip()) else None
    return row.order_key, row.wearer, words, transfer.copy, own


def _garment_values(bill: Bill) -> dict[str, Any]:
    row = bill.lines[0][0].piece.row
    ids = [transfer.id for transfer, _ in bill.lines]
    return {"garment": garment_words(row), "wearer": row.wearer, "transfers": ids, **cost_values(bill.cost)}
