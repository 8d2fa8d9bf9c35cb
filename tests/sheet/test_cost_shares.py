"""Who pays for a sheet, worked out by hand: by the area of a transfer's cell, not of its ink, nor of its sides."""

from __future__ import annotations

from decimal import Decimal

import pytest

from impose.sheet.costs import SheetCharge, compute_costs
from impose.sheet.transfer import number_transfers
from sheet.test_bill import PRINTER, piece


def test_a_sheet_is_shared_by_the_area_of_cells() -> None:
    """Margins of 14 mm all round make cells of 128 x 128, 38 x 38 and 228 x 48 mm: 16,384 + 1,444 + 10,944 = 28,772
    mm² of a sheet of 62,370 mm² (A4). No whole cents, so that shares are exact to a millionth.
    """
    pieces = [piece(2, "A", "", 1, 100, 100, 0), piece(3, "B", "", 1, 10, 10, 0), piece(4, "C", "", 1, 200, 20, 0)]
    cells = [Decimal(16_384), Decimal(1_444), Decimal(10_944)]
    transfers = tuple(number_transfers(pieces))
    bill = compute_costs([SheetCharge(6_237_001, 62_370.0, transfers)], PRINTER)
    for (_, cost), cell in zip(bill.lines, cells, strict=True):
        assert cost.paper == pytest.approx(float(6_237_001 * cell / sum(cells)), abs=1)
        assert cost.used == pytest.approx(float(6_237_001 * cell / Decimal(62_370)), abs=1)
    assert sum(cost.paper for _, cost in bill.lines) == 6_237_001


def test_a_print_turned_on_its_side_pays_the_same() -> None:
    pieces = [piece(2, "A", "", 1, 200, 30, 0), piece(3, "B", "", 1, 30, 200, 0)]
    bill = compute_costs([SheetCharge(1_000_000, 62_370.0, tuple(number_transfers(pieces)))], PRINTER)
    assert [cost.paper for _, cost in bill.lines] == [500_000, 500_000]
