"""The tear margin against the trade's arithmetic: what fits on which paper, and what gives way first."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from each_case import try_each
from impose.art.prepare import PreparedPicture
from impose.orders.batch import BatchRow
from impose.profiles.garment import Garment
from impose.profiles.paper import Paper, Printer
from impose.profiles.placement import make_thin_side, split_tear
from impose.profiles.profiles import load_profiles
from impose.sheet.margin_findings import report_no_room
from impose.sheet.margins import (
    SizeRequest,
    TearMargins,
    choose_all_margins,
    choose_margins,
    find_common_slack,
    find_largest_size,
    fits_paper,
    has_marks,
    print_area,
)
from impose.sheet.marks import list_strokes
from impose.sheet.piece import Piece
from impose.sheet.transfer import SizingRules, make_pieces
from impose.units import parse_length
from impose.values import replace

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
    return SizeRequest(width_in * INCH, height_in * INCH, split_tear(tear), least_side, may_turn)


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
    grown = area(A4).grow_by_slack(2.0)
    assert (grown.x, grown.y) == (1.0, 1.0)
    assert (grown.w, grown.h) == pytest.approx((208.0, 284.0))
    borderless = area(A4, BORDERLESS).grow_by_slack(2.0)
    assert (borderless.x, borderless.y, borderless.w, borderless.h) == (0, 0, 210, 297)


def test_a_back_print_of_8_25_in_on_letter_loses_its_side_margins():
    """8.25 in is 209.55 mm, letter prints 209.9 mm wide at 3 mm edges: 0.175 mm is left on each side."""
    one = wanted(8.25, 9.0)
    sides, level = choose_margins(one, [area(LETTER)])
    assert level == "thin"
    assert sides.left.total_mm == pytest.approx(0.175)
    assert not has_marks(sides.left)
    assert not has_marks(sides.right)
    assert (sides.top.total_mm, sides.bottom.total_mm) == (10, 10)
    assert has_marks(sides.top)
    assert has_marks(sides.bottom)


def test_a_placement_may_forbid_thin_sides():
    assert choose_margins(wanted(8.25, 9.0, least_side=5.0), [area(LETTER)]) is None


def test_a_wider_paper_on_offer_keeps_the_full_margin():
    assert choose_margins(wanted(8.25, 9.0), [area(LETTER), area(THIRTEEN)]) == (
        TearMargins.make_even(split_tear(14)),
        "full",
    )


def test_sleeve_strips_on_letter_and_legal():
    """Common practice, no source: 9.5 in goes on letter with a smaller margin, 10.5 in needs legal.

    241.3 + 2 t against 262.4 and twice the slack, which is 1 mm at 10 and 2 mm at 14: t is 18.1 / 1.5 = 12.066 mm.
    """
    nine, ten = wanted(9.5, 1.5), wanted(10.5, 1.5)
    assert choose_margins(nine, [area(LETTER)]) == (TearMargins.make_even(split_tear(12.066)), "tight")
    assert choose_margins(ten, [area(LETTER)]) is None
    assert choose_margins(ten, [area(LEGAL)]) == (TearMargins.make_even(split_tear(14)), "full")
    assert choose_margins(ten, [area(LETTER), area(LEGAL)]) == (TearMargins.make_even(split_tear(14)), "full")


def test_a_full_front_of_12_in_on_13_by_19_in():
    """304.8 + 2 x 10 mm misses the 324.2 mm printable width by 0.6 mm; 1 mm of slack over each edge takes it.

    And more: 304.8 + 2 t = 324.2 + 2 (1 + (t - 10) / 4) at t = 16.4 / 1.5 = 10.933 mm.
    """
    sides, level = choose_margins(wanted(12, 12, may_turn=False), [area(THIRTEEN)])
    assert (level, sides.left.total_mm) == ("tight", 10.933)
    cell = 12 * INCH + 20
    assert cell - area(THIRTEEN).box.w == pytest.approx(0.6)
    assert choose_margins(wanted(12, 12, may_turn=False), [area(THIRTEEN)], slack_mm=0.0)[1] == "thin"


def test_what_fits_no_paper_is_told_the_largest_size_that_would():
    one = wanted(20, 10, least_side=10)
    assert choose_margins(one, [area(A4)]) is None
    width, height = find_largest_size(one, area(A4))
    assert width / height == pytest.approx(2.0)
    smaller = SizeRequest(width - 1e-3, height - 5e-4, one.tear, one.least_side_mm, True)
    larger = SizeRequest(width + 0.01, height + 0.005, one.tear, one.least_side_mm, True)
    assert choose_margins(smaller, [area(A4)]) is not None
    assert choose_margins(larger, [area(A4)]) is None


def test_the_largest_size_counts_the_slack_over_the_edges():
    """40 x 40 mm prints 34 x 23; with 1 mm of slack over each edge and 10 mm of margin 25 - 20 = 5 mm are left."""
    tiny = Paper("custom_tiny_40x40mm", "tiny", (), 40, 40, Decimal(1))
    assert find_largest_size(wanted(1, 1, least_side=10), area(tiny)) == pytest.approx((5.0, 5.0))


def test_one_thin_cell_takes_the_slack_from_all():
    """A 14 mm cell that fits only by hanging over must give way when a neighbour has no slack to give."""
    hangs_over = SizeRequest(A4.width_mm - 6 - 28 + 3.5, 100, split_tear(14), 0.0, False)
    thin = SizeRequest(203.9, 100, split_tear(14), 0.0, False)
    alone, slack = choose_all_margins([hangs_over], [area(A4)])
    assert (alone[0][1], slack) == ("full", 2.0)
    both, slack = choose_all_margins([hangs_over, thin], [area(A4)])
    assert [pair[1] for pair in both] == ["tight", "thin"]
    assert both[0][0].left.total_mm == 12.25  # (204 - 179.5) / 2, nothing over the edge
    assert slack == 0.0


def test_the_printer_scale_never_pushes_ink_off_the_page():
    """A borderless printer that prints 199.2 mm for 200 is asked for more, so the far 0.4 % of the sheet is lost."""
    box = print_area(A4, Printer("short", 0, 0, 0, 0, 0.996, 0.996)).box
    assert box.right / 0.996 <= 210.0
    assert box.bottom / 0.996 <= 297.0
    assert box.right == pytest.approx(210 * 0.996, abs=0.001)


@given(st.floats(0, 9.999))
def test_a_thin_side_adds_up_and_marks_only_with_room(total):
    side = make_thin_side(total)
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
    one = SizeRequest(width, height, split_tear(tear), least, turn)
    offered = [print_area(paper, printer)]
    pair = choose_margins(one, offered)
    if pair is None:
        room, tight = offered[0].box, min(tear, 10)
        rooms = [(room.w, room.h), (room.h, room.w)] if turn else [(room.w, room.h)]
        assert not any(width + 2 * least <= w - 0.002 and height + 2 * tight <= h for w, h in rooms)
        return
    sides, level = pair
    assert fits_paper(one, sides, offered[0], math.inf)
    assert has_marks(sides.top)
    assert has_marks(sides.bottom)
    assert sides.left == sides.right
    assert find_common_slack([sides]) == sides.slack_mm
    if level == "thin":
        assert sides.left.total_mm >= least - 1e-9
        assert sides.top.total_mm == pytest.approx(min(tear, 10))


PRINTERS = st.sampled_from([CAREFUL, EVEN, BORDERLESS, Printer("thin-edged", 0.4, 0.5, 0.6, 0.7)])
PAPERS = st.sampled_from([A4, A3, LETTER, THIRTEEN])
STEP = 0.01


def band(total: float) -> float:
    """The marks band of a margin as DESIGN says: 5 mm at 14, 4 mm at 10, between them in proportion; 3 mm are marks."""
    return 5.0 if total >= 14 else 4.0 + (total - 10) / 4 if total >= 10 else max(3.0, total - 6)


def lies(one: SizeRequest, side: float, ends: float, slack: float, paper: Paper, printer: Printer) -> bool:
    """Paper, edges and blank slack by hand: does ink with these margins lie on it?"""
    edges = (printer.left_mm, printer.top_mm, printer.right_mm, printer.bottom_mm)
    left, top, right, bottom = (edge - min(edge, slack) for edge in edges)
    across, down = paper.width_mm - left - right, paper.height_mm - top - bottom
    w, h = one.ink_w_mm + 2 * side, one.ink_h_mm + 2 * ends
    return (w <= across and h <= down) or (one.may_turn and h <= across and w <= down)


def brute(one: SizeRequest, paper: Paper, printer: Printer) -> tuple[str, float] | None:
    """Every margin in steps of 0.01 mm, widest first: all round down to the tight one, then the sides."""
    asked = one.tear.total_mm
    tight = min(asked, 10.0)
    for total in (asked - STEP * i for i in range(round((asked - tight) / STEP) + 1)):
        if lies(one, total, total, band(total) - 3, paper, printer):
            return ("full" if total == asked else "tight"), total
    for side in (tight - STEP * i for i in range(int((tight - one.least_side_mm) / STEP + 1e-6) + 1)):
        slack = min(side - 9, band(tight) - 3) if side >= 9 else 0.0
        if lies(one, side, tight, slack, paper, printer):
            return "thin", side
    return None


@given(st.data(), st.floats(10, 20), st.floats(0, 8), st.booleans(), PAPERS, PRINTERS)
def test_the_widest_margin_that_fits_is_taken(data, tear, least, turn, paper, printer):
    """DESIGN, anatomy: the widest between the asked and the tight one that fits, then thinner sides, by trying."""
    # Near the limits, where margins have to give way.
    width = data.draw(st.floats(paper.width_mm - 45, paper.width_mm))
    height = data.draw(st.floats(paper.height_mm - 60, paper.height_mm - 20) | st.floats(20, paper.height_mm - 60))
    one = SizeRequest(width, height, split_tear(round(tear, 2)), round(least, 2), turn)
    best, pair = brute(one, paper, printer), choose_margins(one, [print_area(paper, printer)])
    if best is None:
        # Between two steps of the trial there may be room for a side after all, at the very least side.
        assert pair is None or pair[0].left.total_mm <= one.least_side_mm + STEP
        return
    assert pair is not None
    sides, level = pair
    assert sides.left.total_mm >= best[1] - 0.002
    assert sides.left.total_mm <= best[1] + STEP + 0.002 or level < best[0]  # a wider one lay between two steps
    if level == "tight":
        share = (sides.left.total_mm - 10) / 4 if sides.left.total_mm <= 14 else 1.0
        assert sides.top == sides.right == sides.bottom == sides.left
        assert sides.left.band_mm == pytest.approx(4 + share, abs=1e-5)
        assert min(sides.left.zone_mm, sides.left.kept_mm) >= 3


@given(st.lists(st.tuples(st.floats(150, 300), st.floats(150, 300)), min_size=1, max_size=4), PAPERS, PRINTERS)
def test_of_a_batch_no_margin_could_be_wider_beside_the_others(sizes, paper, printer):
    """All cells share the least slack: with it each fits, and none would if it were 0.01 mm wider."""
    wants = [SizeRequest(w, h, split_tear(14), 0.0, True) for w, h in sizes]
    chosen, slack = choose_all_margins(wants, [print_area(paper, printer)])
    for one, pair in zip(wants, chosen, strict=True):
        if pair is None:
            continue
        side, ends = pair[0].left.total_mm, pair[0].top.total_mm
        assert lies(one, side - 1e-6, ends - 1e-6, slack, paper, printer)
        if pair[1] == "tight" and len(wants) == 1:
            assert not lies(one, side + STEP, ends + STEP, slack + STEP / 4, paper, printer)
        elif pair[1] == "tight":
            assert not lies(one, side + STEP, ends + STEP, slack, paper, printer)


SHIPPED = load_profiles(Path(__file__).parent.parent.parent / "profiles")


def ordered(number: int, width: float | None, height: float | None) -> BatchRow:
    garment = Garment("t-shirt", "adult", "", "")
    return BatchRow(number, "A", "", "a.png", Path("a.png"), None, garment, 1, width, height)


def drawn(pixels: tuple[int, int]) -> PreparedPicture:
    box = (0, 0, *pixels)
    return PreparedPicture("0" * 64, *pixels, box, (pixels[0] / 2, pixels[1] / 2), 3, None, b"", "none")


@given(
    st.tuples(st.integers(20, 9000), st.integers(20, 9000)),
    st.floats(300, 2000),
    st.floats(5, 16),
    st.tuples(st.floats(0.96, 1.05), st.floats(0.96, 1.05)),
    st.sampled_from(["mm", "in"]),
    PAPERS,
    PRINTERS,
    st.booleans(),
)
def test_every_size_that_is_advised_is_accepted_as_printed(pixels, width, tear, cloth, units, paper, printer, thin):
    """What a refusal names as the largest size is typed as it stands: both lengths, either alone, in both units."""
    kinds = dict(SHIPPED.wardrobe.kinds)
    kinds["t-shirt"] = replace(kinds["t-shirt"], scale_x=cloth[0], scale_y=cloth[1])
    profiles = replace(
        SHIPPED,
        wardrobe=replace(SHIPPED.wardrobe, kinds=kinds),
        settings=replace(SHIPPED.settings, units=units),
    )
    sizing = SizingRules(profiles, (print_area(paper, printer),), split_tear(tear))
    # A neighbour with thin sides leaves nothing to hang over an edge.
    beside = [ordered(9, (paper.width_mm - printer.left_mm - printer.right_mm) / cloth[0] - 1, None)] if thin else []
    pictures = [drawn(pixels), *(drawn((1000, 100)) for _ in beside)]
    _, findings, _ = make_pieces([ordered(2, width, None), *beside], pictures, sizing)
    for said in (one.what for one in findings if one.kind == "no-room" and one.row == 2):
        found = re.search(r"takes ([0-9.]+ (?:mm|in)) × ([0-9.]+ (?:mm|in))", said)
        if found is None:
            assert said.endswith("takes nothing")
            continue
        across, down = (parse_length(text) for text in found.groups())
        for size in ((across, down), (across, None), (None, down)):
            _, again, _ = make_pieces([ordered(2, *size), *beside], pictures, sizing)
            assert [one.what for one in again if one.kind == "no-room"] == []


def test_the_largest_size_is_rounded_down():
    """On A4 with 3, 3, 3 and 14 mm edges, upright only: 204 mm of ink, and no side; 204 mm is 8.0314 in."""
    one = SizeRequest(400, 100, split_tear(14), 0.0, False)
    row = ordered(2, 400, None)
    assert "up to 204 mm × 51 mm with bare sides" in report_no_room(row, one, [area(A4)], "mm").what
    assert "up to 8.03 in × 2 in with bare sides" in report_no_room(row, one, [area(A4)], "in").what
    third = SizeRequest(400, 300.1, split_tear(14), 0.0, False, (1.02, 1.0))
    assert "up to 200 mm × 153 mm with bare sides" in report_no_room(row, third, [area(A4)], "mm").what


def test_a_margin_is_said_to_have_no_room_only_where_that_is_true():
    """Beside a print with thin sides nothing hangs over the edge; alone the same print keeps more."""
    sizing = SizingRules(SHIPPED, (area(A4),))
    rows = [replace(ordered(n, wide, None), may_turn=False) for n, wide in ((2, 181), (3, 203.9))]
    pictures = [drawn((1810, 1000)), drawn((2039, 1000))]
    said = {}
    for count in (1, 2):
        _, findings, _ = make_pieces(rows[:count], pictures[:count], sizing)
        said[count] = [one.what for one in findings if one.row == 2 and one.kind == "tight-margin"]
    # 181 + 2 t = 206 + (t - 10) / 2: t = 13.333; without slack (204 - 181) / 2 = 11.5.
    assert said[1] == ["tear margin 13.3 mm instead of 14 mm: no offered paper takes more at this size"]
    assert said[2] == [
        "tear margin 11.5 mm instead of 14 mm: no offered paper takes more at this size beside prints of the batch "
        "that have less"
    ]


@given(st.floats(10, 14), st.floats(30, 200), st.floats(30, 200))
def test_no_stroke_reaches_over_the_marks_area_by_half_its_width(tear, width, height):
    """Its edge may lie on the limit of what the printer reaches: 5 mm less 3 mm of marks are 2 mm of blank slack."""
    one, side = replace(ordered(2, width, None)), split_tear(tear)
    made = Piece(
        one,
        drawn((300, 300)),
        width,
        height,
        TearMargins.make_even(side),
        "full",
        width / 2,
        height / 2,
        "top",
        "UP",
        True,
    )
    for x1, y1, x2, y2 in list_strokes(made):
        across, down = (0.1, 0.0) if x1 == x2 else (0.0, 0.1)  # strokes are 0.2 mm wide, their ends cut square
        assert min(x1, x2) - across >= band(tear) - 3 - 1e-5
        assert min(y1, y2) - down >= band(tear) - 3 - 1e-5
        assert max(x1, x2) + across <= width + 2 * tear - (band(tear) - 3) + 1e-5
        assert max(y1, y2) + down <= height + 2 * tear - (band(tear) - 3) + 1e-5


def roll_needed(cells_mm: float, slack_mm: float, printer: Printer) -> float:
    """By the geometry of a print: the shortest piece of roll on which everything printed is on the paper.

    Cells begin where their blank slack hangs over the edge above. Ink ends where the slack of the last cell begins; it
    has to keep clear of what the printer leaves blank at the end, and what is asked of a printer that prints short is
    longer than what is printed, and has to be on the page.
    """
    first = max(0.0, printer.top_mm - slack_mm)
    ink_end = first + cells_mm - slack_mm
    return max(first + cells_mm, ink_end + printer.bottom_mm, ink_end / printer.scale_y)


@try_each("scale", [0.95, 0.98, 0.996, 1.0, 1.02])
@try_each("slack", [0.0, 2.0, 5.0, 20.0])
@try_each("bottom", [0.0, 3.0, 14.0])
def test_a_piece_of_roll_is_as_long_as_what_is_printed_on_it_asks(scale, slack, bottom):
    """A printer that prints short lengthens a piece by its own length, not by that of the longest there is."""
    printer = Printer("measured", 3, 3, 3, bottom, scale_y=scale)
    roll = Paper("roll_current_610x0mm", "roll", (), 610.0, None, Decimal("2.00"), 5000.0)
    room = print_area(roll, printer).grow_by_slack(slack)
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


@pytest.mark.parametrize(("centre", "wanted"), [("ink", (50, 40)), ("canvas", (62.5, 70)), ("mass", (60, 10))])
def test_a_fold_is_where_the_middle_lies_seen_from_the_printed_side(centre, wanted):
    """Ink of 200 by 160 pixels at (100, 50) of a canvas of 350 by 380, printed 100 mm wide: 2 pixels to the millimetre.

    By hand, from the ink's upper corner on the right, which is on the left as printed: the ink's middle is 100 and 80
    pixels from it, the canvas's (175, 190) is 125 and 140, so 62.5 mm and 70 mm; the mass at (180, 70) is 120 and 20.
    """
    picture = replace(drawn((350, 380)), ink=(100, 50, 300, 210), mass=(180.0, 70.0))
    row = replace(ordered(2, 100, None), centre=centre)
    (piece,), _, _ = make_pieces([row], [picture], SizingRules(SHIPPED, (area(A4),)))
    assert (piece.ink_w_mm, piece.ink_h_mm) == pytest.approx((100, 80))
    assert (piece.crease_x_mm, piece.crease_y_mm) == pytest.approx(wanted)
