"""Pages drawn as dots for a printer, against another renderer: each dot in its place, up to the last row and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pymupdf
import pypdfium2
import pytest

from impose.pages.pdf.raster import BAND_ROWS, count_dots, draw_bands, read_page_sizes, write_excerpt

WIDE_PT, HIGH_PT = 150, 400


@pytest.fixture(scope="module")
def pdf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three pages of other sizes. On the first a frame to the very edge, and blocks across the bands."""
    path = tmp_path_factory.mktemp("raster") / "sheets.pdf"
    with pymupdf.open() as document:
        page = document.new_page(width=WIDE_PT, height=HIGH_PT)
        for box, colour in (
            ((0, 0, WIDE_PT, HIGH_PT), (0.2, 0.4, 0.6)),
            ((9, 9, WIDE_PT - 9, HIGH_PT - 9), (1, 1, 1)),
            ((30, 0, 60, HIGH_PT), (0.8, 0.1, 0.1)),
            ((0, 180, WIDE_PT, 190), (0, 0, 0)),
            ((WIDE_PT - 3, 250, WIDE_PT, 300), (1, 1, 0)),
        ):
            page.draw_rect(box, fill=colour, color=None)
        document.new_page(width=72, height=144).draw_rect((10, 10, 20, 20), fill=(1, 0, 0), color=None)
        document.new_page(width=200, height=100).draw_rect((10, 10, 20, 20), fill=(0, 1, 0), color=None)
        document.save(path)
    return path


@pytest.mark.parametrize("dpi", [144, 180])
def test_the_bands_are_the_page_as_another_renderer_draws_it(pdf: Path, dpi: int) -> None:
    bands = list(draw_bands(pdf, 0, dpi))
    assert [band.shape[0] for band in bands[:-1]] == [BAND_ROWS] * (len(bands) - 1)
    drawn = np.concatenate(bands).astype(int)
    assert drawn.shape == (HIGH_PT * dpi // 72, WIDE_PT * dpi // 72, 3)
    with pypdfium2.PdfDocument(pdf) as document:
        other = document[0].render(scale=dpi / 72).to_numpy()[..., 2::-1].astype(int)
    assert other.shape == drawn.shape
    # Edges fall between dots at 180 to the inch; there two renderers may differ by one dot along each edge.
    off = np.abs(other - drawn).max(axis=2) > 2
    assert off.mean() <= (0.0 if dpi == 144 else 0.04)
    assert not off[0].any()
    assert not off[-1].any()
    assert not off[:, 0].any()
    assert not off[:, -1].any()


def test_sizes_are_those_of_each_page_in_millimetres(pdf: Path, tmp_path: Path) -> None:
    """A point is 1/72 in (ISO 32000-1, 8.3.2.3), an inch 25.4 mm."""
    sizes = read_page_sizes(pdf)
    assert sizes == [pytest.approx((w / 72 * 25.4, h / 72 * 25.4)) for w, h in ((150, 400), (72, 144), (200, 100))]
    assert count_dots(25.4, 50.8, 360) == (360, 720)
    assert count_dots(210, 297, 300) == (2480, 3508)  # PWG 5102.4: A4 at 300 dots to the inch
    damaged = tmp_path / "cut.pdf"
    damaged.write_bytes(b"%PDF-1.7\n")
    with pytest.raises(ValueError, match=r"cut\.pdf is not a whole PDF"):
        read_page_sizes(damaged)


def test_an_excerpt_has_the_wanted_pages_in_their_order(pdf: Path, tmp_path: Path) -> None:
    out = tmp_path / "some.pdf"
    write_excerpt(pdf, [2, 0], out)
    with pypdfium2.PdfDocument(out) as document:
        assert [page.get_size() for page in document] == [(200, 100), (WIDE_PT, HIGH_PT)]
    again = tmp_path / "again.pdf"
    write_excerpt(pdf, [2, 0], again)
    assert again.read_bytes() == out.read_bytes()
