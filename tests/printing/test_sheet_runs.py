"""What of a sheet carries ink, as a printer's edges are held against it: from the record, against another renderer."""

from __future__ import annotations

import json

import numpy as np
import pypdfium2

from each_case import try_each
from impose.printing.sheet_runs import _read_scale, read_batch


def test_what_carries_ink_is_where_another_renderer_sees_it(shop):
    """All ink lies in the boxes told, and a print's box is its cell less a rim that is the same all around."""
    record = shop / "a4" / "batch.json"
    batch = read_batch(record, record.read_bytes())
    (run,) = batch.runs
    (sheet,) = run.sheets
    with pypdfium2.PdfDocument(run.pdf) as document:
        page = np.asarray(document[sheet.page].render(scale=1).to_pil().convert("L")) < 200
    per_mm = page.shape[0] / run.height_mm
    rows, columns = np.nonzero(page)
    held = np.zeros(len(rows), bool)
    for box in sheet.drawn:
        x, y = (columns + 0.5) / per_mm, (rows + 0.5) / per_mm
        within = (x > box.x - 0.5) & (x < box.right + 0.5) & (y > box.y - 0.5) & (y < box.bottom + 0.5)
        held |= within
        assert within.any()
        assert box.x >= sheet.area.x - 0.01
        assert box.bottom <= sheet.area.bottom + 0.01
    assert held.all()
    values = json.loads(record.read_bytes())["sheets"][0]["transfers"]
    cells = [transfer["cell_mm"] for transfer in values]
    for cell in cells:
        rims = {
            (round(box.x - cell["x"], 3), round(box.y - cell["y"], 3), round(cell["x"] + cell["w"] - box.right, 3),
             round(cell["y"] + cell["h"] - box.bottom, 3))
            for box in sheet.drawn
        }  # fmt: skip
        assert any(len(set(rim)) == 1 and rim[0] >= 0 for rim in rims), rims


@try_each(
    "printer, scale",
    [
        ({}, (1.0, 1.0)),
        ({"scale": [0.99, 1.01]}, (0.99, 1.01)),
        ({"scale": [2, 1]}, (2.0, 1.0)),
        ({"scale": [0.99]}, (1.0, 1.0)),
        ({"scale": [0.99, "1.01"]}, (1.0, 1.0)),
        ({"scale": 0.99}, (1.0, 1.0)),
    ],
)
def test_a_record_without_a_scale_is_of_sheets_made_true(printer, scale):
    assert _read_scale(printer) == scale
