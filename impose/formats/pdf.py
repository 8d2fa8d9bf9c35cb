"""A page of a PDF as artwork: which one, whether it may be read, and rendered as finely as it is printed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from impose.art.decode import DecodedFrame
from impose.errors import Finding, Severity
from impose.formats.conversion import Converted, make_note, make_refusal
from impose.formats.pdf_pages import MOST_SIDE_PT
from impose.formats.png_bytes import write_png_head
from impose.formats.renderer import RENDERER
from impose.formats.resolution import MOST_PIXELS, Size, choose_zoom, find_drawn_ink, limit_zoom
from impose.remedies import Remedy

if TYPE_CHECKING:
    from PIL import Image

_AGAIN = "Export it again from the program that made it, or export a PNG."


def convert_pdf(
    content: bytes, name: str, page: int | None, size: Size, tint: float, keep_specks: bool, pixel_limit: int
) -> Converted:
    """The PNG of a page: its ink and a margin around it. Raises `Trouble`.

    Without a `page` the file may have only one.
    """
    told, _ = RENDERER.ask("pdf-pages", name, blob=content, page=page or 1)
    if told["locked"]:
        what = "the PDF is locked with a password"
        raise make_refusal(
            what, "Ask for a copy without one, or open it and print it to a new PDF.", name, "locked-file"
        )
    _hold_page(told["pages"], page, name)
    number, (width, height) = page or 1, told["size"]
    if not (width > 0 and height > 0 and math.isfinite(width * height)):
        raise make_refusal("the page has no size", _AGAIN, name)
    if max(width, height) > MOST_SIDE_PT:
        what = f"the page is {max(width, height) / 72 * 25.4 / 1000:.1f} m long, more than a PDF's page may be"
        raise make_refusal(what, "Make the page as large as the artwork.", name, "too-large")

    def render_page(zoom: float) -> DecodedFrame:
        return DecodedFrame(
            _make_image(RENDERER.ask("pdf", name, content, page=number, zoom=zoom, clip=None)), None, False
        )

    ink = find_drawn_ink(render_page, width, height, tint, keep_specks)
    if ink is None:
        raise make_refusal(
            "there is nothing to print on the page", "Name the page that holds the artwork.", name, "blank"
        )
    clip = _add_margin(ink, width, height)
    most = min(pixel_limit, MOST_PIXELS)
    zoom = min(choose_zoom(ink, size), limit_zoom(clip[2] - clip[0], clip[3] - clip[1], most))
    drawn = _make_image(RENDERER.ask("pdf", name, content, True, page=number, zoom=zoom, clip=clip))
    return Converted(write_png_head(drawn, srgb=True), tuple(_report_page(told, name)), drawn)


def _hold_page(pages: int, page: int | None, name: str) -> None:
    if pages < 1:
        raise make_refusal("the PDF has no page", _AGAIN, name)
    if page is None and pages > 1:
        what = f"the PDF has {pages:,} pages, and which one is wanted is not said"
        plain = name.rpartition("/")[2] or "poster.pdf"
        stem = plain.rpartition(".")[0] or plain
        raise make_refusal(what, Remedy("name-page", file=plain, stem=stem), name, "which-page")
    if page is not None and page > pages:
        have = "1 page" if pages == 1 else f"{pages:,} pages"
        raise make_refusal(
            f"page {page} is asked for, and the PDF has {have}", "Name another page.", name, "which-page"
        )


def _add_margin(
    ink: tuple[float, float, float, float], width: float, height: float
) -> tuple[float, float, float, float]:
    """The ink with a margin, so that it does not seem to be cut off by its canvas; within the page."""
    margin = 0.03 * max(ink[2] - ink[0], ink[3] - ink[1]) + 2
    left, top, right, bottom = ink
    return max(0.0, left - margin), max(0.0, top - margin), min(width, right + margin), min(height, bottom + margin)


def _make_image(drawn: tuple[dict[str, int], bytes]) -> Image.Image:
    from PIL import Image

    told, samples = drawn
    # MuPDF's samples carry their alpha already; a PNG's do not.
    return Image.frombytes("RGBa", (told["width"], told["height"]), samples).convert("RGBA")


def _report_page(told: dict[str, object], name: str) -> list[Finding]:
    found = []
    if told["inks"]:
        what = "the page uses process inks (CMYK) without a profile; they were taken for those of a usual press"
        found.append(make_note(what, name, "from-cmyk", "Look at the colours in the proof.", Severity.WARN))
    fonts = told["fonts"]
    if isinstance(fonts, list) and fonts:
        what = f"the PDF does not hold its typefaces {', '.join(fonts[:5])}, and others stand in for them"
        found.append(
            make_note(what, name, "missing-font", "Export it with its fonts embedded, or as outlines.", Severity.WARN)
        )
    return found
