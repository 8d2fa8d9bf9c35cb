"""Rows and sheets on their way to the process that writes tickets: in parts, whole again on the other side."""

from __future__ import annotations

import pickle

import pytest
from PIL import Image

from impose.run import Options, packed_job, plan
from impose.run.packed_job import pack_layout, unpack_layout
from impose.values import replace


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    folder = tmp_path_factory.mktemp("batch")
    lines = ["order,wearer,art,placement,width,copies"]
    for number in range(3):
        Image.new("RGB", (160, 190), (90 * number, 90, 200)).save(folder / f"art{number}.png")
    lines += [f"Order {n},Ada {n},art{n % 3}.png,left-chest,{70 + 6 * n} mm,3" for n in range(7)]
    (folder / "orders.csv").write_text("\n".join(lines))
    return plan([folder / "orders.csv"], Options({"papers": ["a4"]}, steps=50, workers=1, cache=False))


def test_what_was_packed_in_parts_is_the_same_and_shared_as_before(planned, monkeypatch):
    monkeypatch.setattr(packed_job, "_PART", 2)
    parts = list(pack_layout(planned.batch.rows, planned.layout.sheets))
    rows, sheets = unpack_layout(iter(parts))
    assert rows == planned.batch.rows
    placed = [each for sheet in sheets for each in sheet.placed]
    assert {id(each.transfer.piece.row) for each in placed} == {id(row) for row in rows}
    assert len({id(each.picture) for each in placed}) == 3
    assert all(each.picture.data == b"" for each in placed)
    for mine, theirs in zip(placed, (p for sheet in planned.layout.sheets for p in sheet.placed), strict=True):
        piece = replace(mine.transfer.piece, picture=theirs.picture)
        assert replace(mine, transfer=replace(mine.transfer, piece=piece)) == theirs
        assert mine.picture.look == theirs.picture.look


def test_no_part_grows_with_the_batch(planned, monkeypatch):
    """A part of the largest kind has two sheets here; the whole as one has all of them, and every row and picture."""
    monkeypatch.setattr(packed_job, "_PART", 2)
    parts = list(pack_layout(planned.batch.rows, planned.layout.sheets))
    assert max(map(len, parts)) < len(pickle.dumps((planned.batch.rows, planned.layout.sheets))) / 4


def test_missing_parts_are_no_smaller_batch(planned):
    parts = list(pack_layout(planned.batch.rows, planned.layout.sheets))
    with pytest.raises((StopIteration, EOFError)):
        unpack_layout(iter(parts[:-1]))
