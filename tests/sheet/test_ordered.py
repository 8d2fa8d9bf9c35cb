"""A row in the record and back: every field of it, none forgotten."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from each_case import try_each
from impose.file_types import ColourChange
from impose.orders.batch import BatchRow
from impose.profiles.cloth import Cloth
from impose.profiles.garment import Garment
from impose.profiles.placement import parse_offset, split_tear
from impose.sheet.row_record import LEFT_OUT, EntryError, read_row, row_values
from impose.values import list_names, replace

FULL = BatchRow(
    row=7,
    order="OW-9",
    wearer="Ada",
    art="words “A”",
    path=Path("art/a.png"),
    placement="left-chest",
    garment=Garment("hoodie", "youth", "M", "hoodie youth M"),
    copies=3,
    width_mm=88.9,
    height_mm=40.0,
    tear=split_tear(12),
    centre="mass",
    may_turn=False,
    accept=frozenset({"haze", "speck"}),
    note="fold twice",
    extra=(("thread", "no. 40"), ("thread", "spare")),
    words="A\nB",
    font="outlined 40 mm",
    letters_mm=40.0,
    set_mm=120.0,
    cloth=Cloth("80% polyester 20% cotton", "white"),
    kit="rowers",
    kit_row=4,
    name="A",
    number="07",
    page=2,
    mend=frozenset({"ground", "drop-specks"}),
    drawn_mm=(88.9, None),
    drop=parse_offset("127 mm from neck seam to top of print"),
    across=parse_offset("101.6 mm from centre line to centre of print"),
    recolour=(ColourChange("#143CA0", "#004484", 20), ColourChange("#C81E28", "#12A05B")),
)
BLANK = BatchRow(2, "", "", "a.png", Path("a.png"), None, Garment("t-shirt", "adult", "", ""), 1, None, None)


def through(row: BatchRow) -> BatchRow:
    return read_row(json.loads(json.dumps(row_values(row))))


@pytest.mark.parametrize("row", [FULL, BLANK, replace(FULL, words="", font="", letters_mm=None, set_mm=None)])
def test_every_field_comes_back_or_is_named_as_left_out(row):
    back = through(row)
    for name in list_names(BatchRow):
        if name == "garment":
            # Kind, group and size are read again from what was written, by the garments then on file.
            assert back.garment.text == row.garment.text
        elif name not in LEFT_OUT:
            assert getattr(back, name) == getattr(row, name), f"keep {name} in row_record, or name it in LEFT_OUT"


def test_what_is_left_out_is_a_field_and_says_why():
    assert set(LEFT_OUT) <= set(list_names(BatchRow))
    assert all(LEFT_OUT.values())


def test_no_field_of_the_full_row_is_its_default():
    """Else a field that is dropped on the way would come back as if it had been kept."""
    for name in list_names(BatchRow):
        if name not in ("style",):
            assert getattr(FULL, name) != getattr(BLANK, name), f"give FULL a {name} of its own"


@try_each(
    "key, value",
    [("order", 5), ("copies", 1e400), ("copies", True), ("row", -1), ("asked_mm", 3), ("asked_mm", [1]),
     ("asked_mm", [10**400, None]), ("asked_mm", ["1", None]), ("centre", []), ("accept", "haze"), ("accept", [1]),
     ("extra", [["a"]]), ("extra", {}), ("note", None), ("garment_written", 1), ("placement", {}),
     ("recolour", "#C81E28"), ("recolour", [{"from": "#C81E28"}]), ("recolour", [{"from": "red", "to": "#C81E28"}]),
     ("recolour", ["#C81E28"]), ("recolour", [{"from": "#C81E28", "to": "#c81e28"}]), ("row", 10**9 + 1), ("row", "7"),
     ("patch", None), ("copies", -1), ("copies", 100_001), ("kit_row", 10**9 + 1), ("page", 100_000), ("page", -1),
     ("asked_mm", [1_000_001, 5]), ("asked_mm", [5, -1_000_001]), ("asked_mm", [True, None]), ("asked_mm", [1, 2, 3]),
     ("letters_mm", 0), ("letters_mm", 1_000_001), ("letters_mm", True), ("letters_mm", "40"), ("fitted", 1),
     ("drawn_mm", [None, None]), ("drawn_mm", [1]), ("drawn_mm", [0, 5]), ("drawn_mm", [5, 1_000_001]),
     ("drawn_mm", [True, None]), ("drawn_mm", "5"), ("mend", ["polish"]), ("mend", "ground"), ("centre", "edge"),
     ("drop", "127 mm"), ("across", 5), ("accept", {}), ("extra", [["a", 1]]), ("extra", [["a", "b", "c"]])],
)  # fmt: skip
def test_what_does_not_fit_is_refused_under_its_key(key, value):
    changed = {"recolour": [{"from": "#C81E28", "to": "#12A05B", "patch": "17"}]} if key == "patch" else {key: value}
    with pytest.raises(EntryError, match=key):
        read_row(row_values(FULL) | changed)


def test_the_last_of_each_that_fits():
    values = {
        "row": 10**9, "kit_row": 10**9, "copies": 100_000, "asked_mm": [1_000_000, None], "letters_mm": 1_000_000,
        "drawn_mm": [None, 1_000_000], "mend": [], "accept": [], "extra": [], "page": 1, "drop": "", "placement": None,
    }  # fmt: skip
    row = read_row(row_values(FULL) | values)
    assert (row.row, row.kit_row, row.copies, row.width_mm, row.height_mm) == (10**9, 10**9, 100_000, 1e6, None)
    assert (row.letters_mm, row.drawn_mm, row.page, row.drop, row.placement) == (1e6, (None, 1e6), 1, None, None)
    assert row.mend == row.accept == frozenset()
    bare = {key: value for key, value in row_values(FULL).items() if key not in (*values, "recolour", "across", "note")}
    row = read_row(bare | {"row": 0, "copies": 0})
    assert (row.note, row.kit_row, row.page, row.drawn_mm, row.across, row.recolour) == ("", 0, None, None, None, ())
    assert read_row(row_values(FULL) | {"page": 0}).page is None


def test_words_of_a_version_that_kept_no_height_fill_no_width():
    """An earlier version wrote the width that words took, with `fitted`: it was nobody's wish."""
    values = row_values(FULL) | {"fitted": True}
    assert read_row(values).width_mm == 88.9
    del values["letters_mm"]
    assert (read_row(values).width_mm, read_row(values).height_mm) == (None, None)
    assert read_row(values | {"fitted": False}).width_mm == 88.9
