"""The garments of a made batch in pressing order, from its record alone: what a person presses by, any day later.

Nothing is prepared and nothing nested: sizes, margins and sheets are those of the record. Pictures stand for what they
were by their hash; whoever wants to show one finds it by its row.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Literal

from impose.art.prepare import PreparedPicture
from impose.orders.batch import BatchRow
from impose.profiles.paper import Paper
from impose.profiles.profiles import Profiles
from impose.run.record_file import RecordFile
from impose.run.rows_from_record import make_piece, make_rows
from impose.sheet.layout import BatchLayout, PlacedTransfer, SheetLayout
from impose.sheet.piece import Piece, Transfer
from impose.sheet.press_steps import PressTicket, make_tickets
from impose.sheet.record_reader import PrintedSheet, PrintedTransfer
from impose.values import FrozenStruct, replace

Grouping = Literal["garment", "platen"]


class RecordTickets(FrozenStruct):
    """The tickets of a record, and its rows by number of batch and kit; artwork is named, not looked for."""

    tickets: list[PressTicket]
    rows: dict[tuple[int, int], BatchRow]
    profiles: Profiles
    layout: BatchLayout


def read_tickets(
    record: RecordFile, profiles: Profiles, grouping: Grouping, pieces: Mapping[str, Piece] | None = None
) -> RecordTickets:
    """A ticket for each garment; with `platen` one for each set-up, in the order of the setting.

    `pieces`, by transfer, are those whose pictures were looked for and found.
    """
    printed = record.printed
    rows = make_rows(printed.transfers, Path(printed.art_root), profiles, str(record.path), look=False)
    settings = replace(profiles.settings, ticket_grouping=grouping)
    laid = replace(profiles, settings=settings)
    layout = BatchLayout(
        printed.code, printed.batch, _make_sheets(printed.sheets, printed.transfers, rows, profiles, pieces or {}), ()
    )
    everyone = sorted(rows.values(), key=lambda row: row.key)
    return RecordTickets(make_tickets(everyone, layout, laid), rows, profiles, layout)


def _make_sheets(
    sheets: Sequence[PrintedSheet],
    transfers: Sequence[PrintedTransfer],
    rows: dict[tuple[int, int], BatchRow],
    profiles: Profiles,
    pieces: Mapping[str, Piece],
) -> tuple[SheetLayout, ...]:
    """The sheets with what lies on them; marks are of no use to who presses."""
    on_sheet: dict[int, list[PlacedTransfer]] = {}
    for entry in transfers:
        piece = pieces.get(entry.id)
        made = _make_transfer(entry, rows[entry.key]) if piece is None else Transfer(entry.id, piece, entry.copy)
        on_sheet.setdefault(entry.sheet, []).append(PlacedTransfer(made, entry.cell.x, entry.cell.y, 0))
    found = []
    for sheet in sheets:
        placed = tuple(on_sheet.get(sheet.number, ()))
        paper = _find_paper(sheet, profiles)
        found.append(
            SheetLayout(
                sheet.number,
                paper,
                sheet.width_mm,
                sheet.height_mm,
                sheet.area,
                placed,
                (),
                (),
                (),
                (),
                (),
                0,
                first=sheet.first,
            )
        )
    return tuple(found)


def _find_paper(sheet: PrintedSheet, profiles: Profiles) -> Paper:
    """The paper as it is on file; one that is not on file any more by its name alone."""
    known = next((paper for paper in profiles.papers.values() if paper.name == sheet.paper), None)
    return known or Paper(sheet.paper, sheet.paper, (), sheet.width_mm, sheet.height_mm, Decimal(0))


def _make_transfer(printed: PrintedTransfer, row: BatchRow) -> Transfer:
    size = printed.ink_w_mm, printed.ink_h_mm
    piece = make_piece(printed, row, make_stand_in(printed), size, printed.crease_mm)
    return Transfer(printed.id, piece, printed.copy)


def make_stand_in(printed: PrintedTransfer) -> PreparedPicture:
    """A picture that is known by its hash and its ink bounds alone, and holds nothing."""
    left, top, right, bottom = printed.ink_px or (0, 0, 1, 1)
    whole = PreparedPicture(printed.art_sha256, right, bottom, (left, top, right, bottom), (0.0, 0.0), 3, None, b"", "")
    return replace(whole, recolour=printed.ordered.recolour)
