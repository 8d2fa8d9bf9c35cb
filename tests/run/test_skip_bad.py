"""Orders that are left out: by refusals, and by what is only made to stop; and every offer for the same orders."""

from __future__ import annotations

import json

import pytest
from PIL import Image, ImageDraw

from impose.errors import Finding, Trouble
from impose.files import find_shipped_profiles
from impose.orders import batch_reader
from impose.orders.batch import leave_out_refused
from impose.orders.batch_reader import read_batch
from impose.profiles.profiles import load_profiles
from impose.run import nest_batch

pytestmark = pytest.mark.usefixtures("sheets_alone")

HEADING = "order,wearer,art,garment,width,accept"
ROWS = [
    "A,Ann,fine.png,adult M,70mm,",
    "B,Bo,fine.png,adult M,70mm,",
    "B,Bea,fine.png,adult M,150mm,",  # at 102 pixels an inch
    "C,Cy,fine.png,adult M,150mm,low-resolution very-low-resolution",
]


@pytest.fixture
def source(tmp_path):
    image = Image.new("RGBA", (700, 700), (0, 0, 0, 0))
    ImageDraw.Draw(image).ellipse((50, 50, 650, 650), fill="teal")
    image.save(tmp_path / "fine.png")

    def write(*rows: str):
        path = tmp_path / "orders.csv"
        path.write_text("\n".join([HEADING, *rows]) + "\n", "utf-8")
        return path

    return write


def test_a_refusal_of_several_rows_takes_the_orders_of_all_of_them(source):
    batch = read_batch(source(*ROWS), load_profiles(find_shipped_profiles()))
    stop = Finding("these two lie over each other", row=2, also=(5,))
    assert [row.order for row in leave_out_refused(batch, [stop], skip_bad=True).rows] == ["B", "B"]
    for stops, skip_bad in (([stop], False), ([stop, Finding("of no row")], True)):
        with pytest.raises(Trouble):
            leave_out_refused(batch, stops, skip_bad)
    with pytest.raises(Trouble):  # nobody can tell whose row 5 is
        leave_out_refused(batch, [stop], skip_bad=True, refused={2})


def orders(folder):
    record = json.loads((folder / "batch.json").read_text("utf-8"))
    return {one["order"] for sheet in record["sheets"] for one in sheet["transfers"]}, record


@pytest.mark.parametrize("way", ["strict", "stops"])
def test_what_is_made_to_stop_leaves_with_its_order(source, run, tmp_path, way):
    own = tmp_path / "own"
    own.mkdir()
    (own / "settings.toml").write_text('stops = ["low-resolution"]\n' if way == "stops" else "", "utf-8")
    how = ["--profiles", own, *(["--strict"] if way == "strict" else [])]
    batch = source(*ROWS)
    code, _, err = run("sheets", batch, "-p", "a4", *how, "-o", tmp_path / "all")
    assert code == 3
    assert not (tmp_path / "all").exists()
    code, _, err = run("sheets", batch, "-p", "a4", *how, "--skip-bad", "-o", tmp_path / "rest")
    assert code == 3
    left, record = orders(tmp_path / "rest")
    assert left == {"A", "C"}
    assert err.count("row 4") == 1, "why is said once, as what stops"
    assert "2 rows left out: orders B" in err
    said = {one["kind"]: one["severity"] for one in record["findings"] if one.get("row") == 4}
    assert said == {"low-resolution": "stop"}


def test_where_no_order_is_left_nothing_is_written(source, run, tmp_path):
    for row, options, code in (
        ("A,Ann,fine.png,adult M,2000mm,", (), 4),
        ("A,Ann,fine.png,adult M,150mm,", ("--strict",), 3),
        ("A,Ann,none.png,adult M,80mm,", (), 3),
    ):
        for command in (("sheets", "-o", tmp_path / "out"), ("quote",)):
            left, _, err = run(command[0], source(row), "-p", "a4", "--skip-bad", *options, *command[1:])
            assert (left, "Traceback" in err) == (code, False), err
            assert "row 2" in err
    assert not (tmp_path / "out").exists()


def test_offers_are_for_the_same_orders_and_say_which_are_left_out(source, run):
    batch = source("A,Ann,fine.png,adult M,70mm,", "B,Bo,fine.png,adult M,250mm,", "C,Cy,fine.png,adult M,2000mm,")
    code, out, err = run("quote", batch, "-p", "a4", "-p", "13x19", "--skip-bad", "--json")
    quoted = json.loads(out)
    assert code == 4
    assert "orders C" in err
    assert any("orders C" in said for said in quoted["left_out"])
    assert quoted["transfers"] == 2
    small, large, both = quoted["offers"]
    assert small["refused"], "order B is not left out to make A4 the cheapest"
    assert not small["best"]
    assert large["refused"] == both["refused"] == []
    assert run("quote", batch, "-p", "a4")[0] == 4


def test_a_quote_is_as_strict_as_the_sheets(source, run):
    batch = source("A,Ann,fine.png,adult M,150mm,")
    assert run("quote", batch, "-p", "a4")[0] == 0
    assert run("quote", batch, "-p", "a4", "--strict")[0] == 3
    assert run("quote", batch, "-p", "a4", "--strict", "--accept", "low-resolution")[0] == 0


def test_more_transfers_than_fit_in_memory_are_refused_before_anything_is_nested(source, run, tmp_path, monkeypatch):
    for module in (batch_reader, nest_batch):
        monkeypatch.setattr(module, "MOST_TRANSFERS", 2_500)  # as with 250,000, in a hundredth of the time
    for row, options in (
        ("A,Ann,fine.png,adult M,500mm,", ("--copies", "1000", "--oversize", "panels")),  # times its panels
        ("A,Ann,fine.png,adult M,70mm,\n" * 3, ("--copies", "1000")),
    ):
        for command in (("sheets", "-o", tmp_path / "out"), ("quote",), ("check",)):
            code, out, err = run(command[0], source(row), "-p", "a4", *options, *command[1:])
            assert code == 3
            assert "more than 2,500 in one batch" in out + err
    assert not (tmp_path / "out").exists()
