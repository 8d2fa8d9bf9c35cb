"""A row in the record and back: every field of it, none forgotten."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path

import pytest

from each_case import try_each
from impose.file_types import ColourChange
from impose.orders.batch import BatchRow
from impose.profiles.cloth import Cloth
from impose.profiles.garment import Garment
from impose.profiles.placement import parse_offset, split_tear
from impose.sheet.row_record import LEFT_OUT, EntryError, read_row, row_values

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
    for field in fields(BatchRow):
        if field.name == "garment":
            # Kind, group and size are read again from what was written, by the garments then on file.
            assert back.garment.text == row.garment.text
        elif field.name not in LEFT_OUT:
            assert getattr(back, field.name) == getattr(row, field.name), field.name


def test_what_is_left_out_is_a_field_and_says_why():
    assert set(LEFT_OUT) <= {field.name for field in fields(BatchRow)}
    assert all(LEFT_OUT.values())


def test_no_field_of_the_full_row_is_its_default():
    """Else a field that is dropped on the way would come back as if it had been kept."""
    for field in fields(BatchRow):
        if field.name not in ("style",):
            assert getattr(FULL, field.name) != getattr(BLANK, field.name), field.name


@try_each(
    "key, value",
    [("order", 5), ("copies", 1e400), ("copies", True), ("row", -1), ("asked_mm", 3), ("asked_mm", [1]),
     ("asked_mm", [10**400, None]), ("asked_mm", ["1", None]), ("centre", []), ("accept", "haze"), ("accept", [1]),
     ("extra", [["a"]]), ("extra", {}), ("note", None), ("garment_written", 1), ("placement", {}),
     ("recolour", "#C81E28"), ("recolour", [{"from": "#C81E28"}]), ("recolour", [{"from": "red", "to": "#C81E28"}])],
)  # fmt: skip
def test_what_does_not_fit_is_refused_under_its_key(key, value):
    with pytest.raises(EntryError, match=key):
        read_row(row_values(FULL) | {key: value})
