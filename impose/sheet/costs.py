"""What a batch costs, down to the single transfer: paper by the sheet, paper by the area used, and ink by coverage.

Paper *by the sheet* is what is paid: the waste of a sheet is shared among the transfers on it, by the area of their
cells. Paper *by area* leaves the waste out. Ink is what the picture's coverage takes at its final size. Every sum is
the exact sum of its parts, in whole millionths of the currency unit and whole microlitres.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from decimal import ROUND_CEILING, Decimal
from typing import Any

from impose.orders.garment_groups import assign_garments
from impose.profiles.paper import Printer
from impose.sheet.listed_values import ListValues, list_at_once
from impose.sheet.money import CENT, MILLIONTHS, split_by_weight, to_decimal
from impose.sheet.transfer import Piece, Transfer, describe_ordered_garment
from impose.type.sanitise import fold_text
from impose.values import FrozenStruct

INK_STEP = CENT // 100
"""Ink is counted to a hundredth of a cent: a small crest takes less than a cent of it."""


class PaperAndInk(FrozenStruct):
    """Whole millionths of the currency unit, and ink in whole microlitres."""

    paper: int = 0
    used: int = 0  # the part of `paper` that cells cover
    ink: int = 0
    ink_ul: int = 0

    @property
    def total(self) -> int:
        """What is paid: paper by the sheet, and ink."""
        return self.paper + self.ink

    def __add__(self, other: PaperAndInk) -> PaperAndInk:
        return PaperAndInk(
            self.paper + other.paper, self.used + other.used, self.ink + other.ink, self.ink_ul + other.ink_ul
        )


class SheetCharge(FrozenStruct):
    """One sheet to be paid for: its cost in whole millionths, its area, and what lies on it."""

    cost: int
    area_mm2: float
    transfers: tuple[Transfer, ...]


class OneToASheet(FrozenStruct):
    """The same transfers one to a sheet, each on the cheapest offered paper that takes it."""

    sheets: int
    paper: int


class BatchCost(FrozenStruct):
    """The cost of every transfer, in the order of their ids, and of all together."""

    lines: tuple[tuple[Transfer, PaperAndInk], ...]
    alone: OneToASheet | None = None

    @property
    def total_cost(self) -> PaperAndInk:
        """Everything."""
        return add_costs(cost for _, cost in self.lines)

    def find_cost(self, ident: str) -> PaperAndInk:
        """The cost of a transfer, by its id. KeyError if it is not in the bill."""
        at = bisect_left(self.lines, ident, key=_read_id)
        if at == len(self.lines) or _read_id(self.lines[at]) != ident:
            raise KeyError(ident)
        return self.lines[at][1]

    def split_by_order(self) -> list[BatchCost]:
        """A bill for each order, in the order of the batch; a row that names none is an order of its own."""
        return self._split_by(lambda transfer: transfer.piece.row.order_key)

    def split_by_garment(self) -> list[BatchCost]:
        """A bill for each garment, as its ticket lays the prints on it.

        Where rows can be laid on garments in several ways, the same copy of each makes one.
        """
        rows = {line[0].piece.row.key: line[0].piece.row for line in self.lines}
        worn, _ = assign_garments(list(rows.values()))
        laid = {(row.key, copy): number for number, garment in enumerate(worn) for row, copy in garment.prints}

        def key(transfer: Transfer) -> Hashable:
            return laid.get((transfer.piece.row.key, transfer.copy), _garment_key(transfer))

        return self._split_by(key)

    def _split_by(self, key: Callable[[Transfer], Hashable]) -> list[BatchCost]:
        parts: dict[Hashable, list[tuple[Transfer, PaperAndInk]]] = {}
        for transfer, cost in self.lines:
            parts.setdefault(key(transfer), []).append((transfer, cost))
        return [BatchCost(tuple(lines)) for lines in parts.values()]


def _read_id(line: tuple[Transfer, PaperAndInk]) -> str:
    return line[0].id


def add_costs(costs: Iterable[PaperAndInk]) -> PaperAndInk:
    """The sum; `sum` itself would begin with the number 0."""
    total = PaperAndInk()
    for cost in costs:
        total += cost
    return total


def compute_costs(charges: Sequence[SheetCharge], printer: Printer, alone: OneToASheet | None = None) -> BatchCost:
    """Share the sheets and the ink among the transfers."""
    found: dict[str, tuple[Transfer, PaperAndInk]] = {}
    for charge in charges:
        cells = [transfer.piece.cell_w_mm * transfer.piece.cell_h_mm for transfer in charge.transfers]
        paper = split_by_weight(charge.cost, cells)
        *used, _ = split_by_weight(charge.cost, [*cells, max(0.0, charge.area_mm2 - sum(cells))])
        for transfer, by_sheet, by_area in zip(charge.transfers, paper, used, strict=True):
            found[transfer.id] = transfer, PaperAndInk(by_sheet, by_area)
    lines = sorted(found.values(), key=_read_id)
    # The whole first, then its parts: rounded one by one, hundreds of small prints would add up to no ink at all.
    exact = [measure_ink_ul(transfer.piece, printer) for transfer, _ in lines]
    whole = round(math.fsum(exact))
    inks = zip(
        split_by_weight(ink_cost(whole, printer), exact, INK_STEP), split_by_weight(whole, exact, 1), strict=True
    )
    priced = zip(lines, inks, strict=True)
    return BatchCost(
        tuple((transfer, cost + PaperAndInk(ink=ink, ink_ul=ul)) for (transfer, cost), (ink, ul) in priced), alone
    )


def measure_ink_ul(piece: Piece, printer: Printer) -> float:
    """Ink of one transfer in microlitres, unrounded: area times coverage times what solid black takes."""
    square_metres = piece.ink_w_mm * piece.ink_h_mm / 1_000_000
    return square_metres * piece.picture.coverage * float(printer.ink_ml_per_m2) * 1000


def ink_cost(microlitres: int, printer: Printer) -> int:
    """What so much ink costs in whole millionths, rounded up to a hundredth of a cent."""
    exact = Decimal(microlitres) / 1000 * printer.ink_cost * MILLIONTHS
    return int((exact / INK_STEP).to_integral_value(ROUND_CEILING)) * INK_STEP


def cost_record(bill: BatchCost, listed: ListValues = list_at_once) -> dict[str, Any]:
    """The bill as plain values, with one entry for each order and in it one for each garment, which are `listed`."""
    values = cost_values(bill.total_cost)
    if bill.alone is not None:
        saved = bill.alone.paper - bill.total_cost.paper
        values["alone"] = {
            "sheets": bill.alone.sheets,
            "paper": format_amount(bill.alone.paper),
            "saved": format_amount(saved),
        }

    def list_order_values(order: BatchCost) -> dict[str, Any]:
        return {
            "order": order.lines[0][0].piece.row.order,
            "transfers": len(order.lines),
            **cost_values(order.total_cost),
            "garments": listed(order.split_by_garment(), _garment_values),
        }

    values["orders"] = listed(bill.split_by_order(), list_order_values)
    return values


def cost_values(cost: PaperAndInk) -> dict[str, Any]:
    """A cost as plain values: money as decimal text, ink in millilitres."""
    return {
        "paper": format_amount(cost.paper),
        "paper_used": format_amount(cost.used),
        "ink": format_amount(cost.ink),
        "ink_ml": float(Decimal(cost.ink_ul) / 1000),
        "total": format_amount(cost.total),
    }


def format_amount(millionths: int) -> str:
    """Money as decimal text, exact."""
    return f"{to_decimal(millionths):f}"


def read_amount(text: str) -> int:
    """Whole millionths of an amount of a record, which holds them exactly: what `format_amount` wrote."""
    return int(Decimal(text) * MILLIONTHS)


def list_cost_lines(bill: BatchCost) -> Iterator[tuple[str, BatchCost]]:
    """The bill and its parts, each with its level: batch, then each order, its garments and their transfers."""
    yield "batch", bill
    for order in bill.split_by_order():
        yield "order", order
        for garment in order.split_by_garment():
            yield "garment", garment
            for line in garment.lines:
                yield "transfer", BatchCost((line,))


def _garment_key(transfer: Transfer) -> Hashable:
    row = transfer.piece.row
    words = fold_text(describe_ordered_garment(row))
    # A row that names neither wearer nor garment stands for as many garments as it has copies.
    own = row.row if not (row.wearer or row.garment.text.strip()) else None
    return row.order_key, row.wearer, words, transfer.copy, own


def _garment_values(bill: BatchCost) -> dict[str, Any]:
    row = bill.lines[0][0].piece.row
    ids = [transfer.id for transfer, _ in bill.lines]
    return {
        "garment": describe_ordered_garment(row),
        "wearer": row.wearer,
        "transfers": ids,
        **cost_values(bill.total_cost),
    }
