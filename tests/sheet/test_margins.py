"""The tear margin against the trade's arithmetic: what fits on which paper, and what gives way first."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from impose.sheet.margins import (
    Sides,
    Wanted,
    choose,
    choose_all,
    common_slack,
    fits,
    has_marks,
    largest_that_fits,
    print_area,
    thin_side,
)
from impose.shop.paper import Paper, Printer
from impose.shop.placement import tear_of

INCH = 25.4

# North American sizes and ISO 216 as in PWG 5101.1-2023; the roll width is common practice, no source.
LETTER = Paper("na_letter_8.5x11in", "letter", (), 215.9, 279.4, Decimal("0.20"))
LEGAL = Paper("na_legal_8.5x14in", "legal", (), 215.9, 355.6, Decimal("0.25"))
A4 = Paper("iso_a4_210x297mm", "a4", (), 210.0, 297.0, Decimal("0.15"))
A3 = Paper("iso_a3_297x420mm", "a3", (), 297.0, 420.0, Decimal("0.32"))
THIRTEEN = Paper("na_super-b_13x19in", "13x19", (), 330.2, 482.6, Decimal("0.60"))

# Common practice, no source: 3 mm edges and 14 mm at the trailing edge of a sheet-fed inkjet printer.
CAREFUL = Printer("careful", 3, 3, 3, 14)
EVEN = Printer("even", 3, 3, 3, 3)
BORDERLESS = Printer("borderless", 0, 0, 0, 0)


def area(paper: Paper, printer: Printer = CAREFUL):
    return print_area(paper, printer)


def wanted(width_in: float, height_in: float, tear: float = 14, least_side: float = 0.0, may_turn: bool = True):
    return Wanted(width_in * INCH, height_in * INCH, tear_of(tear), least_side, may_turn)


@pytest.mark.parametrize(
    ("paper", "width", "height"),
    [  # computed from the sizes of PWG 5101.1 and edges of 3, 3, 3 and 14 mm
        (A4, 204.0, 280.0),
        (LETTER, 209.9, 262.4),
        (A3, 291.0, 403.0),
        (THIRTEEN, 324.2, 465.6),
    ],
)
def test_printable_area(paper, width, height):
    box = area(paper).box
    assert (box.x, box.y) == (3, 3)
    assert (box.w, box.h) == pytest.approx((width, height), abs=1e-9)


def test_slack_hangs_over_the_unprintable_edge_but_never_over_the_paper():
    grown = area(A4).grown(2.0)
    assert (grown.x, grown.y) == (1.0, 1.0)
    assert (grown.w, grown.h) == pytest.approx((208.0, 284.0))
    borderless = area(A4, BORDERLESS).grown(2.0)
    assert (borderless.x, borderless.y, borderless.w, borderless.h) == (0, 0, 210, 297)


def test_a_back_print_of_8_25_in_on_letter_loses_its_side_margins():
    """8.25 in is 209.55 mm, letter prints 209.9 mm wide at 3 mm edges: 0.175 mm is left on each side."""
    one = wanted(8.25, 9.0)
    sides, level = choose(one, [area(LETTER)])
    assert level == "thin"
    assert sides.left.total_mm == pytest.approx(0.175)
    assert not has_marks(sides.left)
    assert not has_marks(sides.right)
    assert (sides.top.total_mm, sides.bottom.total_mm) == (10, 10)
    assert has_marks(sides.top)
    assert has_marks(sides.bottom)


def test_a_placement_may_forbid_thin_sides():
    assert choose(wanted(8.25, 9.0, least_side=5.0), [area(LETTER)]) is None


def test_a_wider_paper_on_offer_keeps_the_full_margin():
    assert choose(wanted(8.25, 9.0), [area(LETTER), area(THIRTEEN)]) == (Sides.even(tear_of(14)), "full")


def test_sleeve_strips_on_letter_and_legal():
    """Common practice, no source: 9.5 in goes on letter with the tight margin, 10.5 in needs legal."""
    nine, ten = wanted(9.5, 1.5), wanted(10.5, 1.5)
    assert choose(nine, [area(LETTER)]) == (Sides.even(tear_of(10)), "tight")
    assert choose(ten, [area(LETTER)]) is None
    assert choose(ten, [area(LEGAL)]) == (Sides.even(tear_of(14)), "full")
    assert choose(ten, [area(LETTER), area(LEGAL)]) == (Sides.even(tear_of(14)), "full")


def test_a_full_front_of_12_in_on_13_by_19_in():
    """304.8 + 2 x 10 mm misses the 324.2 mm printable width by 0.6 mm; 1 mm of slack over each edge takes it."""
    sides, level = choose(wanted(12, 12, may_turn=False), [area(THIRTEEN)])
    assert (level, sides.left.total_mm) == ("tight", 10)
    cell = 12 * INCH + 20
    assert cell - area(THIRTEEN).box.w == pytest.approx(0.6)
    assert choose(wanted(12, 12, may_turn=False), [area(THIRTEEN)], slack_mm=0.0)[1] == "thin"


def test_what_fits_no_paper_is_told_the_largest_size_that_would():
    one = wanted(20, 10, least_side=10)
    assert choose(one, [area(A4)]) is None
    width, height = largest_that_fits(one, area(A4))
    assert width / height == pytest.approx(2.0)
    smaller = Wanted(width - 1e-3, height - 5e-4, one.tear, one.least_side_mm, True)
    larger = Wanted(width + 0.01, height + 0.005, one.tear, one.least_side_mm, True)
    assert choose(smaller, [area(A4)]) is not None
    assert choose(larger, [area(A4)]) is None


def test_the_largest_size_counts_the_slack_over_the_edges():
    """40 x 40 mm prints 34 x 23; with 1 mm of slack over each edge and 10 mm of margin 25 - 20 = 5 mm are left."""
    tiny = Paper("custom_tiny_40x40mm", "tiny", (), 40, 40, Decimal(1))
    assert largest_that_fits(wanted(1, 1, least_side=10), area(tiny)) == pytest.approx((5.0, 5.0))


def test_one_thin_cell_takes_the_slack_from_all():
    """A 14 mm cell that fits only by hanging over must give way when a neighbour has no slack to give."""
    hangs_over = Wanted(A4.width_mm - 6 - 28 + 3.5, 100, tear_of(14), 0.0, False)
    thin = Wanted(203.9, 100, tear_of(14), 0.0, False)
    alone, slack = choose_all([hangs_over], [area(A4)])
    assert (alone[0][1], slack) == ("full", 2.0)
    both, slack = choose_all([hangs_over, thin], [area(A4)])
    assert [pair[1] for pair in both] == ["tight", "thin"]
    assert slack == 0.0


def test_the_printer_scale_never_pushes_ink_off_the_page():
    """A borderless printer that prints 199.2 mm for 200 is asked for more, so the far 0.4 % of the sheet is lost."""
    box = print_area(A4, Printer("short", 0, 0, 0, 0, 0.996, 0.996)).box
    assert box.right / 0.996 <= 210.0
    assert box.bottom / 0.996 <= 297.0
    assert box.right == pytest.approx(210 * 0.996, abs=0.001)


@given(st.floats(0, 9.999))
def test_a_thin_side_adds_up_and_marks_only_with_room(total):
    side = thin_side(total)
    assert side.total_mm == pytest.approx(total, abs=1e-6)
    assert min(side.kept_mm, side.zone_mm, side.band_mm) >= 0
    assert has_marks(side) == (total >= 9)


@given(
    st.floats(5, 500),
    st.floats(5, 500),
    st.floats(5, 40),
    st.floats(0, 10),
    st.booleans(),
    st.sampled_from([A4, A3, LETTER, THIRTEEN]),
    st.sampled_from([CAREFUL, EVEN, BORDERLESS]),
)
def test_what_is_chosen_fits_and_keeps_its_fold(width, height, tear, least, turn, paper, printer):
    one = Wanted(width, height, tear_of(tear), least, turn)
    offered = [print_area(paper, printer)]
    pair = choose(one, offered)
    if pair is None:
        room, tight = offered[0].box, min(tear, 10)
        rooms = [(room.w, room.h), (room.h, room.w)] if turn else [(room.w, room.h)]
        assert not any(width + 2 * least <= w - 0.002 and height + 2 * tight <= h for w, h in rooms)
        return
    sides, level = pair
    assert fits(one, sides, offered[0], math.inf)
    assert has_marks(sides.top)
    assert has_marks(sides.bottom)
    assert sides.left == sides.right
    assert common_slack([sides]) == sides.slack_mm
    if level == "thin":
        assert sides.left.total_mm >= least - 1e-9
        assert sides.top.total_mm == pytest.approx(min(tear, 10))


def roll_needed(cells_mm: float, slack_mm: float, printer: Printer) -> float:
    """By the geometry of a print: the shortest piece of roll on which everything printed is on the paper.

    Cells begin where their blank slack hangs over the edge above. Ink ends where the slack of the last cell begins; it
    has to keep clear of what the printer leaves blank at the end, and what is asked of a printer that prints short is
    longer than what is printed, and has to be on the page.
    """
    first = max(0.0, printer.top_mm - slack_mm)
    ink_end = first + cells_mm - slack_mm
    return max(first + cells_mm, ink_end + printer.bottom_mm, ink_end / printer.scale_y)


@pytest.mark.parametrize("scale", [0.95, 0.98, 0.996, 1.0, 1.02])
@pytest.mark.parametrize("slack", [0.0, 2.0, 5.0, 20.0])
@pytest.mark.parametrize("bottom", [0.0, 3.0, 14.0])
def test_a_piece_of_roll_is_as_long_as_what_is_printed_on_it_asks(scale, slack, bottom):
    """A printer that prints short lengthens a piece by its own length, not by that of the longest there is."""
    printer = Printer("measured", 3, 3, 3, bottom, scale_y=scale)
    roll = Paper("roll_current_610x0mm", "roll", (), 610.0, None, Decimal("2.00"), 5000.0)
    room = print_area(roll, printer).grown(slack)
    for cells in (60.0, 93.2, 700.0, 3000.0, room.h):
        piece = print_area(roll, printer).piece_mm(math.floor(cells * 1000), slack)
        assert piece == pytest.approx(roll_needed(cells, slack, printer), abs=0.01)
        assert piece <= 5000.0 or math.isclose(piece, 5000.0, abs_tol=1e-6)
        # the last line that may be printed is on the page as asked
        assert print_area(roll, printer).printable_mm(piece) + printer.top_mm <= piece * min(1.0, scale) + 1e-9


def test_one_print_on_a_calibrated_roll_pays_for_its_own_length():
    """By hand: a cell of 93.2 mm hangs 3 mm over the top and 5 over the end, of whose 14 mm 9 are left: 102.2 mm.
    Corrected for 0.98 the last line is asked for at 88.2 / 0.98 = 90 mm, which is on that piece."""
    roll = Paper("roll_current_610x0mm", "roll", (), 610.0, None, Decimal("2.00"), 5000.0)
    for scale in (0.98, 1.0):
        area_ = print_area(roll, Printer("measured", 3, 3, 3, 14, scale_y=scale))
        assert area_.piece_mm(93_200, 5.0) == pytest.approx(102.2)
