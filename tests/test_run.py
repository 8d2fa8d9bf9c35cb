"""The laws of the whole job, over random batches: nothing lost, nothing overlapping, nothing resized."""

from __future__ import annotations

import json
from collections import Counter
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conftest import SHAPES, draw
from impose.run import Options, plan, produce
from impose.units import Box
from laws import examples

ROWS = st.lists(
    st.tuples(
        st.sampled_from(SHAPES),
        st.integers(15, 180),  # width in mm
        st.integers(1, 4),  # copies
        st.sampled_from(["", "tight", "normal", "12 mm", "18 mm"]),
        st.sampled_from(["ink", "canvas", "mass"]),
        st.booleans(),
        st.sampled_from(["R-1", "R-2", "Äpfel & Söhne"]),
    ),
    min_size=1,
    max_size=6,
)
EDGES = {"careful": (3, 3, 3, 14), "borderless": (0, 0, 0, 0), "measured": (3.2, 3, 3.4, 12.5)}


@pytest.fixture(scope="module")
def art(tmp_path_factory):
    folder = tmp_path_factory.mktemp("art")
    for seed, kind in enumerate(SHAPES):
        draw(kind, 60 + 10 * seed, 50, seed).save(folder / f"{kind}.png")
    return folder


@settings(
    max_examples=examples(1 / 5), suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(ROWS, st.sampled_from([("a4",), ("a3", "letter"), ("a4", "13x19")]), st.sampled_from(sorted(EDGES)))
def test_laws_of_the_whole_job(art, tmp_path_factory, rows, papers, printer):
    lines = ["order,art,width,copies,tear,centre,may_turn"]
    lines += [f"{o},{k}.png,{w} mm,{n},{t},{c},{'yes' if turn else 'no'}" for k, w, n, t, c, turn, o in rows]
    source = art / "batch.csv"
    source.write_text("\n".join(lines) + "\n", "utf-8")
    options = Options(settings={"papers": list(papers), "printer": printer}, steps=20)
    planned = plan([source], options)
    out = produce(planned, tmp_path_factory.mktemp("job") / "out")
    record = json.loads((out / "batch.json").read_text("utf-8"))

    transfers = [t for sheet in record["sheets"] for t in sheet["transfers"]]
    assert Counter(t["row"] for t in transfers) == Counter({i + 2: row[2] for i, row in enumerate(rows)})
    assert len({t["id"] for t in transfers}) == len(transfers)
    left, top, right, bottom = EDGES[printer]
    for sheet in record["sheets"]:
        page = Box(0, 0, sheet["width_mm"], sheet["height_mm"])
        printable = page.inset_by(left, top, right, bottom)
        cells = [Box(**t["cell_mm"]) for t in sheet["transfers"]]
        for index, (cell, transfer) in enumerate(zip(cells, sheet["transfers"], strict=True)):
            assert page.contains_box(cell)
            assert printable.contains_box(Box(**transfer["ink_mm"]), 1e-5)
            assert not any(cell.overlaps_box(other, 1e-5) for other in cells[index + 1 :])
            _, width, _, _, _, may_turn, _ = rows[transfer["row"] - 2]
            ink = transfer["ink_mm"]
            across, down = (ink["h"], ink["w"]) if transfer["turned"] else (ink["w"], ink["h"])
            px = transfer["ink_px"]
            assert across == pytest.approx(width, abs=1e-5)
            assert down == pytest.approx(width * (px[3] - px[1]) / (px[2] - px[0]), abs=1e-5)
            assert may_turn or not transfer["turned"]
            assert transfer["ppi"] == pytest.approx((px[2] - px[0]) / width * 25.4, abs=0.06)
        assert sum(Decimal(t["cost"]) for t in sheet["transfers"]) == Decimal(sheet["cost"])
        assert sheet["yield"] == pytest.approx(sum(c.w * c.h for c in cells) / page.w / page.h, abs=1e-4)
    assert sum(Decimal(paper["cost"]) for paper in record["paper"]) == Decimal(record["cost"])
    fewest = record["fewest"]
    assert Decimal(fewest["cost"]) <= Decimal(record["cost"])
    if len(papers) == 1:
        assert fewest["sheets"] <= len(record["sheets"])
        assert fewest["proven"] == (fewest["sheets"] == len(record["sheets"]))
    else:
        assert fewest["sheets"] is None


def test_a_sleeve_reads_from_the_shoulder_and_its_label_says_which_end(art, batch, tmp_path):
    """Common practice, no source: words down a sleeve; the artwork's left end lies at the shoulder.

    Mirrored for transfer, that end is on the right of the printed side, or at the foot of a cell turned clockwise.
    """
    source = batch(["R-1,Cy,words.png,left-long-sleeve,Adult S,1,240 mm,,,,"], {"words.png": ("words", 330, 40)})
    planned = plan([source], Options(settings={"papers": ["a3"]}, steps=20))
    (sheet,) = planned.layout.sheets
    (placed,) = sheet.placed
    (arrow,) = sheet.arrows
    tip = arrow.points[0]
    middle = [sum(p[i] for p in arrow.points[1:]) / 2 for i in (0, 1)]
    heading = (round(tip[0] - middle[0], 3), round(tip[1] - middle[1], 3))
    assert placed.transfer.piece.up_word == "SHOULDER"
    if placed.turned:
        assert heading[1] > 0
        assert abs(heading[0]) < 1e-6
    else:
        assert heading[0] > 0
        assert abs(heading[1]) < 1e-6


def test_low_resolution_is_a_warning_under_120_ppi_and_a_note_to_150(batch):
    """Common practice, no source: 150 to 300 pixels an inch at final size."""
    pictures = {"owl.png": ("noise", 300, 300)}
    low = plan([batch(["R-1,Bo,owl.png,,adult M,1,70 mm,,,,"], pictures)], Options(steps=5))
    fine = plan([batch(["R-1,Bo,owl.png,,adult M,1,60 mm,,,,"], pictures)], Options(steps=5))
    assert [(f.row, f.severity) for f in low.findings if f.kind == "low-resolution"] == [(2, "warn")]
    assert [(f.row, f.severity) for f in fine.findings if f.kind == "low-resolution"] == [(2, "note")]
    assert low.record["sheets"][0]["transfers"][0]["ppi"] == pytest.approx(300 / 70 * 25.4, abs=0.05)
