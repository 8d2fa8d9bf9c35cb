"""The artwork of a batch: each distinct picture prepared once, its faults laid at the rows that use it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from concurrent.futures import Executor
from pathlib import Path
from typing import TYPE_CHECKING

from impose.art.cache import PictureCache
from impose.art.output_profile import OutputProfile
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.errors import Finding, Severity, Trouble
from impose.file_types import HEAD, PNG, Asked, identify_file
from impose.formats.prepare_many import prepare_pictures
from impose.orders.batch import Batch, BatchRow, leave_out_refused
from impose.profiles.profiles import Profiles
from impose.profiles.settings import Settings
from impose.run.options import Options
from impose.run.progress import Progress, Stage, report_stage
from impose.sheet.sizing import size_on_paper
from impose.values import replace
from impose.work import default_workers

if TYPE_CHECKING:
    from impose.art.vector_drawing import Drawing

RECOLOURED = ("recolour", "recolour-absent")
"""Findings that a picture has because of the cell recolour."""

PIXELS_A_WORKER = 30_000_000
"""What is prepared in the time that a worker takes to start, about a third of a second."""


_PIXELS_A_BYTE = 4
"""Of a photograph in JPEG or WebP at everyday quality (common practice, no source)."""
_DRAWN_PIXELS = 4_000_000


def make_preparation_options(
    settings: Settings, output: OutputProfile | None = None, rows: bool = True
) -> PreparationOptions:
    """What the settings say about reading artwork, and the output profile its colours are turned into."""
    return PreparationOptions(
        tint=settings.tint,
        orientation=settings.orientation,
        keep_specks=settings.keep_specks,
        clean_haze=settings.clean_haze,
        drop_specks=settings.drop_specks,
        pixel_limit=settings.pixel_limit,
        output=output,
        rows=rows,
    )


def prepare_artwork(
    batch: Batch,
    profiles: Profiles,
    options: Options,
    progress: Progress,
    output: OutputProfile | None = None,
    rows: bool = True,
) -> tuple[Mapping[Asked, PreparedPicture], Batch]:
    """The picture of what every row asks for, and the batch with what was found in them; without `rows` only examined.

    Raises `Trouble` for all unusable artwork together, or, with `skip_bad`, returns the batch without the orders that
    need it.
    """
    batch, drawn, unset = _set_words(batch, profiles, progress, output)
    batch = replace(batch, rows=tuple(add_drawn_size(row, profiles) for row in batch.rows))
    asked = list(dict.fromkeys(row.asked for row in batch.rows if not row.words))
    pictures: dict[Asked, PreparedPicture] = {Asked(path): drawing for path, drawing in drawn.items()}
    found = {asked_for: drawing.findings for asked_for, drawing in pictures.items()}
    outcomes = prepare_pictures(
        asked,
        make_preparation_options(profiles.settings, output, rows),
        _choose_workers(options, [wish.path for wish in asked]),
        PictureCache() if options.cache else None,
    )
    for done, (wish, outcome) in enumerate(zip(asked, outcomes, strict=True), 1):
        report_stage(progress, Stage.ARTWORK, done, len(asked))
        found[wish] = outcome.findings
        if not isinstance(outcome, Trouble):
            pictures[wish] = outcome
    return pictures, _judge_pictures(batch, found, unset, options)


def _set_words(
    batch: Batch, profiles: Profiles, progress: Progress, output: OutputProfile | None
) -> tuple[Batch, Mapping[Path, Drawing], list[Finding]]:
    if not any(row.words for row in batch.rows):
        return batch, {}, []
    from impose.run.typeset_words import set_rows

    return set_rows(batch, profiles, progress, output)


def add_drawn_size(row: BatchRow, profiles: Profiles) -> BatchRow:
    """The row with the size for which its drawing is rendered; one from a record keeps what it was rendered for."""
    if row.words or row.drawn_mm is not None or not identify_file(_read_head(row.path)).drawing:
        return row
    width, height = (None if mm is None else round(mm, 6) for mm in size_on_paper(row, profiles))
    return replace(row, drawn_mm=(width, height))


def _read_head(path: Path) -> bytes:
    """The first bytes of a file; none where it cannot be read, which is said where it is prepared."""
    try:
        with path.open("rb") as file:
            return file.read(HEAD)
    except OSError:
        return b""


def _choose_workers(options: Options, paths: Iterable[Path]) -> int | Executor:
    """As asked, or one a core where there is enough to do for each."""
    if asked := options.executor or options.workers:
        return asked
    pixels = sum(_count_pixels(path) for path in paths)
    return max(1, min(default_workers(), pixels // PIXELS_A_WORKER))


def _count_pixels(path: Path) -> int:
    """How many pixels a file says it has; for what is no PNG, as many as its bytes usually make.

    0 for what cannot be read, which is said where it is prepared.
    """
    head = _read_head(path)
    kind = identify_file(head)
    if kind is PNG:
        return int.from_bytes(head[16:20], "big") * int.from_bytes(head[20:24], "big") if len(head) >= 24 else 0
    if not kind.taken:
        return 0
    return _DRAWN_PIXELS if kind.drawing else path.stat().st_size * _PIXELS_A_BYTE


def _judge_pictures(
    batch: Batch, found: Mapping[Asked, tuple[Finding, ...]], unset: Iterable[Finding], options: Options
) -> Batch:
    at_rows = [replace(finding, file=batch.source) for finding in unset]
    at_rows += [finding for row in batch.rows for finding in place_at_row(batch, row, found.get(row.asked, ()))]
    stops = [finding for finding in at_rows if finding.severity is Severity.STOP]
    rest = tuple(finding for finding in at_rows if finding.severity is not Severity.STOP)
    return leave_out_refused(replace(batch, findings=(*batch.findings, *rest)), stops, options.skip_bad)


def place_at_row(batch: Batch, row: BatchRow, findings: Iterable[Finding]) -> Iterable[Finding]:
    """The picture's findings as the row's own: file, row, column and what stands there.

    That white stays cloth is worth saying only where the cloth is not white.
    """
    if row.cloth.shade == "white":
        findings = [finding for finding in findings if finding.kind != "white-inside"]
    if row.words:
        return [
            replace(f, file=batch.source, row=row.row, kit_row=row.kit_row, column="font", read=row.font or None)
            for f in findings
        ]
    return [_place_in_cell(replace(f, file=batch.source, row=row.row, kit_row=row.kit_row), row) for f in findings]


def _place_in_cell(finding: Finding, row: BatchRow) -> Finding:
    """A finding of a picture in its cell: the one that names the picture, or says which colours are exchanged."""
    if finding.kind in RECOLOURED:
        from impose.orders.cells import format_recolour

        return replace(finding, column="recolour", read=format_recolour(row.recolour))
    return replace(finding, column="art", read=row.art)
