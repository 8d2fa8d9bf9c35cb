"""The first page of a PDF as four renderers show it, none of which wrote it: pdfium, MuPDF, poppler and Ghostscript."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pymupdf
import pypdfium2
import pytest
from PIL import Image

_COMMANDS = {
    "pdftoppm": ("-png", "-singlefile"),
    "gs": ("-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=png16m"),
}

RENDERERS = [
    "pdfium",
    "mupdf",
    *(
        pytest.param(name, marks=pytest.mark.skipif(shutil.which(name) is None, reason=f"{name} is not installed"))
        for name in _COMMANDS
    ),
]


def show_page(renderer: str, pdf: Path, dpi: int) -> Image.Image:
    if renderer == "pdfium":
        with pypdfium2.PdfDocument(pdf) as document:
            return document[0].render(scale=dpi / 72).to_pil().convert("RGB")
    if renderer == "mupdf":
        with pymupdf.open(pdf) as document:
            image = document[0].get_pixmap(dpi=dpi)
            return Image.frombytes("RGB", (image.width, image.height), image.samples)
    where = pdf.with_name(f"{pdf.stem}-{renderer}.png")
    how = [f"-r{dpi}", "-o", where, pdf] if renderer == "gs" else ["-r", str(dpi), pdf, where.with_suffix("")]
    subprocess.run([renderer, *_COMMANDS[renderer], *how], check=True)
    with Image.open(where) as image:
        return image.convert("RGB")
