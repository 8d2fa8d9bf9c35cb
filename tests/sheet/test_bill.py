"""Costs: every sum is the exact sum of its parts, and ink is what a published picture of known darkness takes."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from impose.art.prepare import PreparedPicture, prepare_picture
from impose.orders.batch import BatchRow
from impose.profiles.garment import Garment
from impose.profiles.paper import Printer
from impose.profiles.placement import split_tear
from impose.sheet.costs import (
    PaperAndInk,
    SheetCharge,
    add_costs,
    compute_costs,
    cost_record,
    cost_values,
    format_amount,
    ink_cost,
    list_cost_lines,
    read_amount,
)
from impose.sheet.margins import TearMargins
from impose.sheet.money import CENT, MILLIONTHS, split_by_weight, to_decimal, to_millionths
from impose.sheet.transfer import Piece, number_transfers
from impose.values import replace

PRINTER = Printer("p", 3, 3, 3, 3, ink_ml_per_m2=Decimal(12), ink_cost=Decimal("0.09"))


@given(st.integers(0, 10**12), st.lists(st.floats(0, 1e6, allow_subnormal=False), min_size=1, max_size=60))
def test_shares_add_up_and_are_fair(total, weights):
    parts = split_by_weight(total, weights)
    assert sum(parts) == total
    step = CENT if total % CENT == 0 else 1
    whole = [round(weight * 1_000_000) for weight in weights]
    for part, weight in zip(parts, whole, strict=True):
        due = Fraction(total * weight, sum(whole)) if sum(whole) else Fraction(total, len(whole))
        # The quota rule of the largest remainder: never further from the exact share than one unit.
        assert abs(part - due) < step


def test_shares_by_the_textbook():
    """Hamilton's method on a worked example: Balinski and Young, Fair Representation, 1982, table 3.1 (from memory:
    26 seats; quotas 9.061, 7.179, 5.259, 3.319, 1.182 → 9, 7, 5, 4, 1)."""
    assert split_by_weight(26, [9061, 7179, 5259, 3319, 1182]) == [9, 7, 5, 4, 1]


def picture(coverage: float) -> PreparedPicture:
    return PreparedPicture("0" * 64, 10, 10, (0, 0, 10, 10), (5, 5), 3, None, b"", "none", coverage=coverage)


def piece(row: int, order: str, wearer: str, copies: int, w: float, h: float, coverage: float) -> Piece:
    garment = Garment("t-shirt", "adult", "", "")
    of = BatchRow(row, order, wearer, "a.png", Path("a.png"), None, garment, copies, w, None)
    return Piece(
        of, picture(coverage), w, h, TearMargins.make_even(split_tear(14)), "full", w / 2, h / 2, "top", "UP", True
    )


SIZES = st.floats(5, 400)
PIECES = st.lists(
    st.tuples(
        st.sampled_from(["", "A", "B"]),
        st.sampled_from(["", "Ann", "=1+1"]),
        st.integers(1, 9),
        SIZES,
        SIZES,
        st.floats(0, 1),
    ),
    min_size=1,
    max_size=12,
)
PRICES = st.decimals("0", "20", places=6)


@given(PIECES, st.lists(PRICES, min_size=1, max_size=5), PRICES, st.integers(1, 7))
def test_every_level_of_a_bill_adds_up_exactly(pieces, prices, ink_price, on_a_sheet):
    printer = Printer("p", 3, 3, 3, 3, ink_ml_per_m2=Decimal("11.4"), ink_cost=ink_price)
    transfers = list(number_transfers([piece(row, *one) for row, one in enumerate(pieces, 2)]))
    charges = [
        SheetCharge(to_millionths(prices[start % len(prices)]), 1e6, tuple(transfers[start : start + on_a_sheet]))
        for start in range(0, len(transfers), on_a_sheet)
    ]
    bill = compute_costs(charges, printer)
    assert bill.total_cost.paper == sum(charge.cost for charge in charges)
    assert 0 <= bill.total_cost.used <= bill.total_cost.paper
    assert bill.total_cost.ink == ink_cost(bill.total_cost.ink_ul, printer)
    assert add_costs(order.total_cost for order in bill.split_by_order()) == bill.total_cost
    assert (
        add_costs(garment.total_cost for order in bill.split_by_order() for garment in order.split_by_garment())
        == bill.total_cost
    )
    assert add_costs(part.total_cost for level, part in list_cost_lines(bill) if level == "transfer") == bill.total_cost
    # And as people read it: decimal texts, added by a clerk.
    said = cost_record(bill)
    for name in ("paper", "paper_used", "ink", "total"):
        by_order = [Decimal(order[name]) for order in said["orders"]]
        by_garment = [Decimal(one[name]) for order in said["orders"] for one in order["garments"]]
        assert sum(by_order) == sum(by_garment) == Decimal(said[name])
    assert Decimal(said["paper"]) + Decimal(said["ink"]) == Decimal(said["total"])
    assert sorted(i for order in said["orders"] for one in order["garments"] for i in one["transfers"]) == sorted(
        one.id for one in transfers
    )


def test_ink_of_a_solid_square_by_hand():
    """A 100 mm square of solid black at 12 ml a square metre is 0.12 ml; at 0.09 a millilitre, 0.0108."""
    transfers = tuple(number_transfers([piece(2, "A", "", 1, 100, 100, 1.0)]))
    bill = compute_costs([SheetCharge(0, 62370, transfers)], PRINTER)
    assert bill.total_cost == PaperAndInk(ink=10_800, ink_ul=120)
    assert cost_values(bill.total_cost)["ink"] == "0.0108"


def png(pixels) -> bytes:
    import io

    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize(
    ("colour", "darkness"),
    [((0, 0, 0), 1.0), ((0, 255, 255), 1 / 3), ((255, 0, 0), 2 / 3), ((51, 51, 51), 0.8), ((0, 0, 0, 128), 128 / 255)],
)
def test_coverage_of_plain_colours(colour, darkness):
    pixels = np.empty((70, 90, len(colour)), np.uint8)
    pixels[...] = colour
    assert prepare_picture(png(pixels)).coverage == pytest.approx(darkness, abs=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_coverage_against_numpy_on_noise(seed):
    rng = np.random.default_rng(seed)
    high, wide = rng.integers(60, 900, 2)
    pixels = rng.integers(0, 256, (high, wide, 3), dtype=np.uint8)
    pixels[rng.random((high, wide)) < 0.7] = 255
    pixels[[0, -1]] = pixels[:, [0, -1]] = 0
    assert prepare_picture(png(pixels)).coverage == pytest.approx(
        float((255 - pixels.astype(float)).mean() / 255), abs=2e-3
    )


@given(st.integers(0, 10**13))
def test_amounts_lose_nothing(millionths):
    assert to_decimal(millionths) * MILLIONTHS == millionths


def test_two_rows_for_one_place_are_garments_of_their_own():
    """As the tickets have it: four crests on four polos, whichever of two rows they came from."""
    one = piece(2, "A", "crew", 2, 90, 90, 0.5)
    two = piece(3, "A", "crew", 2, 80, 80, 0.5)
    chest = [replace(made, row=replace(made.row, placement="left-chest")) for made in (one, two)]
    back = replace(one, row=replace(one.row, row=4, copies=4, placement="full-back"))
    transfers = tuple(number_transfers([*chest, back]))
    bill = compute_costs([SheetCharge(1_000_000, 1e6, transfers)], PRINTER)
    assert [len(garment.lines) for garment in bill.split_by_garment()] == [2, 2, 2, 2]
    assert add_costs(garment.total_cost for garment in bill.split_by_garment()) == bill.total_cost


def test_the_ink_of_many_small_prints_adds_up_before_it_is_rounded():
    """500 solid 4 mm squares at 12 ml a square metre: 500 x 16 / 1,000,000 x 12 = 0.096 ml, 0.192 of a microlitre each.

    By the largest remainder 96 of them get a whole microlitre and 404 none.
    """
    transfers = tuple(number_transfers([piece(2, "A", "", 500, 4, 4, 1.0)]))
    bill = compute_costs([SheetCharge(0, 62370, transfers)], PRINTER)
    assert bill.total_cost.ink_ul == 96
    assert sorted({cost.ink_ul for _, cost in bill.lines}) == [0, 1]
    assert (
        cost_values(bill.total_cost)["ink"] == "0.0087"
    )  # 0.096 x 0.09 = 0.00864, rounded up to a hundredth of a cent


@given(PIECES)
def test_ink_is_within_a_microlitre_of_its_share_and_the_whole_within_half(pieces):
    transfers = list(number_transfers([piece(row, *one) for row, one in enumerate(pieces, 2)]))
    bill = compute_costs([SheetCharge(0, 1e6, tuple(transfers))], PRINTER)
    due = {t.id: Fraction(t.piece.ink_w_mm) * Fraction(t.piece.ink_h_mm) * Fraction(t.piece.picture.coverage)
           * 12 / 1000 for t in transfers}  # fmt: skip
    whole = sum(due.values())
    assert abs(bill.total_cost.ink_ul - whole) <= Fraction(501, 1000)
    for transfer, cost in bill.lines:
        share = due[transfer.id] * bill.total_cost.ink_ul / whole if whole else 0
        assert abs(cost.ink_ul - share) < 1 + 1e-6


def test_a_cost_is_found_by_the_id_it_belongs_to_and_by_no_other():
    transfers = tuple(number_transfers([piece(2, "A", "", 12, 60, 40, 0.5)]))
    bill = compute_costs([SheetCharge(1_040_000, 60_000, transfers)], PRINTER)
    assert [bill.find_cost(transfer.id) for transfer, _ in bill.lines] == [cost for _, cost in bill.lines]
    for stranger in ("T000", "T0051", "T999"):
        with pytest.raises(KeyError):
            bill.find_cost(stranger)


@given(st.integers(0, 10**15))
def test_an_amount_of_the_record_is_read_as_it_was_written(millionths):
    assert read_amount(format_amount(millionths)) == millionths
