"""What a printer received, measured by renderers and readers that did not write it: pdfium, and the spooler's own."""

from __future__ import annotations

import ctypes
import ctypes.util
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from papercheck import darkest_channel


@dataclass(frozen=True)
class Measured:
    """Page and frame in mm; the frame's place from the page's top left corner; the corner its block lies in."""

    pages: int
    page: tuple[float, float]
    frame: tuple[float, float, float, float]
    corner: str
    grey: np.ndarray


def measure_pdf(path: Path, page: int = 0, dpi: int = 254) -> Measured:
    """By pdfium."""
    import pypdfium2

    document = pypdfium2.PdfDocument(path)
    drawn = document[page].render(scale=dpi / 72, grayscale=True).to_numpy()
    width, height = document[page].get_size()
    count = len(document)
    document.close()
    return _measured(count, (width / 72 * 25.4, height / 72 * 25.4), drawn.reshape(drawn.shape[:2]), dpi)


def measure_raster(path: Path) -> Measured:
    """By the spooler's own library (cups/raster.h): what it reads is what any driver behind it would print."""
    name = ctypes.util.find_library("cupsimage") or ctypes.util.find_library("cups")
    library = ctypes.CDLL(name)
    library.cupsRasterOpen.restype = ctypes.c_void_p
    library.cupsRasterReadHeader2.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
    library.cupsRasterReadPixels.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_uint]
    library.cupsRasterClose.argtypes = [ctypes.c_void_p]
    handle = os.open(path, os.O_RDONLY)
    raster, header = library.cupsRasterOpen(handle, 0), (ctypes.c_ubyte * 1796)()
    pages, first = 0, None
    while library.cupsRasterReadHeader2(raster, header):
        words = np.frombuffer(bytes(header), "=u4")
        dpi, (across, along), line = int(words[276 // 4]), words[372 // 4 : 380 // 4], int(words[392 // 4])
        dots = np.empty((along, line), np.uint8)
        for row in dots:
            assert library.cupsRasterReadPixels(raster, row.ctypes.data, line) == line
        if first is None:
            first = (dots.reshape(along, across, 3), dpi)
        pages += 1
    library.cupsRasterClose(raster)
    os.close(handle)
    assert first is not None, "the spooler's own reader finds no page in it"
    dots, dpi = first
    size = dots.shape[1] / dpi * 25.4, dots.shape[0] / dpi * 25.4
    return _measured(pages, size, darkest_channel(dots), dpi)


def _measured(pages: int, page: tuple[float, float], grey: np.ndarray, dpi: int) -> Measured:
    """The frame is what is dark along a good part of a row or column: labels, ticks and rulers are not."""
    dark = grey < 128
    rows = np.flatnonzero(dark.mean(axis=1) > 0.5)
    columns = np.flatnonzero(dark.mean(axis=0) > 0.5)
    mm = 25.4 / dpi
    assert min(len(rows), len(columns)), "no frame"
    top, bottom, left, right = rows[0], rows[-1] + 1, columns[0], columns[-1] + 1
    inside = dark[top:bottom, left:right]
    high, wide = inside.shape
    corners = {
        "top left": inside[: high // 4, : wide // 4],
        "top right": inside[: high // 4, -(wide // 4) :],
        "bottom left": inside[-(high // 4) :, : wide // 4],
        "bottom right": inside[-(high // 4) :, -(wide // 4) :],
    }
    corner = max(corners, key=lambda name: corners[name].mean())
    frame = (left * mm, top * mm, (right - left) * mm, (bottom - top) * mm)
    return Measured(pages, page, frame, corner, grey)
