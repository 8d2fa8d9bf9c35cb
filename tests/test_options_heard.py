"""Options of the command are heard: what they promise is measured in what is delivered."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image


def _speckled(path: Path) -> None:
    """A black disc of 300 pixels with a clear hole, in which a lonely speck of 2 x 2 pixels stands."""
    y, x = np.mgrid[0:400, 0:400]
    ink = np.hypot(x - 200, y - 200) < 150
    ink &= np.hypot(x - 200, y - 200) > 60
    ink[199:201, 199:201] = True
    pixels = np.zeros((400, 400, 4), np.uint8)
    pixels[ink] = (0, 0, 0, 255)
    Image.fromarray(pixels, "RGBA").save(path)


@pytest.mark.parametrize("dropped", [False, True])
def test_drop_specks_erases_a_speck_inside_the_picture(run, tmp_path: Path, dropped: bool) -> None:
    """`--drop-specks`: lonely specks are dropped inside the picture too. Counted in the page as pdfium renders it."""
    import pypdfium2

    _speckled(tmp_path / "ring.png")
    flags = ["--drop-specks"] if dropped else []
    command = ["sheets", tmp_path / "ring.png", "--width", "100 mm", "-p", "a4", "-o", tmp_path / "out", *flags]
    assert run(*command, "-q")[0] == 0
    record = json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))
    (one,) = record["sheets"][0]["transfers"]
    page = pypdfium2.PdfDocument(tmp_path / "out" / "sheets-a4.pdf")[0]
    shown = np.asarray(page.render(scale=200 / 72, grayscale=True).to_pil())
    x, y = one["ink_mm"]["x"] + one["ink_mm"]["w"] / 2, one["ink_mm"]["y"] + one["ink_mm"]["h"] / 2
    row, column, reach = round(y / 25.4 * 200), round(x / 25.4 * 200), round(10 / 25.4 * 200)
    middle = shown[row - reach : row + reach, column - reach : column + reach]
    assert (int(middle.min()) < 128) is not dropped


@pytest.mark.parametrize(("said", "margin"), [("10mm", 10.0), ("tight", 10.0), ("16mm", 16.0)])
def test_tear_is_the_paper_around_the_print(run, tmp_path: Path, said: str, margin: float) -> None:
    """`--tear`: what is given is the margin on every side where the paper has room."""
    _speckled(tmp_path / "ring.png")
    command = ["sheets", tmp_path / "ring.png", "--width", "60 mm", "-p", "a4", "--tear", said, "-q"]
    assert run(*command, "-o", tmp_path / "out")[0] == 0
    (one,) = json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))["sheets"][0]["transfers"]
    cell, ink = one["cell_mm"], one["ink_mm"]
    sides = [ink["x"] - cell["x"], ink["y"] - cell["y"]]
    sides += [cell["x"] + cell["w"] - ink["x"] - ink["w"], cell["y"] + cell["h"] - ink["y"] - ink["h"]]
    assert sides == pytest.approx([margin] * 4, abs=0.01)
