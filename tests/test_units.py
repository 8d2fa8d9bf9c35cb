"""Lengths: typed cases kept as data, the inch of 1959, and the laws of showing and rounding."""

from __future__ import annotations

import csv
import math
import pickle
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from each_case import try_each
from impose.units import (
    POINTS_PER_MM,
    Box,
    LengthError,
    format_length,
    parse_length,
    show_at_most,
    show_on_ruler,
    show_size,
    to_um_down,
    to_um_up,
)

CASES = Path(__file__).parent.parent / "shared" / "units_cases.csv"


def _cases(verdict: str) -> list[dict[str, str]]:
    with CASES.open(encoding="utf-8", newline="") as file:
        found = [row for row in csv.DictReader(file) if row["verdict"] == verdict]
    assert found, "the collection of typed lengths is empty"
    return found


@try_each("case", _cases("accept"))
def test_accepted_spellings_are_exact(case: dict[str, str]) -> None:
    assert parse_length(case["typed"]) == float(case["mm"])


@try_each("case", _cases("refuse"))
def test_refused_spellings_say_why(case: dict[str, str]) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(case["typed"])
    assert caught.value.what
    assert caught.value.remedy


def test_the_collection_is_whole() -> None:
    assert (len(_cases("accept")), len(_cases("refuse"))) == (30, 21)


@try_each(
    "typed, word",
    [
        ("8.25", "unit"),
        ("8'", "feet"),
        ("8 ft", "feet"),
        ("1,200 mm", "1200"),
        ('8 5/4"', "space between"),
        ("10 px", "Pixels"),
        ("3 m", "Metres"),
        ("8 x 10 in", "columns of their own"),
        ("٣ mm", "0 to 9"),
        ("1e3 mm", "exponent"),
        ("200000 mm", "100 m"),
        ("9" * 61 + " mm", "too long"),
    ],
)
def test_the_reason_fits_the_slip(typed: str, word: str) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(typed)
    assert word in f"{caught.value.what} {caught.value.remedy}"


@try_each("typed", ["about 8 in", "8 in wide", "mm", "ten mm", "½½ mm", "8//2 in", "8 1 2 in", "+-8 mm", "8.. mm"])
def test_where_no_slip_is_known_lengths_are_shown_as_they_are_written(typed: str) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(typed)
    assert caught.value.remedy == "Write a number and its unit: 90 mm, 9 cm, 3.5 in or 3 1/2 in."


def test_bare_numbers_mean_what_was_said() -> None:
    assert parse_length("210", "mm") == 210.0
    assert parse_length("21,5", "cm") == 215.0
    assert parse_length("8 1/4", "in") == 209.55
    assert parse_length("3.5 in", "mm") == 88.9, "an explicit unit is stronger than the heading"


def test_a_decimal_comma_before_three_digits_is_taken_where_nothing_else_can_be_meant() -> None:
    assert parse_length("0,125 in") == 3.175
    assert parse_length("8.125 in") == 206.375


def test_zero_only_where_it_is_asked_for() -> None:
    assert parse_length("0 mm", zero=True) == 0.0
    with pytest.raises(LengthError):
        parse_length("0 in")


def test_vulgar_fractions_against_unicode_numeric_values() -> None:
    """The Unicode character database gives each fraction's value; ours are compared with it."""
    import unicodedata

    for sign in "¼½¾⅓⅔⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒":
        assert math.isclose(parse_length(f"3{sign} in"), (3 + unicodedata.numeric(sign)) * 25.4, rel_tol=1e-12)


@given(st.floats(0.01, 99_999), st.sampled_from(["mm", "in"]))
def test_what_is_shown_reads_back(mm: float, units: str) -> None:
    step = (0.1 if units == "mm" else 0.254) / (10 if mm < 1 else 1)
    shown = format_length(mm, units)  # type: ignore[arg-type]
    if shown.startswith("0 "):
        assert mm <= step / 2
        return
    read = parse_length(shown)
    assert abs(read - mm) <= step / 2 * (1 + 1e-9)
    assert format_length(read, units) == shown  # type: ignore[arg-type]


@given(st.text(max_size=80))
def test_no_text_breaks_the_reader(text: str) -> None:
    try:
        mm = parse_length(text)
    except LengthError:
        return
    assert math.isfinite(mm)
    assert 0 < mm <= 100_000


