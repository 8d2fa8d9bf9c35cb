"""Pages of PDFs to pixels by MuPDF, in the renderers' process; ground that no object covers stays clear."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

MOST_SIDE_PT = 14_400.0
"""Points along a page's side: the limit of ISO 32000-1, annex C.2 (5.08 m)."""

_INKS = re.compile(rb"(?:^|\s)(?:[\d.]+\s+){4}[kK]\s")
_FAMILIES = ("Courier", "Helvetica", "Times", "Symbol", "ZapfDingbats", "Arial")


@lru_cache(maxsize=1)
def _open_document(content: bytes) -> Any:
    import pymupdf

    pymupdf.TOOLS.mupdf_display_errors(False)
    pymupdf.TOOLS.mupdf_display_warnings(False)
    return pymupdf.open("pdf", content)


def describe_page(blob: bytes, page: int) -> tuple[dict[str, Any], bytes]:
    """Whether it is locked, how many pages it has, and of one of them (from 1): its size in points and what it needs.

    `size` is None where there is no such page; `inks` says that it uses process inks without a profile; `fonts` are
    typefaces that it uses and does not hold.
    """
    document = _open_document(blob)
    if document.needs_pass:
        return {"locked": True, "pages": 0, "size": None, "inks": False, "fonts": []}, b""
    pages = len(document)
    told: dict[str, Any] = {"locked": False, "pages": pages, "size": None, "inks": False, "fonts": []}
    if 1 <= page <= pages:
        found = document[page - 1]
        told |= {
            "size": (found.rect.width, found.rect.height),
            "inks": _uses_inks(document, found),
            "fonts": _list_missing_fonts(document, page),
        }
    return told, b""


def _uses_inks(document: Any, page: Any) -> bool:
    """Whether the page paints in DeviceCMYK (ISO 32000-1, 8.6.4.4): by its operators, or in its pictures."""
    if _INKS.search(page.read_contents() or b""):
        return True
    return any(image[5] == "DeviceCMYK" for image in document.get_page_images(page.number))


def _list_missing_fonts(document: Any, page: int) -> list[str]:
    """Typefaces that are not in the file; the fourteen that every reader has (9.6.2.2) are no loss."""
    found = set()
    for _, ending, kind, name, *_rest in document.get_page_fonts(page - 1):
        plain = name.split("+")[-1]
        if ending == "n/a" and kind != "Type3" and not plain.startswith(_FAMILIES):
            found.add(plain)
    return sorted(found)


def draw_page(blob: bytes, page: int, zoom: float, clip: Sequence[float] | None) -> tuple[dict[str, int], bytes]:
    """Width, height and RGBA samples of a page, or of a part of it in points, `zoom` pixels to a point."""
    import pymupdf

    opened = _open_document(blob)[page - 1]
    part = None if clip is None else pymupdf.Rect(*clip)
    matrix = pymupdf.Matrix(zoom, zoom)
    pixels = opened.get_pixmap(matrix=matrix, clip=part, alpha=True, colorspace=pymupdf.csRGB)
    return {"width": pixels.width, "height": pixels.height}, bytes(pixels.samples)
