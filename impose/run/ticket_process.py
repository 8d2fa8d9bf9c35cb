"""Tickets beside the sheets: a process of its own writes them, and all else that is made from them, while this one
writes the sheets and the proof.

It is handed what lies on the sheets and small pictures, never artwork. Whether it did the work or this process does
shows in nothing but the time.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impose.art.prepare import PreparedPicture
from impose.art.small_pictures import SmallFile
from impose.orders.batch import BatchRow
from impose.profiles.profiles import Profiles
from impose.run.free_memory import give_back_memory
from impose.sheet.layout import BatchLayout
from impose.values import FrozenStruct, replace
from impose.work import SideProcess, runs_itself_again

if TYPE_CHECKING:
    from impose.pages.proof.gallery import PictureGallery

WORTH = 400
"""Transfers from which on the tickets take longer than a process takes to start and to be told of them."""

Key = tuple[object, ...]


class TicketJob(FrozenStruct):
    """All tickets of a batch: `files` are their names, with the numbers of the sheets whose cutting list each holds.

    Of a reprint `spoiled` are the transfers whose garment may need a new blank.
    """

    folder: Path
    layout: BatchLayout
    rows: tuple[BatchRow, ...]
    profiles: Profiles
    small: Mapping[Key, SmallFile]
    files: Sequence[tuple[str, range]]
    spoiled: frozenset[str] | None = None


def make_ticket_job(
    folder: Path,
    layout: BatchLayout,
    rows: Sequence[BatchRow],
    profiles: Profiles,
    gallery: PictureGallery,
    files: Sequence[tuple[str, range]],
    spoiled: frozenset[str] | None = None,
) -> TicketJob:
    """The tickets of a layout as a job; pictures are taken small, as they were made while they were prepared."""
    small = {
        _piece_key(picture): gallery.draw_as_worn(picture) if picture.small is None else picture.small.ticket
        for _, picture in gallery
    }
    return TicketJob(folder, layout, tuple(rows), profiles, small, files, spoiled)


def start_tickets(job: TicketJob) -> SideProcess | None:
    """Have another process write the tickets, unless it would run the caller's script again."""
    if runs_itself_again():
        return None
    return SideProcess(_write_and_note, pack_job(job))


def pack_job(job: TicketJob) -> Iterator[Any]:
    """The job in parts for another process: itself without rows and sheets, then these."""
    from impose.run.packed_job import pack_layout

    yield replace(job, rows=(), layout=BatchLayout(job.layout.code, job.layout.name, (), ()))
    yield from pack_layout(job.rows, job.layout.sheets)


def unpack_job(packed: Iterator[Any]) -> TicketJob:
    """The job as `pack_job` has packed it, but for all drawings and the rows of pictures."""
    from impose.run.packed_job import unpack_layout

    job: TicketJob = next(packed)
    rows, sheets = unpack_layout(packed)
    return replace(job, rows=rows, layout=replace(job.layout, sheets=sheets))


_NOTED = ".pressing.json"  # what the other process has to tell, until this one has read it


def _write_and_note(packed: Iterator[Any]) -> None:
    job = unpack_job(packed)
    (job.folder / _NOTED).write_text(json.dumps(write_tickets(job)), "utf-8")


def take_noted(folder: Path) -> dict[str, Any] | None:
    """What the other process has told of the evening, None where it has told nothing; its note is taken away."""
    note = folder / _NOTED
    try:
        values: dict[str, Any] = json.loads(note.read_text("utf-8"))
    except (FileNotFoundError, ValueError):
        values = {}
    note.unlink(missing_ok=True)
    return values or None


def write_tickets(job: TicketJob) -> dict[str, Any]:
    """Write every file of tickets and what else is made from them; returns the evening as the record has it."""
    from impose.pages.tickets.ticket_file import TicketPart, survey_tickets, write_tickets
    from impose.run.delivery_documents import PressContents, write_press_documents
    from impose.sheet.blanks import list_blanks
    from impose.sheet.press_steps import make_tickets

    # A reprint makes some prints of some garments: what has none of them needs no ticket.
    made = [ticket for ticket in make_tickets(job.rows, job.layout, job.profiles) if ticket.steps]
    settings = job.profiles.settings
    blanks = list_blanks(made, job.profiles.wardrobe, settings.blank_spares, job.spoiled)

    survey = survey_tickets(made, job.profiles)
    count = len(survey.found)
    for number, (name, sheets) in enumerate(job.files):
        start, stop = (count * n // len(job.files) for n in (number, number + 1))
        first = number == 0
        on_sheets = job.layout.sheets[sheets.start - 1 : sheets.stop - 1]
        part = TicketPart(on_sheets, start, stop, first, blanks if first else ())
        write_tickets(job.folder / name, job.layout, made, job.profiles, job.small, part, survey)
        if len(job.files) > 1:
            give_back_memory()
    write_press_documents(PressContents(job.folder, job.layout, job.profiles, made, blanks))
    return survey.evening.list_values()


def _piece_key(picture: PreparedPicture) -> Key:
    return picture.look
