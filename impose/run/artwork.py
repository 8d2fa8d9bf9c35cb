"""The artwork of a batch: each distinct picture prepared once, its faults laid at the rows that use it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path

from impose.art.cache import PictureCache
from impose.art.output_profile import OutputProfile
from impose.art.png import SIGNATURE
from impose.art.prepare import PreparationOptions, PreparedPicture
from impose.art.prepare_many import prepare_pictures
from impose.errors import Finding, Severity, Trouble
from impose.orders.batch import Batch, BatchRow, leave_out_refused
from impose.profiles.profiles import Profiles
from impose.profiles.settings import Settings
from impose.run.options import Options, Progress
from impose.run.typeset_words import set_rows
from impose.work import default_workers

PIXELS_A_WORKER = 30_000_000
"""What is prepared in the time that a worker takes to start, about a third of a second."""


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
) -> tuple[Mapping[Path, PreparedPicture], Batch]:
    """The picture of every row's path, and the batch with what was found in them; without `rows` only examined.

    Raises `Trouble` for all unusable artwork together, or, with `skip_bad`, returns the batch without the orders that
    need it.
    """
    batch, drawn, unset = set_rows(batch, profiles, progress, output)
    paths = list(dict.fromkeys(row.path for row in batch.rows if not row.words))
    pictures: dict[Path, PreparedPicture] = dict(drawn)
    found = {path: drawing.findings for path, drawing in drawn.items()}
    outcomes = prepare_pictures(
        paths,
        make_preparation_options(profiles.settings, output, rows),
        _choose_workers(options, paths),
        PictureCache() if options.cache else None,
    )
    for done, (path, outcome) in enumerate(zip(paths, outcomes, strict=True), 1):
        progress("artwork", done, len(paths))
        found[path] = outcome.findings
        if not isinstance(outcome, Trouble):
            pictures[path] = outcome
    return pictures, _judge_pictures(batch, found, unset, options)


def _choose_workers(options: Options, paths: Iterable[Path]) -> int | Executor:
    """As asked, or one a core where there is enough to do for each."""
    if asked := options.executor or options.workers:
        return asked
    pixels = sum(_count_pixels(path) for path in paths)
    return max(1, min(default_workers(), pixels // PIXELS_A_WORKER))


def _count_pixels(path: Path) -> int:
    """How many pixels a file says it has; 0 for what is no PNG or cannot be read, which is said where it is."""
    try:
        with path.open("rb") as file:
            head = file.read(24)
    except OSError:
        return 0
    whole = head.startswith(SIGNATURE) and len(head) == 24
    return int.from_bytes(head[16:20], "big") * int.from_bytes(head[20:24], "big") if whole else 0


def _judge_pictures(
    batch: Batch, found: Mapping[Path, tuple[Finding, ...]], unset: Iterable[Finding], options: Options
) -> Batch:
    at_rows = [replace(finding, file=batch.source) for finding in unset]
    at_rows += [finding for row in batch.rows for finding in place_at_row(batch, row, found.get(row.path, ()))]
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
        return [replace(f, file=batch.source, row=row.row, column="font", read=row.font or None) for f in findings]
    return [replace(f, file=batch.source, row=row.row, column="art", read=row.art) for f in findings]
