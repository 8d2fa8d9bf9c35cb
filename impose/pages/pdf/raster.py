"""Written pages drawn as dots for a printer, band by band, and some pages of a file as a file of their own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impose.pages.pdf import LIBRARY
from impose.units import MM_PER_INCH

if TYPE_CHECKING:
    import numpy as np

BAND_ROWS = 256  # of 13 x 19 in at 360 dots to the inch: 3.6 MB at a time


def read_page_sizes(path: Path) -> list[tuple[float, float]]:
    """Width and height in mm of every page. Raises `ValueError` if the file is no PDF."""
    import pymupdf

    try:
        with LIBRARY, pymupdf.open(str(path), filetype="pdf") as document:
            return [(page.rect.width / 72 * MM_PER_INCH, page.rect.height / 72 * MM_PER_INCH) for page in document]
    except (RuntimeError, ValueError) as error:  # the library's own errors are RuntimeErrors
        raise ValueError(f"{path.name} is not a whole PDF") from error


def count_dots(width_mm: float, height_mm: float, dpi: int) -> tuple[int, int]:
    """A page's dots across and along, to the nearest."""
    return round(width_mm / MM_PER_INCH * dpi), round(height_mm / MM_PER_INCH * dpi)


def draw_bands(path: Path, page: int, dpi: int) -> Iterator[np.ndarray[Any, Any]]:
    """A page (counted from 0) from the top down in bands of rows x dots x 3, eight-bit sRGB, at its true size."""
    import numpy as np
    import pymupdf

    with LIBRARY, pymupdf.open(str(path), filetype="pdf") as document:
        sheet = document[page]
        across, along = count_dots(sheet.rect.width / 72 * MM_PER_INCH, sheet.rect.height / 72 * MM_PER_INCH, dpi)
        drawing, zoom = sheet.get_displaylist(), dpi / 72
        for top in range(0, along, BAND_ROWS):
            rows = min(BAND_ROWS, along - top)
            clip = pymupdf.Rect(0, top / zoom, (across + 1) / zoom, (top + rows) / zoom)
            drawn = drawing.get_pixmap(pymupdf.Matrix(zoom, zoom), pymupdf.csRGB, 0, clip)
            band = np.full((rows, across, 3), 255, np.uint8)
            dots = np.frombuffer(drawn.samples, np.uint8).reshape(drawn.h, drawn.w, 3)
            high, wide = min(rows, drawn.h), min(across, drawn.w)
            band[:high, :wide] = dots[:high, :wide]
            yield band


def write_excerpt(path: Path, pages: Sequence[int], out: Path) -> None:
    """Some pages (counted from 0) of a PDF, in that order, as they are: boxes, layers and viewer preferences kept."""
    import pymupdf

    with LIBRARY, pymupdf.open(str(path), filetype="pdf") as document:
        document.select(list(pages))
        document.save(str(out), garbage=3, deflate=False, no_new_id=True)
