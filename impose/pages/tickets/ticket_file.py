"""`tickets.pdf`: what the evening holds, blanks to buy, the cutting list, then two tickets a page, on plain paper."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from impose.art.prepare import PreparedPicture
from impose.art.small_pictures import TICKET_PX, SmallFile, mirror_image, pack_image, shrink_within
from impose.pages.pdf.canvas import PdfCanvas, PdfPages
from impose.pages.pdf.font_book import open_reading_faces
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.tickets.blanks_page import write_blanks
from impose.pages.tickets.cutting_list import write_cutting
from impose.pages.tickets.evening_page import write_evening
from impose.pages.tickets.ticket import draw_half
from impose.pages.tickets.ticket_layout import HalfPage, TicketStyle, arrange_halves
from impose.profiles.press import HeatPress
from impose.profiles.profiles import Profiles
from impose.sheet.blanks import BlankLine, list_blanks
from impose.sheet.garment_variants import AlikeGarments, find_usual_setting, group_alike
from impose.sheet.layout import BatchLayout, PlacedTransfer, SheetLayout
from impose.sheet.press_steps import PressStep, PressTicket
from impose.sheet.press_times import PressEvening, time_evening
from impose.values import FrozenStruct

if TYPE_CHECKING:
    from PIL import Image

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Plain paper for tickets: ISO 216 and North American letter, as in PWG 5101.1."""


class TicketPart(FrozenStruct):
    """What one of several files holds: the cutting list of some sheets, tickets `start` to `stop`, the first page
    with the blanks to buy.
    """

    sheets: Sequence[SheetLayout]
    start: int
    stop: int
    first: bool = False
    blanks: Sequence[BlankLine] = ()


class TicketSurvey(FrozenStruct):
    """What is told of all tickets together: those that are alike, how the press is set for most, the evening."""

    found: Sequence[AlikeGarments]
    usual: HeatPress
    evening: PressEvening


def survey_tickets(tickets: Sequence[PressTicket], profiles: Profiles) -> TicketSurvey:
    """What every file of the same tickets needs to know of all of them: to be found once."""
    press = profiles.find_press(profiles.settings.press)
    return TicketSurvey(group_alike(tickets), find_usual_setting(tickets, press), time_evening(tickets, press))


SmallPictures = Mapping[tuple[object, ...], SmallFile]
"""Pictures as worn, small, as files: by the artwork's hash and the ink's bounds."""


def write_tickets(
    path: Path,
    layout: BatchLayout,
    tickets: Sequence[PressTicket],
    profiles: Profiles,
    small: SmallPictures | None = None,
    part: TicketPart | None = None,
    survey: TicketSurvey | None = None,
) -> None:
    """Write the first page, the cutting list of a layout and the tickets of its garments to `path`, or a part of them.

    `small` are pictures that have been made small already; without it they are made here. So is the `survey` of all
    tickets.
    """
    settings = profiles.settings
    width, height = PAPERS[settings.ticket_paper]
    press = profiles.find_press(settings.press)
    survey = survey or survey_tickets(tickets, profiles)
    found = survey.found
    if part is None:
        blanks = list_blanks(tickets, profiles.wardrobe, settings.blank_spares)
        part = TicketPart(layout.sheets, 0, len(found), first=True, blanks=blanks)
    regular, bold = open_reading_faces()
    with PdfFile() as document:
        pages = PdfPages(document, regular, bold)
        held = _TicketPictures(pages, small)
        style = TicketStyle(
            layout.code,
            layout.name,
            press,
            survey.usual,
            settings.units,
            width,
            height / 2,
            held.find_image,
            held.find_joins,
            regular,
            bold,
            survey.evening,
        )
        if part.first:
            canvas = pages.new_page(width, height)
            write_evening(canvas, found, style)
            pages.add_page(canvas)
            write_blanks(pages, part.blanks, settings.blank_spares, style)
        write_cutting(pages, layout, part.sheets, (width, height), settings.units, held.find_placed_image)
        _draw_garments(pages, arrange_halves(found[part.start : part.stop], style, len(found)), style)
        pages.save_document(path, f"{layout.name} {layout.code} tickets", "T-")


class _TicketPictures:
    """The pictures of a document: each small, once, and where the heats of those too large for the platen meet."""

    def __init__(self, pages: PdfPages, small: SmallPictures | None) -> None:
        self._pages, self._small = pages, small
        self._names: dict[object, str] = {}

    def find_image(self, step: PressStep) -> str:
        """The resource of a step's picture."""
        return self._make_image(step.transfer.piece.picture)

    def find_placed_image(self, placed: PlacedTransfer) -> str:
        """The resource of the picture of what lies on a sheet."""
        return self._make_image(placed.transfer.piece.picture)

    def _make_image(self, picture: PreparedPicture) -> str:
        key = picture.look
        if key not in self._names:
            file = None if self._small is None else self._small[key]
            if file is None or max(file.width, file.height) > TICKET_PX:
                file = pack_image(_make_thumbnail(picture, self._small))
            self._names[key] = self._pages.add_picture(key, file)
        return self._names[key]

    def find_joins(self, step: PressStep) -> list[tuple[str, float]]:
        """Where its heats meet."""
        if not step.joins:
            return []
        from impose.pages.tickets.heat_joins import choose_joins

        spot = step.spot
        image = _make_thumbnail(step.transfer.piece.picture, self._small)
        return choose_joins(step.joins, image, spot.turned, spot.box.w, spot.box.h)


def _make_thumbnail(picture: PreparedPicture, small: SmallPictures | None) -> Image.Image:
    """The artwork as worn, as small as it is drawn."""
    from PIL import Image

    from impose.pages.proof.gallery import reduce_picture

    if small is None:
        return mirror_image(reduce_picture(picture, TICKET_PX))
    return shrink_within(Image.open(io.BytesIO(small[picture.look].content)), TICKET_PX)


def _draw_garments(pages: PdfPages, found: Sequence[HalfPage], style: TicketStyle) -> None:
    """Two half pages a page, a dashed line between them to cut along."""
    for index in range(0, len(found), 2):
        canvas = pages.new_page(style.width, style.height * 2)
        for place, half in enumerate(found[index : index + 2]):
            draw_half(canvas, half, style, place * style.height)
        _cut_line(canvas, style)
        pages.add_page(canvas)


def _cut_line(canvas: PdfCanvas, style: TicketStyle) -> None:
    canvas.draw_line(4, style.height, style.width - 4, style.height, 0.15, 0.4, dash=(2, 2))