@given(st.text(alphabet=" 0123456789.,/-\"'¼½inmc⁄", max_size=14))
def test_no_length_like_text_breaks_the_reader(text: str) -> None:
    test_no_text_breaks_the_reader.hypothesis.inner_test(text)  # type: ignore[attr-defined]


@try_each(
    "mm, units, shown",
    [
        (88.9, "mm", "88.9 mm"),
        (88.9, "in", "3.5 in"),
        (0.175, "mm", "0.18 mm"),
        (1.25, "mm", "1.3 mm"),
        (0.175, "in", "0.007 in"),
        (209.55, "mm", "209.6 mm"),
        (209.55, "in", "8.25 in"),
        (1000, "mm", "1000 mm"),
        (-0.001, "mm", "0 mm"),
    ],
)
def test_shown_for_people(mm: float, units: str, shown: str) -> None:
    assert format_length(mm, units) == shown  # type: ignore[arg-type]


@try_each(
    "mm, units, finest, shown",
    [  # eighths as on an inch ruler: 3.5 in is 3 1/2; 101.6 mm is 4 in; 1 mm is 0.04 in, under a sixteenth (arithmetic)
        (88.9, "mm", 1, "89 mm"),
        (88.5, "mm", 1, "89 mm"),
        (88.84, "mm", 10, "88.8 mm"),
        (88.9, "in", 1, "3 1/2 in"),
        (101.6, "in", 1, "4 in"),
        (3.175, "in", 1, "1/8 in"),
        (1.0, "in", 1, "0 in"),
        (1.5875, "in", 2, "1/16 in"),
        (209.55, "in", 1, "8 1/4 in"),
    ],
)
def test_shown_as_a_ruler_has_it(mm: float, units: str, finest: int, shown: str) -> None:
    assert show_on_ruler(mm, units, finest) == shown  # type: ignore[arg-type]


@given(st.floats(0.2, 99_999), st.sampled_from(["mm", "in"]))
def test_a_limit_is_never_rounded_up(mm: float, units: str) -> None:
    shown = show_at_most(mm, units)  # type: ignore[arg-type]
    assert shown.startswith("0 ") or parse_length(shown) <= mm + 1e-6


def test_pdf_points() -> None:
    """ISO 32000-1, 8.3.2.3: the unit is 1/72 in. A4 is 595.276 x 841.890 points."""
    assert (round(210 * POINTS_PER_MM, 3), round(297 * POINTS_PER_MM, 3)) == (595.276, 841.890)
    assert math.isclose(POINTS_PER_MM * 25.4, 72)


@given(st.integers(0, 10_000_000))
def test_whole_micrometres_stay_whole(um: int) -> None:
    assert to_um_up(um / 1000) == to_um_down(um / 1000) == um


@given(st.floats(0, 10_000))
def test_pieces_round_up_and_papers_down(mm: float) -> None:
    up, down = to_um_up(mm), to_um_down(mm)
    assert 0 <= up - down <= 1
    assert up >= mm * 1000 - 0.0011
    assert down <= mm * 1000 + 0.0011


def test_boxes() -> None:
    box = Box(10, 20, 30, 40)
    assert (box.right, box.bottom, box.centre) == (40, 60, (25, 40))
    assert box.inset_by(1, 2, 3, 4) == Box(11, 22, 26, 34)
    assert box.move_by(-10, 5) == Box(0, 25, 30, 40)
    assert box.contains_box(Box(10, 20, 30, 40))
    assert not box.contains_box(Box(9.9, 20, 30, 40))
    assert box.contains_box(Box(9.9, 20, 30, 40), eps=0.1001)
    assert not box.overlaps_box(Box(40, 20, 5, 5)), "edges that touch share no area"
    assert box.overlaps_box(Box(39.9, 20, 5, 5))


def test_the_error_crosses_processes() -> None:
    again = pickle.loads(pickle.dumps(LengthError("what", "remedy")))
    assert (again.what, again.remedy) == ("what", "remedy")


@pytest.mark.parametrize(
    ("mm", "units", "told"),
    [(304.8, "mm", "305 mm"), (101.6, "mm", "102 mm"), (20.0, "mm", "20 mm"), (11.43, "mm", "11.4 mm"),
     (0.25, "mm", "0.25 mm"), (88.9, "in", "3.5 in"), (304.8, "in", "12 in")],
)  # fmt: skip
def test_sizes_of_prints_are_whole_millimetres_but_for_small_ones(mm, units, told) -> None:
    assert show_size(mm, units) == told
