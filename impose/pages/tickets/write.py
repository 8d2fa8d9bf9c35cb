"""`tickets.pdf`: the cutting list, then two garments a page, on plain paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from impose.art.prepare import Picture
from impose.pages.pdf.canvas import Canvas, Pages
from impose.pages.pdf.objects import PdfFile
from impose.pages.tickets.cutting import write_cutting
from impose.pages.tickets.ticket import Half, Style, draw_half, halves
from impose.sheet.layout import Layout, Sheet
from impose.sheet.lettering import Lettering
from impose.sheet.pressing import Step, Ticket
from impose.shop.profiles import Profiles

if TYPE_CHECKING:
    from PIL import Image

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Plain paper for tickets: ISO 216 and North American letter, as in PWG 5101.1."""

_PICTURE_PX = 260  # the longer side of a small picture: 300 an inch at 22 mm


@dataclass(frozen=True, slots=True)
class Part:
    """What one of several files holds: the cutting list of some sheets, and tickets from `start` to `stop`."""

    sheets: Sequence[Sheet]
    start: int
    stop: int


Small = Callable[[Picture], "Image.Image"]
"""Gives a picture as worn, small."""


def write_tickets(
    path: Path,
    layout: Layout,
    tickets: Sequence[Ticket],
    profiles: Profiles,
    lettering: Lettering,
    small: Small | None = None,
    part: Part | None = None,
) -> None:
    """Write the cutting list of a layout and the tickets of its garments to `path`, or a part of both.

    `small` gives pictures that have been made small already; without it they are made here.
    """
    settings = profiles.settings
    width, height = PAPERS[settings.ticket_paper]
    press = profiles.press(settings.press)
    part = part or Part(layout.sheets, 0, len(tickets))
    with PdfFile() as document:
        pages = Pages(document, lettering)

        def image(step: Step) -> str:
            picture = step.transfer.piece.picture
            return pages.image((picture.sha256, picture.ink), lambda: _thumb(picture, small))

        style = Style(layout.code, layout.name, press, settings.units, width, height / 2, image)
        write_cutting(pages, layout, part.sheets, width, height, settings.units)
        _garments(pages, halves(tickets[part.start : part.stop], style, lettering, part.start, len(tickets)), style)
        pages.save(path, f"{layout.name} {layout.code} tickets", "T-")


def _thumb(picture: Picture, small: Small | None) -> Image.Image:
    """The artwork as worn, as small as it is drawn."""
    from impose.pages.proof.small import mirrored, reduced

    if small is None:
        return mirrored(reduced(picture, _PICTURE_PX))
    image = small(picture)
    image.thumbnail((_PICTURE_PX, _PICTURE_PX))
    return image


def _garments(pages: Pages, found: Sequence[Half], style: Style) -> None:
    """Two half pages a page, a dashed line between them to cut along."""
    for index in range(0, len(found), 2):
        canvas = pages.page(style.width, style.height * 2)
        for place, half in enumerate(found[index : index + 2]):
            draw_half(canvas, half, style, place * style.height)
        _cut_line(canvas, style)
        pages.add(canvas)


def _cut_line(canvas: Canvas, style: Style) -> None:
    canvas.line(4, style.height, style.width - 4, style.height, 0.15, 0.4, dash=(2, 2))
