"""Rows to garments: one way is taken, several are refused, and nothing is lost.

No standard speaks of this; the laws are counted: every copy of every row lies on one garment.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from impose.orders.batch import BatchRow
from impose.orders.garment_groups import assign_garments
from impose.profiles.garment import Garment


def row(
    line: int,
    placement: str | None,
    copies: int = 1,
    wearer: str = "Ada",
    text: str = "hoodie adult M",
    order: str = "R-1",
) -> BatchRow:
    garment = Garment("hoodie", "adult", "M", text)
    return BatchRow(line, order, wearer, "owl.png", Path("owl.png"), placement, garment, copies, None, None)


def laid(rows: list[BatchRow]) -> list[list[tuple[int, int]]]:
    worn, findings = assign_garments(rows)
    assert findings == []
    return [[(one.row, copy) for one, copy in garment.prints] for garment in worn]


def test_a_wearers_rows_meet_on_one_garment() -> None:
    assert laid([row(2, "full-back"), row(3, "left-chest"), row(4, "left-long-sleeve")]) == [[(2, 1), (3, 1), (4, 1)]]


def test_five_alike_are_five_garments_each_with_its_own_copy() -> None:
    rows = [row(2, "left-chest", 5, ""), row(3, "right-long-sleeve", 5, "")]
    assert laid(rows) == [[(2, n), (3, n)] for n in range(1, 6)]


def test_another_wearer_garment_or_order_is_another_garment() -> None:
    rows = [row(2, "full-back"), row(3, "left-chest", wearer="Bo"), row(4, "left-chest", text="polo"),
            row(5, "left-chest", order="R-2")]  # fmt: skip
    assert [len(prints) for prints in laid(rows)] == [1, 1, 1, 1]


def test_two_prints_for_one_place_are_two_garments_that_share_the_rest() -> None:
    rows = [row(2, "left-chest"), row(3, "left-chest"), row(4, "full-back", 2)]
    assert laid(rows) == [[(2, 1), (4, 1)], [(3, 1), (4, 2)]]


def test_a_row_that_names_neither_is_a_garment_for_each_copy() -> None:
    rows = [row(2, "left-chest", 3, "", ""), row(3, "full-back", 2, "", "")]
    assert laid(rows) == [[(2, 1)], [(2, 2)], [(2, 3)], [(3, 1)], [(3, 2)]]


def test_without_an_order_only_a_name_ties_rows_together() -> None:
    assert len(laid([row(2, "left-chest", order=""), row(3, "full-back", order="")])) == 1
    assert len(laid([row(2, "left-chest", 3, "", order=""), row(3, "left-chest", 2, "", order="")])) == 5


@pytest.mark.parametrize(
    "rows",
    [
        [row(2, "left-chest", 2), row(3, "left-chest", 3)],
        [row(2, "full-back", 2), row(3, "left-chest", 3)],
        [row(2, "full-back", 2, ""), row(3, "left-chest", 3, "")],
        [row(2, "left-chest"), row(3, "left-chest"), row(4, "full-back"), row(5, "full-back")],
        [row(2, "left-chest"), row(3, "left-chest"), row(4, "full-back")],
    ],
    ids=["unequal copies", "uneven places", "uneven, no wearer", "two and two", "two and one"],
)
def test_several_ways_are_refused_with_a_reason_and_a_remedy(rows: list[BatchRow]) -> None:
    worn, (stop,) = assign_garments(rows)
    assert worn == []
    assert (stop.kind, stop.row, stop.severity) == ("which-garment", 2, "stop")
    assert "column wearer" in stop.remedy
    assert f"rows {rows[0].row}-{rows[-1].row} " in stop.what


def test_prints_without_a_placement_join_where_their_number_matches_and_stand_alone_where_not() -> None:
    assert laid([row(2, "left-chest", 2), row(3, None, 2)]) == [[(2, 1), (3, 1)], [(2, 2), (3, 2)]]
    assert laid([row(2, "left-chest"), row(3, None, 2)]) == [[(2, 1)], [(3, 1)], [(3, 2)]]


PLACES = st.sampled_from(["left-chest", "full-back", "left-long-sleeve", None])


@given(st.lists(st.tuples(PLACES, st.integers(1, 4), st.sampled_from(["", "Ada", "Bo"]), st.sampled_from(["", "M"])),
                max_size=8))  # fmt: skip
def test_every_copy_lies_on_one_garment_and_no_place_twice(given_rows: list[tuple[str | None, int, str, str]]) -> None:
    rows = [row(line, *values) for line, values in enumerate(given_rows, 2)]
    worn, findings = assign_garments(rows)
    refused = {line for one in findings for line in (one.row,)}
    laid_out = [(one.row, copy) for garment in worn for one, copy in garment.prints]
    assert len(laid_out) == len(set(laid_out))
    if not refused:
        assert set(laid_out) == {(one.row, copy) for one in rows for copy in range(1, one.copies + 1)}
    for garment in worn:
        places = [one.placement for one, _ in garment.prints if one.placement]
        assert len(places) == len(set(places))


def test_a_batch_refuses_them_with_row_column_and_remedy(run, batch) -> None:
    lines = [
        "R-1,Ada,owl.png,left-chest,hoodie adult M,2,60 mm,,,,",
        "R-1,Ada,owl.png,left-chest,hoodie adult M,3,60 mm,,,,",
    ]
    source = batch(lines, {"owl.png": ("ellipse", 200, 200)})
    code, out, err = run("sheets", source, "-p", "a4")
    assert code == 3
    assert out == ""
    assert "row 2, column copies" in err
    assert "rows 2-3 are for Ada" in err
    assert "column wearer" in err
    assert not (source.parent / "evening-sheets").exists()


def test_skip_bad_leaves_such_an_order_out_whole(run, batch, tmp_path: Path) -> None:
    lines = [
        "R-1,Ada,owl.png,full-back,hoodie adult M,2,60 mm,,,,",
        "R-1,Ada,owl.png,left-chest,hoodie adult M,3,60 mm,,,,",
        "R-2,Bo,owl.png,left-chest,hoodie adult M,1,60 mm,,,,",
    ]
    source = batch(lines, {"owl.png": ("ellipse", 200, 200)})
    code, out, err = run("sheets", source, "-p", "a4", "--skip-bad", "-o", tmp_path / "out")
    assert code == 3
    assert "1 transfer on 1 sheet" in out
    assert "rows left out" in err
